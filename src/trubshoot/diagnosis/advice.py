"""The advice of each cause for the stage of the batch: what hazards forbid is left out, and what
harms another cause ranked near it is said beside it.

The steps, what each kind of action harms and why are data of the causes (`now`, `avoid`).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from trubshoot.diagnosis.result import NAMED_FROM, AdviceNow, Conflict
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.schema import Cause
from trubshoot.safety import HazardBlock, Level, suppress_tasting

# A cause objects to another's advice when it is not much less likely; judgement: one to four.
NEAR = 0.25


def bottles_suspect(hazards: Collection[HazardBlock]) -> bool:
    """Tell whether bottles may be under too much pressure, so that nobody should handle one."""
    return _suspect("bottles", hazards)


def bottles_watched(hazards: Collection[HazardBlock]) -> bool:
    """Tell whether a hazard of bottles stands that asks for care at opening: CAUTION or above."""
    return any(block.topic == "bottles" and block.level >= Level.CAUTION for block in hazards)


def _suspect(topic: str, hazards: Collection[HazardBlock]) -> bool:
    return any(block.topic == topic and block.level >= Level.WARNING for block in hazards)


def forbidden(
    knowledge: KnowledgeBase, cause: Cause, stage: str, hazards: Collection[HazardBlock]
) -> frozenset[str]:
    """Return the kinds of action that the hazards that stand leave no room for.

    Which they are stands in the knowledge (`forbidden_actions`).
    A log that does not say that the beer was bottled makes nothing milder: advice that a cause has
    for bottles only is held back all the same.
    """
    of_bottles = not (getattr(cause.now, stage, ()) or cause.now.any)
    return forbidden_by(knowledge, hazards, at_bottles=stage == "bottled" or of_bottles)


def forbidden_by(
    knowledge: KnowledgeBase, hazards: Collection[HazardBlock], *, at_bottles: bool
) -> frozenset[str]:
    """Return the kinds of action that hazards leave no room for, at bottles or elsewhere."""
    rows = []
    if bottles_suspect(hazards):
        rows.append("at_suspect_bottles" if at_bottles else "hands_on")
    if _suspect("fermenter", hazards):
        rows.append("at_blocked_fermenter")
    out = {action for row in rows for action in knowledge.forbidden_actions[row].actions}
    return frozenset(out | {"taste"} if suppress_tasting(hazards) else out)


def advise(
    knowledge: KnowledgeBase,
    made: Sequence[tuple[str, float]],
    stage: str,
    hazards: Collection[HazardBlock],
) -> dict[str, AdviceNow]:
    """Return the advice of every cause.

    Args:
        knowledge: the causes, and what hazards forbid.
        made: (cause, chance that it made what was noticed), best first.
        stage: how far the batch has come.
        hazards: the hazard blocks that stand.
    """
    causes = knowledge.causes
    named = [(name, chance) for name, chance in made if chance >= NAMED_FROM]
    out = {}
    for name, chance in made:
        banned = forbidden(knowledge, causes[name], stage, hazards)
        steps = causes[name].now.for_stage(stage)
        kept = [step for step in steps if step.action not in banned]
        withheld = len(steps) - len(kept)
        conflicts = [
            Conflict(step.do, other, causes[other].label, item.why)
            for step in kept
            if step.action is not None
            for other, its_chance in named
            if other != name and its_chance >= NEAR * chance >= NEAR * NAMED_FROM
            for item in causes[other].avoid
            if item.action == step.action and item.holds_at(stage)
        ]
        out[name] = AdviceNow(
            steps=tuple(step.do for step in kept),
            withheld=withheld,
            avoid=tuple(
                (item.dont, item.why) for item in causes[name].avoid if item.holds_at(stage)
            ),
            # when to stop and what it costs belong to the whole of the advice, not to a part
            stop="" if withheld else causes[name].stop.for_stage(stage),
            cost="" if withheld else causes[name].cost.for_stage(stage),
            conflicts=tuple(conflicts),
            confirm="" if causes[name].confirm.action in banned else causes[name].confirm.do,
        )
    return out
