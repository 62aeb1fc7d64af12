"""Evidence straight from the text of a batch file."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from functools import cache

from trubshoot.batch import read_batch
from trubshoot.evidence import Evidence, collect
from trubshoot.evidence.words import Lexicon
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.loader import read_all

NOW = datetime(2026, 11, 25, 12, 0)


@cache
def real_knowledge() -> KnowledgeBase:
    """Return the real knowledge, read once."""
    knowledge, _, problems = read_all()
    assert knowledge is not None, "\n".join(map(str, problems))
    return knowledge


@cache
def real_lexicon() -> Lexicon:
    """Return the phrases of the real knowledge."""
    return Lexicon.of(real_knowledge())


def with_constants(**values: float) -> KnowledgeBase:
    """Return the knowledge with some constants changed, to reckon with an example's own."""
    knowledge = real_knowledge()
    changed = dict(knowledge.constants)
    for name, value in values.items():
        changed[name] = changed[name].model_copy(update={"value": value})
    return replace(knowledge, constants=changed)


def evidence_of(
    text: str,
    *,
    now: datetime = NOW,
    words: Sequence[tuple[str, str]] = (),
    knowledge: KnowledgeBase | None = None,
) -> Evidence:
    """Return the evidence of a batch file's text."""
    return collect(read_batch(text), knowledge or real_knowledge(), real_lexicon, now, words)


def facts_of(text: str, **options: object) -> Mapping[str, float | str]:
    """Return only the facts."""
    return evidence_of(text, **options).facts  # type: ignore[arg-type]


def number(facts: Mapping[str, float | str], name: str) -> float:
    """Return a fact that must be a number."""
    value = facts[name]
    assert isinstance(value, float), (name, value)
    return value


def without(text: str, pattern: str) -> str:
    """Return a text with one match of a pattern taken out, which must be there."""
    changed, count = re.subn(pattern, "", text, count=1, flags=re.MULTILINE)
    assert count == 1, pattern
    return changed
