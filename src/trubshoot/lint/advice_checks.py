"""Checks of the advice of causes: whole, mildest first, measured before anything is added."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import pairwise
from typing import get_args

from trubshoot.diagnosis.next_check import STAGES
from trubshoot.knowledge_base.advice_schema import Action, AdviceStep
from trubshoot.knowledge_base.schema import Cause
from trubshoot.lint.remarks import Remark, Subject

PLACES = ("brewing", "fermenting", "bottled", "serving", "any")
MILDNESS = {action: rank for rank, action in enumerate(get_args(Action))}
ADDED = ("add_yeast", "add_sugar")  # never before a reading (dossier on faults, section 7)
READING = re.compile(r"\b(?:read|reads|reading|readings|gravity|forced test)\b")
FREE = (None, "wait", "taste")  # these may stand anywhere
AROUND = {"fermenting": ("lag", "active", "late_fermentation"), "bottled": STAGES["bottled"]}
NOTICED = 0.2  # a link from here on brings a cause up; judgement


def not_whole(subject: Subject) -> Iterator[Remark]:
    """A01: advice without what not to do, when to stop, what it costs, or a habit for next time."""
    for cause in subject.knowledge.causes.values():
        missing = [] if cause.avoid else ["what not to do (`avoid`)"]
        missing += [] if cause.next_time.strip() else ["a habit (`next_time`)"]
        for stage in STAGES:
            if _own_steps(cause, stage):
                missing += [
                    f"`{name}` for '{stage}'"
                    for name in ("stop", "cost")
                    if not getattr(cause, name).for_stage(stage)
                ]
        if missing:
            yield Remark(
                *subject.at_entry("causes", cause.id, "now"),
                "A01",
                f"the advice lacks {', '.join(missing)}.",
                "Write it; a brewer has to know when to give up and what it takes.",
            )


def _own_steps(cause: Cause, stage: str) -> bool:
    own = getattr(cause.now, stage) or (stage != "brewing" and cause.now.any)
    return bool(own or (stage == "bottled" and cause.now.serving))


def wrong_stage(subject: Subject) -> Iterator[Remark]:
    """A02: a cause that can be noticed at a stage for which it has no steps of its own."""
    findings = subject.knowledge.findings
    for cause in subject.knowledge.causes.values():
        for stage, around in AROUND.items():
            if _own_steps(cause, stage):
                continue
            shows = [
                link.finding
                for link in cause.links
                if link.strength >= NOTICED and set(findings[link.finding].stages) <= {*around}
            ]
            if shows:
                yield Remark(
                    *subject.at_entry("causes", cause.id, "now"),
                    "A02",
                    f"'{shows[0]}' shows it at the stage '{stage}', for which it has no steps.",
                    f"Write `{stage}` under now.",
                )


def strongest_first(subject: Subject) -> Iterator[Remark]:
    """A03: a step that does more to the beer before one that does less."""
    for cause, place, steps in _lists(subject):
        done = [(number, step) for number, step in enumerate(steps) if step.action not in FREE]
        for (_, one), (number, other) in pairwise(done):
            if MILDNESS[str(one.action)] > MILDNESS[str(other.action)]:
                yield Remark(
                    *subject.at_entry("causes", cause.id, "now", place, number),
                    "A03",
                    f"'{one.action}' stands before '{other.action}', which does less harm.",
                    "Put the milder step first.",
                )


def added_unmeasured(subject: Subject) -> Iterator[Remark]:
    """A04: yeast or sugar advised before any reading, once the beer ferments."""
    for cause, place, steps in _lists(subject):
        if place == "brewing":
            continue
        for number, step in enumerate(steps):
            if step.action in ADDED and not any(
                READING.search(earlier.do.lower()) for earlier in steps[: number + 1]
            ):
                yield Remark(
                    *subject.at_entry("causes", cause.id, "now", place, number),
                    "A04",
                    f"'{step.action}' is advised before any reading of the gravity.",
                    "Put the reading before it.",
                )


def _lists(subject: Subject) -> Iterator[tuple[Cause, str, tuple[AdviceStep, ...]]]:
    for cause in subject.knowledge.causes.values():
        for place in PLACES:
            yield cause, place, getattr(cause.now, place)
