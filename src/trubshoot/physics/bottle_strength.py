"""Chance that a bottle bursts at a pressure: Weibull strength under sustained load.

The parameters of a bottle class are data and are passed in. Functions ending in _many take numpy
arrays. No measured burst distribution of worn bottles under weeks of load was found: the figures
are planning figures, to be shown as bands and not as measured chances.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from trubshoot.physics.limits import require, require_all, require_count

if TYPE_CHECKING:
    from trubshoot.physics.limits import Array

GAUGE_HIGH_BAR = 200.0  # a liquid-full bottle may be far above any bottle: the chance is then 1
SCALE_SPREAD_LN = 0.25  # of the strength scale, common to a batch: judgement
_STEPS, _REACH = 40, 4.0


def burst_probability(gauge_bar: float, scale_bar: float, shape: float) -> float:
    """Return the chance that one bottle bursts: 1 - exp(-(P / eta)^k).

    Args:
        gauge_bar: sustained gauge pressure [bar], -1.1 to 200; below 0 the chance is 0.
        scale_bar: eta of the bottle class [bar], 1 to 40; data.
        shape: k of the bottle class [-], 1 to 20; data.

    Returns: chance, 0 to 1.

    Raises: OutOfRangeError: outside those ranges.

    Assumes: an undamaged bottle of its class; damage lowers eta to 0.4 of it.

    Checked against: burst_probability (143 rows) in tests/physics/test_bottle_strength.py. Worked:
    5 bar, eta 8, k 6: 0.058.

    References: judgement on the strength figures of the physics chapter, section 6.
    """
    return -math.expm1(log_survival(gauge_bar, scale_bar, shape))


def log_survival(gauge_bar: float, scale_bar: float, shape: float) -> float:
    """Return the logarithm of the chance that one bottle holds: -(P / eta)^k.

    Args, Raises, Assumes, References: as burst_probability. Returns: logarithm, 0 or below.

    Checked against: burst_probability in tests/physics/test_bottle_strength.py.
    """
    require("gauge pressure", gauge_bar, -1.1, GAUGE_HIGH_BAR, "bar")
    require("strength scale", scale_bar, 1.0, 40.0, "bar")
    require("strength shape", shape, 1.0, 20.0)
    return -math.pow(max(gauge_bar, 0.0) / scale_bar, shape)


def burst_probability_many(gauge_bar: Any, scale_bar: Any, shape: Any) -> Array:
    """Return burst_probability [-] for numpy arrays of [bar]; same ranges, same errors."""
    import numpy as np

    gauge = require_all("gauge pressure", gauge_bar, -1.1, GAUGE_HIGH_BAR, "bar")
    scale = require_all("strength scale", scale_bar, 1.0, 40.0, "bar")
    power = require_all("strength shape", shape, 1.0, 20.0)
    result: Array = -np.expm1(-((np.maximum(gauge, 0.0) / scale) ** power))
    return result


def any_of(chance: float, count: int) -> float:
    """Return the chance that at least one of so many bottles bursts: 1 - (1 - p)^n.

    Args: chance: of one bottle, 0 to 1; count: bottles, 0 to 10000. Returns: chance.

    Raises: OutOfRangeError: outside those ranges.

    Assumes: bottles independent at a GIVEN strength scale and pressure; average over both after
        this step, never before (see any_burst_probability).

    Checked against: burst_probability table in tests/physics/test_bottle_strength.py.

    References: probability calculus.
    """
    require("chance", chance, 0.0, 1.0)
    require_count("bottles", count, 0, 10000)
    if count == 0:
        return 0.0
    return 1.0 if chance == 1.0 else -math.expm1(count * math.log1p(-chance))


def any_burst_probability(
    gauge_bar: float,
    scale_bar: float,
    shape: float,
    count: int = 1,
    scale_spread_ln: float = SCALE_SPREAD_LN,
) -> float:
    """Return the chance of at least one burst, averaged over the doubt about the strength scale.

    The scale is log-normal with median scale_bar and is the same for all bottles of the batch.

    Args:
        gauge_bar, shape: as burst_probability.
        scale_bar: median of eta [bar], 3 to 30.
        count: bottles, 1 to 10000.
        scale_spread_ln: standard deviation of ln eta [-], 0 to 0.3.

    Returns: chance, 0 to 1.

    Raises: OutOfRangeError: outside those ranges.

    Assumes: all bottles at the same pressure.

    Checked against: a random draw of scales in tests/physics/test_bottle_strength.py.

    References: judgement, physics chapter, section 6.2.
    """
    require("strength scale", scale_bar, 3.0, 30.0, "bar")
    require("spread of the strength scale", scale_spread_ln, 0.0, 0.3)
    total = weights = 0.0
    for step in range(-_STEPS, _STEPS + 1):
        z = _REACH * step / _STEPS
        weight = math.exp(-0.5 * z * z)
        scale = min(max(scale_bar * math.exp(scale_spread_ln * z), 1.0), 40.0)
        total += weight * any_of(burst_probability(gauge_bar, scale, shape), count)
        weights += weight
    return total / weights


def bottles_log_likelihood(
    gauge_bar: float, scale_bar: float, shape: float, burst: int, whole: int
) -> float:
    """Return the log chance of seeing so many bottles burst and so many whole.

    burst ln p + whole ln(1 - p); a piece for a Bayes update of strength and pressure on a grid.

    Args:
        gauge_bar, scale_bar, shape: as burst_probability.
        burst: bottles that burst, 0 to 10000.
        whole: bottles of the same batch that hold, 0 to 10000.

    Returns: logarithm, 0 or below; minus infinity when the sight is impossible.

    Raises: OutOfRangeError: outside those ranges.

    Assumes: all bottles at the same pressure. Whole bottles in the first two weeks say nothing
        about sugar that ferments later.

    Checked against: the binomial formula in tests/physics/test_bottle_strength.py.

    References: probability calculus.
    """
    require_count("burst bottles", burst, 0, 10000)
    require_count("whole bottles", whole, 0, 10000)
    hold = log_survival(gauge_bar, scale_bar, shape)
    chance = -math.expm1(hold)
    if burst and chance == 0.0:
        return -math.inf
    return (burst * math.log(chance) if burst else 0.0) + whole * hold
