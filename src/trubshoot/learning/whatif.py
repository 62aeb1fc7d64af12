"""What if: one batch under two practices, as it was logged and as it is changed in words.

Only what was done counts on both sides. What was seen, smelled and tasted, and the gravity of
opened bottles, belong to the practice that made them and are left out of the comparison.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from trubshoot.batch import Batch
from trubshoot.batch.model import Bottling, GravityReading, Observation, Outcome
from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.states import gather
from trubshoot.evidence import Evidence, collect
from trubshoot.evidence.gravity_fit import gravity_on_day
from trubshoot.evidence.model import BottleOutlook, PressureAt
from trubshoot.evidence.words import read_text
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.learning.changes import Change, apply_changes
from trubshoot.learning.draft import Draft
from trubshoot.learning.forward import Forecast, Practice, forecast
from trubshoot.safety import HazardBlock, Level, overall_level

NOTICEABLE_SHARE, NOTICEABLE_CHANCE = 0.15, 0.01  # of the odds, and of the chance itself
_CARRIED_SHARE = 0.1  # a cause that carried less of a difference is not named
_MOST_CAUSES = 3
_SAME_DAY = 1.0  # a reading so near the new bottling needs no prediction
_ONE_SIDED_95 = 1.645


@dataclass(frozen=True)
class Predicted:
    """A gravity at bottling that nobody measured: worked out from the curve or the expected end."""

    points: float
    sigma_points: float
    day: float
    how: str


@dataclass(frozen=True)
class Side:
    """One of the two practices, and what the model makes of it."""

    evidence: Evidence
    practice: Practice
    reasons: Mapping[str, tuple[str, ...]]  # circumstance, finding or ruled-out cause -> sentences
    forecast: Forecast
    hazards: tuple[HazardBlock, ...]  # by what was done alone
    outlook: BottleOutlook | None


@dataclass(frozen=True)
class Carried:
    """A cause that carried a difference, with the chance that it makes the fault on either side."""

    cause: str
    label: str
    step: str
    step_label: str
    before: float
    after: float


@dataclass(frozen=True)
class FaultChange:
    """The chance of one fault under both practices."""

    finding: str
    label: str
    before: float
    after: float
    carried: tuple[Carried, ...]

    @property
    def noticeable(self) -> bool:
        """Tell whether the difference is worth a line."""
        low, high = sorted((self.before, self.after))
        return high - low >= NOTICEABLE_CHANCE and high - low >= NOTICEABLE_SHARE * low


@dataclass(frozen=True)
class Turn:
    """A circumstance, finding of practice or ruling-out that came or went with the change."""

    what: str
    label: str
    came: bool
    kind: str  # context, finding or ruled_out
    because: tuple[str, ...]
    causes: tuple[tuple[str, str, float, float], ...]  # (id, label, chance before, after)


@dataclass(frozen=True)
class WhatIf:
    """Everything `whatif` shows."""

    batch: str
    asked_at: datetime
    hazards: tuple[HazardBlock, ...]  # of the batch as it is
    level: Level
    changes: tuple[Change, ...]
    before: Side
    after: Side
    faults: tuple[FaultChange, ...]  # all, the largest difference first
    turns: tuple[Turn, ...]
    predicted: Predicted | None
    pressures: tuple[tuple[PressureAt | None, PressureAt | None], ...]
    kept_upper: bool  # the upper pressure was kept, since the change only took knowledge away
    left_out: tuple[str, ...]  # what of the log was left out of the comparison
    knowledge_version: str


def whatif(work: Diagnostician, draft: Draft, texts: Sequence[str], now: datetime) -> WhatIf:
    """Run the model forward under both practices.

    Args:
        work: the knowledge made ready.
        draft: the batch file in memory; it is changed.
        texts: the changes as typed.
        now: the moment of asking; it moves with a bottling that is moved.

    Raises: UnitError, BatchError: a change or a batch that cannot be read.
    """
    old = draft.read()
    new, changes = apply_changes(draft, texts, lambda text: is_circumstance(work, text))
    _, _, blocks, _ = work.bottling(old, now)
    later = now + timedelta(days=sum(change.moved_days for change in changes))
    before = side_of(work, old, now)
    after, predicted = _changed_side(work, new, later, changes)
    look, kept = _outlook(work, old, new, later, changes, before, after, predicted)
    after = replace(after, outlook=look)
    return WhatIf(
        batch=old.name,
        asked_at=now,
        hazards=blocks,
        level=overall_level(blocks),
        changes=changes,
        before=before,
        after=after,
        faults=fault_changes(work.knowledge, before.forecast, after.forecast),
        turns=_turns(work, before, after),
        predicted=predicted,
        pressures=_pressures(before.outlook, after.outlook),
        kept_upper=kept,
        left_out=_left_out(old, changes),
        knowledge_version=work.knowledge.version,
    )


def is_circumstance(work: Diagnostician, text: str) -> bool:
    """Tell whether words name a circumstance of the knowledge."""
    found = read_text(work.lexicon, text)
    return any(target.kind == "context" and state == "present" for target, _, state in found)


def side_of(
    work: Diagnostician, batch: Batch, now: datetime, *, with_age: bool = True
) -> Side:
    """Return one practice, with outcomes left out, and what the model makes of it."""
    knowledge = work.knowledge
    evidence = collect(without_outcomes(batch), knowledge, lambda: work.lexicon, now)
    facts = {name: value for name, value in evidence.facts.items() if _done(knowledge, name)}
    opinion, blocks = work.conclude(facts)
    understood = tuple(
        item
        for item in evidence.understood
        if item.kind == "context" or _done(knowledge, f"said.{item.id}")
    )
    known = gather(knowledge, understood, opinion.conclusions, work.show)
    firings = opinion.conclusions.firings
    practice = Practice.of(knowledge, known, firings, with_age=with_age)
    reasons: dict[str, tuple[str, ...]] = {**known.contexts, **known.ruled_out}
    reasons.update({state.id: state.because for state in known.findings})
    return Side(
        evidence, practice, reasons, forecast(knowledge, work.base, practice), blocks,
        evidence.outlook,
    )  # fmt: skip


def without_outcomes(batch: Batch) -> Batch:
    """Return the batch without what only tells how the beer turned out."""
    kept = tuple(
        entry
        for entry in batch.log
        if not isinstance(entry, Outcome)
        and not (isinstance(entry, GravityReading) and entry.of == "opened bottle")
    )
    return batch.model_copy(update={"log": kept})


def _done(knowledge: KnowledgeBase, fact: str) -> bool:
    """Tell whether a fact may speak in a forecast: of words only those that say what was done."""
    head, _, name = fact.partition(".")
    if head != "said":
        return True
    return name in knowledge.findings and knowledge.findings[name].tells == "practice"


def _changed_side(
    work: Diagnostician, batch: Batch, now: datetime, changes: Sequence[Change]
) -> tuple[Side, Predicted | None]:
    """Return the changed practice; a bottling that was moved gets the gravity of its new day."""
    side = side_of(work, batch, now)
    course = any(change.course for change in changes)
    moved = any(change.moved_days for change in changes)
    if not course and not moved:
        return side, None
    predicted = predict(work, batch, side.evidence, with_readings=not course)
    if predicted is None:
        return side, None
    if moved:
        side = side_of(work, with_prediction(batch, predicted), now)
    return side, predicted


def predict(
    work: Diagnostician, batch: Batch, evidence: Evidence, *, with_readings: bool
) -> Predicted | None:
    """Return the gravity on the day of bottling where no reading tells it; None where none can."""
    day = evidence.facts.get("days_pitch_to_bottling")
    if not isinstance(day, float):
        return None
    readings = [item.day for item in evidence.readings if item.day is not None and item.day > 0.25]
    if with_readings and any(day - _SAME_DAY <= item <= day + 1e-6 for item in readings):
        return None
    found = gravity_on_day(batch, evidence, work.knowledge, day, with_readings=with_readings)
    if found.fit is None:
        return None
    _, gravity = found.fit.curve[0]
    median = 1000 * (gravity.median - 1)
    sigma = (1000 * (gravity.high - 1) - median) / _ONE_SIDED_95
    how = (
        "the curve through the readings and the expected end"
        if with_readings and found.readings
        else "start, expected end and temperature alone"
    )
    return Predicted(median, max(sigma, 0.5), day, how)


def with_prediction(batch: Batch, predicted: Predicted) -> Batch:
    """Return the batch with the predicted gravity at its last bottling."""
    last = batch.bottlings()[-1]
    update = {
        "predicted_points": predicted.points,
        "predicted_sigma_points": predicted.sigma_points,
    }
    log = tuple(entry.model_copy(update=update) if entry is last else entry for entry in batch.log)
    return batch.model_copy(update={"log": log})


def _outlook(
    work: Diagnostician,
    old: Batch,
    new: Batch,
    now: datetime,
    changes: Sequence[Change],
    before: Side,
    after: Side,
    predicted: Predicted | None,
) -> tuple[BottleOutlook | None, bool]:
    """Return the gas and pressure under the change, and whether a pressure was kept up.

    Readings that belong to another fermentation do not speak for the new one, so it is reckoned
    from the expected end; the upper value stays at least what those readings gave. And what was
    only taken out of the log never lowers a pressure.
    """
    look = after.outlook
    floor: list[BottleOutlook | None] = []
    if predicted is not None and not any(change.moved_days for change in changes):
        floor.append(look)
        batch = with_prediction(without_outcomes(new), predicted)
        look = collect(batch, work.knowledge, lambda: work.lexicon, now).outlook
    if any(change.removed for change in changes):
        floor.append(before.outlook)
    if look is None or not floor:
        return look, False
    kept = False
    for other in floor:
        if other is not None:
            look, raised = _at_least(look, other)
            kept = kept or raised
    return look, kept


def _at_least(look: BottleOutlook, other: BottleOutlook) -> tuple[BottleOutlook, bool]:
    """Return an outlook whose upper values are no lower than those of another."""
    others = {point.place: point for point in other.pressures}
    raised = False
    points = []
    for point in look.pressures:
        twin = others.get(point.place)
        if twin is not None and twin.upper_bar > point.upper_bar:
            raised = True
            band = twin.upper_band
            point = replace(point, upper_bar=twin.upper_bar, upper_band=band)
        points.append(point)
    upper = max(look.upper_vols, other.upper_vols)
    return replace(look, pressures=tuple(points), upper_vols=upper), raised


def fault_changes(
    knowledge: KnowledgeBase, before: Forecast, after: Forecast
) -> tuple[FaultChange, ...]:
    """Return every fault with its chance before and after, the largest difference first."""
    found = [_fault(knowledge, name, before, after) for name in before.findings]
    return tuple(sorted(found, key=lambda fault: -abs(fault.after - fault.before)))


def _fault(
    knowledge: KnowledgeBase, finding: str, before: Forecast, after: Forecast
) -> FaultChange:
    old, new = before.of_finding(finding), after.of_finding(finding)
    column = before.findings.index(finding)
    was = dict(zip(before.causes, before.made_by_cause[:, column], strict=True))
    now = dict(zip(after.causes, after.made_by_cause[:, column], strict=True))
    gaps = {
        name: float(now.get(name, 0.0) - was.get(name, 0.0)) for name in knowledge.causes
    }
    sign = 1 if new >= old else -1
    order = sorted(gaps, key=lambda name: -sign * gaps[name])
    total = sum(max(sign * gap, 0.0) for gap in gaps.values())
    carried = tuple(
        Carried(
            name,
            knowledge.causes[name].label,
            knowledge.causes[name].step,
            knowledge.steps[knowledge.causes[name].step].label,
            float(was.get(name, 0.0)),
            float(now.get(name, 0.0)),
        )
        for name in order[:_MOST_CAUSES]
        if total > 0 and sign * gaps[name] >= _CARRIED_SHARE * total
    )
    return FaultChange(finding, knowledge.findings[finding].label, old, new, carried)


def _turns(work: Diagnostician, before: Side, after: Side) -> tuple[Turn, ...]:
    """Return what came and what went of circumstances, findings of practice and rulings-out."""
    knowledge = work.knowledge
    sides = {False: (before, _names(before)), True: (after, _names(after))}
    turns = []
    for came in (False, True):
        side, mine = sides[came]
        others = sides[not came][1]
        for key in mine:
            if key in others:
                continue
            kind, name, _ = key
            causes = []
            for cause in _causes_of(work, kind, name):
                was, now = _chance(before, cause), _chance(after, cause)
                if abs(was - now) >= 0.001:
                    causes.append((cause, knowledge.causes[cause].label, was, now))
            label = {
                "context": knowledge.contexts,
                "finding": knowledge.findings,
                "ruled_out": knowledge.causes,
            }[kind][name].label  # type: ignore[attr-defined]  # each of them has a label
            causes.sort(key=lambda item: -abs(item[3] - item[2]))
            turns.append(
                Turn(name, label, came, kind, tuple(side.reasons.get(name, ())), tuple(causes))
            )
    return tuple(turns)


def _names(side: Side) -> dict[tuple[str, str, str], None]:
    practice = side.practice
    return dict.fromkeys(
        [
            *(("context", name, "") for name in practice.contexts),
            *(("finding", state.id, state.state) for state in practice.findings),
            *(("ruled_out", name, "") for name in practice.ruled_out),
        ]
    )


def _causes_of(work: Diagnostician, kind: str, name: str) -> list[str]:
    base = work.base
    if kind == "context":
        return [base.causes[row] for row, _ in base.modifiers.get(name, ())]
    if kind == "ruled_out":
        return [name]
    causes = work.knowledge.causes.values()
    return [cause.id for cause in causes if any(link.finding == name for link in cause.links)]


def _chance(side: Side, cause: str) -> float:
    shown = side.forecast
    return float(shown.cause_chance[shown.causes.index(cause)]) if cause in shown.causes else 0.0


def _pressures(
    before: BottleOutlook | None, after: BottleOutlook | None
) -> tuple[tuple[PressureAt | None, PressureAt | None], ...]:
    """Return the pressures of both sides place by place."""
    old = {point.place: point for point in before.pressures} if before is not None else {}
    new = {point.place: point for point in after.pressures} if after is not None else {}
    places = dict.fromkeys([*old, *new])
    return tuple((old.get(place), new.get(place)) for place in places)


def _left_out(batch: Batch, changes: Sequence[Change]) -> tuple[str, ...]:
    """Return what of the log was left out, and why the readings say nothing any more."""
    found: list[str] = []
    seen = sum(isinstance(entry, (Observation, Outcome)) for entry in batch.log)
    if seen:
        lines = "line" if seen == 1 else "lines"
        found.append(
            f"{seen} {lines} of what was seen, smelled, tasted or turned out: made by the old way"
        )
    if any(isinstance(entry, GravityReading) and entry.of == "opened bottle" for entry in batch.log):
        found.append("the gravity of opened bottles: made by the old way")
    bottled = any(isinstance(entry, Bottling) for entry in batch.log)
    readings = any(isinstance(entry, GravityReading) for entry in batch.log)
    if bottled and readings and any(change.course for change in changes):
        found.append(
            "the gravities after pitching, for the pressure: another fermentation would have"
            " given others"
        )
    return tuple(found)
