"""The mutation tool itself: its operators, and that it notices what is not tested."""

from __future__ import annotations

import copy
from typing import Any

import pytest
from tests.safety import mutation

RULE: dict[str, Any] = {
    "id": "toy",
    "title": "Toy",
    "when": {
        "all": [{"fact": "a", "gte": 3}, {"fact": "kind", "in": ["x", "y"]}],
        "any": [{"fact": "b", "is": "present"}, {"fact": "c", "is": "present"}],
        "none": [{"fact": "d", "is": "present"}, {"fact": "e", "is": "present"}],
    },
    "then": {"marker": "toy"},
    "because": "Toy.",
    "sources": ["judgement"],
    "basis": "judgement",
    "tests": [
        {"name": "fires", "facts": {"a": 3, "kind": "x", "b": "present"}, "fires": True},
        {"name": "silent", "facts": {"a": 2.99, "kind": "x", "b": "present"}, "fires": False},
    ],
}


def test_operators() -> None:
    """Every operator makes its mutants, none of them twice, none equal to the rule."""
    found = list(mutation.mutants(RULE))
    assert {item.operator for item in found} == {
        "drop rule",
        "drop condition",
        "flip state",
        "drop value",
        "comparison",
        "threshold",
        "any to all",
        "drop none",
    }
    changed = [repr(item.when) for item in found]
    assert len(changed) == len(set(changed))
    assert repr(RULE["when"]) not in changed


def test_a_threshold_of_zero_is_moved_too() -> None:
    """Nine tenths of zero is zero: it is moved by a step instead."""
    rule = {**RULE, "when": {"all": [{"fact": "a", "lte": 0}]}}
    names = [item.name for item in mutation.mutants(rule) if item.operator == "threshold"]
    assert names == ["all: a lte 0 made -0.1", "all: a lte 0 made 0.1"]


def test_thin_tests_let_mutants_live() -> None:
    """One firing and one silent case leave mutants alive; a near miss kills its own."""
    alive = {item.name for item in mutation.mutants(RULE) if mutation.killed(RULE, item) is False}
    assert "none: d dropped" in alive
    assert "any: c is absent" in alive
    assert "all: a gte 3 made 2.7" not in alive
    better = copy.deepcopy(RULE)
    facts = {"a": 3, "kind": "x", "b": "present", "d": "present"}
    better["tests"].append({"name": "d", "facts": facts, "fires": False})
    still = {item.name for item in mutation.mutants(better) if not mutation.killed(better, item)}
    assert "none: d dropped" not in still


@pytest.mark.parametrize("rule_id", ["bottling_permit", "hazard_bottle_burst", "hold_over_danger"])
def test_deciding_rules_kill_their_mutants(rule_id: str) -> None:
    """A sample of what `python -m tests.safety.mutation` checks for every deciding rule."""
    rule = mutation.raw_rules()[rule_id]
    listed = {name for rule_name, name in mutation.equivalents() if rule_name == rule_id}
    alive = [item.name for item in mutation.mutants(rule) if mutation.killed(rule, item) is False]
    assert set(alive) <= listed


def test_equivalents_say_why() -> None:
    """Each listed mutant has a reason."""
    assert all(len(why) > 20 for why in mutation.equivalents().values())


def test_all_rules_reach_their_score() -> None:
    """At least 90 % of all mutants that can differ are killed, and the list of equals is true."""
    found = mutation.score(mutation.raw_rules(everything=True))
    assert found.share >= mutation.LEAST_OVERALL
    assert found.wrongly_listed == ()
    deciding = [mutant for mutant in found.survivors if mutation.decides(mutant.rule)]
    assert deciding == []


def test_the_score_counts_what_survives() -> None:
    """The toy rule with thin tests has a share below one, and names its survivors."""
    found = mutation.score({"toy": RULE})
    assert 0 < found.share < mutation.LEAST_OVERALL
    assert found.total.total() == found.dead.total() + len(found.survivors)
