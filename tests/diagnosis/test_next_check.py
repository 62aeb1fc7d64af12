"""The next check: worth its trouble, and never one that a hazard forbids."""

from __future__ import annotations

import random

import pytest
from tests.diagnosis.support import block

from trubshoot.diagnosis.network import Base, FindingState, make_case
from trubshoot.diagnosis.next_check import STAGES, allowed, cost, next_checks
from trubshoot.diagnosis.noisy_or import rank
from trubshoot.diagnosis.result import NextCheck
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.safety import HazardBlock, Level

BOTTLES = [block("bottles", Level.WARNING)]
NO_TASTING = [block("food", Level.CAUTION, no_tasting=True)]


def checks(
    knowledge: KnowledgeBase,
    present: list[str],
    stage: str,
    hazards: list[HazardBlock],
    count: int = 200,
) -> tuple[NextCheck, ...]:
    """Return the checks for findings told as present."""
    states = [FindingState(name, 0.0, 1.0, "said") for name in present]
    case = make_case(Base.of(knowledge), states)
    ranking = rank(case.network, case.told)
    return next_checks(knowledge, case, ranking, set(present), stage, hazards, count)


@pytest.mark.parametrize("stage", sorted(STAGES))
def test_no_bottle_and_no_taste_where_forbidden(knowledge: KnowledgeBase, stage: str) -> None:
    """Under a bottle warning no check needs a bottle; where tasting is forbidden none tastes."""
    draw = random.Random(4)
    offered = 0
    for _ in range(12):
        present = draw.sample(sorted(knowledge.findings), draw.randint(1, 3))
        free = checks(knowledge, present, stage, [])
        offered += len(free)
        for check in checks(knowledge, present, stage, BOTTLES):
            assert check.by == "ask"
            assert "tasting" not in knowledge.findings[check.finding].stages
        for check in checks(knowledge, present, stage, NO_TASTING):
            assert check.by not in ("taste", "open_bottle")
    assert offered > 20


@pytest.mark.parametrize("level", [Level.WARNING, Level.DANGER])
def test_every_finding_under_a_bottle_hazard(knowledge: KnowledgeBase, level: Level) -> None:
    """No finding at all whose check opens, tastes, measures or looks passes a bottle warning."""
    for finding in knowledge.findings.values():
        if allowed(finding, [block("bottles", level)]):
            assert finding.check.by == "ask"


def test_every_finding_where_tasting_is_forbidden(knowledge: KnowledgeBase) -> None:
    """Where tasting is forbidden exactly the checks that taste or open a bottle are left out."""
    for finding in knowledge.findings.values():
        tastes = finding.check.by in ("taste", "open_bottle")
        assert allowed(finding, NO_TASTING) is not tastes


def test_milder_and_other_hazards_leave_checks_alone(knowledge: KnowledgeBase) -> None:
    """A caution about bottles, or a warning about something else, forbids no check."""
    for finding in knowledge.findings.values():
        assert allowed(finding, [])
        assert allowed(finding, [block("bottles", Level.CAUTION)])
        assert allowed(finding, [block("burns", Level.DANGER)])


def test_a_bottle_hazard_forbids_something(knowledge: KnowledgeBase) -> None:
    """The two rules above have something to forbid."""
    forbidden = {
        finding.check.by for finding in knowledge.findings.values() if not allowed(finding, BOTTLES)
    }
    assert {"open_bottle", "taste"} <= forbidden
    assert any(not allowed(finding, NO_TASTING) for finding in knowledge.findings.values())


def test_order_count_and_stop(knowledge: KnowledgeBase) -> None:
    """Checks come by information for their cost, as many as asked, none that tells too little."""
    found = checks(knowledge, ["sour_tart"], "bottled", [])
    worth = [
        check.gain_bits / cost(knowledge, knowledge.findings[check.finding]) for check in found
    ]
    least = knowledge.constant("check_least_gain_bits")
    assert worth == sorted(worth, reverse=True)
    assert all(check.gain_bits >= least for check in found)
    assert checks(knowledge, ["sour_tart"], "bottled", [], count=2) == found[:2]
    assert len(found) > 2


def test_nothing_known_is_asked_again(knowledge: KnowledgeBase) -> None:
    """What was told is not asked."""
    present = ["sour_tart", "butter_popcorn"]
    assert not {check.finding for check in checks(knowledge, present, "bottled", [])} & {*present}


def test_checks_fit_the_stage(knowledge: KnowledgeBase) -> None:
    """A batch that still ferments is not asked for what only a bottle shows."""
    for stage, names in STAGES.items():
        for check in checks(knowledge, ["sour_tart"], stage, []):
            assert set(names) & set(knowledge.findings[check.finding].stages)


def test_cost_grows_with_trouble(knowledge: KnowledgeBase) -> None:
    """A question costs less than a look, a look less than a measurement, waiting most."""
    by: dict[str, float] = {}
    for finding in knowledge.findings.values():
        quick = finding.model_copy(
            update={"check": finding.check.model_copy(update={"minutes": 0})}
        )
        by[finding.check.by] = cost(knowledge, quick)
    order = ["ask", "look", "measure", "open_bottle", "wait"]
    values = [by[name] for name in order if name in by]
    assert values == sorted(set(values))
