"""The answer of `trubshoot bottles` on a terminal, and the table of bottle classes."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

from rich.console import Console
from rich.text import Text

from trubshoot.diagnosis.bottle_classes import ClassRow
from trubshoot.diagnosis.bottling_report import BottlingReport
from trubshoot.knowledge_base.schema import ChecklistItem
from trubshoot.report import bottling_words as words
from trubshoot.report import wording
from trubshoot.report.bottling_terminal import print_assumed, print_outlook, print_why
from trubshoot.report.terminal import Page, print_hazards
from trubshoot.safety import Level
from trubshoot.units import UnitSystem, format_pressure, format_temp


def print_bottles(
    console: Console, report: BottlingReport, units: UnitSystem, *, why: bool
) -> None:
    """Write what is known of filled bottles; handling stands in the hazard blocks only."""
    page = Page(console)
    print_hazards(page, report.hazards)
    page.line(Text(f"{report.batch}: filled bottles", style="bold"))
    days = report.evidence.facts.get("days_since_bottling")
    since = f", {days:.0f} days after bottling" if isinstance(days, float) else ""
    page.line(f"Asked {wording.date_text(report.asked_at)}{since}.")
    look = report.evidence.outlook
    page.head("Gas and pressure, as bottled")
    if look is None:
        page.line(
            "Not known, and no estimate is shown: sugar, volume or the gravity at bottling are"
            " missing. Until they are known these bottles count as under too much pressure."
        )
    else:
        print_outlook(page, report, look, units)
    _course(page, report, units)
    _opened(page, report, units)
    print_assumed(page, report, units)
    if why:
        print_why(page, report)


def _course(page: Page, report: BottlingReport, units: UnitSystem) -> None:
    course = report.course
    if course is None:
        return
    page.head("Pressure over time")
    warned = report.level >= Level.WARNING
    hot = format_temp(course.fast_c, units)
    middle = (
        "middle" if course.middle_c is None else f"middle {format_temp(course.middle_c, units)}"
    )
    head = ["days after bottling", middle, f"fast bound {hot}"]
    if warned:
        head.append("if contaminated")
    rows = [tuple(head)]
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
    for line in words.table(rows, right=tuple(range(len(head)))):
        page.line(line, 2)
    page.line(
        "The fast bound takes the most gas, the quickest yeast and the hottest place that the log"
        f" leaves open. Danger limit of these bottles: {format_pressure(course.danger_bar, units)}."
    )
    page.item("-", _reached(report, course.danger_after_days))
    page.item("-", _contaminated(report, course.contaminated_after_days, units))


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


def _opened(page: Page, report: BottlingReport, units: UnitSystem) -> None:
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
