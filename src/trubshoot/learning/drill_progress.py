"""What became of the cases of practice: records, what they show, and how hard the next case is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from trubshoot.learning.drill_debrief import Debrief
from trubshoot.learning.drill_draw import LEVELS, DrillCase

BANDS = ((0.0, 0.4), (0.4, 0.6), (0.6, 0.8), (0.8, 1.01))  # of how sure one said to be
_UP_AFTER = 2  # cases done rightly in a row, after which it gets harder
_MIXED_SHOWN = 5


@dataclass(frozen=True)
class Record:
    """One case that was played to its end."""

    day: str  # ISO date on which it ended
    random_state: int
    number: int
    level: int
    free_chance: float  # an ideal asker gave the true cause this at the start; lower is harder
    fault: str  # id of the finding to be explained
    true_cause: str
    named: str  # id, "none" for given up, "" for stopped
    points: int
    first_right: bool | None
    stopped: bool
    correct: bool
    minutes: float
    sensible_minutes: float
    sure: float | None

    @property
    def done_rightly(self) -> bool:
        """Tell whether nobody was put at risk and the cause was found."""
        return self.correct and self.first_right is not False and not self.stopped


@dataclass(frozen=True)
class Band:
    """Cases in which one said to be about so sure, and how many of them were right."""

    low: float
    high: float
    cases: int
    right: int
    mean_sure: float


@dataclass(frozen=True)
class Progress:
    """What all records together show."""

    cases: int
    level: int  # of the next case
    hazard_cases: int
    hazards_right: int  # right first action, and nothing done that a hazard forbids
    correct: int
    mean_points: float
    minutes: float
    sensible_minutes: float
    brier: float | None  # mean, where one said how sure one was; 0 best, 0.25 a coin, 1 worst
    bands: tuple[Band, ...]
    mixed: tuple[tuple[str, str, int], ...]  # (named, true, how often), most first
    by_level: tuple[tuple[int, int, int], ...]  # (level, cases, found)


def record_of(case: DrillCase, told: Debrief, day: str) -> Record:
    """Return the record of a case that has ended."""
    score = told.score
    named = told.named.id if told.named else "" if told.stopped else "none"
    return Record(
        day,
        case.random_state,
        case.number,
        case.level,
        case.free_chance,
        case.told[0],
        case.true_causes[0],
        named,
        score.points,
        score.first_right,
        score.stopped,
        score.correct,
        score.minutes,
        score.sensible_minutes,
        score.sure,
    )


def next_level(records: Sequence[Record]) -> int:
    """Return how hard the next case is to be, 1 to 5.

    One up after two cases in a row done rightly at a level, one down after a case that was not.
    """
    level = 1
    run = 0
    for record in records:
        level = record.level
        run = run + 1 if record.done_rightly else 0
        if run >= _UP_AFTER:
            level, run = min(level + 1, len(LEVELS)), 0
        elif not record.done_rightly:
            level = max(level - 1, 1)
    return level


def progress_of(records: Sequence[Record]) -> Progress:
    """Return what all records show."""
    hazards = [one for one in records if one.first_right is not None]
    said = [(one.sure, one.correct) for one in records if one.sure is not None]
    mixed = Counter(
        (one.named, one.true_cause)
        for one in records
        if not one.correct and one.named not in ("", "none")
    )
    bands = []
    for low, high in BANDS:
        inside = [(sure, right) for sure, right in said if low <= sure < high]
        if inside:
            mean = sum(sure for sure, _ in inside) / len(inside)
            right = sum(right for _, right in inside)
            bands.append(Band(low, min(high, 1.0), len(inside), right, mean))
    levels = sorted({one.level for one in records})
    return Progress(
        cases=len(records),
        level=next_level(records),
        hazard_cases=len(hazards),
        hazards_right=sum(bool(one.first_right) and not one.stopped for one in hazards),
        correct=sum(one.correct for one in records),
        mean_points=sum(one.points for one in records) / len(records) if records else 0.0,
        minutes=sum(one.minutes for one in records),
        sensible_minutes=sum(one.sensible_minutes for one in records),
        brier=sum((sure - right) ** 2 for sure, right in said) / len(said) if said else None,
        bands=tuple(bands),
        mixed=tuple((*pair, count) for pair, count in mixed.most_common(_MIXED_SHOWN)),
        by_level=tuple(
            (
                level,
                sum(one.level == level for one in records),
                sum(one.level == level and one.correct for one in records),
            )
            for level in levels
        ),
    )
