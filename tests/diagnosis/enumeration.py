"""The ranker's answers by sheer enumeration: every cause, every link and every leak on or off.

Written from the meaning of the network, and sharing no step with the recursion it checks.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from trubshoot.diagnosis.noisy_or import Network, Told


@dataclass(frozen=True)
class Answer:
    """What enumeration says."""

    evidence: float
    posterior: np.ndarray
    responsibility: np.ndarray
    none_of_these: float


def enumerated(network: Network, told: Told) -> Answer:
    """Return evidence, posteriors, responsibilities and "none of these" as plain sums."""
    causes = len(network.prior)
    asked = [*told.findings, *told.absent]
    links = [(i, j) for i in range(causes) for j in asked if network.strength[i, j] > 0]
    chances = [
        *network.prior,
        *(network.strength[i, j] for i, j in links),
        *(network.leak[j] for j in asked),
    ]
    count = len(chances)
    assert count <= 21, "too many switches to enumerate"
    worlds = (np.arange(1 << count)[:, None] >> np.arange(count)) & 1
    weight = np.prod(np.where(worlds == 1, chances, 1 - np.array(chances)), axis=1)
    there = worlds[:, :causes] == 1
    on = {link: there[:, link[0]] & (worlds[:, causes + k] == 1) for k, link in enumerate(links)}
    leaks = {j: worlds[:, causes + len(links) + k] == 1 for k, j in enumerate(asked)}
    so = {
        j: leaks[j] | np.any([on[link] for link in links if link[1] == j] or [leaks[j]], axis=0)
        for j in asked
    }
    for j in told.absent:
        weight = weight * ~so[j]
    for j, low, high in zip(told.findings, told.if_not_so, told.if_so, strict=True):
        weight = weight * np.where(so[j], high, low)
    up = {told.findings[position] for position in told.up}
    made = np.array(
        [
            np.any(
                [on[link] for link in links if link[0] == i and link[1] in up]
                or [np.zeros(len(weight), dtype=bool)],
                axis=0,
            )
            for i in range(causes)
        ]
    )
    total = float(weight.sum())
    return Answer(
        total,
        np.array([float(weight[there[:, i]].sum()) for i in range(causes)]) / total,
        np.array([float(weight[made[i]].sum()) for i in range(causes)]) / total,
        float(weight[~made.any(axis=0)].sum()) / total,
    )


def random_network(
    random: np.random.Generator, causes: int, findings: int, density: float = 0.7
) -> Network:
    """Return a network with some links missing."""
    linked = random.random((causes, findings)) < density
    return Network(
        random.uniform(0.005, 0.5, causes),
        np.where(linked, random.uniform(0.05, 0.95, (causes, findings)), 0.0),
        random.uniform(0.005, 0.3, findings),
    )


def random_told(
    random: np.random.Generator, findings: int, most: int, *, soft: bool = True
) -> Told:
    """Return up to `most` findings told, in random order: absent, present, likely or unlikely."""
    asked = random.permutation(findings)[: random.integers(0, most + 1)]
    absent, columns, low, high = [], [], [], []
    for column in asked:
        kind = random.integers(0, 4 if soft else 2)
        if kind == 0:
            absent.append(int(column))
            continue
        columns.append(int(column))
        weights = [
            (0.0, 1.0),
            (random.uniform(0.05, 0.4), random.uniform(0.5, 0.95)),
            (random.uniform(0.5, 0.95), random.uniform(0.05, 0.4)),
        ][kind - 1]
        low.append(float(weights[0]))
        high.append(float(weights[1]))
    return Told(tuple(absent), tuple(columns), tuple(low), tuple(high))
