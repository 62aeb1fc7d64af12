"""The command `learn`: pages and map in every form, at every width."""

from __future__ import annotations

import csv
import io
import json

import pytest
from tests.cli.support import run
from tests.learning.support import library

from trubshoot.learning.heat import heat
from trubshoot.report.learn_json import plain

WORDS = [
    (),
    ("timing",),
    ("butter",),
    ("packaged_too_early",),
    ("every", "bottle", "gushes"),
    ("sulphur",),
    ("no_hydrometer",),
    ("hazard", "mould"),
    ("source", "bottle_safety"),
    ("map",),
]


@pytest.mark.parametrize("width", [40, 80, 120])
@pytest.mark.parametrize("words", WORDS, ids=["_".join(words) or "steps" for words in WORDS])
def test_pages_keep_to_the_width(
    words: tuple[str, ...],
    width: int,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """No line is wider than the terminal, and nothing is said by colour alone."""
    monkeypatch.setenv("COLUMNS", str(width))
    monkeypatch.setenv("NO_COLOR", "1")
    told = run(capsys, "learn", *words)
    assert told.code == 0
    room = max(width, 77) if words == ("map",) else width  # 20 steps of 3 and a name
    assert max(map(len, told.out.splitlines())) <= room
    assert "\x1b" not in told.out


@pytest.mark.parametrize("words", ["timing", "butter", "hop_creep", "gusher_all"])
def test_json_equals_the_object(words: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The data of a page are the fields of its object, hazards first."""
    told = json.loads(run(capsys, "learn", words, "--format", "json").out)
    thing = library().index.find(words).one
    assert thing is not None
    page = json.loads(json.dumps(plain(library().page(thing))))
    assert list(told)[:2] == ["format_version", "hazards"]
    hazards = page.pop("hazards", [])
    assert told["hazards"] == hazards
    assert {key: told[key] for key in page} == page


def test_map_as_data_equals_the_object(capsys: pytest.CaptureFixture[str]) -> None:
    """JSON and the table with commas hold the numbers of the map."""
    whole = heat(library().knowledge, library().beginner)
    told = json.loads(run(capsys, "learn", "map", "--format", "json").out)
    for row, plain_row in zip(whole.rows, told["faults"], strict=True):
        assert plain_row["by_step"] == dict(
            zip((step.id for step in whole.steps), row.by_step, strict=True)
        )
    table = run(capsys, "learn", "map", "--format", "csv").out
    lines = list(csv.DictReader(io.StringIO(table)))
    assert [line["fault"] for line in lines] == [row.fault.id for row in whole.rows]
    for line, row in zip(lines, whole.rows, strict=True):
        for step, value in zip(whole.steps, row.by_step, strict=True):
            assert float(line[step.id]) == pytest.approx(value, abs=1e-5)


def test_map_shows_numbers_without_colour(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The map of one step and fault shows the rounded chance as a number."""
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setenv("COLUMNS", "80")
    told = run(capsys, "learn", "map", "--step", "timing", "--fault", "green apple")
    chance = heat(library().knowledge, library().beginner).chance("timing", "green_apple")
    row = next(line for line in told.out.splitlines() if line.startswith("Green apple"))
    assert row.split()[-1] == str(round(100 * chance))


def test_hazards_stand_first(capsys: pytest.CaptureFixture[str]) -> None:
    """A page of what a bottle hazard hangs on begins with the block."""
    assert run(capsys, "learn", "gushers").out.startswith("WARNING: ")
    told = " ".join(run(capsys, "learn", "packaged_too_early").out.split())
    assert told.startswith("DANGER: If a batch of yours has this: A bottle of this batch has burst")


def test_several_meanings_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    """A word of two faults lists both with the words that show each; those words work."""
    told = run(capsys, "learn", "sulphur")
    assert told.code == 0
    for line in told.out.splitlines():
        if line.strip().startswith("trubshoot learn"):
            assert run(capsys, *line.split()[1:]).code == 0
    plain_meant = json.loads(run(capsys, "learn", "sulphur", "--format", "json").out)["meant"]
    assert {"egg_smell_fermenting", "rotten_egg"} <= {one["id"] for one in plain_meant}


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("xyzzy",), "is no step, fault or cause that is known"),
        (("gravty and wort",), "Nearest:"),
        (("timing", "--format", "csv"), "is no format. Write text or json."),
        (("map", "--format", "xml"), "Write text or json or csv."),
        (("timing", "--top", "3"), "belong to `trubshoot learn map`"),
        (("map", "--top", "0"), "at least 1"),
        (("map", "--step", "xyzzy"), "is no step"),
        (("map", "--fault", "sulphur"), "may mean several things"),
    ],
)
def test_what_cannot_be_used_is_told(
    arguments: tuple[str, ...], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Words and options that lead nowhere end with code 2 and what to write instead."""
    told = run(capsys, "learn", *arguments)
    assert told.code == 2
    assert words in told.err
