"""From what somebody types to the thing of the knowledge that is meant, with forgiving spelling.

Names are looked for in this order: as they stand, as words of the brewer (the same phrases the
diagnosis reads), as a part of a name, and as something misspelt. Whatever is meant in more than one
way is returned as a list; nothing is guessed.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from trubshoot.evidence.words import Lexicon, read_text, tokens
from trubshoot.knowledge_base import KnowledgeBase

KINDS = ("step", "cause", "finding", "circumstance", "hazard", "source")
_MAIN = ("step", "cause", "finding")
_CALLED = {"fault": "finding", "context": "circumstance"}  # other words for a kind
_CLOSE = 0.82  # likeness from which a misspelt name may be taken for another; judgement
_CLEAR = 0.04  # ... when the next one is that much less alike
_NEAR = 0.5
_MOST = 8  # things listed as meant


@dataclass(frozen=True)
class Named:
    """One thing of the knowledge: its kind, its id, and its name for people."""

    kind: str
    id: str
    label: str


@dataclass(frozen=True)
class Found:
    """What was meant: one thing, several, or none with the nearest names."""

    asked: str
    meant: tuple[Named, ...]
    nearest: tuple[str, ...] = ()
    spelt: bool = False  # the spelling was put right

    @property
    def one(self) -> Named | None:
        """Return the thing meant, when it is only one."""
        return self.meant[0] if len(self.meant) == 1 else None


def plain_name(text: str) -> str:
    """Return a name without capitals, marks and repeated blanks."""
    return " ".join(re.sub(r"[^\w.%']+|_", " ", text.lower().replace("\u2019", "'")).split())


@dataclass
class Index:
    """All names of the knowledge, ready to be looked in."""

    knowledge: KnowledgeBase
    lexicon: Lexicon
    names: dict[str, list[tuple[int, Named]]] = field(default_factory=dict)  # name -> (rank, thing)
    things: dict[tuple[str, str], Named] = field(default_factory=dict)

    @classmethod
    def of(cls, knowledge: KnowledgeBase, lexicon: Lexicon) -> Index:
        """Return the index of a knowledge base."""
        index = cls(knowledge, lexicon)
        for thing, own, others in _all_names(knowledge):
            index.things[thing.kind, thing.id] = thing
            for rank, texts in enumerate((own, others)):
                for text in texts:
                    pairs = index.names.setdefault(plain_name(text), [])
                    if text and all(other != thing for _, other in pairs):
                        pairs.append((rank, thing))
        index.names.pop("", None)
        return index

    def thing(self, kind: str, key: str) -> Named:
        """Return one thing by its kind and id. Raises KeyError for one that is not there."""
        return self.things[kind, key]

    def find(self, text: str, kinds: Iterable[str] = KINDS) -> Found:
        """Return what a text means among things of some kinds.

        A text may begin with a kind: "cause hop creep", "fault sour", "hazard mould".
        """
        asked = " ".join(text.split())
        wanted = tuple(kinds)
        name = plain_name(asked)
        found = self._exact(name, wanted)
        if not found:
            first, _, rest = name.partition(" ")
            kind = _CALLED.get(first, first)
            if rest and kind in wanted:
                return self.find(rest, (kind,))
            found = self._by_words(name, wanted)
        if found:
            return Found(asked, found[:_MOST])
        respelt = self._respelt(name, wanted)
        if respelt:
            return Found(asked, respelt[:_MOST], spelt=True)
        return Found(asked, (), self._nearest(name, wanted))

    def _exact(self, name: str, kinds: tuple[str, ...]) -> tuple[Named, ...]:
        pairs = [pair for pair in self.names.get(name, ()) if pair[1].kind in kinds]
        # what goes wrong in a beer goes before circumstances, hazards and publications named alike
        pairs = [pair for pair in pairs if pair[1].kind in _MAIN] or pairs
        # somebody who types the very name of one thing does not mean another's by-name
        best = min((rank for rank, _ in pairs), default=0)
        return tuple(thing for rank, thing in pairs if rank == best)

    def _by_words(self, name: str, kinds: tuple[str, ...]) -> tuple[Named, ...]:
        """Return findings that the text tells of, and what has all its words in its name."""
        out: list[Named] = []
        if "finding" in kinds:
            for target, _, _ in read_text(self.lexicon, name):
                if target.kind == "finding":
                    out.append(self.things["finding", target.id])
        said = set(self.lexicon.content(tokens(name)))
        if not said:
            return tuple(out)
        named = ("step", "cause") if out else _MAIN
        for (kind, key), thing in self.things.items():
            if kind in kinds and kind in named:
                words = f"{thing.label} {key.replace('_', ' ')}"
                if said <= set(self.lexicon.content(tokens(words))):
                    out.append(thing)
        if not out and "circumstance" in kinds:
            for target, _, _ in read_text(self.lexicon, name):
                if target.kind == "context":
                    out.append(self.things["circumstance", target.id])
        return tuple(dict.fromkeys(out))

    def _respelt(self, name: str, kinds: tuple[str, ...]) -> tuple[Named, ...]:
        known = [key for key, pairs in self.names.items() if any(p[1].kind in kinds for p in pairs)]
        close = difflib.get_close_matches(name, known, n=12, cutoff=_CLOSE)
        if close:
            likeness = [difflib.SequenceMatcher(None, name, other).ratio() for other in close]
            out: list[Named] = []
            for other, ratio in zip(close, likeness, strict=True):
                if ratio >= likeness[0] - _CLEAR:
                    out += self._exact(other, kinds)
            return tuple(dict.fromkeys(out))
        words = sorted({word for key in known for word in key.split() if len(word) > 3})
        mended = [
            word
            if len(word) < 4 or word in words
            else next(iter(difflib.get_close_matches(word, words, n=1, cutoff=_CLOSE)), word)
            for word in name.split()
        ]
        again = " ".join(mended)
        return () if again == name else self._exact(again, kinds) or self._by_words(again, kinds)

    def _nearest(self, name: str, wanted: tuple[str, ...]) -> tuple[str, ...]:
        kinds = tuple(kind for kind in wanted if kind in _MAIN) or wanted
        labels = {
            key: thing.label
            for key, pairs in self.names.items()
            for _, thing in pairs
            if thing.kind in kinds
        }
        close = difflib.get_close_matches(name, list(labels), n=5, cutoff=_NEAR)
        near: dict[str, str] = {}  # label -> how it is told, with the by-name that is near
        for key in close:
            label = labels[key]
            near.setdefault(label, label if plain_name(label) == key else f"{key} ({label})")
        own = {thing.label for thing in self.things.values() if thing.kind in kinds}
        for label in self.lexicon.nearest(name):
            if label in own:
                near.setdefault(label, label)
        return tuple(near.values())[:5]


def _all_names(knowledge: KnowledgeBase) -> Iterator[tuple[Named, list[str], list[str]]]:
    """Give every thing with its own names and its by-names."""
    for step in knowledge.steps.values():
        yield Named("step", step.id, step.label), [step.id, step.label], list(step.aliases)
    for cause in knowledge.causes.values():
        short = re.sub(r"\s*\([^)]*\)", "", cause.label)
        yield Named("cause", cause.id, cause.label), [cause.id, cause.label, short], []
    for finding in knowledge.findings.values():
        own = [finding.id, finding.label]
        yield Named("finding", finding.id, finding.label), own, [finding.term, *finding.aliases]
    for key, context in knowledge.contexts.items():
        own = [key, context.label]
        yield Named("circumstance", key, context.label), own, list(context.aliases)
    for key, hazard in knowledge.hazards.items():
        yield Named("hazard", key, hazard.hazard), [key], []
    for key, source in knowledge.sources.items():
        yield Named("source", key, source.citation), [key], []
