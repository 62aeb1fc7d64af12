"""What a case of practice teaches: the Bayes view of what was asked, and a score.

Two measures of what a question told: by how many bits the uncertainty over what made the fault fell
(below zero: less certain than before), and by how many doublings the chance of the true cause rose.
Beside them stands what it could be expected to tell before it was asked.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from trubshoot.diagnosis.noisy_or import entropy_bits
from trubshoot.learning.apart import telling_apart
from trubshoot.learning.drill import GIVEN_UP, LEAVE, Drill, DrillState
from trubshoot.learning.drill_draw import Asked, View
from trubshoot.learning.lookup import Named
from trubshoot.safety import HazardBlock

LEADING = 4
_PATIENCE_MINUTES = 5.0  # by which a learner may be slower for nothing
FIRST_POINTS, _CORRECT, _TIME = 40, 40, 20  # points where a hazard stands
_CORRECT_ALONE, _TIME_ALONE = 70, 30  # ... and where none does
_SOUND_SHARE = 0.5  # of the points, for the likeliest cause by what was known, though not the true


@dataclass(frozen=True)
class Chance:
    """A cause and the chance that it made what is to be explained."""

    cause: Named
    chance: float
    true: bool


@dataclass(frozen=True)
class Look:
    """One question, what it told, and where the causes stood after it."""

    finding: Named
    present: bool
    minutes: float
    expected_bits: float  # told on average, before the answer
    bits: float  # told by this answer
    doublings: float  # of the chance of the true cause
    leading: tuple[Chance, ...]


@dataclass(frozen=True)
class BestFirst:
    """The question that told most for its cost at the start."""

    finding: Named
    expected_bits: float
    minutes: float
    present: bool
    asked: bool  # the learner asked it


@dataclass(frozen=True)
class Mixed:
    """The cause named instead of a true one, and the finding that tells the two apart best."""

    named: Named
    true: Named
    finding: Named | None
    under_named: float  # chance of the finding under each
    under_true: float
    known: str  # there, not there, or "" when it was not asked


@dataclass(frozen=True)
class Score:
    """Points out of 100, and what they are made of."""

    points: int
    first_right: bool | None  # None where no hazard stood at the start
    right_first: str  # the right first action where one stood, as the list of actions words it
    stopped: bool  # something was done that a hazard leaves no room for
    correct: bool
    sound: bool  # the likeliest cause by what was known
    minutes: float
    sensible_minutes: float
    sure: float | None
    brier: float | None  # squared distance of the sureness from being right; 0 best, 1 worst


@dataclass(frozen=True)
class Debrief:
    """Everything that is told after a case."""

    hazards: tuple[HazardBlock, ...]
    stopped: str
    true_causes: tuple[Named, ...]
    told: tuple[Named, ...]
    at_start: tuple[Chance, ...]
    looks: tuple[Look, ...]
    best_first: BestFirst | None
    course: tuple[tuple[Named, bool], ...]  # of an ideal asker
    course_chance: float  # that the ideal asker then gives the leading cause
    named: Named | None
    named_chance: float  # of the cause named, by what was known
    mixed: Mixed | None
    next_time: str  # the habit that prevents the true cause
    score: Score


def debrief(drill: Drill, state: DrillState) -> Debrief:
    """Return what a case teaches, once it has ended."""
    case, bench = drill.case, drill.bench
    start = bench.view(case)
    named = drill.index.thing("cause", state.named) if state.named not in ("", GIVEN_UP) else None
    end = bench.view(case, state.asked)
    leader = end.leading(1)[0]
    ideal = bench.view(case, case.course)
    return Debrief(
        hazards=drill.hazards(state),
        stopped=state.stopped,
        true_causes=tuple(drill.index.thing("cause", name) for name in case.true_causes),
        told=tuple(drill.index.thing("finding", name) for name in case.told),
        at_start=_leading(drill, start),
        looks=_looks(drill, state),
        best_first=_best_first(drill, state),
        course=tuple(
            (drill.index.thing("finding", one.finding), one.present) for one in case.course
        ),
        course_chance=ideal.leading(1)[0][1],
        named=named,
        named_chance=_chance(end, state.named),
        mixed=_mixed(drill, state),
        next_time=drill.knowledge.causes[case.true_causes[0]].next_time,
        score=score(drill, state, sound=bool(named) and leader[0] == state.named),
    )


def _chance(view: View, cause: str) -> float:
    return view.chance(cause) if cause in view.case.causes else 0.0


def _leading(drill: Drill, view: View) -> tuple[Chance, ...]:
    return tuple(
        Chance(drill.index.thing("cause", name), chance, name in drill.case.true_causes)
        for name, chance in view.leading(LEADING)
    )


def _looks(drill: Drill, state: DrillState) -> tuple[Look, ...]:
    case, bench = drill.case, drill.bench
    truth = case.true_causes[0]
    before = bench.view(case)
    done: tuple[Asked, ...] = ()
    out = []
    for one in state.asked:
        expected = expected_bits(drill, done, before, one.finding)
        done = (*done, one)
        after = bench.view(case, done)
        out.append(
            Look(
                drill.index.thing("finding", one.finding),
                one.present,
                drill.knowledge.findings[one.finding].check.minutes,
                expected,
                uncertainty(before) - uncertainty(after),
                math.log2(max(after.chance(truth), 1e-12) / max(before.chance(truth), 1e-12)),
                _leading(drill, after),
            )
        )
        before = after
    return tuple(out)


def uncertainty(view: View) -> float:
    """Return the summed entropy of the chances that each cause made it [bits]."""
    return float(entropy_bits(view.made).sum())


def expected_bits(drill: Drill, asked: tuple[Asked, ...], before: View, finding: str) -> float:
    """Return by how much looking into a finding lowers the uncertainty on average [bits]."""
    bench = drill.bench
    views = [bench.view(drill.case, (*asked, Asked(finding, present))) for present in (True, False)]
    yes = bench.worth(before, [bench.base.findings.index(finding)])[0].chance_yes
    # the chance of a yes where some known cause made the fault, as in every case drawn
    yes *= (1 - views[0].ranking.none_of_these) / (1 - before.ranking.none_of_these)
    return uncertainty(before) - yes * uncertainty(views[0]) - (1 - yes) * uncertainty(views[1])


def _best_first(drill: Drill, state: DrillState) -> BestFirst | None:
    found = drill.bench.questions(drill.case)
    if not found:
        return None
    name = drill.bench.base.findings[found[0].finding]
    return BestFirst(
        drill.index.thing("finding", name),
        expected_bits(drill, (), drill.bench.view(drill.case), name),
        drill.knowledge.findings[name].check.minutes,
        name in drill.case.so,
        any(one.finding == name for one in state.asked),
    )


def _mixed(drill: Drill, state: DrillState) -> Mixed | None:
    case = drill.case
    if state.named in ("", GIVEN_UP) or state.named in case.true_causes:
        return None
    truth = case.true_causes[0]
    told = [
        item
        for item in telling_apart(drill.bench.base, [state.named, truth], None, case.told)
        if drill.may_ask(item.finding, state) or _known(state, item.finding)
    ]
    named, true = drill.index.thing("cause", state.named), drill.index.thing("cause", truth)
    if not told:
        return Mixed(named, true, None, 0.0, 0.0, "")
    best = told[0]
    finding = drill.index.thing("finding", best.finding)
    under_named, under_true = best.chances
    return Mixed(named, true, finding, under_named, under_true, _known(state, best.finding))


def _known(state: DrillState, finding: str) -> str:
    for one in state.asked:
        if one.finding == finding:
            return "there" if one.present else "not there"
    return ""


def score(drill: Drill, state: DrillState, *, sound: bool) -> Score:
    """Return the points of a case: what keeps people whole first, then the cause, then the time."""
    case = drill.case
    hazard = bool(drill.bench.hazards(case.told))
    first_right = state.first == LEAVE if hazard else None
    correct = state.named in case.true_causes
    spent = drill.minutes(state)
    sensible = sum(drill.knowledge.findings[one.finding].check.minutes for one in case.course)
    share = 1.0 if correct else _SOUND_SHARE if sound else 0.0
    quick = min(1.0, (sensible + _PATIENCE_MINUTES) / (spent + _PATIENCE_MINUTES))
    if state.stopped:
        points = 0.0
    elif hazard:
        points = FIRST_POINTS * bool(first_right) + share * (_CORRECT + _TIME * quick)
    else:
        points = share * (_CORRECT_ALONE + _TIME_ALONE * quick)
    brier = None if state.sure is None else (state.sure - correct) ** 2
    return Score(
        round(points),
        first_right,
        drill.right_first() if hazard else "",
        bool(state.stopped),
        correct,
        sound,
        spent,
        sensible,
        state.sure,
        brier,
    )
