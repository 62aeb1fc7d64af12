"""The sensitivity report measures what it says: steps, turning points, noise, moved limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from tests.accuracy import sensitivity
from tests.accuracy.sensitivity import PRIORS, STRENGTHS, Told, neighbours

from trubshoot.diagnosis.network import Base, FindingState
from trubshoot.diagnosis.noisy_or import Network
from trubshoot.knowledge_base.schema import RuleSpec
from trubshoot.rules import Fact, compile_specs

TOY = Base(
    ("common", "rare"),
    ("haze",),
    Network(np.array([0.3, 0.1]), np.array([[0.4], [0.6]]), np.array([0.02])),
    {},
)
HAZY = Told("toy", (FindingState("haze", 0.0, 1.0, "said"),), (), ("common",))


@pytest.mark.parametrize(
    ("value", "words", "around"),
    [
        (0.4, STRENGTHS, (0.2, 0.6)),
        (0.05, STRENGTHS, (0.1,)),
        (0.95, STRENGTHS, (0.8,)),
        (0.07, PRIORS, (0.03, 0.3)),
    ],
)
def test_neighbours(value: float, words: tuple[float, ...], around: tuple[float, ...]) -> None:
    """A number moves to the words below and above its own, and never to itself."""
    assert neighbours(value, words) == around


def test_a_number_that_decides_is_found() -> None:
    """The prior of the leading cause decides a toy case, and where it tips is found."""
    count, moved = sensitivity.one_by_one(TOY, [HAZY])
    assert count == 4
    prior = next(item for item in moved if item.name == "prior of common")
    assert prior.cases == ("toy",)
    near = sensitivity.with_number(TOY, 0, None, prior.nearest)
    assert sensitivity.leader(near, HAZY) == "rare"
    back = sensitivity.with_number(TOY, 0, None, prior.nearest * 1.05)
    assert sensitivity.leader(back, HAZY) == "common"


def test_numbers_of_findings_not_told_change_nothing() -> None:
    """A link to a finding that no case tells is moved, and is not in the list."""
    wide = replace(
        TOY,
        findings=("haze", "smoke"),
        network=Network(
            TOY.network.prior, np.array([[0.4, 0.4], [0.6, 0.0]]), np.array([0.02, 0.02])
        ),
    )
    count, moved = sensitivity.one_by_one(wide, [HAZY])
    assert count == 5
    assert not any("smoke" in item.name for item in moved)


def test_noise_of_nothing_changes_nothing() -> None:
    """Without spread every draw is the knowledge itself; with spread they differ and repeat."""
    assert sensitivity.noise(TOY, [HAZY], 0.0, draws=3) == [1.0, 1.0, 1.0]
    loud = sensitivity.noise(TOY, [HAZY], 2.0, draws=30)
    assert set(loud) == {0.0, 1.0}
    assert loud == sensitivity.noise(TOY, [HAZY], 2.0, draws=30)


SPEC = RuleSpec.model_validate(
    {
        "id": "toy",
        "title": "Toy",
        "when": {
            "all": [{"fact": "days", "gte": 10}],
            "none": [{"fact": "heat", "gt": 0}, {"fact": "lid", "is": "present"}],
        },
        "then": {"marker": "toy"},
        "because": "Toy.",
        "sources": ["judgement"],
        "basis": "judgement",
        "tests": [],
    }
)


def test_each_limit_moves_both_ways() -> None:
    """Every limit moves down and up by a tenth, a zero by a step, and nothing else moves."""
    moved = [
        (name, [item.tests() for item in (*spec.when.all, *spec.when.none)])
        for name, spec in sensitivity.moved_limits(SPEC)
    ]
    lid = [("is", "present")]
    assert moved == [
        ("toy: days gte 10", [[("gte", 9.0)], [("gt", 0.0)], lid]),
        ("toy: days gte 10", [[("gte", 11.0)], [("gt", 0.0)], lid]),
        ("toy: heat gt 0", [[("gte", 10.0)], [("gt", -0.1)], lid]),
        ("toy: heat gt 0", [[("gte", 10.0)], [("gt", 0.1)], lid]),
    ]


@pytest.mark.parametrize(
    ("facts", "fires"),
    [({"days": 10}, True), ({"days": 9}, False), ({"days": 10, "heat": 1}, False), ({}, False)],
)
def test_whether_a_rule_holds(facts: dict[str, float], fires: bool) -> None:
    """The short cut that spares a run says what the engine would."""
    (rule,) = compile_specs([SPEC])
    assert sensitivity.holds(rule, {key: Fact.of(value) for key, value in facts.items()}) is fires
