"""Circumstances for an invented case: those that bear on the fault, and none that exclude another.

Circumstances have no chance of their own in the knowledge, only odds. One is told with a small
chance that is multiplied by the odds of the causes present, so that what it says for or against a
cause holds among the cases drawn.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from functools import cached_property

import numpy as np

from trubshoot.diagnosis.network import Base
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.schema import Condition, RuleSpec

RATE = 0.08  # how often one that bears on the fault is told where it changes nothing; judgement
MOST = 3

_Values = frozenset[str] | tuple[float, float]


class Circumstances:
    """Draws circumstances of practice."""

    def __init__(self, knowledge: KnowledgeBase, base: Base) -> None:
        self.base = base
        self.names = [
            name for name in base.modifiers if knowledge.contexts[name].tells == "practice"
        ]
        self.knowledge = knowledge

    def draw(
        self,
        random: np.random.Generator,
        bears: Collection[int],
        there: Collection[int],
        never: Collection[int],
    ) -> tuple[str, ...]:
        """Return circumstances, at most three.

        Args:
            random: where chance comes from.
            bears: rows of causes that may have made the fault; others' circumstances are no news.
            there: rows of causes that are there.
            never: rows of causes that cannot be; what changes them speaks of another time.
        """
        drawn = []
        for name in self.names:
            pairs = self.base.modifiers[name]
            rows = {row for row, _ in pairs}
            if rows.isdisjoint(bears) or not rows.isdisjoint(never):
                continue
            odds = RATE / (1 - RATE) * math.prod(times for row, times in pairs if row in there)
            if random.random() < odds / (1 + odds):
                drawn.append(name)
        kept: list[str] = []
        for place in random.permutation(len(drawn)):
            name = drawn[place]
            if len(kept) < MOST and not any(self.exclude(name, other) for other in kept):
                kept.append(name)
        return tuple(kept)

    def exclude(self, one: str, other: str) -> bool:
        """Tell whether two circumstances hardly go together.

        That is so where the rules conclude them from values of one fact that never meet, and where
        they pull the same cause opposite ways.
        """
        first, second = dict(self.base.modifiers[one]), dict(self.base.modifiers[other])
        if any((first[row] - 1) * (second[row] - 1) < 0 for row in first if row in second):
            return True
        mine, theirs = self._values.get(one, {}), self._values.get(other, {})
        return any(not _meet(mine[fact], theirs[fact]) for fact in mine if fact in theirs)

    @cached_property
    def _values(self) -> Mapping[str, Mapping[str, _Values]]:
        """Return for each circumstance the facts it hangs on, with the values it allows."""
        rules: dict[str, list[RuleSpec]] = {}
        for rule in self.knowledge.rules.values():
            if rule.then.context is not None:
                rules.setdefault(rule.then.context, []).append(rule)
        # with several rules for one, what each allows would have to be joined; left open
        return {
            name: {item.fact: values for item in group[0].when.all if (values := _allowed(item))}
            for name, group in rules.items()
            if len(group) == 1
        }


def _allowed(item: Condition) -> _Values | None:
    if item.in_ is not None:
        return frozenset(item.in_)
    lows = [value for value in (item.gt, item.gte, item.eq) if value is not None]
    highs = [value for value in (item.lt, item.lte, item.eq) if value is not None]
    if not lows and not highs:
        return None
    return max(lows, default=-math.inf), min(highs, default=math.inf)


def _meet(one: _Values, other: _Values) -> bool:
    if isinstance(one, frozenset) and isinstance(other, frozenset):
        return not one.isdisjoint(other)
    if isinstance(one, tuple) and isinstance(other, tuple):
        return max(one[0], other[0]) < min(one[1], other[1])
    return True
