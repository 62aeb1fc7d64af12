"""Gauge pressure in a sealed bottle: neck gas, trapped air, expansion, and the liquid-full case.

Everything is per litre of brimful bottle. Source keys (R1 ...) are those of the physics chapter of
the reference pages. Functions ending in _many take numpy arrays.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from trubshoot.errors import OutOfRangeError
from trubshoot.physics.bottle_model import (
    WATER_ACTIVITY,
    Balance,
    gas_g_l_bar,
    nitrogen_kernel,
    vapour_kernel,
    virial_per_bar,
)
from trubshoot.physics.carbonation import (
    ATMOSPHERE_BAR,
    CO2_G_L_PER_VOLUME,
    Solubility,
    co2_solubility_g_l_bar,
    co2_solubility_many,
)
from trubshoot.physics.limits import require, require_all

if TYPE_CHECKING:
    from trubshoot.physics.limits import Array

SWELLING_PER_VOLUME = 0.0015  # by CO2 formed after filling, 32-35 cm3/mol: from memory
AIR_NITROGEN_BAR = 0.8  # stays when yeast has eaten the oxygen
RESIDUAL_AT_FILLING_VOLS = 0.86  # what beer at 20 C holds when filled: from memory
LIQUID_FULL_BELOW = 2e-4  # gas left, share of brimful: judgement; no cushion worth the name
UNKNOWN_HEADSPACES = (0.02, 0.03, 0.04, 0.06)  # an unmeasured neck, not overfilled: the worst
VOLS_HIGH, TEMP_HIGH_C, HEADSPACE_HIGH, MODEL_HIGH_BAR = 20.0, 50.0, 0.5, 15.0
_SEARCH_HIGH_BAR = 1000.0
_CLOSE_BAR = 1e-11
_MOST_STEPS = 200


@dataclass(frozen=True)
class SealedBottle:
    """The state of a sealed bottle at rest."""

    gauge_bar: float  # above the air outside
    co2_bar: float  # partial pressure
    nitrogen_bar: float  # partial pressure
    vapour_bar: float  # partial pressure
    headspace_fraction: float  # gas space left, share of brimful
    liquid_full: bool  # no cushion left: pressure rises by 2-5 bar per degree
    beyond_model: bool  # above 15 bar gauge: read it as "far above every bottle"


def sealed_bottle(
    co2_vols: float,
    temp_c: float,
    headspace_fraction: float = 0.04,
    nitrogen_bar: float = AIR_NITROGEN_BAR,
    *,
    fill_temp_c: float = 20.0,
    kind: Solubility = "best",
    nitrogen_dissolves: bool = True,
    swelling: bool = False,
    residual_vols: float = RESIDUAL_AT_FILLING_VOLS,
) -> SealedBottle:
    """Return the state of a sealed bottle in which everything has fermented and settled.

    CO2 balance: 1.977 N (1 - h) = H(t) p V_L + p V_g M / (R T Z). The gas space V_g is what the
    stretched bottle leaves over the expanded beer; if nothing is left, stretch of the bottle and
    squeeze of the liquid alone set the pressure. Solved for the gauge pressure within a bracket.

    Args:
        co2_vols: all CO2, volumes per litre of beer [-], 0 to 20.
        temp_c: temperature of the bottle [deg C], 0 to 50.
        headspace_fraction: gas space at filling, share of brimful [-], 0 to 0.5.
        nitrogen_bar: of the air trapped at filling [bar], 0 to 1: 0.8 for air, 0 for a purged neck.
        fill_temp_c: temperature at filling [deg C], 0 to 50.
        kind: solubility of CO2, see carbonation.py.
        nitrogen_dissolves: whether some of the nitrogen goes into the beer.
        swelling: whether CO2 formed in the bottle takes up room in the liquid.
        residual_vols: CO2 already in the beer when filled [-], 0 to 3; used by swelling only.

    Returns: SealedBottle.

    Raises: OutOfRangeError: outside those ranges.

    Assumes: rest; beer up to 8 % alcohol by mass; no leak at the closure. Compared with the tables
        from 0.5 to 16 volumes and to 15 bar; higher results are marked beyond_model, not refused,
        because hiding them would hide the danger.

    Checked against: sealed_bottle_pressure within 0.001 bar and overfill_headspace in
    tests/physics/test_bottle.py. Worked: 3 volumes, 20 C, 4 %, no air: 2.478 bar.

    References: model of the physics chapter, section 5 (computed); swelling from memory; R38, R39
    (read) for the liquid-full case.
    """
    _check(co2_vols, temp_c, headspace_fraction, nitrogen_bar, fill_temp_c, residual_vols)
    bottle = Balance(
        co2_vols,
        temp_c,
        headspace_fraction,
        nitrogen_bar,
        fill_temp_c,
        co2_solubility_g_l_bar(temp_c, kind),
        vapour_kernel(temp_c, math.exp),
        nitrogen_kernel(temp_c, math.exp) if nitrogen_dissolves else 0.0,
        SWELLING_PER_VOLUME * max(co2_vols - residual_vols, 0.0) if swelling else 0.0,
    )
    high = _balanced_gauge_bar(bottle)
    gas = max(bottle.gas_space(high), 1e-12)
    co2 = bottle.co2_bar(gas, math.sqrt)
    return SealedBottle(
        gauge_bar=high,
        co2_bar=co2,
        nitrogen_bar=bottle.nitrogen_bar(gas),
        vapour_bar=WATER_ACTIVITY * bottle.vapour,
        headspace_fraction=gas,
        liquid_full=gas < LIQUID_FULL_BELOW,
        beyond_model=high > MODEL_HIGH_BAR,
    )


def _balanced_gauge_bar(bottle: Balance) -> float:
    """Return the pressure the contents and the stretched bottle agree on, never below it [bar].

    What the contents would have falls as the pressure, and with it the gas space, grows: one
    crossing. False position with the end that stays halved (Illinois), bisection where the bottle
    is liquid-full and no value can be worked out.
    """
    low, high = -ATMOSPHERE_BAR, _SEARCH_HIGH_BAR
    narrowest = bottle.gas_space(low)
    if narrowest > 0.0:  # more pressure only widens the gas space: no higher than this
        high = min(high, bottle.pressure_over(narrowest, math.sqrt))
    over_low: float | None = None
    over_high = bottle.pressure_over(bottle.gas_space(high), math.sqrt) - high
    stayed = 0
    for _ in range(_MOST_STEPS):
        share = 0.5 if over_low is None else over_low / (over_low - over_high)
        middle = low + share * (high - low)
        gas = bottle.gas_space(middle)
        # without gas space the stretch must grow: the pressure is higher than tried
        over = None if gas <= 0.0 else bottle.pressure_over(gas, math.sqrt) - middle
        if over is None or over > 0.0:
            if over is not None and stayed < 0:
                over_high *= 0.5
            low, over_low, stayed = middle, over, -1
        else:
            if over_low is not None and stayed > 0:
                over_low *= 0.5
            high, over_high, stayed = middle, over, 1
            if -over < _CLOSE_BAR:
                break
        if high - low < _CLOSE_BAR:
            break
    return high


def sealed_gauge_bar(
    co2_vols: float,
    temp_c: float,
    headspace_fraction: float = 0.04,
    nitrogen_bar: float = AIR_NITROGEN_BAR,
    fill_temp_c: float = 20.0,
    swelling: bool = False,
) -> float:
    """Return the gauge pressure [bar] of sealed_bottle with its even-handed settings.

    Args, Raises, Assumes, Checked against, References: as sealed_bottle.
    """
    return sealed_bottle(
        co2_vols,
        temp_c,
        headspace_fraction,
        nitrogen_bar,
        fill_temp_c=fill_temp_c,
        swelling=swelling,
    ).gauge_bar


def upper_gauge_bar(
    co2_vols: float,
    temp_c: float,
    headspace_fraction: float | None = None,
    fill_temp_c: float = 20.0,
    residual_vols: float = RESIDUAL_AT_FILLING_VOLS,
) -> float:
    """Return the gauge pressure to use for safety: every doubtful term at its unfavourable end.

    As sealed_bottle with the lower solubility, a neck full of air, nitrogen that does not dissolve,
    and swelling of the beer.

    Args:
        headspace_fraction: as sealed_bottle; None when it was not measured: the worst value over
            2 to 6 % of brimful is then returned. An overfilled bottle (under 2 %) must be given.
        co2_vols, temp_c, fill_temp_c, residual_vols: as sealed_bottle.

    Returns: gauge pressure [bar].

    Raises, Assumes, References: as sealed_bottle. The choice of terms is a judgement.

    Checked against: upper_bound column of sealed_bottle_pressure in tests/physics/test_bottle.py.
    Worked: 3 volumes at 20 C, 4 %: 3.43 bar.
    """
    spaces = UNKNOWN_HEADSPACES if headspace_fraction is None else (headspace_fraction,)
    return max(
        sealed_bottle(
            co2_vols,
            temp_c,
            space,
            AIR_NITROGEN_BAR,
            fill_temp_c=fill_temp_c,
            kind="low",
            nitrogen_dissolves=False,
            swelling=True,
            residual_vols=residual_vols,
        ).gauge_bar
        for space in spaces
    )


def sealed_gauge_bar_many(
    co2_vols: Any,
    temp_c: Any,
    headspace_fraction: Any = 0.04,
    nitrogen_bar: Any = AIR_NITROGEN_BAR,
    *,
    fill_temp_c: Any = 20.0,
    kind: Solubility = "best",
    nitrogen_dissolves: bool = True,
    swelling: bool = False,
    residual_vols: Any = RESIDUAL_AT_FILLING_VOLS,
) -> Array:
    """Return gauge pressures [bar] of sealed_bottle for numpy arrays, by vectorised bisection.

    Args, Raises, Assumes, References: as sealed_bottle; arrays are broadcast against each other.

    Checked against: sealed_bottle within 1e-6 bar in tests/physics/test_bottle.py.
    """
    import numpy as np

    vols = require_all("carbonation", co2_vols, 0.0, VOLS_HIGH, "volumes")
    temp = require_all("bottle temperature", temp_c, 0.0, TEMP_HIGH_C, "C")
    residual = require_all("CO2 at filling", residual_vols, 0.0, 3.0, "volumes")
    bottle = Balance(
        vols,
        temp,
        require_all("headspace", headspace_fraction, 0.0, HEADSPACE_HIGH),
        require_all("trapped nitrogen", nitrogen_bar, 0.0, 1.0, "bar"),
        require_all("filling temperature", fill_temp_c, 0.0, TEMP_HIGH_C, "C"),
        co2_solubility_many(temp, kind),
        vapour_kernel(temp, np.exp),
        nitrogen_kernel(temp, np.exp) if nitrogen_dissolves else 0.0,
        SWELLING_PER_VOLUME * np.maximum(vols - residual, 0.0) if swelling else 0.0,
    )
    low: Array = np.zeros_like(np.asarray(bottle.gas_space(0.0), dtype=np.float64))
    low = low - ATMOSPHERE_BAR
    high: Array = low + ATMOSPHERE_BAR + _SEARCH_HIGH_BAR
    for _ in range(45):
        middle = 0.5 * (low + high)
        gas = bottle.gas_space(middle)
        safe_gas = np.maximum(gas, 1e-12)
        higher = (gas <= 0.0) | (bottle.pressure_over(safe_gas, np.sqrt) > middle)
        low = np.where(higher, middle, low)
        high = np.where(higher, high, middle)
    return high


def vols_at_gauge_bar(
    limit_bar: float,
    temp_c: float,
    headspace_fraction: float = 0.04,
    nitrogen_bar: float = AIR_NITROGEN_BAR,
    *,
    upper: bool = False,
    fill_temp_c: float = 20.0,
    swelling: bool = False,
) -> float:
    """Return the volumes at which a sealed bottle reaches a gauge pressure: the inverse.

    Args:
        limit_bar: gauge pressure [bar], 0 to 15, such as the rating of a bottle class (data).
        temp_c, headspace_fraction, nitrogen_bar, fill_temp_c, swelling: as sealed_bottle.
        upper: use upper_gauge_bar, which takes air in the neck whatever nitrogen_bar says.

    Returns: volumes [-]; 0 when even flat beer would reach the limit.

    Raises: OutOfRangeError: outside those ranges, and when 20 volumes do not reach the limit.

    Assumes: as sealed_bottle.

    Checked against: max_volumes_by_class in tests/physics/test_bottle.py.

    References: as sealed_bottle.
    """
    require("pressure limit", limit_bar, 0.0, MODEL_HIGH_BAR, "bar")

    def gauge(vols: float) -> float:
        if upper:
            return upper_gauge_bar(vols, temp_c, headspace_fraction, fill_temp_c)
        return sealed_gauge_bar(
            vols, temp_c, headspace_fraction, nitrogen_bar, fill_temp_c, swelling
        )

    low, high = 0.0, VOLS_HIGH
    highest = gauge(high)
    if highest < limit_bar:
        raise OutOfRangeError("pressure limit", limit_bar, 0.0, highest, "bar")
    if gauge(low) >= limit_bar:
        return 0.0
    for _ in range(40):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if gauge(middle) < limit_bar else (low, middle)
    return low


def vols_after_venting(co2_vols: float, temp_c: float, headspace_fraction: float = 0.04) -> float:
    """Return the volumes left after one quick opening and closing without foaming.

    Only the gas of the neck above one atmosphere is lost; the beer then gives off more.

    Args: as sealed_bottle, no air in the neck. Returns: volumes [-], 0.03 to 0.14 less.

    Raises: OutOfRangeError: as sealed_bottle. Assumes: no foaming, no waiting: it is no repair.

    Checked against: the three cases of the physics chapter, section 5.6, in
    tests/physics/test_bottle.py. References: computed.
    """
    before = sealed_bottle(co2_vols, temp_c, headspace_fraction, 0.0)
    after_bar = max(ATMOSPHERE_BAR - before.vapour_bar, 0.0)
    grams_per_bar = gas_g_l_bar(temp_c) * before.headspace_fraction
    held = before.co2_bar / (1.0 + virial_per_bar(temp_c) * before.co2_bar)
    left = after_bar / (1.0 + virial_per_bar(temp_c) * after_bar)
    lost_g = max(grams_per_bar * (held - left), 0.0)
    return co2_vols - float(lost_g) / (1.0 - headspace_fraction) / CO2_G_L_PER_VOLUME


def _check(
    vols: float, temp: float, headspace: float, nitrogen: float, fill: float, residual: float
) -> None:
    require("carbonation", vols, 0.0, VOLS_HIGH, "volumes")
    require("bottle temperature", temp, 0.0, TEMP_HIGH_C, "C")
    require("headspace", headspace, 0.0, HEADSPACE_HIGH)
    require("trapped nitrogen", nitrogen, 0.0, 1.0, "bar")
    require("filling temperature", fill, 0.0, TEMP_HIGH_C, "C")
    require("CO2 at filling", residual, 0.0, 3.0, "volumes")
