"""The gaps of the starting vocabulary and what closes each, for docs/explanation/knowledge_gaps.md.

Run: python -m tests.knowledge_base.gaps
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from textwrap import wrap
from typing import Any

import yaml

WIDTH = 96
KINDS = {
    "findings": "finding",
    "contexts": "circumstance",
    "rules": "rule",
    "facts": "fact",
    "causes": "cause",
}


def table() -> dict[str, list[dict[str, Any]]]:
    """Return the rows of vocabulary_gaps.yaml."""
    text = (Path(__file__).parent / "vocabulary_gaps.yaml").read_text(encoding="utf-8")
    loaded: dict[str, list[dict[str, Any]]] = yaml.safe_load(text)
    return loaded


def lines() -> Iterator[str]:
    """Yield the table in plain lines."""
    rows = table()
    for row in rows["gaps"]:
        parts = [f"{KINDS[kind]} {', '.join(names)}" for kind, names in row["by"].items()]
        yield from _entry(row["gap"], "; ".join(parts))
    yield "answers that were missing"
    for row in rows["answers"]:
        yield from _entry(row["answer"], f"cause {row['cause']}")


def _entry(title: str, ids: str) -> Iterator[str]:
    yield title
    yield from wrap(ids, WIDTH, initial_indent="    ", subsequent_indent="    ")


def main() -> None:
    """Print the table."""
    print("\n".join(lines()))


if __name__ == "__main__":
    main()
