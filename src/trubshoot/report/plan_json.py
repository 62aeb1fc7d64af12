"""The brew plan as JSON, as docs/reference/result_json.md says."""

from __future__ import annotations

from typing import Any

from trubshoot.learning.plan import BrewPlan, Proposal
from trubshoot.report import plan_words
from trubshoot.report.result_json import head_json, made_by_json, missing_json
from trubshoot.units import UnitSystem


def plan_json(plan: BrewPlan, units: UnitSystem) -> dict[str, Any]:
    """Return the plan as plain data; hazards are the first key after the format."""
    numbers = plan.card.numbers
    words = plan_words.card(plan, units)
    return {
        **head_json(plan),
        "brew_day": plan.brew_day.date().isoformat(),
        "pitched": plan.pitched,
        "likelier": [
            {"label": label, "because": list(because)} for label, because in plan.likelier
        ],
        "faults": [
            {
                "id": fault.finding,
                "label": fault.label,
                "chance": round(fault.chance, 4),
                "made_by": [
                    {"cause": cause, "label": label, "step": step, "share": round(share, 4)}
                    for cause, label, step, share in fault.made_by
                ],
                "cheapest": _proposal(fault.cheapest, plan, units),
                "best": _proposal(fault.best, plan, units),
            }
            for fault in plan.faults
        ],
        "card": {
            "lines": [{"heading": name, "do": text} for name, text in words.lines],
            "cautions": list(words.cautions),
            "numbers": {
                "volume_l": numbers.volume_l,
                "pitch_c": list(numbers.pitch_c),
                "ferment_c": list(numbers.ferment_c),
                "dry_yeast_g": _round(numbers.yeast_g),
                "liquid_packs": _round(numbers.yeast_packs),
                "yeast_share": _round(numbers.yeast_share),
                "metabisulphite_g": _round(numbers.sulphite_g),
                "og_points": _round(numbers.og_points),
                "end_points": _round(numbers.end_points),
                "end_sigma_points": _round(numbers.end_sigma),
                "first_check": numbers.first_check.date().isoformat(),
                "earliest_bottling": numbers.earliest_bottling.date().isoformat(),
                "target_vols": numbers.target_vols,
                "bottled_l": numbers.bottled_l,
                "sugar": numbers.sugar_kind,
                "sugar_g": numbers.sugar_g,
            },
        },
        "not_known": list(words.unknown),
        "missing": missing_json(plan.missing),
        "trubshoot": made_by_json(plan, plan.engine_faults),
    }


def _proposal(item: Proposal | None, plan: BrewPlan, units: UnitSystem) -> dict[str, Any] | None:
    if item is None:
        return None
    return {
        "id": item.id,
        "do": plan_words.proposal_text(item, plan, units),
        "minutes": item.minutes,
        "money": item.money,
        "before": round(item.before, 4),
        "after": round(item.after, 4),
        "sources": list(item.sources),
    }


def _round(value: float | None) -> float | None:
    return None if value is None else round(value, 2)
