"""A strip of temperatures over the same days as the gravity, with the window of the yeast."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from markupsafe import Markup

from trubshoot.diagnosis.overview import Overview
from trubshoot.report.page import svg
from trubshoot.report.page.figure import (
    Figure,
    Table,
    caption,
    date_of,
    day_of,
    days_frame,
    days_plot,
    figure,
    last_day,
    thinned,
)
from trubshoot.units import UnitSystem, c_to_f, format_temp

_HEIGHT = 168.0
_TITLE = "Temperature, and the window of the yeast"


def shown_temp(temp_c: float, units: UnitSystem) -> float:
    """Return a temperature as a number in the units shown."""
    return c_to_f(temp_c) if units == "us" else temp_c


def temperature_figure(overview: Overview, units: UnitSystem) -> Figure | None:
    """Return the temperatures while it fermented; None when none is logged.

    Args:
        overview: the batch.
        units: units to show.
    """
    course = overview.temperature
    if not course.beer and not course.room and course.pitch_c is None:
        return None
    temps = [temp for _, temp in (*course.beer, *course.room)]
    temps += [course.low_c, course.high_c]
    if course.pitch_c is not None:
        temps.append(course.pitch_c)
    low, high = (shown_temp(value, units) for value in (min(temps) - 2, max(temps) + 2))
    plot = days_plot(overview, _HEIGHT, (low, high))
    sign = "°F" if units == "us" else "°C"
    pieces = [
        plot.box(
            (plot.x.low, plot.x.high),
            (shown_temp(course.low_c, units), shown_temp(course.high_c, units)),
            "window",
        ),
        days_frame(plot, [(value, f"{value:.0f} {sign}") for value in svg.ticks(low, high, 6)]),
    ]
    close = course.end_day
    until = last_day(overview) if close is None else min(max(close, 0.0), plot.x.high)
    for series, kind in ((course.room, "edge"), (course.beer, "blue")):
        if series:
            pieces.append(plot.line(_held(_shown(series), until, units), kind))
    for day, temp in _shown(course.room):
        x, y = plot.x.at(day), plot.y.at(shown_temp(temp, units))
        pieces.append(svg.element("rect", class_="ring", x=x - 3, y=y - 3, width=6.0, height=6.0))
    for day, temp in _shown(course.beer):
        x, y = plot.x.at(day), plot.y.at(shown_temp(temp, units))
        pieces.append(svg.element("circle", class_="dot", cx=x, cy=y, r=3.0))
    if course.pitch_c is not None:
        x, y = plot.x.at(0.0), plot.y.at(shown_temp(course.pitch_c, units))
        pieces.append(svg.element("circle", class_="ring", cx=x, cy=y, r=3.6))
    pieces.append(_window_words(plot, overview, until, units))
    words = _words(overview, units)
    return figure("temperature", _TITLE, _HEIGHT, pieces, words, [_table(overview, units)])


def _shown(series: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Return what of a long series is shown; the coldest and the warmest never drop out."""
    ends = [min(series, key=lambda it: it[1]), max(series, key=lambda it: it[1])] if series else []
    return thinned(series, ends)


def _held(
    series: Sequence[tuple[float, float]], until: float, units: UnitSystem
) -> list[tuple[float, float]]:
    """Return a line in steps: each temperature is taken to hold until the next one."""
    points: list[tuple[float, float]] = []
    for day, temp in series:
        value = shown_temp(temp, units)
        if points:
            points.append((day, points[-1][1]))
        points.append((max(day, 0.0), value))
    if until > points[-1][0]:
        points.append((until, points[-1][1]))
    return points


def _window_words(plot: svg.Plot, overview: Overview, until: float, units: UnitSystem) -> Markup:
    """Return the name of the shaded window, inside it or at its edge, where no line runs."""
    course = overview.temperature
    taken = []
    for series in (course.beer, course.room):
        held = _held(_shown(series), until, units) if series else []
        for (day, temp), (later, _) in pairwise(held):
            steps = range(12)
            taken += [
                (plot.x.at(day + (later - day) * step / 11), plot.y.at(temp)) for step in steps
            ]
    low, high = (plot.y.at(shown_temp(temp, units)) for temp in (course.low_c, course.high_c))
    heights = [low - 5, high + 13, (low + high) / 2 + 4, high - 4]
    places = [(plot.x.end - 6, y, "end") for y in heights]
    places += [(plot.x.start + 8, y, "start") for y in heights]
    return svg.free_place("the yeast's window", places, taken, "soft")


def _words(overview: Overview, units: UnitSystem) -> str:
    course = overview.temperature
    parts = []
    for series, what, mark in (
        (course.beer, "beer", "dots and a full line"),
        (course.room, "room", "squares and a dotted line"),
    ):
        if series:
            temps = [temp for _, temp in series]
            span = format_temp(min(temps), units)
            if max(temps) - min(temps) >= 0.5:
                span = f"{span} to {format_temp(max(temps), units)}"
            parts.append(f"Temperature of the {what}: {span} ({mark}).")
    if course.pitch_c is not None:
        parts.append(f"Pitched at {format_temp(course.pitch_c, units)} (ring).")
    assumed = "" if course.yeast_known else ", assumed, as the yeast is not named"
    parts.append(
        f"Window of the yeast ({course.yeast}{assumed}): {format_temp(course.low_c, units)} to"
        f" {format_temp(course.high_c, units)} (shaded)."
    )
    return " ".join(parts)


def _table(overview: Overview, units: UnitSystem) -> Table:
    course = overview.temperature
    beer, room = _shown(course.beer), _shown(course.room)
    rows = [(day, "beer", temp) for day, temp in beer]
    rows += [(day, "room", temp) for day, temp in room]
    there = len(rows) + len(course.beer) - len(beer) + len(course.room) - len(room)
    if course.pitch_c is not None:
        rows.append((0.0, "beer at pitching", course.pitch_c))

    def place(temp: float) -> str:
        if temp > course.high_c:
            return "above"
        return "below" if temp < course.low_c else "within"

    return Table(
        caption("Temperatures logged", len(beer) + len(room), there),
        ("day", "date", "of", "temperature", "the yeast's window"),
        tuple(
            (day_of(day), date_of(overview, day), what, format_temp(temp, units), place(temp))
            for day, what, temp in sorted(rows, key=lambda row: row[0])
        ),
        (0, 3),
    )
