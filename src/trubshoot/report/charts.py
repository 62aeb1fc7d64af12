"""Charts of plain characters: one line for each batch, legible without colour, numbers beside."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Mark:
    """A character at a value on the scale; later marks stand on top of earlier ones."""

    value: float
    sign: str


@dataclass(frozen=True)
class Scale:
    """Where values stand on a line of characters."""

    low: float
    high: float
    width: int

    def place(self, value: float) -> int:
        """Return the column of a value; what lies outside stands at the edge."""
        share = (value - self.low) / (self.high - self.low)
        return round(min(max(share, 0.0), 1.0) * (self.width - 1))

    def line(self, marks: Sequence[Mark]) -> str:
        """Return one line of the chart, blanks at its end left out."""
        cells = [" "] * self.width
        for mark in marks:
            cells[self.place(mark.value)] = mark.sign
        return "".join(cells).rstrip()

    def ruler(self, step: float) -> str:
        """Return the numbers of the scale, each beginning a tick at its value."""
        cells = [" "] * (self.width + 8)
        first = math.ceil(self.low / step)
        free = 0
        for number in range(first, math.floor(self.high / step) + 1):
            text = f"{number * step:g}"
            start = max(self.place(number * step) - len(text) + 1, 0)
            if start >= free:
                cells[start : start + len(text)] = text
                free = start + len(text) + 1
        return "".join(cells).rstrip()


def fitting(values: Iterable[float], width: int, step: float) -> Scale:
    """Return a scale that holds all values, from one whole step to another."""
    everything = list(values)
    low = math.floor(min(everything) / step) * step
    high = math.ceil(max(everything) / step) * step
    return Scale(low, high if high > low else low + step, width)


def bar(share: float, width: int) -> str:
    """Return a bar of a length between 0 and `width`."""
    return "#" * round(min(max(share, 0.0), 1.0) * width)


def shortened(text: str, width: int) -> str:
    """Return a text cut to a width, with dots in its middle: names differ most at their end."""
    if len(text) <= width:
        return text
    front = (width - 2) // 3
    return f"{text[:front]}..{text[len(text) - (width - 2 - front) :]}"
