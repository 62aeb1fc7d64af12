"""Before brew day: the faults this process is most likely to make, and what lowers each cheaply."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from trubshoot.batch import Batch
from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.advice import forbidden_by
from trubshoot.diagnosis.bottling_report import relevant
from trubshoot.diagnosis.network import FindingState
from trubshoot.evidence.model import Missing
from trubshoot.knowledge_base.changes import ProcessChange
from trubshoot.knowledge_base.schema import When
from trubshoot.learning.brew_card import BrewCard, CardNumbers, card_numbers
from trubshoot.learning.changes import apply_changes
from trubshoot.learning.draft import Draft
from trubshoot.learning.forward import Forecast, Practice, forecast
from trubshoot.learning.sides import Side, side_of
from trubshoot.rules import Fact
from trubshoot.rules.conditions import compile_rule
from trubshoot.rules.oracle import OracleEngine
from trubshoot.safety import HazardBlock, Level, overall_level

FAULTS_SHOWN = 5
_CAUSES_SHOWN = 3
_MONEY = ("nothing", "little", "some", "much")


@dataclass(frozen=True)
class Proposal:
    """A change that lowers a fault, with the chance that the process makes it before and after."""

    id: str
    label: str  # {names} still to be filled in
    minutes: float
    money: str
    before: float
    after: float
    sources: tuple[str, ...]


@dataclass(frozen=True)
class PlannedFault:
    """A fault that this process is likely to make; chance counts only causes that are faults."""

    finding: str
    label: str
    chance: float
    made_by: tuple[tuple[str, str, str, float], ...]  # (cause, label, label of its step, share)
    cheapest: Proposal | None
    best: Proposal | None  # when another change lowers it clearly more


@dataclass(frozen=True)
class BrewPlan:
    """Everything `plan` shows."""

    batch: str
    asked_at: datetime
    brew_day: datetime
    hazards: tuple[HazardBlock, ...]
    level: Level
    pitched: bool
    faults: tuple[PlannedFault, ...]
    card: BrewCard
    missing: tuple[Missing, ...]
    likelier: tuple[tuple[str, tuple[str, ...]], ...]  # circumstances known to raise a cause, why
    engine: str
    engine_faults: tuple[str, ...]  # where the two rule engines differed: the safer answer counts
    knowledge_version: str


def brew_plan(work: Diagnostician, draft: Draft, now: datetime, brew_day: datetime) -> BrewPlan:
    """Return the most likely faults of a process with changes for each, and the brew-day card.

    Args:
        work: the knowledge made ready.
        draft: the batch file in memory; it is left as it is.
        now: the moment of asking.
        brew_day: when the yeast is to go in.
    """
    batch = draft.read()
    _, opinion, blocks, _ = work.bottling(batch, now)
    side = side_of(work, batch, now, with_age=False)
    numbers = card_numbers(batch, side.evidence, work.knowledge, brew_day)
    facts = side.evidence.facts
    lists = work.knowledge.checklists
    return BrewPlan(
        batch=batch.name,
        asked_at=now,
        brew_day=brew_day,
        hazards=blocks,
        level=overall_level(blocks),
        pitched=batch.timeline(now).pitched,
        faults=_faults(work, draft, batch, now, side, numbers, blocks),
        card=BrewCard(
            numbers,
            relevant(lists["brew_day"], facts),
            relevant(lists["brew_day_cautions"], facts),
        ),
        missing=side.evidence.missing,
        likelier=_likelier(work, side),
        engine=opinion.engine,
        engine_faults=opinion.faults,
        knowledge_version=work.knowledge.version,
    )


def brew_day_of(batch: Batch, now: datetime) -> datetime:
    """Return when the yeast went in, else now."""
    timeline = batch.timeline(now)
    return timeline.zero_at if timeline.pitched and timeline.zero_at is not None else now


def made_by_faults(
    work: Diagnostician, shown: Forecast
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return the chance that causes which are faults make each finding; normal beer left out."""
    causes = work.knowledge.causes
    rows = [row for row, name in enumerate(shown.causes) if causes[name].kind == "fault"]
    made: np.ndarray[tuple[int], np.dtype[np.float64]] = 1 - np.prod(
        1 - shown.made_by_cause[rows], axis=0
    )
    return made


def _likelier(work: Diagnostician, side: Side) -> tuple[tuple[str, tuple[str, ...]], ...]:
    knowledge = work.knowledge
    raising = [
        name
        for name in side.practice.contexts
        if any(odds > 1 for _, odds in work.base.modifiers.get(name, ()))
    ]
    return tuple((knowledge.contexts[name].label, side.reasons.get(name, ())) for name in raising)


def _faults(
    work: Diagnostician,
    draft: Draft,
    batch: Batch,
    now: datetime,
    side: Side,
    numbers: CardNumbers,
    blocks: tuple[HazardBlock, ...],
) -> tuple[PlannedFault, ...]:
    shown = side.forecast
    banned = forbidden_by(work.knowledge, blocks, at_bottles=True)
    made = made_by_faults(work, shown)
    order = sorted(range(len(made)), key=lambda place: -made[place])[:FAULTS_SHOWN]
    names = tuple(shown.findings[place] for place in order)
    tried = {
        key: made_by_faults(work, forecast(work.knowledge, work.base, practice, names))
        for key, practice in _practices(work, draft, now, side, numbers).items()
        if work.knowledge.changes[key].action not in banned
    }
    least = work.knowledge.constant("plan_least_fall_share")
    better = work.knowledge.constant("plan_better_by")
    found = []
    for place, name in enumerate(names):
        before = float(made[order[place]])
        proposals = [
            _proposal(key, work.knowledge.changes[key], before, float(after[place]))
            for key, after in tried.items()
            if after[place] <= (1 - least) * before
        ]
        cheapest = min(proposals, key=_cost, default=None)
        best = min(proposals, key=lambda item: item.after, default=None)
        if best is not None and cheapest is not None:
            saved, most = before - cheapest.after, before - best.after
            best = best if best.id != cheapest.id and most >= better * saved else None
        label = work.knowledge.findings[name].label
        found.append(
            PlannedFault(name, label, before, _made_by(work, shown, order[place]), cheapest, best)
        )
    return tuple(found)


def _cost(item: Proposal) -> tuple[int, float, float]:
    return _MONEY.index(item.money), item.minutes, item.after


def _proposal(key: str, row: ProcessChange, before: float, after: float) -> Proposal:
    return Proposal(key, row.label, row.minutes, row.money, before, after, row.sources)


def _made_by(
    work: Diagnostician, shown: Forecast, column: int
) -> tuple[tuple[str, str, str, float], ...]:
    causes, steps = work.knowledge.causes, work.knowledge.steps
    pairs = [
        (name, float(shown.made_by_cause[row, column]))
        for row, name in enumerate(shown.causes)
        if causes[name].kind == "fault"
    ]
    pairs.sort(key=lambda pair: -pair[1])
    return tuple(
        (name, causes[name].label, steps[causes[name].step].label, share)
        for name, share in pairs[:_CAUSES_SHOWN]
        if share >= 0.2 * pairs[0][1]
    )


def _practices(
    work: Diagnostician, draft: Draft, now: datetime, side: Side, numbers: CardNumbers
) -> Mapping[str, Practice]:
    """Return the practice under every change that concerns this plan and alters it."""
    practices: dict[str, Practice] = {}
    for key, row in work.knowledge.changes.items():
        if row.when is not None and not _holds(row.when, side):
            continue
        if row.unless is not None and _holds(row.unless, side):
            continue
        practice = _changed(work, draft, now, side, numbers, row)
        if practice != side.practice:
            practices[key] = practice
    return practices


def _holds(when: When, side: Side) -> bool:
    rule = compile_rule("plan", when.all, when.any, when.none, "item.plan")
    facts = {name: Fact.of(value) for name, value in side.evidence.facts.items()}
    return bool(OracleEngine([rule]).run(facts).firings)


def _changed(
    work: Diagnostician,
    draft: Draft,
    now: datetime,
    side: Side,
    numbers: CardNumbers,
    row: ProcessChange,
) -> Practice:
    practice = side.practice
    if row.change:
        texts = [text.format_map(expression_numbers(numbers)) for text in row.change]
        batch, _ = apply_changes(copy.deepcopy(draft), texts, lambda _: False)
        practice = side_of(work, batch, now, with_age=False).practice
    contexts = [name for name in practice.contexts if name not in row.go]
    contexts += [name for name in row.come if name not in contexts]
    findings = [state for state in practice.findings if state.id not in row.absent]
    findings += [FindingState(name, 1.0, 0.0, "log") for name in row.absent]
    return replace(practice, contexts=tuple(contexts), findings=tuple(findings))


def expression_numbers(numbers: CardNumbers) -> dict[str, str]:
    """Return what {names} in a change stand for, as the batch reader reads them."""
    return {
        "pitch_at": f"{numbers.pitch_aim_c:g} C",
        "ferment_at": f"{numbers.ferment_aim_c:g} C",
        "yeast_amount": f"{numbers.yeast_g or 0:.0f} g",
        "sugar_amount": "",
    }
