"""The classes of bottles with the volumes at which they reach their limit."""

from __future__ import annotations

import math
from dataclasses import dataclass

from trubshoot.errors import OutOfRangeError
from trubshoot.evidence.outlook import danger_bar_at
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.physics.bottle import vols_at_gauge_bar

TEMPS_C = (20.0, 25.0, 30.0, 40.0)


@dataclass(frozen=True)
class ClassRow:
    """One class of bottles."""

    id: str
    label: str
    how_to_tell: str
    rated: bool
    rating_bar: float
    danger_bar: float
    danger_hot_bar: float
    limit_vols: tuple[tuple[float, float], ...]  # (deg C, volumes that reach the danger limit)
    sources: tuple[str, ...]
    basis: str

    @property
    def weaker_hot(self) -> bool:
        """Tell whether the limit is lower in the heat."""
        return self.danger_hot_bar < self.danger_bar


def bottle_classes(knowledge: KnowledgeBase) -> tuple[ClassRow, ...]:
    """Return every class, weakest first as the knowledge has them; volumes rounded down."""
    rows = []
    share = knowledge.constant("headspace_share")
    for key, row in knowledge.bottles.items():
        limits = []
        for temp in TEMPS_C:
            try:
                vols = vols_at_gauge_bar(danger_bar_at(row, temp), temp, share, swelling=True)
            except OutOfRangeError:
                continue
            limits.append((temp, math.floor(10 * vols + 1e-6) / 10))
        rows.append(
            ClassRow(
                key,
                row.label,
                row.how_to_tell,
                row.pressure_rated,
                row.rating_bar,
                danger_bar_at(row, TEMPS_C[0]),
                danger_bar_at(row, TEMPS_C[-1]),
                tuple(limits),
                row.sources,
                row.basis,
            )
        )
    return tuple(rows)
