"""A small knowledge base made for tests, and hazard blocks made by hand."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from trubshoot.evidence.model import Understood
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.schema import RuleSpec
from trubshoot.rules import Conclusions, Fact, Firing, Rule, compile_specs
from trubshoot.safety import HazardBlock, Level


def spec(rule_id: str, then: dict[str, Any], because: str = "so it is") -> RuleSpec:
    """Return a rule that fires when the fact named like it is present."""
    return RuleSpec(
        id=rule_id,
        title=rule_id,
        when={"all": [{"fact": rule_id, "is": "present"}]},
        then=then,
        because=because,
        sources=(),
        basis="judgement",
        tests=(),
    )


def with_rules(knowledge: KnowledgeBase, *specs: RuleSpec) -> tuple[KnowledgeBase, Conclusions]:
    """Return the knowledge with only these rules, and what they conclude when all fire."""
    rules: list[Rule] = compile_specs(specs)
    firings = tuple(Firing(rule.id, rule.conclusion, ((rule.id,),)) for rule in rules)
    facts = {one.id: Fact() for one in specs} | {rule.conclusion: Fact() for rule in rules}
    return replace(knowledge, rules={one.id: one for one in specs}), Conclusions(facts, firings)


def said(finding: str, state: str = "present", kind: str = "finding") -> Understood:
    """Return words understood as a finding."""
    return Understood(f"words for {finding}", kind, finding, finding, state)


def block(topic: str, level: Level, *, no_tasting: bool = False) -> HazardBlock:
    """Return a hazard block of a topic and level."""
    return HazardBlock("x", level, topic, "h", "c", (), "", (), (), no_tasting)


def show(name: str, value: float) -> str:
    """Return a number with its name, so that tests see what was asked."""
    return f"<{name}={value:g}>"
