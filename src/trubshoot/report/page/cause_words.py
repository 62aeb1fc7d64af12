"""The causes as a page shows them: chance, weights for and against, advice within the hazards."""

from __future__ import annotations

from dataclasses import dataclass

from markupsafe import Markup

from trubshoot.diagnosis.overview import Overview
from trubshoot.diagnosis.result import Diagnosis, RankedCause, Weight
from trubshoot.report import wording
from trubshoot.report.page import svg

CHANCES = "Chance that each made at least one of the things noticed"
WEIGHTS = "What speaks for and against it; ten decibans (dB) are odds of ten to one"
WITHHELD = "Further steps are left out while the hazard above stands."
_LEAST_SPAN_DB = 10.0  # a bar as long as its half stands for at least "strongly"


@dataclass(frozen=True)
class BarRow:
    """A label, a bar, and in words and numbers what the bar shows."""

    label: str
    words: str
    bar: Markup


@dataclass(frozen=True)
class CauseView:
    """One cause with everything that is said of it."""

    cause: RankedCause
    rank: int
    row: BarRow
    sentence: str
    weights: tuple[BarRow, ...]
    unexplained: tuple[str, ...]
    advice: bool  # whether advice is shown: only for the leading causes
    steps: tuple[tuple[str, tuple[str, str] | None], ...]  # step, (other causes, why not then)
    avoid: tuple[tuple[str, str], ...]
    lines: tuple[tuple[str, str], ...]


def why_none(diagnosis: Diagnosis) -> str:
    """Return why no cause is named at all; empty when some may be."""
    if "log_is_bare" in diagnosis.evidence.facts:
        return "There is nothing to go on: nothing was logged and nothing reported."
    if not any(state.up for state in diagnosis.findings):
        return "Nothing out of the ordinary was reported or measured: no cause to name."
    return ""


def none_of_these(diagnosis: Diagnosis) -> BarRow:
    """Return the chance that no known cause made any of the findings."""
    chance = wording.percent(diagnosis.none_of_these, about=diagnosis.approximate)
    return BarRow(
        "None of these: no known cause made any of it",
        chance,
        svg.bar(diagnosis.none_of_these, chance),
    )


def views(overview: Overview) -> tuple[CauseView, ...]:
    """Return the causes worth naming, best first, as many as the terminal shows."""
    named = overview.diagnosis.named_causes[: wording.SHOWN_CAUSES]
    return tuple(_view(overview, cause, rank) for rank, cause in enumerate(named, 1))


def _view(overview: Overview, cause: RankedCause, rank: int) -> CauseView:
    diagnosis = overview.diagnosis
    chance = wording.percent(cause.responsibility, about=diagnosis.approximate)
    sentence = wording.chance_text(diagnosis, cause)
    favour, against = wording.evidence_lines(cause)
    telling = [*favour, *against]
    most = max([_LEAST_SPAN_DB, *(abs(weight.decibans) for weight in telling)])
    advice = cause.advice
    first = rank == 1
    return CauseView(
        cause=cause,
        rank=rank,
        row=BarRow(f"{rank}. {cause.label}", chance, svg.bar(cause.responsibility, chance)),
        sentence=f"{sentence[0].upper()}{sentence[1:]}.",
        weights=tuple(_weight(weight, most) for weight in telling),
        unexplained=tuple(overview.labels[name] for name in cause.unexplained),
        advice=rank <= wording.SHOWN_ADVICE,
        steps=tuple((step, _clash(cause, step)) for step in advice.steps[: wording.SHOWN_STEPS]),
        avoid=advice.avoid[: wording.SHOWN_AVOID if first else 1],
        lines=tuple(_lines(cause, first=first)),
    )


def _weight(weight: Weight, most: float) -> BarRow:
    way = "for" if weight.decibans > 0 else "against"
    decibans = f"{weight.decibans:+.1f}".replace("-", "\u2212")
    words = f"{way}, {wording.strength(weight.decibans)}, {decibans} dB"
    return BarRow(weight.label, words, svg.weight_bar(weight.decibans, most, words))


def _clash(cause: RankedCause, step: str) -> tuple[str, str] | None:
    """Return the other causes that a step would harm, and why; None when it harms none."""
    clashes = [clash for clash in cause.advice.conflicts if clash.step == step]
    if not clashes:
        return None
    others = " or ".join(f'"{clash.label}"' for clash in clashes[: wording.SHOWN_CLASHES])
    return others, clashes[0].why


def _lines(cause: RankedCause, *, first: bool) -> list[tuple[str, str]]:
    advice = cause.advice
    lines = []
    if first:
        lines += [("Stop trying", advice.stop), ("What it costs", advice.cost)]
    lines += [
        ("Next time", cause.next_time),
        ("To be sure", advice.confirm),
        ("Take care", cause.caution),
    ]
    return [(label, words) for label, words in lines if words]
