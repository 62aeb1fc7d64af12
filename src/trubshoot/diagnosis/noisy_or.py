"""The ranker: a two-layer noisy-OR network, exact, without a single subtraction.

P(finding absent | causes) = (1 - leak) * product over the causes present of (1 - strength).
Textbook inclusion-exclusion over the present findings loses all its digits past a dozen of them;
here the causes are applied one after the other to a vector over subsets of the findings that are
already switched on, so every term is positive and every digit is kept. Cost: causes * findings *
2 ** (findings told).

A finding is told with two weights: the chance of what was told if the finding is not so, and if
it is so. Surely present is (0, 1). Surely absent findings never enter the vector: they only
scale the causes. What is unknown is left out, which is exact.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

Vector = np.ndarray[tuple[int, ...], np.dtype[np.float64]]
Places = np.ndarray[tuple[int, ...], np.dtype[np.intp]]
DECIBANS = 10 / math.log(10)
_MOST_NUMBERS = 4_000_000  # kept at a time while candidates are worked out (32 MB)


@dataclass(frozen=True)
class Network:
    """Priors of the causes (n), strengths (n, m), leaks of the findings (m)."""

    prior: Vector
    strength: Vector
    leak: Vector

    def __post_init__(self) -> None:
        causes, findings = self.strength.shape
        if self.prior.shape != (causes,) or self.leak.shape != (findings,):
            raise ValueError("priors, strengths and leaks do not fit together")
        if not ((self.prior > 0) & (self.prior < 1)).all():
            raise ValueError("priors must lie strictly between 0 and 1")
        if not ((self.strength >= 0) & (self.strength < 1)).all():
            raise ValueError("strengths must be at least 0 and below 1")
        if not ((self.leak > 0) & (self.leak < 1)).all():
            raise ValueError("leaks must lie strictly between 0 and 1: no finding is impossible")


@dataclass(frozen=True)
class Told:
    """What was told: surely absent findings, and findings with their two weights."""

    absent: tuple[int, ...] = ()
    findings: tuple[int, ...] = ()
    if_not_so: tuple[float, ...] = ()
    if_so: tuple[float, ...] = ()

    @property
    def up(self) -> list[int]:
        """Return the positions of the findings told as (more likely) present."""
        return [
            position
            for position, (low, high) in enumerate(zip(self.if_not_so, self.if_so, strict=True))
            if high > low
        ]


@dataclass(frozen=True)
class Ranking:
    """What follows for every cause."""

    evidence: float  # probability of what was told
    posterior: Vector  # the cause is there
    responsibility: Vector  # the cause is there and made at least one finding that was told
    none_of_these: float  # no listed cause made any of them

    @property
    def share(self) -> Vector:
        """Return for each cause how much of its posterior is responsibility, 0 to 1."""
        whole = np.maximum(self.posterior, 1e-12)
        return np.asarray(np.clip(self.responsibility / whole, 0.0, 1.0))


def with_odds(prior: Vector, factor: Vector) -> Vector:
    """Return priors after multiplying their odds."""
    odds = prior / (1 - prior) * factor
    return np.asarray(odds / (1 + odds))


def _switch_on(vector: Vector, chances: Vector) -> Vector:
    """Apply independent switches to a vector over subsets (last axis)."""
    out = vector.copy()
    size = out.shape[-1]
    for bit in chances.nonzero()[0]:
        halves = out.reshape(*out.shape[:-1], size >> (bit + 1), 2, 1 << bit)
        halves[..., 1, :] += chances[bit] * halves[..., 0, :]
        halves[..., 0, :] *= 1 - chances[bit]
    return out


def _look_back(vector: Vector, chances: Vector) -> Vector:
    """Return the transpose of _switch_on applied to a vector of final weights."""
    out = vector.copy()
    size = out.shape[-1]
    for bit in chances.nonzero()[0]:
        halves = out.reshape(*out.shape[:-1], size >> (bit + 1), 2, 1 << bit)
        halves[..., 0, :] = (1 - chances[bit]) * halves[..., 0, :] + chances[bit] * halves[
            ..., 1, :
        ]
    return out


def _final_weights(told: Told) -> Vector:
    weights = np.ones(1 << len(told.findings))
    for bit, (low, high) in enumerate(zip(told.if_not_so, told.if_so, strict=True)):
        halves = weights.reshape(-1, 2, 1 << bit)
        halves[:, 0] *= low
        halves[:, 1] *= high
    return weights


def _absorb_absent(network: Network, told: Told) -> tuple[Vector, Vector, float]:
    """Return for each cause P(there and silent on what is absent), P(not there), and a constant."""
    absent = list(told.absent)
    there = network.prior * np.prod(1 - network.strength[:, absent], axis=1)
    return there, 1 - network.prior, float(np.prod(1 - network.leak[absent]))


def rank(network: Network, told: Told, about: Sequence[int] | None = None) -> Ranking:
    """Return posterior and responsibility of every cause, exactly.

    `about` are the positions in `told.findings` that responsibility speaks of, when not all that
    were told as present are to be explained.

    Raises: ValueError: what was told cannot be, whatever the causes.
    """
    there, away, constant = _absorb_absent(network, told)
    strength = network.strength[:, list(told.findings)]
    up = told.up if about is None else list(about)
    links = np.asarray(strength.any(axis=1))
    live, dead = np.flatnonzero(links), ~links  # numpy's set functions are slow to import
    start = np.zeros(1 << len(told.findings))
    start[0] = constant * float(np.prod((there + away)[dead]))
    vector = _switch_on(start, network.leak[list(told.findings)])
    quiet_vector = vector
    forward = [vector]
    quiet_chances = strength.copy()
    quiet_chances[:, up] = 0
    silent = np.prod(1 - strength[:, up], axis=1)
    for cause in live:
        vector = away[cause] * vector + there[cause] * _switch_on(vector, strength[cause])
        forward.append(vector)
        quiet_vector = away[cause] * quiet_vector + there[cause] * silent[cause] * _switch_on(
            quiet_vector, quiet_chances[cause]
        )
    weights = _final_weights(told)
    evidence = float(forward[-1] @ weights)
    if evidence <= 0:
        raise ValueError("what was told is impossible: a sure finding needs a leak above 0")
    none = float(quiet_vector @ weights) / evidence if up else 1.0
    posterior = there / (there + away)
    responsibility = np.zeros(len(there))
    for position in range(len(live) - 1, -1, -1):
        cause = live[position]
        before = forward[position]
        back = _look_back(weights, strength[cause])
        posterior[cause] = there[cause] * float(before @ back) / evidence
        if up:
            quiet = _look_back(weights, quiet_chances[cause])
            unexplained = away[cause] * float(before @ weights) + there[cause] * silent[
                cause
            ] * float(before @ quiet)
            responsibility[cause] = max(0.0, 1 - unexplained / evidence)
        weights = away[cause] * weights + there[cause] * back
    return Ranking(evidence, posterior, responsibility, none)


@dataclass(frozen=True)
class Weights:
    """Why a posterior is what it is, in decibans; prior + absent + shares = posterior."""

    prior: float
    absent: float
    shares: dict[int, float]  # finding -> its exact Shapley share
    posterior: float


def explain(network: Network, told: Told, causes: Sequence[int]) -> list[Weights]:
    """Return the weights of evidence of every finding for some causes (exact Shapley shares)."""
    if not causes:
        return []
    count = len(told.findings)
    with_cause, without = _subset_weights(network, told, causes)
    logs = np.log(with_cause) - np.log(without)
    index = np.arange(1 << count)
    size = np.array([int(number).bit_count() for number in index])
    order = np.array(
        [
            math.factorial(chosen) * math.factorial(count - chosen - 1) / math.factorial(count)
            for chosen in range(count)
        ]
    )
    shares = np.empty((len(causes), count))
    for bit in range(count):
        without_bit = index[(index >> bit) & 1 == 0]
        gain = logs[:, without_bit | (1 << bit)] - logs[:, without_bit]
        shares[:, bit] = DECIBANS * (gain @ order[size[without_bit]])
    prior = np.asarray(network.prior)[list(causes)]
    prior_db = DECIBANS * np.log(prior / (1 - prior))
    return [
        Weights(
            float(prior_db[row]),
            DECIBANS * float(logs[row, 0]),
            dict(zip(told.findings, shares[row].tolist(), strict=True)),
            float(prior_db[row]) + DECIBANS * float(logs[row, -1]),
        )
        for row in range(len(causes))
    ]


def _subset_weights(network: Network, told: Told, causes: Sequence[int]) -> tuple[Vector, Vector]:
    """Return P(what was told about each subset of the findings | cause), and | not cause.

    Both have one row for each cause asked about and one column for each subset.
    """
    there, away, constant = _absorb_absent(network, told)
    rows = np.arange(len(causes))
    # one line for "this cause is there", one for "it is not"; all other causes as they were
    there_in = np.tile(there, (2, len(causes), 1))
    away_in = np.tile(away, (2, len(causes), 1))
    silent = np.prod(1 - network.strength[np.ix_(list(causes), list(told.absent))], axis=1)
    there_in[0, rows, causes], away_in[0, rows, causes] = silent, 0.0
    there_in[1, rows, causes], away_in[1, rows, causes] = 0.0, 1.0
    strength = network.strength[:, list(told.findings)]
    links = np.asarray(strength.any(axis=1))
    live, dead = np.flatnonzero(links), ~links
    vector: Vector = np.zeros((2, len(causes), 1 << len(told.findings)))
    vector[..., 0] = constant * np.prod((there_in + away_in)[..., dead], axis=-1)
    vector = _switch_on(vector, network.leak[list(told.findings)])
    for other in live:
        made = _switch_on(vector, strength[other])
        vector = away_in[..., other, None] * vector + there_in[..., other, None] * made
    # turn "exactly these are so" into "what was told about these, nothing asked of the others"
    for bit, (low, high) in enumerate(zip(told.if_not_so, told.if_so, strict=True)):
        halves = vector.reshape(*vector.shape[:-1], -1, 2, 1 << bit)
        not_asked = halves[..., 0, :] + halves[..., 1, :]
        asked = low * halves[..., 0, :] + high * halves[..., 1, :]
        halves[..., 0, :], halves[..., 1, :] = not_asked, asked
    return vector[0], vector[1]


@dataclass(frozen=True)
class Question:
    """What asking about one finding is worth."""

    finding: int
    chance_yes: float
    gain_bits: float
    same_leader: float  # chance that the leading cause stays the same


def entropy_bits(chances: Vector) -> Vector:
    """Return the binary entropy of each chance [bits]."""
    safe = np.clip(chances, 1e-12, 1 - 1e-12)
    return np.asarray(-(safe * np.log2(safe) + (1 - safe) * np.log2(1 - safe)))


def value_of_asking(
    network: Network,
    told: Told,
    ranking: Ranking,
    candidates: Sequence[int],
    share: Vector | None = None,
) -> list[Question]:
    """Return the expected drop of the summed entropy of all causes for each candidate finding.

    `share` of each cause, when given, scales its posteriors: responsibility over posterior, so that
    only what may have made the complaint counts, and not every common and harmless thing.

    The branch "no" is worked out for all candidates in one pass (an absent finding only scales
    the causes); the branch "yes" follows from the total, P(e) = P(e, yes) + P(e, no).
    """
    if not candidates:
        return []
    # as many candidates at a time as fit into memory: each keeps a vector for every linked cause
    linked = int(network.strength[:, list(told.findings)].any(axis=1).sum())
    at_once = max(1, _MOST_NUMBERS // ((linked + 1) << len(told.findings)))
    columns = np.array(list(candidates), dtype=np.intp)
    parts = [
        _if_absent(network, told, columns[start : start + at_once])
        for start in range(0, len(columns), at_once)
    ]
    evidence_no = np.concatenate([evidence for evidence, _ in parts])
    joint_no = np.concatenate([joint for _, joint in parts])
    joint_yes = np.maximum(ranking.posterior * ranking.evidence - joint_no, 0.0)
    evidence_yes = np.maximum(ranking.evidence - evidence_no, 1e-300)
    posterior_no = np.clip(joint_no / evidence_no[:, None], 0, 1)
    posterior_yes = np.clip(joint_yes / evidence_yes[:, None], 0, 1)
    yes = np.clip(evidence_yes / ranking.evidence, 0, 1)
    before = ranking.posterior
    if share is not None:
        before, posterior_no, posterior_yes = (
            before * share,
            posterior_no * share,
            posterior_yes * share,
        )
    now = entropy_bits(before).sum()
    after = yes * entropy_bits(posterior_yes).sum(axis=1) + (1 - yes) * entropy_bits(
        posterior_no
    ).sum(axis=1)
    leader = int(before.argmax())
    same = yes * (posterior_yes.argmax(axis=1) == leader) + (1 - yes) * (
        posterior_no.argmax(axis=1) == leader
    )
    return [
        Question(int(column), float(yes[row]), float(now - after[row]), float(same[row]))
        for row, column in enumerate(columns)
    ]


def _if_absent(network: Network, told: Told, columns: Places) -> tuple[Vector, Vector]:
    """Return P(what was told, candidate absent), and that with each cause there, by candidate."""
    there, away, constant = _absorb_absent(network, told)
    there_no = there[None, :] * (1 - network.strength[:, columns].T)  # (candidates, causes)
    strength = network.strength[:, list(told.findings)]
    links = np.asarray(strength.any(axis=1))
    live, dead = np.flatnonzero(links), ~links  # numpy's set functions are slow to import
    rows = len(columns)
    vector: Vector = np.zeros((rows, 1 << len(told.findings)))
    vector[:, 0] = constant * (1 - network.leak[columns])
    vector[:, 0] *= np.prod(there_no[:, dead] + away[dead], axis=1)
    vector = _switch_on(vector, network.leak[list(told.findings)])
    forward = [vector]
    for cause in live:
        vector = away[cause] * vector + there_no[:, cause, None] * _switch_on(
            vector, strength[cause]
        )
        forward.append(vector)
    weights = np.broadcast_to(_final_weights(told), vector.shape).copy()
    evidence_no = (vector * weights).sum(axis=1)
    joint_no = there_no / (there_no + away) * evidence_no[:, None]
    for position in range(len(live) - 1, -1, -1):
        cause = live[position]
        back = _look_back(weights, strength[cause])
        joint_no[:, cause] = there_no[:, cause] * (forward[position] * back).sum(axis=1)
        weights = away[cause] * weights + there_no[:, cause, None] * back
    return evidence_no, joint_no
