"""Where a fermentation stands: a fitted curve through few readings, by weighted prior draws.

Early readings hardly inform the end: until about 80 % is fermented the expected final gravity
carries the answer. A stall, hop creep, diastatic yeast and infection lie outside this model.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from trubshoot.physics.kinetics import temperature_rate_factor
from trubshoot.physics.limits import require

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from trubshoot.physics.limits import Array

HALF_TIME_HOURS = {  # (hours to half attenuation, at deg C): judgement
    "ale": (42.0, 20.0),
    "lager": (110.0, 10.0),
    "kveik": (18.0, 35.0),
}
Q10_HALF_TIME = 2.5  # x2-3 per 10 C in practice: judgement
SIGMA_LN_HALF_TIME, LN_STEEPNESS, SIGMA_LN_STEEPNESS = 0.4, math.log(3.0), 0.35
SIGMA_LN_ASYMMETRY = 0.5
NO_FIT_ABOVE = 3.0  # standardised residual of the best draw
LEVELS = (0.05, 0.50, 0.95)
_FEW = 4  # readings between two looks at which draws are still worth it
_HOPELESS = 80.0  # a draw that misses by so much more weighs exp(-40) of the other
_NO_WEIGHT = 1e-8  # of the best draw: 100 000 such draws weigh a thousandth of it
_NOTHING = 1e-20  # ... and as many of these change no digit
_BINS = 256
_CURVE_DRAWS = 8000  # leaves the ends of a band within a twentieth of its width (measured)


@dataclass(frozen=True)
class Quantiles:
    """The 5, 50 and 95 % points of what is believed."""

    low: float
    median: float
    high: float


@dataclass(frozen=True)
class CurveFit:
    """What the readings say together with what was expected."""

    fg: Quantiles  # final gravity [SG]
    days_to_end: Quantiles  # from pitching to within one point of the end
    points_left: Quantiles  # still to fall after the last reading
    chance_much_left: float  # that more than the asked points are still to fall
    curve: tuple[tuple[float, Quantiles], ...]  # (day, gravity) at the asked days
    effective_draws: float
    worst_residual: float  # of the best draw, in standard deviations
    fits: bool  # False: stall, layered wort, infection or a typing error; do not use the rest


def half_time_hours(hours: float, at_c: float, temp_c: float, q10: float = Q10_HALF_TIME) -> float:
    """Return the hours to half attenuation at a beer temperature: hours / q10^((t - at) / 10).

    Args:
        hours: known half time [h], 6 to 400; see HALF_TIME_HOURS.
        at_c: temperature it is known for [deg C], 0 to 45.
        temp_c: temperature of the beer [deg C], 0 to 45.
        q10: see temperature_rate_factor.

    Returns: half time [h]. Raises: OutOfRangeError: outside those ranges.

    Assumes: normal pitch. Checked against: tests/physics/test_curve.py. References: judgement.
    """
    require("half time", hours, 6.0, 400.0, "h")
    return hours / temperature_rate_factor(temp_c, at_c, q10)


def fit_gravity_curve(
    days: Sequence[float],
    readings_sg: Sequence[float],
    og: float,
    expected_fg: float,
    fg_sigma_points: float,
    half_time_h: float,
    *,
    at_days: Sequence[float] = (),
    og_sigma_points: float = 1.0,
    reading_sigma_points: float = 1.05,
    much_points: float = 3.0,
    draws: int = 100_000,
    random_state: int = 20,
) -> CurveFit:
    """Return weighted quantiles of a lopsided logistic curve through the readings.

    SG(t) = FG + (OG - FG) g(t) / g(0), g(t) = (1 + (2^s - 1) exp(B (t - M)))^(-1/s). Draws of FG,
    M, B M and s from what is expected are weighted by how well they meet the readings.

    Args:
        days: days since pitching [days], 0 to 200; may be empty.
        readings_sg: corrected gravities [-], 0.980 to 1.170, as many as days.
        og: original gravity [-], 1.010 to 1.120.
        expected_fg: prior final gravity [-], 0.985 to og.
        fg_sigma_points: its spread [points], 0.3 to 15.
        half_time_h: prior hours to half attenuation [h], 4 to 800; spread 40 %.
        at_days: days for which the curve is wanted [days], 0 to 400.
        og_sigma_points: spread of the original gravity [points], 0.2 to 12; 5 and more after
            topping up with water.
        reading_sigma_points: spread of a reading with its rounding [points], 0.3 to 5.
        much_points: what counts as much still to fall [points], 0.5 to 40.
        draws: 1000 to 1000000.
        random_state: fixed start of the draws, so that the answer is the same every time.

    Returns: CurveFit; see its field fits before using the rest.

    Raises: OutOfRangeError: outside those ranges or for unequal lengths.

    Assumes: one fermentation at a steady temperature that ends by itself.

    Checked against: made-up batches with known ends (90 % bands hold 84-96 % of them, half-widths
    as in the fermentation chapter, section 2.5), in tests/physics/test_curve.py.

    References: logistic form as in S23, S24 (read); dividing by g(0) makes the curve start at OG;
    the priors are judgements.
    """
    import numpy as np

    count = len(days)
    require("number of gravities", len(readings_sg), count, count)
    for day in days:
        require("day of a reading", day, 0.0, 200.0, "days")
    for sg in readings_sg:
        require("gravity", sg, 0.980, 1.170, "SG")
    require("original gravity", og, 1.010, 1.120, "SG")
    require("expected final gravity", expected_fg, 0.985, og - 0.002, "SG")
    require("spread of the final gravity", fg_sigma_points, 0.3, 15.0, "points")
    require("half time", half_time_h, 4.0, 800.0, "h")
    require("spread of the original gravity", og_sigma_points, 0.2, 12.0, "points")
    require("spread of a reading", reading_sigma_points, 0.3, 5.0, "points")
    require("points that count as much", much_points, 0.5, 40.0, "points")
    require("draws", draws, 1000, 1_000_000)

    generator = np.random.default_rng(random_state)
    draw = _Draws(
        og=1000.0 * (og - 1.0) + og_sigma_points * generator.standard_normal(draws),
        fg=1000.0 * (expected_fg - 1.0) + fg_sigma_points * generator.standard_normal(draws),
        half=half_time_h / 24.0 * np.exp(SIGMA_LN_HALF_TIME * generator.standard_normal(draws)),
        steep=np.exp(LN_STEEPNESS + SIGMA_LN_STEEPNESS * generator.standard_normal(draws)),
        lopsided=np.exp(SIGMA_LN_ASYMMETRY * generator.standard_normal(draws)),
    )
    draw.fg[:] = np.minimum(draw.fg, draw.og - 1.0)  # a beer does not end above its wort

    misfit, worst = _misses(draw, days, readings_sg, reading_sigma_points)
    weights: Array = np.exp(-0.5 * (misfit - misfit.min()))
    weights = weights / weights.sum()

    best = float(worst[int(np.argmin(misfit))])
    last = max(days) if count else 0.0
    left = draw.points_at(last) - draw.fg
    curve = []
    any_weight = np.flatnonzero(weights > _NOTHING * weights.max())
    load = weights[any_weight]
    # a curve is drawn no finer than a line is thick: every so-manieth draw that weighs anything
    counts = np.flatnonzero(weights > _NO_WEIGHT * weights.max())
    counts = counts[:: max(len(counts) // _CURVE_DRAWS, 1)]
    few, share = draw.picked(counts), weights[counts] / weights[counts].sum()
    for day in at_days:
        require("day asked for", day, 0.0, 400.0, "days")
        curve.append((float(day), _as_sg(_quantiles(few.points_at(day), share))))
    return CurveFit(
        fg=_as_sg(_quantiles(draw.fg[any_weight], load)),
        days_to_end=_quantiles(draw.days_to_within(1.0)[any_weight], load),
        points_left=_quantiles(left[any_weight], load),
        chance_much_left=float(weights[left > much_points].sum()),
        curve=tuple(curve),
        effective_draws=float(1.0 / (weights**2).sum()),
        worst_residual=best,
        fits=best <= NO_FIT_ABOVE,
    )


def _misses(
    draw: _Draws, days: Sequence[float], readings_sg: Sequence[float], sigma_points: float
) -> tuple[Array, Array]:
    """Return the sum of squared misses of every draw, and its worst miss [standard deviations].

    A log of hundreds of readings leaves few draws worth a look: after every few those are given
    up that already miss by so much more than one whole draw known that their weight is nothing.
    Theirs is then infinite.
    """
    import numpy as np

    count, draws = len(days), len(draw.og)
    points = 1000.0 * (np.asarray(readings_sg, dtype=np.float64) - 1.0)
    misfit: Array = np.zeros(draws)
    worst: Array = np.zeros(draws)
    alive = np.arange(draws)
    # neighbours in time say nearly the same: every so-manieth first, then the others
    stride = max(count // 12, 1)
    order = sorted(range(count), key=lambda index: (index % stride, index))
    every_day = np.asarray(days, dtype=np.float64)
    for start in range(0, count, _FEW):
        all_left = len(alive) == draws
        left = draw if all_left else draw.picked(alive)
        at = slice(None) if all_left else alive  # a slice copies nothing
        for index in order[start : start + _FEW]:
            off = (points[index] - left.points_at(days[index])) / sigma_points
            misfit[at] += off**2
            worst[at] = np.maximum(worst[at], np.abs(off))
        if start + _FEW < count:
            leader = draw.picked(alive[[int(np.argmin(misfit[alive]))]])
            whole = float((((points - leader.points_at(every_day)) / sigma_points) ** 2).sum())
            hopeless = misfit[alive] > whole + _HOPELESS
            misfit[alive[hopeless]] = np.inf
            alive = alive[~hopeless]
    return misfit, worst


@dataclass(frozen=True)
class _Draws:
    """Draws of the curve's parameters; gravities in points, times in days."""

    og: Array
    fg: Array
    half: Array
    steep: Array  # B M, without unit
    lopsided: Array

    def picked(self, which: NDArray[np.intp]) -> _Draws:
        """Return only some of the draws."""
        return _Draws(
            self.og[which],
            self.fg[which],
            self.half[which],
            self.steep[which],
            self.lopsided[which],
        )

    @cached_property
    def height(self) -> Array:
        """Return log(2^s - 1), the same on every day."""
        import numpy as np

        result: Array = np.log(np.exp2(self.lopsided) - 1.0)
        return result

    @cached_property
    def at_start(self) -> Array:
        """Return g(0)."""
        return self.shape(0.0)

    def shape(self, day: float | Array) -> Array:
        """Return g(t); logarithms keep the exponential from overflowing."""
        import numpy as np

        height = self.height + self.steep * (day / self.half - 1.0)
        # log(1 + exp(height)), several times as fast as numpy's own function for it
        logarithm = np.maximum(height, 0.0) + np.log1p(np.exp(-np.abs(height)))
        result: Array = np.exp(-logarithm / self.lopsided)
        return result

    def points_at(self, day: float | Array) -> Array:
        """Return the gravity in points at a day; one draw's at several days."""
        result: Array = self.fg + (self.og - self.fg) * self.shape(day) / self.at_start
        return result

    def days_to_within(self, points: float) -> Array:
        """Return the day on which the gravity comes within so many points of its end."""
        import numpy as np

        wanted = self.at_start * points / np.maximum(self.og - self.fg, points)
        height = np.log(np.expm1(-self.lopsided * np.log(wanted)))
        result: Array = np.maximum(self.half * (1.0 + (height - self.height) / self.steep), 0.0)
        return result


def _quantiles(values: Array, weights: Array) -> Quantiles:
    """Return the values at which the weights, which add up to 1, reach each level."""
    return Quantiles(*(_reaching(level, values, weights) for level in LEVELS))


def _reaching(level: float, values: Array, weights: Array) -> float:
    """Return the value at which the weights reach a level.

    Putting all values in order would take most of the time of a fit: they are counted into bins,
    and only the bin in which the level lies is looked into.
    """
    import numpy as np

    before = 0.0
    while len(values) > _BINS:
        low, span = values.min(), values.max() - values.min()
        if not 0.0 < span < math.inf:
            break
        place = np.minimum(((values - low) * (_BINS / span)).astype(np.intp), _BINS - 1)
        reached = before + np.cumsum(np.bincount(place, weights, _BINS))
        nth = min(int(np.searchsorted(reached, level)), _BINS - 1)
        here = place == nth
        values, weights = values[here], weights[here]
        before = float(reached[nth - 1]) if nth else before
    order = np.argsort(values)
    at = int(np.searchsorted(before + np.cumsum(weights[order]), level))
    return float(values[order[min(at, len(values) - 1)]])


def _as_sg(points: Quantiles) -> Quantiles:
    return Quantiles(*(1.0 + value / 1000.0 for value in (points.low, points.median, points.high)))
