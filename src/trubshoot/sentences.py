"""Sentences with numbers in them, which the edges may tell in other units.

A rule's sentence is filled with metric numbers, and is to everybody below the edges a plain text.
`Told` keeps beside that text the quantities it was made of. `in_units` walks through a whole result
and tells every such sentence again in US units; in metric it gives back the same result.
"""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Iterable
from typing import Any, TypeVar

from trubshoot.units import UnitSystem, c_to_f, format_pressure

_T = TypeVar("_T")
_PLACEHOLDER = re.compile(r"\{([^{}]+)\}")
# a temperature that stands in the words themselves, with or without its twin in F
_LITERAL = re.compile(
    r"(?P<lead>\b(?:within|below|above|under|near|at|to|reads?)(?: about)? )?"
    r"(?<![0-9.])(?P<low>-?[0-9]+)(?:(?P<link>-| to )(?P<high>-?[0-9]+))? C\b"
    r"(?: \((?P<twin>[^()]*) F\))?(?P<between> between)?"
)
_LEAST_READ_C = 15  # in these texts fewer degrees are a difference, unless a word before says else


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
        pieces.append(Quantity(text + behind[0], unit.us(number)))
        end = behind.end()
    pieces += _literals(template[end:])
    return _made(pieces)


def worded(text: str) -> Told:
    """Return words that hold temperatures such as "30 C" as a sentence that can be told."""
    return _made(_literals(text))


def prose(text: str) -> str:
    """Return a text of the knowledge so that its temperatures can be told; most hold none."""
    return worded(text) if " C" in text and _LITERAL.search(text) else text


def _literals(text: str) -> list[str | Quantity]:
    pieces: list[str | Quantity] = []
    end = 0
    for found in _LITERAL.finditer(text):
        pieces += [text[end : found.start()], Quantity(found[0], _in_f(found))]
        end = found.end()
    return [*pieces, text[end:]]


def _in_f(found: re.Match[str]) -> str:
    """Return a temperature of the words in F: one to be read, or a difference."""
    lead, between = found["lead"] or "", found["between"] or ""
    if found["twin"]:
        return f"{lead}{found['twin']} °F{between}"
    numbers = [float(found["low"]), *([float(found["high"])] if found["high"] else [])]
    small = 0 < numbers[0] < _LEAST_READ_C and not lead
    apart = small or bool(between) or lead.startswith("within")
    shown = [f"{1.8 * number if apart else c_to_f(number):.0f}" for number in numbers]
    return f"{lead}{(found['link'] or '').join(shown)} °F{between}"


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
