"""The steps of the brew in order: what the log says was done at each, which causes point there."""

from __future__ import annotations

from dataclasses import dataclass

from trubshoot.batch.model import Bottling, Deed
from trubshoot.batch.timeline import Timeline
from trubshoot.diagnosis.result import Diagnosis
from trubshoot.knowledge_base import KnowledgeBase


@dataclass(frozen=True)
class Done:
    """One deed of the log and the day since pitching on which it was done."""

    day: float | None
    deed: Deed | Bottling


@dataclass(frozen=True)
class Pointing:
    """A named cause that belongs to a step."""

    id: str
    label: str
    rank: int  # 1 is the likeliest
    responsibility: float


@dataclass(frozen=True)
class ProcessStep:
    """One step of the brew as it stands for this batch."""

    id: str
    label: str
    what: str
    done: tuple[Done, ...]
    causes: tuple[Pointing, ...]


def process_of(
    knowledge: KnowledgeBase, timeline: Timeline, diagnosis: Diagnosis
) -> tuple[ProcessStep, ...]:
    """Return every step of the brew in order, with its deeds up to now and its named causes."""
    done = [
        Done(item.days, item.entry)
        for item in (*timeline.until_now(), *(one for one in timeline.entries if one.days is None))
        if isinstance(item.entry, (Deed, Bottling)) and item.entry.verb is not None
    ]
    named = [
        (cause.step, Pointing(cause.id, cause.label, rank, cause.responsibility))
        for rank, cause in enumerate(diagnosis.named_causes, 1)
    ]
    return tuple(
        ProcessStep(
            id=step.id,
            label=step.label,
            what=step.what,
            done=tuple(item for item in done if item.deed.verb in step.deeds),
            causes=tuple(pointing for at, pointing in named if at == step.id),
        )
        for step in knowledge.steps.values()
    )
