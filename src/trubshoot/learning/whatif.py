"""What if: one batch under two practices, as it was logged and as it is changed in words.

Only what was done counts on both sides. What was seen, smelled and tasted, and the gravity of
opened bottles, belong to the practice that made them and are left out of the comparison.
"""

from __future__ import annotations

import copy
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from trubshoot.batch import Batch
from trubshoot.batch.model import Bottling, GravityReading, Observation, Outcome
from trubshoot.diagnosis import Diagnostician
from trubshoot.errors import UnitError
from trubshoot.evidence.model import FAR_TOO_MUCH, PressureAt
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.learning.changes import Change, apply_changes
from trubshoot.learning.draft import Draft
from trubshoot.learning.forward import Forecast
from trubshoot.learning.sides import (
    Predicted,
    Side,
    is_circumstance,
    predict,
    side_of,
    with_prediction,
)
from trubshoot.learning.whatif_pressure import changed_outlook, pressures_beside
from trubshoot.rules import Fact
from trubshoot.safety import HazardBlock, Level, overall_level

_MOST_CAUSES = 3


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
    noticeable: bool  # the difference is worth a line
    noticed: bool = False  # it is there in the real batch: its chance speaks of another one


@dataclass(frozen=True)
class Turn:
    """A circumstance, finding of practice or ruling-out that came or went with the change."""

    what: str
    label: str
    came: bool
    kind: str  # context, finding or ruled_out
    state: str  # of a finding: present, absent, likely or unlikely; else present
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
    kept_upper: bool  # an upper pressure was kept up: knowledge alone was taken away
    removed: bool  # a change only takes knowledge away; nothing is shown lower for it
    left_out: tuple[str, ...]  # what of the log was left out of the comparison
    engine: str
    engine_faults: tuple[str, ...]  # where the two rule engines differed: the safer answer counts
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
    untouched = copy.deepcopy(draft)
    new, changes = apply_changes(draft, texts, lambda text: is_circumstance(work, text))
    _, opinion, blocks, _ = work.bottling(old, now)
    later = now + timedelta(days=sum(change.moved_days for change in changes))
    new, later = _asked_late_enough(new, later)
    # where only one side is bottled, the age of the bottles would tell of nothing but that
    aged = bool(old.bottlings()) == bool(new.bottlings())
    before = side_of(work, old, now, with_age=aged)
    after, predicted = _changed_side(work, new, later, changes, aged=aged)
    _refuse_beyond_numbers(before, after, changes)
    known = _known_side(work, untouched, changes, later, aged=aged)
    look, kept = changed_outlook(work, new, later, changes, before, after, predicted, known)
    after = _with_hazards(replace(after, outlook=look), () if known is None else known.hazards)
    # what was seen stands whatever would have been done
    seen = tuple(block for block in blocks if block.id not in {one.id for one in before.hazards})
    before, after = _with_hazards(before, seen), _with_hazards(after, seen)
    return WhatIf(
        batch=old.name,
        asked_at=now,
        hazards=blocks,
        level=overall_level(blocks),
        changes=changes,
        before=before,
        after=after,
        faults=fault_changes(
            work.knowledge,
            before.forecast,
            after.forecast,
            None if known is None else known.forecast,
            _noticed(opinion.conclusions.facts),
        ),
        turns=_turns(work, before, after),
        predicted=predicted,
        pressures=pressures_beside(before.outlook, after.outlook),
        kept_upper=kept,
        removed=known is not None,
        left_out=_left_out(old, changes),
        engine=opinion.engine,
        engine_faults=opinion.faults,
        knowledge_version=work.knowledge.version,
    )


def _refuse_beyond_numbers(before: Side, after: Side, changes: Sequence[Change]) -> None:
    """Refuse a change that leads where no formula holds: its answer would only look like one."""
    was = {gap.what for gap in before.evidence.missing}
    beyond = [gap.what for gap in after.evidence.missing if gap.assumed == FAR_TOO_MUCH]
    if beyond and not was.issuperset(beyond):
        raise UnitError(
            f'--change "{changes[-1].text}": nothing can be worked out, for want of {beyond[0]}.'
            " Write a smaller number."
        )


def _asked_late_enough(batch: Batch, now: datetime) -> tuple[Batch, datetime]:
    """Return the batch and a moment of asking that lies after everything that was changed in it."""
    timeline = batch.timeline(now)
    last = max((item.days for item in timeline.entries if item.days is not None), default=None)
    if last is None or timeline.now_days is None or last <= timeline.now_days:
        return batch, now
    if timeline.zero_at is not None:
        now = max(now, timeline.zero_at + timedelta(days=last, minutes=1))
    return batch.model_copy(update={"today": None, "today_day": None}), now


def _changed_side(
    work: Diagnostician, batch: Batch, now: datetime, changes: Sequence[Change], *, aged: bool
) -> tuple[Side, Predicted | None]:
    """Return the changed practice; a bottling that was moved gets the gravity of its new day."""
    side = side_of(work, batch, now, with_age=aged)
    course = any(change.course for change in changes)
    moved = any(change.moved_days for change in changes)
    if not course and not moved:
        return side, None
    predicted = predict(work, batch, side.evidence, with_readings=not course)
    if predicted is None:
        return side, None
    if moved:
        side = side_of(work, with_prediction(batch, predicted), now, with_age=aged)
    return side, predicted


def _known_side(
    work: Diagnostician, draft: Draft, changes: Sequence[Change], now: datetime, *, aged: bool
) -> Side | None:
    """Return the changed practice with nothing taken out of the log; None when nothing was."""
    if not any(change.removed for change in changes):
        return None
    texts = [change.text for change in changes if not change.removed]
    batch, kept = apply_changes(draft, texts, lambda text: is_circumstance(work, text))
    batch, later = _asked_late_enough(batch, now)
    side, predicted = _changed_side(work, batch, later, kept, aged=aged)
    look, _ = changed_outlook(work, batch, later, kept, side, side, predicted, None)
    return replace(side, outlook=look)


def _with_hazards(side: Side, blocks: Sequence[HazardBlock]) -> Side:
    """Return a side with other hazards that stand there too, the gravest first."""
    there = {block.id for block in side.hazards}
    more = [block for block in blocks if block.id not in there]
    every = sorted((*side.hazards, *more), key=lambda block: -block.level)
    return replace(side, hazards=tuple(every))


def _noticed(facts: Mapping[str, Fact]) -> frozenset[str]:
    """Return the findings that are there in the batch, by words or by the log."""
    heads = ("said.", "finding.")
    present = (name for name, fact in facts.items() if fact.plain == "present")
    return frozenset(name.split(".", 1)[1] for name in present if name.startswith(heads))


def fault_changes(
    knowledge: KnowledgeBase,
    before: Forecast,
    after: Forecast,
    known: Forecast | None = None,
    noticed: Collection[str] = (),
) -> tuple[FaultChange, ...]:
    """Return every fault with its chance before and after, the largest difference first.

    `known` is the change with nothing taken out of the log: no chance is lower than with it.
    `noticed` are the findings that are there in the real batch.
    """

    def worse(name: str) -> Forecast:
        lower = known is not None and after.of_finding(name) < known.of_finding(name)
        return known if known is not None and lower else after

    found = [
        replace(_fault(knowledge, name, before, worse(name)), noticed=name in noticed)
        for name in before.findings
    ]
    return tuple(sorted(found, key=lambda fault: -abs(fault.after - fault.before)))


def _fault(
    knowledge: KnowledgeBase, finding: str, before: Forecast, after: Forecast
) -> FaultChange:
    old, new = before.of_finding(finding), after.of_finding(finding)
    column = before.findings.index(finding)
    was = dict(zip(before.causes, before.made_by_cause[:, column], strict=True))
    now = dict(zip(after.causes, after.made_by_cause[:, column], strict=True))
    gaps = {name: float(now.get(name, 0.0) - was.get(name, 0.0)) for name in knowledge.causes}
    sign = 1 if new >= old else -1
    order = sorted(gaps, key=lambda name: -sign * gaps[name])
    total = sum(max(sign * gap, 0.0) for gap in gaps.values())
    least = knowledge.constant("whatif_carried_share") * total
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
        if total > 0 and sign * gaps[name] >= least
    )
    label = knowledge.findings[finding].label
    return FaultChange(finding, label, old, new, carried, _noticeable(knowledge, old, new))


def _noticeable(knowledge: KnowledgeBase, old: float, new: float) -> bool:
    gap = abs(new - old)
    share = knowledge.constant("whatif_noticeable_share") * min(old, new)
    return gap >= max(knowledge.constant("whatif_noticeable_chance"), share)


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
            kind, name, state = key
            if not came and kind == "finding" and any(other[1] == name for other in others):
                continue  # told as the finding that came in another state
            causes = []
            for cause in _causes_of(work, kind, name):
                was, now = _chance(before, cause), _chance(after, cause)
                if abs(was - now) >= 0.001:
                    causes.append((cause, knowledge.causes[cause].label, was, now))
            label = _label(knowledge, kind, name)
            causes.sort(key=lambda item: -abs(item[3] - item[2]))
            turns.append(
                Turn(
                    name,
                    label,
                    came,
                    kind,
                    state or "present",
                    tuple(side.reasons.get(name, ())),
                    tuple(causes),
                )
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


def _left_out(batch: Batch, changes: Sequence[Change]) -> tuple[str, ...]:
    """Return what of the log was left out, and why the readings say nothing any more."""
    found: list[str] = []
    seen = sum(isinstance(entry, (Observation, Outcome)) for entry in batch.log)
    if seen:
        lines = "line" if seen == 1 else "lines"
        found.append(
            f"{seen} {lines} of what was seen, smelled, tasted or turned out: made by the old way"
        )
    if any(
        isinstance(entry, GravityReading) and entry.of == "opened bottle" for entry in batch.log
    ):
        found.append("the gravity of opened bottles: made by the old way")
    bottled = any(isinstance(entry, Bottling) for entry in batch.log)
    readings = any(isinstance(entry, GravityReading) for entry in batch.log)
    if bottled and readings and any(change.course for change in changes):
        found.append(
            "the gravities after pitching, for the pressure: another fermentation would have"
            " given others"
        )
    return tuple(found)


def _label(knowledge: KnowledgeBase, kind: str, name: str) -> str:
    if kind == "context":
        return knowledge.contexts[name].label
    return (knowledge.findings if kind == "finding" else knowledge.causes)[name].label
