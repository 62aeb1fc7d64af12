"""Everything that is said of a whole cellar, gathered from the looks at its files."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.learning.cellar import Look, PassedOver, Seen, Unusable
from trubshoot.learning.cellar_sums import Calibration, StepSum, by_step, calibration
from trubshoot.safety import HazardBlock, Level

_LONG_AGO = date.min


@dataclass(frozen=True)
class CellarHazard:
    """One hazard with the same steps, and every batch for which it stands."""

    block: HazardBlock  # `because` holds the batches
    batches: tuple[str, ...]  # paths


@dataclass(frozen=True)
class Cellar:
    """A whole cellar: hazards first, then the batches, newest first, and what they say together."""

    folder: str
    asked_at: datetime
    hazards: tuple[CellarHazard, ...]  # at WARNING or above, gravest first
    level: Level
    batches: tuple[Look, ...]
    unusable: tuple[Unusable, ...]
    passed_over: tuple[str, ...]
    other_files: int
    steps: tuple[StepSum, ...]
    calibration: Calibration
    knowledge_version: str


def gather(
    folder: str, asked_at: datetime, seen: Iterable[Seen], others: int, knowledge: KnowledgeBase
) -> Cellar:
    """Return the cellar made of what was seen.

    Args:
        folder: how the folder is called.
        asked_at: the moment of asking.
        seen: one for each YAML file, in any order.
        others: how many other files lie there.
        knowledge: steps and causes.
    """
    files = sorted(seen, key=lambda item: item.path)
    looks = [item for item in files if isinstance(item, Look)]
    unusable = [item for item in files if isinstance(item, Unusable)]
    looks.sort(key=lambda look: look.begun or _LONG_AGO, reverse=True)
    hazards = _hazards([*looks, *unusable])
    worst = max((item.block.level for item in hazards), default=Level.NONE)
    return Cellar(
        folder=folder,
        asked_at=asked_at,
        hazards=hazards,
        level=max([worst, *(look.level for look in looks)]),
        batches=tuple(looks),
        unusable=tuple(unusable),
        passed_over=tuple(item.path for item in files if isinstance(item, PassedOver)),
        other_files=others,
        steps=tuple(by_step(looks, knowledge)),
        calibration=calibration(looks, knowledge),
        knowledge_version=knowledge.version,
    )


def _hazards(files: Sequence[Look | Unusable]) -> tuple[CellarHazard, ...]:
    """Return the hazards of all files; those with the same words and steps stand together."""
    blocks: dict[tuple[object, ...], HazardBlock] = {}
    names: dict[tuple[object, ...], list[tuple[str, str]]] = {}
    for item in files:
        for block in item.hazards:
            key = (block.level, block.hazard, block.consequence, block.avoid, block.gate_why)
            blocks.setdefault(key, block)
            names.setdefault(key, []).append((getattr(item, "name", ""), item.path))
    found = [
        CellarHazard(
            replace(
                block,
                because=tuple(f"{name} ({path})" if name else path for name, path in names[key]),
                unknown=(),
            ),
            tuple(path for _, path in names[key]),
        )
        for key, block in blocks.items()
    ]
    return tuple(sorted(found, key=lambda item: -item.block.level))
