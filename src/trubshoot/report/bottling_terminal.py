"""The answer of `trubshoot bottling` on a terminal: hazards, verdict, way, reasons, numbers."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from trubshoot.diagnosis.bottling_report import BottlingReport
from trubshoot.evidence.model import BottleOutlook
from trubshoot.report import bottling_parts as parts
from trubshoot.report import bottling_words as words
from trubshoot.report import wording
from trubshoot.report.terminal import Page, print_hazards
from trubshoot.units import UnitSystem


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
    page.head("Is it finished?")
    rows = parts.reading_rows(report)
    for line in words.table(rows, right=(0,)) if rows else ():
        page.line(line, 2)
    if not rows:
        page.item("-", "No gravity reading is logged.")
    for line in parts.finished_lines(report):
        page.item("-", line)


def _gas(page: Page, report: BottlingReport, units: UnitSystem) -> None:
    page.head("Gas and pressure, with this plan")
    look = report.evidence.outlook
    if look is None:
        page.line(parts.NO_OUTLOOK)
        return
    print_outlook(page, report, look, units)


def print_outlook(
    page: Page, report: BottlingReport, look: BottleOutlook, units: UnitSystem
) -> None:
    """Write gas and pressure against what the bottles are trusted with."""
    for line in parts.gas_lines(report, look, units):
        page.item("-", line)
    for line in words.table(parts.pressure_rows(look, units), right=(1, 2, 3)):
        page.line(line, 4)


def _sugar(page: Page, report: BottlingReport, units: UnitSystem) -> None:
    shown = report.sugar
    if shown is None or not shown.rows:
        return
    page.head(f"Sugar for {shown.target_vols:.1f} volumes")
    if parts.no_dose(shown):
        page.line(parts.no_dose(shown))
        return
    if shown.capped:
        page.line(parts.CAPPED)
    for rows in parts.sugar_rows(shown, units):
        for line in words.table(rows, right=tuple(range(1, len(rows[0])))):
            page.line(line, 2)
        page.line()
    page.line(parts.sugar_note(shown, units))


def _checklist(page: Page, report: BottlingReport, units: UnitSystem) -> None:
    lines = parts.checklist_lines(report, units)
    if not lines or report.verdict is None:
        return
    page.head("Checklist for bottling day")
    if not report.verdict.go:
        page.line("For the day on which the answer is GO:")
    for line in lines:
        page.item("[ ]", line)


def print_assumed(page: Page, report: BottlingReport, units: UnitSystem) -> None:
    """Write what was missing, what was assumed instead, and what went wrong."""
    page.head("Missing or assumed")
    for line in parts.assumed_lines(report, units):
        page.item("-", line)
    for fault in report.faults:
        page.item("!", f"Fault in trubshoot, please report: {fault}. The safer answer is shown.")


def print_why(page: Page, report: BottlingReport) -> None:
    """Write the sources of the lists, and which engine and knowledge answered."""
    page.head("Where the lists come from")
    for item in (*report.limits, *report.checklist, *report.opened):
        page.item("-", f"{item.id}: {', '.join(item.sources)} ({item.basis})")
    page.line(f"Rules run by {report.engine}; knowledge {report.knowledge_version}.")
