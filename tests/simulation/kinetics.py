"""The true course of the gravity: five-parameter logistic, slow tail, creep, late contamination.

Own kinetics of the simulation (fermentation.md 2.5 for the logistic, 7.4 for late falls). Gravity
is in points, time in days since pitching; every array holds one row a batch.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

CONDITIONING_DAYS = 21.0
HORIZON_DAYS = 270.0  # nine months: physics.md 7, contamination
# hop creep: 1 P of about 2 P after 5 d, the rest over weeks (fermentation.md 7.4)
HOP_FAST_SHARE, HOP_FAST_RATE, HOP_SLOW_RATE = 0.6, 0.2, 0.03


@dataclass
class Course:
    """Everything that decides the gravity of a set of batches at any time.

    Rates of the yeast are relative to the class at its reference temperature; `edges` (n, 7) are
    the bounds of six spells: main, pause, main again, after the event, first weeks in the bottle,
    later in the bottle; `yeast_rate` and `warmth` (n, 6) hold for each spell.
    """

    og: Array
    fg: Array
    half_days: Array
    steepness: Array  # B times M, without unit
    asymmetry: Array
    tail_share: Array
    tail_rate: Array  # per day of the yeast's clock
    edges: Array
    yeast_rate: Array
    warmth: Array  # clock of enzymes and intruders, 1 at 20 C
    hop_day: Array
    hop_points: Array
    intruder_day: Array
    intruder_points: Array
    intruder_mid: Array  # days at 20 C until half of its fall

    def terminal(self) -> Array:
        """Return the gravity after unlimited time [points]."""
        return self.fg - self.hop_points - self.intruder_points


def spells(edges: Array, rates: Array, days: Array) -> Array:
    """Return the clock reading at `days` (n, k) of a clock that runs at `rates` in each spell."""
    into = np.clip(days[:, :, None] - edges[:, None, :-1], 0.0, None)
    into = np.minimum(into, (edges[:, 1:] - edges[:, :-1])[:, None, :])
    return np.asarray((into * rates[:, None, :]).sum(axis=2))


def share_left(course: Course, clock: Array) -> Array:
    """Return the share of the fermentable points left when the yeast's clock shows `clock`."""
    s = course.asymmetry[:, None]
    per_day = (course.steepness / course.half_days)[:, None]

    def logistic(time: Array) -> Array:
        power = np.clip(per_day * (time - course.half_days[:, None]), -60, 60)
        return np.asarray((1 + (2**s - 1) * np.exp(power)) ** (-1 / s))

    main = logistic(clock) / logistic(np.zeros((len(clock), 1)))
    after = np.maximum(clock - 0.5 * course.half_days[:, None], 0.0)
    tail = np.exp(-course.tail_rate[:, None] * after)
    share = course.tail_share[:, None]
    return np.asarray((1 - share) * main + share * tail)


def clock_at_share(course: Course, share: Array) -> Array:
    """Return when the logistic alone stands at a share (used to place a pause)."""
    s, bm = course.asymmetry, course.steepness
    start = (1 + (2**s - 1) * np.exp(-bm)) ** (-1 / s)
    inner = np.maximum(((share * start) ** (-s) - 1) / (2**s - 1), 1e-12)
    return np.maximum(course.half_days * (1 + np.log(inner) / bm), 0.0)


def clock_when_done(course: Course, points: float = 1.0) -> Array:
    """Return the yeast's clock when the beer comes within `points` of its end, on a grid."""
    grid = np.linspace(0.0, 1.0, 600) ** 2 * 90.0
    left = share_left(course, np.broadcast_to(grid, (len(course.og), grid.size)))
    above = left * (course.og - course.fg)[:, None] > points
    return np.asarray(grid[np.minimum(above.sum(axis=1), grid.size - 1)])


def gravity(course: Course, days: Array, *, intruder: bool = True) -> Array:
    """Return the true gravity [points] at `days` (n, k); without the intruder if so asked."""
    clock = spells(course.edges, course.yeast_rate, days)
    points = course.fg[:, None] + (course.og - course.fg)[:, None] * share_left(course, clock)
    warm = spells(course.edges, course.warmth, days)
    since = np.maximum(warm - spells(course.edges, course.warmth, course.hop_day[:, None]), 0.0)
    creep = HOP_FAST_SHARE * (1 - np.exp(-HOP_FAST_RATE * since))
    creep += (1 - HOP_FAST_SHARE) * (1 - np.exp(-HOP_SLOW_RATE * since))
    points = points - course.hop_points[:, None] * creep
    if intruder:
        points = points - intruder_fall(course, days, warm)
    return np.asarray(points)


def intruder_fall(course: Course, days: Array, warm: Array | None = None) -> Array:
    """Return the points that diastatic or wild yeast has taken by `days`."""
    if warm is None:
        warm = spells(course.edges, course.warmth, days)
    start = spells(course.edges, course.warmth, course.intruder_day[:, None])
    since = np.maximum(warm - start, 0.0)
    width = (course.intruder_mid / 4.5)[:, None]

    def sigmoid(time: Array) -> Array:
        power = np.clip((course.intruder_mid[:, None] - time) / width, -60, 60)
        return np.asarray(1 / (1 + np.exp(power)))

    first = sigmoid(np.zeros_like(since))
    return np.asarray(course.intruder_points[:, None] * (sigmoid(since) - first) / (1 - first))
