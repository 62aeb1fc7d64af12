"""Pieces of inline SVG: elements with escaped text, scales, ticks. No styles, no scripts.

What a mark means is said by its class; the stylesheet gives the class its colour, dash and width,
so that one drawing serves light, dark and print.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from markupsafe import Markup, escape

WIDTH = 380.0  # of every figure, in its own units: about the pixels of a phone
LEFT, RIGHT, TOP, BOTTOM = 58.0, 14.0, 12.0, 36.0
_LETTER = 6.8  # mean width of a letter at the size a phone shows


def number(value: float) -> str:
    """Return a coordinate with one decimal at most."""
    text = f"{value:.1f}"
    return text.removesuffix(".0") if text != "-0.0" else "0"


def element(name: str, *children: str | Markup, **attributes: str | float) -> Markup:
    """Return one element; `class_` becomes class, underlines become hyphens, text is escaped."""
    parts = [name]
    for key, value in attributes.items():
        shown = value if isinstance(value, str) else number(value)
        parts.append(f'{key.rstrip("_").replace("_", "-")}="{escape(shown)}"')
    inner = "".join(escape(child) for child in children)
    head = " ".join(parts)
    return Markup(f"<{head}>{inner}</{name}>" if inner else f"<{head}/>")


def joined(pieces: Iterable[Markup]) -> Markup:
    """Return pieces one after the other."""
    return Markup("").join(pieces)


@dataclass(frozen=True)
class Scale:
    """A straight scale from values to coordinates."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Return the coordinate of a value, held within the figure."""
        share = (value - self.low) / (self.high - self.low)
        return self.start + min(max(share, 0.0), 1.0) * (self.end - self.start)


def ticks(low: float, high: float, most: int) -> list[float]:
    """Return round values within a range, at most so many."""
    span = max(high - low, 1e-9)
    raw = span / most
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(power * factor for factor in (1, 2, 5, 10) if power * factor >= raw * (1 - 1e-9))
    first = math.ceil(low / step - 1e-9)
    return [
        index * step
        for index in range(first, first + most + 2)
        if index * step <= high + 1e-9 * step
    ]


@dataclass(frozen=True)
class Plot:
    """A plot with two scales; draws its own grid, axes and their words."""

    height: float
    x: Scale
    y: Scale

    @classmethod
    def of(cls, height: float, across: tuple[float, float], up: tuple[float, float]) -> Plot:
        """Return a plot of a height for a range of values across and one upwards."""
        return cls(
            height,
            Scale(*across, LEFT, WIDTH - RIGHT),
            Scale(*up, height - BOTTOM, TOP),
        )

    def frame(
        self,
        x_ticks: Sequence[tuple[float, str]],
        y_ticks: Sequence[tuple[float, str]],
        x_title: str,
    ) -> Markup:
        """Return grid, axes and ticks, (value, words) each."""
        left, right = self.x.start, self.x.end
        bottom, top = self.y.start, self.y.end
        grid = "".join(
            [
                *(f"M{number(left)} {number(self.y.at(v))}H{number(right)}" for v, _ in y_ticks),
                *(f"M{number(self.x.at(v))} {number(top)}V{number(bottom)}" for v, _ in x_ticks),
            ]
        )
        marks = [element("path", class_="grid", d=grid)] if grid else []
        marks.append(
            element(
                "path",
                class_="axis",
                d=f"M{number(left)} {number(top)}V{number(bottom)}H{number(right)}",
            )
        )
        for value, words in y_ticks:
            marks.append(text(words, left - 5, self.y.at(value) + 4, "end", "soft"))
        for value, words in x_ticks:
            x = self.x.at(value)
            over = x + _LETTER * len(words) / 2 > WIDTH - 4  # the last words would be cut off
            place = (WIDTH - 2, "end") if over else (x, "middle")
            marks.append(text(words, place[0], bottom + 14, place[1], "soft"))
        marks.append(text(x_title, (left + right) / 2, self.height - 4, "middle", "soft"))
        return joined(marks)

    def path(self, points: Sequence[tuple[float, float]], *, close: bool = False) -> str:
        """Return the path through points given as values."""
        steps = [f"{number(self.x.at(x))} {number(self.y.at(y))}" for x, y in points]
        return "M" + "L".join(steps) + ("Z" if close else "")

    def line(self, points: Sequence[tuple[float, float]], kind: str) -> Markup:
        """Return a line of a class through points."""
        return element("path", class_=f"line {kind}", d=self.path(points))

    def box(self, across: tuple[float, float], up: tuple[float, float], kind: str) -> Markup:
        """Return a filled box between two values across and two upwards."""
        left, right = (self.x.at(value) for value in across)
        bottom, top = (self.y.at(value) for value in up)
        return element(
            "rect", class_=kind, x=left, y=top, width=right - left, height=max(bottom - top, 1.0)
        )

    def label(
        self, words: str, x: float, y: float, anchor: str = "start", lift: float = 0
    ) -> Markup:
        """Return words beside a point, over a halo so that lines do not cross them."""
        return text(words, self.x.at(x), self.y.at(y) - lift, anchor, "halo")


def free_place(
    words: str,
    places: Sequence[tuple[float, float, str]],
    taken: Sequence[tuple[float, float]],
    kind: str = "halo",
) -> Markup:
    """Return words at the first of some places where they cover the fewest marks.

    Args:
        words: what to write.
        places: (x, y, anchor) in the figure's own units, the best first.
        taken: where marks and lines are.
        kind: class of the words.
    """

    def covered(place: tuple[float, float, str]) -> int:
        x, y, anchor = place
        width = _LETTER * len(words)
        left = x - width if anchor == "end" else x
        return sum(left - 4 <= at <= left + width + 4 and y - 13 <= up <= y + 5 for at, up in taken)

    x, y, anchor = min(places, key=covered)
    return text(words, x, y, anchor, kind)


def cut_off(points: Sequence[tuple[float, float]], top: float) -> list[tuple[float, float]]:
    """Return a rising line of values up to where it leaves the figure."""
    kept: list[tuple[float, float]] = []
    for x, y in points:
        if y > top:
            if kept:
                before_x, before_y = kept[-1]
                share = (top - before_y) / (y - before_y)
                kept.append((before_x + share * (x - before_x), top))
            return kept
        kept.append((x, y))
    return kept


def text(words: str, x: float, y: float, anchor: str, kind: str) -> Markup:
    """Return words at a place."""
    return element("text", words, class_=kind, x=x, y=y, text_anchor=anchor)


def drawing(key: str, title: str, text_: str, height: float, content: Markup) -> Markup:
    """Return a whole svg with its title and description for readers who do not see it."""
    return element(
        "svg",
        element("title", title, id=f"{key}-title"),
        element("desc", text_, id=f"{key}-desc"),
        content,
        role="img",
        viewBox=f"0 0 {number(WIDTH)} {number(height)}",
        aria_labelledby=f"{key}-title {key}-desc",
    )


def bar(share: float, title: str) -> Markup:
    """Return a bar filled to a share, 0 to 1, for a cell of a table."""
    return element(
        "svg",
        element("title", title),
        element("rect", class_="track", width=100.0, height=10.0),
        element("rect", class_="fill", width=100.0 * min(max(share, 0.0), 1.0), height=10.0),
        class_="bar",
        role="img",
        viewBox="0 0 100 10",
        preserveAspectRatio="none",
    )


def weight_bar(decibans: float, most: float, title: str) -> Markup:
    """Return a bar from the middle: to the right, full, for; to the left, hollow, against."""
    length = 49.0 * min(abs(decibans) / most, 1.0)
    kind = "for" if decibans > 0 else "against"
    return element(
        "svg",
        element("title", title),
        element(
            "rect",
            class_=kind,
            x=50.0 if decibans > 0 else 50.0 - length,
            y=1.0,
            width=length,
            height=8.0,
            vector_effect="non-scaling-stroke",
        ),
        element("path", class_="middle", d="M50 0V10", vector_effect="non-scaling-stroke"),
        class_="bar",
        role="img",
        viewBox="0 0 100 10",
        preserveAspectRatio="none",
    )
