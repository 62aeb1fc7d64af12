"""From the knowledge and the circumstances to the numbers of the ranker."""

from __future__ import annotations

import numpy as np
import pytest

from trubshoot.diagnosis.network import MODIFIER_CAP, Base, FindingState, make_case
from trubshoot.diagnosis.noisy_or import Network
from trubshoot.knowledge_base import KnowledgeBase

BASE = Base(
    ("one", "two", "three"),
    ("f", "g"),
    Network(
        np.array([0.02, 0.1, 0.5]),
        np.array([[0.9, 0.0], [0.2, 0.5], [0.0, 0.7]]),
        np.array([0.01, 0.02]),
    ),
    {
        "twice": ((0, 2.0), (1, 3.0)),
        "more": ((0, 4.0),),
        "much": ((0, 10.0), (2, 0.5)),
        "little": ((1, 0.05),),
        "less": ((1, 0.1),),
    },
)


def odds(chance: float) -> float:
    """Return odds of a chance."""
    return chance / (1 - chance)


def test_modifiers_multiply_odds() -> None:
    """Two circumstances multiply the odds of a cause, and leave the others alone."""
    case = make_case(BASE, [], ("twice", "more"))
    assert odds(case.network.prior[0]) == pytest.approx(8 * odds(0.02))
    assert odds(case.network.prior[1]) == pytest.approx(3 * odds(0.1))
    assert case.network.prior[2] == pytest.approx(0.5)
    assert case.odds == {"one": {"twice": 2.0, "more": 4.0}, "two": {"twice": 3.0}}


def test_modifiers_are_capped_both_ways() -> None:
    """The product stays within 30 and 1/30, whatever the circumstances."""
    case = make_case(BASE, [], ("twice", "more", "much", "little", "less"))
    assert MODIFIER_CAP == 30
    assert odds(case.network.prior[0]) == pytest.approx(30 * odds(0.02))  # 2 * 4 * 10
    assert odds(case.network.prior[2]) == pytest.approx(0.5 * odds(0.5))
    low = make_case(BASE, [], ("little", "less"))  # 0.005
    assert odds(low.network.prior[1]) == pytest.approx(odds(0.1) / 30)


def test_order_and_unknown_contexts() -> None:
    """The order of circumstances is irrelevant; one that no cause knows changes nothing."""
    one = make_case(BASE, [], ("twice", "more", "nothing known"))
    two = make_case(BASE, [], ("more", "twice"))
    np.testing.assert_array_equal(one.network.prior, two.network.prior)


def test_ruled_out_causes_are_gone() -> None:
    """A cause that cannot be is not ranked and explains nothing; the rest stays as it is."""
    case = make_case(BASE, [], ("twice",), {"two"})
    assert case.causes == ("one", "three")
    np.testing.assert_allclose(case.network.strength, [[0.9, 0.0], [0.0, 0.7]])
    assert odds(case.network.prior[0]) == pytest.approx(2 * odds(0.02))
    assert case.network.prior[1] == pytest.approx(0.5)
    assert case.findings == ("f", "g")


def test_findings_are_told_with_their_weights() -> None:
    """Absent findings only scale; present and soft ones are told with their two weights."""
    states = [
        FindingState("g", 1.0, 0.0, "said"),
        FindingState("f", 0.1, 0.8, "log"),
    ]
    told = make_case(BASE, states).told
    assert (told.absent, told.findings, told.if_not_so, told.if_so) == ((1,), (0,), (0.1,), (0.8,))
    assert told.up == [0]


@pytest.mark.parametrize(
    ("weights", "state", "up"),
    [
        ((0.0, 1.0), "present", True),
        ((1.0, 0.0), "absent", False),
        ((0.2, 0.9), "likely", True),
        ((0.9, 0.2), "unlikely", False),
    ],
)
def test_state_in_one_word(weights: tuple[float, float], state: str, up: bool) -> None:
    """Two weights are one of present, absent, likely, unlikely."""
    found = FindingState("f", *weights, "said")
    assert (found.state, found.up) == (state, up)


def test_base_of_the_real_knowledge(knowledge: KnowledgeBase) -> None:
    """Every prior, leak, strength and modifier of the files stands in the arrays."""
    base = Base.of(knowledge)
    assert base.causes == tuple(knowledge.causes)
    for row, cause in enumerate(knowledge.causes.values()):
        assert base.network.prior[row] == cause.prior
        links = {link.finding: link.strength for link in cause.links}
        for column, finding in enumerate(knowledge.findings):
            assert base.network.strength[row, column] == links.get(finding, 0.0)
        for modifier in cause.modifiers:
            assert (row, modifier.odds) in base.modifiers[modifier.when]
    leaks = [finding.leak for finding in knowledge.findings.values()]
    np.testing.assert_array_equal(base.network.leak, leaks)
    pairs = sum(len(pairs) for pairs in base.modifiers.values())
    assert pairs == sum(len(cause.modifiers) for cause in knowledge.causes.values())
