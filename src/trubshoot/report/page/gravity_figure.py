"""Gravity over time: readings with their spread, the curve through them, the expected end."""

from __future__ import annotations

from markupsafe import Markup

from trubshoot.diagnosis.overview import Overview
from trubshoot.evidence.model import Reading
from trubshoot.report import wording
from trubshoot.report.bottling_words import fit_lines
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
    thinned,
)
from trubshoot.sentences import with_us_units
from trubshoot.units import UnitSystem

_HEIGHT = 236.0
_TITLE = "Gravity since pitching"
_DENSE = 30  # readings from which marks would cover each other


def gravity_figure(overview: Overview, units: UnitSystem) -> Figure | None:
    """Return the gravity of a batch over time; None when no reading has a day.

    Args:
        overview: the batch.
        units: units to show; gravities are the same in both.
    """
    evidence = overview.diagnosis.evidence
    readings = [reading for reading in evidence.readings if reading.day is not None]
    if not readings:
        return None
    fit = overview.bottling.fit.fit
    curve = () if fit is None else fit.curve
    end = evidence.expected_end
    values = [point for r in readings for point in (r.points - r.sigma_points, r.points)]
    values += [1000 * (value - 1) for _, q in curve for value in (q.low, q.high)]
    if evidence.og_points is not None:
        values.append(evidence.og_points)
    if end is not None:
        values.append(end.points - end.sigma_points)
    low, high = min(values) - 1.5, max(values) + 3
    plot = days_plot(overview, _HEIGHT, (low, high))
    ends = (plot.x.low, plot.x.high)
    up = [(value, wording.points_text(value)) for value in svg.ticks(low, high, 6)]
    pieces = [days_frame(plot, up)]
    if curve:
        over = [(day, 1000 * (q.high - 1)) for day, q in curve]
        under = [(day, 1000 * (q.low - 1)) for day, q in reversed(curve)]
        pieces.append(svg.element("path", class_="band", d=plot.path(over + under, close=True)))
    if end is not None:
        spread = (end.points - end.sigma_points, end.points + end.sigma_points)
        pieces.append(plot.box(ends, spread, "window"))
        pieces.append(plot.line([(day, end.points) for day in ends], "edge"))
    if curve:
        pieces.append(plot.line([(day, 1000 * (q.median - 1)) for day, q in curve], "blue"))
    shown = thinned(readings)
    pieces += [_reading(plot, reading, dense=len(shown) > _DENSE) for reading in shown]
    pieces += _marks(plot, overview, high)
    words = _words(overview, readings)
    return figure("gravity", _TITLE, _HEIGHT, pieces, words, _tables(overview, units))


def _reading(plot: svg.Plot, reading: Reading, *, dense: bool) -> Markup:
    """Return a dot with a bar as long as the reading may be off either way; small among many."""
    x = plot.x.at(reading.day or 0.0)
    top = plot.y.at(reading.points + reading.sigma_points)
    bottom = plot.y.at(reading.points - reading.sigma_points)
    ends = (
        "" if dense else "".join(f"M{svg.number(x - 3)} {svg.number(y)}h6" for y in (top, bottom))
    )
    return svg.joined(
        [
            svg.element(
                "path",
                class_="line ink" if not dense else "line thin ink",
                d=f"M{svg.number(x)} {svg.number(top)}V{svg.number(bottom)}{ends}",
            ),
            svg.element(
                "circle", class_="dot", cx=x, cy=plot.y.at(reading.points), r=1.9 if dense else 3.2
            ),
        ]
    )


def _marks(plot: svg.Plot, overview: Overview, high: float) -> list[Markup]:
    """Return the words in the drawing: the expected end, and today or the bottling."""
    evidence = overview.diagnosis.evidence
    marks = []
    close = overview.temperature.end_day
    if close is not None and 0 < close <= plot.x.high:
        word = "bottled" if evidence.stage == "bottled" else "asked"
        x = svg.number(plot.x.at(close))
        path = f"M{x} {svg.number(plot.y.end)}V{svg.number(plot.y.start)}"
        marks.append(svg.element("path", class_="now", d=path))
        marks.append(plot.label(word, close, high, "end", lift=-11))
    end = evidence.expected_end
    if end is not None:
        over = plot.y.at(end.points + end.sigma_points) - 4
        under = plot.y.at(end.points - end.sigma_points) + 13
        right, left = plot.x.end - 6, plot.x.start + 6
        places = [(right, over, "end"), (left, over, "start")]
        if under < plot.y.start:
            places += [(right, under, "end"), (left, under, "start")]
        label = f"expected end {wording.points_text(end.points)}"
        marks.append(svg.free_place(label, places, _taken(plot, overview)))
    return marks


def _taken(plot: svg.Plot, overview: Overview) -> list[tuple[float, float]]:
    """Return where readings and curve are, so that words leave them uncovered."""
    readings = overview.diagnosis.evidence.readings
    points = [(reading.day, reading.points) for reading in readings if reading.day is not None]
    fit = overview.bottling.fit.fit
    if fit is not None:
        points += [(day, 1000 * (q.median - 1)) for day, q in fit.curve]
    return [(plot.x.at(day), plot.y.at(value)) for day, value in points]


def _words(overview: Overview, readings: list[Reading]) -> str:
    evidence = overview.diagnosis.evidence
    first, latest = readings[0], readings[-1]
    parts = []
    if evidence.og_points is not None:
        parts.append(f"Started at {wording.points_text(evidence.og_points)} ({evidence.og_how}).")
    if len(readings) == 1:
        parts = [f"One reading: {wording.points_text(first.points)} {wording.day_text(first.day)}."]
    else:
        parts += [
            f"{len(readings)} readings, from {wording.points_text(first.points)} "
            f"{wording.day_text(first.day)} to {wording.points_text(latest.points)} "
            f"{wording.day_text(latest.day)}."
        ]
    end = evidence.expected_end
    if end is not None:
        parts.append(
            f"Expected end {wording.points_text(end.points)}, give or take "
            f"{end.sigma_points:.1f} points ({end.how})."
        )
    parts += fit_lines(overview.bottling)
    return " ".join(parts)


def _tables(overview: Overview, units: UnitSystem) -> list[Table]:
    readings = overview.diagnosis.evidence.readings
    shown = thinned(readings)
    tables = [
        Table(
            caption("Readings", len(shown), len(readings)),
            ("day", "date", "gravity", "give or take (points)", "corrected for"),
            tuple(
                (
                    day_of(reading.day),
                    date_of(overview, reading.day),
                    wording.points_text(reading.points),
                    f"{reading.sigma_points:.1f}",
                    with_us_units("; ".join(reading.corrections), units) or "-",
                )
                for reading in shown
            ),
            (0, 2, 3),
        )
    ]
    fit = overview.bottling.fit.fit
    if fit is not None and fit.curve:
        tables.append(
            Table(
                "Fitted curve with its 90 % band",
                ("day", "lower", "middle", "upper"),
                tuple(
                    (f"{day:.1f}", f"{q.low:.3f}", f"{q.median:.3f}", f"{q.high:.3f}")
                    for day, q in fit.curve
                ),
                (0, 1, 2, 3),
            )
        )
    return tables
