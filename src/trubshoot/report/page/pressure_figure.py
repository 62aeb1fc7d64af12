"""Pressure in the sealed bottles against temperature, with what their class is trusted with."""

from __future__ import annotations

from markupsafe import Markup

from trubshoot.diagnosis.overview import Overview
from trubshoot.evidence.model import PressureAt
from trubshoot.evidence.pressure_curve import PressureCurve
from trubshoot.report import bottling_words
from trubshoot.report.page import svg
from trubshoot.report.page.figure import Figure, Table, figure
from trubshoot.report.page.temperature_figure import shown_temp
from trubshoot.units import BAR_PER_PSI, UnitSystem, format_pressure, format_temp

_HEIGHT = 250.0
_TITLE = "Pressure in the bottles against temperature"


def shown_pressure(bar: float, units: UnitSystem) -> float:
    """Return a pressure as a number in the units shown."""
    return bar / BAR_PER_PSI if units == "us" else bar


def pressure_figure(overview: Overview, units: UnitSystem) -> Figure | None:
    """Return the pressure of the bottles filled or planned; None when it is not known.

    Args:
        overview: the batch.
        units: units to show.
    """
    curve = overview.pressure
    if curve is None:
        return None
    highest = max(curve.hottest.upper_bar, *(row.danger_bar for row in curve.rows)) * 1.15
    highest = min(highest, bottling_words.MODEL_TOP_BAR)
    low_c, high_c = curve.rows[0].temp_c, max(curve.rows[-1].temp_c, curve.hottest.temp_c)
    across = (shown_temp(low_c, units), shown_temp(high_c, units))
    top = shown_pressure(highest, units)
    plot = svg.Plot.of(_HEIGHT, across, (0.0, top))
    degree, unit = ("°F", "psi") if units == "us" else ("°C", "bar")
    pieces = [
        plot.frame(
            [(value, f"{value:.0f} {degree}") for value in svg.ticks(*across, 5)],
            [(value, f"{value:g} {unit}") for value in svg.ticks(0.0, top, 6)],
            "temperature of the bottles",
        )
    ]
    upper, middle = _lines(curve, units)
    over, under = svg.cut_off(upper, top), svg.cut_off(middle, top)
    cut = over and under and over[-1][1] >= top
    edge = [(under[-1][0], top)] if cut else []  # the band goes on along the edge of the figure
    if over and under:
        shape = plot.path([*over, *edge, *under[::-1]], close=True)
        pieces.append(svg.element("path", class_="band", d=shape))
    pieces += [plot.line(line, kind) for line, kind in ((under, "blue"), (over, "plum")) if line]
    pieces += [
        plot.line(_steps(curve, units), "red"),
        plot.line([(x, shown_pressure(curve.rating_bar, units)) for x in across], "edge"),
    ]
    pieces += _limit_words(plot, curve, units)
    taken = _taken(plot, curve, [*over, *under], units)
    pieces.append(_point(plot, curve.today, "today", taken, units))
    pieces.append(_point(plot, curve.hottest, "hottest day", taken, units))
    words = _words(overview, curve, units)
    tables = (_points_table(curve, units), _curve_table(curve, units))
    return figure("pressure", _TITLE, _HEIGHT, pieces, words, tables)


Line = list[tuple[float, float]]


def _lines(curve: PressureCurve, units: UnitSystem) -> tuple[Line, Line]:
    """Return the upper and the middle pressure over temperature, as shown."""
    temps = [shown_temp(row.temp_c, units) for row in curve.rows]
    upper = [shown_pressure(row.upper_bar, units) for row in curve.rows]
    middle = [shown_pressure(row.middle_bar, units) for row in curve.rows]
    return list(zip(temps, upper, strict=True)), list(zip(temps, middle, strict=True))


def _steps(curve: PressureCurve, units: UnitSystem) -> list[tuple[float, float]]:
    """Return the danger limit as a line with a step where hot bottles bear less."""
    points: list[tuple[float, float]] = []
    for row in curve.rows:
        x, y = shown_temp(row.temp_c, units), shown_pressure(row.danger_bar, units)
        if points and abs(points[-1][1] - y) > 1e-9:
            points.append((x, points[-1][1]))
        points.append((x, y))
    return points


def _limit_words(plot: svg.Plot, curve: PressureCurve, units: UnitSystem) -> list[Markup]:
    first = curve.rows[0]
    left = shown_temp(first.temp_c + 0.5, units)
    danger = shown_pressure(first.danger_bar, units)
    rating = shown_pressure(curve.rating_bar, units)
    return [
        plot.label("danger limit", left, danger, lift=5),
        plot.label("rating", left, rating, lift=5 if danger - rating > 0.12 * plot.y.high else -12),
    ]


def _taken(
    plot: svg.Plot, curve: PressureCurve, lines: Line, units: UnitSystem
) -> list[tuple[float, float]]:
    """Return where lines, limits and points are, so that words leave them uncovered."""
    taken = [(plot.x.at(x), plot.y.at(y)) for x, y in lines]
    for bar in (curve.rating_bar, curve.rows[0].danger_bar):
        y = plot.y.at(shown_pressure(bar, units))
        steps = range(int(plot.x.start), int(plot.x.end), 12)
        taken += [(float(x), y) for x in steps]
    for point in (curve.today, curve.hottest):
        x = plot.x.at(shown_temp(point.temp_c, units))
        low, high = (
            plot.y.at(shown_pressure(bar, units)) for bar in (point.middle_bar, point.upper_bar)
        )
        taken += [(x, high + share * (low - high) / 6) for share in range(7)]
    return taken


def _point(
    plot: svg.Plot,
    point: PressureAt,
    word: str,
    taken: list[tuple[float, float]],
    units: UnitSystem,
) -> Markup:
    """Return a bar from the middle to the upper value at one temperature, with its word."""
    x = plot.x.at(shown_temp(point.temp_c, units))
    middle = plot.y.at(shown_pressure(point.middle_bar, units))
    upper = plot.y.at(shown_pressure(point.upper_bar, units))
    bar = f"M{svg.number(x)} {svg.number(middle)}V{svg.number(upper)}"
    pieces = [svg.element("path", class_="line ink", d=bar)]
    off = shown_pressure(point.upper_bar, units) > plot.y.high
    head = f"M{svg.number(x)} {svg.number(upper - 4.5)}"
    shape = f"{head}l4.5 8h-9z" if off else f"{head}l4.5 4.5-4.5 4.5-4.5-4.5z"
    if shown_pressure(point.middle_bar, units) <= plot.y.high:
        pieces.append(svg.element("circle", class_="dot", cx=x, cy=middle, r=3.4))
    pieces.append(svg.element("path", class_="ring", d=shape))
    heights = [
        upper - 2,
        upper + 14,
        middle + 16,
        *((upper + (middle - upper) * part / 4 + 4) for part in (1, 2, 3)),
        middle + 28,
    ]
    places = [
        (x + side * 8, min(max(y, plot.y.end + 11), plot.y.start - 4), anchor)
        for y in heights
        for side, anchor in ((1, "start"), (-1, "end"))
    ]
    pieces.append(svg.free_place(f"{word}, off the figure" if off else word, places, taken))
    return svg.joined(pieces)


def _words(overview: Overview, curve: PressureCurve, units: UnitSystem) -> str:
    look = overview.diagnosis.evidence.outlook
    bottles = "" if look is None else f"{look.basis.bottle_label}. "
    where = "as stored" if curve.today_known else "as where they stand is not written down"
    planned = overview.diagnosis.evidence.stage != "bottled"
    return (
        f"{bottles}Gauge pressure {'with this plan' if planned else 'as bottled'}, once everything"
        " that may ferment has: middle (full line, dot) and upper 95 % (dashed line, diamond)."
        f" Today, at {format_temp(curve.today.temp_c, units)} {where}:"
        f" {_pair(curve.today, units)}. Hottest day to reckon with,"
        f" {format_temp(curve.hottest.temp_c, units)}: {_pair(curve.hottest, units)}; the danger"
        f" limit there is {format_pressure(curve.danger_hottest_bar, units)}, and the upper value"
        f" is {bottling_words.BANDS[curve.hottest.upper_band]}. The rating,"
        f" {format_pressure(curve.rating_bar, units)}, is for CO2 alone at"
        f" {format_temp(20, units)}."
    )


def _pair(point: PressureAt, units: UnitSystem) -> str:
    middle = bottling_words.pressure_text(point.middle_bar, units)
    return f"{middle}, up to {bottling_words.pressure_text(point.upper_bar, units)}"


def _points_table(curve: PressureCurve, units: UnitSystem) -> Table:
    places = [("today" if curve.today_known else "today (not logged)", curve.today)]
    places.append(("hottest day", curve.hottest))
    return Table(
        "Today and the hottest day",
        ("when", "temperature", "middle", "upper 95 %", "the upper value is"),
        tuple(
            (
                name,
                format_temp(point.temp_c, units),
                bottling_words.pressure_text(point.middle_bar, units),
                bottling_words.pressure_text(point.upper_bar, units),
                bottling_words.BANDS[point.upper_band],
            )
            for name, point in places
        ),
        (1, 2, 3),
    )


def _curve_table(curve: PressureCurve, units: UnitSystem) -> Table:
    return Table(
        "Pressure and danger limit by temperature",
        ("temperature", "middle", "upper 95 %", "danger limit"),
        tuple(
            (
                format_temp(row.temp_c, units),
                bottling_words.pressure_text(row.middle_bar, units),
                bottling_words.pressure_text(row.upper_bar, units),
                format_pressure(row.danger_bar, units),
            )
            for row in curve.rows
        ),
        (0, 1, 2, 3),
    )
