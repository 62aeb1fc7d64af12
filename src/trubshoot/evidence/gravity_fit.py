"""A curve through the readings, with what was expected: where the gravity is and where it ends."""

from __future__ import annotations

from dataclasses import dataclass

from trubshoot.batch import Batch
from trubshoot.errors import OutOfRangeError
from trubshoot.evidence.model import Evidence
from trubshoot.evidence.words import resolve
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.physics.curve import CurveFit, fit_gravity_curve, half_time_hours

_DRAWS = 100_000
_LEAST = 3  # readings, the one at pitching included
_DRAWN = 30  # pieces of a drawn curve
_LONGEST_DRAWN = 1.5  # past the last reading and the usual end a curve only runs flat
# constants, and the temperatures they are given for
_HALF_TIMES = {
    "ale": ("half_time_ale_20c_h", 20.0),
    "lager": ("half_time_lager_10c_h", 10.0),
    "kveik": ("half_time_kveik_h", 35.0),
}


@dataclass(frozen=True)
class GravityFit:
    """The curve, and on how many readings it rests; `why_not` says why there is none."""

    fit: CurveFit | None
    readings: int
    why_not: str = ""


def gravity_fit(
    batch: Batch, evidence: Evidence, knowledge: KnowledgeBase, *, drawn: bool = False
) -> GravityFit:
    """Return the fitted curve, worked out only when it is asked for (100 000 draws).

    Args:
        batch, evidence, knowledge: the batch, what was worked out from it, and the tables.
        drawn: whether the curve is wanted day by day, for a figure; its numbers are the same.
    """
    started = any(reading.day is not None and reading.day <= 0.25 for reading in evidence.readings)
    after = _after_pitching(evidence)
    count = len(after) + started
    if evidence.og_points is None or evidence.expected_end is None:
        return GravityFit(None, count, "the starting gravity is not known")
    if not started or count < _LEAST:
        return GravityFit(None, count, "fewer than three readings with the one at pitching")
    days = _days_to_draw(after[-1][0], evidence) if drawn else ()
    return _fit(batch, evidence, knowledge, after, count, tuple(days))


def gravity_on_day(
    batch: Batch, evidence: Evidence, knowledge: KnowledgeBase, day: float, *, with_readings: bool
) -> GravityFit:
    """Return the curve with the gravity of one day, where the log has no reading of it.

    Args:
        batch, evidence: the batch and what is worked out from it.
        knowledge: half times of the yeasts.
        day: days since pitching.
        with_readings: False where they belong to another way of brewing: then the curve rests on
            start, expected end and temperature alone.
    """
    after = _after_pitching(evidence) if with_readings else []
    if evidence.og_points is None or evidence.expected_end is None:
        return GravityFit(None, len(after), "the starting gravity is not known")
    return _fit(batch, evidence, knowledge, after, len(after), (min(max(day, 0.0), 400.0),))


def _after_pitching(evidence: Evidence) -> list[tuple[float, float, float]]:
    return [
        (reading.day, reading.points, reading.sigma_points)
        for reading in evidence.readings
        if reading.day is not None and reading.day > 0.25
    ]


def _fit(
    batch: Batch,
    evidence: Evidence,
    knowledge: KnowledgeBase,
    after: list[tuple[float, float, float]],
    count: int,
    at_days: tuple[float, ...],
) -> GravityFit:
    # without readings every draw counts alike, so that fewer of them do
    draws = _DRAWS if after else _DRAWS // 5
    og, end = evidence.og_points or 0.0, evidence.expected_end
    assert end is not None
    row_id = resolve(batch.yeast.strain_class, knowledge.yeast_classes)
    row = knowledge.yeast_classes[row_id or "bread_or_unknown_kit_sachet"]
    name, at_c = _HALF_TIMES[row.pace]
    temp = evidence.facts.get("beer_temp_mean_c")
    beer_c = temp if isinstance(temp, float) else at_c
    try:
        hours = half_time_hours(knowledge.constant(name), at_c, min(max(beer_c, 0.0), 45.0))
        fit = fit_gravity_curve(
            [day for day, _, _ in after],
            [1 + points / 1000 for _, points, _ in after],
            1 + og / 1000,
            1 + min(end.points, og - 3) / 1000,
            min(max(end.sigma_points, 0.3), 15.0),
            min(max(hours, 4.0), 800.0),
            at_days=at_days,
            draws=draws,
            reading_sigma_points=min(max(0.3, *(sigma for _, _, sigma in after), 0.3), 5.0),
        )
    except OutOfRangeError as error:
        return GravityFit(None, count, str(error))
    if not fit.fits:
        return GravityFit(
            None,
            count,
            "no ordinary fermentation passes through these readings (a stall, layered wort or a"
            " misread gravity may be why)",
        )
    return GravityFit(fit, count)


def _days_to_draw(last: float, evidence: Evidence) -> list[float]:
    """Return the days of a drawn curve: to the last reading, the usual end, or bottling or today.

    They stand closer together at first, where the gravity falls fast.
    """
    usual = evidence.facts.get("expected_days_to_end")
    age = evidence.facts.get("days_since_pitch")
    end = max(last, usual if isinstance(usual, float) else 0.0)
    bottled = evidence.facts.get("days_since_bottling")
    if isinstance(age, float):
        age -= bottled if isinstance(bottled, float) else 0.0
        end = max(end, min(age, _LONGEST_DRAWN * end))
    return [end * (step / _DRAWN) ** 1.5 for step in range(_DRAWN + 1)]
