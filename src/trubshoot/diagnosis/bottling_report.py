"""Everything the commands `bottling` and `bottles` print, as one frozen object."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from trubshoot.batch import Batch
from trubshoot.batch.model import BeerTemperature, GravityReading
from trubshoot.diagnosis.diagnose import Diagnostician
from trubshoot.evidence.bottle_course import BottleCourse, bottle_course
from trubshoot.evidence.gravity_fit import GravityFit, gravity_fit
from trubshoot.evidence.model import Evidence
from trubshoot.evidence.outlook import storage_below_c
from trubshoot.evidence.sugar_table import SugarTable, sugar_table
from trubshoot.evidence.words import resolve
from trubshoot.knowledge_base.schema import Checklist, ChecklistItem
from trubshoot.rules import Fact
from trubshoot.rules.conditions import Rule, compile_rule
from trubshoot.rules.oracle import OracleEngine
from trubshoot.safety import HazardBlock, Level, Reason, Verdict, overall_level

SEARCH_DAYS = 28  # further ahead no reading is planned
_SAMPLE_C = 20.0
_MORE_READINGS = (1, 2, 3)  # how many to try; the rules have the word


@dataclass(frozen=True)
class WayToGo:
    """What would turn HOLD into GO, found by asking the same rules again.

    `readings` more, equal to the latest and taken well, the last of them `days` from now, would
    leave only `left`. `days` is None when no reading shortens the list.
    """

    readings: int
    days: int | None
    on: datetime | None
    points: float | None
    sample_c: float
    left: tuple[Reason, ...]


@dataclass(frozen=True)
class BottlingReport:
    """What is known of a bottling, planned or done."""

    batch: str
    asked_at: datetime
    hazards: tuple[HazardBlock, ...]
    level: Level
    verdict: Verdict | None  # None once it is bottled
    way: WayToGo | None  # None for GO and once it is bottled
    evidence: Evidence
    fit: GravityFit
    sugar: SugarTable | None
    checklist: tuple[ChecklistItem, ...]
    limits: tuple[ChecklistItem, ...]
    opened: tuple[ChecklistItem, ...]
    reasons: tuple[ChecklistItem, ...]  # of the handling steps that stand in a hazard block
    course: BottleCourse | None
    sugar_words: str  # kinds of sugar, as written
    sugar_kind: str | None  # the kind in the knowledge, when there is one
    storage_cap_c: float  # what the report names as the warmest storage
    opened_fall_points: float  # an opened bottle this far down has fermented on
    faults: tuple[str, ...]
    engine: str
    knowledge_version: str


def bottling_report(
    work: Diagnostician, batch: Batch, now: datetime, *, drawn: bool = False
) -> BottlingReport:
    """Return everything about a bottling, planned or done.

    Args:
        work: the knowledge made ready.
        batch: the batch as logged, with its plan.
        now: the moment of asking.
        drawn: whether the fitted curve is wanted day by day, for a figure.
    """
    evidence, opinion, blocks, verdict = work.bottling(batch, now)
    knowledge = work.knowledge
    facts = {name: fact.plain for name, fact in opinion.conclusions.facts.items()}
    bottled = evidence.stage == "bottled"
    level = overall_level(blocks)
    weighed = facts.get("sugar_weighed") == "present"
    kinds = _sugar_kinds(batch)

    def listed(name: str) -> tuple[ChecklistItem, ...]:
        return relevant(knowledge.checklists[name], facts)

    return BottlingReport(
        batch=batch.name,
        asked_at=now,
        hazards=blocks,
        level=level,
        verdict=verdict,
        way=None if verdict is None or verdict.go else way_to_go(work, batch, now, verdict),
        evidence=evidence,
        fit=gravity_fit(batch, evidence, knowledge, drawn=drawn),
        sugar=None
        if bottled or evidence.basis is None
        else sugar_table(evidence.basis, knowledge, weighed),
        checklist=() if bottled else listed("bottling"),
        limits=listed("go_limits") if verdict is not None and verdict.go else (),
        opened=listed("opened_bottle" if level < Level.WARNING else "leave_closed")
        if bottled
        else (),
        reasons=_reasons_of_steps(blocks, knowledge.checklists["handling_reasons"]),
        course=bottle_course(evidence, knowledge),
        sugar_words=" and ".join(kinds) or "sugar",
        sugar_kind=resolve(kinds[0], knowledge.sugars) if len(kinds) == 1 else None,
        storage_cap_c=_storage_cap(work, evidence),
        opened_fall_points=knowledge.constant("opened_bottle_fall_points"),
        faults=opinion.faults,
        engine=opinion.engine,
        knowledge_version=knowledge.version,
    )


def _sugar_kinds(batch: Batch) -> list[str]:
    """Return the kinds of sugar as written, each once."""
    done = batch.bottlings()
    entry = done[-1] if done else batch.plan.bottling if batch.plan is not None else None
    kinds = [sugar.kind for sugar in (entry.sugars or ()) if sugar.kind] if entry else []
    return list(dict.fromkeys(kinds))


def _storage_cap(work: Diagnostician, evidence: Evidence) -> float:
    """Return the warmest storage to name: never above an ordinary hot room, rounded down."""
    knowledge = work.knowledge
    cap = knowledge.constant("storage_max_unknown_c")
    look = evidence.outlook
    if look is None:
        return cap
    row = knowledge.bottles[look.basis.bottle_class]
    below = storage_below_c(look, row, knowledge.constant("headspace_share"))
    return float(math.floor(min(cap, below)))


def _reasons_of_steps(
    blocks: tuple[HazardBlock, ...], reasons: Checklist
) -> tuple[ChecklistItem, ...]:
    """Return why the steps stand in their order: of the kinds of step that a block shows.

    Where handling is withheld its reason is too: what gives it is a block that has a gate.
    """
    gated = [block for block in blocks if block.gated]
    shown = {step.tag for block in gated for step in block.avoid}
    return tuple(item for item in reasons.items if item.tag in shown)


def relevant(checklist: Checklist, facts: Mapping[str, float | str]) -> tuple[ChecklistItem, ...]:
    """Return the lines of a list that concern a batch with these facts, in the list's order.

    The facts are in the units of facts.yaml.
    """
    rules = [_as_rule(item) for item in checklist.items if item.when is not None]
    given = {name: Fact.of(value) for name, value in facts.items()}
    fired = {firing.rule for firing in OracleEngine(rules).run(given).firings}
    return tuple(item for item in checklist.items if item.when is None or item.id in fired)


def _as_rule(item: ChecklistItem) -> Rule:
    when = item.when
    if when is None:
        raise ValueError(item.id)
    return compile_rule(item.id, when.all, when.any, when.none, f"item.{item.id}")


def way_to_go(work: Diagnostician, batch: Batch, now: datetime, verdict: Verdict) -> WayToGo:
    """Return what would turn HOLD into GO, by asking the rules about readings not yet taken.

    The fewest readings, then the earliest day, are sought on which further readings, equal to the
    latest and taken well, leave as few reasons as waiting four weeks would; the date of the report
    is therefore a promise of the very rules that will judge it. The search asks one engine; what it
    finds is asked of both, and is nothing if they do not agree.
    """
    held = verdict.reasons
    evidence = work.bottling(batch, now)[0]
    after = [item for item in evidence.readings if item.day is not None and item.day > 0.25]
    nothing = WayToGo(0, None, None, None, _SAMPLE_C, held)
    if not after or any(reason.kind == "stop" for reason in held):
        return nothing

    def left(readings: int, days: int, *, one_engine: bool = True) -> tuple[Reason, ...]:
        found = _reasons_after(work, batch, now, evidence, days, readings, one_engine=one_engine)
        return held if found is None else found

    goal, needed = len(held), 0
    for readings in _MORE_READINGS:
        count = len(left(readings, SEARCH_DAYS))
        if count < goal:
            goal, needed = count, readings
        if goal == 0:
            break
    if not needed:
        return nothing
    low, high = -1, SEARCH_DAYS
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if len(left(needed, middle)) == goal else (middle, high)
    reasons = left(needed, high, one_engine=False)
    if len(reasons) != goal:
        return nothing
    on = now + timedelta(days=high)
    return WayToGo(needed, high, on, after[-1].points, _scale_c(batch), reasons)


def _scale_c(batch: Batch) -> float:
    return batch.instruments.hydrometer_scale_c or _SAMPLE_C


def _reasons_after(
    work: Diagnostician,
    batch: Batch,
    now: datetime,
    evidence: Evidence,
    days: int,
    readings: int,
    *,
    one_engine: bool,
) -> tuple[Reason, ...] | None:
    """Return the reasons that would remain with further readings; None once it is bottled."""
    shown = evidence.facts.get("hydrometer_water_error_points")
    error = shown if isinstance(shown, float) else 0.0
    latest = [item.points for item in evidence.readings if item.day is not None][-1]
    warmest = evidence.facts.get("plateau_temp_max_c", evidence.facts.get("beer_temp_mean_c"))
    dated = any(entry.at is not None for entry in batch.log)
    start = batch.today_day
    if start is None:
        start = max((entry.day for entry in batch.log if entry.day is not None), default=0.0)
    entries: list[GravityReading | BeerTemperature] = []
    for number in range(1, readings + 1):
        ahead = days * number / readings
        at = now + timedelta(days=ahead) if dated else None
        day = None if dated else start + ahead
        entries.append(
            GravityReading(
                at=at,
                day=day,
                sg=1 + (latest + error) / 1000,
                sample_c=_scale_c(batch),
                instrument="hydrometer",
                degassed=True,
            )
        )
        if isinstance(warmest, float):
            entries.append(BeerTemperature(at=at, day=day, temp_c=warmest))
    asked = batch.model_copy(
        update={
            "log": (*batch.log, *entries),
            "today": None,
            "today_day": None if dated else start + days,
        }
    )
    verdict = work.bottling(asked, now + timedelta(days=days), one_engine=one_engine)[3]
    return None if verdict is None else verdict.reasons
