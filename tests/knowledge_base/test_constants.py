"""Every number of constants.yaml is read by the program: one that nothing reads only misleads."""

from __future__ import annotations

import re
from pathlib import Path

import trubshoot
from trubshoot.knowledge_base import load_knowledge

_NAME = re.compile(r"\"([a-z0-9_]*(?:\{[^{}\"]+\}[a-z0-9_]*)*)\"")


def unread(names: set[str], source: str) -> set[str]:
    """Return the names that stand nowhere in the source, not even as a name put together."""
    written = {found[1] for found in _NAME.finditer(source) if found[1]}
    made = [re.sub(r"\{[^{}]+\}", "[a-z0-9_]+", text) for text in written if "{" in text]
    pattern = re.compile("|".join(made)) if made else None
    return {name for name in names - written if pattern is None or pattern.fullmatch(name) is None}


def test_every_constant_is_read() -> None:
    """No constant stands in the knowledge that no module asks for."""
    folder = Path(trubshoot.__file__).parent
    source = "\n".join(path.read_text("utf-8") for path in folder.rglob("*.py"))
    assert unread(set(load_knowledge().constants), source) == set()


def test_one_that_nothing_reads_is_found() -> None:
    """A name that stands nowhere is found, one put together from pieces is not."""
    source = 'knowledge.constant("a_b")\nknowledge.constant(f"age_{pace}_days")'
    assert unread({"a_b", "age_ale_days", "gate_end"}, source) == {"gate_end"}
