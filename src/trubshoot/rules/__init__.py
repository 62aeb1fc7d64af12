"""The rule engine: durable-rules in a cage, and the reference engine that says what rules mean."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol

from trubshoot.errors import EngineError
from trubshoot.rules.conditions import (
    HINT,
    PREFIX,
    Conclusions,
    Fact,
    Facts,
    Firing,
    Rule,
    compile_rule,
)
from trubshoot.rules.oracle import OracleEngine

if TYPE_CHECKING:
    from trubshoot.knowledge_base.schema import RuleSpec

__all__ = [
    "Conclusions",
    "Fact",
    "Facts",
    "Firing",
    "Opinion",
    "Reasoner",
    "Rule",
    "compile_specs",
    "conclude",
]


class Engine(Protocol):
    """What both engines offer."""

    name: str

    def run(self, facts: Facts) -> Conclusions:
        """Return everything that follows from the facts."""


def compile_specs(specs: Iterable[RuleSpec]) -> list[Rule]:
    """Compile rules of the knowledge base; a soft finding concludes a hint named by its rule."""
    return [
        compile_rule(
            spec.id,
            spec.when.all,
            spec.when.any,
            spec.when.none,
            HINT + spec.id
            if spec.then.told is not None
            else PREFIX[spec.then.kind] + spec.then.target,
        )
        for spec in specs
    ]


def conclude(specs: Iterable[RuleSpec], facts: Facts) -> Conclusions:
    """Run rules through the reference engine."""
    return OracleEngine(compile_specs(specs)).run(facts)


@dataclass(frozen=True)
class Opinion:
    """What both engines say: everything either concluded, and where they differ."""

    conclusions: Conclusions
    engine: str
    faults: tuple[str, ...] = ()
    by_engine: tuple[frozenset[str], ...] = ()  # everything each engine concluded, by name


class Reasoner:
    """The rules in the best engine to be had, with the reference engine as second opinion.

    On disagreement the union is taken, since a hazard that one engine missed must not be lost;
    the difference is reported as a fault.
    """

    def __init__(self, rules: Sequence[Rule]) -> None:
        self._reference = OracleEngine(rules)
        self._engine: Engine | None = None
        self.notice = ""
        try:
            from trubshoot.rules.durable_engine import DurableEngine
        except ImportError as error:
            self.notice = (
                f"durable-rules is not usable here ({error}); the {OracleEngine.name} is used."
            )
        else:
            self._engine = DurableEngine(rules)

    @property
    def engine(self) -> str:
        """Return the name of the engine in use."""
        return self._engine.name if self._engine is not None else self._reference.name

    def run(self, facts: Facts, *, one_engine: bool = False) -> Opinion:
        """Return everything that follows from the facts, checked by the second engine.

        Args:
            facts: what is known.
            one_engine: the reference engine alone: for a search whose end is asked of both.
        """
        second = self._reference.run(facts)
        if self._engine is None or one_engine:
            return Opinion(second, self._reference.name, (), (names_of(second),))
        try:
            first = self._engine.run(facts)
        except EngineError as error:
            return Opinion(second, self._reference.name, (str(error),), (names_of(second),))
        return compare(first, second, self._engine.name)


def compare(first: Conclusions, second: Conclusions, engine: str) -> Opinion:
    """Return the union of two engines' conclusions, and where they differ."""
    mine = {firing.rule: set(firing.supports) for firing in first.firings}
    theirs = {firing.rule: set(firing.supports) for firing in second.firings}
    both = (names_of(first), names_of(second))
    if mine == theirs:
        return Opinion(first, engine, (), both)
    faults = tuple(
        f"the two engines disagree about rule {rule}"
        for rule in sorted(set(mine) | set(theirs))
        if mine.get(rule) != theirs.get(rule)
    )
    missing = tuple(firing for firing in second.firings if firing.rule not in mine)
    union = Conclusions({**second.facts, **first.facts}, first.firings + missing)
    return Opinion(union, engine, faults, both)


def names_of(conclusions: Conclusions) -> frozenset[str]:
    """Return the names of everything that rules concluded."""
    return frozenset(firing.conclusion for firing in conclusions.firings)
