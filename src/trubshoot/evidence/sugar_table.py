"""How much of each ordinary sugar brings this batch to its target, and what its bottles allow."""

from __future__ import annotations

import math
from dataclasses import dataclass

from trubshoot.errors import OutOfRangeError
from trubshoot.evidence.model import BottleBasis
from trubshoot.evidence.outlook import REFERENCE_C, danger_bar_at, sealed_bars, total_vols
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.tables import Bottle, Sugar
from trubshoot.physics import bottle
from trubshoot.physics.carbonation import CO2_G_L_PER_VOLUME, chart_gauge_bar
from trubshoot.physics.gas import vols_quantiles

_COMMON = "common_bottle_"  # constants with the sizes for which one bottle's sugar is told
_SAME_SIZE = 0.01
_MOST_VOLS = 8.0
_STEPS_PER_VOL = 8192  # how finely the most that bottles allow is sought
_QUARTER = 4  # level spoons are told in quarters, downwards


@dataclass(frozen=True)
class BottleDose:
    """The sugar of one bottle."""

    size_ml: float
    grams: float
    teaspoons: float | None  # level; None when no spoon density is known


@dataclass(frozen=True)
class SugarRow:
    """One kind of sugar: grams for the batch, and for one bottle of each size."""

    kind: str
    label: str
    grams_per_l: float
    batch_g: float | None  # None when the volume is not known
    bottles: tuple[BottleDose, ...]
    capped: bool  # held down to what the bottles allow


@dataclass(frozen=True)
class SugarTable:
    """Doses for a target; every one passes both tests of the bottles by the same reckoning."""

    target_vols: float
    present_vols: float  # without any sugar: in the beer, and what may still ferment
    volume_l: float | None
    spoon_error_share: float
    rows: tuple[SugarRow, ...]

    @property
    def capped(self) -> bool:
        """Tell whether the bottles, not the target, set a dose."""
        return any(row.capped for row in self.rows)


def sugar_table(
    basis: BottleBasis,
    knowledge: KnowledgeBase,
    weighed: bool = False,
    only: str | None = None,
) -> SugarTable | None:
    """Return the doses for this batch; None when nothing can be worked out.

    Args:
        basis: gas in the beer, target, bottles, as worked out from the log.
        knowledge: sugars, bottles, constants.
        weighed: said to be weighed; otherwise measured by spoon, the worse case.
        only: one kind of sugar; None for every ordinary one.
    """
    row = knowledge.bottles[basis.bottle_class]
    spread = math.hypot(
        knowledge.constant("mixing_sigma_share"), knowledge.constant("volume_sigma_share")
    )
    spoon = knowledge.constant("sugar_sigma_spoon_share")
    if not weighed:
        spread = math.hypot(spread, spoon)
    usual = knowledge.constant("headspace_share")
    sizes = _sizes(basis, knowledge)
    rows = []
    allowed: dict[float, float] = {}  # sugars of one purity bear the same gas
    try:
        present = vols_quantiles(
            0.0, 0.0, basis.residual_vols, basis.residual_sigma_vols, basis.left, (0.5,)
        )[0]
        wanted = min(max(basis.target_vols - present, 0.0), _MOST_VOLS)
        for kind, sugar in knowledge.sugars.items():
            if (only not in (None, kind)) or not sugar.ordinary or sugar.yield_central <= 0:
                continue
            richest = sugar.yield_high / sugar.yield_central
            if richest not in allowed:
                allowed[richest] = _allowed_of(wanted, basis, row, richest, spread, usual)
            vols = allowed[richest]
            rows.append(_row(kind, sugar, vols, vols < wanted, basis, sizes, knowledge))
    except OutOfRangeError:
        return None
    return SugarTable(basis.target_vols, present, basis.volume_l, spoon, tuple(rows))


def _sizes(basis: BottleBasis, knowledge: KnowledgeBase) -> list[float]:
    """Return the common sizes and this batch's own, which stands for a common one very near it."""
    own = basis.size_ml
    common = [item.value for name, item in knowledge.constants.items() if name.startswith(_COMMON)]
    if own is None:
        return sorted(common)
    return sorted([own, *(size for size in common if abs(size / own - 1) > _SAME_SIZE)])


def _allowed_of(
    wanted: float,
    basis: BottleBasis,
    row: Bottle,
    richest: float,
    spread: float,
    usual_share: float,
) -> float:
    """Return of the volumes wanted from a sugar as many as pass both tests of the bottles.

    Args:
        wanted: volumes from the sugar that bring the beer to its target.
        basis: gas in the beer, bottles, warmest storage.
        row: the class of the bottles.
        richest: how much more than its usual yield the purest sugar of the kind gives.
        spread: share of the sugar that is uncertain.
        usual_share: headspace where none is known.
    """
    hot = min(max(basis.hottest_c, 0.0), bottle.TEMP_HIGH_C)
    limit = danger_bar_at(row, hot)

    def allowed(vols: float) -> bool:
        expected, upper = total_vols(basis, vols, vols * richest, spread)
        alone = chart_gauge_bar(min(expected, bottle.VOLS_HIGH), REFERENCE_C)
        return alone <= row.rating_bar and (
            sealed_bars(basis, expected, upper, hot, usual_share)[1] <= limit
        )

    if basis.hottest_c > bottle.TEMP_HIGH_C or not row.pressure_rated or not allowed(0.0):
        return 0.0
    low, high = 0, min(math.ceil(wanted * _STEPS_PER_VOL), int(_MOST_VOLS * _STEPS_PER_VOL) - 1)
    if allowed(high / _STEPS_PER_VOL):  # nearly always: then nothing needs to be sought
        low = high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if allowed(middle / _STEPS_PER_VOL) else (low, middle)
    return min(wanted, low / _STEPS_PER_VOL)


def _row(
    kind: str,
    sugar: Sugar,
    vols: float,
    capped: bool,
    basis: BottleBasis,
    sizes: list[float],
    knowledge: KnowledgeBase,
) -> SugarRow:
    """Return one row; grams are rounded down, never up."""
    per_l = CO2_G_L_PER_VOLUME * vols / sugar.yield_central
    teaspoon_ml = knowledge.constant("teaspoon_ml")
    doses = []
    for size in sizes:
        grams = math.floor(10 * per_l * size / 1000 + 1e-9) / 10
        spoons = None
        if sugar.spoon_g_per_ml is not None:
            exact = grams / (sugar.spoon_g_per_ml * teaspoon_ml)
            spoons = math.floor(exact * _QUARTER + 1e-9) / _QUARTER
        doses.append(BottleDose(size, grams, spoons))
    batch_g = None if basis.volume_l is None else float(math.floor(per_l * basis.volume_l + 1e-9))
    return SugarRow(kind, sugar.label, per_l, batch_g, tuple(doses), capped)
