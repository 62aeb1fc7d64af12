"""Units: exact conversions, quantities as people write them, and numbers as people read them.

Inside, trubshoot works in deg C, litres, grams, bar (gauge unless said), days, and specific
gravity 20/20 C. Everything else exists only at the edges and is handled here.

Factors are exact by definition (international yard and pound, US gallon of 231 cubic inches,
imperial gallon of 4.54609 L, standard atmosphere) save month and year (365.25 days a year), and
the spoons and the cup, which are the customary US ones. Source: from memory; checked against the
`pint` library in the tests.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Literal, NoReturn

from trubshoot.errors import UnitError

UnitSystem = Literal["us", "metric"]
Dimension = Literal["temperature", "volume", "mass", "duration", "pressure", "length", "percent"]

# exact by definition
LITRES_PER_US_GALLON = 3.785411784
LITRES_PER_IMPERIAL_GALLON = 4.54609
ML_PER_US_FLUID_OUNCE = LITRES_PER_US_GALLON * 1000 / 128
ML_PER_IMPERIAL_FLUID_OUNCE = LITRES_PER_IMPERIAL_GALLON * 1000 / 160
GRAMS_PER_POUND = 453.59237
GRAMS_PER_OUNCE = GRAMS_PER_POUND / 16
BAR_PER_ATMOSPHERE = 1.01325
BAR_PER_PSI = 44.482216152605 / 645.16  # one pound-force [10 N] on one square inch [mm2]
CM_PER_INCH = 2.54
# by convention
DAYS_PER_YEAR = 365.25
DAYS_PER_MONTH = DAYS_PER_YEAR / 12
MINUTES_PER_DAY = 1440.0
ML_PER_TEASPOON = ML_PER_US_FLUID_OUNCE / 6
ML_PER_TABLESPOON = ML_PER_US_FLUID_OUNCE / 2
ML_PER_CUP = ML_PER_US_FLUID_OUNCE * 8

LONGEST_TEXT = 200


class UnreadableQuantity(UnitError):
    """A quantity that cannot be read: `message` says what was written, `mend` what to write."""

    def __init__(self, message: str, mend: str) -> None:
        self.message, self.mend = message, mend
        super().__init__(f"{message} {mend}")


@dataclass(frozen=True)
class Amount:
    """How much of something, in the one measure it was written in; the others are None.

    mass_g: mass [g]. volume_ml: level volume [ml] of a spoon, cup or jug (its mass needs a
    density, which the knowledge holds). pieces: number of drops, cubes, tablets or packs.
    measure: the word for the spoon, cup or piece. heaped: as said. per: what it is given for.
    """

    mass_g: float | None = None
    volume_ml: float | None = None
    pieces: float | None = None
    measure: str = ""
    heaped: bool | None = None
    per: Literal["batch", "bottle", "litre"] = "batch"


def f_to_c(temp_f: float) -> float:
    """Return deg F as deg C."""
    return (temp_f - 32.0) / 1.8


def c_to_f(temp_c: float) -> float:
    """Return deg C as deg F."""
    return temp_c * 1.8 + 32.0


def _names(factor: float, *names: str) -> dict[str, float]:
    return dict.fromkeys(names, factor)


_VOLUME = {  # litres
    **_names(1.0, "l", "litre", "litres", "liter", "liters", "ltr"),
    **_names(1e-3, "ml", "millilitre", "millilitres", "milliliter", "milliliters", "cc"),
    **_names(1e-2, "cl", "centilitre", "centilitres"),
    **_names(0.1, "dl"),
    **_names(LITRES_PER_US_GALLON, "gal", "gals", "gallon", "gallons", "us gal", "us gallons"),
    **_names(LITRES_PER_IMPERIAL_GALLON, "imp gal", "imperial gal", "uk gal"),
    **_names(LITRES_PER_IMPERIAL_GALLON, "imp gallons", "imperial gallons", "uk gallons"),
    **_names(LITRES_PER_US_GALLON / 4, "qt", "qts", "quart", "quarts", "us quart"),
    **_names(LITRES_PER_US_GALLON / 8, "pt", "pts", "pint", "pints", "us pint", "us pints"),
    **_names(LITRES_PER_IMPERIAL_GALLON / 8, "imp pint", "imp pints", "imperial pint", "uk pint"),
    **_names(LITRES_PER_IMPERIAL_GALLON / 8, "imperial pints", "uk pints"),
    **_names(ML_PER_US_FLUID_OUNCE / 1e3, "fl oz", "floz", "oz", "fluid ounce", "fluid ounces"),
    **_names(ML_PER_US_FLUID_OUNCE / 1e3, "ounce", "ounces", "us fl oz"),
    **_names(ML_PER_IMPERIAL_FLUID_OUNCE / 1e3, "imp fl oz", "uk fl oz", "imperial fl oz"),
    **_names(ML_PER_TEASPOON / 1e3, "tsp", "tsps", "teaspoon", "teaspoons"),
    **_names(ML_PER_TABLESPOON / 1e3, "tbsp", "tbsps", "tablespoon", "tablespoons"),
    **_names(ML_PER_CUP / 1e3, "cup", "cups"),
}
_MASS = {  # grams
    **_names(1.0, "g", "gram", "grams", "gramme", "grammes", "gm", "gms"),
    **_names(1e-3, "mg", "milligram", "milligrams"),
    **_names(1e3, "kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"),
    **_names(GRAMS_PER_OUNCE, "oz", "ozs", "ounce", "ounces"),
    **_names(GRAMS_PER_POUND, "lb", "lbs", "pound", "pounds"),
}
_DURATION = {  # days
    **_names(1 / 86400, "s", "sec", "secs", "second", "seconds"),
    **_names(1 / 1440, "min", "mins", "minute", "minutes"),
    **_names(1 / 24, "h", "hr", "hrs", "hour", "hours"),
    **_names(1.0, "d", "day", "days"),
    **_names(7.0, "w", "wk", "wks", "week", "weeks"),
    **_names(DAYS_PER_MONTH, "mo", "mos", "month", "months"),
    **_names(DAYS_PER_YEAR, "y", "yr", "yrs", "year", "years"),
}
_PRESSURE = {  # bar
    **_names(1.0, "bar", "bars"),
    **_names(1e-3, "mbar", "millibar"),
    **_names(1e-2, "kpa", "kilopascal"),
    **_names(BAR_PER_PSI, "psi", "psig", "lb/in2"),
    **_names(BAR_PER_ATMOSPHERE, "atm", "atmosphere", "atmospheres"),
}
_LENGTH = {  # centimetres
    **_names(1.0, "cm", "centimetre", "centimetres", "centimeter", "centimeters"),
    **_names(0.1, "mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    **_names(CM_PER_INCH, "in", "inch", "inches", '"'),
}
_CELSIUS = ("c", "°c", "º c", "ºc", "deg c", "degc", "degree c", "degrees c", "° c")
_FAHRENHEIT = ("f", "°f", "º f", "ºf", "deg f", "degf", "degree f", "degrees f", "° f")
_TEMPERATURE = {
    **_names(1.0, *_CELSIUS, "celsius", "centigrade", "degrees celsius"),
    **_names(0.0, *_FAHRENHEIT, "fahrenheit", "degrees fahrenheit"),
}
UNITS: dict[Dimension, dict[str, float]] = {
    "temperature": _TEMPERATURE,
    "volume": _VOLUME,
    "mass": _MASS,
    "duration": _DURATION,
    "pressure": _PRESSURE,
    "length": _LENGTH,
    "percent": _names(1.0, "%", "percent", "per cent", "pct"),
}
_MENDS: dict[Dimension, str] = {
    "temperature": "Write it like 20 C or 68 F.",
    "volume": "Write it like 19 l, 330 ml, 5 gal or 12 fl oz.",
    "mass": "Write it like 120 g, 1.5 kg, 5 oz or 1 lb 4 oz.",
    "duration": "Write it like 35 min, 12 hours, 3 weeks or 8 months.",
    "pressure": "Write it like 2 bar, 29 psi or 200 kPa.",
    "length": "Write it like 3 cm or 1 in.",
    "percent": "Write it like 10 %.",
}
_GRAVITY_MEND = 'Write it like 1.012, 1012 or "12 P".'

_VULGAR = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅓": "1/3", "⅔": "2/3", "⅛": "1/8"}
NUMBER = r"[-+]?(?:[0-9]+\s+[0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)"
_PART = re.compile(rf"({NUMBER})\s*([^0-9+\-.,/\s][^0-9+\-,]*)?\s*")
_ABOUT = re.compile(r"^\s*(?:about|around|approx\.?|approximately|roughly|circa|ca\.?|~|≈)\s*")
_RANGE = re.compile(r"[0-9][^0-9]*(?:[-\u2013]|\bto\b|\.\.)\s*[0-9]")
_DEGREES = r"(?:°|º|deg(?:rees)?)?\s*(?:p|plato|bx|brix)"
_GRAVITY = re.compile(rf"(?:sg|og|fg)?\s*({NUMBER})\s*(?:sg|({_DEGREES}))?\.?")


def shown(value: object) -> str:
    """Return what was written, in quotes and not longer than a line, for a message."""
    if isinstance(value, int) and abs(value) >= 10**60:
        return "a very long number"
    text = value if isinstance(value, str) else f"{value}"
    text = "".join(c if c.isprintable() else "?" for c in text[:LONGEST_TEXT])
    return f'"{text[:57]}..."' if len(text) > 60 else f'"{text}"'


def is_about(value: object) -> bool:
    """Return whether a quantity is written as an estimate: "about 5 gal", "~20 C"."""
    return isinstance(value, str) and _ABOUT.match(value.lower()) is not None


def plain_number(text: str) -> float:
    """Return 1.5 [-] for "1.5", "1,5", "3/2" or "1 1/2". Raises ValueError for anything else."""
    if "/" in text:
        *whole, fraction = text.split()
        above, below = fraction.split("/")
        sign = -1.0 if text.startswith("-") else 1.0
        if int(below) == 0:
            raise ValueError(text)
        return float(whole[0] if whole else 0) + sign * abs(int(above)) / int(below)
    return float(text.replace(",", "."))


def tidy(text: str) -> str:
    """Return text in lower case with one kind of minus, fraction and space."""
    for sign, fraction in _VULGAR.items():
        if sign in text:
            text = re.sub(rf"(?<=[0-9]){sign}", f" {fraction}", text).replace(sign, fraction)
    return " ".join(text.replace("\u2212", "-").lower().split())


def parse_quantity(value: object, dimension: Dimension, default_unit: str | None = None) -> float:
    """Return a quantity in the unit used inside: deg C, l, g, days, bar, cm or %.

    Args:
        value: a number, or text such as "68 F", "1 lb 4 oz", "1,5 kg", "about 5 gal".
        dimension: what kind of quantity it must be.
        default_unit: unit of a number written alone; None refuses a number alone.

    Raises: UnreadableQuantity: says what was written and what to write.
    """
    if dimension == "percent":
        default_unit = default_unit or "%"
    parts = _parts(value, dimension)
    total, factor_before = 0.0, math.inf
    for number, unit in parts:
        name = unit or default_unit
        if name is None:
            _refuse(f"{shown(value)} has no unit.", _MENDS[dimension])
        factor = UNITS[dimension].get(name)
        if factor is None:
            _refuse_unit(value, name, dimension)
        if dimension == "temperature":
            total = number if factor else f_to_c(number)
        else:
            total += number * factor
        if len(parts) > 1 and (not unit or number < 0 or factor >= factor_before):
            _refuse(f"{shown(value)} cannot be read as one quantity.", _MENDS[dimension])
        factor_before = factor
    if len(parts) > 1 and dimension not in ("mass", "volume", "duration", "length"):
        _refuse(f"{shown(value)} holds more than one number.", _MENDS[dimension])
    if dimension != "temperature" and total < 0:
        _refuse(f"{shown(value)} is below zero.", _MENDS[dimension])
    if not math.isfinite(total):
        _refuse(f"{shown(value)} is too large to be read.", _MENDS[dimension])
    return total


def _refuse(message: str, mend: str) -> NoReturn:
    raise UnreadableQuantity(message, mend)


def _number_or_text(value: object, mend: str) -> float | str:
    """Return a usable number, or tidy text of a bearable length."""
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        _refuse(f"{shown(value)} is not a quantity.", mend)
    if isinstance(value, str):
        if len(value) > LONGEST_TEXT:
            _refuse(f"{shown(value)} is too long for a quantity.", mend)
        return _ABOUT.sub("", tidy(value))
    if not -1e15 < value < 1e15:
        _refuse(f"{shown(value)} is not a number that can be used.", mend)
    return float(value)


def _parts(value: object, dimension: Dimension) -> list[tuple[float, str]]:
    mend = _MENDS[dimension]
    text = _number_or_text(value, mend)
    if isinstance(text, float):
        return [(text, "")]
    if _RANGE.search(text):
        _refuse(f"{shown(value)} is a range; one number is needed.", mend)
    parts: list[tuple[float, str]] = []
    position = 0
    while position < len(text):
        match = _PART.match(text, position)
        if match is None:
            _refuse(f"{shown(value)} is not a {dimension}.", mend)
        if re.fullmatch(r"[0-9]{1,3},[0-9]{3}", match[1]):
            _refuse(
                f"{shown(value)} can be read in two ways because of its comma.",
                f"Write {match[1].replace(',', '')} or {match[1].replace(',', '.')} with its unit.",
            )
        try:
            number = plain_number(match[1])
        except ValueError:
            _refuse(f"{shown(value)} is not a {dimension}.", mend)
        unit = (match[2] or "").strip().rstrip(".")
        parts.append((number, " ".join(unit.replace(".", " ").split())))
        position = match.end()
    if not parts:
        _refuse("nothing is written here.", mend)
    return parts


def _refuse_unit(value: object, unit: str, wanted: Dimension) -> NoReturn:
    for other, names in UNITS.items():
        if unit in names:
            _refuse(f"{shown(value)} is a {other}; a {wanted} is needed.", _MENDS[wanted])
    _refuse(f"{shown(value)} has the unit {shown(unit)}, which is not known.", _MENDS[wanted])


# --- gravity

LOWEST_SG, HIGHEST_SG = 0.980, 1.200  # beyond these a reading is a slip of the pen (judgement)
LOWEST_PLATO, HIGHEST_PLATO = -5.0, 42.0


def plato_to_sg(plato: float) -> float:
    """Return the specific gravity 20/20 C of degrees Plato.

    SG = 1 + P / (258.6 - 227.1 P / 258.2); within 0.0001 of sugar tables from 0 to 20 P, and
    used here from -5 to 42 P only to read what is written. Source: from memory of the customary
    brewing inverse; checked in the tests against the pairs of USDA sucrose tables.
    """
    return 1.0 + plato / (258.6 - 227.1 * plato / 258.2)


def parse_gravity(value: object) -> float:
    """Return a specific gravity from 1.012, 1012, "1,012", "12 P" or "12 plato".

    Brix is read as Plato: both are percent of sugar, and agree within 0.1 in wort.

    Raises: UnreadableQuantity: not a gravity, no beer's gravity, or a bare 12 (degrees or points?).
    """
    text = _number_or_text(value, _GRAVITY_MEND)
    if isinstance(text, float):
        number, unit = text, ""
    else:
        match = _GRAVITY.fullmatch(text)
        if match is None or "/" in match[1]:
            _refuse(f"{shown(value)} is not a gravity.", _GRAVITY_MEND)
        number, unit = plain_number(match[1]), match[2] or ""
    if unit:
        if not LOWEST_PLATO <= number <= HIGHEST_PLATO:
            _refuse(f"{shown(value)} is outside 0 to 40 degrees Plato.", _GRAVITY_MEND)
        return plato_to_sg(number)
    sg = number / 1000 if 1000 * LOWEST_SG <= number <= 1000 * HIGHEST_SG else number
    if LOWEST_SG <= sg <= HIGHEST_SG:
        return sg
    if 2 < abs(number) < 1000 * LOWEST_SG:
        _refuse(f"{shown(value)} may be degrees Plato or gravity points.", _bare_mend(number))
    _refuse(
        f"{shown(value)} is no gravity of wort or beer; those lie between 0.980 and 1.200.",
        _GRAVITY_MEND,
    )


def _bare_mend(number: float) -> str:
    if not 0 < number <= 200:
        return _GRAVITY_MEND
    plato = f'"{number:g} P" for Plato, ' if number <= HIGHEST_PLATO else ""
    return f"Write {plato}{1 + number / 1000:.3f} or {1000 + number:.0f} for points."


# --- numbers for people


def format_temp(temp_c: float, system: UnitSystem) -> str:
    """Return "20 °C" or "68 °F", to whole degrees."""
    return f"{c_to_f(temp_c):.0f} °F" if system == "us" else f"{temp_c:.0f} °C"


def format_temp_difference(kelvin: float, system: UnitSystem) -> str:
    """Return a difference of temperature [K]: "5 °C" or "9 °F"."""
    return f"{kelvin * 1.8:.0f} °F" if system == "us" else f"{kelvin:.0f} °C"


def format_volume(volume_l: float, system: UnitSystem) -> str:
    """Return "19.0 L" or "5.0 gal"; below one litre or quart "330 ml" or "11.2 fl oz"."""
    if system == "us":
        if volume_l < LITRES_PER_US_GALLON / 4:
            return f"{volume_l * 1000 / ML_PER_US_FLUID_OUNCE:.1f} fl oz"
        return f"{volume_l / LITRES_PER_US_GALLON:.1f} gal"
    return f"{volume_l * 1000:.0f} ml" if volume_l < 1 else f"{volume_l:.1f} L"


def format_mass(mass_g: float, system: UnitSystem) -> str:
    """Return "120 g", "1.50 kg", "4.2 oz" or "3 lb 5.0 oz"."""
    if system == "us":
        ounces = round(mass_g / GRAMS_PER_OUNCE, 1)
        pounds = int(ounces // 16)
        return f"{pounds} lb {ounces - 16 * pounds:.1f} oz" if pounds else f"{ounces:.1f} oz"
    return f"{mass_g / 1000:.2f} kg" if mass_g >= 1000 else f"{mass_g:.0f} g"


def format_pressure(pressure_bar: float, system: UnitSystem) -> str:
    """Return "2.0 bar" or "29 psi"."""
    return f"{pressure_bar / BAR_PER_PSI:.0f} psi" if system == "us" else f"{pressure_bar:.1f} bar"


def format_gravity(gravity_sg: float) -> str:
    """Return "1.012"."""
    return f"{gravity_sg:.3f}"


def format_duration(days: float) -> str:
    """Return "35 min", "12 hours", "9 days", "5 weeks" or "8 months": the unit people would use."""
    for limit, divisor, unit in (
        (1 / 12, 1 / 1440, "min"),
        (2.0, 1 / 24, "hours"),
        (21.0, 1.0, "days"),
        (90.0, 7.0, "weeks"),
    ):
        if abs(days) < limit:
            return f"{days / divisor:.0f} {unit}"
    return f"{days / DAYS_PER_MONTH:.0f} months"
