"""The answer of `trubshoot plan` on a terminal: hazards, likely faults, the brew-day card."""

from __future__ import annotations

from rich.console import Console
from rich.text import Text

from trubshoot.learning.plan import BrewPlan, PlannedFault
from trubshoot.report import plan_words, wording
from trubshoot.report.terminal import Page, print_hazards
from trubshoot.report.whatif_terminal import AMONG, print_engine_faults
from trubshoot.units import UnitSystem

PITCHED = "The yeast is in already: `trubshoot next` and `trubshoot whatif` speak of such a batch."
_SHOWN_REASONS = 6


def print_plan(console: Console, plan: BrewPlan, units: UnitSystem, *, card_only: bool) -> None:
    """Write a plan.

    Args:
        console: where to write.
        plan: what to write.
        units: units to show.
        card_only: only the card, for one printed page.
    """
    page = Page(console)
    print_hazards(page, plan.hazards)
    if not card_only:
        page.line(Text(f"{plan.batch}: before brew day", style="bold"))
        page.line(f"Asked {wording.date_text(plan.asked_at)}.")
        if plan.pitched:
            page.line(PITCHED)
        _known(page, plan)
        page.head("The faults this process is most likely to make")
        for number, fault in enumerate(plan.faults, 1):
            _fault(page, plan, fault, number, units)
        page.line()
        page.line(AMONG)
        page.line()
    _card(page, plan, units)
    print_engine_faults(page, plan.engine_faults)


def _known(page: Page, plan: BrewPlan) -> None:
    if not plan.likelier:
        page.line(
            "Nothing in this plan raises a fault above that of a beginner's ordinary batch; much"
            " may only be unknown."
        )
        return
    page.head("What in this plan makes faults likelier")
    for label, because in plan.likelier[:_SHOWN_REASONS]:
        page.item("-", f"{label}. {' '.join(because)}")
    if len(plan.likelier) > _SHOWN_REASONS:
        page.item("-", f"{len(plan.likelier) - _SHOWN_REASONS} more with `--format json`.")


def _fault(page: Page, plan: BrewPlan, fault: PlannedFault, number: int, units: UnitSystem) -> None:
    share, words = plan_words.fault_text(fault)
    title = Text(fault.label, style="bold")
    title.append(f" ({words}, {share})", style="not bold")
    page.item(f"{number}.", title, 0)
    made = "; ".join(
        f"{label} ({step}, {wording.percent(share)})" for _, label, step, share in fault.made_by
    )
    page.labelled("Mostly by", made)
    if fault.cheapest is None:
        page.labelled("Cheapest change", "none of those that are known lowers it noticeably")
        return
    for name, item in (("Cheapest change", fault.cheapest), ("Most help", fault.best)):
        if item is not None:
            text = plan_words.proposal_text(item, plan, units)
            turned = f"{wording.percent(item.before)} -> {wording.percent(item.after)}"
            page.labelled(name, f"{text}. {turned}, {plan_words.cost_text(item)}.")


def _card(page: Page, plan: BrewPlan, units: UnitSystem) -> None:
    card = plan_words.card(plan, units)
    page.line(Text(card.title, style="bold"))
    heading = ""
    for name, text in card.lines:
        lead = name if name != heading else ""
        heading = name
        page.item(f"{lead:<8}[ ]", text, 0)
    page.line(Text(plan_words.CARE, style="bold"))
    for text in card.cautions:
        page.item("!", text, 0)
    if card.unknown:
        page.line(f"Not known: {'; '.join(card.unknown)}.")
