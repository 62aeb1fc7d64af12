"""Temperatures and pressures in sentences, for readers who think in US units.

What is known is written in degrees Celsius and bar. For a page in US units the same value is put
behind it, "20 C (68 F)", and the sentence stays as it was written. A difference of temperatures
is not a temperature: "fell by 4 C" is 7 F.
"""

from __future__ import annotations

import re

from trubshoot.units import BAR_PER_PSI, UnitSystem, c_to_f

_NUMBER = r"-?\d+(?:\.\d+)?"
_VALUE = re.compile(
    rf"(?<![\w.])(?P<low>{_NUMBER})(?:(?P<link>-| to | and | or )(?P<high>{_NUMBER}))?"
    r" ?(?P<unit>°C|C|bar)\b(?! ?\()"
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


def with_us_units(text: str, units: UnitSystem) -> str:
    """Return a sentence with the US value behind each metric one; metric pages keep it as it is."""
    if units == "metric" or not any(sign in text for sign in ("C", "bar")):
        return text
    return _VALUE.sub(_with_value, text)


def is_difference(text: str, start: int, end: int) -> bool:
    """Tell whether the temperature at a place of a text is a difference of temperatures."""
    before, behind = text[:start].rstrip(), text[end:]
    return bool(_DIFFERS_BEFORE.search(before) or _DIFFERS_BEHIND.match(behind))


def _with_value(found: re.Match[str]) -> str:
    words = [word for word in (found["low"], found["high"]) if word]
    numbers = [float(word) for word in words]
    if found["unit"] == "bar":
        shown, unit = [f"{number / BAR_PER_PSI:.0f}" for number in numbers], "psi"
    elif is_difference(found.string, found.start(), found.end()):
        shown, unit = [_rounded(1.8 * number) for number in numbers], "F"
    else:
        shown, unit = [f"{c_to_f(number):.0f}" for number in numbers], "F"
    link = (found["link"] or "").join(shown)
    return f"{found[0]} ({link} {unit})"


def _rounded(kelvin: float) -> str:
    """Return a difference in Fahrenheit; a small one keeps a decimal, so as not to become none."""
    return f"{kelvin:.0f}" if kelvin >= 2 else f"{kelvin:.1f}"
