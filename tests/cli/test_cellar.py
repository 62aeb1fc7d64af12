"""`trubshoot cellar`: hazards first in every form, broken files listed, processes, charts."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import signal
import subprocess
import time
from datetime import datetime
from pathlib import Path

import pytest
from tests.cli.support import EXAMPLES, command, run, surroundings
from tests.learning import dying, many_files

from trubshoot.cli import cellar_pool
from trubshoot.learning.cellar import PassedOver, Unusable
from trubshoot.report.charts import Mark, bar, fitting, shortened

AT = ("--at", "2026-11-01")
NOW = datetime(2026, 11, 1, 12)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cellar: the examples, a broken file, other files, a batch in a folder of its own."""
    place = tmp_path_factory.mktemp("cellar")
    for path in EXAMPLES.glob("*.yaml"):
        shutil.copy(path, place)
    (place / "older").mkdir()
    shutil.move(place / "flat_and_cold.yaml", place / "older")
    (place / "broken.yaml").write_text("batch: =1+1\nlog:\n  - {day: 2, gravty: 1.02}\n", "utf-8")
    (place / "shopping.yml").write_text("hops: no\nmilk: 2\n", "utf-8")
    (place / "label.jpg").write_bytes(b"\xff")
    with (place / "plaster_taste.yaml").open("a", encoding="utf-8") as file:
        file.write("  - {at: 2026-06-20, turned_out: chlorinated_water}\n")
    return place


@pytest.mark.parametrize("width", [80, 120])
def test_page(
    width: int, folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Hazards and their batches come first, then everything else; no line is too long."""
    monkeypatch.setenv("COLUMNS", str(width))
    told = run(capsys, "cellar", folder, *AT)
    assert told.code == 3
    lines = told.out.splitlines()
    assert lines[0] == "WARNING: Bottles of this batch may burst."
    assert max(map(len, lines)) <= min(width, 100)
    order = [
        *("It stands for these batches:", "bottled_too_early.yaml", "Cellar: ", "FILES THAT"),
        *("broken.yaml:3:", "BATCHES, NEWEST", "older/flat_and_cold.yaml", "WHAT RECURS"),
        *("WHAT TO CHANGE FIRST", "Next time:", "FERMENTATION TEMPERATURE", "LAST GRAVITY"),
        *("nothing can be concluded", "PASSED OVER", "shopping.yml: no batch file", "1 file of"),
    ]
    places = [" ".join(told.out.split()).find(" ".join(words.split())) for words in order]
    assert -1 not in places, order[places.index(-1)]
    assert places == sorted(places)
    assert "turned out: the same" in " ".join(told.out.split())
    assert told.err == ""


def test_json_and_csv_hold_the_same(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Hazards are the first key; the CSV has a row for each batch file, gravest first."""
    plain = json.loads(run(capsys, "cellar", folder, *AT, "--format", "json").out)
    assert list(plain)[:2] == ["format_version", "hazards"]
    assert plain["hazards"][0]["batches"] == ["bottled_too_early.yaml"]
    assert plain["level"] == "WARNING"
    assert [item["file"] for item in plain["unusable"]] == ["broken.yaml"]
    assert plain["passed_over"] == ["shopping.yml"]
    assert plain["other_files"] == 1
    assert plain["calibration"]["too_few"] is True
    told = run(capsys, "cellar", folder, *AT, "--format", "csv", "--units", "us")
    assert told.err.startswith("WARNING: ")
    rows = list(csv.DictReader(io.StringIO(told.out)))
    assert rows[0]["hazard_level"] == "WARNING"
    files = {item["file"]: item for item in plain["batches"]}
    assert {row["file"] for row in rows} == {*files, "broken.yaml"}
    for row in rows:
        if row["file"] in files:
            batch = files[row["file"]]
            assert row["batch"] == batch["batch"]
            assert row["cause"] == (batch["cause"]["id"] if batch["cause"] else "")
            mean = batch["temperature"]["mean_c"] * 1.8 + 32
            assert float(row["mean_temp_f"]) == pytest.approx(mean, abs=0.06)


def test_csv_holds_no_formula(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A name that a spreadsheet would run is written so that it does not."""
    (tmp_path / "a.yaml").write_text('batch: "=1+1"\n', "utf-8")
    told = run(capsys, "cellar", tmp_path, *AT, "--format", "csv")
    assert next(csv.DictReader(io.StringIO(told.out)))["batch"] == "'=1+1"


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("batch: x\n", 0),
        ("colour: blue\n", 0),
        ("batch: [x\n", 2),
        ("batch: [x\n# one bottle exploded\n", 3),
    ],
)
def test_exit_codes(
    text: str, code: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """0 for a quiet cellar, 2 with a broken file, 3 as soon as a hazard stands."""
    (tmp_path / "a.yaml").write_text(text, "utf-8")
    assert run(capsys, "cellar", tmp_path, *AT).code == code


@pytest.mark.parametrize("arguments", [("gone",), (".", "--format", "xml"), (".", "--units", "x")])
def test_what_cannot_be_asked(
    arguments: tuple[str, ...],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A folder that is none, an unknown format and unknown units are refused with the mend."""
    monkeypatch.chdir(tmp_path)
    told = run(capsys, "cellar", *arguments)
    assert told.code == 2
    assert told.out == ""


def test_empty_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An empty folder is no failure."""
    told = run(capsys, "cellar", tmp_path, *AT)
    assert told.code == 0
    assert "0 batches." in told.out


def test_processes_see_the_same(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two processes find exactly what one finds."""
    many_files.write_files(tmp_path, 52)
    paths = sorted(tmp_path.rglob("*.yaml"))
    monkeypatch.setattr(cellar_pool, "PORTION", 15)
    together = cellar_pool.look_at_all(paths, tmp_path, datetime(2026, 11, 25, 23), 2)
    alone = cellar_pool.look_at_all(paths, tmp_path, datetime(2026, 11, 25, 23), 1)
    assert sorted(together, key=lambda item: item.path) == alone
    assert {type(item).__name__ for item in alone} == {"Look", "Unusable"}


def test_file_on_which_a_process_dies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The one file is listed as trubshoot's fault, with its hazard; all others are seen."""
    names = [*(f"f{number:02d}" for number in range(47)), "bad"]
    paths = [tmp_path / f"{name}.yaml" for name in names]
    monkeypatch.setattr(cellar_pool, "look_at_portion", dying.die_on_bad)
    monkeypatch.setattr(cellar_pool, "_ready", dying.no_knowledge)
    seen = cellar_pool.look_at_all(paths, tmp_path, NOW, 2)
    assert sorted(item.path for item in seen) == sorted(path.name for path in paths)
    (dead,) = [item for item in seen if not isinstance(item, PassedOver)]
    assert isinstance(dead, Unusable)
    assert dead.path == "bad.yaml"
    assert dead.failed
    assert [block.id for block in dead.hazards] == ["could_not_assess"]


@pytest.mark.skipif(os.name == "nt", reason="signals of this kind are not there")
def test_stop_by_the_keyboard_is_clean(tmp_path: Path) -> None:
    """A stop ends all processes within seconds, with one sentence and exit code 1."""
    many_files.write_files(tmp_path, 500)
    process = subprocess.Popen(
        command("cellar", tmp_path, "--at", "2026-11-25", "--jobs", "2"),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=surroundings(),
        start_new_session=True,
    )
    try:
        deadline = time.monotonic() + 120
        while len(many_files.family(process.pid)) < 3 and time.monotonic() < deadline:
            time.sleep(0.1)
        workers = many_files.family(process.pid)[1:]
        assert len(workers) >= 2
        time.sleep(1.0)
        assert process.poll() is None
        os.killpg(process.pid, signal.SIGINT)  # as a terminal does: every process of the group
        out, err = process.communicate(timeout=120)  # seconds, but for a busy machine
    finally:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
            process.communicate()
    assert process.returncode == 130
    assert out == b""
    assert err == b"trubshoot: stopped before all files were seen, so nothing is shown.\n"
    for _ in range(50):
        if not any(many_files.resident_mb(worker) for worker in workers):
            break
        time.sleep(0.1)
    assert [worker for worker in workers if many_files.resident_mb(worker)] == []


def test_charts_by_hand() -> None:
    """Places on a scale, its numbers, bars and shortened names, worked out by hand."""
    scale = fitting([11.0, 24.0], 31, 5.0)
    assert (scale.low, scale.high) == (10.0, 25.0)
    assert scale.line([Mark(10, "["), Mark(20, "]"), Mark(15, "o")]) == (
        "[" + " " * 9 + "o" + " " * 9 + "]"
    )
    assert scale.line([Mark(99, ">"), Mark(-99, "<")]) == "<" + " " * 29 + ">"
    assert scale.ruler(5.0) == "10" + " " * 7 + "15" + " " * 8 + "20" + " " * 8 + "25"
    assert fitting([5.0, 5.0], 10, 5.0).high == 10.0
    assert (bar(0.5, 10), bar(7, 3), bar(-1, 3)) == ("#####", "###", "")
    assert shortened("Lantern Street Amber No. 4", 17) == "Lante.. Amber No. 4"[:5] + "..mber No. 4"
    assert shortened("short", 17) == "short"
