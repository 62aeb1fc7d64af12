"""More findings than can be taken exactly: Gibbs sampling over the causes, chains side by side.

Used above MAX_EXACT findings told, where the exact recursion grows slow; the report says "about".
Given the causes of one draw, everything about the links is exact, so only the causes are sampled.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from trubshoot.diagnosis.noisy_or import Network, Ranking, Told, Vector

MAX_EXACT = 16
_CHAINS = 128
_SWEEPS = 80
_BURN_IN = 20
_RANDOM_STATE = 20261125  # fixed, so that the same batch gives the same answer


def sample(network: Network, told: Told, about: Sequence[int] | None = None) -> Ranking:
    """Return posterior and responsibility of every cause, to about 0.02.

    `about`: as in `rank`, the positions in `told.findings` that responsibility speaks of.
    """
    random = np.random.default_rng(_RANDOM_STATE)
    absent, columns = list(told.absent), list(told.findings)
    there = network.prior * np.prod(1 - network.strength[:, absent], axis=1)
    base = np.log(there) - np.log1p(-network.prior)
    quiet = np.log1p(-network.strength[:, columns])  # (causes, findings)
    leak = np.log1p(-network.leak[columns])
    low, high = np.array(told.if_not_so), np.array(told.if_so)
    up = np.isin(np.arange(len(low)), told.up if about is None else list(about))
    count = len(base)
    state = random.random((_CHAINS, count)) < there / (there + 1 - network.prior)
    silence = leak + state @ quiet  # log P(finding off | causes of the chain)
    posterior = np.zeros(count)
    responsibility = np.zeros(count)
    none = 0.0
    for sweep in range(_SWEEPS):
        for cause in random.permutation(count):
            without = silence - state[:, cause, None] * quiet[cause]
            log_odds = base[cause] + (
                _log_told(without + quiet[cause], low, high) - _log_told(without, low, high)
            )
            chance = 1 / (1 + np.exp(-np.clip(log_odds, -500, 500)))
            state[:, cause] = random.random(_CHAINS) < chance
            silence = without + state[:, cause, None] * quiet[cause]
        if sweep < _BURN_IN:
            continue
        posterior += state.mean(axis=0)
        # P(finding so | what was told, causes), and with it P(a link or the leak is the maker)
        off = np.exp(silence)
        so = high * (1 - off) / (low * off + high * (1 - off))
        fired = so[:, None, up] * network.strength[None][:, :, columns][:, :, up]
        fired = fired / (1 - off)[:, None, up]
        responsibility += (state * (1 - np.prod(1 - fired, axis=2))).mean(axis=0)
        # no cause made it: it is not so, or the leak alone did
        alone = (1 - so) + so * network.leak[columns] * np.exp(silence - leak) / (1 - off)
        none += float(np.prod(alone[:, up], axis=1).mean())
    kept = _SWEEPS - _BURN_IN
    return Ranking(float("nan"), posterior / kept, responsibility / kept, none / kept)


def _log_told(silence: Vector, low: Vector, high: Vector) -> Vector:
    off = np.exp(silence)
    return np.asarray(np.log(low * off + high * (1 - off)).sum(axis=1))
