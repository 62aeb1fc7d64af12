"""The log in order of time, counted in days since the yeast was pitched.

Day 0 is the first `pitched` of the log. Without one it is the first reading or deed of the log,
and the timeline says so. A date without an hour stands for noon, but keeps its place in the file
among entries of the same day. A log may use dates, day numbers, or both when pitching has a date.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time
from itertools import groupby

from trubshoot.batch.model import Batch, Deed, Entry, GravityReading

_DAY = 86400.0
NOON = time(12, 0)


@dataclass(frozen=True)
class TimedEntry:
    """A log entry and when it was: days since day 0, None when it cannot be placed."""

    entry: Entry
    days: float | None


@dataclass(frozen=True)
class Timeline:
    """Log entries in order of time; those that cannot be placed stand last.

    pitched: whether pitching is in the log. zero_at: date of day 0, if any. now_days: the moment
    of asking; when `now_known` is False it is the time of the last entry, for want of better.
    assumed: sentences about what had to be assumed.
    """

    entries: tuple[TimedEntry, ...] = ()
    pitched: bool = False
    zero_at: datetime | None = None
    now_days: float | None = None
    now_known: bool = False
    assumed: tuple[str, ...] = ()

    def until_now(self) -> tuple[TimedEntry, ...]:
        """Return the placed entries up to the moment of asking."""
        end = self.now_days
        return tuple(
            e for e in self.entries if e.days is not None and (end is None or e.days <= end + 1e-9)
        )


def placed_times(log: tuple[Entry, ...]) -> list[datetime | None]:
    """Return a time for every dated entry: noon for a bare date, in the order of the file.

    A bare date never jumps over an entry of the same day that stands above or below it.
    """
    times: list[datetime | None] = [entry.at for entry in log]
    dated = [index for index, entry in enumerate(log) if entry.at is not None]

    def day_of(index: int) -> date:
        at = log[index].at
        return at.date() if at is not None else date.min

    for _, group in groupby(sorted(dated, key=lambda i: (day_of(i), i)), key=day_of):
        indices = list(group)
        latest: datetime | None = None
        for index in indices:
            at = times[index]
            if not log[index].hour_known and at is not None and latest is not None:
                times[index] = max(at, latest)
            if log[index].hour_known and at is not None:
                latest = at if latest is None else max(latest, at)
        earliest: datetime | None = None
        for index in reversed(indices):
            at = times[index]
            if not log[index].hour_known and at is not None and earliest is not None:
                times[index] = min(at, earliest)
            if log[index].hour_known and at is not None:
                earliest = at if earliest is None else min(earliest, at)
    return times


def timeline_of(batch: Batch, now: datetime | None = None) -> Timeline:
    """Return the timeline of a batch; `now` is the clock, and the file's `today` goes before it."""
    log = batch.log
    times = placed_times(log)
    assumed: list[str] = []
    pitch = _first_pitch(log, times)
    zero_at: datetime | None = None
    shift = 0.0
    if pitch is not None:
        zero_at = times[pitch]
        shift = log[pitch].day or 0.0
        if shift:
            assumed.append("day numbers are counted from the logged pitching")
        if zero_at is not None and not log[pitch].hour_known:
            assumed.append("the hour of pitching is not written; noon is assumed")
    else:
        zero_at, shift, sentence = _other_zero(log, times)
        assumed.extend(sentence)
    days = [_days(entry, at, zero_at, shift) for entry, at in zip(log, times, strict=True)]
    if any(value is None for value in days):
        assumed.append("entries with dates and with day numbers cannot be put in one order")
    order = sorted(range(len(log)), key=lambda i: (days[i] is None, days[i] or 0.0, i))
    entries = tuple(TimedEntry(log[i], days[i]) for i in order)
    now_days = _now_days(batch, now, zero_at, shift)
    known = now_days is not None
    if now_days is None:
        placed = [value for value in days if value is not None]
        now_days = max(placed, default=None)
        if placed:
            assumed.append("the day of asking is not known; the last entry is taken for it")
    return Timeline(entries, pitch is not None, zero_at, now_days, known, tuple(assumed))


def _first_pitch(log: tuple[Entry, ...], times: list[datetime | None]) -> int | None:
    pitches = [i for i, e in enumerate(log) if isinstance(e, Deed) and e.verb == "pitched"]
    dated = [i for i in pitches if times[i] is not None]
    if dated:
        return min(dated, key=lambda i: (times[i] or datetime.max, i))
    return min(pitches, key=lambda i: (log[i].day or 0.0, i), default=None)


def _other_zero(
    log: tuple[Entry, ...], times: list[datetime | None]
) -> tuple[datetime | None, float, list[str]]:
    """Return day 0 of a log without pitching: the first reading or deed, else the first entry."""
    dated = sorted((at, i) for i, at in enumerate(times) if at is not None)
    if not dated:
        if log:
            return None, 0.0, ["pitching is not logged; the day numbers are taken as they are"]
        return None, 0.0, []
    for at, index in dated:
        if isinstance(log[index], GravityReading) or getattr(log[index], "verb", None):
            return at, 0.0, ["pitching is not logged; days are counted from the first entry"]
    return dated[0][0], 0.0, ["pitching is not logged; days are counted from the first entry"]


def _days(
    entry: Entry, at: datetime | None, zero_at: datetime | None, shift: float
) -> float | None:
    if at is not None:
        return None if zero_at is None else (at - zero_at).total_seconds() / _DAY
    return None if entry.day is None else entry.day - shift


def _now_days(
    batch: Batch, now: datetime | None, zero_at: datetime | None, shift: float
) -> float | None:
    """Return the moment of asking; never before a bare date of the same day, which says "noon"."""
    if batch.today_day is not None:
        return batch.today_day - shift
    if zero_at is None:
        return None
    day = batch.today or (None if now is None else now.date())
    if day is None:
        return None
    moment = now if batch.today is None and now is not None else datetime.combine(day, NOON)
    for entry in batch.log:
        here = entry.at is not None and entry.at.date() == day
        if here and entry.at is not None and (batch.today is not None or not entry.hour_known):
            moment = max(moment, entry.at)
    return (moment - zero_at).total_seconds() / _DAY
