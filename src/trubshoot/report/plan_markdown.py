"""The brew plan as Markdown: the same words as on a terminal, for printing or keeping."""

from __future__ import annotations

import re

from trubshoot.learning.plan import BrewPlan
from trubshoot.report import plan_words, wording
from trubshoot.safety import HazardBlock
from trubshoot.units import UnitSystem

_MARKS = re.compile(r"([\\`*_\[\]<>#|])")


def plan_markdown(plan: BrewPlan, units: UnitSystem, *, card_only: bool) -> str:
    """Return the plan, or its card alone; hazards stand before everything else."""
    lines = [line for block in plan.hazards for line in _hazard(block)]
    if not card_only:
        lines += [f"# {escaped(plan.batch)}: before brew day", ""]
        for number, fault in enumerate(plan.faults, 1):
            share, words = plan_words.fault_text(fault)
            lines.append(f"{number}. **{escaped(fault.label)}** ({words}, {share})")
            for name, item in (("Cheapest change", fault.cheapest), ("Most help", fault.best)):
                if item is not None:
                    turned = f"{wording.percent(item.before)} -> {wording.percent(item.after)}"
                    text = escaped(plan_words.proposal_text(item, plan, units))
                    lines.append(f"   - {name}: {text}. {turned}, {plan_words.cost_text(item)}.")
        lines.append("")
    card = plan_words.card(plan, units)
    lines += [f"## {escaped(card.title)}"]
    heading = ""
    for name, text in card.lines:
        if name != heading:
            lines += ["", f"**{name}**", ""]
        heading = name
        lines.append(f"- [ ] {escaped(text)}")
    lines += ["", f"**{plan_words.CARE}**", ""]
    lines += [f"- {escaped(text)}" for text in card.cautions]
    if card.unknown:
        lines += ["", f"Not known: {escaped('; '.join(card.unknown))}."]
    return "\n".join(lines) + "\n"


def _hazard(block: HazardBlock) -> list[str]:
    steps = [f"{number}. {escaped(step.do)}" for number, step in enumerate(block.avoid, 1)]
    return [
        f"**{block.level.name}: {escaped(block.hazard)}**",
        "",
        f"What can happen: {escaped(block.consequence)}",
        "",
        *steps,
        *(["", escaped(block.gate_why)] if block.gate_why else []),
        *(["", f"If hurt: {escaped(block.if_hurt)}"] if block.if_hurt else []),
        "",
    ]


def escaped(text: str) -> str:
    """Return text in which nothing is read as a mark of Markdown."""
    return _MARKS.sub(r"\\\1", text)
