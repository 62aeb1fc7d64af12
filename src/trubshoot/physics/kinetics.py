"""Time: is the gravity still falling, how fast does sugar turn into gas, when is a limit reached.

Source keys (R.., S..) are those of the physics and fermentation chapters of the reference pages.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from trubshoot.errors import OutOfRangeError
from trubshoot.physics.limits import require, require_each
from trubshoot.physics.sugar import VOLS_PER_POINT_UPPER

ONE_SIDED_95 = 1.645
# upper 5 % points of the range of 3 to 10 normal readings, in units of their spread
_RANGE_95 = (3.314, 3.633, 3.858, 4.030, 4.170, 4.286, 4.387, 4.474)
Q10_PRIMING = 2.3  # from memory, 2-2.5
PRIMING_PER_DAY = 0.25  # central rate at 20 C, 90 % in 9 days: judgement
PRIMING_SLOW_PER_DAY = 0.07  # tired yeast at 20 C: judgement
FAST_DAYS_AT_20_C, FAST_DAYS_AT_15_C = 1.5, 3.0  # read as a forum claim, R61; judgement
TEMP_HIGH_C, SG_LOW, SG_HIGH = 45.0, 0.980, 1.170


@dataclass(frozen=True)
class Slope:
    """How fast the gravity falls, from a straight line through readings."""

    points_per_day: float  # positive when it falls
    standard_error: float  # from the given spread of a reading, not from the scatter
    fall_not_excluded: float  # one-sided 95 % upper value of the fall, never below 0
    readings: int
    span_days: float
    worst_residual_points: float  # largest distance of a reading from the line


def gravity_slope(
    days: Sequence[float], readings_sg: Sequence[float], reading_sigma_points: float = 1.0
) -> Slope:
    """Return the fall of gravity per day, its standard error and the fall not excluded at 95 %.

    se = s / sqrt(sum (t - mean t)^2); bound = b + 1.645 se, for any spacing of the readings.

    Args:
        days: times of the readings [days], at least two different ones.
        readings_sg: corrected gravities [-], 0.980 to 1.170, as many as days.
        reading_sigma_points: spread of one reading [points], 0.2 to 5: 0.5-0.7 for degassed samples
            at 20 C by one person, 1.0 ordinarily, 2 with gas or mixed temperatures.

    Returns: Slope. A steady reading shows slow, not finished.

    Raises: OutOfRangeError: outside those ranges, for fewer than two times, or for unequal lengths.

    Assumes: independent errors; a constant error of the instrument cancels.

    Checked against: the table of the fermentation chapter, section 7.2, in
    tests/physics/test_kinetics.py. Worked: three daily readings of spread 1: 1.16 points per day.

    References: least squares; spreads are judgements.
    """
    require("number of readings", len(days), 2, 10000)
    require("number of gravities", len(readings_sg), len(days), len(days))
    require("spread of a reading", reading_sigma_points, 0.2, 5.0, "points")
    require_each("day of a reading", days, -10.0, 4000.0, "days")
    require_each("gravity", readings_sg, SG_LOW, SG_HIGH, "SG")
    points = [1000.0 * (sg - 1.0) for sg in readings_sg]
    middle_day, middle = math.fsum(days) / len(days), math.fsum(points) / len(points)
    square = math.fsum((day - middle_day) ** 2 for day in days)
    span = max(days) - min(days)
    if square < 1e-6:
        raise OutOfRangeError("time between readings", span, 0.001, 4000.0, "days")
    pairs = list(zip(days, points, strict=True))
    fall = -math.fsum((day - middle_day) * (point - middle) for day, point in pairs) / square
    error = reading_sigma_points / math.sqrt(square)
    return Slope(
        points_per_day=fall,
        standard_error=error,
        fall_not_excluded=max(fall + ONE_SIDED_95 * error, 0.0),
        readings=len(days),
        span_days=span,
        worst_residual_points=max(
            abs(point - middle + fall * (day - middle_day)) for day, point in pairs
        ),
    )


def equal_range_factor(readings: int) -> float:
    """Return how much wider the range of so many equal readings may be than that of three.

    The more often one looks, the further apart lie the highest and the lowest of what was seen,
    although nothing has changed. The factor keeps the chance of that the same for any number.

    Args: readings: how many, 1 or more; from 10 on it stays. Returns: factor [-], 1 up to three.

    Raises: OutOfRangeError: below 1. Assumes: independent normal errors of one spread.

    Checked against: the studentized range of scipy, in tests/physics/test_kinetics.py.

    References: tables of the studentized range, 5 %, infinite degrees of freedom (from memory).
    """
    require("number of readings", readings, 1, 100000)
    place = min(max(readings, 3) - 3, len(_RANGE_95) - 1)
    return _RANGE_95[place] / _RANGE_95[0]


def points_left_in_tail(fall_per_day: float, rate_per_day: float) -> float:
    """Return the points still to fall if the rest ferments away exponentially: fall / rate.

    Args:
        fall_per_day: present fall, or the fall not excluded [points/day], 0 to 30.
        rate_per_day: rate of the tail [1/day], 0.02 to 2: 0.5 warm ale, 0.1 cool, 0.05 cold.

    Returns: points. The same plateau means less when cold.

    Raises: OutOfRangeError: outside those ranges. Assumes: an exponential tail.

    Checked against: fermentation chapter, section 7.2, in tests/physics/test_kinetics.py.

    References: computed; rates are judgements.
    """
    require("fall of gravity", fall_per_day, 0.0, 30.0, "points/day")
    return fall_per_day / require("rate of the tail", rate_per_day, 0.02, 2.0, "1/day")


def temperature_rate_factor(temp_c: float, reference_c: float = 20.0, q10: float = 2.3) -> float:
    """Return how much faster yeast works than at a reference temperature: q10^((t - t_ref) / 10).

    Args:
        temp_c: temperature [deg C], 0 to 45.
        reference_c: temperature of the known rate [deg C], 0 to 45.
        q10: factor per 10 C [-], 1 to 5; 2 to 3 in practice, published models 1.7 and 4.

    Returns: factor [-].

    Raises: OutOfRangeError: outside those ranges.

    Assumes: yeast that stands the temperature. Cold slows yeast and does not stop every kind.

    Checked against: its own definition and monotony in tests/physics/test_kinetics.py.

    References: 2.3 from memory; range from two published models (S25, S27, read).
    """
    require("temperature", temp_c, 0.0, TEMP_HIGH_C, "C")
    require("reference temperature", reference_c, 0.0, TEMP_HIGH_C, "C")
    return float(require("factor per 10 C", q10, 1.0, 5.0) ** ((temp_c - reference_c) / 10.0))


@dataclass(frozen=True)
class Fraction:
    """A share with its bounds."""

    slow: float
    central: float
    fast: float


def priming_done(days: float, temp_c: float) -> Fraction:
    """Return the share of the priming sugar that has turned into gas, with bounds.

    central 1 - exp(-0.25 f d), slow 1 - exp(-0.07 f d), f = 2.3^((t - 20) / 10); fast: a straight
    line to 1 in 1.5 days at 20 C and above, 3 days at 15 C, longer below by the same f.

    Args:
        days: time in the bottle at that temperature [days], 0 to 4000.
        temp_c: temperature [deg C], 0 to 45.

    Returns: Fraction; for safety use fast, for "wait longer" use slow.

    Raises: OutOfRangeError: outside those ranges.

    Assumes: living yeast. Sugar from infection or unfinished fermentation is not in it: its time is
        months.

    Checked against: time_course (gauges: full after 4 days at 18 C; 7-14 days usual) lies between
    the bounds, in tests/physics/test_kinetics.py.

    References: R60, R61 (read); rates are judgements, no peer-reviewed rate law was found.
    """
    require("time in the bottle", days, 0.0, 4000.0, "days")
    factor = temperature_rate_factor(temp_c, 20.0, Q10_PRIMING)
    central = -math.expm1(-PRIMING_PER_DAY * factor * days)
    slow = -math.expm1(-PRIMING_SLOW_PER_DAY * factor * days)
    return Fraction(slow, central, max(min(days / priming_fast_days(temp_c), 1.0), central))


def priming_fast_days(temp_c: float) -> float:
    """Return the shortest time in which all priming sugar may be gas.

    1.5 days from 20 C, 3 days at 15 C, equal ratios between; below 15 C 3 x 2.3^((15 - t) / 10).

    Args: temp_c: temperature [deg C], 0 to 45. Returns: time [days].

    Raises: OutOfRangeError: outside 0-45 C. Assumes, References: as priming_done.

    Checked against: time_course in tests/physics/test_kinetics.py.
    """
    require("temperature", temp_c, 0.0, TEMP_HIGH_C, "C")
    if temp_c >= 20.0:
        return FAST_DAYS_AT_20_C
    if temp_c >= 15.0:
        step = (20.0 - temp_c) / 5.0
        return float(FAST_DAYS_AT_20_C * (FAST_DAYS_AT_15_C / FAST_DAYS_AT_20_C) ** step)
    return FAST_DAYS_AT_15_C / temperature_rate_factor(temp_c, 15.0, Q10_PRIMING)


def vols_rise_per_day(
    fall_points_per_day: float,
    log_temp_c: float,
    store_temp_c: float,
    vols_per_point: float = VOLS_PER_POINT_UPPER,
    q10: float = Q10_PRIMING,
) -> float:
    """Return the fastest rise of volumes in a bottle whose beer was still falling.

    0.57 x fall x q10^((t_store - t_log) / 10)

    Args:
        fall_points_per_day: highest fall seen in the log [points/day], 0 to 60.
        log_temp_c: temperature of the beer when it fell so [deg C], 0 to 45.
        store_temp_c: temperature of the bottles [deg C], 0 to 45.
        vols_per_point: 0.50 to 0.57; the upper value for safety.
        q10: see temperature_rate_factor.

    Returns: volumes per day [1/day].

    Raises: OutOfRangeError: outside those ranges.

    Assumes: as much yeast as in the log. Checked against: 1 point per day gives 2 volumes in 3.5
    days (physics chapter, section 7), in tests/physics/test_kinetics.py. References: judgement.
    """
    require("fall of gravity", fall_points_per_day, 0.0, 60.0, "points/day")
    require("volumes per point", vols_per_point, 0.50, 0.57, "volumes")
    factor = temperature_rate_factor(store_temp_c, log_temp_c, q10)
    return vols_per_point * fall_points_per_day * factor


def days_until_vols(present_vols: float, limit_vols: float, vols_per_day: float) -> float:
    """Return the shortest time until the beer holds so many volumes: (limit - present) / rise.

    Args:
        present_vols: in the beer now [-], 0 to 20.
        limit_vols: volumes of interest [-], 0 to 20.
        vols_per_day: see vols_rise_per_day [1/day], 0 to 100.

    Returns: time [days]: 0 when the limit is reached, infinite when nothing rises.

    Raises: OutOfRangeError: outside those ranges.

    Assumes: the rise goes on; the sugar may end earlier. Infinite does not clear an infection.

    Checked against: as vols_rise_per_day. References: judgement.
    """
    require("carbonation", present_vols, 0.0, 20.0, "volumes")
    require("limit", limit_vols, 0.0, 20.0, "volumes")
    require("rise of carbonation", vols_per_day, 0.0, 100.0, "volumes/day")
    if present_vols >= limit_vols:
        return 0.0
    return (limit_vols - present_vols) / vols_per_day if vols_per_day > 0.0 else math.inf
