"""Numbers in free words: gravities, temperatures, times, amounts and dates, and what each is.

The kind of a number is in its form and unit. Which detail of the batch it is, is told by the words
next to it; those words (cues) stand in knowledge/interview.yaml. Whatever is read is repeated to
the brewer before anything is worked out from it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from trubshoot.batch.amounts import parse_sugar
from trubshoot.batch.fields import BOTTLING, GROUPS, LOG, detail_kind
from trubshoot.evidence.words import resolve
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.units import UNITS, UnitSystem, UnreadableQuantity, parse_gravity, parse_quantity

BOTTLED = "bottled"
_REACH = 6  # words between a number and the words that say what it is
_CLAUSE = re.compile(r"[;!?\n]|[.,](?=\s|$)|\b(?:but|however|though|although)\b")
_WORD = re.compile(r"[a-z]+(?:[.'][a-z]+)*")
_WORDS = {
    word: number
    for number, word in enumerate(
        "a one two three four five six seven eight nine ten eleven twelve".split()
    )
}
_WORDS["a"] = 1
_SPAN = r"(?:hours?|hrs?|days?|weeks?|wks?|months?|years?)"
_WRITTEN = re.compile(rf"\b({'|'.join(_WORDS)})\b(?=\s+{_SPAN}\b)")
_COUPLE = re.compile(rf"\ba couple of(?=\s+{_SPAN}\b)")
_NUMBER = r"[0-9]+(?:[.,][0-9]+)?(?:\s+[0-9]/[0-9])?|[0-9]/[0-9]"
_GRAVITY = re.compile(
    r"(?<![\w.])(?:(0\.99[0-9]|1\.[01][0-9]{1,2}|1[01][0-9]{2})(?![0-9]|\s*(?:g|ml|l|kg|mg)\b)"
    r"|([0-9]{1,2}(?:\.[0-9])?\s*(?:\u00b0\s*)?(?:plato|brix|p)\b))"
)
_TEMPERATURE = re.compile(
    r"(?<![\w.])(-?[0-9]{1,3}(?:\.[0-9])?)\s*"
    r"(?:(?:\u00b0|degrees?|deg\.?)\s*(celsius|fahrenheit|c|f)?|(celsius|fahrenheit|c|f))(?![a-z])"
)
_DURATION = re.compile(rf"(?<![\w.])({_NUMBER})\s*({_SPAN})\b|\bday\s+([0-9]{{1,4}})\b")
_MONTHS = "january february march april may june july august september october november december"
_MONTH = {
    short: number for number, name in enumerate(_MONTHS.split(), 1) for short in (name, name[:3])
}
_DATE = re.compile(
    r"\b([0-9]{4})-([0-9]{2})-([0-9]{2})\b"
    rf"|\b([0-9]{{1,2}})(?:st|nd|rd|th)?\s+(?:of\s+)?({'|'.join(_MONTH)})\b"
    rf"|\b({'|'.join(_MONTH)})\s+([0-9]{{1,2}})(?:st|nd|rd|th)?\b(?!\s*(?:{_SPAN}))"
)
_KIND = re.compile(r"\s*(?:of\s+)?((?:[a-z]+\s+){0,3}?(?:sugar|dextrose|glucose|honey|syrup))\b")

_KINDS = {
    **dict.fromkeys(("og", "gravity_now"), LOG["gravity"][0]),
    "beer_temp": LOG["beer"][0],
    "room_temp": LOG["room"][0],
    "pitch_temp": detail_kind("pitched", "beer"),
    "bottled_volume": BOTTLING["volume"],
}


@dataclass(frozen=True)
class Detail:
    """A number told, as the batch file takes it, and the words it was told in."""

    id: str  # row of interview.yaml
    value: str
    said: str


@dataclass(frozen=True)
class _Found:
    dimension: str
    value: str
    start: int
    end: int


def clauses(text: str) -> list[str]:
    """Return the parts of a text that say one thing each; a point in a number parts nothing."""
    return [part for part in (" ".join(piece.split()) for piece in _CLAUSE.split(text)) if part]


def read_details(
    knowledge: KnowledgeBase, text: str, units: UnitSystem | None, today: date, bottled: bool
) -> list[Detail]:
    """Return the details that a text tells, the last of each kind.

    Args:
        knowledge: the cues, and the kinds of sugar.
        text: what was said.
        units: how degrees without a letter are read; None leaves them out.
        today: dates without a year lie before it.
        bottled: whether a time told without saying since when counts from the bottling.
    """
    found: dict[str, Detail] = {}
    loose: list[Detail] = []
    for clause in clauses(text):
        plain = _digits(clause.lower())
        numbers = sorted(_numbers(knowledge, plain, units, today), key=lambda item: item.start)
        warm = any(item.dimension == "temperature" for item in numbers)
        for item in numbers:
            key, sure = _meant(knowledge, plain, item)
            if key == "pitched_days" and not sure and bottled:
                key = "fermenter_days" if warm else "bottled_days"
            if key == "fermenter_days" and not bottled:
                key = "pitched_days"
            if not key:
                continue
            detail = Detail(key, item.value, clause)
            if key == "gravity_now" and not sure:
                loose.append(detail)
            found[key] = detail
    if len(loose) > 1 and "og" not in found:
        first = max(loose, key=lambda item: parse_gravity(item.value))
        found["og"] = Detail("og", first.value, first.said)
    return list(found.values())


def _digits(text: str) -> str:
    return _WRITTEN.sub(lambda word: str(_WORDS[word[1]]), _COUPLE.sub("2", text))


def _numbers(
    knowledge: KnowledgeBase, text: str, units: UnitSystem | None, today: date
) -> Iterator[_Found]:
    for match in _GRAVITY.finditer(text):
        value = match[1] or match[2]
        try:
            sg = parse_gravity(value)
        except UnreadableQuantity:
            continue
        yield _Found("gravity", f"{sg:.3f}" if match[1] else value, *match.span())
    for match in _TEMPERATURE.finditer(text):
        letter = (match[2] or match[3] or {"us": "f", "metric": "c"}.get(units or "", ""))[:1]
        if letter:
            yield _Found("temperature", f"{match[1]} {letter.upper()}", *match.span())
    for match in _DURATION.finditer(text):
        value = f"{match[3]} days" if match[3] else f"{match[1]} {match[2]}"
        yield _Found("duration", value, *match.span())
    for match in _DATE.finditer(text):
        day = _date(match, today)
        if day is not None:
            yield _Found("date", f"{day:%Y-%m-%d}", *match.span())
    yield from _amounts(knowledge, text)


def _amounts(knowledge: KnowledgeBase, text: str) -> Iterator[_Found]:
    for match in _amount_pattern().finditer(text):
        unit, after = match[2], text[match.end() :]
        if re.match(r"\s*(?:\w+\s+){0,2}bottles?\b", after):
            continue  # the size of a bottle
        value = f"{match[1]} {unit}"
        kind = _KIND.match(after)
        spoon = unit not in UNITS["mass"]
        if kind is not None and resolve(kind[1], knowledge.sugars) is not None:
            yield _Found("mass", f"{value} {kind[1]}", match.start(), match.end())
        elif not spoon:
            yield _Found("mass", value, *match.span())
        elif unit not in ("cup", "cups") and not unit.startswith(("t", "table")):
            yield _Found("volume", value, *match.span())


def _amount_pattern() -> re.Pattern[str]:
    mass = ("g", "grams", "gram", "kg", "oz", "ounces", "ounce", "lb", "lbs", "pounds", "pound")
    volume = ("l", "litres", "litre", "liters", "liter", "gal", "gallons", "gallon", "ml")
    spoons = ("cups", "cup", "tsp", "tbsp", "teaspoons", "tablespoons", "teaspoon", "tablespoon")
    names = "|".join((*mass, *volume, *spoons))
    return re.compile(rf"(?<![\w./])({_NUMBER})\s*-?\s*({names})\b")


def _date(match: re.Match[str], today: date) -> date | None:
    try:
        if match[1]:
            return date(int(match[1]), int(match[2]), int(match[3]))
        month = _MONTH[match[5] or match[6]]
        day = date(today.year, month, int(match[4] or match[7]))
        return day if day <= today else day.replace(year=today.year - 1)
    except ValueError:
        return None


def _meant(knowledge: KnowledgeBase, text: str, item: _Found) -> tuple[str, bool]:
    """Return the detail that a number is, and whether the words beside it say so."""
    best, best_score, fallback = "", float(_REACH), ""
    for key, row in knowledge.interview.items():
        if row.kind != "detail" or row.dimension != item.dimension:
            continue
        fallback = key if row.default else fallback
        for cue in row.cues:
            for match in re.finditer(rf"(?<![a-z]){re.escape(cue)}(?![a-z])", text):
                if match.end() <= item.start:
                    gap = float(len(_WORD.findall(text[match.end() : item.start])))
                elif match.start() >= item.end:
                    gap = 1.5 + len(_WORD.findall(text[item.end : match.start()]))
                else:
                    continue
                score = gap - 0.5 * cue.count(" ")
                if score < best_score:
                    best, best_score = key, score
    return (best, True) if best else (fallback, False)


def days_of(value: str) -> float:
    """Return the days of a duration told. Raises UnreadableQuantity."""
    return parse_quantity(value, "duration", "day")


def is_readable(knowledge: KnowledgeBase, key: str, value: str, today: date) -> bool:
    """Tell whether the value of a detail can stand in the batch file."""
    row = knowledge.interview[key]
    group, _, inner = row.place.partition(".")
    try:
        if row.dimension == "date":
            return date.fromisoformat(value) <= today
        if row.dimension == "duration":
            return days_of(value) <= (today - date(1990, 1, 1)) / timedelta(days=1)
        if inner:
            GROUPS[group].fields[inner].read(value, "metric")
        elif key == "sugar":
            parse_sugar(value)
        elif key in _KINDS:
            _KINDS[key].read(value, "metric")
    except (UnreadableQuantity, ValueError):
        return False
    return True
