"""Pressure in the sealed bottles against temperature, beside what their class is trusted with."""

from __future__ import annotations

from dataclasses import dataclass

from trubshoot.errors import OutOfRangeError
from trubshoot.evidence.model import BottleOutlook, PressureAt
from trubshoot.evidence.outlook import danger_bar_at, sealed_bars
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.physics.bottle import TEMP_HIGH_C

_STEP_C = 2.5


@dataclass(frozen=True)
class PressureRow:
    """Pressures at one temperature [bar gauge]: the bottles' own, and the danger limit there."""

    temp_c: float
    middle_bar: float
    upper_bar: float  # 95 %
    danger_bar: float


@dataclass(frozen=True)
class PressureCurve:
    """The curve from 0 C to the end of the model, and the two temperatures that matter.

    The values are those at rest, when everything that may ferment has: what is not known stands at
    its worse end. `rating_bar` is for CO2 alone at 20 C.
    """

    rows: tuple[PressureRow, ...]
    rating_bar: float
    today: PressureAt  # where the bottles stand; at 20 C when that is not written down
    today_known: bool
    hottest: PressureAt  # the hottest credible day
    danger_hottest_bar: float


def pressure_curve(look: BottleOutlook, knowledge: KnowledgeBase) -> PressureCurve | None:
    """Return the curve; None where the model gives no pressure."""
    row = knowledge.bottles[look.basis.bottle_class]
    usual = knowledge.constant("headspace_share")
    places = {point.place: point for point in look.pressures}
    try:
        rows = []
        for step in range(int(TEMP_HIGH_C / _STEP_C) + 1):
            temp = step * _STEP_C
            middle, upper = sealed_bars(
                look.basis, look.expected_vols, look.upper_vols, temp, usual
            )
            rows.append(PressureRow(temp, middle, upper, danger_bar_at(row, temp)))
    except OutOfRangeError:
        return None
    return PressureCurve(
        rows=tuple(rows),
        rating_bar=look.basis.rating_bar,
        today=places.get("storage", places["reference"]),
        today_known="storage" in places,
        hottest=places["hottest"],
        danger_hottest_bar=look.basis.danger_bar,
    )
