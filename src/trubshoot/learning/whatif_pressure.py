"""Gas and pressure under a changed practice: nothing unknown makes an upper value lower."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from trubshoot.batch import Batch
from trubshoot.diagnosis import Diagnostician
from trubshoot.evidence import collect
from trubshoot.evidence.model import BottleOutlook, PressureAt
from trubshoot.learning.changes import Change
from trubshoot.learning.sides import Predicted, Side, predict, with_prediction, without_outcomes


def changed_outlook(
    work: Diagnostician,
    new: Batch,
    now: datetime,
    changes: Sequence[Change],
    before: Side,
    after: Side,
    predicted: Predicted | None,
    known: Side | None,
) -> tuple[BottleOutlook | None, bool]:
    """Return the gas and pressure under the change, and whether an upper pressure was kept up.

    Readings that belong to another fermentation do not speak for the new one, so it is reckoned
    from the expected end; the upper value stays at least what those readings give. What was only
    taken out of the log (`known`: the change with it) lowers no pressure, nor does an earlier
    bottling, before which fewer readings lie.
    """
    look = after.outlook
    floor: list[BottleOutlook | None] = []
    course = any(change.course for change in changes)
    moved = sum(change.moved_days for change in changes)
    if predicted is not None and course:
        read = predict(work, new, after.evidence, with_readings=True) if moved else None
        by_readings = new if read is None else with_prediction(new, read)
        floor.append(_outlook_of(work, by_readings, now))
        look = _outlook_of(work, with_prediction(new, predicted), now)
    if moved < 0:
        floor.append(before.outlook)
    if known is not None:
        floor.append(known.outlook)
    kept = False
    for other in floor:
        if look is not None and other is not None:
            look, raised = _at_least(look, other)
            kept = kept or raised
    return look, kept


def _outlook_of(work: Diagnostician, batch: Batch, now: datetime) -> BottleOutlook | None:
    told = without_outcomes(batch)
    return collect(told, work.knowledge, lambda: work.lexicon, now).outlook


def _at_least(look: BottleOutlook, other: BottleOutlook) -> tuple[BottleOutlook, bool]:
    """Return an outlook whose upper values are no lower than those of another."""
    others = {point.place: point for point in other.pressures}
    raised = False
    points = []
    for point in look.pressures:
        twin = others.get(point.place)
        if twin is not None and twin.upper_bar > point.upper_bar:
            raised = True
            band = twin.upper_band
            point = replace(point, upper_bar=twin.upper_bar, upper_band=band)
        points.append(point)
    upper = max(look.upper_vols, other.upper_vols)
    return replace(look, pressures=tuple(points), upper_vols=upper), raised


def pressures_beside(
    before: BottleOutlook | None, after: BottleOutlook | None
) -> tuple[tuple[PressureAt | None, PressureAt | None], ...]:
    """Return the pressures of both sides place by place."""
    old = {point.place: point for point in before.pressures} if before is not None else {}
    new = {point.place: point for point in after.pressures} if after is not None else {}
    places = dict.fromkeys([*old, *new])
    return tuple((old.get(place), new.get(place)) for place in places)
