"""The examples and tests that the knowledge files carry, each run as a test."""

from __future__ import annotations

from collections import Counter
from functools import cache

import pytest

from trubshoot.diagnosis.network import Base, FindingState, make_case
from trubshoot.diagnosis.noisy_or import rank
from trubshoot.evidence.words import Lexicon, understand
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.checks import DERIVED, SAID
from trubshoot.knowledge_base.loader import read_all
from trubshoot.knowledge_base.schema import CauseExample, Finding, FindingExample, RuleTest
from trubshoot.rules import Fact, compile_specs
from trubshoot.rules.conditions import COMPARE, SCALE, Rule
from trubshoot.rules.oracle import OracleEngine

# which stage of the batch lets a finding be seen, for phrases that the stage tells apart
STAGE_OF = {
    "boil": "brewing",
    "lag": "brewing",
    "active": "fermenting",
    "late_fermentation": "fermenting",
    "packaging": "bottled",
    "conditioning": "bottled",
    "tasting": "bottled",
}


@cache
def _knowledge() -> KnowledgeBase:
    knowledge, _, problems = read_all()
    assert knowledge is not None, "\n".join(map(str, problems))
    return knowledge


@cache
def _base() -> Base:
    return Base.of(_knowledge())


@cache
def _lexicon() -> Lexicon:
    return Lexicon.of(_knowledge())


@cache
def _compiled() -> dict[str, Rule]:
    return {rule.id: rule for rule in compile_specs(_knowledge().rules.values())}


@cache
def _all_rules() -> OracleEngine:
    return OracleEngine(list(_compiled().values()))


RULE_TESTS = [
    pytest.param(spec.id, test, id=f"{spec.id}: {test.name}")
    for spec in _knowledge().rules.values()
    for test in spec.tests
]
CAUSE_EXAMPLES = [
    pytest.param(cause.id, example, id=f"{cause.id}: {example.name}")
    for cause in _knowledge().causes.values()
    for example in cause.examples
]
FINDING_EXAMPLES = [
    pytest.param(finding, example, id=f"{finding.id}: {example.words}")
    for finding in _knowledge().findings.values()
    for example in finding.examples
]


@pytest.mark.parametrize(("rule", "test"), RULE_TESTS)
def test_rule(rule: str, test: RuleTest) -> None:
    """The rule fires, or stays silent, on the facts of its own test."""
    stated = {name: Fact.of(value) for name, value in test.facts.items()}
    alone = OracleEngine([_compiled()[rule]]).run(stated)
    assert bool(alone.firings) is test.fires
    # among all rules too; others may conclude what this one reads, so silence may end
    if test.fires and not _compiled()[rule].negated:
        together = {firing.rule for firing in _all_rules().run(stated).firings}
        assert rule in together


def _check_word(name: str, value: float | str) -> None:
    knowledge = _knowledge()
    if name.startswith(SAID):
        assert name.removeprefix(SAID) in {*knowledge.findings, *knowledge.signs}
        return
    if name.startswith(DERIVED):
        assert any(made.conclusion == name for made in _compiled().values()), name
        return
    fact, stated = knowledge.facts[name], Fact.of(value)
    if stated.number is not None:
        assert fact.type == "number", name
        low, high = fact.range or (0.0, 0.0)
        # a near miss may lie just outside: a rule that asks whether a number is known at all
        assert low - 0.011 <= stated.number <= high + 0.011, name
    elif stated.text is not None:
        assert fact.type == "text", name
        assert stated.text in fact.values, name


@pytest.mark.parametrize("rule", sorted(_knowledge().rules))
def test_rule_tests_use_words_of_the_vocabulary(rule: str) -> None:
    """No rule test states a misspelt or impossible fact, on which silence would prove nothing."""
    for test in _knowledge().rules[rule].tests:
        for name, value in test.facts.items():
            _check_word(name, value)


@pytest.mark.parametrize("rule", sorted(_knowledge().rules))
def test_rule_tests_stand_on_both_sides_of_each_limit(rule: str) -> None:
    """For every limit there is a test on which it holds and one on which it does not."""
    spec, compiled = _knowledge().rules[rule], _compiled()[rule]
    numbers: dict[str, list[float]] = {}
    for test in spec.tests:
        for name, value in test.facts.items():
            if not isinstance(value, str):
                numbers.setdefault(name, []).append(value)
    for one in (test for tests in (*compiled.alternatives, compiled.negated) for test in tests):
        if one.operator not in COMPARE:
            continue
        fact = _knowledge().facts[one.fact]
        limit = int(one.argument)
        if fact.range is not None and limit / SCALE in fact.range:
            continue  # asks only whether the number is known
        compare = COMPARE[one.operator]
        seen = {compare(round(value * SCALE), limit) for value in numbers.get(one.fact, [])}
        assert seen == {True, False}, f"{one.describe()}: its tests show only {seen}"


@pytest.mark.parametrize(("cause", "example"), CAUSE_EXAMPLES)
def test_cause(cause: str, example: CauseExample) -> None:
    """The cause stands where its example says, by the share of responsibility."""
    states = [FindingState(name, 0.0, 1.0, "said") for name in example.present]
    states += [FindingState(name, 1.0, 0.0, "said") for name in example.absent]
    case = make_case(_base(), states, example.contexts)
    ranking = rank(case.network, case.told)
    order = sorted(
        range(len(case.causes)),
        key=lambda row: (-round(float(ranking.responsibility[row]), 9), -ranking.posterior[row]),
    )
    names = [case.causes[row] for row in order]
    place = names.index(cause)
    right = {
        "first": place == 0,
        "top3": place < 3,
        "not_first": place > 0,
        "not_top3": place > 2,
    }[example.expect]
    assert right, f"{cause} is number {place + 1}; the first are {names[:4]}"


@pytest.mark.parametrize(("finding", "example"), FINDING_EXAMPLES)
def test_finding(finding: Finding, example: FindingExample) -> None:
    """The words mean the finding, or do not, at a stage at which it can be seen."""
    stages = dict.fromkeys(STAGE_OF[stage] for stage in finding.stages)
    meant = []
    for stage in stages:
        known, _ = understand(_lexicon(), example.words, stage=stage)
        meant.append(any(item.id == finding.id and item.state == "present" for item in known))
    if example.means:
        assert any(meant), f"not understood as {finding.id} at {list(stages)}"
    else:
        assert not any(meant), f"understood as {finding.id}"


def test_every_entry_has_its_examples() -> None:
    """Every cause, finding and rule carries examples for both answers."""
    knowledge = _knowledge()
    for finding in knowledge.findings.values():
        assert {example.means for example in finding.examples} == {True, False}, finding.id
    for cause in knowledge.causes.values():
        assert len(cause.examples) >= 2, cause.id
    for rule in knowledge.rules.values():
        assert Counter(test.fires for test in rule.tests).keys() == {True, False}, rule.id
