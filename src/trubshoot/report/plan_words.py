"""Words and numbers of a brew plan, shared by its reports."""

from __future__ import annotations

import re
from dataclasses import dataclass

from trubshoot.knowledge_base.schema import ChecklistItem
from trubshoot.learning.brew_card import CardNumbers
from trubshoot.learning.plan import BrewPlan, PlannedFault, Proposal
from trubshoot.report import wording
from trubshoot.sentences import in_units, prose
from trubshoot.units import (
    GRAMS_PER_POUND,
    UnitSystem,
    format_gravity,
    format_mass,
    format_temp,
    format_volume,
)

HEADINGS = {
    "clean": "Before",
    "water": "Water",
    "heat": "Heat",
    "chill": "Chill",
    "pitch": "Yeast",
    "ferment": "Ferment",
    "bottle": "Bottle",
}
CARE = "Take care"
# what is asked for when a number is not known
WANTED = {
    "volume": "volume of the wort (wort.volume)",
    "og": "starting gravity on the kit sheet (wort.expected_og)",
    "end": "final gravity on the kit sheet (wort.expected_fg)",
    "yeast_class": "kind of yeast (yeast.class): the temperatures are those of a kit sachet",
    "yeast_amount": "form of the yeast, volume and gravity: how much yeast is enough",
    "bottled_volume": "volume that goes into bottles (plan.volume): the sugar for it",
}
_MONEY = {
    "nothing": "costs nothing",
    "little": "costs little",
    "some": "costs some money",
    "much": "costs much",
}
_PLACEHOLDER = re.compile(r"\{([a-z_]+)\}")
_PACKS_AT_ONCE = 0.1


@dataclass(frozen=True)
class Card:
    """The card in words: lines under headings, cautions, and what is not known."""

    title: str
    lines: tuple[tuple[str, str], ...]  # (heading, line)
    cautions: tuple[str, ...]
    unknown: tuple[str, ...]


def card(plan: BrewPlan, units: UnitSystem) -> Card:
    """Return the card with its numbers filled in."""
    numbers = card_texts(plan.card.numbers, units)
    lines = []
    for item in plan.card.steps:
        text = in_units(filled(item, numbers), units)
        if text is not None:
            lines.append((HEADINGS[item.tag], text))
    cautions = [in_units(filled(item, numbers), units) for item in plan.card.cautions]
    return Card(
        f"Brew-day card: {plan.batch}, {wording.date_text(plan.brew_day)}",
        tuple(lines),
        tuple(text for text in cautions if text is not None),
        unknown(plan),
    )


def filled(item: ChecklistItem, numbers: dict[str, str | None]) -> str | None:
    """Return a line with its numbers; None when one of them is not known."""
    named = _PLACEHOLDER.findall(item.do)
    if any(numbers[name] is None for name in named):
        return None
    return prose(item.do.format_map(numbers))


def card_texts(numbers: CardNumbers, units: UnitSystem) -> dict[str, str | None]:
    """Return what the card fills in; None for what is not known and leaves its line out."""
    volume, boiled = numbers.volume_l, numbers.boiled_l
    top_up = volume - boiled if volume and boiled and boiled < volume else None
    end = numbers.end_points
    return {
        "volume": _volume(volume, units),
        "boiled": _volume(boiled, units) if top_up else None,
        "top_up": _volume(top_up, units),
        "sulphite": None if numbers.sulphite_g is None else f"{numbers.sulphite_g:.1f} g",
        "pitch_range": _range(numbers.pitch_c, units),
        "ferment_range": _range(numbers.ferment_c, units),
        "yeast_amount": yeast_text(numbers) or "as much yeast as its pack says,",
        "yeast_have": None
        if numbers.yeast_share is None
        else f"{100 * numbers.yeast_share:.0f} % of the living cells that the norm asks for",
        "og": "not known"
        if numbers.og_points is None
        else format_gravity(1 + numbers.og_points / 1000),
        "end": "not known"
        if end is None
        else f"{wording.points_text(end)}, give or take {numbers.end_sigma or 0:.0f} points",
        "first_check": f"{wording.date_text(numbers.first_check)} (day"
        f" {numbers.days_to_first_check:.0f})",
        "earliest_bottling": f"{wording.date_text(numbers.earliest_bottling)} (day"
        f" {numbers.days_to_bottling:.0f})",
        "target": None if numbers.target_vols is None else f"{numbers.target_vols:.1f}",
        "bottled_volume": _volume(numbers.bottled_l, units),
        "sugar_amount": _sugar(numbers, units),
        "weight": "more than one person lifts well"
        if numbers.weight_kg is None
        else f"over {_weight(numbers.weight_kg, units)}",
        "empty_share": None if numbers.empty_percent is None else f"{numbers.empty_percent:.0f} %",
    }


def unknown(plan: BrewPlan) -> tuple[str, ...]:
    """Return what the plan does not say and the card would need."""
    numbers = plan.card.numbers
    lacking = {
        "volume": numbers.volume_l is None,
        "og": numbers.og_points is None,
        "end": numbers.end_points is None,
        "yeast_class": not numbers.yeast_known,
        "yeast_amount": numbers.yeast_g is None,
        "bottled_volume": numbers.sugar_g is None,
    }
    return tuple(WANTED[name] for name, missing in lacking.items() if missing)


def yeast_text(numbers: CardNumbers) -> str | None:
    """Return the yeast that the norm asks for, dry or liquid."""
    if numbers.yeast_g is None or numbers.yeast_packs is None:
        return None
    packs = max(round(numbers.yeast_packs + 0.5 - _PACKS_AT_ONCE), 1)
    liquid = "1 liquid pack" if packs == 1 else f"{packs} liquid packs or a starter"
    return f"{numbers.yeast_g:.0f} g of dry yeast (or {liquid})"


def proposal_text(item: Proposal, plan: BrewPlan, units: UnitSystem) -> str:
    """Return what a change asks one to do."""
    numbers = plan.card.numbers
    sugar = _sugar(numbers, units)
    label = item.label.format_map(
        {
            "pitch_at": format_temp(numbers.pitch_aim_c, units),
            "ferment_at": format_temp(numbers.ferment_aim_c, units),
            "yeast_amount": yeast_text(numbers) or "as much yeast as the norm asks for",
            "sugar_amount": f": {sugar}" if sugar else "",
        }
    )
    return in_units(prose(label), units)


def cost_text(item: Proposal) -> str:
    """Return what a change costs in money and minutes."""
    minutes = "no time" if item.minutes == 0 else wording.minutes_text(item.minutes)
    return f"{_MONEY[item.money]}, {minutes}"


def fault_text(fault: PlannedFault) -> tuple[str, str]:
    """Return the chance of a fault in numbers and in words."""
    return wording.percent(fault.chance), wording.likelihood(fault.chance)


def _volume(volume_l: float | None, units: UnitSystem) -> str | None:
    return None if volume_l is None else format_volume(volume_l, units)


def _range(window: tuple[float, float], units: UnitSystem) -> str:
    low, high = (format_temp(temp_c, units) for temp_c in window)
    return f"{low.split(' ')[0]} to {high}"


def _sugar(numbers: CardNumbers, units: UnitSystem) -> str | None:
    if numbers.sugar_g is None:
        return None
    grams = f"{numbers.sugar_g:.0f} g"
    amount = f"{format_mass(numbers.sugar_g, units)} ({grams})" if units == "us" else grams
    capped = ", all that these bottles allow" if numbers.sugar_capped else ""
    return f"{amount} of {numbers.sugar_kind[:1].lower()}{numbers.sugar_kind[1:]}{capped}"


def _weight(kilograms: float, units: UnitSystem) -> str:
    return (
        f"{1000 * kilograms / GRAMS_PER_POUND:.0f} lb" if units == "us" else f"{kilograms:.0f} kg"
    )
