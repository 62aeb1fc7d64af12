"""durable-rules, caged: the only file that knows the package.

Used of the engine: constant tests on single facts, conjunction over facts, chaining. Everything
else of it misbehaves in ordinary situations and is not used: negation, disjunction, joins,
arithmetic, regular expressions, events, timers, session state, its own host threads, fractions
on the wire. Negation is by strata: between two strata Python works out which negated tests do not
hold and states that as a marker fact. One session a run and stratum, always deleted.
"""

from __future__ import annotations

import itertools
import threading
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import durable_rules_engine
from durable import engine

from trubshoot.errors import EngineError
from trubshoot.rules.conditions import (
    Conclusions,
    Fact,
    Facts,
    Firing,
    Rule,
    Test,
    stratify,
)

# Limits measured on version 2.0.28; beyond them it crashes or hangs without a word.
MAX_NAMES = 480  # different tests at one level: 512
MAX_SAME_TEST = 250  # rules that end in the identical condition: 255
MAX_TESTS_PER_NAME = 60  # matches of one fact at a time: 64
_BOOT = "__boot"
_NUMBER_OPERATORS = {"gt": "$gt", "gte": "$gte", "lt": "$lt", "lte": "$lte", "eq": "$eq"}


class _QuietHost(engine.Host):  # type: ignore[misc]
    def _run(self) -> None:
        """Start no polling threads: they read sessions that are already freed."""


def _condition(name: str, tests: Sequence[Test]) -> dict[str, list[dict[str, Any]]]:
    parts: list[dict[str, Any]] = [{"k": name}]  # one key per dict: a second one is ignored
    for test in tests:
        if test.operator == "is":
            parts.append({"st": test.argument})
        elif test.operator == "text":
            parts.append({"t": test.argument})
        else:
            parts.append({_NUMBER_OPERATORS[test.operator]: {"v": test.argument}})
    return {"$and": parts}


def _wire(name: str, fact: Fact, session: str) -> dict[str, Any]:
    message: dict[str, Any] = {"id": f"f:{name}", "sid": session, "k": name, "st": fact.state}
    if fact.scaled is not None:
        message["v"] = fact.scaled
    if fact.text is not None:
        message["t"] = fact.text
    return message


@dataclass
class _Stratum:
    ruleset: str
    names: set[str]
    negated: list[Test]


@dataclass
class _Run:
    session: str
    known: dict[str, Fact]
    names: set[str]
    fired: dict[str, set[tuple[str, ...]]] = field(default_factory=dict)
    errors: list[tuple[str, BaseException]] = field(default_factory=list)


class DurableEngine:
    """The rules in durable-rules; build once a process, run any number of times.

    Raises: EngineError when a stratum is larger than the engine can carry.
    """

    name = "durable-rules"
    _counter = itertools.count()

    def __init__(self, rules: Sequence[Rule]) -> None:
        self._rules = {rule.id: rule for rule in rules}
        if len(self._rules) != len(rules):
            raise EngineError("two rules have the same id")
        self._host = _QuietHost()
        self._lock = threading.Lock()
        self._sessions = itertools.count()
        self._current: _Run | None = None
        level = stratify(rules)
        self._strata = [
            self._build([rule for rule in rules if level[rule.id] == stratum])
            for stratum in sorted(set(level.values()))
        ]

    def _build(self, rules: Sequence[Rule]) -> _Stratum:
        # a first action always runs, since deleting a session without one crashes the process
        definition: dict[str, Any] = {
            _BOOT: {"all": [{"m": {"k": _BOOT}}], "run": lambda context: None}
        }
        names = {_BOOT}
        negated: dict[str, Test] = {}
        tests_of: dict[str, set[Test]] = {}
        same: Counter[tuple[object, ...]] = Counter()
        for rule in rules:
            negated.update({test.marker: test for test in rule.negated})
            for number, tests in enumerate(rule.alternatives):
                by_name: dict[str, list[Test]] = {}
                for test in tests:
                    by_name.setdefault(test.fact, []).append(test)
                    tests_of.setdefault(test.fact, set()).add(test)
                slots = [_condition(name, group) for name, group in by_name.items()]
                slots += [
                    {"$and": [{"k": test.marker}, {"st": "present"}]} for test in rule.negated
                ]
                names.update(by_name)
                names.update(test.marker for test in rule.negated)
                same.update((name, *group) for name, group in by_name.items())
                same.update((test.marker,) for test in rule.negated)
                definition[f"{rule.id}#{number}"] = {
                    "all": [{f"s{index}": slot} for index, slot in enumerate(slots)],
                    "run": self._action(rule.id),
                }
        if len(names) > MAX_NAMES:
            raise EngineError(f"{len(names)} fact names in one stratum; at most {MAX_NAMES}")
        if max(same.values(), default=0) > MAX_SAME_TEST:
            raise EngineError(f"one condition used by more than {MAX_SAME_TEST} rules")
        for name, used in tests_of.items():
            if len(used) > MAX_TESTS_PER_NAME:
                raise EngineError(f"{name}: {len(used)} different tests; at most 60")
        ruleset = f"rs{next(self._counter)}"
        self._host.set_rulesets({ruleset: definition})
        return _Stratum(ruleset, names, [negated[key] for key in sorted(negated)])

    def _action(self, rule_id: str) -> Callable[[Any], None]:
        def run(context: Any) -> None:
            current = self._current
            if current is None:
                return
            try:  # the engine would swallow any exception
                matched = context._m if context._m is not None else {}
                support = tuple(sorted(message["k"] for message in matched.values()))
                current.fired.setdefault(rule_id, set()).add(support)
                conclusion = self._rules[rule_id].conclusion
                if conclusion not in current.known:
                    current.known[conclusion] = Fact()
                    if conclusion in current.names:  # stating what nobody reads raises inside
                        wired = _wire(conclusion, Fact(), current.session)
                        context._ruleset.assert_fact(wired)
            except BaseException as error:  # noqa: BLE001 - raised again after the run
                current.errors.append((rule_id, error))

        return run

    def run(self, facts: Facts) -> Conclusions:
        """Return everything that follows from the facts.

        Raises: EngineError when a rule failed inside the engine, or the engine itself.
        """
        known = dict(facts)
        for name in known:
            if name.startswith(("~", "__")):
                raise EngineError(f"not a fact name: {name!r}")
        firings: list[Firing] = []
        with self._lock:
            for stratum in self._strata:
                current = _Run(f"d{next(self._sessions)}", known, stratum.names)
                self._current = current
                try:
                    self._assert_all(stratum, current)
                except Exception as error:  # the package raises bare exceptions with a number
                    raise EngineError(f"durable-rules failed: {error!r}") from error
                finally:
                    self._current = None
                if current.errors:
                    rule_id, fault = current.errors[0]
                    if not isinstance(fault, Exception):
                        raise fault  # an interruption stays one
                    raise EngineError(f"rule {rule_id} failed while running") from fault
                firings += [
                    Firing(rule_id, self._rules[rule_id].conclusion, tuple(sorted(supports)))
                    for rule_id, supports in current.fired.items()
                ]
        return Conclusions(known, tuple(firings))

    def _assert_all(self, stratum: _Stratum, current: _Run) -> None:
        """State all facts in a session of their own, one by one, and delete the session."""
        session = current.session
        messages = [
            _wire(name, fact, session)
            for name, fact in list(current.known.items())
            if name in stratum.names
        ]
        messages += [
            _wire(test.marker, Fact(), session)
            for test in stratum.negated
            if not test.holds(current.known.get(test.fact))
        ]
        self._host.assert_fact(stratum.ruleset, {"id": "b", "sid": session, "k": _BOOT})
        try:
            for message in messages:
                try:
                    self._host.assert_fact(stratum.ruleset, message)
                except engine.MessageNotHandledException:
                    continue  # a known name with a value that no rule asks for
        finally:
            self._host.delete_state(stratum.ruleset, session)

    def close(self) -> None:
        """Give the compiled rules back; the engine cannot be used afterwards."""
        for stratum in self._strata:
            handle = self._host.get_ruleset(stratum.ruleset)._handle
            durable_rules_engine.delete_ruleset(handle)
        self._strata = []
