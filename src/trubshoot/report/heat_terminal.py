"""The map of steps and faults on a terminal: numbers first, colour only beside them."""

from __future__ import annotations

import textwrap

from rich.text import Text

from trubshoot.learning.heat import Heat
from trubshoot.report.learn_words import WHAT_COUNTS
from trubshoot.report.terminal import Page

_MARKS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_CELL = 3
_FEWEST = 16  # characters of a label, however many columns there are
# from which chance a cell is shaded how; the number in it says the same
_SHADES = (
    (0.20, "black on color(208)"),
    (0.10, "black on color(214)"),
    (0.05, "black on color(221)"),
    (0.02, "black on color(229)"),
)


def print_heat(page: Page, heat: Heat) -> None:
    """Write the map, its columns named by letters that a list below it explains."""
    page.line(Text("Which step makes which fault", style="bold"))
    page.line(
        "In how many of 100 batches the causes of a step (columns) make a fault (rows); a dot is"
        f" less than one. {WHAT_COUNTS}"
    )
    page.line()
    wide = max(page.console.width - _CELL * len(heat.steps) - 1, _FEWEST)
    wide = min(wide, max((len(row.fault.label) for row in heat.rows), default=_FEWEST))
    marks = _MARKS[: len(heat.steps)]
    head = Text(" " * wide + "".join(f"{mark:>{_CELL}}" for mark in marks), style="bold")
    page.console.print(head, soft_wrap=True)
    for row in heat.rows:
        lines = textwrap.wrap(row.fault.label, wide, subsequent_indent=" ")
        text = Text(f"{lines[0]:<{wide}}")
        for chance in row.by_step:
            shade = next((style for lowest, style in _SHADES if chance >= lowest), "")
            text.append(" ")
            text.append(f"{_cell(chance):>{_CELL - 1}}", style=shade)
        text.rstrip()
        page.console.print(text, soft_wrap=True)
        for more in lines[1:]:
            page.console.print(Text(more), soft_wrap=True)
    page.console.print(head, soft_wrap=True)
    page.line()
    _legend(page, heat)
    if heat.left_out:
        every = len(heat.rows) + heat.left_out
        page.line(
            f"{len(heat.rows)} of {every} faults, the commonest. All: trubshoot learn map"
            f" --top {every}. One step: --step timing. One fault: --fault butter."
        )


def _cell(chance: float) -> str:
    if chance <= 0:
        return ""
    number = round(100 * chance)
    return str(min(number, 99)) if number else "."


def _legend(page: Page, heat: Heat) -> None:
    names = [f"{mark} {step.label}" for mark, step in zip(_MARKS, heat.steps, strict=False)]
    each = max(len(name) for name in names) + 2
    across = max((page.console.width + 2) // each, 1)
    down = -(-len(names) // across)
    for row in range(down):
        page.line("".join(f"{name:<{each}}" for name in names[row::down]).rstrip())
