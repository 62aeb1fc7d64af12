"""The verbs after `did:`, other words for them, and the details that each takes.

This is grammar, not knowledge of faults: it says how a deed is written, not what follows from it.
"""

from __future__ import annotations

import difflib
import re
from typing import get_args

from trubshoot.batch.model import Verb

# details by verb, with the names used in the file
DETAILS: dict[str, tuple[str, ...]] = {
    "steeped": ("temp", "took", "water", "grain"),
    "mashed": ("temp", "took", "water", "grain"),
    "boiled": ("took", "lid", "volume"),
    "added extract": ("heat", "what", "amount"),
    "chilled": ("to", "took", "with"),
    "topped up": ("volume", "water", "temp"),
    "aerated": ("took", "with"),
    "rehydrated": ("temp", "took"),
    "pitched": ("beer", "amount", "what"),
    "repitched": ("beer", "amount", "what"),
    "roused": ("took",),
    "warmed": ("to", "took"),
    "cooled": ("to", "took", "with"),
    "cold crashed": ("to", "for"),
    "dry hopped": ("amount", "for", "what"),
    "opened lid": (),
    "racked": ("splashed", "volume", "temp", "what"),
    "transferred": ("splashed", "volume", "temp", "what"),
    "added": ("what", "amount", "temp", "volume"),
    "cleaned": ("with", "rinsed", "what"),
    "sanitized": ("with", "rinsed", "what"),
    "burned with": ("where", "what"),
    "bottled": (
        *("sugar", "volume", "bottles", "count", "size", "dosing", "stirred", "weighed"),
        *("headspace", "temp", "caps"),
    ),
    "stored": ("temp", "where", "to"),
    "opened bottle": ("temp",),
    "chilled bottle": ("temp", "for"),
    "disposed": ("what",),
}
VERBS: tuple[str, ...] = get_args(Verb)
# verbs on which the stage of the batch hangs: never guessed from a longer sentence
PIVOTAL = ("pitched", "bottled", "disposed")

_SYNONYMS: dict[str, str] = {
    **dict.fromkeys(("steeped grain", "steeped grains"), "steeped"),
    **dict.fromkeys(("boiled wort",), "boiled"),
    **dict.fromkeys(("extract added", "stirred in extract"), "added extract"),
    **dict.fromkeys(("chilled wort", "cooled wort", "wort chilled"), "chilled"),
    **dict.fromkeys(("topped", "topped off", "added water", "added top up water"), "topped up"),
    **dict.fromkeys(
        ("shook", "shaken", "oxygenated", "aerated wort", "shook fermenter", "splashed wort"),
        "aerated",
    ),
    **dict.fromkeys(("shook wort", "stirred wort", "shook bucket", "shook carboy"), "aerated"),
    **dict.fromkeys(("rehydrated yeast", "wetted yeast"), "rehydrated"),
    **dict.fromkeys(("pitched yeast", "added yeast", "yeast pitched", "pitch"), "pitched"),
    **dict.fromkeys(("pitched more yeast", "added more yeast", "pitched again"), "repitched"),
    **dict.fromkeys(("pitched fresh yeast",), "repitched"),
    **dict.fromkeys(("roused yeast", "swirled", "swirled fermenter"), "roused"),
    **dict.fromkeys(
        ("warmed up", "warmed fermenter", "warmed beer", "moved somewhere warmer"), "warmed"
    ),
    **dict.fromkeys(
        ("cooled beer", "cooled fermenter", "cooled down", "moved somewhere cooler"), "cooled"
    ),
    **dict.fromkeys(("coldcrashed", "crash cooled", "crashed", "cold crash"), "cold crashed"),
    **dict.fromkeys(("dryhopped", "added dry hops", "dry hop"), "dry hopped"),
    **dict.fromkeys(
        ("opened fermenter", "lifted lid", "opened bucket", "took lid off"), "opened lid"
    ),
    **dict.fromkeys(("racked to secondary", "moved to secondary", "siphoned"), "racked"),
    **dict.fromkeys(("washed", "cleaned fermenter", "cleaned bottles"), "cleaned"),
    **dict.fromkeys(("sanitised", "disinfected", "sterilised", "sterilized"), "sanitized"),
    **dict.fromkeys(("boiled with", "burnt with", "heated with"), "burned with"),
    **dict.fromkeys(("bottled beer", "bottling", "bottled batch", "bottled everything"), "bottled"),
    **dict.fromkeys(("stored bottles", "moved bottles", "put bottles away"), "stored"),
    **dict.fromkeys(("opened one", "opened one bottle", "opened first bottle"), "opened bottle"),
    **dict.fromkeys(("chilled one bottle", "chilled one", "chilled bottles"), "chilled bottle"),
    **dict.fromkeys(
        ("disposed of", "dumped", "emptied", "disposed of bottles", "emptied bottles"), "disposed"
    ),
    **dict.fromkeys(("poured away", "threw away", "dumped batch", "dumped bottles"), "disposed"),
}
_FILLERS = re.compile(r"\b(?:the|my|our|a|an|some)\b")
_ALL: dict[str, str] = {**{verb: verb for verb in VERBS}, **_SYNONYMS}
_BY_LENGTH = sorted(_ALL, key=len, reverse=True)
ALL_DETAILS: frozenset[str] = frozenset(name for names in DETAILS.values() for name in names)


def plain_words(words: str) -> str:
    """Return words in lower case without articles, hyphens and repeated spaces."""
    text = words.lower().replace("-", " ").replace("_", " ").strip(" .!")
    return " ".join(_FILLERS.sub(" ", text).split())


def find_verb(words: str) -> str | None:
    """Return the verb that the words name, alone or at the head of a sentence; else None."""
    text = plain_words(words)
    if text in _ALL:
        return _ALL[text]
    for start in _BY_LENGTH:
        if text.startswith(f"{start} "):
            verb = _ALL[start]
            return None if verb in PIVOTAL else verb
    return None


def meant_verb(words: str) -> str | None:
    """Return the verb that was probably meant by words which name none.

    A misspelt verb, or a sentence that begins with a verb on which the stage of the batch hangs
    ("bottled half of it"): neither may be taken for a remark, so the reader asks.
    """
    text = plain_words(words)
    near = difflib.get_close_matches(text, _ALL, n=1, cutoff=0.84)
    if near:
        return _ALL[near[0]]
    first = text.split(" ", 1)[0]
    for verb in PIVOTAL:
        if difflib.SequenceMatcher(None, first, verb).ratio() >= 0.84:
            return verb
    return None


def words_for(verb: str) -> tuple[str, ...]:
    """Return the verb and the other wordings that name it."""
    return (verb, *(words for words, named in _SYNONYMS.items() if named == verb))
