"""A bottling moved to another day, with everything after it."""

from __future__ import annotations

from dataclasses import dataclass

from trubshoot.counting import whole
from trubshoot.errors import UnitError
from trubshoot.learning.draft import Draft


@dataclass(frozen=True)
class Moved:
    """How far the bottling was moved, and what was done."""

    days: float
    did: tuple[str, ...]


def move_bottling(draft: Draft, day: float) -> Moved:
    """Move the last bottling, and what comes after it, to a day since pitching.

    An hour of the day is kept. What was logged between an earlier bottling and the old one could
    not have been done, and is left out.

    Raises: UnitError: no bottling, or a day before pitching.
    """
    found = draft.bottling()
    if found is None:
        raise UnitError("no bottling is logged.")
    if day <= 0:
        raise UnitError("a bottling comes after pitching.")
    bottled, old = found
    days = draft.days()
    by_date = "at" in bottled.data
    # dates keep their hour, so they are moved by whole days
    shift = float(round(day - old)) if by_date and abs(day - old) >= 0.5 else day - old
    if by_date and day == int(day):
        shift = _whole_days(draft, day, old)
    did: list[str] = []
    place = next(number for number, item in enumerate(draft.log) if item is bottled)
    later = [
        item
        for number, (item, when) in enumerate(zip(draft.log, days, strict=True))
        if when is not None and (when > old + 1e-9 or (when >= old - 1e-9 and number >= place))
    ]
    if shift < 0:
        between = [
            item
            for item, when in zip(draft.log, days, strict=True)
            if when is not None and old + shift < when <= old + 1e-9 and item not in later
        ]
        for item in between:
            draft.log.remove(item)
            did.append(f"{item.verb} left out: later than the new bottling, line {item.line}")
    draft.shift(later, shift)
    _shift_today(draft, shift)
    after = len(later) - 1
    rest = f", and {after} later line{'s' if after != 1 else ''} with it" if after else ""
    line = f", line {bottled.line}" if bottled.line else ""
    did.insert(0, f"bottled: day {whole(old)} -> day {whole(old + shift)}{rest}{line}")
    return Moved(shift, tuple(did))


def _whole_days(draft: Draft, day: float, old: float) -> float:
    """Return the shift that puts a dated bottling on the calendar day so many after pitching's."""
    zero = draft.read().timeline().zero_at
    if zero is None:
        return day - old
    start = (zero - zero.replace(hour=0, minute=0, second=0)).total_seconds() / 86400
    return float(day - int(old + start))


def _shift_today(draft: Draft, shift: float) -> None:
    """Move the day of asking that the file itself names, when it lies after the bottling."""
    today = draft.head.get("today")
    if isinstance(today, (int, float)) and not isinstance(today, bool):
        draft.head["today"] = round(today + shift, 3)
    elif isinstance(today, str) and "-" in today:
        from datetime import timedelta

        from trubshoot.batch.moments import read_moment

        moment, _ = read_moment(today)
        draft.head["today"] = f"{moment + timedelta(days=shift):%Y-%m-%d}"
