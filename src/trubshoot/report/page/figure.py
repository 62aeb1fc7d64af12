"""What a figure is: a drawing, the same in words, and the numbers behind it as tables."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from markupsafe import Markup

from trubshoot.diagnosis.overview import Overview
from trubshoot.report import wording


@dataclass(frozen=True)
class Table:
    """A table of words; the columns numbered in `right` hold numbers."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()


@dataclass(frozen=True)
class Figure:
    """A figure; `key` is its id within a page."""

    key: str
    title: str
    svg: Markup
    text: str
    tables: tuple[Table, ...]


def date_of(overview: Overview, day: float | None) -> str:
    """Return the date of a day since day 0; a dash when the log has no dates."""
    if day is None or overview.zero_at is None:
        return "-"
    return wording.date_text(overview.zero_at + timedelta(days=day))


def day_of(day: float | None) -> str:
    """Return a day since day 0 with one decimal, never below it."""
    return "?" if day is None else f"{max(day, 0.0):.1f}"


def last_day(overview: Overview) -> float:
    """Return the end of the axis of days that the figures of one batch share."""
    days = [reading.day for reading in overview.diagnosis.evidence.readings if reading.day]
    fit = overview.bottling.fit.fit
    if fit is not None and fit.curve:
        days.append(fit.curve[-1][0])
    course = overview.temperature
    days += [day for day, _ in (*course.beer, *course.room)]
    known = max(days, default=0.0)
    end = course.end_day
    if end is not None:  # a long wait after the last reading would squeeze all that is known
        known = max(known, min(end, 1.5 * known)) if known > 0 else end
    return max(known, 1.0)
