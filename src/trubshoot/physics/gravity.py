"""Gravity of wort and beer: scales, temperature correction, refractometer, attenuation, alcohol.

SG is the relative density 20/20 C in air, as hydrometers for brewing show it. Source keys (R1 ...)
are those of the physics chapter of the reference pages.
"""

from __future__ import annotations

from typing import Literal

from trubshoot.errors import OutOfRangeError
from trubshoot.physics.limits import require

GLASS_EXPANSION_PER_K = 25e-6  # cubic, soda-lime glass; from memory, 25-27e-6
SUCROSE_POINTS_PER_G_L = 0.3863  # 386.3 points for 1 kg in 1 L: computed; 386.5 read in R1
BALLING_EXTRACT_G = 2.0665  # g extract for 1 g ethanol; read, R13
BALLING_CO2_G = 0.9565  # g CO2 with it; read, R13
BALLING_YEAST_G = 0.11  # g yeast with it; read, R13
LOWEST_FITTED_ATTENUATION = 0.61  # of the refractometer fits; read, R16
WATER_20C_KG_L = 0.9982  # density of water at 20 C, to turn SG into g/L

SG_LOW, SG_HIGH = 0.990, 1.120


def plato_from_sg(sg: float) -> float:
    """Return the extract of a wort in degrees Plato.

    P = -616.868 + 1111.14 SG - 630.272 SG^2 + 135.997 SG^3

    Args:
        sg: specific gravity 20/20 C [-], 1.000 to 1.120.

    Returns: extract [% by mass]; -0.003 at SG 1.000.

    Raises: OutOfRangeError: outside 1.000-1.120; for beer below 1.000 use apparent_extract_plato.

    Assumes: the solids behave like sucrose. Agrees with sucrose tables within 0.02 P to 25 P.

    Checked against: USDA table rows, plato_sg_pairs, in tests/physics/test_gravity.py.

    References: fit to the ASBC table, read in R1 and R2. Worked: SG 1.050 is 12.39 P.
    """
    return _plato(require("wort gravity", sg, 1.000, SG_HIGH, "SG"))


def apparent_extract_plato(sg: float) -> float:
    """Return the apparent extract of a beer in degrees Plato, negative when it is below 1.000.

    The cubic of plato_from_sg. Below 1.000 there is no sucrose solution to compare with; apparent
    extract is there a convention, and three published forms agree within 0.02 P down to 0.990.

    Args:
        sg: specific gravity of the beer 20/20 C [-], 0.990 to 1.120.

    Returns: apparent extract [% by mass], -2.61 at SG 0.990.

    Raises: OutOfRangeError: outside 0.990-1.120.

    Assumes: nothing about the alcohol, which is why the extract is called apparent.

    Checked against: the De Clerck quadratic and 259 - 259/SG in tests/physics/test_gravity.py.

    References: R1, R2 (both read); that 0.990-1.000 occurs: computed from ethanol-water density.
    """
    return _plato(require("gravity", sg, SG_LOW, SG_HIGH, "SG"))


def _plato(sg: float) -> float:
    return -616.868 + 1111.14 * sg - 630.272 * sg**2 + 135.997 * sg**3


def sg_from_plato(plato: float) -> float:
    """Return the specific gravity of a wort of the given extract.

    SG = 1 + P / (258.6 - 227.1 P / 258.2)

    Args:
        plato: extract [% by mass], 0 to 30.

    Returns: specific gravity 20/20 C [-].

    Raises: OutOfRangeError: outside 0-30 P.

    Assumes: solids like sucrose. Within 0.00006 SG of the sucrose table to 30 P.

    Checked against: plato_sg_pairs in tests/physics/test_gravity.py. Worked: 12 P is 1.0484.

    References: read in R2.
    """
    require("extract", plato, 0.0, 30.0, "P")
    return 1.0 + plato / (258.6 - 227.1 * plato / 258.2)


def water_density_kg_m3(temp_c: float) -> float:
    """Return the density of air-free water at one atmosphere.

    rho = 999.974950 (1 - (t - 3.983035)^2 (t + 301.797) / (522528.9 (t + 69.34881)))

    Args:
        temp_c: temperature [deg C], 0 to 50.

    Returns: density [kg/m3].

    Raises: OutOfRangeError: outside 0-50 C.

    Assumes: nothing else. Stated for 0-40 C; from 40 to 50 C within 0.01 kg/m3 of IAPWS-95.

    Checked against: IAPWS-95 (iapws, CoolProp) and water_density in tests/physics/test_gravity.py.

    References: form of Tanaka 2001, from memory.
    """
    t = require("water temperature", temp_c, 0.0, 50.0, "C")
    lift = (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881))
    return 999.974950 * (1.0 - lift)


def hydrometer_corrected_sg(
    reading_sg: float,
    sample_c: float,
    scale_c: float,
    glass_per_k: float = GLASS_EXPANSION_PER_K,
) -> float:
    """Return the gravity at the temperature of the scale, from a reading at another temperature.

    SG = r rho_w(t_scale) / (rho_w(t) (1 + g (t - t_scale)))

    Args:
        reading_sg: what the hydrometer shows [-], 0.980 to 1.170.
        sample_c: temperature of the sample [deg C], 0 to 50; hot wort must be cooled first.
        scale_c: temperature the instrument is made for [deg C], 10 to 30; usually 15, 15.6 or 20.
        glass_per_k: cubic expansion of the float [1/K], 0 to 3e-5; 0 gives the usual tables.

    Returns: corrected gravity [-]: a warm sample reads low, a cold one reads high.

    Raises: OutOfRangeError: outside those ranges.

    Assumes: wort and beer expand like water (4 % alcohol adds under 0.0003 at 4-40 C).

    Checked against: hydrometer_temp_correction (130 rows) in tests/physics/test_gravity.py.
    Worked: 1.012 at 30 C on a 20 C instrument is 1.0143.

    References: R7 (read, a 15 C table that leaves out the glass); glass term from memory.
    """
    require("hydrometer reading", reading_sg, 0.980, 1.170, "SG")
    require("sample temperature", sample_c, 0.0, 50.0, "C")
    require("scale temperature", scale_c, 10.0, 30.0, "C")
    require("glass expansion", glass_per_k, 0.0, 3e-5, "1/K")
    float_growth = 1.0 + glass_per_k * (sample_c - scale_c)
    ratio = water_density_kg_m3(scale_c) / (water_density_kg_m3(sample_c) * float_growth)
    return reading_sg * ratio


def wort_corrected_brix(brix: float, factor: float = 1.04) -> float:
    """Return the refractometer reading divided by the wort correction factor.

    Args:
        brix: reading of the instrument [Brix], 0 to 32.
        factor: wort correction factor [-], 1.00 to 1.06; 1.04 is usual; find your own.

    Returns: corrected reading [Brix].

    Raises: OutOfRangeError: outside those ranges.

    Assumes: the factor was found with wort, not with sugar water.

    Checked against: tests/physics/test_gravity.py.

    References: R16 (read).
    """
    require("refractometer reading", brix, 0.0, 32.0, "Brix")
    return brix / require("wort correction factor", factor, 1.00, 1.06)


def refractometer_final_sg(
    first_brix: float, present_brix: float, fit: Literal["linear", "cubic"] = "linear"
) -> float:
    """Return the gravity of a fermented beer from two refractometer readings.

    linear: 1.0000 - 0.00085683 a + 0.0034941 b
    cubic: 1.0000 - 0.0044993 a + 0.011774 b + 0.00027581 a^2 - 0.0012717 b^2 - 0.00000728 a^3
    + 0.000063293 b^3, where a is the first and b the present reading.

    Args:
        first_brix: wort-corrected reading before fermentation [Brix], 5 to 27.
        present_brix: wort-corrected reading now [Brix], 1 to 20.
        fit: which of the two published regressions.

    Returns: gravity [-], standard deviation 1.2 points: never enough to clear a beer for bottling.

    Raises: OutOfRangeError: outside those ranges, and when the result means less than 61 %
        apparent attenuation, where the regressions were not made: they cannot judge a stuck beer.

    Assumes: both readings from the same instrument, corrected by the same factor.

    Checked against: refractometer_fg in tests/physics/test_gravity.py. Worked: 12, 6: 1.0107.

    References: R16, 68 beers (read). The range of the first reading is a judgement.
    """
    a = require("first refractometer reading", first_brix, 5.0, 27.0, "Brix")
    b = require("present refractometer reading", present_brix, 1.0, 20.0, "Brix")
    if fit == "linear":
        sg = 1.0000 - 0.00085683 * a + 0.0034941 * b
    else:
        sg = 1.0000 - 0.0044993 * a + 0.011774 * b + 0.00027581 * a**2
        sg += -0.0012717 * b**2 - 0.00000728 * a**3 + 0.000063293 * b**3
    attenuation = (sg_from_plato(a) - sg) / (sg_from_plato(a) - 1.0)
    if not LOWEST_FITTED_ATTENUATION <= attenuation <= 1.15:
        raise OutOfRangeError(
            "apparent attenuation by refractometer", attenuation, LOWEST_FITTED_ATTENUATION, 1.15
        )
    return sg


def apparent_attenuation(og: float, fg: float) -> float:
    """Return the share of the gravity points that is gone: (OG - FG) / (OG - 1).

    Args:
        og: original gravity [-], 1.010 to 1.120.
        fg: present gravity [-], 0.990 up to og.

    Returns: apparent attenuation [fraction]; above 1 when the beer is below 1.000.

    Raises: OutOfRangeError: outside those ranges; a gravity above the original is refused.

    Assumes: both readings corrected to the same temperature.

    Checked against: sugar ending at 122.8 %, in tests/physics/test_gravity.py.

    References: common practice.
    """
    _require_pair(og, fg)
    return (og - fg) / (og - 1.0)


def apparent_degree_of_fermentation(og: float, fg: float) -> float:
    """Return the apparent attenuation on the Plato scale: (OE - AE) / OE.

    Args and Raises: as apparent_attenuation.

    Returns: fraction; within 0.01 of apparent_attenuation.

    Assumes: as plato_from_sg. Checked against: abv_attenuation in tests/physics/test_gravity.py.

    References: common practice.
    """
    _require_pair(og, fg)
    original = plato_from_sg(og)
    return (original - apparent_extract_plato(fg)) / original


def real_extract_plato(og: float, fg: float) -> float:
    """Return the extract really left in the beer, alcohol set aside.

    RE = 0.1808 OE + 0.8192 AE

    Args and Raises: as apparent_attenuation.

    Returns: real extract [% by mass].

    Assumes: a beer fermented by brewing yeast. Small systematic differences are known (R18).

    Checked against: abv_attenuation in tests/physics/test_gravity.py.

    References: R2, R13 (read).
    """
    _require_pair(og, fg)
    return 0.1808 * plato_from_sg(og) + 0.8192 * apparent_extract_plato(fg)


def real_degree_of_fermentation(og: float, fg: float) -> float:
    """Return the real attenuation (OE - RE) / OE, about 0.82 of the apparent one.

    Args and Raises: as apparent_attenuation. Returns: fraction. Assumes: as real_extract_plato.

    Checked against: abv_attenuation in tests/physics/test_gravity.py. References: R17 (read).
    """
    original = plato_from_sg(og)
    return (original - real_extract_plato(og, fg)) / original


def alcohol_by_mass_pct(og: float, fg: float) -> float:
    """Return the alcohol of the beer by mass, after Balling.

    A = (OE - RE) / (2.0665 - 0.010665 OE)

    Args and Raises: as apparent_attenuation.

    Returns: alcohol [% by mass].

    Assumes: 2.0665 g extract give 1 g ethanol, 0.9565 g CO2 and 0.11 g yeast.

    Checked against: abv_attenuation, and OE = 100 (2.0665 A + RE) / (100 + 1.0665 A), in
    tests/physics/test_gravity.py.

    References: R2, R13 (read).
    """
    original = plato_from_sg(og)
    left = real_extract_plato(og, fg)
    return (original - left) / (BALLING_EXTRACT_G - 0.010665 * original)


def alcohol_by_volume_pct(og: float, fg: float) -> float:
    """Return the alcohol of the beer by volume: A x SG / 0.7907.

    Args and Raises: as apparent_attenuation.

    Returns: alcohol [% by volume]; print it with one decimal and "about": usual formulas differ
        by 1 % by volume at OG 1.100.

    Assumes: as alcohol_by_mass_pct.

    Checked against: abv_attenuation and the rule 131.25 (OG - FG) in tests/physics/test_gravity.py.

    References: 0.7907 from memory. Worked: 1.050 to 1.010 is about 5.3 %.
    """
    return alcohol_by_mass_pct(og, fg) * fg / 0.7907


def real_extract_per_point_g_l(og: float, sg: float) -> float:
    """Return the extract really fermented in a litre while the gravity falls by one point.

    F = 2.0665 A x 10 SG x 0.9982 [g/L]; the slope of F over one point around sg.

    Args:
        og: original gravity [-], 1.020 to 1.110.
        sg: present gravity [-], 0.991 to og - 0.001.

    Returns: real extract [g/L per 0.001 SG of apparent fall], 2.15 to 2.20.

    Raises: OutOfRangeError: outside those ranges.

    Assumes: Balling at constant original gravity; the alcohol formed lowers the reading too.

    Checked against: gravity_point_co2 in tests/physics/test_sugar.py.

    References: R13 (read), slope computed.
    """
    require("original gravity", og, 1.020, 1.110, "SG")
    require("gravity", sg, 0.991, og - 0.001, "SG")

    def fermented_g_l(at: float) -> float:
        return BALLING_EXTRACT_G * alcohol_by_mass_pct(og, at) * 10.0 * at * WATER_20C_KG_L

    return fermented_g_l(sg - 0.0005) - fermented_g_l(sg + 0.0005)


def _require_pair(og: float, fg: float) -> None:
    require("original gravity", og, 1.010, SG_HIGH, "SG")
    require("gravity", fg, SG_LOW, og, "SG")
