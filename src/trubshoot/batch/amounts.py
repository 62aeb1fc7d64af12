"""Amounts as brewers write them: "5 oz corn sugar", "3/4 cup", "2 drops per bottle", "7 g/l".

A spoon or a cup is kept as a level volume and a drop as a piece: their mass needs a density or a
weight, which belongs to the knowledge. A number without a unit is refused here, since grams and
ounces differ by a factor of 28 and the lower guess would hide a dose that bursts bottles.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Literal, NoReturn

from trubshoot.batch.model import Bottles, Sugar
from trubshoot.units import (
    LITRES_PER_US_GALLON,
    NUMBER,
    UNITS,
    Amount,
    UnreadableQuantity,
    parse_quantity,
    plain_number,
    shown,
    tidy,
)

AMOUNT_MEND = 'Write it like "120 g", "5 oz", "3 tsp" or "2 drops per bottle".'
SUGAR_MEND = 'Write it like "5 oz corn sugar", "120 g table sugar" or "none".'
_PIECES = (
    *("drop", "cube", "tablet", "piece", "lump", "pack", "packet", "sachet", "package"),
    *("vial", "pouch"),
)
_PIECE = re.compile(rf"(?:{'|'.join(_PIECES)})(?:s|es)?")
_SPOON = re.compile(r"(?:tea|table)?spoon(?:ful)?s?|tsps?|tbsps?|cups?")
_HEAPED = re.compile(r"\b(?:heaped|heaping|rounded)\s+")
_LEVEL = re.compile(r"\blevel\s+")
_WORD_NUMBERS = {
    **{"half a": "1/2", "half": "1/2", "a quarter": "1/4", "quarter": "1/4", "a": "1", "an": "1"},
    **{"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6"},
    **{"three quarters of a": "3/4", "three quarters": "3/4", "one and a half": "1 1/2"},
}
_WORD_NUMBER = re.compile(
    rf"^({'|'.join(sorted(_WORD_NUMBERS, key=len, reverse=True))})\s+(?=[a-z])"
)
_PER = re.compile(
    r"\s*(?:/|\bper\b|\ba(?=\s+bottle)|\bin each\b|\bto each\b|\bin every\b)\s*"
    r"(bottle|litre|liter|l|us gal|gal|gallon)\b|\s*\beach(?:\s+bottle)?\s*$"
)
_NONE = {"none", "no", "no sugar", "nothing", "0", "forgot", "forgotten", "no priming sugar"}
_QUANTITY = re.compile(rf"(?P<number>{NUMBER})\s*(?P<rest>.*)")
_SIZE = re.compile(
    r"([0-9]+(?:[.,][0-9]+)?|[0-9]+/[0-9]+)\s*-?\s*"
    r"(fl\.? ?oz|oz|ounces?|ml|cl|l|litres?|liters?|(?:imperial )?pints?)\b"
)
_COUNT = re.compile(r"^([0-9]{1,5})\s*(?:x\s+)?(?=[a-z(]|[0-9])")


def parse_amount(value: object) -> Amount:
    """Return an amount that stands alone. Raises UnreadableQuantity."""
    amount, words = split_amount(value)
    if amount is None or (words and not _PIECE.search(words)):
        raise UnreadableQuantity(f"{shown(value)} is not an amount.", AMOUNT_MEND)
    return amount


def parse_sugar(value: object) -> Sugar | None:
    """Return the sugar in "5 oz corn sugar"; None for "none". Raises UnreadableQuantity."""
    if isinstance(value, str) and tidy(value) in _NONE:
        return None
    amount, words = split_amount(value)
    if amount is None and re.search("[0-9]", words):
        raise UnreadableQuantity(f"{shown(value)}: the amount cannot be read.", SUGAR_MEND)
    return Sugar(kind=words or None, amount=amount)


def split_amount(value: object) -> tuple[Amount | None, str]:
    """Split "5 oz of corn sugar" into its amount (None without a number) and "corn sugar".

    Raises: UnreadableQuantity: neither a text nor a number, or an amount that cannot be.
    """
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise UnreadableQuantity(f"{shown(value)} is not an amount.", AMOUNT_MEND)
    if not isinstance(value, str):
        _refuse_bare(value, value)
    text = tidy(value)
    if len(text) > 200:
        raise UnreadableQuantity(f"{shown(value)} is too long for an amount.", AMOUNT_MEND)
    text = re.sub(r"^(?:about|around|approx\.?|approximately|roughly|ca\.?|~)\s*", "", text)
    text, per, scale = _split_per(text)
    heaped = True if _HEAPED.search(text) else False if _LEVEL.search(text) else None
    text = _LEVEL.sub("", _HEAPED.sub("", text))
    match = _WORD_NUMBER.match(text)
    if match:
        text = f"{_WORD_NUMBERS[match[1]]} {text[match.end() :]}"
    found = _leading(text, value) or _trailing(text, value)
    if found is None:
        return None, text
    amount, words = found
    words = re.sub(r"^of\s+", "", words.strip(" ,;:")).strip()
    factor = 1 / scale
    return (
        replace(
            amount,
            mass_g=None if amount.mass_g is None else amount.mass_g * factor,
            volume_ml=None if amount.volume_ml is None else amount.volume_ml * factor,
            heaped=heaped,
            per=per,
        ),
        words,
    )


def _split_per(text: str) -> tuple[str, Literal["batch", "bottle", "litre"], float]:
    match = _PER.search(text)
    if match is None:
        return text, "batch", 1.0
    rest = f"{text[: match.start()]} {text[match.end() :]}".strip()
    unit = match[1]
    if unit is None or unit == "bottle":
        return rest, "bottle", 1.0
    return rest, "litre", LITRES_PER_US_GALLON if "gal" in unit else 1.0


def _refuse_bare(value: object, number: object) -> NoReturn:
    raise UnreadableQuantity(
        f"{shown(value)} has a number without a unit.",
        f'Write "{number} g", "{number} oz" or the spoon it was measured with.',
    )


def _leading(text: str, value: object) -> tuple[Amount, str] | None:
    """Read a number and its unit at the start; further parts ("1 lb 4 oz") are added."""
    match = _QUANTITY.fullmatch(text)
    if match is None:
        return None
    words = match["rest"].split()
    count = 2 if " ".join(words[:2]).replace(".", "") in UNITS["volume"] else 1
    unit = " ".join(words[:count])
    rest = words[count:]
    if unit.rstrip(".") in ("lb", "lbs", "pound", "pounds", "kg"):
        more = re.match(rf"({NUMBER})\s*(oz|ounces?|g|grams?)\b", " ".join(rest))
        if more:
            mass = parse_quantity(f"{match['number']} {unit} {more[1]} {more[2]}", "mass")
            return Amount(mass_g=mass), " ".join(rest)[more.end() :]
    return _one(match["number"], unit, rest, value)


def _one(number: str, unit: str, rest: list[str], value: object) -> tuple[Amount, str]:
    name = (
        unit.rstrip(".").replace("tablespoonful", "tablespoon").replace("teaspoonful", "teaspoon")
    )
    written = f"{number} {name}"
    words = " ".join(rest)
    if name in UNITS["mass"]:
        return Amount(mass_g=parse_quantity(written, "mass")), words
    if name.replace(".", "") in UNITS["volume"]:
        volume = parse_quantity(written, "volume") * 1000
        measure = name.rstrip("s") if _SPOON.fullmatch(name) else ""
        return Amount(volume_ml=volume, measure=measure), words
    for place, word in enumerate((unit, *rest[:2])):
        piece = _PIECE.fullmatch(word)
        if piece:
            kind = " ".join((unit, *rest)) if place or rest else word
            return Amount(pieces=_count(number, value), measure=word.rstrip("s")), kind
    if not unit:
        _refuse_bare(value, number)
    raise UnreadableQuantity(
        f"{shown(value)}: {shown(unit)} after {number} is not a unit of mass, spoon or piece.",
        AMOUNT_MEND,
    )


def _count(number: str, value: object) -> float:
    try:
        count = plain_number(number)
    except ValueError:
        count = -1.0
    if not 0 <= count <= 10_000:
        raise UnreadableQuantity(f"{shown(value)} is not a count.", AMOUNT_MEND)
    return count


def _trailing(text: str, value: object) -> tuple[Amount, str] | None:
    """Read "corn sugar 5 oz" and "corn sugar, 120 g"."""
    match = re.search(rf"[\s,:(]+({NUMBER})\s*([a-z. ]+)\)?$", text)
    if match is None:
        return None
    unit = match[2].strip()
    if unit.rstrip(".") not in UNITS["mass"] and unit.replace(".", "") not in UNITS["volume"]:
        return None
    amount, _ = _one(match[1], unit, [], value)
    return amount, text[: match.start()]


def parse_bottles(value: object) -> Bottles:
    """Return the bottles of "48 reused brown glass 12 oz": size, count and reuse as far as said.

    Raises: UnreadableQuantity: no text, or a size or count that cannot be.
    """
    if isinstance(value, int) and not isinstance(value, bool):
        return Bottles(count=_bottle_count(value, value))
    if not isinstance(value, str) or len(value) > 200:
        raise UnreadableQuantity(
            f"{shown(value)} does not describe bottles.",
            'Write it like "reused brown glass 12 oz".',
        )
    text = tidy(value)
    size = _SIZE.search(text)
    rest = text if size is None else f"{text[: size.start()]} {text[size.end() :]}".strip()
    count = _COUNT.match(text if size is None or size.start() > 0 else rest)
    size_ml = None
    if size is not None:
        size_ml = parse_quantity(f"{size[1]} {size[2]}", "volume") * 1000
        if not 30 <= size_ml <= 20_000:
            raise UnreadableQuantity(
                f"{shown(value)}: a bottle of {size[0].strip()} is not likely.",
                "Write the size with its unit, such as 330 ml or 12 oz.",
            )
    return Bottles(
        kind=" ".join(value.split()),
        size_ml=size_ml,
        count=None if count is None else _bottle_count(int(count[1]), value),
        reused=_reused(text),
    )


def _bottle_count(count: int, value: object) -> int:
    if not 0 <= count <= 5000:
        raise UnreadableQuantity(
            f"{shown(value)} is not a likely number of bottles.", "Write a number up to 5000."
        )
    return count


def _reused(text: str) -> bool | None:
    if re.search(r"\b(?:reused|re-used|used|washed|second-hand|recycled|old)\b", text):
        return True
    return False if re.search(r"\b(?:new|unused)\b", text) else None
