"""When: dates, dates with an hour, and day numbers as people write them."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

from trubshoot.units import UnreadableQuantity, parse_quantity, shown, tidy

MOMENT_MEND = "Write it like 2026-03-07 or 2026-03-07 15:00."
DAY_MEND = "Write `day: 3` or `day: 3.5`, counted from pitching."
# a clock put back at the end of summer time must not make what was logged just before unreadable
CLOCK_CHANGE = timedelta(minutes=90)
EARLIEST_YEAR, LATEST_YEAR = 1950, 2150
EARLIEST_DAY, LATEST_DAY = -400.0, 20_000.0

_MOMENT = re.compile(
    r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})"
    r"(?:(?:[t ]|, | at )\s*([0-9]{1,2})[:.]([0-9]{2})(?:[:.]([0-9]{2})(?:\.[0-9]+)?)?)?"
)
_ZONED = re.compile(r".*[0-9:](?:z|utc|gmt|[+-][0-9]{2}:?[0-9]{2})")
_OTHER_ORDER = re.compile(r"[0-9]{1,4}[/.][0-9]{1,2}[/.][0-9]{1,4}.*|[0-9]{1,2}-[0-9]{1,2}-.*")


def read_moment(value: object) -> tuple[datetime, bool]:
    """Return a moment and whether its hour is written; a bare date stands for noon.

    Raises: UnreadableQuantity: not a date in the order year-month-day.
    """
    text = tidy(value) if isinstance(value, str) and len(value) < 60 else ""
    match = _MOMENT.fullmatch(text)
    if match is None:
        if _ZONED.fullmatch(text) and _MOMENT.match(text):
            message = f"{shown(value)} has a time zone."
            raise UnreadableQuantity(message, f"Leave the zone out. {MOMENT_MEND}")
        if _OTHER_ORDER.fullmatch(text):
            open_order = all(int(part) <= 12 for part in re.findall("[0-9]+", text)[:2])
            message = f"{shown(value)} is not written with the year first."
            if open_order:
                message = f"{shown(value)} does not say which is the day and which the month."
            raise UnreadableQuantity(message, MOMENT_MEND)
        raise UnreadableQuantity(f"{shown(value)} is not a date.", MOMENT_MEND)
    year, month, day, hour, minute, second = (int(part or 0) for part in match.groups())
    known = match[4] is not None
    try:
        moment = datetime(year, month, day, hour if known else 12, minute, second)
    except ValueError:
        raise UnreadableQuantity(
            f"{shown(value)} is no day of the calendar.", MOMENT_MEND
        ) from None
    if not EARLIEST_YEAR <= year <= LATEST_YEAR:
        raise UnreadableQuantity(f"{shown(value)} is in no likely year.", MOMENT_MEND)
    return moment, known


def read_day(value: object) -> float:
    """Return a number of days since pitching from 3, "day 3" or "36 hours".

    Raises: UnreadableQuantity: no number of days, or too many.
    """
    if isinstance(value, str):
        value = re.sub(r"^\s*day\s+", "", value, flags=re.IGNORECASE)
    try:
        negative = isinstance(value, str) and value.strip().startswith("-")
        number = isinstance(value, (int, float)) and not isinstance(value, bool)
        if number and not -1e9 < value < 1e9:  # type: ignore[operator]  # a number, as checked
            raise UnreadableQuantity("", "")
        if number:
            days = float(value)  # type: ignore[arg-type]  # a number, as checked
        else:
            bare = value.strip()[1:] if negative and isinstance(value, str) else value
            days = parse_quantity(bare, "duration", "day") * (-1 if negative else 1)
    except UnreadableQuantity:
        raise UnreadableQuantity(f"{shown(value)} is not a number of days.", DAY_MEND) from None
    if not EARLIEST_DAY <= days <= LATEST_DAY:
        raise UnreadableQuantity(f"{shown(value)} days from pitching is not likely.", DAY_MEND)
    return days


def is_to_come(moment: datetime, now: datetime) -> bool:
    """Tell whether a moment lies after the clock by more than a clock is ever put back."""
    return moment > now + CLOCK_CHANGE


def refuse_future(moment: datetime, hour_known: bool, now: datetime | None) -> None:
    """Raise UnreadableQuantity for a moment after the clock; a bare date may be today's."""
    if now is None:
        return
    if is_to_come(moment, now) if hour_known else (moment.date() > now.date()):
        written = f"{moment:%Y-%m-%d %H:%M}" if hour_known else f"{moment:%Y-%m-%d}"
        message = f"{written} has not come yet (it is {now:%Y-%m-%d %H:%M})."
        raise UnreadableQuantity(message, "Correct the date.")
