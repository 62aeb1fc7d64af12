"""What can be found wrong with the knowledge without any batch: run by `knowledge check`.

The checks of loading (knowledge_base/checks.py) keep a broken model out. These look for what a
model may load with and still be wrong, and are too slow, or need too much, for every start. What
each code means stands in docs/explanation/checking_the_knowledge.md.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.loader import Raw
from trubshoot.lint import advice_checks, graph_checks, net_checks, rule_checks, word_checks
from trubshoot.lint.remarks import Remark, Subject

__all__ = ["CHECKS", "Remark", "Subject", "lint"]

Check = Callable[[Subject], Iterator[Remark]]
CHECKS: tuple[Check, ...] = (
    rule_checks.limits,
    rule_checks.contradictions,
    rule_checks.repeated,
    graph_checks.unreachable,
    graph_checks.dead_ends,
    graph_checks.unread,
    graph_checks.two_natures,
    graph_checks.circles,
    graph_checks.granted_by_silence,
    net_checks.same_rows,
    net_checks.not_told_apart,
    net_checks.never_on_top,
    net_checks.never_set,
    word_checks.shrunken,
    advice_checks.not_whole,
    advice_checks.wrong_stage,
    advice_checks.strongest_first,
    advice_checks.added_unmeasured,
)


def lint(knowledge: KnowledgeBase, raw: Raw) -> list[Remark]:
    """Return all remarks on a knowledge base that passed the checks of loading, by place."""
    subject = Subject.of(knowledge, raw)
    remarks = [remark for check in CHECKS for remark in check(subject)]
    if not any(remark.code == "K12" for remark in remarks):  # else the rules cannot be run
        remarks += rule_checks.exclusive_together(subject)
    return sorted(set(remarks))
