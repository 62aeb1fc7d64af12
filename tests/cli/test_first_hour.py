"""What somebody in a hurry meets in the first hour: every answer fits what was asked."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest
from tests.cli.support import run

BATCH = """\
batch: first
units: us
yeast: {class: clean american ale}
log:
  - {at: 2026-11-01 15:00, gravity: 1.054, sample: 80 F}
  - {at: 2026-11-01 16:00, did: pitched, beer: 70 F}
"""
LATER = "  - {at: 2026-11-20 16:00, gravity: 1.013, sample: 68 F}\n"


@pytest.fixture
def first(tmp_path: Path) -> Path:
    """Return a batch file in US units, asked about on its second day."""
    path = tmp_path / "first.yaml"
    path.write_text(BATCH, "utf-8")
    return path


def test_asked_for_a_time_before_the_last_line(
    first: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A line after the time asked for is no wrong date: a later --at takes it in."""
    first.write_text(BATCH + LATER, "utf-8")
    told = run(capsys, "diagnose", first, "--at", "10 Nov 2026")
    assert told.code == 2
    assert "You asked for 2026-11-10 23:00. To take later lines in, give a later --at." in told.err


def test_a_wrong_date_of_today_is_no_matter_of_at(
    first: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Asked for now, a date to come is only wrong."""
    first.write_text(BATCH + LATER.replace("2026", "2126"), "utf-8")
    told = run(capsys, "diagnose", first)
    assert told.code == 2
    assert "has not come yet" in told.err
    assert "You asked for" not in told.err


def test_a_sample_is_shown_in_the_units_of_its_file(
    first: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """80 F as written is not turned into Celsius on the way to the page; one day is one day."""
    told = run(capsys, "diagnose", first, "--at", "2026-11-02 16:00")
    assert "read 1.054 at 80 °F" in " ".join(told.out.split())
    assert ", 1 day after pitching." in told.out


def test_bottles_of_a_beer_that_was_not_bottled(
    first: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It says that no bottling is logged, and opens no section with nothing in it."""
    told = run(capsys, "bottles", first, "--at", "2026-11-02")
    assert "The log does not say that this beer was bottled." in told.out
    assert "WHAT AN OPENED BOTTLE WOULD TELL" not in told.out
    assert "count as under too much" in told.out
    with first.open("a", encoding="utf-8") as file:
        file.write('  - {at: 2026-11-20, did: bottled, sugar: "4 oz corn sugar", volume: 5 gal}\n')
    told = run(capsys, "bottles", first, "--at", "2026-11-21")
    assert "does not say that this beer was bottled" not in told.out
    assert "WHAT AN OPENED BOTTLE WOULD TELL" in told.out or told.code == 3


@pytest.mark.parametrize(
    ("command", "moment"),
    [("diagnose", "2 Nov 2026"), ("next", "2.11.2026 18:30"), ("bottling", "11/20/2026")],
)
def test_dates_beside_commands(
    command: str, moment: str, first: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every command reads the same forms of a date; one that may be two days is refused."""
    told = run(capsys, command, first, "--at", moment)
    if moment.startswith("2.11"):
        assert told.code == 2
        assert "which is the day and which the month" in told.err
    else:
        assert told.code in (0, 3)
        assert "November 2026" in told.out


@pytest.mark.parametrize(
    ("sample", "mend"), [("680F", "Correct the number."), ("-10 F", "Correct"), ("120 C", "120 F?")]
)
def test_the_other_unit_is_offered_only_where_it_fits(
    sample: str, mend: str, first: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """680 F is a slip of the pen, and 680 C would be none the better."""
    told = run(capsys, "log", first, "gravity", "1.012", "--sample", sample)
    assert told.code == 2
    assert "cannot be right here" in told.err
    assert mend in told.err


def test_the_line_to_type_next_can_be_typed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file name with blanks or an apostrophe is quoted in what it says to type."""
    monkeypatch.chdir(tmp_path)
    told = run(capsys, "new", "Mike's ale.yaml", "--defaults")
    line = next(line for line in told.out.splitlines() if "trubshoot log" in line)
    typed = shlex.split(line.split(": ", 1)[1])
    assert typed[:3] == ["trubshoot", "log", "Mike's ale.yaml"]
    assert run(capsys, *typed[1:]).code in (0, 3)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--saw", "white", "film"), '--saw "white film"'),
        (("--smelled", "rotten", "eggs", "--why"), '--smelled "rotten eggs"'),
        (("--at", "12", "Nov", "2026"), '--at "12 Nov 2026"'),
        (("\u2014saw", "film"), '"--saw"'),
        (("--saw", "\u201cwhite", "film\u201d"), "plain quotation marks"),
    ],
)
def test_slips_of_typing_are_named(
    words: tuple[str, ...], says: str, first: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Words without quotation marks, and what an editor made of hyphens and quotes."""
    told = run(capsys, "diagnose", first, *words)
    assert told.code == 2
    assert says in told.err


@pytest.mark.parametrize("words", [("--format", "xml"), ("--nope",), ("--at", "some day")])
def test_no_slip_no_hint(
    words: tuple[str, ...], first: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where nothing of the kind was typed, nothing is guessed."""
    told = run(capsys, "diagnose", first, *words)
    assert told.code == 2
    assert "quotation marks" not in told.err
    assert "hyphens" not in told.err
