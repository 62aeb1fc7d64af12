"""Carbon dioxide from sugar: priming, and what an unfinished fermentation still gives.

A point (0.001 SG) that a beer still FALLS and a point of sugar just ADDED are different things and
have different functions. Source keys (R1 ...) are those of the physics chapter of the reference
pages.
"""

from __future__ import annotations

import math
from typing import Literal

from trubshoot.physics.carbonation import (
    CO2_G_L_PER_VOLUME,
    VOLS_HIGH,
    co2_vols_from_g_l,
)
from trubshoot.physics.gravity import (
    BALLING_CO2_G,
    BALLING_EXTRACT_G,
    real_extract_per_point_g_l,
)
from trubshoot.physics.limits import require

CO2_G_MOL = 44.0095
SUCROSE_G_MOL, GLUCOSE_G_MOL = 342.297, 180.156
CO2_PER_HEXOSE = 2  # C6H12O6 gives two ethanol and two CO2
VOLS_PER_POINT = 0.52  # central, fermented inside the bottle; +-0.02: computed, judgement
VOLS_PER_POINT_UPPER = 0.57  # all disaccharide, no yeast growth: computed
VOLS_PER_ADDED_POINT = 0.67  # sucrose just added, none of it fermented yet: computed


def stoichiometric_yield_g_g(
    hexose_units: int, sugar_g_mol: float, co2_g_mol: float = CO2_G_MOL
) -> float:
    """Return the most CO2 that one gram of a sugar can give: two molecules per hexose unit.

    y = 2 n M(CO2) / M(sugar)

    Args:
        hexose_units: hexose units in the molecule [-], 1 to 10.
        sugar_g_mol: molar mass of the sugar as weighed, water of crystallisation included [g/mol].
        co2_g_mol: molar mass of CO2 [g/mol].

    Returns: yield [g/g]: sucrose 0.5143, glucose 0.4886, its monohydrate 0.4442.

    Raises: OutOfRangeError: outside 1-10 units or 150-2000 g/mol.

    Assumes: all sugar fermented, nothing used for growth; in a bottle 0.90 to 1.00 of it is true.

    Checked against: molar masses of the chemicals package, sugar_co2_yield, in
    tests/physics/test_sugar.py.

    References: stoichiometry; 0.90 from R13 (read).
    """
    require("hexose units", hexose_units, 1, 10)
    require("molar mass of the sugar", sugar_g_mol, 150.0, 2000.0, "g/mol")
    return CO2_PER_HEXOSE * hexose_units * co2_g_mol / sugar_g_mol


def vols_from_sugar(mass_g: float, volume_l: float, yield_g_g: float) -> float:
    """Return the volumes that priming sugar adds: y m / (1.977 V).

    Args:
        mass_g: sugar [g], 0 to 20000.
        volume_l: beer actually bottled [L], 0.1 to 1000; not the size of the fermenter.
        yield_g_g: CO2 per gram of this sugar [g/g], 0 to 0.53; data, see stoichiometric_yield_g_g.

    Returns: volumes [-].

    Raises: OutOfRangeError: outside those ranges, and when the result is above 20 volumes.

    Assumes: evenly mixed and fully fermented.

    Checked against: priming_examples in tests/physics/test_sugar.py. Worked: 130 g sucrose
    in 20 L add 1.69 volumes.

    References: R13, R21, R29 (read).
    """
    require("sugar", mass_g, 0.0, 20000.0, "g")
    require("volume bottled", volume_l, 0.1, 1000.0, "L")
    require("CO2 yield of the sugar", yield_g_g, 0.0, 0.53, "g/g")
    return co2_vols_from_g_l(yield_g_g * mass_g / volume_l)


def grams_for_target(
    target_vols: float, present_vols: float, volume_l: float, yield_g_g: float
) -> float:
    """Return the sugar that brings beer to a target: 1.977 V (N - N_present) / y.

    Args:
        target_vols: wanted in total [-], present_vols to 6.
        present_vols: already in the beer [-], 0 to 3; a low figure gives too much sugar.
        volume_l: beer actually bottled [L], 0.1 to 1000.
        yield_g_g: CO2 per gram of this sugar [g/g], 0.2 to 0.53.

    Returns: sugar [g].

    Raises: OutOfRangeError: outside those ranges; a target below what is there is refused.

    Assumes: fermentation is over: sugar still in the beer comes on top.

    Checked against: vols_from_sugar, its inverse, in tests/physics/test_sugar.py.

    References: as vols_from_sugar.
    """
    require("present carbonation", present_vols, 0.0, 3.0, "volumes")
    require("target carbonation", target_vols, present_vols, 6.0, "volumes")
    require("volume bottled", volume_l, 0.1, 1000.0, "L")
    require("CO2 yield of the sugar", yield_g_g, 0.2, 0.53, "g/g")
    return CO2_G_L_PER_VOLUME * volume_l * (target_vols - present_vols) / yield_g_g


def vols_from_points_left(points: float, vols_per_point: float = VOLS_PER_POINT) -> float:
    """Return the volumes that gravity points still to fall will add in the sealed bottle.

    Args:
        points: apparent fall still to come [0.001 SG], 0 to 35; the drop a hydrometer would show.
        vols_per_point: 0.50 to 0.57: VOLS_PER_POINT central, VOLS_PER_POINT_UPPER for safety.

    Returns: volumes [-].

    Raises: OutOfRangeError: outside those ranges.

    Assumes: an apparent fall. For sugar just ADDED see vols_from_added_points.

    Checked against: gravity_point_co2 in tests/physics/test_sugar.py. Worked: 1.018 to 1.010
    adds 4.16 volumes, 4.56 at most.

    References: computed from Balling (R13, read); cask practice agrees (R32, read).
    """
    require("points still to fall", points, 0.0, 35.0, "points")
    require("volumes per point", vols_per_point, 0.50, 0.57, "volumes")
    return points * vols_per_point


def vols_from_added_points(points: float) -> float:
    """Return the volumes from table sugar that raised the gravity by so many points: 0.67 each.

    Args: points: rise by added sucrose [0.001 SG], 0 to 20. Returns: volumes [-].

    Raises: OutOfRangeError: outside 0-20 points.

    Assumes: sucrose, 2.589 g/L per point, stoichiometric; its own alcohol has not yet lowered SG.

    Checked against: priming_examples, gravity_point_co2, in tests/physics/test_sugar.py.

    References: computed; published examples give 0.61 to 0.71 (read).
    """
    return VOLS_PER_ADDED_POINT * require("points of added sugar", points, 0.0, 20.0, "points")


def vols_per_point(
    og: float, sg: float, basis: Literal["balling", "hexose", "disaccharide"] = "balling"
) -> float:
    """Return the volumes one point of apparent fall gives in a given beer.

    Real extract per point (see gravity.py) times the CO2 yield of the extract, over 1.977.

    Args:
        og: original gravity [-], 1.020 to 1.110.
        sg: gravity around which it falls [-], 0.991 to og - 0.001.
        basis: yield of the extract: Balling 0.4629 g/g (yeast grows), hexose or disaccharide.

    Returns: volumes per 0.001 SG [-], 0.50 to 0.57.

    Raises: OutOfRangeError: outside those ranges.

    Assumes: as real_extract_per_point_g_l.

    Checked against: gravity_point_co2 in tests/physics/test_sugar.py.

    References: R13 (read), computed.
    """
    yields = {
        "balling": BALLING_CO2_G / BALLING_EXTRACT_G,
        "hexose": stoichiometric_yield_g_g(1, GLUCOSE_G_MOL),
        "disaccharide": stoichiometric_yield_g_g(2, SUCROSE_G_MOL),
    }
    return real_extract_per_point_g_l(og, sg) * yields[basis] / CO2_G_L_PER_VOLUME


def vols_spread(
    sugar_vols: float,
    sugar_share_sigma: float,
    reading_sigma_points: float,
    limit_sigma_points: float,
    residual_sigma_vols: float = 0.1,
) -> float:
    """Return the standard deviation of the total volumes in a bottle, to first order.

    s^2 = s_residual^2 + (N_sugar s_share)^2 + 0.52^2 (s_reading^2 + s_limit^2)

    Args:
        sugar_vols: volumes from priming sugar [-], 0 to 20.
        sugar_share_sigma: weighing, volume and mixing together, as a share [-], 0 to 1.
        reading_sigma_points: of the gravity at bottling [points], 0 to 10.
        limit_sigma_points: of the lowest gravity the beer can reach [points], 0 to 15.
        residual_sigma_vols: of the CO2 already there [-], 0 to 0.5.

    Returns: standard deviation [volumes]; 95 % lie under N + 1.645 s, 99 % under N + 2.326 s.

    Raises: OutOfRangeError: outside those ranges.

    Assumes: independent errors. Checked against: mc_worked_example (200000 draws) within 0.06
    volumes, in tests/physics/test_sugar.py. References: computed.
    """
    require("volumes from sugar", sugar_vols, 0.0, VOLS_HIGH, "volumes")
    require("share of the sugar that is uncertain", sugar_share_sigma, 0.0, 1.0)
    require("spread of the reading", reading_sigma_points, 0.0, 10.0, "points")
    require("spread of the limit", limit_sigma_points, 0.0, 15.0, "points")
    require("spread of the residual", residual_sigma_vols, 0.0, 0.5, "volumes")
    from_gravity = VOLS_PER_POINT * math.hypot(reading_sigma_points, limit_sigma_points)
    return math.hypot(residual_sigma_vols, sugar_vols * sugar_share_sigma, from_gravity)
