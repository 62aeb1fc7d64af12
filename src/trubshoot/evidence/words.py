"""From the brewer's words to the ids of the knowledge.

A phrase of the knowledge is found when all its words stand close together in one part of a clause,
in the phrase's own order, or side by side in another; word endings and listed synonyms do not
matter. Of phrases that share words the longest counts. Gravities and temperatures count by their
kind, so "stuck at 1.018" is a phrase that "stuck at 1.020" teaches. What is asked, supposed,
feared, passed on or said of another batch says nothing of what was seen in this one. Nothing is
guessed: what leads nowhere is returned with the nearest phrases.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

from trubshoot.evidence.clauses import BACK, COUNTS, Clause, Word, parted, read_clauses
from trubshoot.evidence.denial import ends_before
from trubshoot.evidence.lexicon import KEPT, NO, SMALL, UNITS, Heard, Lexicon, Target, stem, tokens
from trubshoot.evidence.model import NotUnderstood, Understood

__all__ = ["NO", "Lexicon", "Target", "read_text", "resolve", "resolve_all", "stem", "tokens"]

_REACH = 3  # words between a negation and what it denies
_SLACK = 3  # other words that may stand between the words of a phrase
_FEW = 2  # so few words stand near each other by chance, and must keep the phrase's order ...
_SWAPPED_SLACK = 1  # ... or stand side by side
_ARTICLES = frozenset("a an the my our its of some any this these that".split())
_LEADS = {"smelled": "smells of", "tasted": "tastes of"}
_ALL = frozenset("all every each any both none no not".split())
_FEW_OF = frozenset("one two three some few several couple".split())
_BEING = frozenset("is are was were it's be been pure".split())
_NONE_AFTER = frozenset(("none", "nil", "absent"))
# Stretches in which even a grave thing is not heard: a condition, or a measure. What may have been,
# what others tell and what "all fine" leaves out is heard: a warning too many hurts nobody.
_NOT_YET = frozenset(("if", "compared"))
_THINGS = frozenset("bottle lid cap stopper bung airlock fermenter carboy".split())
_HELD_AGAINST = ("compared", "left_out")
# stretches that a phrase may begin before or end after: "lower than planned", "hop smell is gone"
_WHOLLY = ("compared", "told", "ended")
# which of two findings with the same words is meant, by how far the batch has come
_SEEN_IN = {
    "brewing": {"boil", "lag"},
    "fermenting": {"boil", "lag", "active", "late_fermentation"},
    "bottled": {"packaging", "conditioning", "tasting"},
}


@dataclass(frozen=True)
class _Match:
    words: tuple[str, ...]  # of the phrase
    places: tuple[int, ...]  # of its words among the words kept
    targets: tuple[Target, ...]


@dataclass(frozen=True)
class _Kept:
    """The words of a clause that count, reduced, and where they stand in it."""

    clause: tuple[Word, ...]
    at: tuple[int, ...]
    normal: tuple[str, ...]
    sentence: frozenset[str]  # all its words up to here, reduced

    @classmethod
    def of(cls, lexicon: Lexicon, clause: Clause, before: frozenset[str]) -> _Kept:
        """Return the words of a clause without the small ones."""
        at = tuple(n for n, word in enumerate(clause.words) if word.text not in SMALL)
        normal = tuple(lexicon.normal(clause.words[n].text) for n in at)
        words = frozenset(lexicon.normal(word.text) for word in clause.words)
        return cls(clause.words, at, normal, before | words)

    def word(self, place: int) -> Word:
        """Return one of the words kept, as it was said."""
        return self.clause[self.at[place]]


def read_text(lexicon: Lexicon, text: str, stage: str = "", sense: str = "") -> tuple[Heard, ...]:
    """Return (target, words, present or absent) of every phrase found in a text.

    "no", "not", "without" shortly before a phrase deny it, unless the phrase itself holds them.
    Where a phrase means two findings, `stage` (brewing, fermenting, bottled) tells which. `sense`
    is the verb of the log line that the text stands under: what is smelled is no kettle or camera.
    What was read is kept: the lines of a log are read again for every day that is asked about.
    """
    heard = lexicon.heard.get((text, stage, sense))
    if heard is None:
        if len(lexicon.heard) >= KEPT:
            lexicon.heard.clear()
        heard = lexicon.heard[text, stage, sense] = _read_text(lexicon, text, stage, sense)
    return heard


def _read_text(lexicon: Lexicon, text: str, stage: str, sense: str) -> tuple[Heard, ...]:
    found: list[tuple[Target, str, str]] = []
    sentence, elsewhere = -1, False
    own = frozenset([lexicon.normal(sense)] if sense in _LEADS else ())
    before = own
    for clause in read_clauses(text):
        back = clause.turns or any(word.text in BACK for word in clause.words)
        elsewhere = elsewhere and clause.sentence == sentence and not back
        before = before if clause.sentence == sentence else own
        sentence = clause.sentence
        kept = _Kept.of(lexicon, clause, before)
        before = kept.sentence
        taken = _taken(kept, _ordered(lexicon, kept))
        outside = [item for item in taken if kept.word(item.places[0]).shut not in _HELD_AGAINST]
        kinds = {target.kind for match in outside for target in match.targets}
        elsewhere = elsewhere or "another_batch" in kinds
        said = _said(lexicon, kept, taken, stage, aside=elsewhere or "aside" in kinds)
        found += [_of_some(lexicon, kept, item) for item in said]
    if any(
        target.names and not target.unless_named and state == "present"
        for target, _, state in found
    ):
        found = [item for item in found if not item[0].unless_named]
    return tuple(dict.fromkeys(found))


def _of_some(
    lexicon: Lexicon, kept: _Kept, said: tuple[Target, str, str]
) -> tuple[Target, str, str]:
    """Return what words mean in a clause that tells of one or a few bottles, not of all."""
    target, spoken, state = said
    words = [word.text for word in kept.clause]
    if not target.some or state == "absent" or _ALL.intersection(words):
        return said
    few = any(
        word in _FEW_OF and not {"bottle", "bottles", "them"}.isdisjoint(words[at + 1 : at + 4])
        for at, word in enumerate(words)
    )
    return (lexicon.findings[target.some], spoken, state) if few else said


def _ordered(lexicon: Lexicon, kept: _Kept) -> list[_Match]:
    """Return the phrases found in a clause, the longest and closest first."""
    matches = [
        match
        for word in dict.fromkeys(kept.normal)
        for match in _matches(lexicon, lexicon.phrases(word), kept)
    ]
    matches.sort(key=lambda match: (-len(match.words), match.places[-1] - match.places[0]))
    return matches


def _taken(kept: _Kept, matches: list[_Match]) -> list[_Match]:
    """Return the matches that keep their words: no two share one, nor one of their like."""
    used: set[int] = set()
    alike: set[int] = set()
    out = []
    for match in matches:
        grave = any(target.grave for target in match.targets)
        if used.intersection(match.places) or (not grave and alike.intersection(match.places)):
            continue
        used.update(match.places)
        out.append(match)
        for other in matches:  # "sour smell from the fermenter" leaves no "sour" for the beer
            if set(other.targets) & set(match.targets) and {*other.places} & {*match.places}:
                alike.update(other.places)
    return out


def _said(
    lexicon: Lexicon, kept: _Kept, taken: list[_Match], stage: str, *, aside: bool
) -> list[tuple[Target, str, str]]:
    used = {place for match in taken for place in match.places}
    found: list[tuple[Target, str, str]] = []
    for match in taken:
        grave = any(target.grave for target in match.targets)
        loud = grave or any(target.kind == "sign" for target in match.targets)
        denied = NO not in match.words and _denied(kept, match.places, used, grave=grave, loud=loud)
        first, last = match.places[0], match.places[-1]
        spoken = " ".join(kept.word(place).text for place in range(first, last + 1))
        shut = {kept.word(place).shut for place in match.places} - {"", *_WHOLLY}
        shut = set() if shut and lexicon.supposes(match.words) else shut
        shut |= {kind for kind in _WHOLLY if _wholly(kept, match.places, kind)}
        shut |= {"another_batch"} if aside else set()
        if "less" not in match.words and kept.word(first).after_less:
            shut |= {"compared"}
        found += [
            (target, spoken, "absent" if denied else "present")
            for target in _fitting(match.targets, stage)
            if target.kind not in ("aside", "another_batch")
            and (target.kind != "finding" or _heard(target, shut, denied=denied))
        ]
    return found


def _heard(target: Target, shut: set[str], *, denied: bool) -> bool:
    """Tell whether words count in their stretch: a grave thing does, if it may be so."""
    return not shut or (target.grave and not denied and not shut & _NOT_YET)


def _wholly(kept: _Kept, places: Sequence[int], kind: str) -> bool:
    """Tell whether a match lies wholly in a stretch of a kind."""
    return all(kept.word(place).shut == kind for place in places)


def _matches(
    lexicon: Lexicon, phrases: Mapping[tuple[str, ...], list[Target]], kept: _Kept
) -> Iterable[_Match]:
    present = set(kept.normal)
    for phrase, targets in phrases.items():
        if not present.issuperset(phrase):
            continue
        places = _closest(kept.normal, phrase)
        if places is not None and _belongs(lexicon, kept, phrase, places):
            yield _Match(phrase, places, _in_this_order(lexicon, kept, places, targets))


def _in_this_order(
    lexicon: Lexicon, kept: _Kept, places: tuple[int, ...], targets: Sequence[Target]
) -> tuple[Target, ...]:
    """Return what words mean in their order: "it finished dry" is no "drying finish".

    What is grave, and a sign, is heard in either order: a bottle that "went off" may have burst.
    """
    order = tuple(kept.normal[place] for place in places)
    own = lexicon.ordered.get(order, ())
    loud = bool(own) and NO not in order
    fitting = tuple(
        item for item in targets if item in own or (loud and (item.grave or item.kind == "sign"))
    )
    return fitting or tuple(targets)


def _belongs(
    lexicon: Lexicon, kept: _Kept, phrase: tuple[str, ...], places: tuple[int, ...]
) -> bool:
    """Tell whether words that stand close together belong together: one part, and in order."""
    if len(places) == 1:
        return _stands_alone(lexicon, kept, places[0])
    if phrase in lexicon.single and _several(kept, places):
        return False
    order = tuple(kept.normal[place] for place in places)
    first, last = kept.at[places[0]], kept.at[places[-1]]
    no = order.index(NO) if NO in phrase else len(order)
    if no + 1 < len(order) and parted(kept.clause, kept.at[places[no]], kept.at[places[no + 1]]):
        return False
    if len(phrase) <= _FEW and parted(kept.clause, first, last):
        return False
    if order in lexicon.orders.get(phrase, ()):
        return len(order) > _FEW or _joined_alike(lexicon, kept, order, places)
    if len(phrase) > _FEW:
        again = kept.normal[places[-1] + 1 : places[-1] + 1 + _SLACK]
        return NO not in phrase or order[-1] != NO or not {*again}.isdisjoint(phrase)
    if NO in phrase:
        return False
    between = [word.text for word in kept.clause[first + 1 : last]]
    if any(word not in SMALL | _ARTICLES for word in between):
        return False
    return sum(word not in _ARTICLES for word in between) <= _SWAPPED_SLACK


def _stands_alone(lexicon: Lexicon, kept: _Kept, place: int) -> bool:
    """Tell whether a phrase of one word means what it says: a common word needs another beside."""
    near = lexicon.beside.get(kept.normal[place])
    at = kept.at[place]
    if near is None or (at and kept.clause[at - 1].text in _BEING):
        return True
    others = [word for n, word in enumerate(kept.normal) if n != place and word != NO]
    alone = len(others) <= 1 and not _used(kept.clause, at)
    return alone or bool(near.intersection(kept.sentence))


def _used(clause: Sequence[Word], at: int) -> bool:
    """Tell whether a thing is one that something is done with: "cleaned with vinegar"."""
    return bool({"with", "by"}.intersection(word.text for word in clause[max(at - 2, 0) : at]))


def _several(kept: _Kept, places: Sequence[int]) -> bool:
    """Tell whether several days or hours are said where a phrase says one."""
    return any(
        kept.word(place).text.rstrip("s") in UNITS
        and kept.at[place] > 0
        and _more_than_one(kept.clause[kept.at[place] - 1].text)
        for place in places
    )


def _more_than_one(word: str) -> bool:
    return word in COUNTS or (word.isdigit() and int(word) > 1)


def _joined_alike(
    lexicon: Lexicon, kept: _Kept, order: tuple[str, ...], places: Sequence[int]
) -> bool:
    """Tell apart "a glass of beer" and "glass in the beer": another small word joins the two."""
    own = lexicon.joined[order[0], order[1]]
    between = kept.clause[kept.at[places[0]] + 1 : kept.at[places[1]]]
    return not own or "of" in own or all(word.text != "of" for word in between)


def _closest(words: Sequence[str], phrase: tuple[str, ...]) -> tuple[int, ...] | None:
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


def _denied(kept: _Kept, places: Sequence[int], used: set[int], *, grave: bool, loud: bool) -> bool:
    """Tell whether a match is denied; what is grave or a sign (loud) only in plain words."""
    first, last = places[0], places[-1]
    for place in range(first - 1, max(first - 1 - _REACH, -1), -1):
        denies = kept.normal[place] == NO and place not in used
        if grave and kept.word(place).carried and kept.normal[first] in _THINGS:
            denies = False  # "not sour, bottles burst or leaking": nothing is denied of bottles
        denies = denies and not (loud and ends_before(kept.clause, kept.at[place], kept.at[last]))
        if denies and not parted(kept.clause, kept.at[place], kept.at[first]):
            return True
    if any(kept.normal[place] == NO for place in range(first, last) if place not in used):
        return True
    if grave and kept.at[last] + 2 != len(kept.clause):
        return False  # "a bottle burst none were hurt" goes on
    after = range(last + 1, min(last + 2, len(kept.at)))
    return any(kept.word(place).text in _NONE_AFTER for place in after)


def _fitting(targets: tuple[Target, ...], stage: str) -> tuple[Target, ...]:
    seen = _SEEN_IN.get(stage, set())
    fitting = tuple(item for item in targets if not item.stages or item.stages & seen)
    several = sum(item.kind == "finding" for item in targets) > 1
    return fitting if several and fitting else targets


def understand(
    lexicon: Lexicon, text: str, line: int = 0, *, sense: str = "saw", stage: str = ""
) -> tuple[list[Understood], list[NotUnderstood]]:
    """Return what a text says, or the nearest phrases when it says nothing that is known."""
    found = read_text(lexicon, text, stage, sense)
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
    return list(_resolved(text, items))


@lru_cache(maxsize=KEPT)
def _resolved(text: str, items: tuple[tuple[str, tuple[str, ...]], ...]) -> tuple[str, ...]:
    present = set(Lexicon().content(tokens(text)))
    found = [key for phrase, key in _phrases(items) if present.issuperset(phrase)]
    return tuple(dict.fromkeys(found))
