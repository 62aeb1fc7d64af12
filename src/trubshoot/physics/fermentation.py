"""What a fermentation should do: final gravity from ingredients and yeast, pitching, days to end.

Ingredient, yeast and sugar figures are data and are passed in. Source keys (S..) are those of the
fermentation chapter of the reference pages.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from trubshoot.physics.limits import require

REAL_TO_APPARENT = 0.814  # 52 determinations: read, S93
REFERENCE_YEAST_AA_PCT = 80.0  # the middle ale yeast the ingredient figures are made for: judgement
SIGMA_AA_PCT = {  # spread of the predicted apparent attenuation, fermentation 3.5: judgement
    "brewed before": 2.0,
    "malt, mash and yeast class known": 3.0,
    "named pale extract": 4.0,
    "kit or dark extract": 7.0,
    "unknown": 9.0,
    "diastatic yeast": 4.0,
}
PITCH_NORM_M_ML_P = {"ale": 0.75, "lager": 1.5}  # million cells per ml and degree P: read, S49
DRY_LOSS_PER_YEAR = {4.0: 0.04, 20.0: 0.20}  # read, S54
LIQUID_LOSS_PER_MONTH_4_C = 0.225  # 20-25 % by common rule: read, S56
# Days to within one point of the end at OG 1.050, normal pitch: (deg C, low, high): judgement on
# the rows of fermentation 1.2. The warmest row holds up to the temperature after it.
ALE_DAYS = ((15.0, 8.0, 14.0), (18.0, 6.0, 9.0), (20.0, 5.0, 7.0), (22.0, 4.0, 6.0))
LAGER_DAYS = ((8.0, 14.0, 24.0), (10.0, 10.0, 18.0), (12.0, 8.0, 14.0))
KVEIK_DAYS = ((30.0, 2.0, 4.0), (35.0, 2.0, 3.0))
DAYS_OF = {"ale": ALE_DAYS, "lager": LAGER_DAYS, "kveik": KVEIK_DAYS}  # by the pace of a yeast


@dataclass(frozen=True)
class Ingredient:
    """What one ingredient brings to the wort."""

    points: float  # gravity points it adds to the whole batch
    rdf_pct: float  # real degree of fermentation by the reference yeast, 0 lactose, 100 sugar
    malt: bool = True  # whether its attenuation follows the yeast class; sugars do not


@dataclass(frozen=True)
class ExpectedGravity:
    """A predicted final gravity."""

    og: float
    fg: float
    sigma_points: float
    apparent_attenuation: float

    @property
    def low_95(self) -> float:
        """The lower end of the 95 % band [SG], the unfavourable one for bottles.

        As expected_final_gravity has it.
        """
        return self.fg - 1.96e-3 * self.sigma_points

    @property
    def high_95(self) -> float:
        """The upper end of the 95 % band [SG]; see expected_final_gravity."""
        return self.fg + 1.96e-3 * self.sigma_points


@dataclass(frozen=True)
class Band:
    """A figure with a low and a high end."""

    low: float
    central: float
    high: float


def expected_final_gravity(
    ingredients: Sequence[Ingredient],
    yeast_aa_pct: float,
    sigma_aa_pct: float,
    attenuation_shift_pct: float = 0.0,
) -> ExpectedGravity:
    """Return the final gravity to expect from the ingredients and the class of yeast.

    FG points = sum g (1 - a), a = RDF / 0.814; malt follows the yeast class: a x AA / 80.

    Args:
        ingredients: at least one; points in the whole batch 0 to 120, RDF 0 to 100 %.
        yeast_aa_pct: middle apparent attenuation of the yeast class [%], 50 to 105; data.
        sigma_aa_pct: spread of the attenuation [%], 1 to 15; see SIGMA_AA_PCT.
        attenuation_shift_pct: added to the attenuation of the malt [%], -40 to 5; see
            mash_attenuation_shift_pct.

    Returns: ExpectedGravity; sugar alone ends below 1.000.

    Raises: OutOfRangeError: outside those ranges; original gravity must be 1.010 to 1.120.

    Assumes: a healthy fermentation. Never predict from the yeast alone: in extract beer the wort
        decides.

    Checked against: brewed series of fermentation_series_points and the 10 P sugar solution ending
    at 0.9915, in tests/physics/test_fermentation.py.

    References: S93, S70b (read); scaling by class and spreads are judgements.
    """
    require("number of ingredients", len(ingredients), 1, 1000)
    require("attenuation of the yeast", yeast_aa_pct, 50.0, 105.0, "%")
    require("spread of the attenuation", sigma_aa_pct, 1.0, 15.0, "%")
    require("shift of the attenuation", attenuation_shift_pct, -40.0, 5.0, "%")
    left = total = 0.0
    for ingredient in ingredients:
        points = require("points of an ingredient", ingredient.points, 0.0, 120.0, "points")
        rdf = require("real degree of fermentation", ingredient.rdf_pct, 0.0, 100.0, "%")
        apparent = rdf / 100.0 / REAL_TO_APPARENT
        if ingredient.malt and rdf > 0.0:
            apparent *= yeast_aa_pct / REFERENCE_YEAST_AA_PCT
            apparent = max(apparent + attenuation_shift_pct / 100.0, 0.0)
        # nothing ends lower than pure sugar
        left += points * (1.0 - min(apparent, 1.0 / REAL_TO_APPARENT))
        total += points
    require("original gravity", 1.0 + total / 1000.0, 1.010, 1.120, "SG")
    return ExpectedGravity(
        og=1.0 + total / 1000.0,
        fg=1.0 + left / 1000.0,
        sigma_points=total * sigma_aa_pct / 100.0,
        apparent_attenuation=1.0 - left / total,
    )


def mash_attenuation_shift_pct(mash_c: float, minutes: float = 60.0) -> float:
    """Return how the mash moves the attenuation of the malt from that of a 63-67 C mash.

    -2 % per degree from 67 to 70 C, -4 % above; -3 % under 30 minutes, +1 % from 75 minutes.

    Args:
        mash_c: mash temperature [deg C], 62 to 78.
        minutes: mash time [min], 10 to 240.

    Returns: shift of the apparent attenuation [%].

    Raises: OutOfRangeError: outside those ranges.

    Assumes: well-modified malt; a home thermometer adds 2 to 4 % of doubt.

    Checked against: published 82/70/50 % at 65/70/75 C lie within 6 % of 81 % plus the shift, in
    tests/physics/test_fermentation.py.

    References: S37, S35, S95 (read); the numbers are judgements.
    """
    require("mash temperature", mash_c, 62.0, 78.0, "C")
    require("mash time", minutes, 10.0, 240.0, "min")
    warm = 2.0 * (min(max(mash_c, 67.0), 70.0) - 67.0) + 4.0 * max(mash_c - 70.0, 0.0)
    by_time = -3.0 if minutes < 30.0 else 1.0 if minutes >= 75.0 else 0.0
    return by_time - warm


def pitch_rate_m_ml_p(cells_billion: float, volume_l: float, plato: float) -> float:
    """Return the pitching rate: cells / (volume x extract).

    Args:
        cells_billion: living cells [10^9], 0 to 100000.
        volume_l: wort [L], 0.5 to 1000.
        plato: extract of the wort [% by mass], 2 to 30.

    Returns: million cells per ml and degree Plato; norms in PITCH_NORM_M_ML_P.

    Raises: OutOfRangeError: outside those ranges. Assumes: cells counted after losses.

    Checked against: 11.5 g at 6, 12.5 and 20 billion per gram in 20 L of 12 P: 0.29, 0.60, 0.96, in
    tests/physics/test_fermentation.py.

    References: S49, S50 (read).
    """
    require("cells", cells_billion, 0.0, 1e5, "billion")
    require("volume", volume_l, 0.5, 1000.0, "L")
    return cells_billion / volume_l / require("extract", plato, 2.0, 30.0, "P")


def cells_needed_billion(volume_l: float, plato: float, norm_m_ml_p: float = 0.75) -> float:
    """Return the living cells a norm asks for: norm x volume x extract.

    Args: volume_l, plato: as pitch_rate_m_ml_p; norm_m_ml_p: 0.2 to 3, see PITCH_NORM_M_ML_P.

    Returns: cells [10^9]. Raises: OutOfRangeError: outside those ranges.

    Assumes: the norm is a habit: half of it is a risk, no verdict (tasters told no difference).

    Checked against: pitch_rate_m_ml_p, its inverse. References: S49, S97 (read).
    """
    require("volume", volume_l, 0.5, 1000.0, "L")
    require("pitching norm", norm_m_ml_p, 0.2, 3.0, "million/ml/P")
    return norm_m_ml_p * volume_l * require("extract", plato, 2.0, 30.0, "P")


def dry_yeast_viability(age_days: float, stored_c: float) -> Band:
    """Return the share of dry yeast still alive: exp(-k age), k doubling with every 6.5 C.

    4 % lost a year at 4 C, 20 % at 20 C, between and beyond by equal ratios (2.9 per 10 C).

    Args:
        age_days: time since it was packed [days], 0 to 3650.
        stored_c: mean storage temperature [deg C], -25 to 30; hotter is worse than this law.

    Returns: Band [fraction]: central by the law; low with 3.1 times the rate (50 % a year at 20 C
        is claimed too), high with half of it.

    Raises: OutOfRangeError: outside those ranges; an opened or hot packet is "not known".

    Assumes: sealed packet. Checked against: the two read points, in
    tests/physics/test_fermentation.py. References: S54 (read, with its own disagreement).
    """
    require("age of the yeast", age_days, 0.0, 3650.0, "days")
    require("storage temperature", stored_c, -25.0, 30.0, "C")
    cold, warm = (-math.log1p(-DRY_LOSS_PER_YEAR[at]) for at in (4.0, 20.0))
    rate = cold * (warm / cold) ** ((stored_c - 4.0) / 16.0) * age_days / 365.25
    worst = math.log(0.5) / math.log(0.8)
    return Band(math.exp(-worst * rate), math.exp(-rate), math.exp(-0.5 * rate))


def liquid_yeast_viability(age_days: float, stored_c: float = 4.0, q10: float = 3.0) -> Band:
    """Return the share of liquid yeast still alive: 22.5 % lost a month at 4 C, faster when warm.

    exp(-k age), k = 0.0085 per day x q10^((t - 4) / 10); the loss is uncertain by 40 % of itself.

    Args:
        age_days: time since it was made [days], 0 to 365.
        stored_c: mean storage temperature [deg C], 0 to 25.
        q10: rise of the loss per 10 C [-], 1 to 6; 3 is a judgement.

    Returns: Band [fraction].

    Raises: OutOfRangeError: outside those ranges; frozen or hot packs are "not known".

    Assumes: sealed pack. Slurry dies faster: up to 68 % in six days at 10-25 C.

    Checked against: 20-25 % a month at 4 C, in tests/physics/test_fermentation.py.

    References: S56, S57 (read); q10 and 40 % are judgements.
    """
    require("age of the yeast", age_days, 0.0, 365.0, "days")
    require("storage temperature", stored_c, 0.0, 25.0, "C")
    require("factor per 10 C", q10, 1.0, 6.0)
    rate = -math.log1p(-LIQUID_LOSS_PER_MONTH_4_C) / 30.0 * q10 ** ((stored_c - 4.0) / 10.0)
    loss = -math.expm1(-rate * age_days)
    return Band(max(1.0 - 1.4 * loss, 0.0), 1.0 - loss, 1.0 - 0.6 * loss)


def days_to_end(
    table: Sequence[tuple[float, float, float]],
    temp_c: float,
    og: float = 1.050,
    warm_reach_c: float = 4.0,
) -> Band:
    """Return the days from pitching to within one point of the end.

    By straight lines through the table; one day more per 10 points of original gravity above 1.050.

    Args:
        table: rows of (deg C, low days, high days), coldest first, such as ALE_DAYS.
        temp_c: temperature of the beer [deg C], from the first row to the last plus warm_reach_c.
        og: original gravity [-], 1.020 to 1.120.
        warm_reach_c: how far above its last row the last row is held [deg C], 0 to 6.

    Returns: Band [days].

    Raises: OutOfRangeError: outside those ranges: colder than the table is "not known".

    Assumes: normal pitch (half a pitch costs up to half as long in the first two days, little by
        the end). One day of error is usual for ale, two or three for lager.

    Checked against: brewed series of fermentation_series_points, in
    tests/physics/test_fermentation.py.

    References: judgement on S8, S10-S19 (read).
    """
    coldest, warmest = table[0][0], table[-1][0]
    require("warm reach", warm_reach_c, 0.0, 6.0, "C")
    require("beer temperature", temp_c, coldest, warmest + warm_reach_c, "C")
    require("original gravity", og, 1.020, 1.120, "SG")
    low, high = table[-1][1:]
    for (cold, low_cold, high_cold), (warm, low_warm, high_warm) in pairwise(table):
        if cold <= temp_c <= warm:
            share = (temp_c - cold) / (warm - cold)
            low = low_cold + share * (low_warm - low_cold)
            high = high_cold + share * (high_warm - high_cold)
            break
    extra = max(1000.0 * (og - 1.050), 0.0) / 10.0
    return Band(low + extra, 0.5 * (low + high) + extra, high + extra)
