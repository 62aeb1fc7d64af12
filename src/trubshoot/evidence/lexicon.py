"""The phrases by which findings, signs and circumstances are known, with their words reduced."""

from __future__ import annotations

import difflib
import hashlib
import json
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

from trubshoot.evidence import clauses
from trubshoot.evidence.clauses import flat_text, raw_words, read_clauses, split
from trubshoot.knowledge_base import KnowledgeBase, parsed_cache

_GRAVITY = re.compile(r"(0\.9[89]\d|1\.[01]\d\d|1[01]\d\d)")
SMALL = frozenset(
    """
    a an the my our its it is are was were be been being there this that these those of in on at
    to and so very really just has have had i we they you with when while after for from by as
    or if then than also seem seems seemed like looked looks look quite rather do does did will
    would could should can may might
    """.split()
)
PLACING = frozenset("in on of at from under over to for by with".split())
UNITS = ("minute", "hour", "day", "week", "month")
_ONE = frozenset(("a", "an"))
_SINGLE = frozenset((one, unit) for one in _ONE for unit in UNITS)
NO = "no"
_NEGATIONS = frozenset(
    """
    no not never none without nothing didn't doesn't don't isn't wasn't weren't hasn't haven't
    cannot can't couldn't nor neither hardly won't aren't wouldn't shouldn't hadn't ain't lacks
    lacking zero nobody
    """.split()
)
_ENDINGS = ("ingly", "ing", "ies", "ied", "ed", "es", "er", "s")
KEPT = 256  # texts whose reading is kept
_KIND = "phrases"  # of what is kept
_WHOLE = frozenset({"bitter", "bitters"})  # not bits


@cache
def stem(word: str) -> str:
    """Return a word without the commonest English endings.

    A final y stays: watery, yeasty and grainy are not water, yeast and grain.
    """
    for ending in _ENDINGS:
        if word in _WHOLE:
            break
        if word.endswith(ending) and len(word) - len(ending) >= 3:
            word = word[: -len(ending)] + ("y" if ending in ("ies", "ied") else "")
            break
    if len(word) > 3 and word[-1] == word[-2] and word[-1] not in "lsz":
        word = word[:-1]  # stopped, stop
    return word[:-1] if word.endswith("e") and len(word) > 4 else word


def tokens(text: str) -> list[str]:
    """Return the words of a text in lower case; a clause end is kept as ';'."""
    out: list[str] = []
    for place, (clause, _) in enumerate(split(flat_text(text))):
        out += [";"] if place and out else []
        out += raw_words(clause)
    return out


@dataclass(frozen=True)
class Target:
    """What a phrase leads to."""

    kind: str  # finding, sign, context, aside, or another_batch
    id: str
    label: str
    grave: bool = False  # a hazard may hang on it: heard even where it is about another batch
    stages: frozenset[str] = frozenset()  # of a finding: when it can be seen
    some: str = ""  # the finding that the same words mean when said of some bottles
    unless_named: bool = False  # gives way where a taste or smell is named
    names: bool = False  # names a taste or smell


Heard = tuple[Target, str, str]  # what was read in a text, its words, present or absent


@dataclass
class Lexicon:
    """All phrases of the knowledge, by one of their words."""

    synonyms: dict[str, str] = field(default_factory=dict)
    by_word: dict[str, dict[tuple[str, ...], list[Target]]] = field(default_factory=dict)
    orders: dict[tuple[str, ...], set[tuple[str, ...]]] = field(default_factory=dict)
    ordered: dict[tuple[str, ...], set[Target]] = field(default_factory=dict)  # who says it so
    joined: dict[tuple[str, str], set[str]] = field(default_factory=dict)  # by "in", "of", ...
    findings: dict[str, Target] = field(default_factory=dict)
    single: set[tuple[str, ...]] = field(default_factory=set)  # phrases that say "a day", "an hour"
    said: dict[tuple[str, ...], list[str]] = field(default_factory=dict)  # phrases as written
    beside: dict[str, frozenset[str]] = field(default_factory=dict)  # of words that are common
    limits: dict[str, float] = field(default_factory=dict)
    reduced: dict[str, str] = field(default_factory=dict)  # words met before
    targets: list[Target] = field(default_factory=list)
    heard: dict[tuple[str, str, str], tuple[Heard, ...]] = field(default_factory=dict)
    near: dict[tuple[str, int], tuple[str, ...]] = field(default_factory=dict)  # like a text
    kept: dict[str, bytes] = field(default_factory=dict)  # phrases by a word, not looked at yet

    def _measure(self, word: str) -> str | None:
        """Return what a gravity or a temperature counts as; None for other words."""
        if _GRAVITY.fullmatch(word):
            points = float(word) - 1000 if float(word) > 2 else (float(word) - 1) * 1000
            if abs(points) < 0.5:
                return "watersg"
            return "lowsg" if points < self.limits.get("words_low_gravity_points", 0) else "somesg"
        if re.fullmatch(r"\d+(?:\.\d+)?[cf]", word):
            degrees = float(word[:-1])
            celsius = (degrees - 32) / 1.8 if word[-1] == "f" else degrees
            if celsius < self.limits.get("words_cold_c", 0):
                return "coldtemp"
            return "hottemp" if celsius >= self.limits.get("words_hot_c", 1e3) else "sometemp"
        return None

    def normal(self, word: str) -> str:
        """Return a word reduced: negations to one word, endings off, synonyms to one."""
        known = self.reduced.get(word)
        if known is None:
            known = self._reduce(word)
            if word.isalpha():  # numbers are endless, words are not
                self.reduced[word] = known
        return known

    def _reduce(self, word: str) -> str:
        if word in _NEGATIONS:
            return NO
        measure = self._measure(word) if word[0].isdigit() else None
        if measure:
            return measure
        reduced = stem(word)
        return self.synonyms.get(word) or self.synonyms.get(reduced) or reduced

    def content(self, words: Iterable[str]) -> list[str]:
        """Return the reduced words of a phrase or clause without the small ones."""
        return [self.normal(word) for word in words if word not in SMALL and word != ";"]

    def add(self, phrases: Iterable[str], target: Target) -> None:
        """Add the phrases that lead to a target."""
        for phrase in phrases:
            self._add(phrase, raw_words(flat_text(phrase)), target)  # a phrase is one clause

    def _add(self, phrase: str, said: list[str], target: Target) -> None:
        reduced = self.reduced  # most words were met before: thousands of phrases at every start
        order = tuple(
            dict.fromkeys(
                [reduced.get(word) or self.normal(word) for word in said if word not in SMALL]
            )
        )
        words = tuple(sorted(order))
        if not words or words == (NO,):
            return
        self.ordered.setdefault(order, set()).add(target)
        key = max(words, key=len)
        if words in self.said:
            self.said[words].append(phrase)
            self.orders[words].add(order)
            targets = self.by_word[key][words]
            if target not in targets:
                targets.append(target)
        else:
            self.said[words] = [phrase]
            self.orders[words] = {order}
            self.by_word.setdefault(key, {})[words] = [target]
        if not _ONE.isdisjoint(said) and any(pair in _SINGLE for pair in pairwise(said)):
            self.single.add(words)
        if len(order) == 2:
            self.joined.setdefault((order[0], order[1]), set()).update(PLACING.intersection(said))

    def phrases(self, word: str) -> dict[tuple[str, ...], list[Target]]:
        """Return the phrases kept under one of their words, with what they lead to."""
        rows = self.kept.get(word)
        if rows is not None:
            self._unpack(word, rows)
        return self.by_word.get(word, {})

    def _packed(self) -> dict[str, list[Any]]:
        """Return the phrases under each of their words as plain data."""
        number = {target: at for at, target in enumerate(self.targets)}
        return {
            word: [
                [
                    words,
                    [
                        [order, sorted(number[target] for target in self.ordered[order])]
                        for order in sorted(self.orders[words])
                    ],
                    self.said[words],
                    [number[target] for target in targets],
                    words in self.single,
                    [
                        [*order, sorted(self.joined[order[0], order[1]])]
                        for order in self.orders[words]
                        if len(order) == 2
                    ],
                ]
                for words, targets in under.items()
            ]
            for word, under in self.by_word.items()
        }

    def _unpack(self, word: str, rows: bytes) -> None:
        found: dict[tuple[str, ...], list[Target]] = {}
        for listed, orders, said, targets, single, joined in json.loads(rows):
            words = tuple(listed)
            found[words] = [self.targets[at] for at in targets]
            said_so = {tuple(order): {self.targets[at] for at in who} for order, who in orders}
            self.orders[words] = set(said_so)
            self.ordered.update(said_so)
            self.said[words] = said
            if single:
                self.single.add(words)
            for first, second, between in joined:
                self.joined[first, second] = set(between)
        self.by_word[word] = found
        self.kept.pop(word, None)

    def supposes(self, words: tuple[str, ...]) -> bool:
        """Tell whether a phrase itself says "may" or "if"; looked into only where it was said."""
        return any(
            word.shut
            for phrase in self.said[words]
            for clause in read_clauses(phrase)
            for word in clause.words
        )

    @classmethod
    def of(cls, knowledge: KnowledgeBase) -> Lexicon:
        """Return the phrases of findings, signs and contexts.

        Thousands of phrases are reduced once and kept, under a name made from all of them and from
        the code that reduces them; of what was kept only the phrases that a text needs are read.
        """
        lexicon = cls()
        phrases: list[tuple[str, ...]] = []  # for each target
        for limit in ("words_low_gravity_points", "words_cold_c", "words_hot_c"):
            lexicon.limits[limit] = knowledge.constant(limit)
        grave = _grave(knowledge)
        for name, group in knowledge.synonyms.items():
            for word in (name, *group.words):
                lexicon.synonyms[word] = name
                lexicon.synonyms[stem(word)] = name
        for common in knowledge.common_words.values():
            near = frozenset(lexicon.normal(word) for word in common.beside)
            lexicon.beside |= {lexicon.normal(word): near for word in common.words}
        for key, finding in knowledge.findings.items():
            stages = frozenset(finding.stages)
            target = Target(
                "finding",
                key,
                finding.label,
                key in grave,
                stages,
                finding.some_bottles,
                finding.unless_named,
                bool(finding.term) or finding.check.by in ("smell", "taste"),
            )
            lexicon.findings[key] = target
            lexicon.targets.append(target)
            phrases.append((finding.label, key.replace("_", " "), finding.term, *finding.aliases))
        for key, sign in knowledge.signs.items():
            kind = sign.topic if sign.topic in ("aside", "another_batch") else "sign"
            lexicon.targets.append(Target(kind, key, sign.label))
            phrases.append((sign.label, *sign.aliases))
        for key, context in knowledge.contexts.items():
            lexicon.targets.append(Target("context", key, context.label))
            phrases.append((context.label, *context.aliases))
        digest = _digest([lexicon.synonyms, lexicon.limits, phrases])
        kept = parsed_cache.read(digest, _KIND) if digest else None
        if kept is not None:
            lexicon.kept = kept
            return lexicon
        for target, listed in zip(lexicon.targets, phrases, strict=True):
            lexicon.add(listed, target)
        if digest:
            parsed_cache.write(digest, lexicon._packed(), _KIND)
        return lexicon

    def nearest(self, text: str, count: int = 3) -> tuple[str, ...]:
        """Return labels of the things whose phrases look most like the text."""
        found = self.near.get((text, count))
        if found is None:
            if len(self.near) >= KEPT:
                self.near.clear()
            found = self.near[text, count] = self._nearest(text, count)
        return found

    def _nearest(self, text: str, count: int) -> tuple[str, ...]:
        said = set(self.content(tokens(text)))
        spelt = {near for word in said for near in self._spelt_like(word)} | said
        shared: dict[str, float] = {}
        for word in spelt:
            for phrase, targets in self.phrases(word).items():
                likeness = len(spelt.intersection(phrase)) / len(spelt.union(phrase))
                for target in targets:
                    shared[target.label] = max(shared.get(target.label, 0.0), likeness)
        return tuple(sorted(shared, key=lambda label: (-shared[label], label)))[:count]

    def _spelt_like(self, word: str) -> list[str]:
        if word in self.by_word or word in self.kept or len(word) < 4:
            return []
        alike = [known for known in (*self.by_word, *self.kept) if known[:1] == word[:1]]
        return difflib.get_close_matches(word, alike, n=2, cutoff=0.75)


def _digest(reduced_from: object) -> str:
    """Return a name for what phrases are reduced from: themselves, and the code that does it.

    It is empty where the code cannot be read; then nothing is kept.
    """
    state = hashlib.sha256(json.dumps(reduced_from).encode())
    try:
        for source in (__file__, clauses.__file__):
            state.update(Path(source).read_bytes())
    except OSError:
        return ""
    return state.hexdigest()


def _grave(knowledge: KnowledgeBase) -> set[str]:
    """Return the findings that alone, said to be there, raise a hazard at WARNING or above."""
    return {
        condition.fact.partition(".")[2]
        for rule in knowledge.rules.values()
        if rule.then.hazard and knowledge.hazards[rule.then.hazard].level in ("warning", "danger")
        for condition in (*rule.when.any, *(rule.when.all if len(rule.when.all) == 1 else ()))
        if condition.is_ == "present" and not (rule.when.any and rule.when.all)
    }
