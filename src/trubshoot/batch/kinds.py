"""Kinds of values in a batch file: how each is read, within which bounds, and its JSON Schema.

Bounds are bounds of writing, not of brewing: they catch a slip of the pen and never judge a beer.
A temperature has two pairs. A bare number outside the likely pair is refused with the question
whether the other unit was meant (68 in a metric file); with its unit written out it passes up to
the possible pair, since hot wort and killed yeast are just what may have to be found out.
All bounds here are judgement.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from trubshoot.batch.amounts import parse_amount
from trubshoot.batch.model import Headspace, Rinse
from trubshoot.errors import printable
from trubshoot.units import (
    MINUTES_PER_DAY,
    UnitSystem,
    UnreadableQuantity,
    c_to_f,
    f_to_c,
    parse_gravity,
    parse_quantity,
    shown,
    tidy,
)

Values = dict[str, Any]
UNKNOWN_WORDS = frozenset(("", "unknown", "?", "not known", "no idea"))
_YES = frozenset(("yes", "y", "true", "on"))
_NO = frozenset(("no", "n", "false", "off"))
_BARE = re.compile(r"[-+0-9.,/\s~]*")
LONGEST_WORDS = 2000


@dataclass(frozen=True)
class Kind:
    """One kind of value: `read` turns what is written into attributes of the model."""

    read: Callable[[object, UnitSystem], Values]
    schema: Mapping[str, Any]


def is_unknown(value: object) -> bool:
    """Return whether a value is left open: empty, "unknown" or "?"."""
    return value is None or (isinstance(value, str) and value.strip().lower() in UNKNOWN_WORDS)


def is_bare(value: object) -> bool:
    """Return whether a quantity is written without a unit."""
    return not isinstance(value, str) or _BARE.fullmatch(value) is not None


def nearest(word: str, words: Iterable[str]) -> str:
    """Return the mend that names the nearest known word, or lists them all."""
    known = list(words)
    close = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.6)
    if close:
        return f"Did you mean `{close[0]}`?"
    return f"Known here: {', '.join(known)}." if known else "Remove it."


def yes_or_no(value: object) -> bool | None:
    """Return True or False for yes and no in any of their spellings, None for anything else."""
    if isinstance(value, bool):
        return value
    word = value.strip().lower() if isinstance(value, str) else ""
    return True if word in _YES else False if word in _NO else None


def temperature(attribute: str, likely: tuple[float, float], possible: tuple[float, float]) -> Kind:
    """A temperature [deg C], with the bounds of a bare and of a written-out number."""

    def read(value: object, units: UnitSystem) -> Values:
        bare_unit = "f" if units == "us" else "c"
        temp_c = parse_quantity(value, "temperature", bare_unit)
        here, other = ("F", "C") if units == "us" else ("C", "F")
        if is_bare(value) and not likely[0] <= temp_c <= likely[1]:
            number = c_to_f(temp_c) if units == "us" else temp_c
            swapped = number if units == "us" else f_to_c(number)
            low, high = _in_unit(likely, here)
            mend = f"Write the unit: {number:g} {here} or {number:g} {other}."
            if possible[0] <= swapped <= possible[1]:
                mend = f"Did you mean {number:g} {other}? {mend}"
            raise UnreadableQuantity(
                f"{shown(value)} is read as {number:g} {here}, "
                f"which is not likely here ({low:.0f} to {high:.0f} {here}).",
                mend,
            )
        if not possible[0] <= temp_c <= possible[1]:
            written_f = "f" in value.lower() if isinstance(value, str) else False
            unit, swap = ("F", "C") if written_f else ("C", "F")
            number = c_to_f(temp_c) if written_f else temp_c
            low, high = _in_unit(possible, unit)
            swapped = number if written_f else f_to_c(number)
            fits = possible[0] <= swapped <= possible[1]
            raise UnreadableQuantity(
                f"{shown(value)} cannot be right here ({low:.0f} to {high:.0f} {unit}).",
                f"Did you mean {number:g} {swap}?" if fits else "Correct the number.",
            )
        return {attribute: temp_c}

    return Kind(read, {"type": ["number", "string"], "examples": ["20 C", "68 F"]})


def _in_unit(bounds: tuple[float, float], unit: str) -> tuple[float, float]:
    return bounds if unit == "C" else (c_to_f(bounds[0]), c_to_f(bounds[1]))


def volume(attribute: str, low_l: float = 0.0, high_l: float = 1200.0) -> Kind:
    """A volume [l]; a bare number is litres or US gallons."""

    def read(value: object, units: UnitSystem) -> Values:
        volume_l = parse_quantity(value, "volume", "gal" if units == "us" else "l")
        if not low_l <= volume_l <= high_l:
            raise UnreadableQuantity(
                f"{shown(value)} is {volume_l:g} l, and {low_l:g} to {high_l:g} l is likely here.",
                "Write the volume with its unit, such as 19 l or 5 gal.",
            )
        return {attribute: volume_l}

    return Kind(read, {"type": ["number", "string"], "examples": ["19 l", "5 gal"]})


def pressure(attribute: str) -> Kind:
    """A gauge pressure of the fermenter [bar]; the unit must be written."""

    def read(value: object, units: UnitSystem) -> Values:
        mend = "Write it like 0.7 bar or 10 psi."
        if is_bare(value):
            raise UnreadableQuantity(f"{shown(value)} has no unit.", mend)
        pressure_bar = parse_quantity(value, "pressure")
        if not 0.0 <= pressure_bar <= 3.0:
            raise UnreadableQuantity(
                f"{shown(value)} is {pressure_bar:g} bar, and 0 to 3 bar is likely here.", mend
            )
        return {attribute: pressure_bar}

    return Kind(read, {"type": "string", "examples": ["0.7 bar", "10 psi"]})


def bottle_size(attribute: str) -> Kind:
    """The size of a bottle [ml]; a bare number is millilitres or US fluid ounces."""

    def read(value: object, units: UnitSystem) -> Values:
        size_ml = 1000 * parse_quantity(value, "volume", "fl oz" if units == "us" else "ml")
        if not 30 <= size_ml <= 20_000:
            raise UnreadableQuantity(
                f"{shown(value)} is read as {size_ml:g} ml, which is not likely for a bottle.",
                "Write the size with its unit, such as 330 ml, 0.5 l or 12 oz.",
            )
        return {attribute: size_ml}

    return Kind(read, {"type": ["number", "string"], "examples": ["330 ml", "12 oz"]})


def gravity(attribute: str) -> Kind:
    """A specific gravity."""

    def read(value: object, units: UnitSystem) -> Values:
        return {attribute: parse_gravity(value)}

    return Kind(read, {"type": ["number", "string"], "examples": [1.012, 1012, "12 P"]})


def duration(attribute: str, unit: str = "days", high_days: float = 7500.0) -> Kind:
    """A span of time; always with its unit. `unit` of the attribute: days or min."""

    def read(value: object, units: UnitSystem) -> Values:
        days = parse_quantity(value, "duration")
        if days > high_days:
            raise UnreadableQuantity(
                f"{shown(value)} is longer than is likely here.",
                "Write it like 35 min, 12 hours, 3 weeks or 8 months.",
            )
        return {attribute: days if unit == "days" else days * MINUTES_PER_DAY}

    return Kind(read, {"type": "string", "examples": ["35 min", "3 weeks"]})


def age(attribute: str) -> Kind:
    """The age of an ingredient: a span of time, or words such as "past its date"."""
    plain = duration(attribute)

    def read(value: object, units: UnitSystem) -> Values:
        text = tidy(value) if isinstance(value, str) else ""
        if re.search(r"\b(?:past|expired|over)\b", text):
            return {"past_date": True}
        return plain.read(value, units)

    return Kind(read, {"type": "string", "examples": ["8 months", "past its date"]})


def number(attribute: str, low: float, high: float, whole: bool = False) -> Kind:
    """A plain number within bounds, in the unit that the attribute has."""

    def read(value: object, units: UnitSystem) -> Values:
        found = _plain(value)
        if found is None or not low <= found <= high or (whole and found != int(found)):
            what = "whole number" if whole else "number"
            raise UnreadableQuantity(
                f"{shown(value)} is not a {what} from {low:g} to {high:g}.",
                f"Write a {what} from {low:g} to {high:g}.",
            )
        return {attribute: int(found) if whole else found}

    kind = "integer" if whole else "number"
    return Kind(read, {"type": kind, "minimum": low, "maximum": high})


def _plain(value: object) -> float | None:
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        return None
    if isinstance(value, str):
        text = value.strip().replace(",", ".")
        return float(text) if re.fullmatch(r"[-+]?[0-9]{1,15}(?:\.[0-9]{1,15})?", text) else None
    return float(value) if -1e15 < value < 1e15 else None


def words(value: object) -> str:
    """Return words as written, spaces tidied. Raises UnreadableQuantity for lists and yes/no."""
    if yes_or_no(value) is not None:
        raise UnreadableQuantity(f"{shown(value)} says too little here.", "Write it in words.")
    if isinstance(value, (int, float)):
        value = f"{value:.12g}"
    if not isinstance(value, str):
        what = "a list" if isinstance(value, list) else "a group of keys"
        raise UnreadableQuantity(f"{what} stands here.", "Write words.")
    text = " ".join(printable(value).split())
    if not text or len(text) > LONGEST_WORDS:
        raise UnreadableQuantity(
            "nothing is written here." if not text else f"{shown(value)} is too long.",
            f"Write up to {LONGEST_WORDS} characters.",
        )
    return text


def text(attribute: str) -> Kind:
    """Words, kept as written."""
    return Kind(lambda value, units: {attribute: words(value)}, {"type": ["string", "number"]})


def texts(attribute: str) -> Kind:
    """One wording or a list of them."""

    def read(value: object, units: UnitSystem) -> Values:
        items = value if isinstance(value, list) else [value]
        return {attribute: tuple(words(item) for item in items if not is_unknown(item))}

    item = {"type": ["string", "number"]}
    return Kind(read, {"anyOf": [item, {"type": "array", "items": item}]})


def flag(attribute: str) -> Kind:
    """Yes or no."""

    def read(value: object, units: UnitSystem) -> Values:
        answer = yes_or_no(value)
        if answer is None:
            raise UnreadableQuantity(f"{shown(value)} is neither yes nor no.", "Write yes or no.")
        return {attribute: answer}

    return Kind(read, {"enum": [True, False, "yes", "no"]})


def choice(attribute: str, options: tuple[str, ...], same: Mapping[str, str] | None = None) -> Kind:
    """One of a few words; `same` maps other wordings to them."""
    others = dict(same or {})

    def read(value: object, units: UnitSystem) -> Values:
        answer = yes_or_no(value)
        word = {True: "on", False: "off", None: ""}[answer] or tidy(words(value))
        word = others.get(word, word)
        if word not in options:
            close = difflib.get_close_matches(word, options, n=1, cutoff=0.7)
            hint = f"Did you mean `{close[0]}`?" if close else f"Write {', '.join(options)}."
            raise UnreadableQuantity(f"{shown(value)} is not known here.", hint)
        return {attribute: word}

    return Kind(read, {"type": "string", "enum": [*options, *others]})


def amount(attribute: str) -> Kind:
    """A mass, spoon measure, volume or number of pieces."""

    def read(value: object, units: UnitSystem) -> Values:
        return {attribute: parse_amount(value)}

    return Kind(read, {"type": "string", "examples": ["120 g", "5 oz", "3 tsp"]})


def mass(attribute: str) -> Kind:
    """A mass [g]; always with its unit."""

    def read(value: object, units: UnitSystem) -> Values:
        return {attribute: parse_quantity(value, "mass")}

    return Kind(read, {"type": "string", "examples": ["500 g", "1 lb"]})


def yes_no_or(flag_attribute: str, other: Kind) -> Kind:
    """Yes, no, or a quantity that implies yes ("topped_up: 2 gal")."""

    def read(value: object, units: UnitSystem) -> Values:
        answer = yes_or_no(value)
        if answer is not None:
            return {flag_attribute: answer}
        return {flag_attribute: True, **other.read(value, units)}

    return Kind(read, {"anyOf": [{"enum": [True, False, "yes", "no"]}, dict(other.schema)]})


def quantity_or_words(other: Kind, words_attribute: str) -> Kind:
    """A quantity when it begins with a digit or is a number, else words ("stored: fridge")."""

    def read(value: object, units: UnitSystem) -> Values:
        if isinstance(value, str) and not re.match(r"\s*[-+~]?\s*[0-9]", value):
            return {words_attribute: words(value)}
        return other.read(value, units)

    return Kind(read, {"type": ["number", "string"]})


def rinse(attribute: str) -> Kind:
    """Yes, no, or what it was rinsed with."""

    def read(value: object, units: UnitSystem) -> Values:
        answer = yes_or_no(value)
        if answer is not None:
            return {attribute: Rinse(done=answer)}
        said = words(value)
        if re.match(r"(?:not|no|never|un)\b", said.lower()):
            return {attribute: Rinse(done=False, water=said)}
        return {attribute: Rinse(done=True, water=said)}

    return Kind(read, {"type": ["boolean", "string"], "examples": ["yes", "no", "boiled water"]})


def headspace(attribute: str) -> Kind:
    """Empty room: a share ("10 %"), a volume or a height."""

    def read(value: object, units: UnitSystem) -> Values:
        written = tidy(value) if isinstance(value, str) else ""
        if re.search(r"%|percent|pct", written):
            percent = parse_quantity(value, "percent")
            if percent > 100:
                raise UnreadableQuantity(f"{shown(value)} is over 100 %.", "Write it like 10 %.")
            return {attribute: Headspace(percent=percent)}
        if re.search(r"(?:cm|mm|inch(?:es)?|in|tres|ters|\")$", written) and "lit" not in written:
            return {attribute: Headspace(height_cm=parse_quantity(value, "length"))}
        if is_bare(value):
            raise UnreadableQuantity(
                f"{shown(value)} has no unit.", "Write it like 3 cm, 10 % or 4 l."
            )
        return {attribute: Headspace(volume_l=parse_quantity(value, "volume"))}

    return Kind(read, {"type": "string", "examples": ["10 %", "3 cm", "4 l"]})
