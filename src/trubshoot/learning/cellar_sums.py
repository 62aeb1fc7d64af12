"""What the batches of a cellar say together: what recurs, what to change first, how often right."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.learning.cellar import Look

# Bounds of the bins of chances; the words for chances change at about the same places.
BINS = (0.0, 0.1, 0.33, 0.66, 0.9, 1.0)


@dataclass(frozen=True)
class StepSum:
    """How much went wrong at one step, in batches."""

    step: str
    label: str
    chances: float  # sum over batches without a confirmation, each at most 1
    confirmed: int
    cause: str  # the leading cause there
    cause_label: str
    cause_batches: float
    habit: str  # what would prevent it next time

    @property
    def batches(self) -> float:
        """Return the batches this step is behind: likely ones by chance, and confirmed ones."""
        return self.chances + self.confirmed


@dataclass(frozen=True)
class Bin:
    """Answers whose chance lay in one range."""

    low: float
    high: float
    answers: int
    mean_chance: float
    right: int


@dataclass(frozen=True)
class Calibration:
    """How the answers compare with what was confirmed afterwards."""

    confirmed: int
    few: int  # confirmed batches below which nothing can be concluded from this
    named_first: int
    given: tuple[int, ...]  # by bin: chance given to what was confirmed
    leading: tuple[Bin, ...]  # by bin: chance of the leading cause, and how often it was right
    brier: float | None  # of the leading causes; None without any


def by_step(looks: Iterable[Look], knowledge: KnowledgeBase) -> list[StepSum]:
    """Return what recurs, the step with most first; what is normal in brewing is left out.

    A batch with a confirmation counts one for the step of its cause, and nothing elsewhere. Any
    other batch counts for each step the sum of the responsibilities there, at most one.
    """
    chances: dict[str, float] = {}
    confirmed: dict[str, int] = {}
    of_cause: dict[str, float] = {}
    for look in looks:
        if look.confirmed is not None and look.confirmed.sure:
            told = knowledge.causes.get(look.confirmed.cause)
            if told is not None and told.kind != "normal":
                confirmed[told.step] = confirmed.get(told.step, 0) + 1
                of_cause[told.id] = of_cause.get(told.id, 0.0) + 1
            continue
        own: dict[str, float] = {}
        for name, chance in look.causes:
            cause = knowledge.causes[name]
            if cause.kind != "normal":
                own[cause.step] = own.get(cause.step, 0.0) + chance
                of_cause[name] = of_cause.get(name, 0.0) + chance
        for step, chance in own.items():
            chances[step] = chances.get(step, 0.0) + min(chance, 1.0)
    sums = []
    for step, entry in knowledge.steps.items():
        if step not in chances and step not in confirmed:
            continue
        lead = max(
            (name for name in of_cause if knowledge.causes[name].step == step),
            key=lambda name: of_cause[name],
        )
        cause = knowledge.causes[lead]
        sums.append(
            StepSum(
                step,
                entry.label,
                chances.get(step, 0.0),
                confirmed.get(step, 0),
                lead,
                cause.label,
                of_cause[lead],
                cause.next_time,
            )
        )
    return sorted(sums, key=lambda item: -item.batches)


def calibration(looks: Iterable[Look], knowledge: KnowledgeBase) -> Calibration:
    """Return how the answers compare with the confirmations; guesses are left out.

    The answers are those given without the confirmation and without the cellar's own history.
    Brier score of the leading cause: mean of (chance - 1 if it was right else 0) squared (Brier
    1950, from memory).
    """
    pairs = [
        (look.past, look.confirmed.cause)
        for look in looks
        if look.past is not None and look.confirmed is not None
    ]
    given = [0] * (len(BINS) - 1)
    answers: list[list[tuple[float, bool]]] = [[] for _ in given]
    for past, cause in pairs:
        given[_bin(past.given)] += 1
        if past.leader:
            right = past.leader == cause
            answers[_bin(past.leader_chance)].append((past.leader_chance, right))
    everything = [item for items in answers for item in items]
    brier = (
        sum((chance - right) ** 2 for chance, right in everything) / len(everything)
        if everything
        else None
    )
    return Calibration(
        len(pairs),
        round(knowledge.constant("calibration_few_batches")),
        sum(right for _, right in everything),
        tuple(given),
        tuple(
            Bin(BINS[place], BINS[place + 1], len(items), _mean(items), sum(r for _, r in items))
            for place, items in enumerate(answers)
        ),
        brier,
    )


def _bin(chance: float) -> int:
    return max(place for place, low in enumerate(BINS[:-1]) if chance >= low)


def _mean(items: Sequence[tuple[float, bool]]) -> float:
    return sum(chance for chance, _ in items) / len(items) if items else 0.0
