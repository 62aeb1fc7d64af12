"""The true pressure in a sealed bottle, coded afresh from the formulas of physics.md 5.1.

This is the simulation's own model: it must never use the product's physics, or both could be
wrong in the same way and agree.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

G_PER_L_PER_VOL = 1.977  # physics.md 2.1, computed
ATMOSPHERE = 1.01325
_CO2_KG_MOL, _GAS = 0.0440095, 8.314463
_STRETCH, _SQUEEZE = 4.4e-5, 4.6e-5  # per bar: bottle and beer, physics.md 5.1
_SWELL = 0.0015  # share per volume of CO2 formed, physics.md 5.1
_TINY = 1e-9
_HIGHEST_BAR = 600.0


def solubility(temp_c: Any) -> Array:
    """Return grams of CO2 per litre of beer and bar (physics.md 2.2, "dossier best")."""
    kelvin = np.asarray(temp_c, dtype=float) + 273.15
    return 0.97 * np.exp(-125.9616766 + 7595.9361068 / kelvin + 17.70403207 * np.log(kelvin))


def residual_vols(temp_c: Any) -> Array:
    """Return the volumes of CO2 that beer under one atmosphere holds (physics.md 2.4)."""
    return solubility(temp_c) * ATMOSPHERE / G_PER_L_PER_VOL


def chart_bar(vols: Any, temp_c: Any) -> Array:
    """Return the gauge pressure of plain equilibrium (physics.md 2.3), no neck and no air."""
    return G_PER_L_PER_VOL * np.asarray(vols, dtype=float) / solubility(temp_c) - 1.013


def _expansion(temp_c: Any) -> Array:
    x = np.asarray(temp_c, dtype=float) - 20.0
    powers = 2.15200e-4 * x + 5.52941e-6 * x**2 - 2.94439e-8 * x**3 + 3.44936e-10 * x**4
    return np.asarray(powers)


def gauge_bar(
    vols: Any,
    temp_c: Any,
    headspace: Any = 0.04,
    *,
    air_bar: Any = 0.8,
    fill_c: Any = 20.0,
    residual: Any = 0.84,
    swelling: bool = True,
    solubility_factor: Any = 1.0,
) -> Array:
    """Return the gauge pressure [bar] of sealed bottles, liquid-full ones included.

    Args:
        vols: CO2 in all, dissolved and in the neck, in volumes of the beer.
        temp_c: temperature of the bottle.
        headspace: share of the brimful bottle left empty when filled at `fill_c`.
        air_bar: nitrogen trapped when sealed (0.8 for a neck full of air, 0 for none).
        fill_c: temperature of the beer when it was filled.
        residual: CO2 it then held, in volumes: the rest is formed in the bottle and swells it.
        swelling: whether dissolved CO2 takes room (the printed tables leave it out).
        solubility_factor: true solubility of this beer over the dossier's best.

    The pressure rises until bottle, beer and gas fit: bisection on the gauge pressure.
    """
    given = (vols, temp_c, headspace, air_bar, fill_c, residual, solubility_factor)
    arrays = np.broadcast_arrays(*(np.asarray(item, dtype=float) for item in given))
    vols, temp_c, headspace, air_bar, fill_c, residual, factor = arrays
    kelvin = temp_c + 273.15
    liquid = 1.0 - headspace
    co2_g = G_PER_L_PER_VOL * vols * liquid
    grown = liquid * (1 + _expansion(temp_c)) / (1 + _expansion(fill_c))
    if swelling:
        grown = grown * (1 + _SWELL * np.maximum(vols - residual, 0.0))
    bottle = 1 + 26e-6 * (temp_c - 20.0)
    henry = solubility(temp_c) * factor
    water = 0.97 * 0.0061094 * np.exp(17.625 * temp_c / (temp_c + 243.04))
    second = -0.006707 + 7.699e-5 * temp_c - 3.817e-7 * temp_c**2
    nitrogen = air_bar * headspace / (fill_c + 273.15)
    alpha = 0.0235 * np.exp(-0.0205 * temp_c)
    gas_factor = 1e5 * 1e-3 * _CO2_KG_MOL * 1e3 / (_GAS * kelvin)  # g per litre and bar, Z = 1

    def outward(gauge: Array) -> Array:
        """Return the pressure that the contents make when the bottle is held at `gauge`."""
        beer = grown * (1 - _SQUEEZE * gauge)
        room = bottle * (1 + _STRETCH * gauge) - beer
        gas = np.maximum(room, _TINY)
        co2 = co2_g / (henry * beer + gas_factor * gas)
        for _ in range(4):
            z = np.maximum(1 + second * co2, 0.3)
            co2 = co2_g / (henry * beer + gas_factor * gas / z)
        inert = nitrogen / (gas / kelvin + alpha * beer / 273.15)
        inside = co2 + inert + water - ATMOSPHERE
        return np.asarray(np.where(room <= 0, _HIGHEST_BAR * 2, inside))

    low, high = np.full(vols.shape, -1.0), np.full(vols.shape, _HIGHEST_BAR)
    for _ in range(44):
        middle = 0.5 * (low + high)
        more = outward(middle) > middle
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    return 0.5 * (low + high)
