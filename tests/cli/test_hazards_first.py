"""Injury and burst words come first in every format, readable file or not, and stay on."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from tests.cli.support import EXAMPLES, run

AT = ("--at", "2026-11-01")
# words, and the block they must bring
GRAVE = [
    ("one bottle exploded", "bottle_burst"),
    ("glass went into my eye", "injury_eye"),
    ("my hand is bleeding", "injury_bleeding"),
    ("my brother collapsed beside the fermenter", "injury_collapsed"),
]
UNREADABLE = [
    "batch: x\n\tindented: with a tab\nlog: {words}\n",
    "{words}\n",
    "batch: [x\n# {words}\n",
    "batch: x\nlog:\n  - {{day: 3, saww: {words}}}\n",
]


@pytest.mark.parametrize(("words", "block"), GRAVE)
@pytest.mark.parametrize("shape", UNREADABLE)
def test_unreadable_file_still_warns(
    shape: str, words: str, block: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file that cannot be read as a batch brings the block that its words name, before all."""
    path = tmp_path / "batch.yaml"
    path.write_text(shape.format(words=words), "utf-8")
    told = run(capsys, "diagnose", path, *AT)
    assert told.code == 2
    assert told.out.startswith("DANGER: ")
    plain = json.loads(run(capsys, "diagnose", path, *AT, "--format", "json").out)
    assert block in [item["id"] for item in plain["hazards"]]
    assert plain["hazards"][0]["level"] == "DANGER"
    assert all(item["avoid"] for item in plain["hazards"])


@pytest.mark.parametrize(("words", "block"), GRAVE)
def test_words_beside_a_missing_file_still_warn(
    words: str, block: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Words said on the command line bring their block even when there is no file at all."""
    arguments = ("diagnose", tmp_path / "gone.yaml", "--saw", words)
    assert run(capsys, *arguments).out.startswith("DANGER: ")
    plain = json.loads(run(capsys, *arguments, "--format", "json").out)
    assert block in [item["id"] for item in plain["hazards"]]


@pytest.mark.parametrize("example", ["all_well", "flat_and_cold"])
@pytest.mark.parametrize(("words", "block"), GRAVE)
def test_words_beside_a_good_file_come_first(
    words: str, block: str, example: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Words said beside a harmless log lift the level to DANGER, first in text, exit code 3."""
    arguments = ("diagnose", EXAMPLES / f"{example}.yaml", "--at", "2026-11-01", "--saw", words)
    told = run(capsys, *arguments)
    assert told.code == 3
    assert told.out.startswith("DANGER: ")
    plain = json.loads(run(capsys, *arguments, "--format", "json").out)
    assert plain["level"] == "DANGER"
    assert block in [item["id"] for item in plain["hazards"]]


@pytest.mark.parametrize("key", ["note", "turned_out", "saw", "smelled", "tasted", "did"])
def test_grave_words_anywhere_in_the_log(
    key: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A burst written down under any key of the log, a remark too, brings its block."""
    path = tmp_path / "batch.yaml"
    path.write_text(f"batch: x\nlog:\n  - {{day: 9, {key}: one bottle exploded}}\n", "utf-8")
    told = run(capsys, "diagnose", path, *AT)
    assert told.code == 3
    assert told.out.startswith("DANGER: A bottle of this batch has burst")


def test_remark_brings_nothing_else(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """From a remark nothing but grave words is read: no finding, nothing not understood."""
    path = tmp_path / "batch.yaml"
    path.write_text("batch: x\nlog:\n  - {day: 9, note: flat and sour and wobbly}\n", "utf-8")
    plain = json.loads(run(capsys, "diagnose", path, *AT, "--format", "json").out)
    assert plain["findings"] == []
    assert plain["not_understood"] == []
    assert plain["hazards"] == []


def test_denied_words_bring_no_block(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """That no bottle burst is not taken for a burst."""
    path = tmp_path / "batch.yaml"
    path.write_text("batch: x\nlog:\n  - {day: 9, no_sign_of: a burst bottle}\n", "utf-8")
    plain = json.loads(run(capsys, "diagnose", path, *AT, "--format", "json").out)
    assert "bottle_burst" not in [item["id"] for item in plain["hazards"]]


@pytest.mark.parametrize("options", [(), ("--why",), ("--units", "us"), ("--units", "metric")])
def test_no_option_moves_or_hides_a_block(
    options: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    """Whatever the options, the first line is the hazard's and all its steps are there."""
    path = EXAMPLES / "bottled_too_early.yaml"
    plain = json.loads(run(capsys, "diagnose", path, "--at", "2026-04-05", "--format", "json").out)
    told = run(capsys, "diagnose", path, "--at", "2026-04-05", *options).out
    assert told.splitlines()[0] == f"WARNING: {plain['hazards'][0]['hazard']}"
    together = " ".join(told.split())
    for block in plain["hazards"]:
        for step in block["avoid"]:
            assert step in together


def test_hazards_are_the_first_key(capsys: pytest.CaptureFixture[str]) -> None:
    """In JSON the hazards stand directly after the version of the format."""
    path = EXAMPLES / "bottled_too_early.yaml"
    told = run(capsys, "diagnose", path, "--at", "2026-04-05", "--format", "json")
    assert list(json.loads(told.out))[:2] == ["format_version", "hazards"]
