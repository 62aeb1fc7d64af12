"""`trubshoot confirm`: one line more in the log, a cause that is known, and hazards that stay."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from tests.cli.support import EXAMPLES, run

from trubshoot.batch import read_batch
from trubshoot.batch.model import Outcome


@pytest.fixture
def gushers(tmp_path: Path) -> Path:
    """A copy of the example whose bottles gush."""
    return Path(shutil.copy(EXAMPLES / "bottled_too_early.yaml", tmp_path / "amber.yaml"))


@pytest.mark.parametrize(
    "typed",
    [
        ("packaged_too_early",),
        ("packaged-too-early",),
        ("bottled", "before", "fermentation", "had", "finished"),
        ("Botled befor fermentation had finished",),
    ],
)
def test_line_is_appended(
    typed: tuple[str, ...], gushers: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Id, label and misspelt label add the same line, and every other byte stays."""
    before = gushers.read_bytes()
    told = run(capsys, "confirm", gushers, *typed, "--at", "2026-04-06")
    assert told.code == 3
    after = gushers.read_bytes()
    assert after == before + b"  - {at: 2026-04-06, turned_out: packaged_too_early}\n"
    assert "It turned out to be: Bottled before fermentation had finished" in told.out


def test_hazard_stands_first_and_stays(gushers: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever is confirmed, even that nothing was wrong, no hazard block goes away."""
    asked = ("diagnose", gushers, "--at", "2026-04-07", "--format", "json")
    before = json.loads(run(capsys, *asked).out)
    told = run(capsys, "confirm", gushers, "normal_degassing", "--at", "2026-04-06")
    after = json.loads(run(capsys, *asked).out)
    assert told.out.startswith("WARNING still stands: ")
    assert before["hazards"][0]["level"] == "WARNING"
    assert after["hazards"] == before["hazards"]
    assert after["causes"] == before["causes"]  # nor does it count as evidence for itself


def test_undo_takes_it_back(gushers: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`log --undo` leaves the file as it was, byte for byte."""
    before = gushers.read_bytes()
    run(capsys, "confirm", gushers, "priming_too_much", "--words", "scale was off", "--sure", "no")
    entry = read_batch(gushers).log[-1]
    assert isinstance(entry, Outcome)
    assert (entry.text, entry.sure, entry.words) == ("priming_too_much", "guess", "scale was off")
    run(capsys, "log", gushers, "--undo", "--at", "2026-04-07")
    assert gushers.read_bytes() == before


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("priming",), "priming_too_much"),
        (("zzzz",), 'no cause is called "zzzz". See what it may be with `trubshoot learn zzzz`'),
        (("infected",), "It may be one of: acetic_contamination ("),
        (("none", "of", "these"), "--words"),
        (("weak_glass", "--sure", "perhaps"), "--sure guess"),
        (("weak_glass", "--at", "2026-02-31"), "2026-02"),
    ],
)
def test_what_cannot_be_recorded_is_refused(
    arguments: tuple[str, ...], said: str, gushers: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A name that fits nothing, none without words, a doubtful option: exit 2, file untouched."""
    before = gushers.read_bytes()
    told = run(capsys, "confirm", gushers, *arguments)
    assert told.code == 2
    assert said in told.err
    assert gushers.read_bytes() == before


def test_grave_words_come_first(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A burst told in the words of a confirmation brings its block, before everything else."""
    path = tmp_path / "b.yaml"
    path.write_text("batch: x\nlog:\n  - {at: 2026-03-01, did: pitched}\n", "utf-8")
    words = ("--words", "one bottle exploded", "--at", "2026-04-01")
    told = run(capsys, "confirm", path, "none of these", *words)
    assert told.code == 3
    assert told.out.startswith("DANGER: A bottle of this batch has burst")
