"""When, as it is typed beside a command: dates in the forms people use, "yesterday 9 pm", "18:30".

Nothing is guessed: a date such as 3/4/2026, which may be in March or in April, is refused, and so
is a date without its year. Batch files keep to the one form of `moments`.
"""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from trubshoot.batch.csv_dates import read_moments
from trubshoot.batch.moments import EARLIEST_YEAR, LATEST_YEAR, read_moment
from trubshoot.errors import UnitError
from trubshoot.units import UnreadableQuantity, shown

MEND = (
    'Write it like 2026-03-07, "2026-03-07 15:00", "7 Mar 2026", 18:30, yesterday or '
    '"yesterday 9 pm".'
)
# days back of words that name a day; a part of the day is not turned into an hour
_DAYS = {
    **{"today": 0, "this morning": 0, "this evening": 0, "tonight": 0},
    **{"yesterday": 1, "last night": 1},
}
_HOUR = re.compile(
    r"(?:at )?(?P<hour>[0-9]{1,2})(?:[:.](?P<minute>[0-9]{2}))?\s*(?P<half>[ap]\.?m\.?)?"
)


def typed_moment(text: str, now: datetime) -> tuple[datetime, bool]:
    """Return the moment that is meant, and whether its hour is said; a bare day stands for noon.

    Args:
        text: as typed.
        now: the clock, for "yesterday" and for an hour without a day.

    Raises: UnitError: it cannot be read, or may be two days.
    """
    words = " ".join(text.lower().replace(",", " ").split())[:60]
    if words == "now":
        return now, True
    for name, back in _DAYS.items():
        if words == name or words.startswith(f"{name} "):
            day = now - timedelta(days=back)
            rest = words.removeprefix(name).strip()
            return _at_hour(rest, day, text) if rest else (_noon(day), False)
    if _HOUR.fullmatch(words) and (":" in words or "." in words or words.endswith("m")):
        return _at_hour(words, now, text)
    try:
        return read_moment(text)
    except UnreadableQuantity as error:
        if not error.message.endswith(("is not a date.", "which the month.", "the year first.")):
            raise  # a date, and wrong: no day of the calendar, a zone
    return _otherwise_written(text)


def _otherwise_written(text: str) -> tuple[datetime, bool]:
    """Return a date with the name of its month, or with a number that can only be the day."""
    try:
        moments = read_moments([text], None)
    except UnitError:
        what = f"{shown(text)} does not say which is the day and which the month."
        raise UnitError(f"{what} {MEND}") from None
    moment = moments.times[0]
    if moment is None or not EARLIEST_YEAR <= moment.year <= LATEST_YEAR:
        raise UnitError(f"{shown(text)} is not a date. {MEND}")
    said = re.search(r"[0-9][:.][0-9]{2}(?![0-9.])(?!\.)\s*(?:[ap]\.?m\.?)?\s*$", text.lower())
    known = said is not None and " " in text.strip()
    return (moment, True) if known else (_noon(moment), False)


def _at_hour(words: str, day: datetime, text: str) -> tuple[datetime, bool]:
    found = _HOUR.fullmatch(words)
    hour = int(found["hour"]) if found is not None else 99
    half = (found["half"] or "").replace(".", "") if found is not None else ""
    if found is None or not (1 <= hour <= 12 if half else hour < 24):
        raise UnitError(f"{shown(text)} is not a time. {MEND}")
    if half:
        hour = hour % 12 + 12 * (half == "pm")
    minute = int(found["minute"] or 0)
    if minute > 59:
        raise UnitError(f"{shown(text)} is not a time. {MEND}")
    return day.replace(hour=hour, minute=minute, second=0, microsecond=0), True


def _noon(day: datetime) -> datetime:
    return day.replace(hour=12, minute=0, second=0, microsecond=0)
