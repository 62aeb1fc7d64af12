"""Which engine is used, what happens without durable-rules, and when the engines disagree."""

from __future__ import annotations

import builtins
import sys
from typing import Any

import pytest
from tests.rules.support import facts, rule, supports, there

from trubshoot.errors import EngineError
from trubshoot.rules import Conclusions, Fact, Firing, Reasoner, compare
from trubshoot.rules.durable_engine import DurableEngine
from trubshoot.rules.oracle import OracleEngine

RULES = [
    rule("r", "marker.m", [there("a")]),
    rule("s", "hazard.h", [there("marker.m")]),
    rule("t", "finding.f", [there("b")], none_of=[there("marker.m")]),
]


@pytest.fixture
def no_durable(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make durable-rules impossible to import, as on a Python for which it cannot be built."""
    for name in list(sys.modules):
        if name.split(".")[0] in ("durable", "durable_rules_engine"):
            monkeypatch.delitem(sys.modules, name)
    monkeypatch.delitem(sys.modules, "trubshoot.rules.durable_engine", raising=False)
    original = builtins.__import__

    def refuse(name: str, *arguments: Any, **named: Any) -> Any:
        if name.split(".")[0] in ("durable", "durable_rules_engine"):
            raise ImportError(f"undefined symbol in {name}")
        return original(name, *arguments, **named)

    monkeypatch.setattr(builtins, "__import__", refuse)


def test_durable_rules_is_used() -> None:
    """Where durable-rules can be imported it is the engine, and there is nothing to say."""
    reasoner = Reasoner(RULES)
    opinion = reasoner.run(facts(a="present"))
    assert reasoner.engine == opinion.engine == DurableEngine.name
    assert reasoner.notice == ""
    assert opinion.faults == ()
    assert set(supports(opinion.conclusions)) == {"r", "s"}


@pytest.mark.usefixtures("no_durable")
def test_without_durable_rules_the_reference_engine_answers() -> None:
    """Where it cannot be imported the reference engine answers the same, with a notice."""
    reasoner = Reasoner(RULES)
    assert reasoner.engine == OracleEngine.name
    assert "durable-rules is not usable here" in reasoner.notice
    assert "undefined symbol" in reasoner.notice
    assert OracleEngine.name in reasoner.notice
    for stated in (facts(a="present"), facts(b="present"), facts(a="present", b="present"), {}):
        opinion = reasoner.run(stated)
        assert opinion.engine == OracleEngine.name
        assert opinion.faults == ()
        assert opinion.conclusions == OracleEngine(RULES).run(stated)


def test_an_engine_that_fails_is_replaced_for_this_run(monkeypatch: pytest.MonkeyPatch) -> None:
    """When the engine fails while running, the reference engine's answer stands, with the fault."""
    reasoner = Reasoner(RULES)

    def fails(self: DurableEngine, stated: object) -> Conclusions:
        raise EngineError("rule r failed while running")

    monkeypatch.setattr(DurableEngine, "run", fails)
    opinion = reasoner.run(facts(a="present"))
    assert opinion.engine == OracleEngine.name
    assert opinion.faults == ("rule r failed while running",)
    assert set(supports(opinion.conclusions)) == {"r", "s"}


def test_what_only_one_engine_concludes_is_not_lost(monkeypatch: pytest.MonkeyPatch) -> None:
    """An engine that misses a hazard cannot hide it: the union is taken, and the fault told."""
    original = DurableEngine.run

    def misses(self: DurableEngine, stated: Any) -> Conclusions:
        got = original(self, stated)
        kept = {name: fact for name, fact in got.facts.items() if name != "hazard.h"}
        return Conclusions(kept, tuple(one for one in got.firings if one.rule != "s"))

    monkeypatch.setattr(DurableEngine, "run", misses)
    opinion = Reasoner(RULES).run(facts(a="present"))
    assert set(supports(opinion.conclusions)) == {"r", "s"}
    assert opinion.conclusions.facts["hazard.h"] == Fact()
    assert opinion.faults == ("the two engines disagree about rule s",)


def _one(name: str, conclusion: str, *support: str) -> Conclusions:
    return Conclusions({"a": Fact(), conclusion: Fact()}, (Firing(name, conclusion, (support,)),))


def test_compare_takes_the_union() -> None:
    """Firings and facts of both are kept, each rule once, and every difference is named."""
    opinion = compare(_one("r", "hazard.x", "a"), _one("s", "hazard.y", "a"), "first")
    assert set(opinion.conclusions.facts) == {"a", "hazard.x", "hazard.y"}
    assert [firing.rule for firing in opinion.conclusions.firings] == ["r", "s"]
    assert opinion.faults == (
        "the two engines disagree about rule r",
        "the two engines disagree about rule s",
    )
    assert opinion.engine == "first"


def test_compare_of_equals_says_nothing() -> None:
    """Two engines that agree give no fault, whatever the order of what they say."""
    both = Conclusions({}, (Firing("r", "x", (("a",), ("b",))), Firing("s", "y", (("a",),))))
    turned = Conclusions({}, (Firing("s", "y", (("a",),)), Firing("r", "x", (("b",), ("a",)))))
    assert compare(both, turned, "first").faults == ()
    assert compare(both, turned, "first").conclusions is both


def test_compare_sees_different_supports() -> None:
    """One rule on different supports is a difference, though the conclusion is the same."""
    opinion = compare(_one("r", "hazard.x", "a"), _one("r", "hazard.x", "b"), "first")
    assert opinion.faults == ("the two engines disagree about rule r",)
    assert [firing.rule for firing in opinion.conclusions.firings] == ["r"]
