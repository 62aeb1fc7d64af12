"""Bottling sugar per litre, done or planned: how much, how much gas, and how well it is known."""

from __future__ import annotations

import math
from dataclasses import dataclass

from trubshoot.batch.model import Bottling, Sugar
from trubshoot.errors import OutOfRangeError
from trubshoot.evidence.bench import Bench
from trubshoot.evidence.model import FAR_TOO_MUCH
from trubshoot.evidence.words import resolve, tokens
from trubshoot.knowledge_base.tables import Sugar as SugarRow
from trubshoot.physics.gas import worst_of
from trubshoot.physics.sugar import vols_from_sugar

_SMALL_BOTTLE_ML = 330.0
_BY_GUESS = ("guess", "eye", "spoon", "cup")


@dataclass(frozen=True)
class Dose:
    """Bottling sugar per litre, middle and highest, and how well it is known."""

    g_per_l: float  # as weighed
    vols: float
    vols_high: float  # full yield, heaviest pieces, least volume
    share_sigma: float  # weighing, volume and mixing together
    mixing_sigma: float  # from bottle to bottle
    sucrose_g_per_l: float


def bottles_hold(bench: Bench, entry: Bottling) -> float | None:
    """Return what the bottles counted hold [l]."""
    size_ml = entry.bottles.size_ml or bench.batch.bottles.size_ml
    count = entry.bottles.count or (bench.batch.bottles.count if bench.is_plan(entry) else None)
    return count * size_ml / 1000 if count and size_ml else None


def volume_of(bench: Bench, entry: Bottling) -> float | None:
    """Return the litres that go or went into bottles; bottles counted tell only what was done."""
    if entry.volume_l is not None or bench.is_plan(entry):
        return entry.volume_l
    return bottles_hold(bench, entry)


def dose_of(bench: Bench, entry: Bottling) -> Dose | None:
    """Return the dose of a bottling, and set what is known of it; None when it is not known."""
    _dosing(bench, entry)
    if entry.sugars is None:
        if not bench.is_plan(entry):
            bench.state("priming_missing", True)
        bench.lacks("bottling sugar", "more than the bottles stand", "the pressure in the bottles")
        return None
    if not entry.sugars:
        bench.state("no_sugar_added", True)
        bench.state("priming_known", True)
        return Dose(0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    filled = bottles_hold(bench, entry)
    volume_l = least_l = volume_of(bench, entry)
    if volume_l is not None:
        bench.number("bottled_volume_l", volume_l)
    if filled and entry.volume_l and not bench.is_plan(entry):
        bench.number("bottles_hold_share", filled / entry.volume_l)
        if filled < bench.constant("bottles_hold_least_share") * entry.volume_l:
            least_l = filled  # the log says two things: the upper bound takes the stronger dose
    doses = [_one_sugar(bench, item, entry, volume_l, least_l) for item in entry.sugars]
    known = [dose for dose in doses if dose is not None]
    if len(known) < len(doses):
        return None
    bench.state("priming_known", True)
    return Dose(
        sum(dose.g_per_l for dose in known),
        sum(dose.vols for dose in known),
        sum(dose.vols_high for dose in known),
        max(dose.share_sigma for dose in known),
        max(dose.mixing_sigma for dose in known),
        sum(dose.sucrose_g_per_l for dose in known),
    )


def _one_sugar(
    bench: Bench, item: Sugar, entry: Bottling, volume_l: float | None, least_l: float | None
) -> Dose | None:
    table = bench.knowledge.sugars
    row = table[resolve(item.kind, table) or "unknown_sugar"]
    amount = item.amount
    if amount is None:
        bench.lacks("amount of the bottling sugar", "more than the bottles stand")
        return None
    mass = _mass(bench, item, row)
    if mass is None:
        bench.lacks("amount of the bottling sugar in grams", "more than the bottles stand")
        return None
    mass_g, mass_high, guess = mass
    litres: float | None
    if amount.per == "bottle":
        size_ml = entry.bottles.size_ml or bench.batch.bottles.size_ml
        litres = least_l = size_ml / 1000 if size_ml else None
    else:
        litres = 1.0 if amount.per == "litre" else volume_l
    if litres is None or litres <= 0:
        bench.lacks("volume bottled", "less than the bottles stand", "the sugar per litre")
        return None
    least = least_l if least_l and amount.per != "litre" else litres
    weighing = 0.0
    if amount.mass_g is not None:  # what was counted or spooned never lay on a scale
        weighing = bench.constant("sugar_sigma_weighed_g") / max(mass_g, 1.0)
        if entry.weighed is not True:  # not said to be weighed: as if measured by cup
            weighing = max(weighing, bench.constant("sugar_sigma_spoon_share"))
    spooned = amount.per == "bottle" and amount.volume_ml is not None
    mixing = bench.constant(_mixing_constant(entry, amount.per, spooned))
    # said not to be stirred in: the upper bound is that of the richest of all bottles
    richest = 1.0
    if entry.stirred is False and amount.per == "batch":
        richest += worst_of(mixing, _bottle_count(bench, entry, litres))
    volume = bench.constant("volume_sigma_share") if amount.per == "batch" else 0.0
    try:
        return Dose(
            mass_g / litres,
            vols_from_sugar(mass_g, litres, row.yield_central) if row.yield_central else 0.0,
            vols_from_sugar(mass_high * richest, least, row.yield_high) if row.yield_high else 0.0,
            math.hypot(max(weighing, guess), mixing, volume),
            mixing,
            mass_g / litres * row.yield_central / table["sucrose"].yield_central,
        )
    except OutOfRangeError as error:
        bench.lacks(f"a believable amount of bottling sugar ({error})", FAR_TOO_MUCH)
        return None


def _mixing_constant(entry: Bottling, per: str, spooned: bool) -> str:
    """Return which spread from bottle to bottle holds; what is not said is not stirred for sure."""
    if spooned:
        return "mixing_sigma_spoon_share"
    if per != "batch" or entry.stirred is True:
        return "mixing_sigma_share"
    return "mixing_sigma_unstirred_share" if entry.stirred is False else "mixing_sigma_unsaid_share"


def _bottle_count(bench: Bench, entry: Bottling, litres: float) -> int:
    """Return how many bottles share the sugar; where nothing says it, small ones are taken."""
    count = entry.bottles.count or bench.batch.bottles.count
    if count:
        return min(count, 5000)
    size_ml = entry.bottles.size_ml or bench.batch.bottles.size_ml or _SMALL_BOTTLE_ML
    return min(max(round(1000 * litres / size_ml), 1), 5000)


def _mass(bench: Bench, item: Sugar, row: SugarRow) -> tuple[float, float, float] | None:
    """Return mass and highest mass [g], and the spread of a guess [-]."""
    amount = item.amount
    if amount is None:
        return None
    if amount.mass_g is not None:
        return amount.mass_g, amount.mass_g, 0.0
    if amount.volume_ml is not None and row.spoon_g_per_ml is not None:
        heap = bench.constant("heaped_spoon_factor")
        level_g = amount.volume_ml * row.spoon_g_per_ml
        mass_g = level_g * heap if amount.heaped else level_g
        unsaid = amount.heaped is None and amount.measure not in ("", "cup")
        if unsaid:
            bench.lacks("whether the spoons were level or heaped", "heaped")
        high_g = level_g * heap if unsaid else mass_g
        return mass_g, high_g, bench.constant("sugar_sigma_spoon_share")
    if amount.pieces is not None:
        drops = bench.knowledge.sugars.get("carbonation_drops")
        for source in (row, drops):
            if source is not None and source.piece_g is not None:
                heaviest = source.piece_g_high or source.piece_g
                return amount.pieces * source.piece_g, amount.pieces * heaviest, 0.0
    return None


def _dosing(bench: Bench, entry: Bottling) -> None:
    amounts = [item.amount for item in entry.sugars or () if item.amount is not None]
    if entry.dosing == "per bottle" or any(item.per == "bottle" for item in amounts):
        bench.text("dosing", "per_bottle")
    elif entry.dosing == "bulk":
        bench.text("dosing", "bulk")
    if entry.stirred is not None:
        bench.state("sugar_stirred" if entry.stirred else "sugar_not_stirred", True)
    spooned = any(item.volume_ml is not None or item.heaped for item in amounts)
    if entry.weighed is not None:
        bench.state("sugar_weighed" if entry.weighed else "sugar_by_spoon", True)
    elif spooned or any(word in tokens(entry.words) for word in _BY_GUESS):
        bench.state("sugar_by_spoon", True)


def target_vols(bench: Bench) -> float:
    """Return the CO2 aimed at: as planned, else usual for the style, else the default [vol]."""
    plan = bench.batch.plan
    if plan is not None and plan.target_vols is not None:
        return plan.target_vols
    words = set(tokens(bench.batch.style or ""))
    for name in bench.knowledge.constants:
        if name.startswith("target_vols_") and name != "target_vols_default":
            parts = set(name.removeprefix("target_vols_").split("_")) - {"ale"}
            if parts & words:
                return bench.constant(name)
    return bench.constant("target_vols_default")
