"""Carbon dioxide in beer: solubility, volumes, balance pressure, what finished beer still holds.

One volume is one litre of gas at 0 C and one atmosphere in a litre of beer. Source keys (R1 ...)
are those of the physics chapter of the reference pages. Functions ending in _many take arrays.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Literal

from trubshoot.physics.limits import require, require_all

if TYPE_CHECKING:
    from trubshoot.physics.limits import Array

Solubility = Literal["best", "low"]

ATMOSPHERE_BAR = 1.01325  # exact
CO2_G_L_PER_VOLUME = 1.977  # real gas at 0 C, 1 atm: computed, 1.9768 by the Span-Wagner equation
BEER_TO_WATER = 0.97  # 292 chart points lie 2.9 % under water: computed from R26
STRONG_BEER_TO_WATER = 0.93  # above 8 % by volume: judgement on R28
RESIDUAL_UPPER_FACTOR = 1.09  # covers every published residual figure at hand: judgement
VOLS_HIGH = 20.0  # above 8 volumes read a result as "at least": no bottle is made for it
TEMP_LOW_C, TEMP_HIGH_C = -1.5, 60.0


def co2_solubility_g_l_bar(
    temp_c: float, kind: Solubility = "best", strong_beer: bool = False
) -> float:
    """Return how much CO2 beer dissolves per bar of CO2 over it.

    best: 0.97 exp(-125.9616766 + 7595.9361068 / T + 17.70403207 ln T)
    low:  0.97 x 10 exp(-10.73797 + 2617.25 / T), T in kelvin; less dissolved, so more pressure.

    Args:
        temp_c: beer temperature [deg C], -1.5 to 60 (0-60 is the fit; below 0 the charts check it).
        kind: "best" for an even-handed figure, "low" for an upper bound of the pressure.
        strong_beer: above 8 % alcohol by volume; the factor is then 0.93 instead of 0.97.

    Returns: solubility [g/L/bar].

    Raises: OutOfRangeError: outside -1.5 to 60 C.

    Assumes: Henry's law. Standard deviation 3 % to 30 C, 5 % above.

    Checked against: IAPWS G7-04 (iapws), henry_co2 and 292 chart points in
    tests/physics/test_carbonation.py. Worked: best 1.633 at 20 C, 1.004 at 40 C.

    References: fit to IAPWS G7-04: computed; van't Hoff form for beer: read, R3; 0.97 from R26.
    """
    require("beer temperature", temp_c, TEMP_LOW_C, TEMP_HIGH_C, "C")
    kelvin = temp_c + 273.15
    factor = STRONG_BEER_TO_WATER if strong_beer else BEER_TO_WATER
    return float(factor * _water_g_l_bar(kelvin, kind, math.exp, math.log))


def co2_solubility_many(temp_c: Any, kind: Solubility = "best", strong_beer: bool = False) -> Array:
    """As co2_solubility_g_l_bar [g/(L bar)] for temperatures [deg C]; same range and errors."""
    import numpy as np

    kelvin = require_all("beer temperature", temp_c, TEMP_LOW_C, TEMP_HIGH_C, "C") + 273.15
    factor = STRONG_BEER_TO_WATER if strong_beer else BEER_TO_WATER
    result: Array = factor * _water_g_l_bar(kelvin, kind, np.exp, np.log)
    return result


def _water_g_l_bar(kelvin: Any, kind: Solubility, exp: Any, log: Any) -> Any:
    """Return the solubility before the factor for beer, for a number or an array."""
    if kind == "low":
        return 10.0 * exp(-10.73797 + 2617.25 / kelvin)
    return exp(-125.9616766 + 7595.9361068 / kelvin + 17.70403207 * log(kelvin))


def co2_g_l_from_vols(co2_vols: float) -> float:
    """Return grams per litre: 1.977 x volumes.

    Args: co2_vols: volumes [-], 0 to 20. Returns: CO2 [g/L].

    Raises: OutOfRangeError: outside 0-20. Assumes: real gas at 0 C and 1.01325 bar.

    Checked against: CoolProp, 1.9768 kg/m3, in tests/physics/test_carbonation.py.

    References: computed; brewing texts round to 1.96-2.0.
    """
    return CO2_G_L_PER_VOLUME * require("carbonation", co2_vols, 0.0, VOLS_HIGH, "volumes")


def co2_vols_from_g_l(co2_g_l: float) -> float:
    """Return volumes: g/L / 1.977.

    Args: co2_g_l: dissolved plus releasable CO2 [g/L], 0 to 39.54. Returns: volumes [-].

    Raises: OutOfRangeError: outside. Assumes, Checked against, References: as co2_g_l_from_vols.
    """
    highest = VOLS_HIGH * CO2_G_L_PER_VOLUME
    return require("carbonation", co2_g_l, 0.0, highest, "g/L") / CO2_G_L_PER_VOLUME


def chart_gauge_bar(co2_vols: float, temp_c: float, kind: Solubility = "best") -> float:
    """Return the gauge pressure at which beer of these volumes is in balance with pure CO2.

    P = 1.977 N / H(t) - 1.01325

    Args:
        co2_vols: volumes in the beer [-], 0 to 20.
        temp_c: beer temperature [deg C], -1.5 to 60.
        kind: see co2_solubility_g_l_bar.

    Returns: gauge pressure [bar]; negative when the beer holds less than open beer would.

    Raises: OutOfRangeError: outside those ranges.

    Assumes: no air, no loss of CO2 into a headspace; a sealed bottle differs (see bottle.py).

    Checked against: co2_misc_points and sealed_bottle_pressure in
    tests/physics/test_carbonation.py. Worked: 3 volumes at 20 C, 2.62 bar; 2.5 volumes, 2.01 bar.

    References: R26 (read); the widespread quadratic in F and volumes reads low when warm and is
    not used.
    """
    dissolved = co2_g_l_from_vols(co2_vols)
    return dissolved / co2_solubility_g_l_bar(temp_c, kind) - ATMOSPHERE_BAR


def chart_gauge_bar_many(co2_vols: Any, temp_c: Any, kind: Solubility = "best") -> Array:
    """Return chart_gauge_bar for arrays of volumes and temperatures; same ranges and errors."""
    vols = require_all("carbonation", co2_vols, 0.0, VOLS_HIGH, "volumes")
    result: Array = CO2_G_L_PER_VOLUME * vols / co2_solubility_many(temp_c, kind) - ATMOSPHERE_BAR
    return result


def equilibrium_vols(gauge_bar: float, temp_c: float, kind: Solubility = "best") -> float:
    """Return the volumes beer holds in balance with pure CO2 at a gauge pressure.

    N = H(t) (P + 1.01325) / 1.977; the inverse of chart_gauge_bar.

    Args:
        gauge_bar: gauge pressure [bar], -1.01325 to 12.
        temp_c: beer temperature [deg C], -1.5 to 60.
        kind: see co2_solubility_g_l_bar.

    Returns: volumes [-].

    Raises: OutOfRangeError: outside those ranges.

    Assumes: balance reached.

    Checked against: 292 published chart points within 0.05 volumes and a g/L table, in
    tests/physics/test_carbonation.py.

    References: R26, R3 (read).
    """
    require("gauge pressure", gauge_bar, -ATMOSPHERE_BAR, 12.0, "bar")
    absolute = gauge_bar + ATMOSPHERE_BAR
    return co2_solubility_g_l_bar(temp_c, kind) * absolute / CO2_G_L_PER_VOLUME


def residual_vols(temp_c: float, gauge_bar: float = 0.0, strong_beer: bool = False) -> float:
    """Return the CO2 that beer still holds when its fermentation is over.

    N = H_best(t) (1.01325 + P) / 1.977

    Args:
        temp_c: temperature that decides [deg C], -1.5 to 45: the warmest the beer reached AFTER its
            gravity was steady in a vented vessel; if in doubt the coldest while it still fermented.
        gauge_bar: pressure it fermented under [bar], 0 to 3; 0 for an airlock.
        strong_beer: see co2_solubility_g_l_bar.

    Returns: volumes [-], standard deviation 0.1.

    Raises: OutOfRangeError: outside those ranges.

    Assumes: balance. Beer bottled straight from active fermentation may hold 0.1 to 0.3 more;
        chilling a finished beer does not add CO2.

    Checked against: residual_co2 in tests/physics/test_carbonation.py. Worked: 0.84 at 20 C.

    References: computed from H_best; published tables (R21, read) lie up to 0.12 higher.
    """
    require("temperature after fermentation", temp_c, TEMP_LOW_C, 45.0, "C")
    require("pressure of fermentation", gauge_bar, 0.0, 3.0, "bar")
    solubility = co2_solubility_g_l_bar(temp_c, "best", strong_beer)
    return solubility * (ATMOSPHERE_BAR + gauge_bar) / CO2_G_L_PER_VOLUME


def residual_vols_upper(
    coldest_c: float, gauge_bar: float = 0.0, supersaturation_vols: float = 0.1
) -> float:
    """Return the most CO2 the beer can be expected to hold when bottled: the figure for safety.

    N = 1.09 x residual_vols(coldest) + supersaturation

    Args:
        coldest_c: coldest temperature since pitching at which it may still have fermented [deg C].
        gauge_bar: as residual_vols.
        supersaturation_vols: extra in beer that was not disturbed [-], 0 to 0.3.

    Returns: volumes [-], never below any published figure for the temperature.

    Raises: OutOfRangeError: outside those ranges.

    Assumes: no credit for losses by splashing or standing.

    Checked against: every row of residual_co2 in tests/physics/test_carbonation.py.

    References: 1.09 and the supersaturation are judgements on R21 and on a packaging guide (read).
    """
    require("supersaturation", supersaturation_vols, 0.0, 0.3, "volumes")
    return RESIDUAL_UPPER_FACTOR * residual_vols(coldest_c, gauge_bar) + supersaturation_vols
