"""The look of every page: one palette in two themes, and the base stylesheet that uses it.

The report and the local web pages share both. Colours stand here and nowhere else; page.css names
them as variables. `PAIRS` says which colour is read on which, with the contrast it must have
(WCAG 2.2, success criteria 1.4.3 and 1.4.11, from memory); a test works the ratios out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources

TEXT, SHAPE = 4.5, 3.0  # least contrast of text, and of a line or mark that carries meaning


@dataclass(frozen=True)
class Colour:
    """One colour of the palette in both themes, as #rrggbb."""

    light: str
    dark: str


PALETTE: Mapping[str, Colour] = {
    "paper": Colour("#f6f8f7", "#10161b"),  # the page
    "sheet": Colour("#ffffff", "#18212a"),  # what lies on it: figures, tables, fields
    "ink": Colour("#1a2530", "#e7ecef"),
    "soft": Colour("#4b5966", "#b0bcc6"),  # second voice: captions, units, small print
    "rule": Colour("#c9d3da", "#364550"),  # ornament: grid and hairlines, carries no meaning
    "edge": Colour("#647480", "#8494a1"),  # outlines of fields and axes
    "blue": Colour("#1b578f", "#93c4f0"),  # links, the fitted curve, the first action
    "on_blue": Colour("#ffffff", "#0d1720"),
    "band": Colour("#cfe0ef", "#26435c"),  # 90 % band
    "green": Colour("#256a4c", "#86d0ab"),  # speaks for; within the yeast's window
    "window": Colour("#dcebe2", "#1d3a2d"),
    "plum": Colour("#85306b", "#e6a0d0"),  # speaks against; the upper bound
    "red": Colour("#a1122c", "#ff9ba8"),  # danger limit, hazard outlines
    "danger": Colour("#a1122c", "#bf2140"),  # behind the four signal words
    "on_danger": Colour("#ffffff", "#ffffff"),
    "warning": Colour("#f08c3a", "#f08c3a"),
    "on_warning": Colour("#14191e", "#14191e"),
    "caution": Colour("#f1d343", "#f1d343"),
    "on_caution": Colour("#14191e", "#14191e"),
    "notice": Colour("#1b578f", "#2a6cab"),
    "on_notice": Colour("#ffffff", "#ffffff"),
}

# (what is read, what it is read on, least contrast)
PAIRS: tuple[tuple[str, str, float], ...] = (
    *(
        (front, back, TEXT)
        for front in ("ink", "soft", "blue", "green", "plum", "red")
        for back in ("paper", "sheet")
    ),
    *((front, back, TEXT) for front in ("ink", "soft") for back in ("band", "window")),
    *((front, back, SHAPE) for front in ("blue", "plum", "ink") for back in ("band", "window")),
    *(("edge", back, SHAPE) for back in ("paper", "sheet")),
    ("on_blue", "blue", TEXT),
    *((f"on_{word}", word, TEXT) for word in ("danger", "warning", "caution", "notice")),
)


def channel(value: int) -> float:
    """Return the linear part of one colour channel, 0 to 255 (WCAG 2.2, relative luminance)."""
    share = value / 255
    return share / 12.92 if share <= 0.04045 else float(((share + 0.055) / 1.055) ** 2.4)


def luminance(colour: str) -> float:
    """Return the relative luminance of a colour #rrggbb, 0 to 1."""
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return 0.2126 * channel(red) + 0.7152 * channel(green) + 0.0722 * channel(blue)


def contrast(front: str, back: str) -> float:
    """Return the contrast ratio of two colours #rrggbb, 1 to 21."""
    high, low = sorted((luminance(front), luminance(back)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def _variables(theme: str) -> str:
    return "".join(
        f"--{name.replace('_', '-')}:{getattr(colour, theme)};" for name, colour in PALETTE.items()
    )


@cache
def stylesheet() -> str:
    """Return the whole stylesheet: the palette as variables for light, dark and print, then rules.

    It holds no address and needs no font from elsewhere.
    """
    rules = resources.files(__package__).joinpath("page.css").read_text("utf-8")
    return (
        f":root{{color-scheme:light dark;{_variables('light')}}}\n"
        f"@media screen and (prefers-color-scheme:dark){{:root{{{_variables('dark')}}}}}\n"
        f"{_tightened(rules)}"
    )


def _tightened(css: str) -> str:
    """Return rules without remarks and indents: a report is kept and sent, so it is kept small."""
    lines = []
    inside = False
    for line in css.splitlines():
        text = line.strip()
        inside = inside or text.startswith("/*")
        if text and not inside:
            lines.append(text)
        if text.endswith("*/"):
            inside = False
    return "\n".join(lines) + "\n"
