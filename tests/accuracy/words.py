"""How well words are understood: findings made out of the real cases' files against the encodings.

Run: python -m tests.accuracy.words [--list]

Three figures: raw against the encodings (rules on numbers included), raw on words alone, and words
alone after the audit of tests/words/audit.yaml, in which the project judged every extra.
"""

from __future__ import annotations

import argparse
from collections import Counter
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import yaml
from tests.accuracy.scoring import RealCase, real_cases
from tests.accuracy.whole import ASKED, FOLDER, diagnostician

from trubshoot.batch import read_batch

AUDIT = Path(__file__).resolve().parents[1] / "words" / "audit.yaml"


@cache
def verdicts() -> dict[tuple[str, str], str]:
    """Return the verdict of every finding judged, by case and finding."""
    rows = yaml.safe_load(AUDIT.read_text(encoding="utf-8"))["rows"]
    return {(row["case"], row["finding"]): row["verdict"] for row in rows}


@dataclass
class Counted:
    """Findings heard and encoded, and what is behind the differences."""

    name: str
    right: int = 0
    encoded: int = 0  # of the right ones, those that the encoding holds
    extra: int = 0
    missed: int = 0
    extras: Counter[str] = field(default_factory=Counter)
    misses: Counter[str] = field(default_factory=Counter)

    def add(self, heard: set[str], wanted: set[str], said: frozenset[str] = frozenset()) -> None:
        """Count one case. said: extras that the audit found to be said."""
        self.right += len(heard & (wanted | said))
        self.encoded += len(heard & wanted)
        self.extra += len(heard - wanted - said)
        self.missed += len(wanted - heard)
        self.extras.update(heard - wanted - said)
        self.misses.update(wanted - heard)

    @property
    def precision(self) -> float:
        """Return the share of findings heard that are right."""
        return self.right / (self.right + self.extra)

    @property
    def recall(self) -> float:
        """Return the share of encoded findings that were heard."""
        return self.encoded / (self.encoded + self.missed)

    def line(self) -> str:
        """Return what to print."""
        return (
            f"{self.name:<38} precision {self.precision:.2f} "
            f"({self.right}/{self.right + self.extra}), recall {self.recall:.2f} "
            f"({self.encoded}/{self.encoded + self.missed})"
        )


def _of_words(case: RealCase) -> tuple[set[str], set[str]]:
    """Return all findings of a case's file, and those that rest on words."""
    found = diagnostician().diagnose(read_batch(FOLDER / f"{case.id.lower()}.yaml"), ASKED).findings
    return {item.id for item in found if item.up}, {
        item.id for item in found if item.up and "said" in item.origin
    }


def counted() -> tuple[Counted, Counted, Counted, list[str]]:
    """Return the raw figure, that of words alone, that after the audit, and extras not judged."""
    whole = Counted("raw, words and rules on numbers")
    words = Counted("raw, words alone")
    audited = Counted("words alone, after the audit")
    unjudged = []
    for case in real_cases():
        wanted = set(case.encoded["present"])
        up, heard = _of_words(case)
        said = {
            finding
            for (name, finding), verdict in verdicts().items()
            if name == case.id and verdict == "said"
        }
        whole.add(up, wanted)
        words.add(heard, wanted)
        audited.add(heard, wanted, frozenset(said))
        unjudged += [
            f"{case.id} {finding}"
            for finding in sorted(up - wanted)
            if (case.id, finding) not in verdicts()
        ]
    return whole, words, audited, unjudged


def main() -> None:
    """Print precision and recall over findings told as present, and what is behind them."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--list", action="store_true", help="list what was missed or misread")
    shown = parser.parse_args()
    whole, words, audited, unjudged = counted()
    for figures in (whole, words, audited):
        print(figures.line())
    print("extras not judged (counted as faults):", ", ".join(unjudged) or "none")
    if shown.list:
        print("misread after the audit:", audited.extras.most_common(25))
        print("missed:", words.misses.most_common(40))


if __name__ == "__main__":
    main()
