"""From the brewer's words to the ids of the knowledge: phrases, spelling of endings, negation.

A phrase of the knowledge is looked for as a run of words inside the text, longest first. Nothing
is guessed: what leads nowhere is returned with the nearest phrases.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache

from trubshoot.evidence.model import NotUnderstood, Understood
from trubshoot.knowledge_base import KnowledgeBase

_WORD = re.compile(r"[a-z0-9]+(?:[.'][a-z0-9]+)*")
_SMALL = frozenset(
    [
        "a",
        "an",
        "the",
        "my",
        "our",
        "its",
        "it",
        "is",
        "are",
        "was",
        "were",
        "be",
        "been",
        "there",
        "this",
        "that",
        "these",
        "those",
        "of",
        "in",
        "on",
        "at",
        "to",
        "and",
        "so",
        "very",
        "really",
        "just",
        "has",
        "have",
        "had",
        "i",
        "we",
        "they",
        "you",
        "with",
    ]
)
_NEGATIONS = frozenset(
    [
        "no",
        "not",
        "never",
        "none",
        "without",
        "nothing",
        "didn't",
        "doesn't",
        "don't",
        "isn't",
        "wasn't",
        "weren't",
        "hasn't",
        "haven't",
        "cannot",
        "can't",
        "couldn't",
        "nor",
        "neither",
    ]
)
_NEGATION_REACH = 3  # words between the negation and what it denies
_STOPS = frozenset(["but", "however", "though", "although", "except", "and"])


def stem(word: str) -> str:
    """Return a word without the commonest English endings.

    A final y stays: watery, yeasty and grainy are not water, yeast and grain.
    """
    for ending in ("ing", "ies", "ed", "es", "s"):
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            return word[: -len(ending)] + ("y" if ending == "ies" else "")
    return word


def tokens(text: str) -> list[str]:
    """Return the words of a text in lower case; a clause end is kept as ';'."""
    out: list[str] = []
    plain = text.lower().replace("\u2019", "'")
    for clause in re.split(r"[;,.!?](?=\s|$)|\n", plain):
        if out:
            out.append(";")
        out += _WORD.findall(clause.replace("-", " "))
    return out


def _content(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(stem(word) for word in words if word not in _SMALL and word != ";")


@dataclass(frozen=True)
class Target:
    """What a phrase leads to."""

    kind: str  # finding, sign or context
    id: str
    label: str
    stages: frozenset[str] = frozenset()  # of a finding: when it can be seen


# which of two findings with the same words is meant, by how far the batch has come
_SEEN_IN = {
    "brewing": {"boil", "lag"},
    "fermenting": {"boil", "lag", "active", "late_fermentation"},
    "bottled": {"packaging", "conditioning", "tasting"},
}


@dataclass
class Lexicon:
    """All phrases of the knowledge by their first word."""

    by_first: dict[str, list[tuple[tuple[str, ...], Target]]] = field(default_factory=dict)
    phrases: dict[str, Target] = field(default_factory=dict)

    def add(self, phrase: str, target: Target) -> None:
        """Add one phrase."""
        words = _content(tokens(phrase))
        if words:
            self.by_first.setdefault(words[0], []).append((words, target))
            self.phrases.setdefault(phrase.lower(), target)

    @classmethod
    def of(cls, knowledge: KnowledgeBase) -> Lexicon:
        """Return the phrases of findings, signs and contexts; longest first under each word."""
        lexicon = cls()
        tables: tuple[tuple[str, Mapping[str, object]], ...] = (
            ("finding", knowledge.findings),
            ("sign", knowledge.signs),
            ("context", knowledge.contexts),
        )
        for kind, table in tables:
            for key, entry in table.items():
                label = str(getattr(entry, "label"))  # noqa: B009 - three types with one shape
                stages = frozenset(getattr(entry, "stages", ()))
                target = Target(kind, key, label, stages)
                phrases = [label, *getattr(entry, "aliases")]  # noqa: B009
                if kind == "finding":
                    phrases += [key, key.replace("_", " "), knowledge.findings[key].term]
                for phrase in phrases:
                    lexicon.add(phrase, target)
        for entries in lexicon.by_first.values():
            entries.sort(key=lambda entry: -len(entry[0]))
        return lexicon

    def nearest(self, text: str, count: int = 3) -> tuple[str, ...]:
        """Return labels of the things whose phrases look most like the text."""
        close = difflib.get_close_matches(text.lower(), list(self.phrases), n=8, cutoff=0.5)
        labels = dict.fromkeys(self.phrases[phrase].label for phrase in close)
        return tuple(labels)[:count]


@dataclass(frozen=True)
class Reading:
    """What a text says: what was understood, and whether anything was."""

    found: tuple[tuple[Target, str, str], ...]  # target, the words, present or absent


def read_text(lexicon: Lexicon, text: str, stage: str = "") -> Reading:
    """Find the phrases in a text; "no", "not", "without" shortly before one deny it.

    Where a phrase means two findings, `stage` (brewing, fermenting, bottled) tells which.
    """
    words = tokens(text)
    kept = [(index, stem(word)) for index, word in enumerate(words) if word not in _SMALL]
    found: list[tuple[Target, str, str]] = []
    position = 0
    while position < len(kept):
        match = _longest(lexicon, kept, position)
        if match is None:
            position += 1
            continue
        phrase, targets = match
        targets = _fitting(targets, stage)
        first, last = kept[position][0], kept[position + len(phrase) - 1][0]
        state = "absent" if _denied(words, first) else "present"
        spoken = " ".join(words[first : last + 1])
        found += [(target, spoken, state) for target in targets]
        position += len(phrase)
    return Reading(tuple(found))


def _longest(
    lexicon: Lexicon, kept: list[tuple[int, str]], position: int
) -> tuple[tuple[str, ...], list[Target]] | None:
    entries = lexicon.by_first.get(kept[position][1], [])
    best: tuple[str, ...] | None = None
    targets: list[Target] = []
    for phrase, target in entries:
        if best is not None and len(phrase) < len(best):
            break
        span = kept[position : position + len(phrase)]
        if tuple(word for _, word in span) == phrase:
            best = phrase
            if target not in targets:
                targets.append(target)
    return (best, targets) if best is not None else None


def _fitting(targets: list[Target], stage: str) -> list[Target]:
    fitting = [
        item for item in targets if not item.stages or item.stages & _SEEN_IN.get(stage, set())
    ]
    several = sum(item.kind == "finding" for item in targets) > 1
    return fitting if several and fitting else targets


def _denied(words: list[str], first: int) -> bool:
    reach = 0
    for word in reversed(words[:first]):
        if word == ";" or word in _STOPS:
            return False
        if word in _NEGATIONS:
            return True
        if word not in _SMALL:
            reach += 1
        if reach > _NEGATION_REACH:
            return False
    return False


_LEADS = {"smelled": "smells of", "tasted": "tastes of"}


def understand(
    lexicon: Lexicon, text: str, line: int = 0, *, sense: str = "saw", stage: str = ""
) -> tuple[list[Understood], list[NotUnderstood]]:
    """Return what a text says, or the nearest phrases when it says nothing that is known."""
    reading = read_text(lexicon, text, stage)
    if not reading.found and sense in _LEADS:
        reading = read_text(lexicon, f"{_LEADS[sense]} {text}", stage)
    if not reading.found:
        return [], [NotUnderstood(text, lexicon.nearest(text), line)]
    denied = sense == "no_sign_of"
    flip = {"present": "absent", "absent": "present"}
    return [
        Understood(
            spoken,
            target.kind,
            target.id,
            target.label,
            flip[state] if denied else state,
            line,
        )
        for target, spoken, state in reading.found
    ], []


@cache
def _phrases(items: tuple[tuple[str, tuple[str, ...]], ...]) -> list[tuple[tuple[str, ...], str]]:
    phrases = [(_content(tokens(phrase)), key) for key, aliases in items for phrase in aliases]
    return sorted((item for item in phrases if item[0]), key=lambda item: -len(item[0]))


def resolve(text: str | None, table: Mapping[str, object]) -> str | None:
    """Return the id of the table row whose phrase stands in the text, longest phrase first.

    All words of the phrase must stand in the text, in any order ("brown glass 12 oz, reused").
    Of phrases equally long the first in the table counts: tables run from the worse to the better.
    """
    found = resolve_all(text, table)
    return found[0] if found else None


def resolve_all(text: str | None, table: Mapping[str, object]) -> list[str]:
    """Return the ids of all table rows one of whose phrases stands in the text, longest first."""
    if not text:
        return []
    items = tuple(
        (key, (key.replace("_", " "), *getattr(row, "aliases")))  # noqa: B009 - any table row
        for key, row in table.items()
    )
    present = set(_content(tokens(text)))
    found = [key for phrase, key in _phrases(items) if present.issuperset(phrase)]
    return list(dict.fromkeys(found))
