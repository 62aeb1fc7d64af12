"""The bottling, done or planned: how finished the beer was, and when."""

from __future__ import annotations

import math

from trubshoot.batch.model import Bottling, Storage
from trubshoot.evidence.bench import Bench
from trubshoot.evidence.bottles import bottle_class, contradictions, storage
from trubshoot.evidence.course import plateau, standing
from trubshoot.evidence.model import Reading
from trubshoot.evidence.outlook import outlook
from trubshoot.evidence.words import tokens
from trubshoot.units import DAYS_PER_MONTH


def bottling(bench: Bench) -> None:
    """Set the facts about bottling, done or planned, the bottles, and their storage."""
    found = bench.bottling
    bench.state("bottled", True if found is not None else None)
    disposed = [
        deed
        for _, deed in bench.deeds("disposed")
        if {"all", "every"} & set(tokens(f"{deed.what or ''} {deed.words}"))
    ]
    bench.state("disposed_all", True if disposed else None)
    if found is None:
        started = bench.timeline.pitched or bool(bench.readings)
        bench.state("not_bottled", True if started else None)
        plan = bench.batch.plan
        entry = plan.bottling if plan is not None else None
        row_id, row = bottle_class(bench, entry)
        if entry is not None:
            bench.state("bottling_planned", True)
            contradictions(bench, entry)
        said = entry is not None or bench.batch.storage != Storage() or bench.deeds("stored")
        hottest = storage(bench, None) if said else bench.constant("storage_max_unknown_c")
        outlook(bench, entry, row, row_id, _last_before(bench, None), hottest)
        return
    day, entry = found
    row_id, row = bottle_class(bench, entry)
    if day is not None:
        if bench.pitched_at_zero:
            bench.number("days_pitch_to_bottling", max(day, 0.0))
            bench.number("months_before_bottling", max(day, 0.0) / DAYS_PER_MONTH)
        if bench.now is not None:
            in_bottle = max(bench.now - day, 0.0)
            bench.number("days_since_bottling", in_bottle)
            bench.number("conditioning_days", in_bottle)
            bench.number("months_in_bottle", in_bottle / DAYS_PER_MONTH)
    before = _predicted(bench, entry, day) or _at_bottling(bench, day)
    outlook(bench, entry, row, row_id, before, storage(bench, day))


def _predicted(bench: Bench, entry: Bottling, day: float | None) -> Reading | None:
    """Return the gravity worked out for a bottling that was moved; None for one that was done.

    It is no reading: what is said of readings before bottling stays as it was logged.
    """
    points, sigma = entry.predicted_points, entry.predicted_sigma_points
    if points is None or sigma is None:
        return None
    _at_bottling(bench, day)
    if bench.end is not None:
        above = points - bench.end.points
        bench.number("points_above_expected_end_at_bottling", above)
        spread = math.hypot(sigma, bench.end.sigma_points)
        bench.number("z_above_expected_end_at_bottling", above / spread)
    return Reading(day, 1 + points / 1000, points, sigma, "predicted")


def _last_before(bench: Bench, day: float | None) -> Reading | None:
    """Return where the gravity stands, as it is held against the end; None without a reading."""
    before = bench.fermenting_readings(day)
    return standing(before, bench.constant("gate_equal_points")) if before else None


def _at_bottling(bench: Bench, day: float | None) -> Reading | None:
    """Return where the gravity stood before bottling; sets how finished the beer was."""
    before = bench.fermenting_readings(day)
    bench.number("readings_before_bottling", len(before))
    recent = [reading for reading in before if day is None or (reading.day or 0.0) >= day - 7]
    bench.state("bottled_without_reading", True if not recent else None)
    if not recent:
        bench.lacks(
            "gravity in the week before bottling",
            "not finished",
            "whether it goes on fermenting in the bottles",
        )
    if not before:
        return None
    flat = plateau(before, bench.constant("gate_equal_points"))
    if len(flat) >= 2:
        span = (flat[-1].day or 0.0) - (flat[0].day or 0.0)
        bench.number("days_unchanged_at_bottling", span)
    last = standing(before, bench.constant("gate_equal_points"))
    if bench.end is not None:
        bench.number("points_above_expected_end_at_bottling", last.points - bench.end.points)
        bench.number("z_above_expected_end_at_bottling", bench.get("z_above_expected_end"))
    return last
