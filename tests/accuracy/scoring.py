"""How right the ranking is on real cases: top-1/3/5 with intervals, by stage, and the misses."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import yaml
from tests.shared_tables import shared

SCORED = ("strong", "medium")
NOT_THERE = 999


@dataclass(frozen=True)
class RealCase:
    """One case: what was reported, the blind encoding, and the diagnosis reached."""

    id: str
    encoded: dict[str, Any]
    facts: dict[str, Any]
    accept: tuple[str, ...]
    secondary: tuple[str, ...]
    strength: str
    hazard: str
    words: str

    @property
    def scored(self) -> bool:
        """Tell whether the case counts: a firm diagnosis that the knowledge can name."""
        return self.strength in SCORED and bool(self.accept)

    @property
    def stage(self) -> str:
        """Return how far the batch had come."""
        if self.facts.get("days_in_bottle") or self.facts.get("bottled") or "bottle" in self.words:
            return "bottled"
        return "fermenting"


def real_cases() -> list[RealCase]:
    """Return all real cases of the shared folder."""
    loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
    rows = yaml.load(shared("cases/real_cases.yaml").read_text(encoding="utf-8"), Loader=loader)
    return [
        RealCase(
            row["id"],
            row["encoded"],
            row["facts"],
            tuple(row["diagnosis"]["accept"]),
            tuple(row["diagnosis"]["secondary"]),
            row["diagnosis"]["strength"],
            row["diagnosis"]["hazard"],
            row["report"].lower(),
        )
        for row in rows
    ]


def wilson(hits: int, count: int) -> tuple[float, float]:
    """Return the 95 % interval of a share (Wilson 1927)."""
    if not count:
        return 0.0, 1.0
    z, share = 1.96, hits / count
    middle = share + z * z / (2 * count)
    spread = z * math.sqrt(share * (1 - share) / count + z * z / (4 * count * count))
    scale = 1 + z * z / count
    return max(0.0, (middle - spread) / scale), min(1.0, (middle + spread) / scale)


@dataclass
class Score:
    """Places of the right cause over a set of cases."""

    name: str
    places: dict[str, int] = field(default_factory=dict)

    def share(self, within: int) -> tuple[int, int]:
        """Return (cases with the right cause within the first places, all cases)."""
        return sum(place < within for place in self.places.values()), len(self.places)

    def line(self) -> str:
        """Return one line with top-1, top-3 and top-5."""
        parts = []
        for within in (1, 3, 5):
            hits, count = self.share(within)
            low, high = wilson(hits, count)
            parts.append(f"top-{within} {_percent(hits, count)} ({low:.0%}-{high:.0%})")
        return f"{self.name:<42} n={len(self.places):>3}  " + "  ".join(parts)


def _percent(hits: int, count: int) -> str:
    return f"{hits}/{count} = {hits / count:.1%}" if count else "-"


def place_of(order: Sequence[str], accept: Sequence[str]) -> int:
    """Return the place (from 0) of the first acceptable cause."""
    return min((order.index(cause) for cause in accept if cause in order), default=NOT_THERE)
