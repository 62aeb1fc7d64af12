"""What the pressure in a sealed bottle is made of: vapour, expansion, real gas, and the balance.

The functions ending in _kernel and the Balance take numbers or numpy arrays and check no range:
the functions of bottle.py do that before they call them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from trubshoot.physics.carbonation import ATMOSPHERE_BAR, CO2_G_L_PER_VOLUME
from trubshoot.physics.limits import require

GAS_CONSTANT, CO2_KG_MOL = 8.314463, 0.0440095  # J/(mol K), kg/mol
GLASS_EXPANSION_PER_K = 26e-6  # cubic: from memory
BOTTLE_STRETCH_PER_BAR = 4.4e-5  # radius 15 times the wall: computed
LIQUID_SQUEEZE_PER_BAR = 4.6e-5  # computed
WATER_ACTIVITY = 0.97


def vapour_pressure_bar(temp_c: float) -> float:
    """Return the vapour pressure of water: 0.0061094 exp(17.625 t / (t + 243.04)).

    Args: temp_c: temperature [deg C], 0 to 60. Returns: pressure [bar].

    Raises: OutOfRangeError: outside 0-60 C. Assumes: pure water; beer has 0.97 of it.

    Checked against: CoolProp within 0.6 % in tests/physics/test_bottle.py.

    References: Magnus form, from memory.
    """
    return float(vapour_kernel(require("temperature", temp_c, 0.0, 60.0, "C"), math.exp))


def beer_expansion(temp_c: float) -> float:
    """Return the growth in volume of beer from 20 C, as a fraction.

    dV/V = 2.15200e-4 x + 5.52941e-6 x^2 - 2.94439e-8 x^3 + 3.44936e-10 x^4, x = t - 20

    Args: temp_c: temperature [deg C], 0 to 60. Returns: fraction, 0.0063 at 40 C.

    Raises: OutOfRangeError: outside 0-60 C.

    Assumes: 4 % alcohol by mass, extract expanding like water.

    Checked against: beer_expansion (OIML R 22) within 6e-6 in tests/physics/test_bottle.py.

    References: fit to OIML R 22, R19: computed; above 40 C the source itself is extended.
    """
    return float(expansion_kernel(require("temperature", temp_c, 0.0, 60.0, "C")))


def co2_compressibility(co2_bar: float, temp_c: float) -> float:
    """Return Z of CO2 gas: 1 + (-0.006707 + 7.699e-5 t - 3.817e-7 t^2) p.

    Args: co2_bar: absolute pressure [bar], 0 to 16; temp_c: temperature [deg C], 0 to 50.

    Returns: Z [-]. Raises: OutOfRangeError: outside those ranges. Assumes: pure CO2.

    Checked against: CoolProp, within 0.0025 to 10 bar, in tests/physics/test_bottle.py.

    References: fit, computed.
    """
    require("CO2 pressure", co2_bar, 0.0, 16.0, "bar")
    return 1.0 + float(virial_per_bar(require("temperature", temp_c, 0.0, 50.0, "C"))) * co2_bar


def vapour_kernel(temp: Any, exp: Any) -> Any:
    """Return the Magnus vapour pressure of water [bar] at [deg C]; see vapour_pressure_bar."""
    return 0.0061094 * exp(17.625 * temp / (temp + 243.04))


def expansion_kernel(temp: Any) -> Any:
    """Return the growth of beer from 20 C [fraction] at [deg C]; see beer_expansion."""
    x = temp - 20.0
    return 2.15200e-4 * x + 5.52941e-6 * x**2 - 2.94439e-8 * x**3 + 3.44936e-10 * x**4


def virial_per_bar(temp: Any) -> Any:
    """Return B of Z = 1 + B p [1/bar] at a temperature [deg C]; as co2_compressibility."""
    return -0.006707 + 7.699e-5 * temp - 3.817e-7 * temp**2


def nitrogen_kernel(temp: Any, exp: Any) -> Any:
    """Return the nitrogen that beer dissolves [volumes at 0 C and 1 atm / atm] at [deg C].

    References: from memory.
    """
    return 0.0235 * exp(-0.0205 * temp)


def gas_g_l_bar(temp: Any) -> Any:
    """Return the CO2 in a gas per bar, as an ideal gas [g/(L bar)], at a temperature [deg C].

    References: ideal gas law, textbook.
    """
    return 1e5 * CO2_KG_MOL / (GAS_CONSTANT * (temp + 273.15))


@dataclass(frozen=True)
class Balance:
    """The balance in a bottle, as sealed_bottle describes it, per litre of its size.

    Fields are numbers or arrays of one shape: volumes of CO2, temperatures [deg C], headspace
    [fraction of the bottle], trapped nitrogen [bar], solubilities, vapour [bar].
    """

    vols: Any
    temp: Any
    headspace: Any
    nitrogen: Any
    fill_temp: Any
    solubility: Any
    vapour: Any
    nitrogen_solubility: Any
    swelling: Any

    @cached_property
    def liquid(self) -> Any:
        """Volume of the beer [of the bottle], not squeezed: that does not change what it dissolves.

        As sealed_bottle has it.
        """
        grown = (1.0 + expansion_kernel(self.temp)) / (1.0 + expansion_kernel(self.fill_temp))
        return (1.0 - self.headspace) * grown * (1.0 + self.swelling)

    @cached_property
    def _carbon_dioxide(self) -> tuple[Any, Any, Any, Any]:
        """All CO2 there is, what the liquid holds and a unit of gas holds per bar, and B."""
        return (
            CO2_G_L_PER_VOLUME * self.vols * (1.0 - self.headspace),
            self.solubility * self.liquid,
            gas_g_l_bar(self.temp),
            virial_per_bar(self.temp),
        )

    def gas_space(self, gauge: Any) -> Any:
        """Gas space [of the bottle] at a gauge pressure [bar]; zero or below means liquid-full.

        As sealed_bottle has it; the constants at the top of this file say where they are from.
        """
        glass = 1.0 + GLASS_EXPANSION_PER_K * (self.temp - self.fill_temp)
        stretched = glass * (1.0 + BOTTLE_STRETCH_PER_BAR * gauge)
        return stretched - self.liquid * (1.0 - LIQUID_SQUEEZE_PER_BAR * gauge)

    def co2_bar(self, gas: Any, sqrt: Any) -> Any:
        """Solve a p + k p / (1 + B p) = c for p [bar], the root that tends to c / (a + k).

        The balance of CO2 as sealed_bottle has it.
        """
        total, in_liquid, per_gas, virial = self._carbon_dioxide
        middle = in_liquid + per_gas * gas - total * virial
        return 2.0 * total / (middle + sqrt(middle**2 + 4.0 * in_liquid * virial * total))

    def nitrogen_bar(self, gas: Any) -> Any:
        """Partial pressure of the trapped nitrogen [bar] over a gas space; as sealed_bottle."""
        amount = self.nitrogen * self.headspace / (self.fill_temp + 273.15)
        room = gas / (self.temp + 273.15) + self.nitrogen_solubility * self.liquid / 273.15
        return amount / room

    def pressure_over(self, gas: Any, sqrt: Any) -> Any:
        """Gauge pressure [bar] of the contents with this gas space: their sum; as sealed_bottle."""
        inside = self.co2_bar(gas, sqrt) + self.nitrogen_bar(gas) + WATER_ACTIVITY * self.vapour
        return inside - ATMOSPHERE_BAR
