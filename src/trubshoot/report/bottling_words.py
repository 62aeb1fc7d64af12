"""Words and numbers of the two bottling commands, shared by their reports."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from trubshoot.diagnosis.bottling_report import BottlingReport, WayToGo
from trubshoot.evidence.model import PressureAt
from trubshoot.knowledge_base.schema import ChecklistItem
from trubshoot.report import wording
from trubshoot.safety import Reason
from trubshoot.sentences import in_units, prose
from trubshoot.units import (
    UnitSystem,
    format_mass,
    format_pressure,
    format_temp,
    format_volume,
)

# How a kind of reason is headed, in the order in which they are read.
KINDS = {
    "stop": "Do not bottle this",
    "write": "Write down",
    "measure": "Measure",
    "change": "Change",
    "wait": "Wait",
}
BANDS = {
    "carried": "within the rating",
    "strained": "between rating and danger limit",
    "over": "at or above the danger limit",
    "failing": "where such bottles break",
}
PLACES = {"reference": "room", "storage": "as stored", "hottest": "hottest day"}
_SAME_TEMP_C = 1.0
_MOST_LINES = 2  # of what to measure; the rest stands in the list of reasons
NEVER_LOGGED = "No log shows how worn each bottle is, nor how evenly the sugar is mixed."
MODEL_TOP_BAR = 15.0  # beyond it the model is only compared with "far above"


def verdict_line(report: BottlingReport, where: str = "below") -> str:
    """Return the one line that answers whether it may be bottled.

    where: where the reasons and limits stand, "below" or "in the report".
    """
    verdict = report.verdict
    if verdict is None:
        return "This batch is bottled; `trubshoot bottles` speaks of filled bottles."
    if verdict.go:
        return f"{verdict.word}: this beer may be bottled today, within the limits {where}."
    count = len(verdict.reasons)
    why = "one reason" if count == 1 else f"{count} reasons"
    return f"{verdict.word}: do not bottle yet; {why}, listed {where}."


def way_lines(report: BottlingReport, units: UnitSystem) -> list[str]:
    """Return what would turn HOLD into GO, the most helpful thing first."""
    way = report.way
    if way is None:
        return []
    stops = [reason for reason in way.left if reason.kind == "stop"]
    if stops:
        return [f"No reading and no waiting ends this. {reason.mend}" for reason in stops]
    open_ = [reason for reason in way.left if reason.kind in ("measure", "wait")]
    open_.sort(key=lambda reason: (reason.kind == "wait", reason.minutes))  # least trouble first
    lines = [f"{reason.label}. {reason.mend}" for reason in open_]
    if len(lines) > _MOST_LINES:
        more = len(lines) - _MOST_LINES
        lines = [*lines[:_MOST_LINES], f"And {more} more to measure, listed below."]
    lines += _change_lines(report, way, units)
    if way.days is not None and way.on is not None and way.points is not None:
        lines.append(_reading_line(way, way.days, way.on, way.points, units) + _ended(report, way))
    written = [reason for reason in way.left if reason.kind == "write"]
    if written:
        minutes = max(sum(reason.minutes for reason in written), 1)
        listed = "; ".join(_lower(reason.label) for reason in written)
        unit = "minute" if round(minutes) == 1 else "minutes"
        lines.append(f"To write down, about {minutes:.0f} {unit}: {listed}.")
    elif len(lines) == 1 and not way.left:
        lines[0] += " Nothing else is missing."
    return lines


def _ended(report: BottlingReport, way: WayToGo) -> str:
    """Return what the readings end, where they do not end all that is to measure or wait for."""
    if report.verdict is None or not any(item.kind in ("measure", "wait") for item in way.left):
        return ""
    left = {item.id for item in way.left}
    ended = [_lower(item.label) for item in report.verdict.reasons if item.id not in left]
    return f" They end only this: {'; '.join(ended)}." if ended else ""


def _change_lines(report: BottlingReport, way: WayToGo, units: UnitSystem) -> list[str]:
    """Return what to change; for too much sugar the dose that these bottles do carry."""
    changes = [reason for reason in way.left if reason.kind == "change"]
    table = report.sugar
    if report.evidence.outlook is not None and changes and table is not None:
        if any(reason.kind in ("measure", "wait") for reason in way.left):
            return []  # no dose can be named before it is known what may still ferment
        dose = next((row for row in table.rows if row.kind == report.sugar_kind), None)
        if dose is not None and dose.batch_g and table.volume_l is not None:
            amount = f"{_grams(dose.batch_g, units)} of {report.sugar_words}"
            volume = format_volume(table.volume_l, units)
            return [f"Take less sugar, {amount} in {volume}, or stronger bottles."]
    return [f"{reason.label}. {reason.mend}" for reason in changes]


def _grams(grams: float, units: UnitSystem) -> str:
    return f"{grams:.0f} g ({format_mass(grams, units)})" if units == "us" else f"{grams:.0f} g"


def _reading_line(way: WayToGo, days: int, on: datetime, points: float, units: UnitSystem) -> str:
    how = f"degassed, sample at {format_temp(way.sample_c, units)}, by hydrometer"
    gravity = wording.points_text(points)
    when = "today" if days == 0 else f"on {wording.date_text(on)} or later ({_days(days)} from now)"
    if way.readings == 1:
        return f"The same reading, {gravity}, {when}: {how}."
    return f"{_count(way.readings)} more equal readings, {gravity}, the last {when}: {how}."


def _days(days: int) -> str:
    return "1 day" if days == 1 else f"{days} days"


def _count(number: int) -> str:
    return {2: "Two", 3: "Three"}.get(number, str(number))


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]


def grouped(reasons: Sequence[Reason]) -> list[tuple[str, list[Reason]]]:
    """Return the reasons by kind, in the order of KINDS."""
    groups = [
        (heading, [reason for reason in reasons if reason.kind == kind])
        for kind, heading in KINDS.items()
    ]
    return [(heading, found) for heading, found in groups if found]


def filled_in(item: ChecklistItem, report: BottlingReport, units: UnitSystem) -> str:
    """Return a line of a list with the numbers of the batch in their places."""
    return in_units(prose(item.do.format_map(_numbers(report, units))), units)


def _numbers(report: BottlingReport, units: UnitSystem) -> dict[str, str]:
    evidence, look = report.evidence, report.evidence.outlook
    basis = evidence.basis
    numbers = {
        "bottles": "bottles made for beer",
        "rating": "not known",
        "sugar": "no more than planned",
        "volume": "the volume planned",
        "storage_below": format_temp(report.storage_cap_c, units),
        "headspace": "3 to 5 %",
        "gravity_at_bottling": "the latest reading",
        "gravity_low": "Three points below that",
        "bottle_size": "the size planned",
    }
    if basis is not None:
        numbers["bottles"] = _lower(basis.bottle_label)
        numbers["rating"] = format_pressure(basis.rating_bar, units)
        if basis.volume_l is not None:
            numbers["volume"] = format_volume(basis.volume_l, units)
        if basis.headspace_share is not None:
            numbers["headspace"] = f"{100 * basis.headspace_share:.0f} %"
        if basis.size_ml is not None:
            numbers["bottle_size"] = format_volume(basis.size_ml / 1000, units)
        if basis.gravity_points is not None:
            numbers["gravity_at_bottling"] = wording.points_text(basis.gravity_points)
            low = basis.gravity_points - report.opened_fall_points
            numbers["gravity_low"] = wording.points_text(low)
    if look is not None:
        numbers["sugar"] = sugar_text(report, units)
    return numbers


def sugar_text(report: BottlingReport, units: UnitSystem) -> str:
    """Return the sugar as planned, in the whole batch or for one bottle."""
    look = report.evidence.outlook
    if look is None:
        return "not known"
    basis = look.basis
    if look.sugar_g_per_l == 0:
        return "none"
    if report.evidence.facts.get("dosing") == "per_bottle" and basis.size_ml:
        grams = look.sugar_g_per_l * basis.size_ml / 1000
        size = format_volume(basis.size_ml / 1000, units)
        return f"{grams:.1f} g of {report.sugar_words} in each bottle of {size}"
    if look.sugar_g is None or basis.volume_l is None:
        return f"{look.sugar_g_per_l:.1f} g of {report.sugar_words} in each litre"
    mass = format_mass(look.sugar_g, units)
    also = f" ({look.sugar_g:.0f} g)" if units == "us" else ""
    return f"{mass}{also} of {report.sugar_words} in {format_volume(basis.volume_l, units)}"


def pressure_text(bar: float, units: UnitSystem) -> str:
    """Return a gauge pressure; beyond the range of the model only that it is far above."""
    if bar > MODEL_TOP_BAR:
        return f"over {format_pressure(MODEL_TOP_BAR, units)}"
    return format_pressure(bar, units)


def pressure_lines(points: Sequence[PressureAt], units: UnitSystem) -> list[tuple[str, ...]]:
    """Return rows of (place, temperature, middle, upper, how the bottles bear the upper)."""
    return [
        (
            PLACES[point.place],
            format_temp(point.temp_c, units),
            pressure_text(point.middle_bar, units),
            pressure_text(point.upper_bar, units),
            BANDS[point.upper_band],
        )
        for point in points
        if point.place == "hottest"
        or all(
            abs(point.temp_c - other.temp_c) >= _SAME_TEMP_C
            for other in points
            if other.place == "hottest"
        )
    ]


def fit_lines(report: BottlingReport) -> list[str]:
    """Return what the fitted curve says of the end, or why there is none."""
    fit = report.fit.fit
    if fit is None:
        return [f"No curve was fitted: {report.fit.why_not}."]
    end = report.evidence.expected_end
    if end is not None and 1000 * (fit.fg.median - 1) > end.points + end.sigma_points:
        return [
            f"A curve through the readings levels off at {fit.fg.median:.3f}. A stalled beer does"
            " that too: it is no sign of the end."
        ]
    return [
        f"Curve through {report.fit.readings} readings: end {fit.fg.median:.3f}, 90 % band "
        f"{fit.fg.low:.3f} to {fit.fg.high:.3f}; still to fall "
        f"{fit.points_left.median:.1f} points (up to {fit.points_left.high:.1f}). It knows of no "
        "stall and no infection."
    ]


def table(rows: Sequence[Sequence[str]], right: Sequence[int] = ()) -> list[str]:
    """Return rows of cells as lines with even columns; columns named in `right` end evenly."""
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [
            cell.rjust(width) if column in right else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append("  ".join(cells).rstrip())
    return lines
