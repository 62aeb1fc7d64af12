"""From the brewer's words to the ids of the knowledge.

A phrase of the knowledge is found when all its words stand close together in one clause of the
text, in any order; word endings and listed synonyms do not matter. Of phrases that share words the
longest counts. Gravities and temperatures count by their kind, so "stuck at 1.018" is a phrase that
"stuck at 1.020" teaches. A clause about another batch, a plan or a fear says nothing of what was
seen in this one. Nothing is guessed: what leads nowhere is returned with the nearest phrases.
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
_CLAUSE = re.compile(
    r"[;.!?](?=\s|$)|\n|,(?=\s)|\b(?:but|however|though|although|except|whereas)\b"
)
_TEMPERATURE = re.compile(r"(\d+(?:\.\d+)?)\s*(?:\u00b0|degrees?|deg\.?)?\s*([cf])\b")
_GRAVITY = re.compile(r"(0\.9[89]\d|1\.[01]\d\d|1[01]\d\d)")
_SMALL = frozenset(
    """
    a an the my our its it is are was were be been being there this that these those of in on at
    to and so very really just has have had i we they you with when while after for from by as
    or if then than also seem seems seemed like looked looks look quite rather do does did will
    would could should can may might
    """.split()
)
NO = "no"
_NEGATIONS = frozenset(
    """
    no not never none without nothing didn't doesn't don't isn't wasn't weren't hasn't haven't
    cannot can't couldn't nor neither hardly won't aren't
    """.split()
)
_REACH = 3  # words between a negation and what it denies
_SLACK = 3  # other words that may stand between the words of a phrase
_ENDINGS = ("ingly", "ing", "ies", "ied", "ed", "es", "er", "s")
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
    plain = _TEMPERATURE.sub(r"\1\2", text.lower().replace("\u2019", "'"))
    out: list[str] = []
    for clause in _CLAUSE.split(plain):
        if out:
            out.append(";")
        out += _WORD.findall(clause.replace("-", " "))
    return out


@dataclass(frozen=True)
class Target:
    """What a phrase leads to."""

    kind: str  # finding, sign, context or aside
    id: str
    label: str
    grave: bool = False  # a hazard may hang on it: heard even where it is about another batch
    stages: frozenset[str] = frozenset()  # of a finding: when it can be seen


# which of two findings with the same words is meant, by how far the batch has come
_SEEN_IN = {
    "brewing": {"boil", "lag"},
    "fermenting": {"boil", "lag", "active", "late_fermentation"},
    "bottled": {"packaging", "conditioning", "tasting"},
}


@dataclass(frozen=True)
class _Match:
    words: tuple[str, ...]  # of the phrase
    places: tuple[int, ...]  # of its words in the clause
    targets: tuple[Target, ...]


@dataclass
class Lexicon:
    """All phrases of the knowledge, by one of their words."""

    synonyms: dict[str, str] = field(default_factory=dict)
    by_word: dict[str, dict[tuple[str, ...], list[Target]]] = field(default_factory=dict)
    phrases: dict[str, Target] = field(default_factory=dict)
    limits: dict[str, float] = field(default_factory=dict)
    reduced: dict[str, str] = field(default_factory=dict)  # words met before

    def _measure(self, word: str) -> str | None:
        """Return what a gravity or a temperature counts as; None for other words."""
        if _GRAVITY.fullmatch(word):
            points = float(word) - 1000 if float(word) > 2 else (float(word) - 1) * 1000
            if abs(points) < 0.5:
                return "watersg"
            return "lowsg" if points < self.limits.get("words_low_gravity_points", 0) else "somesg"
        if re.fullmatch(r"[\d.]+[cf]", word):
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
        return [self.normal(word) for word in words if word not in _SMALL and word != ";"]

    def add(self, phrase: str, target: Target) -> None:
        """Add one phrase."""
        said = _WORD.findall(phrase.lower().replace("-", " "))  # a phrase is one clause
        words = tuple(sorted(set(self.content(said))))
        if not words or words == (NO,):
            return
        key = max(words, key=len) if len(words) > 1 else words[0]
        targets = self.by_word.setdefault(key, {}).setdefault(words, [])
        if target not in targets:
            targets.append(target)
        self.phrases.setdefault(phrase.lower(), target)

    @classmethod
    def of(cls, knowledge: KnowledgeBase) -> Lexicon:
        """Return the phrases of findings, signs and contexts."""
        lexicon = cls()
        for limit in ("words_low_gravity_points", "words_cold_c", "words_hot_c"):
            lexicon.limits[limit] = knowledge.constant(limit)
        grave = {
            condition.fact.partition(".")[2]
            for rule in knowledge.rules.values()
            if rule.then.kind in ("hazard", "marker", "hold")
            for condition in (*rule.when.all, *rule.when.any)
        }
        for name, group in knowledge.synonyms.items():
            for word in (name, *group.words):
                lexicon.synonyms[word] = name
                lexicon.synonyms[stem(word)] = name
        for key, finding in knowledge.findings.items():
            stages = frozenset(finding.stages)
            target = Target("finding", key, finding.label, key in grave, stages)
            for phrase in (finding.label, key.replace("_", " "), finding.term, *finding.aliases):
                lexicon.add(phrase, target)
            lexicon.phrases.setdefault(key, target)
        for key, sign in knowledge.signs.items():
            kind = "aside" if sign.topic == "aside" else "sign"
            for phrase in (sign.label, *sign.aliases):
                lexicon.add(phrase, Target(kind, key, sign.label))
        for key, context in knowledge.contexts.items():
            for phrase in (context.label, *context.aliases):
                lexicon.add(phrase, Target("context", key, context.label))
        return lexicon

    def nearest(self, text: str, count: int = 3) -> tuple[str, ...]:
        """Return labels of the things whose phrases look most like the text."""
        said = set(self.content(tokens(text)))
        spelt = {near for word in said for near in self._spelt_like(word)} | said
        shared: dict[str, float] = {}
        for word in spelt:
            for phrase, targets in self.by_word.get(word, {}).items():
                likeness = len(spelt.intersection(phrase)) / len(spelt.union(phrase))
                for target in targets:
                    shared[target.label] = max(shared.get(target.label, 0.0), likeness)
        return tuple(sorted(shared, key=lambda label: (-shared[label], label)))[:count]

    def _spelt_like(self, word: str) -> list[str]:
        if word in self.by_word or len(word) < 4:
            return []
        alike = [known for known in self.by_word if known[:1] == word[:1]]
        return difflib.get_close_matches(word, alike, n=2, cutoff=0.75)


def read_text(lexicon: Lexicon, text: str, stage: str = "") -> tuple[tuple[Target, str, str], ...]:
    """Return (target, words, present or absent) of every phrase found in a text.

    "no", "not", "without" shortly before a phrase deny it, unless the phrase itself holds them.
    Where a phrase means two findings, `stage` (brewing, fermenting, bottled) tells which.
    """
    found: list[tuple[Target, str, str]] = []
    clause: list[str] = []
    for word in [*tokens(text), ";"]:
        if word != ";":
            clause.append(word)
            continue
        found += _read_clause(lexicon, clause, stage)
        clause = []
    return tuple(dict.fromkeys(found))


def _read_clause(lexicon: Lexicon, clause: list[str], stage: str) -> list[tuple[Target, str, str]]:
    kept = [word for word in clause if word not in _SMALL]
    words = [lexicon.normal(word) for word in kept]
    matches = [
        match
        for word in dict.fromkeys(words)
        for match in _matches(lexicon.by_word.get(word, {}), words)
    ]
    matches.sort(key=lambda match: (-len(match.words), match.places[-1] - match.places[0]))
    aside = any(target.kind == "aside" for match in matches for target in match.targets)
    used: set[int] = set()
    found: list[tuple[Target, str, str]] = []
    for match in matches:
        if used.intersection(match.places):
            continue
        used.update(match.places)
        denied = NO not in match.words and _denied(words, match.places, used)
        spoken = " ".join(kept[match.places[0] : match.places[-1] + 1])
        found += [
            (target, spoken, "absent" if denied else "present")
            for target in _fitting(match.targets, stage)
            if target.kind != "aside" and (target.kind != "finding" or target.grave or not aside)
        ]
    return found


def _matches(phrases: Mapping[tuple[str, ...], list[Target]], words: list[str]) -> Iterable[_Match]:
    present = set(words)
    for phrase, targets in phrases.items():
        if not present.issuperset(phrase):
            continue
        places = _closest(words, phrase)
        if places is not None:
            yield _Match(phrase, places, tuple(targets))


def _closest(words: list[str], phrase: tuple[str, ...]) -> tuple[int, ...] | None:
    """Return where the words of a phrase stand closest together, if close enough."""
    where = {word: [i for i, other in enumerate(words) if other == word] for word in phrase}
    best: tuple[int, ...] | None = None
    for first in range(len(words)):
        chosen = []
        for word in phrase:
            later = [place for place in where[word] if place >= first]
            if not later:
                break
            chosen.append(later[0])
        else:
            places = tuple(sorted(chosen))
            if best is None or places[-1] - places[0] < best[-1] - best[0]:
                best = places
    if best is None or best[-1] - best[0] + 1 > len(phrase) + _SLACK:
        return None
    return best


def _denied(words: list[str], places: tuple[int, ...], used: set[int]) -> bool:
    first = places[0]
    for place in range(first - 1, max(first - 1 - _REACH, -1), -1):
        if words[place] == NO and place not in used:
            return True
    return any(words[place] == NO for place in range(places[0], places[-1]) if place not in used)


def _fitting(targets: tuple[Target, ...], stage: str) -> tuple[Target, ...]:
    seen = _SEEN_IN.get(stage, set())
    fitting = tuple(item for item in targets if not item.stages or item.stages & seen)
    several = sum(item.kind == "finding" for item in targets) > 1
    return fitting if several and fitting else targets


_LEADS = {"smelled": "smells of", "tasted": "tastes of"}


def understand(
    lexicon: Lexicon, text: str, line: int = 0, *, sense: str = "saw", stage: str = ""
) -> tuple[list[Understood], list[NotUnderstood]]:
    """Return what a text says, or the nearest phrases when it says nothing that is known."""
    found = read_text(lexicon, text, stage)
    denied = sense == "no_sign_of"
    if denied:
        # "no sign of: foam" says what "no foam" says
        lack = [item for item in read_text(lexicon, f"{NO} {text}", stage) if item[2] == "present"]
        lack = [item for item in lack if item[1].startswith(f"{NO} ")]
        found = tuple([(target, words, "absent") for target, words, _ in lack]) + found
    if not found and sense in _LEADS:
        found = read_text(lexicon, f"{_LEADS[sense]} {text}", stage)
    if not found:
        return [], [NotUnderstood(text, lexicon.nearest(text), line)]
    flip = {"present": "absent", "absent": "present"}
    return [
        Understood(
            spoken, target.kind, target.id, target.label, flip[state] if denied else state, line
        )
        for target, spoken, state in found
    ], []


@cache
def _phrases(items: tuple[tuple[str, tuple[str, ...]], ...]) -> list[tuple[frozenset[str], str]]:
    plain = Lexicon()
    phrases = [
        (frozenset(plain.content(tokens(phrase))), key)
        for key, aliases in items
        for phrase in aliases
    ]
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
    present = set(Lexicon().content(tokens(text)))
    found = [key for phrase, key in _phrases(items) if present.issuperset(phrase)]
    return list(dict.fromkeys(found))
