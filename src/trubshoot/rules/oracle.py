"""The reference engine: strata by strata to a fixed point, in plain Python.

It defines what the rules mean. In the tests it is the oracle for the other engine, at run time
the second opinion for hazards, and on Pythons where durable-rules cannot be built the engine.
"""

from __future__ import annotations

from collections.abc import Sequence

from trubshoot.rules.conditions import Conclusions, Fact, Facts, Firing, Rule, stratify


class OracleEngine:
    """Forward chaining in plain Python."""

    name = "built-in reference engine"

    def __init__(self, rules: Sequence[Rule]) -> None:
        level = stratify(rules)
        self._strata = [
            [rule for rule in rules if level[rule.id] == stratum]
            for stratum in sorted(set(level.values()))
        ]

    def run(self, facts: Facts) -> Conclusions:
        """Return everything that follows from the facts."""
        known = dict(facts)
        fired: dict[str, Firing] = {}
        for rules in self._strata:
            negated = {test for rule in rules for test in rule.negated}
            blocked = {test for test in negated if test.holds(known.get(test.fact))}
            candidates = [rule for rule in rules if not blocked.intersection(rule.negated)]
            changed = True
            while changed:
                changed = False
                for rule in candidates:
                    supports = {
                        tuple(
                            sorted(
                                {test.fact for test in tests}
                                | {test.marker for test in rule.negated}
                            )
                        )
                        for tests in rule.alternatives
                        if all(test.holds(known.get(test.fact)) for test in tests)
                    }
                    before = fired.get(rule.id)
                    if not supports or (before and supports <= set(before.supports)):
                        continue
                    fired[rule.id] = Firing(rule.id, rule.conclusion, tuple(sorted(supports)))
                    known.setdefault(rule.conclusion, Fact())
                    changed = True
        return Conclusions(known, tuple(fired.values()))
