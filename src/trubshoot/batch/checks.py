"""What does not fit together in a log that can be read: mostly warned of, seldom refused."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from trubshoot.batch.model import Batch, Bottling, Deed, GravityReading
from trubshoot.batch.timeline import Timeline, placed_times, timeline_of
from trubshoot.errors import Problem

_SAME_READING = 0.0005  # SG; two writings of one gravity differ by less
_VOLUME_GAP = 0.25  # share by which bottles and litres bottled may differ


def check_order_known(batch: Batch) -> list[Problem]:
    """Return the problem of dates and day numbers that cannot be put in one order."""
    pitches = batch.deeds("pitched")
    if pitches and all(entry.at is None for entry in pitches):
        dated = next((entry for entry in batch.log if entry.at is not None), None)
        if dated is not None:
            message = "this line has a date, but pitching has only a day number."
            mend = f"Give the pitching in line {pitches[0].line} a date (`at:`)."
            return [_problem(batch, dated.line, message, mend)]
    return []


def check_batch(batch: Batch, now: datetime | None) -> list[Problem]:
    """Return warnings about entries that contradict each other, in order of the lines."""
    timeline = timeline_of(batch, now)
    found = [
        *_after_today(batch, timeline),
        *_order(batch, timeline),
        *_two_gravities(batch),
        *_volumes(batch),
        *_gravities_expected(batch),
    ]
    return sorted(found)


def _problem(batch: Batch, line: int, message: str, mend: str = "") -> Problem:
    return Problem(batch.path, line, message, mend)


def _after_today(batch: Batch, timeline: Timeline) -> Iterator[Problem]:
    if not timeline.now_known or timeline.now_days is None:
        return
    for timed in timeline.entries:
        if timed.days is not None and timed.days > timeline.now_days + 1e-9:
            yield _problem(
                batch,
                timed.entry.line,
                "this line is later than the day of asking and is left out.",
                "Correct its date, or `today`.",
            )


def _order(batch: Batch, timeline: Timeline) -> Iterator[Problem]:
    bottled_at: float | None = None
    pitched = 0
    for timed in timeline.entries:
        entry, days = timed.entry, timed.days
        if days is None:
            continue
        if isinstance(entry, Bottling):
            if timeline.pitched and days < 0:
                message = "bottled before the yeast was pitched."
                yield _problem(batch, entry.line, message, "Check both dates.")
            if bottled_at is None:
                bottled_at = days
        if isinstance(entry, Deed):
            pitched += entry.verb == "pitched"
            yield from _deed_order(batch, entry, pitched, bottled_at)
        if isinstance(entry, GravityReading) and bottled_at is not None and entry.of == "batch":
            message = "a gravity of the batch after it was bottled."
            yield _problem(batch, entry.line, message, "Write `of: opened bottle` if it was one.")


def _deed_order(
    batch: Batch, entry: Deed, pitched: int, bottled_at: float | None
) -> Iterator[Problem]:
    if entry.verb == "pitched" and pitched == 2:
        message = "pitched a second time; days are counted from the first."
        yield _problem(batch, entry.line, message, "Write `did: repitched` for more yeast.")
    if entry.verb in ("opened bottle", "chilled bottle", "disposed") and bottled_at is None:
        message = f"{entry.verb} before anything was bottled."
        yield _problem(batch, entry.line, message, "Check the dates; is the bottling logged?")


def _two_gravities(batch: Batch) -> Iterator[Problem]:
    """Two gravities of one thing, by one instrument, at one time."""
    times = placed_times(batch.log)
    seen: dict[tuple[object, ...], GravityReading] = {}
    for entry, at in zip(batch.log, times, strict=True):
        if not isinstance(entry, GravityReading):
            continue
        when: object = at if at is not None else entry.day
        key = (when, entry.of, entry.instrument, entry.sample_c)
        other = seen.setdefault(key, entry)
        if abs(other.sg - entry.sg) > _SAME_READING:
            message = f"this gravity differs from the one in line {other.line} at the same time."
            yield _problem(batch, entry.line, message, "Check both, or give each its hour.")


def _volumes(batch: Batch) -> Iterator[Problem]:
    for entry in batch.log:
        if not isinstance(entry, Bottling):
            continue
        count = entry.bottles.count or batch.bottles.count
        size_ml = entry.bottles.size_ml or batch.bottles.size_ml
        if count and size_ml and entry.volume_l:
            filled = count * size_ml / 1000
            if not 1 - _VOLUME_GAP <= filled / entry.volume_l <= 1 + _VOLUME_GAP:
                message = (
                    f"{count} bottles of {size_ml:.0f} ml hold {filled:.1f} l, "
                    f"but {entry.volume_l:.1f} l are written as bottled."
                )
                yield _problem(batch, entry.line, message, "Check number, size and volume.")
        if batch.wort.volume_l and entry.volume_l and entry.volume_l > 1.25 * batch.wort.volume_l:
            message = f"{entry.volume_l:.1f} l bottled from a batch of {batch.wort.volume_l:.1f} l."
            yield _problem(batch, entry.line, message, "Check both volumes and their units.")


def _gravities_expected(batch: Batch) -> Iterator[Problem]:
    og, fg = batch.wort.expected_og, batch.wort.expected_fg
    if og is not None and fg is not None and fg > og:
        message = f"the expected final gravity {fg:.3f} is above the starting gravity {og:.3f}."
        yield _problem(batch, batch.line("wort.expected_fg"), message, "Were they exchanged?")
