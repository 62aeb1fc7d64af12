"""What the two bottling answers say, as lines and rows of words: every face shows the same ones."""

from __future__ import annotations

from datetime import timedelta

from trubshoot.diagnosis.bottling_report import BottlingReport
from trubshoot.evidence.model import BottleOutlook
from trubshoot.evidence.sugar_table import SugarTable
from trubshoot.report import bottling_words as words
from trubshoot.report import wording
from trubshoot.safety import Level
from trubshoot.units import (
    ML_PER_US_FLUID_OUNCE,
    UnitSystem,
    format_mass,
    format_pressure,
    format_temp,
    format_volume,
)

SHOWN_READINGS = 8
_LEAST_DOSE_G = 0.5  # in the largest bottle; less cannot be measured out at home
SEEN = (
    "What was seen of the bottles outweighs these figures: they rest on the log alone and know of"
    " no foaming, leaking or broken bottle."
)
_SIGNS = {"bottle_burst", "cracked_or_hissing_bottle", "gushing_or_leaking"}
NO_OUTLOOK = "Not known: sugar, volume, bottles or the end of the fermentation are missing."
NO_ESTIMATE = (
    "Not known, and no estimate is shown: sugar, volume or the gravity at bottling are"
    " missing. Until they are known these bottles count as under too much pressure."
)
CAPPED = "These bottles do not carry the target: the doses stop at what they carry."
Rows = list[tuple[str, ...]]


def reading_rows(report: BottlingReport) -> Rows:
    """Return a head and the latest readings, corrected; nothing without a reading."""
    readings = report.evidence.readings[-SHOWN_READINGS:]
    rows: Rows = [("day", "gravity", "give or take", "corrected for")] if readings else []
    for reading in readings:
        rows.append(
            (
                "?" if reading.day is None else f"{max(reading.day, 0.0):.1f}",
                wording.points_text(reading.points),
                f"{reading.sigma_points:.1f} points",
                "; ".join(reading.corrections) or "-",
            )
        )
    return rows


def finished_lines(report: BottlingReport) -> list[str]:
    """Return what the readings say of the end of the fermentation."""
    facts, end = report.evidence.facts, report.evidence.expected_end
    lines = []
    bound = facts.get("slope_bound_points_per_day")
    if isinstance(bound, float):
        lines.append(
            f"The latest readings leave room for a fall of at most {7 * bound:.1f} points a week"
            " (one-sided 95 %)."
        )
    if end is not None:
        lines.append(
            f"Expected end {wording.points_text(end.points)}, give or take "
            f"{end.sigma_points:.1f} points ({end.how})."
        )
    return lines + words.fit_lines(report)


def gas_lines(report: BottlingReport, look: BottleOutlook, units: UnitSystem) -> list[str]:
    """Return gas and pressure against what the bottles are trusted with; a table follows."""
    basis = look.basis
    left = max(look.expected_vols - basis.residual_vols - look.sugar_vols, 0.0)
    rating = format_pressure(basis.rating_bar, units)
    return [
        f"Sugar: {words.sugar_text(report, units)}.",
        f"CO2: {basis.residual_vols:.2f} volumes in the beer + {look.sugar_vols:.2f} from the sugar"
        f" + {left:.2f} from what may still ferment = {look.expected_vols:.2f} expected;"
        f" up to {look.upper_vols:.2f} (95 %). Aimed at {basis.target_vols:.1f}.",
        f"Bottles: {basis.bottle_label}. Rating {rating}, for CO2 alone at"
        f" {format_temp(20, units)}; this beer: {words.pressure_text(look.alone_20c_bar, units)}.",
        f"Danger limit {format_pressure(basis.danger_bar, units)}, air in the neck counted:",
    ]


def pressure_rows(look: BottleOutlook, units: UnitSystem) -> Rows:
    """Return a head and the pressures at the places where the bottles stand."""
    head = ("", "", "middle", "upper 95 %", "the upper value is")
    return [head, *words.pressure_lines(look.pressures, units)]


def seen_signs(report: BottlingReport) -> str:
    """Return that what was seen outweighs the figures; "" when no bottle showed anything."""
    named = {name for block in report.hazards for name in (block.id, *block.covers)}
    return SEEN if named & _SIGNS else ""


def no_dose(table: SugarTable) -> str:
    """Return why no dose of sugar is shown; "" when one is."""
    if any(dose.grams >= _LEAST_DOSE_G for row in table.rows for dose in row.bottles):
        return ""
    return (
        f"No dose is shown: as far as is known, {table.present_vols:.2f} volumes may come"
        " without any sugar, or these bottles carry none or next to none."
    )


def sugar_rows(table: SugarTable, units: UnitSystem) -> tuple[Rows, Rows]:
    """Return the doses of each kind of sugar in grams and in level teaspoons, with heads."""
    sizes = [_size(dose.size_ml, units) for dose in table.rows[0].bottles]
    grams: Rows = [("one bottle of", "whole batch", *sizes)]
    spoons: Rows = [("level teaspoons", *sizes)]
    for row in table.rows:
        batch = "-" if row.batch_g is None else f"{row.batch_g:.0f} g"
        if units == "us" and row.batch_g is not None:
            batch = f"{row.batch_g:.0f} g, {format_mass(row.batch_g, units)}"
        name = row.label.split(" (", maxsplit=1)[0].removesuffix(" used for priming")
        grams.append((name, batch, *(f"{dose.grams:.1f} g" for dose in row.bottles)))
        teaspoons = [dose.teaspoons for dose in row.bottles]
        spoons.append((name, *("-" if one is None else _spoons(one) for one in teaspoons)))
    return grams, spoons


def sugar_note(table: SugarTable, units: UnitSystem) -> str:
    """Return what the doses rest on."""
    volume = (
        "The volume is not written down, so there is no dose for the whole batch"
        if table.volume_l is None
        else f"Whole batch: {format_volume(table.volume_l, units)}"
    )
    return (
        f"{volume}; the {table.present_vols:.2f} volumes that are there without sugar are counted."
        f" Doses are rounded down. A level teaspoon is off by {100 * table.spoon_error_share:.0f} %"
        " or more."
    )


def _size(size_ml: float, units: UnitSystem) -> str:
    if units == "us":
        return f"{size_ml / ML_PER_US_FLUID_OUNCE:.0f} oz"
    return f"{size_ml:.0f} ml"


def _spoons(number: float) -> str:
    whole, rest = int(number), number - int(number)
    part = {0.25: "1/4", 0.5: "1/2", 0.75: "3/4"}.get(rest, "")
    return f"{whole or ''} {part}".strip() or "under 1/4"


def checklist_lines(report: BottlingReport, units: UnitSystem) -> list[str]:
    """Return the checklist for bottling day; nothing for a day that is not in sight."""
    way = report.way
    near = way is None or (way.days is not None and all(item.kind == "write" for item in way.left))
    if report.verdict is None or not near:
        return []
    return [words.filled_in(item, report, units) for item in report.checklist]


def assumed_lines(report: BottlingReport, units: UnitSystem) -> list[str]:
    """Return what was missing, and what was assumed instead."""
    evidence = report.evidence
    lines = [wording.gap_text(gap) for gap in evidence.missing]
    lines += evidence.notes
    if evidence.basis is not None:
        lines.append(f"Hottest day of the bottles: {format_temp(evidence.basis.hottest_c, units)}.")
    if report.course is not None:
        lines += [f"{note}." for note in report.course.assumed]
    lines.append(words.NEVER_LOGGED)
    return lines


def course_rows(report: BottlingReport, units: UnitSystem) -> Rows:
    """Return a head and the pressure in the bottles over time; nothing without a course."""
    course = report.course
    if course is None:
        return []
    warned = report.level >= Level.WARNING
    middle = (
        "middle" if course.middle_c is None else f"middle {format_temp(course.middle_c, units)}"
    )
    head = ["days after bottling", middle, f"fast bound {format_temp(course.fast_c, units)}"]
    rows: Rows = [(*head, "if contaminated") if warned else tuple(head)]
    for row in course.rows:
        cells = [
            f"{row.days:.0f}" + (" (now)" if row.now else ""),
            "not known" if row.middle_bar is None else words.pressure_text(row.middle_bar, units),
            words.pressure_text(row.fast_bar, units),
        ]
        if warned:
            wild = row.contaminated_bar
            cells.append("-" if wild is None else words.pressure_text(wild, units))
        rows.append(tuple(cells))
    return rows


def course_note(report: BottlingReport, units: UnitSystem) -> str:
    """Return what the bound of the pressure over time takes, and the limit of the bottles."""
    limit = format_pressure(report.course.danger_bar, units) if report.course else "not known"
    return (
        "The fast bound takes the most gas, the quickest yeast and the hottest place that the log"
        f" leaves open. Danger limit of these bottles: {limit}."
    )


def course_lines(report: BottlingReport, units: UnitSystem) -> list[str]:
    """Return when the danger limit may be reached, and what wild yeast would do."""
    course = report.course
    if course is None:
        return []
    lines = [_reached(report, course.danger_after_days)]
    wild = _contaminated(report, course.contaminated_after_days, units)
    return [*lines, wild] if wild else lines


def _reached(report: BottlingReport, days: float | None) -> str:
    if days is None:
        return "Sugar and what was left to ferment do not take the bottles to the danger limit."
    return f"The danger limit may be reached {_when(report, days)}."


def _contaminated(report: BottlingReport, days: float | None, units: UnitSystem) -> str:
    course = report.course
    last = course.rows[-1].contaminated_bar if course is not None else None
    if last is None:
        return ""
    end = words.pressure_text(last, units)
    if report.level >= Level.WARNING:
        when = "not reached" if days is None else _when(report, days)
        return f"Wild or diastatic yeast would go on for months, to {end}; danger limit: {when}."
    limit = "" if days is None else ", past the danger limit"
    return (
        "Nothing in the log points to wild yeast. Had some got in, the pressure would creep up over"
        f" months to {end}{limit}."
    )


def _when(report: BottlingReport, days: float) -> str:
    since = report.evidence.facts.get("days_since_bottling")
    shown = "within a day of bottling" if days < 1 else f"from day {days:.0f} after bottling"
    if not isinstance(since, float) or days < 1:
        return shown
    on = report.asked_at + timedelta(days=days - since)
    tense = "was" if days < since else "is"
    return f"{shown} (that {tense} {wording.date_text(on)})"
