"""Rules compiled for running: conjunctions of tests on single facts, in disjunctive normal form.

Four things are kept apart: a fact is present, absent, unknown, or not stated at all. A test on a
fact that is not stated never holds; `none` means "not known to hold".
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from numbers import Real
from typing import Protocol

from trubshoot.errors import EngineError

SCALE = 10_000  # numbers travel as fixed-point integers: no locale, no exponent, no float identity
MAX_NUMBER = 2e5  # MAX_NUMBER * SCALE stays below 2**31
MAX_ANTECEDENTS = 15
MAX_ALTERNATIVES = 32
# The engine keeps the length of a text in 16 bits, in which each sign may take twelve bytes: "ale"
# and 65,536 signs more would be "ale".
MAX_TEXT = 5000
STATES = ("present", "absent", "unknown")
COMPARE: dict[str, Callable[[int, int], bool]] = {
    "gt": lambda value, limit: value > limit,
    "gte": lambda value, limit: value >= limit,
    "lt": lambda value, limit: value < limit,
    "lte": lambda value, limit: value <= limit,
    "eq": lambda value, limit: value == limit,
}
# How the name of a conclusion begins, so that a conclusion never overwrites what was logged.
PREFIX = {
    "finding": "finding.",
    "no_finding": "absence.",
    "context": "context.",
    "rules_out": "ruled_out.",
    "hazard": "hazard.",
    "marker": "marker.",
    "hold": "hold.",
    "permit": "permit.",
}
HINT = "hint."  # a soft finding is known by the rule that gave it


def fixed_point(value: object) -> int:
    """Return a number as an integer count of 1/10,000.

    Raises: EngineError when it is not a finite number within +-200,000.
    """
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise EngineError(f"not a number: {value!r}")
    if not math.isfinite(value) or abs(value) > MAX_NUMBER:
        raise EngineError(f"not a usable number: {value!r}")
    return round(value * SCALE)


def bearable(text: str) -> str:
    """Return a text that the engine can compare. Raises EngineError for one that is too long."""
    if len(text) > MAX_TEXT:
        raise EngineError(f"a text of {len(text)} signs; at most {MAX_TEXT}")
    return text


@dataclass(frozen=True)
class Fact:
    """What is known under one name: a state, and with it a number or a text."""

    state: str = "present"
    number: float | None = None
    text: str | None = None
    scaled: int | None = field(init=False, compare=False, repr=False, default=None)

    def __post_init__(self) -> None:
        if self.state not in STATES:
            raise EngineError(f"not a state: {self.state!r}")
        if self.number is not None:  # refused here, not in the middle of a run
            object.__setattr__(self, "scaled", fixed_point(self.number))
        if self.text is not None:
            bearable(self.text)

    @classmethod
    def of(cls, value: float | str) -> Fact:
        """Return the fact for a plain value: a state, a number or a text.

        Raises: EngineError for a truth value, and for what no rule could compare.
        """
        if isinstance(value, str):
            return cls(state=value) if value in STATES else cls(text=value)
        if not isinstance(value, Real) or isinstance(value, bool):
            raise EngineError(f"not a number: {value!r}")
        return cls(number=float(value))

    @property
    def plain(self) -> float | str:
        """Return the plain value again."""
        if self.number is not None:
            return self.number
        return self.text if self.text is not None else self.state


Facts = Mapping[str, Fact]


@dataclass(frozen=True)
class Test:
    """One test on one fact: is a state, equals a text, or compares a number."""

    __test__ = False  # not a pytest class

    fact: str
    operator: str
    argument: int | str

    def holds(self, fact: Fact | None) -> bool:
        """Tell whether the test holds on a fact; never on one that is not stated."""
        if fact is None:
            return False
        if self.operator == "is":
            return fact.state == self.argument
        if self.operator == "text":
            return fact.text == self.argument
        if fact.scaled is None:
            return False
        return COMPARE[self.operator](fact.scaled, int(self.argument))

    @property
    def marker(self) -> str:
        """Return the name under which 'this test does not hold' is told to a later stratum."""
        return f"~{self.fact}|{self.operator}|{self.argument}"

    def describe(self) -> str:
        """Return the test as people read it."""
        if self.operator in ("is", "text"):
            return f"{self.fact} is {self.argument}"
        sign = {"gt": ">", "gte": ">=", "lt": "<", "lte": "<=", "eq": "="}[self.operator]
        return f"{self.fact} {sign} {int(self.argument) / SCALE:g}"


class ConditionSpec(Protocol):
    """What a condition of a knowledge file offers."""

    @property
    def fact(self) -> str:
        """Return the name of the fact tested."""

    def tests(self) -> list[tuple[str, object]]:
        """Return the (operator, argument) pairs."""


def parse_condition(condition: ConditionSpec) -> list[tuple[Test, ...]]:
    """Return the alternatives of one condition, each a tuple of tests that must all hold.

    Raises: EngineError: an operator or an argument that the engines do not know.
    """
    parts: list[list[Test]] = []
    for operator, argument in condition.tests():
        if operator == "is":
            if argument not in STATES:
                raise EngineError(f"{condition.fact}: not a state: {argument!r}")
            parts.append([Test(condition.fact, "is", str(argument))])
        elif operator == "in" and isinstance(argument, Iterable):
            parts.append([Test(condition.fact, "text", bearable(str(text))) for text in argument])
        elif operator in COMPARE:
            parts.append([Test(condition.fact, operator, fixed_point(argument))])
        else:
            raise EngineError(f"{condition.fact}: unknown operator {operator!r}")
    if not parts or not all(parts):
        raise EngineError(f"{condition.fact}: no test")
    return [tuple(combination) for combination in itertools.product(*parts)]


@dataclass(frozen=True)
class Rule:
    """A rule ready to run: alternatives of conjunctions, negated tests, and one conclusion."""

    id: str
    alternatives: tuple[tuple[Test, ...], ...]
    negated: tuple[Test, ...]
    conclusion: str  # the derived fact's name, e.g. "finding.sour_tart"

    @property
    def reads(self) -> frozenset[str]:
        """Return the names this rule reads positively."""
        return frozenset(test.fact for tests in self.alternatives for test in tests)


def compile_rule(
    rule_id: str,
    all_of: Iterable[ConditionSpec],
    any_of: Iterable[ConditionSpec],
    none_of: Iterable[ConditionSpec],
    conclusion: str,
) -> Rule:
    """Compile the conditions of one rule.

    Raises: EngineError for what the engine cannot carry (only negated conditions, more than 15
    antecedents, more than 32 alternatives, unknown operators, unusable numbers).
    """
    try:
        parts = [parse_condition(condition) for condition in all_of]
        choices = [tests for condition in any_of for tests in parse_condition(condition)]
        if choices:
            parts.append(choices)
        # one fact never fills two slots of the engine, so a repeated test is dropped
        negated = tuple(dict.fromkeys(test for item in none_of for test in _negated(item)))
    except EngineError as error:
        raise EngineError(f"rule {rule_id}: {error}") from error
    if not parts:
        raise EngineError(f"rule {rule_id}: needs at least one positive condition")
    count = math.prod(len(part) for part in parts)
    if count > MAX_ALTERNATIVES:
        raise EngineError(f"rule {rule_id}: {count} alternatives; at most {MAX_ALTERNATIVES}")
    alternatives = tuple(
        dict.fromkeys(
            tuple(dict.fromkeys(itertools.chain(*combination)))
            for combination in itertools.product(*parts)
        )
    )
    for tests in alternatives:
        if len({test.fact for test in tests}) + len(negated) > MAX_ANTECEDENTS:
            raise EngineError(f"rule {rule_id}: more than {MAX_ANTECEDENTS} antecedents")
    return Rule(rule_id, alternatives, negated, conclusion)


def _negated(condition: ConditionSpec) -> list[Test]:
    """Return the tests of which none may hold: "in" one of several texts is one test for each."""
    alternatives = parse_condition(condition)
    if any(len(tests) != 1 for tests in alternatives):
        raise EngineError(f"{condition.fact}: a condition under none takes exactly one test")
    return [tests[0] for tests in alternatives]


def stratify(rules: Iterable[Rule]) -> dict[str, int]:
    """Return the stratum of each rule: after its makers, and strictly after what it negates.

    Raises: EngineError when a negation goes through a cycle.
    """
    rules = list(rules)
    makers: dict[str, list[Rule]] = {}
    for rule in rules:
        makers.setdefault(rule.conclusion, []).append(rule)
    level = {rule.id: 0 for rule in rules}
    after: dict[str, list[tuple[str, int]]] = {}  # most rules read only what was logged
    for rule in rules:
        needed = [(maker.id, 0) for name in rule.reads for maker in makers.get(name, ())]
        needed += [(maker.id, 1) for test in rule.negated for maker in makers.get(test.fact, ())]
        if needed:
            after[rule.id] = needed
    for _ in range(len(rules) + 1):
        changed = False
        for rule_id, needed in after.items():
            lowest = max(level[maker] + steps for maker, steps in needed)
            if lowest > level[rule_id]:
                level[rule_id] = lowest
                changed = True
        if not changed:
            return level
    circle = ", ".join(rule.id for rule in rules if level[rule.id] > len(rules) // 2)
    raise EngineError(f"negation goes through a cycle: {circle}")


@dataclass(frozen=True)
class Firing:
    """One rule that fired: what it concluded and the supports it fired on."""

    rule: str
    conclusion: str
    supports: tuple[tuple[str, ...], ...]  # names of facts, and of tests that did not hold


@dataclass(frozen=True)
class Conclusions:
    """All facts, logged and derived, and the rules that fired, in order."""

    facts: dict[str, Fact]
    firings: tuple[Firing, ...]

    def by_conclusion(self) -> dict[str, list[Firing]]:
        """Return the firings grouped by what they concluded."""
        groups: dict[str, list[Firing]] = {}
        for firing in self.firings:
            groups.setdefault(firing.conclusion, []).append(firing)
        return groups
