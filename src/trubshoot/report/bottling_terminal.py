"""The answer of `trubshoot bottling` on a terminal: hazards, verdict, way, reasons, numbers."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from trubshoot.diagnosis.bottling_report import BottlingReport
from trubshoot.evidence.model import BottleOutlook
from trubshoot.report import bottling_words as words
from trubshoot.report import wording
from trubshoot.report.terminal import Page, print_hazards
from trubshoot.units import (
    ML_PER_US_FLUID_OUNCE,
    UnitSystem,
    format_mass,
    format_pressure,
    format_temp,
    format_volume,
)

_SHOWN_READINGS = 8


def print_bottling(
    console: Console, report: BottlingReport, units: UnitSystem, *, why: bool
) -> None:
    """Write whether the batch may be bottled.

    Args:
        console: where to write.
        report: what to write.
        units: units to show.
        why: also show the sources of the lists and what the engine said.
    """
    page = Page(console)
    print_hazards(page, report.hazards)
    page.line(Text(words.verdict_line(report), style="bold"))
    page.line(f"{report.batch}, asked {wording.date_text(report.asked_at)}.")
    _limits(page, report, units)
    _way(page, report, units)
    _reasons(page, report)
    _readings(page, report)
    _gas(page, report, units)
    _sugar(page, report, units)
    _checklist(page, report, units)
    print_assumed(page, report, units)
    if why:
        print_why(page, report)


def print_is_bottled(console: Console, report: BottlingReport) -> None:
    """Write the hazards of a batch that is bottled already, and which command speaks of it."""
    page = Page(console)
    print_hazards(page, report.hazards)
    page.line(Text(words.verdict_line(report), style="bold"))


def _limits(page: Page, report: BottlingReport, units: UnitSystem) -> None:
    if not report.limits:
        return
    page.head("Only within these limits")
    for number, item in enumerate(report.limits, 1):
        page.item(f"{number}.", words.filled_in(item, report, units))


def _way(page: Page, report: BottlingReport, units: UnitSystem) -> None:
    if report.way is None:
        return
    page.head("What would turn HOLD into GO")
    for line in words.way_lines(report, units):
        page.item("-", line)


def _reasons(page: Page, report: BottlingReport) -> None:
    verdict = report.verdict
    if verdict is None:
        return
    if verdict.go:
        page.head("Why it may go ahead")
        for sentence in verdict.granted_because:
            page.item("-", sentence)
        return
    page.head("Why not yet")
    for heading, reasons in words.grouped(verdict.reasons):
        page.line(f"{heading}:", 1)
        for reason in reasons:
            page.item("-", f"{reason.label}. {' '.join(reason.because)}", 3)
            page.line(reason.mend, 5)
            if reason.why_stricter:
                page.line(f"Stricter than the usual rule: {reason.why_stricter}", 5)


def _readings(page: Page, report: BottlingReport) -> None:
    evidence = report.evidence
    facts = evidence.facts
    page.head("Is it finished?")
    if evidence.readings:
        rows = [("day", "gravity", "give or take", "corrected for")]
        for reading in evidence.readings[-_SHOWN_READINGS:]:
            day = "?" if reading.day is None else f"{max(reading.day, 0.0):.1f}"
            corrected = "; ".join(reading.corrections) or "-"
            rows.append(
                (
                    day,
                    wording.points_text(reading.points),
                    f"{reading.sigma_points:.1f} points",
                    corrected,
                )
            )
        for line in words.table(rows, right=(0,)):
            page.line(line, 2)
    else:
        page.item("-", "No gravity reading is logged.")
    bound = facts.get("slope_bound_points_per_day")
    if isinstance(bound, float):
        page.item(
            "-",
            f"The latest readings leave room for a fall of at most {7 * bound:.1f} points a week"
            " (one-sided 95 %).",
        )
    end = evidence.expected_end
    if end is not None:
        page.item(
            "-",
            f"Expected end {wording.points_text(end.points)}, give or take "
            f"{end.sigma_points:.1f} points ({end.how}).",
        )
    for line in words.fit_lines(report):
        page.item("-", line)


def _gas(page: Page, report: BottlingReport, units: UnitSystem) -> None:
    page.head("Gas and pressure, with this plan")
    look = report.evidence.outlook
    if look is None:
        page.line("Not known: sugar, volume, bottles or the end of the fermentation are missing.")
        return
    print_outlook(page, report, look, units)


def print_outlook(
    page: Page, report: BottlingReport, look: BottleOutlook, units: UnitSystem
) -> None:
    """Write gas and pressure against what the bottles are trusted with."""
    basis = look.basis
    left = max(look.expected_vols - basis.residual_vols - look.sugar_vols, 0.0)
    page.item("-", f"Sugar: {words.sugar_text(report, units)}.")
    page.item(
        "-",
        f"CO2: {basis.residual_vols:.2f} volumes in the beer + {look.sugar_vols:.2f} from the sugar"
        f" + {left:.2f} from what may still ferment = {look.expected_vols:.2f} expected;"
        f" up to {look.upper_vols:.2f} (95 %). Aimed at {basis.target_vols:.1f}.",
    )
    rating = format_pressure(basis.rating_bar, units)
    page.item(
        "-",
        f"Bottles: {basis.bottle_label}. Rating {rating}, for CO2 alone at"
        f" {format_temp(20, units)}; this beer: {words.pressure_text(look.alone_20c_bar, units)}.",
    )
    page.item(
        "-",
        f"Danger limit {format_pressure(basis.danger_bar, units)}, air in the neck counted:",
    )
    rows = [("", "", "middle", "upper 95 %", "the upper value is")]
    rows += [tuple(row) for row in words.pressure_lines(look.pressures, units)]  # type: ignore[misc]
    for line in words.table(rows, right=(1, 2, 3)):
        page.line(line, 4)


def _sugar(page: Page, report: BottlingReport, units: UnitSystem) -> None:
    shown = report.sugar
    if shown is None or not shown.rows:
        return
    page.head(f"Sugar for {shown.target_vols:.1f} volumes")
    if not any(row.grams_per_l > 0 for row in shown.rows):
        page.line(
            f"No dose is shown: as far as is known, {shown.present_vols:.2f} volumes may come"
            " without any sugar, or these bottles carry none."
        )
        return
    if shown.capped:
        page.line("These bottles do not carry the target: the doses stop at what they carry.")
    sizes = [_size(dose.size_ml, units) for dose in shown.rows[0].bottles]
    grams = [("one bottle of", "whole batch", *sizes)]
    spoons = [("level teaspoons", *sizes)]
    for row in shown.rows:
        batch = "-" if row.batch_g is None else f"{row.batch_g:.0f} g"
        if units == "us" and row.batch_g is not None:
            batch = f"{row.batch_g:.0f} g, {format_mass(row.batch_g, units)}"
        name = _short(row.label)
        grams.append((name, batch, *(f"{dose.grams:.1f} g" for dose in row.bottles)))
        spoons.append(
            (
                name,
                *(
                    "-" if dose.teaspoons is None else _spoons(dose.teaspoons)
                    for dose in row.bottles
                ),
            )
        )
    for rows in (grams, spoons):
        for line in words.table(rows, right=tuple(range(1, len(rows[0])))):
            page.line(line, 2)
        page.line()
    volume = (
        "The volume is not written down, so there is no dose for the whole batch"
        if shown.volume_l is None
        else f"Whole batch: {format_volume(shown.volume_l, units)}"
    )
    page.line(
        f"{volume}; the {shown.present_vols:.2f} volumes that are there without sugar are counted."
        f" Doses are rounded down. A level teaspoon is off by {100 * shown.spoon_error_share:.0f} %"
        " or more."
    )


def _size(size_ml: float, units: UnitSystem) -> str:
    if units == "us":
        return f"{size_ml / ML_PER_US_FLUID_OUNCE:.0f} oz"
    return f"{size_ml:.0f} ml"


def _short(label: str) -> str:
    return label.split(" (", maxsplit=1)[0].removesuffix(" used for priming")


def _spoons(number: float) -> str:
    whole, rest = int(number), number - int(number)
    part = {0.25: "1/4", 0.5: "1/2", 0.75: "3/4"}.get(rest, "")
    return f"{whole or ''} {part}".strip() or "under 1/4"


def _checklist(page: Page, report: BottlingReport, units: UnitSystem) -> None:
    way = report.way
    near = way is None or (way.days is not None and all(item.kind == "write" for item in way.left))
    if not report.checklist or report.verdict is None or not near:
        return  # nobody packs for a day that is not in sight
    page.head("Checklist for bottling day")
    if not report.verdict.go:
        page.line("For the day on which the answer is GO:")
    for item in report.checklist:
        page.item("[ ]", words.filled_in(item, report, units))


def print_assumed(page: Page, report: BottlingReport, units: UnitSystem) -> None:
    """Write what was missing, what was assumed instead, and what went wrong."""
    evidence = report.evidence
    page.head("Missing or assumed")
    for gap in evidence.missing:
        page.item("-", wording.gap_text(gap))
    for note in evidence.notes:
        page.item("-", note)
    basis = evidence.basis
    if basis is not None:
        page.item("-", f"Hottest day of the bottles: {format_temp(basis.hottest_c, units)}.")
    if report.course is not None:
        for note in report.course.assumed:
            page.item("-", f"{note}.")
    page.item("-", words.NEVER_LOGGED)
    for fault in report.faults:
        page.item("!", f"Fault in trubshoot, please report: {fault}. The safer answer is shown.")


def print_why(page: Page, report: BottlingReport) -> None:
    """Write the sources of the lists, and which engine and knowledge answered."""
    page.head("Where the lists come from")
    for item in (*report.limits, *report.checklist, *report.opened):
        page.item("-", f"{item.id}: {', '.join(item.sources)} ({item.basis})")
    page.line(f"Rules run by {report.engine}; knowledge {report.knowledge_version}.")
