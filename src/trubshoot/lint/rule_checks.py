"""Checks of single rules and of pairs of rules: K03 to K07."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator

from trubshoot.knowledge_base.schema import RuleSpec
from trubshoot.lint.boxes import (
    Box,
    box_of,
    excludes_test,
    facts_in,
    implies,
    implies_test,
    join,
    range_of,
    side_of,
)
from trubshoot.lint.remarks import DERIVED, Remark, Subject, conditions, place_of_test
from trubshoot.rules import Fact
from trubshoot.rules.conditions import COMPARE, SCALE, Rule, Test, parse_condition
from trubshoot.rules.oracle import OracleEngine

MAX_WITNESSES = 64  # ways to bring about a conclusion that are tried in turn
SHARES = (0.0, 0.5, 1.0)  # where in its interval a witness takes its numbers


def limits(subject: Subject) -> Iterator[Remark]:
    """K03: a limit that always or never holds inside the declared range of its fact.

    `gte` with the lowest number of the range is the way to ask whether a number is stated.
    """
    facts = subject.knowledge.facts
    for spec in subject.knowledge.rules.values():
        for section, number, condition in conditions(spec):
            for test in itertools.chain(*parse_condition(condition)):
                low, high = range_of(facts, test.fact)
                if test.operator not in COMPARE or test.fact not in facts:
                    continue
                if test.operator == "gte" and test.argument == low:
                    continue
                side = side_of(test)
                never = side.low > high or side.high < low
                if never or (side.low <= low and side.high >= high):
                    yield Remark(
                        *subject.at_rule(spec.id, "when", section, number),
                        "K03",
                        f"'{test.describe()}' {'never' if never else 'always'} holds inside "
                        f"{low / SCALE:g} to {high / SCALE:g}.",
                        "Correct the limit, or the range in facts.yaml.",
                    )


def living(subject: Subject, rule: Rule) -> list[Box]:
    """Return the boxes of the alternatives that can hold at all."""
    boxes = (box_of(tests, subject.knowledge.facts) for tests in rule.alternatives)
    return [box for box in boxes if box is not None and not _dead(box, rule)]


def _dead(box: Box, rule: Rule) -> bool:
    return any(implies_test(box, test) for test in rule.negated) or any(
        name.startswith(DERIVED) and side.state != "present" for name, side in box.items()
    )


def contradictions(subject: Subject) -> Iterator[Remark]:
    """K04: a rule, or a condition in it, that can never hold."""
    for rule in subject.rules.values():
        spec = subject.knowledge.rules[rule.id]
        if not living(subject, rule):
            yield Remark(
                *subject.at_rule(rule.id),
                "K04",
                "its conditions can never hold together.",
                "Mend the one that contradicts the others.",
            )
            continue
        useful: set[Test] = set()
        for tests in rule.alternatives:
            box = box_of(tests, subject.knowledge.facts)
            if box is not None and not _dead(box, rule):
                useful.update(tests)
        for test in dict.fromkeys(itertools.chain(*rule.alternatives)):
            if test not in useful:
                yield Remark(
                    *place_of_test(subject, spec, test),
                    "K04",
                    f"'{test.describe()}' never holds beside the other conditions.",
                    "Take it out, or mend the condition that it contradicts.",
                )


def repeated(subject: Subject) -> Iterator[Remark]:
    """K05 and K06: two rules that say the same, or one that another already covers."""
    groups: dict[tuple[str, str], list[Rule]] = {}
    for rule in subject.rules.values():
        then = subject.knowledge.rules[rule.id].then
        groups.setdefault((then.kind, then.target), []).append(rule)
    boxes = {rule.id: living(subject, rule) for rule in subject.rules.values()}
    for group in groups.values():
        for narrow, wide in itertools.permutations(group, 2):
            specs = subject.knowledge.rules[narrow.id], subject.knowledge.rules[wide.id]
            if not _covers(narrow, wide, boxes) or not _as_strong(*specs):
                continue
            same = _covers(wide, narrow, boxes) and _as_strong(specs[1], specs[0])
            if same and narrow.id > wide.id:
                continue  # named once
            what = f"says the same as {wide.id}." if same else f"is covered by {wide.id}."
            yield Remark(
                *subject.at_rule(narrow.id),
                "K05" if same else "K06",
                what,
                "Keep one of them." if same else f"Remove it, or narrow {wide.id}.",
            )


def _covers(narrow: Rule, wide: Rule, boxes: dict[str, list[Box]]) -> bool:
    """Tell whether the wide rule fires whenever the narrow one does."""
    return bool(boxes[narrow.id]) and all(
        any(
            implies(box, outer)
            and all(
                excludes_test(box, test) or any(_weaker(test, own) for own in narrow.negated)
                for test in wide.negated
            )
            for outer in boxes[wide.id]
        )
        for box in boxes[narrow.id]
    )


def _weaker(test: Test, denied: Test) -> bool:
    """Tell whether denying one test denies the other as well."""
    return test.fact == denied.fact and side_of(test).within(side_of(denied))


def _as_strong(narrow: RuleSpec, wide: RuleSpec) -> bool:
    """Tell whether the wide rule concludes at least as much: soft findings count by weight."""
    if wide.then.told is None:
        return True
    if narrow.then.told is None:
        return False
    ours = math.log(narrow.then.told.so / narrow.then.told.not_so)
    theirs = math.log(wide.then.told.so / wide.then.told.not_so)
    return abs(theirs) >= abs(ours)


def exclusive_together(subject: Subject) -> Iterator[Remark]:
    """K07: rules that find a thing present and absent on the same facts.

    Facts that meet both rules are made up and run through all rules, so that only what really
    comes out is reported, with these facts.
    """
    engine = OracleEngine(list(subject.rules.values()))
    makers = subject.makers()
    for name, rules in makers.items():
        if not name.startswith("finding."):
            continue
        other = "absence." + name.removeprefix("finding.")
        for there, away in itertools.product(rules, makers.get(other, ())):
            witness = _witness(subject, engine, makers, there, away)
            if witness is not None:
                shown = ", ".join(f"{key}: {fact.plain}" for key, fact in sorted(witness.items()))
                yield Remark(
                    *subject.at_rule(away.id),
                    "K07",
                    f"{other} and {name} ({there.id}) hold together for {shown}.",
                    "Narrow one of the rules so that it is silent where the other speaks.",
                )


def _witness(
    subject: Subject,
    engine: OracleEngine,
    makers: dict[str, list[Rule]],
    first: Rule,
    second: Rule,
) -> dict[str, Fact] | None:
    """Return facts on which both rules fire when all rules run; None when none were found."""
    facts = subject.knowledge.facts
    for one in itertools.islice(_grounded(subject, makers, first, ()), MAX_WITNESSES):
        for two in itertools.islice(_grounded(subject, makers, second, ()), MAX_WITNESSES):
            both = join(one, two)
            if both is None:
                continue
            for share in SHARES:
                stated = facts_in(both, facts, share)
                fired = {firing.rule for firing in engine.run(stated).firings}
                if {first.id, second.id} <= fired:
                    return stated
    return None


def _grounded(
    subject: Subject, makers: dict[str, list[Rule]], rule: Rule, above: tuple[str, ...]
) -> Iterator[Box]:
    """Yield boxes of logged facts only that make a rule fire, as far as `none` lets it."""
    for box in living(subject, rule):
        derived = [name for name in box if name in makers]
        logged: Box = {name: side for name, side in box.items() if name not in makers}
        ways = [
            [
                found
                for maker in makers[name]
                if maker.id not in above
                for found in _grounded(subject, makers, maker, (*above, rule.id))
            ][:MAX_WITNESSES]
            for name in derived
        ]
        for chosen in itertools.islice(itertools.product(*ways), MAX_WITNESSES):
            joined: Box | None = logged
            for part in chosen:
                joined = join(joined, part) if joined is not None else None
            if joined is not None:
                yield joined
