"""Numbers beside a word as people write them: 1 day, 0 days, and never a minus before a zero."""

from __future__ import annotations

import re

_ONE = re.compile(
    r"(?<![\w.,\u2212-])1(?:\.0+)? (day|hour|week|month|minute|point|bottle|reading)s\b"
)
_MINUS_ZERO = re.compile(r"(?<![\w.])[-\u2212](0(?:\.0+)?)(?![\w.]*[0-9])")


def whole(value: float) -> str:
    """Return a number without decimals; a little less than nothing is 0."""
    return f"{round(value)}"


def counted(value: float, unit: str) -> str:
    """Return how many of a unit: `counted(1.2, "day")` is "1 day"."""
    number = whole(value)
    return f"{number} {unit}" if number == "1" else f"{number} {unit}s"


def tidy(sentence: str) -> str:
    """Return a sentence filled in with numbers: "1.0 days" is "1 day", and "-0.0" is "0.0"."""
    if "1" in sentence:
        sentence = _ONE.sub(r"1 \1", sentence)
    if "-0" in sentence or "\u22120" in sentence:
        sentence = _MINUS_ZERO.sub(r"\1", sentence)
    return sentence
