"""Sentences with numbers in them, which the edges may tell in other units.

A rule's sentence is filled with metric numbers, and is to everybody below the edges a plain text.
`Told` keeps beside that text the quantities it was made of. `in_units` walks through a whole result
and tells every such sentence again in US units; in metric it gives back the same result.
`with_us_units` is for words of which nobody knows whose they are: it keeps what was written and
puts the US value behind. A difference of temperatures is no temperature: "fell by 4 C" is 7 F.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Iterable, Iterator
from functools import lru_cache
from itertools import groupby
from typing import Any, TypeVar

from trubshoot.counting import tidy
from trubshoot.units import BAR_PER_PSI, UnitSystem, c_to_f, format_pressure

_T = TypeVar("_T")
_PLACEHOLDER = re.compile(r"\{([^{}]+)\}")
_NUMBER = r"-?\d+(?:\.\d+)?"
# a value that stands in the words themselves, with or without its US twin
_VALUE = re.compile(
    rf"(?<![\w.])(?P<low>{_NUMBER})(?:(?P<link>-| to | and | or )(?P<high>{_NUMBER}))?"
    r" ?(?P<unit>°C|C|bar)\b(?P<twin> ?\([^()]*\b(?:F|psi)\))?"
)
_SOME = r"(?: (?:about|some|up to|over|no more than|more than|at least|another|slowly))*"
# words before a number that make it a difference ...
_DIFFERS_BEFORE = re.compile(
    rf"(?:\b(?:fell|falls?|rose|rises?|dropp?(?:ed|s)?|warm(?:ing|ed)?(?: it| the beer)?){_SOME}"
    rf"|\b(?:fell|falls?|rose|rises?|dropp?(?:ed|s)?|warm\w*|cool\w*|off|scale)"
    rf"(?: \w+){{0,3}} by{_SOME}"
    r"|\b(?:within|spread of|swing of|per))$",
    re.IGNORECASE,
)
# ... and behind it
_DIFFERS_BEHIND = re.compile(
    r"(?: or more)? (?:(?:above|over|below|within|off|warmer|cooler|colder|between) (?!\d)"
    r"|is (?:usual|reported))"
)


@dataclasses.dataclass(frozen=True)
class Unit:
    """How a unit of a fact is written after its number, and how it is told in US units."""

    written: re.Pattern[str]
    us: Callable[[float], str]


def _degrees(number: float) -> str:
    text = f"{number:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text


UNITS = {
    "C": Unit(re.compile(r" C\b"), lambda temp_c: f"{_degrees(c_to_f(temp_c))} °F"),
    "K": Unit(re.compile(r" [CK]\b"), lambda kelvin: f"{_degrees(1.8 * kelvin)} °F"),
    "bar": Unit(re.compile(r" bar\b"), lambda bar: format_pressure(bar, "us")),
}


@dataclasses.dataclass(frozen=True)
class Quantity:
    """A number with its unit, as it stands in the metric text and as it is told in US units."""

    metric: str
    us: str


class Told(str):
    """A metric sentence that knows its quantities; equal to the plain text of the same words."""

    pieces: tuple[str | Quantity, ...]

    def __new__(cls, text: str, pieces: tuple[str | Quantity, ...] = ()) -> Told:
        """Return a sentence; `pieces` joined are its text."""
        made = super().__new__(cls, text)
        made.pieces = pieces or (text,)
        return made

    def in_us(self) -> str:
        """Return the sentence in US units."""
        return "".join(piece if isinstance(piece, str) else piece.us for piece in self.pieces)


def filled(template: str, value: Callable[[str], tuple[str, float | None, str]]) -> Told:
    """Return a sentence with its placeholders filled in.

    Args:
        template: words with `{name}` for the value of a fact, its unit written behind.
        value: gives for a name the text shown, the number (None for words), and the fact's unit.
    """
    if "{" not in template:
        return _without_facts(template)
    pieces: list[str | Quantity] = []
    end = 0
    for found in _PLACEHOLDER.finditer(template):
        pieces += _literals(template[end : found.start()])
        end = found.end()
        text, number, name = value(found[1])
        unit = UNITS.get(name)
        behind = unit.written.match(template, end) if unit is not None else None
        if unit is None or behind is None or number is None:
            pieces.append(text)
            continue
        pieces.append(Quantity(tidy(text + behind[0]), unit.us(number)))
        end = behind.end()
    pieces += _literals(template[end:])
    return _made(_tidied(pieces))


@lru_cache(maxsize=2000)
def _without_facts(template: str) -> Told:
    return _made(_tidied(_literals(template)))


def _tidied(pieces: Iterable[str | Quantity]) -> Iterator[str | Quantity]:
    """Yield pieces with the words between two quantities put together and tidied: "1 day"."""
    for plain, group in groupby(pieces, key=lambda piece: isinstance(piece, str)):
        if plain:
            yield tidy("".join(map(str, group)))
        else:
            yield from group


def worded(text: str) -> Told:
    """Return words that hold temperatures such as "30 C" as a sentence that can be told."""
    return _made(_literals(text))


def temperature(temp_c: float) -> Told:
    """Return a measured temperature in whole degrees, each kind rounded from the value itself."""
    return _made([Quantity(tidy(f"{temp_c:.0f} C"), f"{_degrees(round(c_to_f(temp_c)))} °F")])


def prose(text: str) -> str:
    """Return a text of the knowledge so that its temperatures can be told; most hold none."""
    return worded(text) if " C" in text and _VALUE.search(text) else text


def _literals(text: str) -> list[str | Quantity]:
    if "C" not in text and "bar" not in text:  # most words, at every diagnosis
        return [text]
    pieces: list[str | Quantity] = []
    end = 0
    for found in _VALUE.finditer(text):
        pieces += [text[end : found.start()], Quantity(found[0], _us_value(found, " °F"))]
        end = found.end()
    return [*pieces, text[end:]]


def with_us_units(text: str, units: UnitSystem) -> str:
    """Return words with the US value behind each metric one; in metric they stay as they are."""
    if units == "metric" or not any(sign in text for sign in ("C", "bar")):
        return text
    return _VALUE.sub(
        lambda found: found[0] if found["twin"] else f"{found[0]} ({_us_value(found, ' F')})", text
    )


def is_difference(text: str, start: int, end: int) -> bool:
    """Tell whether the temperature at a place of a text is a difference of temperatures."""
    before, behind = text[:start].rstrip(), text[end:]
    return bool(_DIFFERS_BEFORE.search(before) or _DIFFERS_BEHIND.match(behind))


def _us_value(found: re.Match[str], degrees: str) -> str:
    if found["twin"]:
        return found["twin"].strip(" ()").replace(" F", degrees)
    numbers = [float(found[name]) for name in ("low", "high") if found[name]]
    if found["unit"] == "bar":
        shown, unit = [f"{number / BAR_PER_PSI:.0f}" for number in numbers], " psi"
    elif is_difference(found.string, found.start(), found.end()):
        shown, unit = [_rounded(1.8 * number) for number in numbers], degrees
    else:
        shown, unit = [f"{c_to_f(number):.0f}" for number in numbers], degrees
    return (found["link"] or "").join(shown) + unit


def _rounded(kelvin: float) -> str:
    """Return a difference in Fahrenheit; a small one keeps a decimal, so as not to become none."""
    return f"{kelvin:.0f}" if kelvin >= 2 else f"{kelvin:.1f}"


def _made(pieces: Iterable[str | Quantity]) -> Told:
    kept = tuple(piece for piece in pieces if piece)
    return Told("".join(piece if isinstance(piece, str) else piece.metric for piece in kept), kept)


def joined(*parts: str) -> Told:
    """Return sentences and words put together, their quantities kept."""
    pieces: list[str | Quantity] = []
    for part in parts:
        pieces += part.pieces if isinstance(part, Told) else (part,)
    return _made(pieces)


def listed(between: str, parts: Iterable[str]) -> Told:
    """Return sentences with the same words between them, their quantities kept."""
    pieces: list[str] = []
    for part in parts:
        pieces += [between, part] if pieces else [part]
    return joined(*pieces)


def clause(sentence: str, *, small: bool) -> Told:
    """Return a sentence without its full stop, and where wanted with a small first letter."""
    pieces = list(sentence.pieces if isinstance(sentence, Told) else (sentence,))
    if isinstance(pieces[-1], str):
        pieces[-1] = pieces[-1].rstrip(".")
    if small and isinstance(pieces[0], str):
        pieces[0] = pieces[0][:1].lower() + pieces[0][1:]
    return _made(pieces)


def in_units(result: _T, system: UnitSystem) -> _T:
    """Return a result with every sentence told in the units to show; the rest is the same.

    Goes through dataclasses, tuples, lists and dictionaries; what holds no sentence is given back
    as it is, not copied.
    """
    if system == "metric":
        return result
    told: _T = _us(result)
    return told


def _us(thing: Any) -> Any:
    if isinstance(thing, Told):
        return thing.in_us()
    if isinstance(thing, (str, int, float, type(None))):
        return thing
    if isinstance(thing, (tuple, list)):
        items = [_us(item) for item in thing]
        if all(new is old for new, old in zip(items, thing, strict=True)):
            return thing
        if hasattr(thing, "_fields"):
            return type(thing)(*items)
        return type(thing)(items)
    if isinstance(thing, dict):
        pairs = {key: _us(value) for key, value in thing.items()}
        return pairs if any(pairs[key] is not thing[key] for key in pairs) else thing
    if dataclasses.is_dataclass(thing) and not isinstance(thing, type):
        return _us_fields(thing)
    return thing


def _us_fields(thing: Any) -> Any:
    changed = {}
    for one in dataclasses.fields(thing):
        old = getattr(thing, one.name)
        new = _us(old)
        if new is not old:
            changed[one.name] = new
    return dataclasses.replace(thing, **changed) if changed else thing
