"""The numbers on which most answers hang say where they are from."""

from __future__ import annotations

import re
from pathlib import Path

from trubshoot.knowledge_base import KnowledgeBase

PAGE = Path(__file__).parents[2] / "docs" / "explanation" / "sensitivity.md"
ROW = re.compile(r"^\| (?:prior of (\w+)|(\w+) makes (\w+)) \| ([\d.]+) \|", re.MULTILINE)
HONEST = re.compile(r"guess|judgement")


def test_deciding_numbers_name_a_source_or_say_guess(knowledge: KnowledgeBase) -> None:
    """Each row of the table is a number of the knowledge, whose basis speaks of it by name."""
    rows = ROW.findall(PAGE.read_text(encoding="utf-8"))
    assert len(rows) >= 12
    for prior_of, maker, finding, value in rows:
        cause = knowledge.causes[prior_of or maker]
        if prior_of:
            assert cause.prior == float(value), prior_of
            assert re.search(r"\bprior\b", cause.basis), prior_of
            assert HONEST.search(cause.basis), prior_of
        else:
            link = next(link for link in cause.links if link.finding == finding)
            assert link.strength == float(value), (maker, finding)
            assert HONEST.search(link.basis) or link.basis in knowledge.sources, (maker, finding)
