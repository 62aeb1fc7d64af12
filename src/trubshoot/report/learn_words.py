"""Words for how often something happens, and the lines that explain the numbers of a page."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from trubshoot.safety import HazardBlock

# Frequencies in words; the number always stands beside them. The steps are judgement.
_OFTEN = (
    (0.30, "very often"),
    (0.10, "often"),
    (0.03, "now and then"),
    (0.01, "seldom"),
    (0.0, "rarely"),
)
WHAT_COUNTS = (
    "Counted are batches of beginners that made them ask for help. The numbers come from the model"
    " run forward; most of what they rest on is judgement, so compare them with each other."
)
KIND = {
    "fault": "something that goes wrong",
    "normal": "nothing wrong, though it may look so",
    "measurement": "a mistake of measuring, not of the beer",
}
STAGES = {
    "brewing": "On brew day",
    "fermenting": "While it ferments",
    "bottled": "In bottles",
    "serving": "When serving",
    "any": "At any time",
}
TELLS = {"practice": "what was done", "fault": "a fault of the beer", "sign": "a sign"}
IF_SO = "If a batch of yours has this:"
WHEN_SHOWN = "You asked about what comes with it. Here nothing is known of any batch of yours."


def often(chance: float) -> str:
    """Return a frequency in words, such as "now and then"."""
    return next(word for lowest, word in _OFTEN if chance >= lowest)


def of_batches(chance: float) -> str:
    """Return a frequency in numbers, such as "3 of 100"; rare things are counted in thousands."""
    if chance >= 0.00995:
        return f"{min(round(100 * chance), 99)} of 100"
    number = round(1000 * chance)
    return f"{number} of 1000" if number else "under 1 of 1000"


def odds_text(odds: float) -> str:
    """Return by how much a circumstance moves the odds of a cause."""
    times = odds if odds >= 1 else 1 / odds
    shown = f"{times:.1f}".removesuffix(".0")
    return f"{shown} times as likely" if odds >= 1 else f"{shown} times less likely"


def with_reason(blocks: Iterable[HazardBlock]) -> tuple[HazardBlock, ...]:
    """Return the blocks of a page with the reason why they stand there.

    Whoever only reads is not told that a bottle of theirs has burst: the title begins with "if".
    """
    return tuple(
        replace(block, hazard=f"{IF_SO} {block.hazard}", because=(WHEN_SHOWN,))
        if not any(block.because)
        else block
        for block in blocks
    )
