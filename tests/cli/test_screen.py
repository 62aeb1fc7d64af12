"""What the screen shows: width, blanks, colour, and a pipe that closes."""

from __future__ import annotations

import re
import subprocess
from datetime import date, timedelta
from pathlib import Path

import pytest
from tests.cli.support import EXAMPLES, command, run, run_alone, surroundings

FILES = sorted(EXAMPLES.glob("*.yaml"))
LATE = ("--at", "2026-11-01")


@pytest.mark.parametrize("width", [80, 120])
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
@pytest.mark.parametrize("why", [False, True], ids=["plain", "why"])
def test_lines_fit_the_screen(
    path: Path,
    width: int,
    why: bool,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """No line is longer than the screen is wide, and none ends in blanks."""
    monkeypatch.setenv("COLUMNS", str(width))
    told = run(capsys, "diagnose", path, *LATE, *(["--why"] if why else []))
    lines = told.out.splitlines()
    assert len(lines) > 10
    assert [line for line in lines if len(line) > width] == []
    assert [line for line in lines if line != line.rstrip()] == []


@pytest.mark.parametrize("extra", [{}, {"NO_COLOR": "1"}, {"TERM": "dumb"}], ids=str)
def test_no_colour_codes_in_a_pipe(extra: dict[str, str]) -> None:
    """Piped output holds no escape codes and still names the level in words."""
    path = EXAMPLES / "bottled_too_early.yaml"
    told = run_alone("diagnose", path, *LATE, **extra)
    assert told.code == 3
    assert "\x1b" not in told.out
    assert told.out.startswith("WARNING: ")


def test_wide_signs_survive_a_plain_locale() -> None:
    """With the C locale the command still ends as it should, without a traceback."""
    told = run_alone("diagnose", EXAMPLES / "stuck_after_cold_night.yaml", *LATE, LC_ALL="C")
    assert told.code == 0
    assert "Traceback" not in told.err


def test_closed_pipe_is_no_fault() -> None:
    """A reader that goes away after one line leaves no traceback behind."""
    path = EXAMPLES / "bottled_too_early.yaml"
    with subprocess.Popen(
        command("diagnose", path, *LATE, "--why", "--format", "json"),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=surroundings(),
    ) as child:
        assert child.stdout is not None
        assert child.stderr is not None
        child.stdout.readline()
        child.stdout.close()
        told = child.stderr.read().decode("utf-8")
        child.wait(timeout=60)
    assert "Traceback" not in told
    assert "Exception ignored" not in told


def test_asked_now(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without `--at` the answer is for now: a log of long ago is old, and no fault."""
    pitched = date.today() - timedelta(days=400)
    path = tmp_path / "batch.yaml"
    path.write_text(f"batch: x\nlog:\n  - {{at: {pitched}, did: pitched, beer: 20 C}}\n", "utf-8")
    told = run(capsys, "diagnose", path)
    days = re.search(r"([0-9]+) days after pitching", told.out)
    assert days is not None
    assert int(days[1]) in (399, 400, 401)
