"""The caged engine against the reference engine, on rules nobody wrote and on the real ones."""

from __future__ import annotations

import random

import pytest
from tests.rules.fuzz import agree, fuzz, knowledge_facts
from tests.rules.support import in_own_python

from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.rules import compile_specs
from trubshoot.rules.durable_engine import DurableEngine
from trubshoot.rules.oracle import OracleEngine

PATTERNS = 300


def test_random_rule_bases() -> None:
    """300 random rule bases, five sets of facts each in two orders, give equal conclusions."""
    tally = fuzz(300, random_state=20261125)
    assert tally.bases == 300
    assert tally.runs == 3000
    # a fuzz in which little happens proves little
    assert tally.firings > 1000
    assert tally.derived > 800
    assert tally.deepest >= 2


def test_random_rule_bases_with_dirty_memory() -> None:
    """The engines agree too when freed and fresh memory is filled with rubbish."""
    code = "from tests.rules.fuzz import fuzz; print(fuzz(60, 7).bases)"
    assert in_own_python(code, MALLOC_PERTURB_="165").strip() == "60"


def test_real_rules(knowledge: KnowledgeBase) -> None:
    """300 random sets of facts of the real vocabulary give equal conclusions of the real rules."""
    rules = compile_specs(knowledge.rules.values())
    durable, oracle = DurableEngine(rules), OracleEngine(rules)
    random_ = random.Random(20261125)
    fired: set[str] = set()
    for _ in range(PATTERNS):
        stated = knowledge_facts(random_, knowledge)
        agree(durable, oracle, stated, random_)
        fired.update(firing.rule for firing in oracle.run(stated).firings)
    durable.close()
    assert len(fired) > 0.8 * len(rules)


def test_a_wrong_engine_would_be_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    """The comparison fails when one engine takes > for >=."""
    monkeypatch.setitem(
        __import__("trubshoot.rules.conditions", fromlist=["COMPARE"]).COMPARE,
        "gt",
        lambda value, limit: value >= limit,
    )
    with pytest.raises(AssertionError):
        fuzz(60, random_state=20261125)
