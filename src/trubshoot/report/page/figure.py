"""What a figure is: a drawing, the same in words, and the numbers behind it as tables."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import TypeVar

from markupsafe import Markup

from trubshoot.diagnosis.overview import Overview
from trubshoot.report import wording
from trubshoot.report.page import svg

MOST_SHOWN = 80  # readings in one figure and its table; a logger may have thousands
T = TypeVar("T")
_MARGIN = 1.02  # of the axis of days beyond the last of them


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


def figure(
    key: str,
    title: str,
    height: float,
    pieces: Iterable[Markup],
    words: str,
    tables: Iterable[Table],
) -> Figure:
    """Return a figure from what is drawn in it; its words describe the drawing too."""
    drawn = svg.drawing(key, title, words, height, svg.joined(pieces))
    return Figure(key, title, drawn, words, tuple(tables))


def days_plot(overview: Overview, height: float, up: tuple[float, float]) -> svg.Plot:
    """Return a plot over the days since pitching, with a range of values upwards."""
    return svg.Plot.of(height, (0.0, _MARGIN * last_day(overview)), up)


def days_frame(plot: svg.Plot, y_ticks: Sequence[tuple[float, str]]) -> Markup:
    """Return grid and axes of a plot over days: whole days across."""
    days = [day for day in svg.ticks(0.0, plot.x.high / _MARGIN, 6) if day == int(day)]
    return plot.frame([(day, f"{day:.0f}") for day in days], y_ticks, "days since pitching")


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


def thinned(items: Sequence[T], keep: Iterable[T] = (), most: int = MOST_SHOWN) -> list[T]:
    """Return about so many items, evenly spread, the first and the last among them.

    Args:
        items: all of them, in their order.
        keep: some that must not be left out.
        most: how many, those to keep aside.
    """
    if len(items) <= most:
        return list(items)
    last = len(items) - 1
    chosen = {round(number * last / (most - 1)) for number in range(most)}
    chosen |= {items.index(item) for item in keep}
    return [items[index] for index in sorted(chosen)]


def caption(title: str, shown: int, there: int) -> str:
    """Return the caption of a table, saying so when not everything is in it."""
    return title if shown == there else f"{title}: {shown} of {there}, evenly spread"
