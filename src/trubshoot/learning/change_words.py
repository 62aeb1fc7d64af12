"""Reading a change as typed: which deed or key it names, when, and with which details.

The words are those of the log ("pitched at 20 C", "dry hopped 50 g on day 9") and the keys of the
batch file ("yeast.age: 2 months"). Values are tried against the readers of the batch file.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass

from trubshoot.batch import kinds
from trubshoot.batch.amounts import parse_bottles, parse_sugar
from trubshoot.batch.fields import BOTTLES, BOTTLING, GROUPS, HEAD_KEYS, LISTS, LOG, detail_kind
from trubshoot.batch.kinds import Kind
from trubshoot.batch.verbs import DETAILS, VERBS, plain_words, words_for
from trubshoot.errors import UnitError
from trubshoot.units import UnitSystem, UnreadableQuantity, shown

EXAMPLES = (
    "pitched at 20 C",
    "beer 20 C on day 2",
    "waited until day 14",
    "sugar 120 g",
    "yeast.age: 2 months",
    "aerated 60 s",
    "not: dry hopped",
)
# details of a bottling that may be said without the word "bottled" before them
BOTTLING_ALONE = ("sugar", "dosing", "stirred", "weighed", "caps", "headspace")
_HEADS = sorted(
    ((plain, verb) for verb in VERBS for plain in words_for(verb)), key=lambda pair: -len(pair[0])
)
_KEY = re.compile(r"([a-z_]+(?:\.[a-z_]+)?)\s*[:=]\s*(.*)", re.IGNORECASE | re.DOTALL)
_WHEN = re.compile(
    r"[\s,]*\b(?:(?:on|at|until|till|to|from)\s+)?"
    r"(?:day\s+(?P<day>-?[0-9]+(?:\.[0-9]+)?)"
    r"|(?P<date>[0-9]{4}-[0-9]{1,2}-[0-9]{1,2}(?:[t ]+[0-9]{1,2}[:.][0-9]{2})?))",
    re.IGNORECASE,
)
_LINKS = {"at": "temp", "to": "to", "for": "for", "with": "with", "in": "volume", "of": "amount"}
# the order in which a bare quantity is tried: each dimension leads to the details it can be
_BARE = (
    *("temp", "beer", "to", "took", "for", "volume", "water", "headspace", "sugar"),
    *("amount", "grain", "count", "size"),
)
_WORDS = ("with", "what", "where", "caps", "rinsed", "lid", "heat", "dosing", "bottles")


@dataclass(frozen=True)
class When:
    """When, as typed: a day since pitching or a date; both empty when nothing is said."""

    day: float | None = None
    date: str = ""

    def __bool__(self) -> bool:
        return self.day is not None or bool(self.date)


def take_when(text: str) -> tuple[str, When]:
    """Return the text without the words that say when, and what they say."""
    found = _WHEN.search(text)
    if found is None:
        return text.strip(), When()
    rest = f"{text[: found.start()]} {text[found.end() :]}".strip(" ,")
    if found["date"]:
        return rest, When(date=found["date"])
    return rest, When(day=float(found["day"]))


def named_key(text: str) -> tuple[str, str] | None:
    """Return (key or key.part, value) of "yeast.age: 2 months" or "bottles.kind=..."; else None."""
    found = _KEY.fullmatch(text.strip())
    return (found[1].lower(), found[2].strip()) if found else None


def deed_of(text: str) -> tuple[str, str] | None:
    """Return (verb, rest) when a text begins with a known deed."""
    words = text.strip()
    low = words.lower().replace("-", " ").replace("_", " ")
    for plain, verb in _HEADS:
        if low == plain or low.startswith((f"{plain} ", f"{plain},")):
            return verb, words[len(plain) :].strip(" ,")
    plain = plain_words(words)
    for name, verb in _HEADS:  # "aerated the wort", "opened the lid"
        if plain == name or plain.startswith(f"{name} "):
            return verb, plain[len(name) :].strip(" ,")
    return None


_COUNTS = {"one": "1", "a": "1", "two": "2", "three": "3", "four": "4", "both": "2"}
_COUNTED = re.compile(
    rf"\b({'|'.join(_COUNTS)})\s+(?=(?:packs?|sachets?|packets?)\b)", re.IGNORECASE
)
_YEAST_AGE = re.compile(r"(?:the\s+)?yeast\s+(?:was\s+|is\s+)?([0-9].*?)\s+old", re.IGNORECASE)
_FERMENTED = re.compile(r"(?:fermented|fermenting)\s+(?:[^0-9,]*?\bat\s+)?(?=[0-9])", re.IGNORECASE)


def counted(text: str) -> str:
    """Return a text with the words for a count of packs as numbers: "pitched 2 packs"."""
    return _COUNTED.sub(lambda found: f"{_COUNTS[found[1].lower()]} ", text)


def yeast_age(text: str) -> str:
    """Return the age in "yeast 11 months old"; nothing for other words."""
    found = _YEAST_AGE.fullmatch(text)
    return found[1] if found else ""


def fermented_at(text: str) -> str:
    """Return "beer 18 C" for "fermented at 18 C" and "fermented in the cellar at 18 C"."""
    found = _FERMENTED.match(text)
    return f"beer {text[found.end() :]}" if found else text


def details_of(verb: str, text: str, units: UnitSystem) -> dict[str, str]:
    """Return the details that stand after a verb, each with its words.

    Args:
        verb: a verb of the log, or `bottled` for a plan too.
        text: what follows it, without the words that say when.
        units: how bare numbers are read.

    Raises: UnitError: a piece that is no detail of this verb.
    """
    found: dict[str, str] = {}
    for piece in _parted(verb, _pieces(verb, text), units):
        key, value = _detail(verb, piece, units, found)
        if key in found:
            raise UnitError(f"{key} is said twice.")
        found[key] = value
    return found


def is_loose(verb: str, text: str, units: UnitSystem) -> bool:
    """Tell whether what follows a verb is no detail, or only words that might mean anything.

    "steeped flaked oats", "opened the lid every day": a circumstance of that wording goes before.
    A number that cannot be is no loose word: "pitched at 200 C" is refused with what is wrong.
    """
    try:
        details = details_of(verb, text, units)
    except UnreadableQuantity:
        return False
    except UnitError:
        return True
    return any(key in ("what", "where") and key not in text.lower() for key in details)


def _pieces(verb: str, text: str) -> list[str]:
    """Cut a text at commas, and before the words that begin a detail."""
    starts = {*_LINKS, *DETAILS[verb]}
    pieces: list[str] = []
    for part in text.split(","):
        words = part.split()
        begun = ""  # the word that began the present piece: its own value may hold it again
        for place, word in enumerate(words):
            plain = word.lower().strip(":=")
            begins = plain in starts and plain != begun and place + 1 < len(words)
            if place == 0 or (begins and words[place - 1].lower() not in _LINKS):
                pieces.append(word)
                begun = plain
            else:
                pieces[-1] += f" {word}"
    return pieces


_PARTS = (
    (
        re.compile(r"([0-9][0-9.,]*\s*[a-z]+)\s+(?:of\s+)?([a-z].*)", re.IGNORECASE),
        ("amount", "what"),
    ),
    (re.compile(r"([^0-9]+?)\s+(-?[0-9].*)"), ("where", "temp")),
)


def _parted(verb: str, pieces: list[str], units: UnitSystem) -> list[str]:
    """Cut "500 g sugar" and "attic 30 C" in two, where the verb knows both details."""
    parted: list[str] = []
    for piece in pieces:
        for pattern, keys in _PARTS:
            found = pattern.fullmatch(piece)
            if found is None or piece.split()[0].lower() in (*DETAILS[verb], *_LINKS):
                continue
            known = set(keys) <= set(DETAILS[verb])
            quantity = found[1] if keys[0] == "amount" else found[2]
            if known and _reads(verb, keys[0] if keys[0] == "amount" else "temp", quantity, units):
                parted += [f"{keys[0]}: {found[1]}", f"{keys[1]}: {found[2]}"]
                break
        else:
            parted.append(piece)
    return parted


def _detail(verb: str, piece: str, units: UnitSystem, found: dict[str, str]) -> tuple[str, str]:
    known = DETAILS[verb]
    head, _, rest = piece.partition(" ")
    named = re.fullmatch(r"([a-z_]+)[:=]\s*(.*)", piece, re.IGNORECASE | re.DOTALL)
    if named and named[1].lower() in known:
        return named[1].lower(), named[2].strip()
    plain = head.lower()
    if plain in known and (rest or _is_flag(verb, plain)):
        return plain, rest or "yes"
    if plain in ("not", "un", "no") and rest.lower() in known:
        return rest.lower(), "no"
    value = rest if plain in (*_LINKS, "by") and rest else piece
    linked = _LINKS.get(plain) if rest else None
    if linked == "temp" and "beer" in known:
        linked = "beer"
    if linked == "for" and "for" not in known:
        linked = "took"
    order = [*((linked,) if linked in known else ()), *_BARE, *_WORDS]
    for key in dict.fromkeys(order):
        if key in known and key not in found and _reads(verb, key, value, units):
            return str(key), value
    takes = ", ".join(known) or "none"
    if linked in known and re.search("[0-9]", value):
        kind_of(verb, str(linked)).read(value, units)  # says what is wrong with the number
    raise UnitError(f"{shown(piece)} is no detail of `{verb}`. Its details: {takes}.")


def _is_flag(verb: str, key: str) -> bool:
    try:
        kind_of(verb, key).read("yes", "metric")
    except UnreadableQuantity:
        return False
    return True


def _reads(verb: str, key: str, value: str, units: UnitSystem) -> bool:
    """Tell whether a value can be read as this detail, and with its unit where one is needed."""
    if key in _BARE and not re.search("[0-9]", value):
        return False
    if key in ("with", "what", "where", "caps") and re.search("[0-9]", value):
        return False  # an amount that no detail takes is no words
    try:
        if key == "sugar":
            return parse_sugar(value) is not None
        if key == "bottles":
            return parse_bottles(value) is not None
        kind_of(verb, key).read(value, units)
    except UnreadableQuantity:
        return False
    return True


def kind_of(verb: str, key: str) -> Kind:
    """Return how a detail of a verb is read."""
    if verb == "bottled":
        if key in BOTTLING:
            return BOTTLING[key]
        return BOTTLES.get(key) or kinds.text(key)
    return detail_kind(verb, key)


def known_path(path: str) -> bool:
    """Tell whether a key, or key.part, stands in the head of a batch file."""
    key, _, part = path.partition(".")
    if key not in HEAD_KEYS or key == "log":
        return False
    if not part:
        return True
    if key == "plan":
        return part in ("target", *DETAILS["bottled"])
    fields = GROUPS[key].fields if key in GROUPS else LISTS.get(key, {})
    return part in fields


def nearest_forms(text: str) -> str:
    """Return what may have been meant by words that name nothing, or examples."""
    named = named_key(text)
    if named is not None:
        paths = [key for key in HEAD_KEYS if key != "log"]
        paths += [f"{key}.{part}" for key, group in GROUPS.items() for part in group.fields]
        paths += [f"{key}.{part}" for key, fields in LISTS.items() for part in fields]
        paths += [f"plan.{part}" for part in ("target", *DETAILS["bottled"])]
        near = difflib.get_close_matches(named[0], paths, n=3, cutoff=0.6)
        if near:
            return f"Did you mean {' or '.join(f'`{path}: ...`' for path in near)}?"
    words = plain_words(text).split()
    heads = {" ".join(words[:count]) for count in (1, 2, 3)}
    known = [*LOG, *(plain for plain, _ in _HEADS), *BOTTLING_ALONE, "waited until", "fermented"]
    near = [
        match
        for head in sorted(heads, key=len, reverse=True)
        for match in difflib.get_close_matches(head, known, n=2, cutoff=0.75)
    ]
    if near:
        meant = list(dict.fromkeys(near))[:3]
        return f"Did you mean {' or '.join(f'`{word} ...`' for word in meant)}?"
    return f"Changes are written like {', '.join(f'`{text}`' for text in EXAMPLES)}."
