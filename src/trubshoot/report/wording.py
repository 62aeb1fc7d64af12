"""Words for numbers, and numbers for people: shared by every report."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from trubshoot.counting import counted
from trubshoot.diagnosis.network import FindingState
from trubshoot.diagnosis.own_history import OwnHistory
from trubshoot.diagnosis.result import Diagnosis, KnownContext, RankedCause, Weight
from trubshoot.evidence.model import Missing
from trubshoot.safety import Level
from trubshoot.units import UnitSystem, format_gravity, format_temp

# Chance in words; the number always stands beside it. The steps follow the likelihood scale of
# the Intergovernmental Panel on Climate Change guidance note of 2010 (from memory).
_LIKELIHOOD = (
    (0.90, "very likely"),
    (0.66, "likely"),
    (0.33, "about as likely as not"),
    (0.10, "possible"),
    (0.0, "unlikely"),
)
# Ten decibans are odds of ten to one (Good, weight of evidence, from memory).
_STRENGTH = ((10.0, "strongly"), (5.0, "clearly"), (1.0, "slightly"))
BY = {
    "ask": "think back",
    "look": "look",
    "smell": "smell",
    "taste": "taste",
    "measure": "measure",
    "open_bottle": "open a bottle",
    "wait": "wait",
}
STATE = {
    "present": "there",
    "absent": "not there",
    "likely": "probably there",
    "unlikely": "probably not there",
}

SHOWN_CAUSES = 5
SHOWN_ADVICE = 3
SHOWN_STEPS = 5
SHOWN_AVOID = 2  # for the first cause; one for the others
SHOWN_CLASHES = 2
BESIDE = "Beside what you complained of"
HAZARD_BLOCK = (
    "A hazard block is what stands at the top of this page when somebody may get hurt. Log what you"
    " see and ask again: it comes by itself."
)
SHOWN_CONTEXTS = 5
_THERE_AT_ALL = 0.15  # a chance so much above that of having made the findings is worth a word


def likelihood(chance: float) -> str:
    """Return a chance in words, such as "likely"."""
    return next(word for lowest, word in _LIKELIHOOD if chance >= lowest)


def percent(chance: float, *, about: bool = False) -> str:
    """Return a chance as a whole percentage; the ends are never claimed."""
    number = round(100 * chance)
    text = "under 1 %" if number < 1 else "over 99 %" if number > 99 else f"{number} %"
    return f"about {text}" if about else text


def strength(decibans: float) -> str:
    """Return how strongly a weight of evidence speaks, or "" when it says nothing."""
    return next((word for lowest, word in _STRENGTH if abs(decibans) >= lowest), "")


def evidence_lines(cause: RankedCause) -> tuple[list[Weight], list[Weight]]:
    """Return what speaks for and what speaks against a cause, strongest first."""
    telling = [
        weight
        for weight in cause.weights
        if weight.what != "prior" and abs(weight.decibans) >= _STRENGTH[-1][0]
    ]
    ordered = sorted(telling, key=lambda weight: -abs(weight.decibans))
    return (
        [weight for weight in ordered if weight.decibans > 0],
        [weight for weight in ordered if weight.decibans < 0],
    )


def day_text(day: float | None) -> str:
    """Return a day since pitching as people say it."""
    return "on an unknown day" if day is None else f"on day {round(day)}"


def minutes_text(minutes: float) -> str:
    """Return how long a check takes."""
    if minutes < 90:
        return f"{minutes:.0f} min"
    hours = minutes / 60
    return f"{hours:.0f} h" if hours < 36 else counted(hours / 24, "day")


def date_text(moment: datetime) -> str:
    """Return a date such as 12 April 2026, whatever the machine's language."""
    months = [
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ]
    return f"{moment.day} {months[moment.month - 1]} {moment.year}"


def points_text(points: float) -> str:
    """Return a gravity given in points, such as 1.012."""
    return format_gravity(1 + points / 1000)


def summary(diagnosis: Diagnosis, units: UnitSystem) -> list[str]:
    """Return the batch in a few lines: the numbers everything rests on."""
    evidence = diagnosis.evidence
    facts = evidence.facts
    lines: list[str] = []
    if evidence.og_points is not None:
        lines.append(f"Started at {points_text(evidence.og_points)} ({evidence.og_how}).")
    if evidence.readings:
        last = evidence.readings[-1]
        how = f"; {', '.join(last.corrections)}" if last.corrections else ""
        lines.append(
            f"Latest gravity {points_text(last.points)} {day_text(last.day)}"
            f" (give or take {last.sigma_points:.1f} points{how})."
        )
    if evidence.expected_end is not None:
        end = evidence.expected_end
        lines.append(
            f"Expected end {points_text(end.points)}, give or take {end.sigma_points:.1f} points"
            f" ({end.how})."
        )
    mean = facts.get("beer_temp_mean_c")
    if isinstance(mean, float):
        low, high = facts.get("beer_temp_min_c", mean), facts.get("beer_temp_max_c", mean)
        span = ""
        if isinstance(low, float) and isinstance(high, float) and high - low >= 1:
            span = f", from {format_temp(low, units)} to {format_temp(high, units)}"
        estimated = " (worked out from the room)" if "only_room_temp" in facts else ""
        lines.append(f"Fermented at about {format_temp(mean, units)}{span}{estimated}.")
    return lines


def own_history(own: OwnHistory) -> str:
    """Return one sentence that own batches count in this answer, and how to leave them out."""
    batches = f"{own.confirmed} confirmed batch{'' if own.confirmed == 1 else 'es'}"
    text = (
        f"Chances take in {batches} of your own ({own.folder}). The textbook's answer:"
        " --no-own-history. Hazards never depend on it."
    )
    if own.unreadable:
        text += f" {own.unreadable} of your files could not be read and do not count."
    return text


def own_shifts(own: OwnHistory, named: Sequence[RankedCause]) -> list[str]:
    """Return how own batches shift the chance beforehand of causes named or confirmed."""
    names = dict.fromkeys([*(cause.id for cause in named), *(item.cause for item in own.seen)])
    lines = [
        f"The textbook counts as {own.strength:.0f} batches beside your {own.confirmed}. Chances"
        " beforehand, before anything noticed in this batch:"
    ]
    for name in names:
        prior = own.priors.get(name)
        if prior is None:
            continue
        held = ", held at the bound" if prior.at_bound else ""
        lines.append(
            f"{prior.label}: {percent(prior.textbook)} by the textbook, {percent(prior.own)} with"
            f" your own ({prior.count} of your {own.confirmed} confirmed batches{held})"
        )
    return lines


def finding_line(state: FindingState, label: str) -> str:
    """Return one finding with its state and where it is known from."""
    return f"{label}: {STATE[state.state]} ({'; '.join(state.because)})"


def age_text(diagnosis: Diagnosis) -> str:
    """Return how old the batch is, such as "22 days after bottling"."""
    days = diagnosis.evidence.facts.get("days_since_pitch")
    bottled = diagnosis.evidence.facts.get("days_since_bottling")
    if isinstance(bottled, float):
        return f"{counted(bottled, 'day')} after bottling"
    if isinstance(days, float):
        return f"{counted(days, 'day')} after pitching"
    return "time since pitching unknown"


def chance_text(diagnosis: Diagnosis, cause: RankedCause) -> str:
    """Return how likely a cause is, in words and in numbers."""
    chance = percent(cause.responsibility, about=diagnosis.approximate)
    text = f"{likelihood(cause.responsibility)} to have made what you noticed, {chance}"
    if cause.posterior - cause.responsibility > _THERE_AT_ALL:
        text += f" (there at all: {percent(cause.posterior)})"
    return text


def beside_lines(diagnosis: Diagnosis, labels: Mapping[str, str]) -> list[str]:
    """Return the faults that came to light by answers and did not make the complaint."""
    return [
        f"{cause.label}, {percent(cause.beside)}: it may have made what you said when asked "
        f"({'; '.join(labels[name] for name in cause.beside_findings)})."
        for cause in diagnosis.beside_causes[:SHOWN_ADVICE]
    ]


def names_hazard_block(diagnosis: Diagnosis) -> bool:
    """Tell whether advice names a hazard block that this reader has not met on this page."""
    if diagnosis.level >= Level.WARNING:
        return False
    advised = diagnosis.named_causes[:SHOWN_ADVICE]
    texts = [
        text
        for cause in advised
        for text in (*cause.advice.steps, cause.advice.stop, cause.advice.confirm, cause.caution)
    ]
    return any("hazard block" in text for text in texts)


def telling_contexts(diagnosis: Diagnosis) -> list[KnownContext]:
    """Return what of the process makes faults likelier, leaving out what the reader said."""
    return [
        context
        for context in diagnosis.contexts
        if context.raises and not context.because[0].startswith("you said")
    ]


def gap_text(gap: Missing) -> str:
    """Return what is missing, what is assumed instead, and what it matters for."""
    text = gap.what + (f": {gap.assumed}" if gap.assumed else "")
    return text + (f" ({gap.matters})" if gap.matters else "")


def how_much_read(basis: str, extent: str) -> str:
    """Return how much of a source was read, its basis said once: "from memory; two pages"."""
    said = {"memory": "known from memory only"}.get(basis, basis)
    if basis and extent.startswith(basis):
        return extent
    return f"{said}; {extent}" if extent else said
