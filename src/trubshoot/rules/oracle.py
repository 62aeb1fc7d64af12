"""The reference engine: strata by strata to a fixed point, in plain Python.

It defines what the rules mean. In the tests it is the oracle for the other engine, at run time
the second opinion for hazards, and on Pythons where durable-rules cannot be built the engine.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from trubshoot.rules.conditions import Conclusions, Fact, Facts, Firing, Rule, Test, stratify


@dataclass(frozen=True)
class _Ready:
    """A rule with the names that support each of its alternatives worked out once."""

    id: str
    conclusion: str
    negated: frozenset[Test]
    alternatives: tuple[tuple[tuple[Test, ...], tuple[str, ...]], ...]

    @classmethod
    def of(cls, rule: Rule) -> _Ready:
        markers = {test.marker for test in rule.negated}
        return cls(
            rule.id,
            rule.conclusion,
            frozenset(rule.negated),
            tuple(
                (tests, tuple(sorted({test.fact for test in tests} | markers)))
                for tests in rule.alternatives
            ),
        )


class OracleEngine:
    """Forward chaining in plain Python."""

    name = "built-in reference engine"

    def __init__(self, rules: Sequence[Rule]) -> None:
        level = stratify(rules)
        self._strata = [
            [_Ready.of(rule) for rule in rules if level[rule.id] == stratum]
            for stratum in sorted(set(level.values()))
        ]

    def run(self, facts: Facts) -> Conclusions:
        """Return everything that follows from the facts."""
        known = dict(facts)
        fired: dict[str, Firing] = {}
        for rules in self._strata:
            negated = {test for rule in rules for test in rule.negated}
            blocked = {test for test in negated if test.holds(known.get(test.fact))}
            candidates = [rule for rule in rules if blocked.isdisjoint(rule.negated)]
            read = {
                test.fact for rule in candidates for tests, _ in rule.alternatives for test in tests
            }
            changed = True
            while changed:  # once more only when something became known that a rule here reads
                changed = False
                for rule in candidates:
                    supports = set()
                    for tests, support in rule.alternatives:
                        for test in tests:
                            if not test.holds(known.get(test.fact)):
                                break
                        else:
                            supports.add(support)
                    if not supports:
                        continue
                    fired[rule.id] = Firing(rule.id, rule.conclusion, tuple(sorted(supports)))
                    if rule.conclusion not in known:
                        known[rule.conclusion] = Fact()
                        changed = changed or rule.conclusion in read
        return Conclusions(known, tuple(fired.values()))
