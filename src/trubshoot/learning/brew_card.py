"""The numbers of a brew day: windows, amounts and dates, worked out from a plan."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from trubshoot.batch import Batch
from trubshoot.errors import OutOfRangeError
from trubshoot.evidence import Evidence
from trubshoot.evidence.sugar_table import sugar_table
from trubshoot.evidence.words import resolve
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.schema import ChecklistItem
from trubshoot.physics import fermentation, gravity
from trubshoot.physics.gas import PointsLeft


@dataclass(frozen=True)
class CardNumbers:
    """What the card fills in; None is not known. Temperatures [C], volumes [l], masses [g]."""

    volume_l: float | None
    boiled_l: float | None
    sulphite_g: float | None
    pitch_c: tuple[float, float]
    pitch_aim_c: float
    ferment_c: tuple[float, float]
    ferment_aim_c: float
    yeast_known: bool  # the class of the yeast is named
    yeast_g: float | None  # dry yeast wanted
    yeast_packs: float | None  # liquid packs wanted, without a starter
    yeast_share: float | None  # what the plan holds of what is wanted
    og_points: float | None
    end_points: float | None
    end_sigma: float | None
    first_check: datetime
    earliest_bottling: datetime
    days_to_first_check: float
    days_to_bottling: float
    target_vols: float | None
    bottled_l: float | None
    sugar_kind: str
    sugar_g: float | None
    sugar_capped: bool  # held down to what the bottles allow
    weight_kg: float | None
    empty_percent: float | None


@dataclass(frozen=True)
class BrewCard:
    """The numbers, and the lines that concern this plan."""

    numbers: CardNumbers
    steps: tuple[ChecklistItem, ...]
    cautions: tuple[ChecklistItem, ...]


def card_numbers(
    batch: Batch, evidence: Evidence, knowledge: KnowledgeBase, brew_day: datetime
) -> CardNumbers:
    """Return the numbers of a brew day.

    Args:
        batch: the plan.
        evidence: what is worked out from it.
        knowledge: yeast classes, sugars, constants.
        brew_day: when the yeast is to go in.
    """
    row_id = resolve(batch.yeast.strain_class, knowledge.yeast_classes)
    row = knowledge.yeast_classes[row_id or "bread_or_unknown_kit_sachet"]
    widest = row.temp_low_c + knowledge.constant("pitch_window_least_k")
    warmest = min(row.temp_high_c, max(knowledge.constant("pitch_warmest_c"), widest))
    volume, og = batch.wort.volume_l, _og(batch, evidence)
    wanted_g, wanted_packs = _yeast(batch, evidence, knowledge, row.pitch_norm, og)
    middle = (row.temp_low_c + row.temp_high_c) / 2
    points = knowledge.constant("og_unknown_points") if og is None else og
    days = _days(row.pace, middle, points, (row.days_low + row.days_high) / 2)
    age = knowledge.constant(f"gate_age_{row.pace}_days")
    first = float(math.ceil(days))
    bottle = math.ceil(max(age, first + knowledge.constant("gate_min_hours") / 24))
    kind, sugar_g, capped, bottled, target = _sugar(batch, evidence, knowledge)
    ratio = evidence.facts.get("pitch_rate_ratio")
    empty = evidence.facts.get("vessel_headspace_percent")
    end = evidence.expected_end if og is not None or batch.wort.expected_fg else None
    tap = evidence.facts.get("water") in ("tap", "treated_tap")
    dose = knowledge.constant("metabisulphite_mg_per_l") / 1000
    return CardNumbers(
        volume_l=volume,
        boiled_l=batch.wort.boiled_l,
        sulphite_g=dose * volume if tap and volume else None,
        pitch_c=(row.temp_low_c, warmest),
        pitch_aim_c=_between(row.temp_low_c, warmest, knowledge.constant("pitch_aim_share")),
        ferment_c=(row.temp_low_c, row.temp_high_c),
        ferment_aim_c=_between(
            row.temp_low_c, row.temp_high_c, knowledge.constant("ferment_aim_share")
        ),
        yeast_known=row_id is not None,
        yeast_g=wanted_g,
        yeast_packs=wanted_packs,
        yeast_share=ratio if isinstance(ratio, float) else None,
        og_points=og,
        end_points=None if end is None else end.points,
        end_sigma=None if end is None else end.sigma_points,
        first_check=brew_day + timedelta(days=first),
        earliest_bottling=brew_day + timedelta(days=bottle),
        days_to_first_check=first,
        days_to_bottling=float(bottle),
        target_vols=target,
        bottled_l=bottled,
        sugar_kind=kind,
        sugar_g=sugar_g,
        sugar_capped=capped,
        weight_kg=volume * knowledge.constant("wort_kg_per_l") if volume else None,
        empty_percent=empty if isinstance(empty, float) else None,
    )


def _between(low_c: float, high_c: float, share: float) -> float:
    return round(low_c + (high_c - low_c) * share, 1)


def _og(batch: Batch, evidence: Evidence) -> float | None:
    if evidence.og_points is not None:
        return evidence.og_points
    return 1000 * (batch.wort.expected_og - 1) if batch.wort.expected_og else None


def _yeast(
    batch: Batch, evidence: Evidence, knowledge: KnowledgeBase, norm: float, og: float | None
) -> tuple[float | None, float | None]:
    """Return the grams of dry yeast and the liquid packs that the norm of the class asks for."""
    if og is None or not batch.wort.volume_l:
        return None, None
    try:
        plato = gravity.plato_from_sg(1 + og / 1000)
        cells = 1e9 * fermentation.cells_needed_billion(batch.wort.volume_l, plato, norm)
    except OutOfRangeError:
        return None, None
    alive = evidence.facts.get("yeast_viable_share")
    least = knowledge.constant("plan_least_viable_share")
    share = max(alive, least) if isinstance(alive, float) else 1.0
    grams = cells / knowledge.constant("dry_yeast_cells_per_g") / share
    return grams, cells / knowledge.constant("liquid_pack_cells") / share


def _days(pace: str, temp_c: float, points: float, usual: float) -> float:
    table = fermentation.DAYS_OF[pace]
    try:
        return fermentation.days_to_end(table, temp_c, 1 + points / 1000).central
    except OutOfRangeError:
        return usual


def _sugar(
    batch: Batch, evidence: Evidence, knowledge: KnowledgeBase
) -> tuple[str, float | None, bool, float | None, float | None]:
    """Return kind, grams, whether the bottles cap it, litres bottled and the CO2 aimed at.

    A card speaks of beer that has ended: what may still ferment is for the bottling check.
    """
    basis = evidence.basis
    plan = batch.plan
    sugars = plan.bottling.sugars if plan is not None else None
    words = sugars[0].kind if sugars else None
    ordinary = [name for name, row in knowledge.sugars.items() if row.ordinary]
    kind = resolve(words, knowledge.sugars) or ordinary[0]
    label = knowledge.sugars[kind].label
    if basis is None:
        return label, None, False, None, None
    ended = replace(basis, left=PointsLeft(0.0, 0.5), left_most=PointsLeft(0.0, 0.5))
    volume = basis.volume_l or batch.wort.volume_l
    ended = replace(ended, volume_l=volume)
    table = sugar_table(ended, knowledge, weighed=True, only=kind)
    row = next((item for item in table.rows if item.kind == kind), None) if table else None
    grams = row.batch_g if row is not None else None
    return label, grams, row is not None and row.capped, volume, basis.target_vols
