"""The answer of `trubshoot bottles` on a terminal, and the table of bottle classes."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from trubshoot.counting import counted
from trubshoot.diagnosis.bottle_classes import ClassRow
from trubshoot.diagnosis.bottling_report import BottlingReport
from trubshoot.knowledge_base.schema import ChecklistItem
from trubshoot.report import bottling_parts as parts
from trubshoot.report import bottling_words as words
from trubshoot.report import wording
from trubshoot.report.bottling_terminal import print_assumed, print_outlook, print_why
from trubshoot.report.terminal import Page, print_hazards
from trubshoot.units import UnitSystem, format_pressure, format_temp

NOT_BOTTLED = (
    "The log does not say that this beer was bottled. If it was, log it: `trubshoot log FILE "
    'bottled sugar="110 g table sugar" volume=18l`. If not, ask `trubshoot bottling FILE` first.'
)


def print_bottles(
    console: Console, report: BottlingReport, units: UnitSystem, *, why: bool
) -> None:
    """Write what is known of filled bottles; handling stands in the hazard blocks only."""
    page = Page(console)
    print_hazards(page, report.hazards)
    page.line(Text(f"{report.batch}: filled bottles", style="bold"))
    days = report.evidence.facts.get("days_since_bottling")
    since = f", {counted(days, 'day')} after bottling" if isinstance(days, float) else ""
    page.line(f"Asked {wording.date_text(report.asked_at)}{since}.")
    if report.reasons:
        page.head("Why the steps above stand in this order")
        for item in report.reasons:
            page.item("-", item.do)
    look = report.evidence.outlook
    if report.verdict is not None:
        page.line(NOT_BOTTLED)
    page.head("Gas and pressure, as bottled")
    if look is None:
        page.line(parts.NO_ESTIMATE)
    else:
        print_outlook(page, report, look, units)
        if parts.seen_signs(report):
            page.line(parts.seen_signs(report))
    _course(page, report, units)
    _opened(page, report, units)
    print_assumed(page, report, units)
    if why:
        print_why(page, report)


def _course(page: Page, report: BottlingReport, units: UnitSystem) -> None:
    rows = parts.course_rows(report, units)
    if not rows:
        return
    page.head("Pressure over time")
    for line in words.table(rows, right=tuple(range(len(rows[0])))):
        page.line(line, 2)
    page.line(parts.course_note(report, units))
    for line in parts.course_lines(report, units):
        page.item("-", line)


def _opened(page: Page, report: BottlingReport, units: UnitSystem) -> None:
    if not report.opened:
        return
    page.head("What an opened bottle would tell")
    for item in report.opened:
        page.item("-", words.filled_in(item, report, units))


def print_classes(
    console: Console,
    rows: Sequence[ClassRow],
    notes: Sequence[ChecklistItem],
    units: UnitSystem,
) -> None:
    """Write the classes of bottles: how to tell them, and what they are trusted with."""
    page = Page(console)
    page.line(Text("Bottles: how to tell them, and what they are trusted with", style="bold"))
    page.line(
        "Rating: for CO2 alone at 20 °C. Danger limit: for the upper value on the hottest day, air"
        " in the neck counted; the volumes reach it at that temperature. Judgement on published"
        " strengths, wear and duration, low on purpose: a worn bottle holds less than a new one."
    )
    for row in rows:
        page.line()
        page.line(Text(row.label, style="bold"))
        page.line(row.how_to_tell, 2)
        rating = format_pressure(row.rating_bar, units) if row.rated else "none: not for bottling"
        page.line(
            f"Rating {rating}; danger limit {format_pressure(row.danger_bar, units)}"
            + (
                f", {format_pressure(row.danger_hot_bar, units)} when hot."
                if row.weaker_hot
                else "."
            ),
            2,
        )
        reached = ", ".join(
            f"{vols:.1f} at {format_temp(temp, units)}" for temp, vols in row.limit_vols
        )
        page.line(f"Volumes of CO2 at the danger limit: {reached}.", 2)
    page.line()
    for item in notes:
        page.item("-", item.do)
