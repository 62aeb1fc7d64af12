"""Total CO2 in a bottle as a distribution: sugar, what the beer held, and what is left to ferment.

Gravity left to ferment cannot be negative, so the total is skewed: its median lies above the plain
sum, and its upper bound is what decides.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache

from trubshoot.physics.limits import require, require_count
from trubshoot.physics.sugar import VOLS_PER_POINT

_NODES = 61
_STEPS = 26


@dataclass(frozen=True)
class PointsLeft:
    """Gravity still to fall in the bottle [points]: max(0, normal), or the end of a slow tail.

    mean, sigma: of gravity at bottling minus the lowest gravity the beer can reach.
    tail_95: 95 % upper bound of what is left when a steady warm plateau was seen; None without one.
    stall_share: chance that such a plateau was a stall after all, so that mean and sigma hold.
    """

    mean: float
    sigma: float
    tail_95: float | None = None
    stall_share: float = 1.0

    @cached_property
    def nodes(self) -> tuple[tuple[float, float], ...]:
        """Return (points left, weight): equal shares of the distribution; weights add up to 1.

        The distribution is that of vols_quantiles.
        """
        shares = [(index + 0.5) / _NODES for index in range(_NODES)]
        stall = self.stall_share if self.tail_95 is not None else 1.0
        found = [
            (max(0.0, self.mean + self.sigma * _normal_quantile(share)), stall / _NODES)
            for share in shares
        ]
        if self.tail_95 is not None:
            scale = self.tail_95 / 1.959964
            found += [
                (scale * _normal_quantile(0.5 + share / 2), (1 - stall) / _NODES)
                for share in shares
            ]
        none_left = math.fsum(weight for points, weight in found if points == 0.0)
        some_left = [node for node in found if node[0] > 0.0]
        return ((0.0, none_left), *some_left)


@lru_cache(maxsize=1024)
def _normal_quantile(share: float) -> float:
    from statistics import NormalDist

    return NormalDist().inv_cdf(share)


@lru_cache(maxsize=1024)  # one answer asks for the same bottle many times
def vols_quantiles(
    sugar_vols: float,
    sugar_share_sigma: float,
    residual_vols: float,
    residual_sigma_vols: float,
    left: PointsLeft,
    shares: tuple[float, ...] = (0.5, 0.95),
) -> tuple[float, ...]:
    """Return quantiles of the total CO2 in a bottle [volumes].

    N = residual + sugar x (1 + e) + 0.52 x max(0, points left); the quantile x solves
    sum over the points left of weight x Phi((x - mean) / spread) = share.

    Args:
        sugar_vols: CO2 of the bottling sugar at full yield [vol], 0 to 20.
        sugar_share_sigma: spread of weighing, volume and mixing as a share [-], 0 to 1.
        residual_vols: CO2 the beer holds when filled [vol], 0 to 3.
        residual_sigma_vols: its spread [vol], above 0 to 0.5.
        left: what may still ferment.
        shares: which quantiles, each above 0 and below 1.

    Returns: one value a share [vol], rising with every argument.

    Raises: OutOfRangeError: outside those ranges.

    Assumes: independent errors; the yield of the sugar is not above stoichiometry.

    Checked against: mc_worked_example (200000 draws, five cases) within 0.05 volumes at 95 %, and a
    Monte Carlo run of the tests, in tests/physics/test_gas.py.

    References: the sums of physics section 8 (judgement on the spreads); computed.
    """
    require("volumes from sugar", sugar_vols, 0.0, 20.0, "volumes")
    require("share of the sugar that is uncertain", sugar_share_sigma, 0.0, 1.0)
    require("CO2 at filling", residual_vols, 0.0, 3.0, "volumes")
    require("spread of the residual", residual_sigma_vols, 1e-6, 0.5, "volumes")
    require("points left", left.mean, -120.0, 120.0, "points")
    require("spread of the points left", left.sigma, 0.0, 40.0, "points")
    middle = residual_vols + sugar_vols
    spread = math.hypot(residual_sigma_vols, sugar_vols * sugar_share_sigma)
    nodes = [(middle + VOLS_PER_POINT * points, weight) for points, weight in left.nodes]
    halves = [(mean, 0.5 * weight) for mean, weight in nodes]
    scale = 1 / (spread * math.sqrt(2))
    lowest = min(mean for mean, _ in nodes) - 6 * spread
    highest = max(mean for mean, _ in nodes) + 6 * spread

    def below(vols: float) -> float:
        return sum([half * (1 + math.erf((vols - mean) * scale)) for mean, half in halves])

    found = []
    for share in shares:
        require("quantile", share, 1e-6, 1 - 1e-6)
        low, high = lowest, highest
        for _ in range(_STEPS):
            centre = 0.5 * (low + high)
            low, high = (centre, high) if below(centre) < share else (low, centre)
        found.append(max(high, 0.0))
    return tuple(found)


def worst_of(share_sigma: float, count: int) -> float:
    """Return how much more sugar than the mean the richest of n bottles gets, as a share.

    The expected largest of n normal draws, by Blom's formula: z((n - 0.375) / (n + 0.25)).

    Args:
        share_sigma: spread of the sugar from bottle to bottle [-], 0 to 1.
        count: number of bottles, 1 to 5000.

    Returns: share above the mean [-], 0 for one bottle.

    Raises: OutOfRangeError: outside those ranges.

    Checked against: tabulated expected normal order statistics (Harter 1961: 2.249 for 50, from
    memory) and simulation, in tests/physics/test_gas.py. References: Blom 1958 (from memory).
    """
    require("spread from bottle to bottle", share_sigma, 0.0, 1.0)
    bottles = require_count("bottles", count, 1, 5000)
    return share_sigma * max(_normal_quantile((bottles - 0.375) / (bottles + 0.25)), 0.0)
