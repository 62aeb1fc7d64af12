"""How well free words are understood: paraphrases, the real cases' files, and their reports' prose.

Run: python -m tests.words.measure [--list] [--kept-aside]
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from trubshoot.evidence.words import Lexicon, read_text
from trubshoot.knowledge_base import load_knowledge

HERE = Path(__file__).resolve().parent


@cache
def lexicon() -> Lexicon:
    """Return the phrases of the knowledge."""
    return Lexicon.of(load_knowledge())


@dataclass(frozen=True)
class Paraphrase:
    """A finding said in a whole sentence."""

    finding: str
    at: str
    words: str
    also: frozenset[str]
    looked_at: bool  # the first of a row; the others are kept aside


@dataclass
class Hits:
    """Findings heard and meant."""

    name: str
    right: int = 0
    extra: int = 0
    missed: int = 0
    lines: list[str] = field(default_factory=list)

    def add(self, heard: set[str], meant: set[str], also: Iterable[str], words: str) -> None:
        """Count one text."""
        extra = heard - meant - set(also)
        self.right += len(heard & meant)
        self.extra += len(extra)
        self.missed += len(meant - heard)
        if extra or meant - heard:
            self.lines.append(f"missed {sorted(meant - heard)}, extra {sorted(extra)}: {words}")

    @property
    def precision(self) -> float:
        """Return the share of findings heard that were meant."""
        return self.right / max(self.right + self.extra, 1)

    @property
    def recall(self) -> float:
        """Return the share of findings meant that were heard."""
        return self.right / max(self.right + self.missed, 1)

    def line(self) -> str:
        """Return what to print."""
        return (
            f"{self.name:<44} precision {self.precision:.2f} "
            f"({self.right}/{self.right + self.extra}), "
            f"recall {self.recall:.2f} ({self.right}/{self.right + self.missed})"
        )


def paraphrases() -> list[Paraphrase]:
    """Return all paraphrases."""
    loaded = yaml.safe_load((HERE / "paraphrases.yaml").read_text(encoding="utf-8"))
    return [
        Paraphrase(finding, row["at"], words, frozenset(row.get("also", ())), place == 0)
        for finding, row in loaded.items()
        for place, words in enumerate(row["words"])
    ]


def heard_in(text: str, stage: str) -> set[str]:
    """Return the findings that a text says are there."""
    return {
        target.id
        for target, _, state in read_text(lexicon(), text, stage)
        if target.kind == "finding" and state == "present"
    }


def kinds() -> list[tuple[str, dict[str, Any]]]:
    """Return (kind, sentence with what must and must not be heard)."""
    loaded = yaml.safe_load((HERE / "kinds.yaml").read_text(encoding="utf-8"))
    return [(kind, row) for kind, rows in loaded.items() for row in rows]


def wrong_in(row: dict[str, Any]) -> list[str]:
    """Return what is not as a row of kinds.yaml says; signs count as findings do."""
    heard: dict[str, str] = {}
    for target, _, state in read_text(lexicon(), row["words"], row.get("at", "bottled")):
        heard.setdefault(target.id, state)
    wrong = [f"{key} not heard" for key in row.get("here", ()) if heard.get(key) != "present"]
    wrong += [f"{key} heard" for key in row.get("not_here", ()) if heard.get(key) == "present"]
    wrong += [f"{key} not denied" for key in row.get("absent", ()) if heard.get(key) != "absent"]
    wrong += [f"{key} denied" for key in row.get("not_absent", ()) if heard.get(key) == "absent"]
    return wrong


def measured(*, looked_at: bool) -> Hits:
    """Return how the paraphrases of one half are understood."""
    name = "looked at" if looked_at else "kept aside"
    found = Hits(f"paraphrases, {name}")
    for one in paraphrases():
        if one.looked_at == looked_at:
            found.add(heard_in(one.words, one.at), {one.finding}, one.also, one.words)
    return found


def main() -> None:
    """Print precision and recall."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--list", action="store_true", help="list what was missed or misread")
    shown = parser.parse_args()
    for looked_at in (True, False):
        found = measured(looked_at=looked_at)
        print(found.line())
        if shown.list and looked_at:
            print("\n".join(f"  {line}" for line in found.lines))
    bad = [(kind, row["words"], wrong_in(row)) for kind, row in kinds() if wrong_in(row)]
    print(f"misleading sentences: {len(kinds()) - len(bad)} of {len(kinds())} read right")
    for kind, words, wrong in bad:
        print(f"  still wrong, {kind}: {words}: {', '.join(wrong)}")


if __name__ == "__main__":
    main()
