"""The forward model against full enumeration over the causes, and its marks of practice."""

from __future__ import annotations

from functools import cache
from itertools import product

import numpy as np
import pytest

from trubshoot.diagnosis.network import Base, FindingState
from trubshoot.knowledge_base import KnowledgeBase, load_knowledge
from trubshoot.learning.forward import Practice, fault_names, forecast, practice_names


@cache
def knowledge() -> KnowledgeBase:
    """The shipped knowledge."""
    return load_knowledge()


@cache
def base() -> Base:
    """The network of the shipped knowledge."""
    return Base.of(knowledge())


def test_beginner_chance_is_the_closed_form() -> None:
    """With nothing told, a finding is noticed unless the leak and every cause stay silent."""
    shown = forecast(knowledge(), base())
    network = base().network
    for position, name in enumerate(shown.findings):
        column = base().findings.index(name)
        silent = (1 - network.leak[column]) * np.prod(
            1 - network.prior * network.strength[:, column]
        )
        assert shown.finding_chance[position] == pytest.approx(1 - silent, abs=1e-9)


def test_chance_given_a_practice_equals_enumeration() -> None:
    """With one finding of practice told, chances equal the sum over every set of linked causes."""
    practice, fault = "beer_warmer_than_range", "hot_alcohol"
    network = base().network
    told, asked = base().findings.index(practice), base().findings.index(fault)
    linked = np.flatnonzero(network.strength[:, told] + network.strength[:, asked])
    assert len(linked) <= 14, "too many for a test by enumeration"
    both = seen = 0.0
    for there in product((0, 1), repeat=len(linked)):
        state = np.array(there)
        prior = network.prior[linked]
        weight = float(np.prod(np.where(state, prior, 1 - prior)))
        silent = (1 - network.leak) * np.prod(1 - state[:, None] * network.strength[linked], axis=0)
        seen += weight * (1 - silent[told])
        both += weight * (1 - silent[told]) * (1 - silent[asked])
    state = FindingState(practice, 0.0, 1.0, "log")
    shown = forecast(knowledge(), base(), Practice(findings=(state,)))
    assert shown.of_finding(fault) == pytest.approx(both / seen, rel=1e-9)
    assert shown.of_finding(fault) > forecast(knowledge(), base()).of_finding(fault)


def test_a_step_makes_what_its_causes_make() -> None:
    """The chance by step is that of its causes alone, and never above that of the finding."""
    shown = forecast(knowledge(), base())
    for position, name in enumerate(shown.findings):
        for step, chance in shown.steps_of(name):
            mine = [
                shown.made_by_cause[row, position]
                for row, cause in enumerate(shown.causes)
                if knowledge().causes[cause].step == step
            ]
            assert chance == pytest.approx(1 - np.prod(1 - np.array(mine)))
            assert chance <= shown.finding_chance[position] + 1e-9


def test_outcomes_do_not_forecast() -> None:
    """No name stands under both marks, and no cause counts a fault as its practice."""
    assert not set(fault_names(knowledge())) & set(practice_names(knowledge()))
    assert knowledge().contexts["ended_as_expected"].tells == "outcome"
    assert "gusher_all" in fault_names(knowledge())
    assert "beer_warmer_than_range" in practice_names(knowledge())
