"""When, as it is typed beside a command: the usual forms are read, and nothing is guessed."""

from __future__ import annotations

from datetime import datetime

import pytest

from trubshoot.batch.log_words import refuse_late_og, typed_line
from trubshoot.batch.reader import read_batch
from trubshoot.batch.typed_time import typed_moment
from trubshoot.errors import BatchError, UnitError

NOW = datetime(2026, 11, 25, 14, 30)
WHEN = ("at", "2026-11-25 14:30")


@pytest.mark.parametrize(
    ("text", "moment", "hour"),
    [
        ("now", "2026-11-25 14:30", True),
        ("today", "2026-11-25 12:00", False),
        ("Yesterday", "2026-11-24 12:00", False),
        ("last night", "2026-11-24 12:00", False),
        ("yesterday 9pm", "2026-11-24 21:00", True),
        ("yesterday, 21:05", "2026-11-24 21:05", True),
        ("9:30 p.m.", "2026-11-25 21:30", True),
        ("12am", "2026-11-25 00:00", True),
        ("18.30", "2026-11-25 18:30", True),
        ("25 nov 2026", "2026-11-25 12:00", False),
        ("November 20, 2026 18:30", "2026-11-20 18:30", True),
        ("20.11.2026", "2026-11-20 12:00", False),
        ("20.11.2026 18:30", "2026-11-20 18:30", True),
        ("11/20/26 6:30 PM", "2026-11-20 18:30", True),
        ("2026-11-20T18:30", "2026-11-20 18:30", True),
    ],
)
def test_usual_forms(text: str, moment: str, hour: bool) -> None:
    """A date or an hour as people write them; a bare day stands for noon."""
    assert typed_moment(text, NOW) == (datetime.fromisoformat(moment), hour)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("03/04/2026", "does not say which is the day and which the month"),
        ("1.5.26", "does not say which is the day and which the month"),
        ("Nov 20", "is not a date"),
        ("tomorrow", "is not a date"),
        ("5", "is not a date"),
        ("", "is not a date"),
        ("20.11.1850", "is not a date"),
        ("13pm", "is not a time"),
        ("yesterday noonish", "is not a time"),
        ("7:75", "is not a time"),
        ("2026-02-30", "is no day of the calendar"),
    ],
)
def test_what_is_open_is_refused(text: str, says: str) -> None:
    """What may be two days, or no day, is refused with the forms that are read."""
    with pytest.raises(UnitError, match=says) as refused:
        typed_moment(text, NOW)
    assert "2026-03-07" in str(refused.value)


def test_a_date_of_a_file_says_what_is_wrong() -> None:
    """Only a date that may be two days is told to be one."""
    for date, says in (("11/20/2026", "with the year first"), ("11/12/2026", "which the month")):
        with pytest.raises(BatchError, match=says):
            read_batch(f"batch: one\nlog: [{{at: {date}, note: bought}}]", NOW)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ("bottled with 5 oz corn sugar", 'Write `bottled` with details: bottled sugar="110 g'),
        ("dryhop 2oz cascade", "Write `dry hopped` with details"),
        ("pitched two packs", "Write `pitched` with details: pitched beer=20C"),
        ("68F", "Did you mean `beer 68F`?"),
        ("20,5 °C", "Did you mean `beer 20,5 °C`?"),
        ("1.012", "Did you mean `gravity 1.012`?"),
        ("undo", "write `--undo`"),
        ("bubbling like mad", 'Anything you noticed: saw "..."'),
    ],
)
def test_words_that_begin_no_line_are_told_what_to_type(words: str, says: str) -> None:
    """A deed with its details in words, a bare number, a wish: each is told the form it has."""
    with pytest.raises(UnitError) as refused:
        typed_line(words.split(), {}, WHEN)
    assert says in str(refused.value)


def test_an_original_gravity_is_not_a_reading_of_today() -> None:
    """After the yeast went in, "og" without its time is refused, and with it, or before, taken."""
    before = read_batch("batch: one\nlog: [{at: 2026-11-01, note: kit bought}]", NOW)
    after = read_batch("batch: one\nlog: [{at: 2026-11-01, did: pitched}]", NOW)
    with pytest.raises(UnitError, match="before the yeast goes in"):
        refuse_late_og(["OG", "1.055"], None, None, after)
    refuse_late_og(["OG", "1.055"], None, None, before)
    refuse_late_og(["OG", "1.055"], "2026-11-01", None, after)
    refuse_late_og(["gravity", "1.055"], None, None, after)
    assert typed_line(["FG", "1.012"], {}, WHEN).items[1] == ("gravity", "1.012")
