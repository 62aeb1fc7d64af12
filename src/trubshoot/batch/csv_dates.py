"""Dates as tables write them: ISO, day and month in either order, month names, zones, AM and PM.

Times are kept as written, without their zone. When a table mixes zones (a change to summer time),
every time is brought to the zone of its first row, so that the time between readings stays true.
Whether 03/04 is in March or April is taken from the whole column, never guessed from one row.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from trubshoot.errors import UnitError
from trubshoot.units import UnreadableQuantity, shown

MEND = "Write it like 2026-03-07 15:00."
_HOUR = (
    r"(?:(?:\s*[t,]\s*|\s+)(?P<hour>[0-9]{1,2})[:.](?P<minute>[0-9]{2})"
    r"(?:[:.](?P<second>[0-9]{2})(?:[.,][0-9]+)?)?\s*(?P<half>[ap]\.?m\.?)?)?"
    r"\s*(?P<zone>z|utc|gmt|[+-][0-9]{2}:?[0-9]{2}|[+-][0-9]{2})?"
)
_ISO = re.compile(r"(?P<year>[0-9]{4})[-/.](?P<month>[0-9]{1,2})[-/.](?P<day>[0-9]{1,2})" + _HOUR)
_NUMBERS = re.compile(
    r"(?P<first>[0-9]{1,2})[-/.](?P<second_number>[0-9]{1,2})[-/.](?P<year>[0-9]{4}|[0-9]{2})"
    + _HOUR
)
_NAMES = (*("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"),)
_MONTH = rf"(?P<name>{'|'.join(_NAMES)})[a-z]*\.?"
_NAMED = (
    re.compile(
        rf"(?P<day>[0-9]{{1,2}})\.?[- ]{_MONTH}[-, ]+(?P<year>[0-9]{{4}}|[0-9]{{2}})" + _HOUR
    ),
    re.compile(rf"{_MONTH}[ -](?P<day>[0-9]{{1,2}}),?[- ]+(?P<year>[0-9]{{4}})" + _HOUR),
)


@dataclass(frozen=True)
class Moments:
    """The times of a column, None where one cannot be read, with the reason in `why`."""

    times: tuple[datetime | None, ...]
    why: tuple[str, ...]
    note: str  # what was done with zones; empty when nothing was


def read_moments(texts: Sequence[str], day_first: bool | None) -> Moments:
    """Return the moments of a column.

    Args:
        texts: as written; blank ones are left for the caller.
        day_first: whether 03/04 is in April; None takes it from the column.

    Raises: UnitError: the column does not show whether day or month comes first.
    """
    matches = [_match(text) for text in texts]
    if day_first is None:
        day_first = _order([found for found in matches if found is not None])
    times: list[datetime | None] = []
    zones: list[timedelta | None] = []
    why: list[str] = []
    for text, found in zip(texts, matches, strict=True):
        try:
            moment, zone = _moment(text, found, bool(day_first))
        except UnreadableQuantity as error:
            times.append(None)
            zones.append(None)
            why.append(f"{error.message} {error.mend}")
            continue
        times.append(moment)
        zones.append(zone)
        why.append("")
    return _one_zone(times, zones, why)


def _match(text: str) -> re.Match[str] | None:
    plain = " ".join(text.lower().split())[:60]
    for pattern in (_ISO, _NUMBERS, *_NAMED):
        found = pattern.fullmatch(plain)
        if found is not None:
            return found
    return None


def _order(matches: Sequence[re.Match[str]]) -> bool | None:
    """Return whether the day comes first; None when no date has its numbers in an open order."""
    pairs = [(int(m["first"]), int(m["second_number"])) for m in matches if m.re is _NUMBERS]
    if not pairs:
        return None
    day_first = any(first > 12 for first, _ in pairs)
    month_first = any(second > 12 for _, second in pairs)
    if day_first != month_first:
        return day_first
    found = next(m for m in matches if m.re is _NUMBERS)
    what = (
        "some dates begin with the day and others with the month"
        if day_first
        else (f"{shown(found[0])} does not say which is the day and which the month")
    )
    raise UnitError(f"{what}. Add --dayfirst or --monthfirst.")


def _moment(
    text: str, found: re.Match[str] | None, day_first: bool
) -> tuple[datetime, timedelta | None]:
    if found is None:
        raise UnreadableQuantity(f"{shown(text)} is not a date.", MEND)
    parts = found.groupdict()
    if "first" in parts:
        day, month = int(parts["first"]), int(parts["second_number"])
        if not day_first:
            day, month = month, day
    else:
        day = int(parts["day"])
        month = _NAMES.index(parts["name"]) + 1 if parts.get("name") else int(parts["month"])
    year = int(parts["year"]) + (2000 if len(parts["year"]) == 2 else 0)
    hour = int(parts["hour"] or 0)
    half = (parts["half"] or "").replace(".", "")
    if half and not 1 <= hour <= 12:
        raise UnreadableQuantity(f"{shown(text)} has no hour that fits {half}.", MEND)
    hour = hour % 12 + 12 * (half == "pm") if half else hour
    try:
        moment = datetime(year, month, day, hour, int(parts["minute"] or 0))
    except ValueError:
        raise UnreadableQuantity(f"{shown(text)} is no day of the calendar.", MEND) from None
    return moment, _zone(parts["zone"])


def _zone(text: str | None) -> timedelta | None:
    if text is None:
        return None
    if text in ("z", "utc", "gmt"):
        return timedelta(0)
    digits = text[1:].replace(":", "").ljust(4, "0")
    offset = timedelta(hours=int(digits[:2]), minutes=int(digits[2:]))
    return -offset if text[0] == "-" else offset


def _one_zone(
    times: list[datetime | None], zones: list[timedelta | None], why: list[str]
) -> Moments:
    named = [zone for zone in zones if zone is not None]
    if not named:
        return Moments(tuple(times), tuple(why), "")
    first = named[0]
    if all(zone == first for zone in named):
        note = f"Times are kept as written, in the zone {_zone_text(first)}."
        return Moments(tuple(times), tuple(why), note)
    moved = tuple(
        time if time is None or zone is None else time - zone + first
        for time, zone in zip(times, zones, strict=True)
    )
    note = f"The table mixes time zones; all times are given in its first, {_zone_text(first)}."
    return Moments(moved, tuple(why), note)


def _zone_text(zone: timedelta) -> str:
    minutes = round(zone.total_seconds() / 60)
    sign = "-" if minutes < 0 else "+"
    return f"UTC{sign}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}" if minutes else "UTC"
