"""I29: hazards first in every form of every command. I32: a failure inside is HOLD, said loudly."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from tests.safety.gate import changed, good
from tests.safety.gate_logs import hold_logs

from trubshoot.cli.app import main
from trubshoot.errors import EngineError, OutOfRangeError

LEVELS = ("DANGER: ", "WARNING: ", "CAUTION: ", "NOTICE: ")
ROOT = Path(__file__).resolve().parents[2]
BURST = ROOT / "docs" / "examples" / "bottled_too_early.yaml"
COMMANDS = ("bottling", "bottles", "diagnose")
MODES = [
    [command, *form, *more]
    for command in COMMANDS
    for form in ([], ["--format", "json"])
    for more in ([], ["--why"], ["--units", "us"], ["--at", "2026-04-05"])
]

Run = Callable[..., tuple[int, str, str]]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    """Return a function that runs the command line and gives code, output and error output."""
    monkeypatch.setenv("COLUMNS", "80")

    def command(*arguments: str) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as ended:
            main(list(arguments))
        told = capsys.readouterr()
        code = ended.value.code
        return (code if isinstance(code, int) else 0, told.out, told.err)

    return command


@pytest.fixture
def good_file(tmp_path: Path) -> str:
    """Return a file of a batch that may be bottled."""
    path = tmp_path / "good.yaml"
    path.write_text(json.dumps(changed(good(), today="2026-03-22")), encoding="utf-8")
    return str(path)


@pytest.mark.parametrize("arguments", MODES, ids=" ".join)
def test_i29_hazards_stand_first(run: Run, arguments: list[str]) -> None:
    """I29: with a hazard the block is the first content, whatever command, format or mode."""
    code, out, _ = run(arguments[0], str(BURST), *arguments[1:])
    assert code == 3
    if "json" in arguments:
        plain = json.loads(out)
        assert list(plain)[:2] == ["format_version", "hazards"]
        assert plain["hazards"][0]["level"] == "WARNING"
    else:
        assert out.startswith("WARNING: ")


@pytest.mark.parametrize("command", COMMANDS)
def test_i29_hazards_cannot_be_switched_off(run: Run, command: str) -> None:
    """I29: no command offers a way to leave the hazard block out."""
    _, out, _ = run(command, "--help")
    words = out.lower()
    assert not any(
        f"--no-{word}" in words or f"--{word}" in words
        for word in ("hazards", "quiet", "brief", "warnings", "silent")
    )


def test_i29_in_a_held_batch_too(run: Run, tmp_path: Path) -> None:
    """I29: hazards of a batch that is not bottled stand before the verdict."""
    path = tmp_path / "wine.yaml"
    path.write_text(json.dumps(hold_logs()["wine bottles"]), encoding="utf-8")
    code, out, _ = run("bottling", str(path), "--at", "2026-03-22")
    assert code == 3
    assert out.startswith("WARNING: ")
    assert out.index("WARNING: ") < out.index("HOLD: ")
    assert "safe" not in out.lower().split("safety")[0]


BROKEN = [
    ("trubshoot.evidence.outlook._residual", ZeroDivisionError("planted")),
    ("trubshoot.evidence.outlook.total_vols", RuntimeError("planted")),
    ("trubshoot.diagnosis.diagnose.collect", OutOfRangeError("planted", 1, 2, 3)),
    ("trubshoot.diagnosis.diagnose.decide", KeyError("planted")),
    ("trubshoot.diagnosis.diagnose.hazard_blocks", AttributeError("planted")),
    ("trubshoot.rules.Reasoner.run", EngineError("planted")),
    ("trubshoot.rules.oracle.OracleEngine.run", TimeoutError("planted")),
    ("trubshoot.report.terminal.Page.line", UnicodeEncodeError("x", "x", 0, 1, "planted")),
    ("trubshoot.report.terminal.Page.head", MemoryError("planted")),
]


@pytest.mark.parametrize(("target", "error"), BROKEN, ids=[name for name, _ in BROKEN])
@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("form", ["text", "json"])
def test_i32_a_fault_inside_is_hold(
    run: Run,
    good_file: str,
    monkeypatch: pytest.MonkeyPatch,
    target: str,
    error: Exception,
    command: str,
    form: str,
) -> None:
    """I32: whatever breaks, the answer is a hazard block and HOLD with exit 1, never GO."""
    done: list[str] = []

    def broken(*_: Any, **__: Any) -> Any:
        if "Page" in target and done:
            return None  # breaks once, or nothing could be told at all
        done.append(target)
        raise error

    monkeypatch.setattr(target, broken)
    if "Page" in target and form == "json":
        return  # nothing of the page is used
    if command == "diagnose" and target.endswith("decide"):
        pass  # the verdict is part of every diagnosis
    code, out, err = run(command, good_file, "--at", "2026-03-22", "--format", form)
    assert done
    assert code == 1
    assert "GO WITH LIMITS" not in out
    assert "Traceback" not in out + err
    assert "report it" in err
    if form == "json":
        plain = json.loads(out)
        assert list(plain)[:2] == ["format_version", "hazards"]
        assert plain["hazards"][0]["id"] == "could_not_assess"
        assert plain["verdict"] == "HOLD"
    elif not target.endswith("Page.line"):
        assert out.startswith("WARNING: The dangers of this batch could not be assessed.")
        if command == "bottling":
            assert "HOLD: nothing was assessed" in out


@pytest.mark.parametrize("command", COMMANDS)
def test_i32_knowledge_that_does_not_load(
    run: Run, good_file: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, command: str
) -> None:
    """I32: without knowledge there is no hazard text, but HOLD and the warning are still said."""
    from trubshoot.cli import session

    monkeypatch.setenv("TRUBSHOOT_KNOWLEDGE", str(tmp_path))
    session.diagnostician.cache_clear()
    try:
        code, out, err = run(command, good_file)
    finally:
        session.diagnostician.cache_clear()
    assert code == 2
    assert "GO" not in out
    assert "Treat sealed bottles as suspect" in out + err


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("text", ["", "batch: x\nlog: [", "\x00", "batch: x\nnonsense: 1\n"])
def test_i32_a_file_that_cannot_be_read(run: Run, tmp_path: Path, command: str, text: str) -> None:
    """I32: an unreadable file is exit 2, its problems, and no empty success."""
    path = tmp_path / "broken.yaml"
    path.write_text(text, encoding="utf-8")
    code, out, err = run(command, str(path))
    assert code == 2
    assert "cannot be used" in err
    if command == "bottling":
        assert "HOLD" in out
    if command == "bottles":
        assert "could not be assessed" in out


def test_i32_a_missing_file(run: Run) -> None:
    """I32: a file that is not there is refused in the same way."""
    code, out, err = run("bottling", "no_such_file.yaml")
    assert code == 2
    assert "HOLD" in out
    assert "no_such_file.yaml" in err
