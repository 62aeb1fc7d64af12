"""From the knowledge and what is known of a batch to the numbers of the ranker."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from trubshoot.diagnosis.noisy_or import Network, Told, Vector, with_odds
from trubshoot.knowledge_base import KnowledgeBase

# The product of all modifiers of one cause stays within these odds: circumstances shift a
# cause, only observations decide it.
MODIFIER_CAP = 30.0


@dataclass(frozen=True)
class FindingState:
    """What is known about one finding: the two weights of what was told, and where it is from."""

    id: str
    if_not_so: float
    if_so: float
    origin: str  # "said", "log" or "said and log"
    because: tuple[str, ...] = ()
    asked: bool = False  # told when asked: evidence, but not what is to be explained

    @property
    def state(self) -> str:
        """Return present, absent, likely or unlikely."""
        if self.if_not_so == 0:
            return "present"
        if self.if_so == 0:
            return "absent"
        return "likely" if self.if_so > self.if_not_so else "unlikely"

    @property
    def up(self) -> bool:
        """Tell whether it was told as (more likely) present."""
        return self.if_so > self.if_not_so


@dataclass(frozen=True)
class Base:
    """The network of the whole knowledge base, without anything known of a batch."""

    causes: tuple[str, ...]
    findings: tuple[str, ...]
    network: Network
    modifiers: Mapping[str, tuple[tuple[int, float], ...]]  # context -> (cause, odds)

    @classmethod
    def of(cls, knowledge: KnowledgeBase) -> Base:
        """Return the arrays for a knowledge base."""
        causes, findings = tuple(knowledge.causes), tuple(knowledge.findings)
        column = {name: number for number, name in enumerate(findings)}
        strength = np.zeros((len(causes), len(findings)))
        modifiers: dict[str, list[tuple[int, float]]] = {}
        for row, cause in enumerate(knowledge.causes.values()):
            for link in cause.links:
                strength[row, column[link.finding]] = link.strength
            for modifier in cause.modifiers:
                modifiers.setdefault(modifier.when, []).append((row, modifier.odds))
        prior = np.array([cause.prior for cause in knowledge.causes.values()])
        leak = np.array([finding.leak for finding in knowledge.findings.values()])
        return cls(
            causes,
            findings,
            Network(prior, strength, leak),
            {name: tuple(pairs) for name, pairs in modifiers.items()},
        )


@dataclass(frozen=True)
class Case:
    """The network as it stands for one batch, and what was told."""

    causes: tuple[str, ...]
    findings: tuple[str, ...]
    network: Network
    told: Told
    odds: dict[str, dict[str, float]]  # cause -> context -> odds applied
    base_prior: Vector  # of the causes kept, before any circumstance
    about: tuple[int, ...] | None = None  # positions in told.findings of the complaint; None: all

    @property
    def asked(self) -> tuple[int, ...]:
        """Return the positions in told.findings of what was told as present only when asked."""
        if self.about is None:
            return ()
        return tuple(place for place in self.told.up if place not in self.about)


def make_case(
    base: Base,
    states: Iterable[FindingState],
    contexts: Collection[str] = (),
    ruled_out: Collection[str] = (),
) -> Case:
    """Return the network with contexts applied and impossible causes taken out."""
    factor = np.ones(len(base.causes))
    odds: dict[str, dict[str, float]] = {}
    for context in contexts:
        for row, multiplier in base.modifiers.get(context, ()):
            factor[row] *= multiplier
            odds.setdefault(base.causes[row], {})[context] = multiplier
    prior: Vector = with_odds(base.network.prior, np.clip(factor, 1 / MODIFIER_CAP, MODIFIER_CAP))
    keep = [row for row, name in enumerate(base.causes) if name not in ruled_out]
    column = {name: number for number, name in enumerate(base.findings)}
    absent: list[int] = []
    soft: list[FindingState] = []
    for state in states:
        if state.if_so == 0:
            absent.append(column[state.id])
        else:
            soft.append(state)
    told = Told(
        tuple(absent),
        tuple(column[state.id] for state in soft),
        tuple(state.if_not_so for state in soft),
        tuple(state.if_so for state in soft),
    )
    return Case(
        tuple(base.causes[row] for row in keep),
        base.findings,
        Network(prior[keep], base.network.strength[keep], base.network.leak),
        told,
        odds,
        base.network.prior[keep],
        _complaint(soft),
    )


def _complaint(soft: Iterable[FindingState]) -> tuple[int, ...] | None:
    """Return where in what was told the complaint stands; None when nothing, or all of it, is."""
    up = [(place, state.asked) for place, state in enumerate(soft) if state.up]
    about = tuple(place for place, asked in up if not asked)
    return about if 0 < len(about) < len(up) else None
