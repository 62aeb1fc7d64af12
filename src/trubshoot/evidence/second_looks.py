"""What readings say of a remedy that was tried, and of the instrument that took them."""

from __future__ import annotations

from trubshoot.batch.model import GravityReading
from trubshoot.evidence.bench import Bench
from trubshoot.evidence.model import Reading

_PITCHING_DAYS = 0.25  # up to here a reading belongs to the start
_LEAST_WAIT_DAYS = 0.4  # sooner after a remedy nothing can show


def second_looks(bench: Bench) -> None:
    """Set the facts on remedies and instruments; call after the gravity course is known."""
    _remedy(bench, "remedy", "roused", "warmed", "repitched")
    _remedy(bench, "repitch", "repitched")
    _refractometer(bench)
    _before_pitching(bench)


def _remedy(bench: Bench, name: str, *verbs: str) -> None:
    """Compare the readings before and after the first remedy that has both."""
    placed = [
        reading
        for reading in bench.readings
        if reading.day is not None and reading.day > _PITCHING_DAYS
    ]
    for day, _ in bench.deeds(*verbs):
        if day is None or day <= _PITCHING_DAYS:
            continue
        before = [item for item in placed if _day(item) <= day + 1e-6]
        after = [item for item in placed if _day(item) >= day + _LEAST_WAIT_DAYS]
        if not before or not after:
            continue
        bench.number(f"fall_after_{name}_points", before[-1].points - after[-1].points)
        bench.number(f"days_after_{name}", _day(after[-1]) - day)
        expected = bench.get("expected_days_to_end")
        if expected and bench.pitched_at_zero:
            bench.number(f"{name}_day_over_expected", day / expected)
        return


def _day(reading: Reading) -> float:
    return reading.day if reading.day is not None else 0.0


def _refractometer(bench: Bench) -> None:
    """Tell how far the raw number lies above the gravity, or that no correction holds for it."""
    corrected = [
        reading
        for reading in bench.readings
        if reading.instrument == "refractometer" and _day(reading) > _PITCHING_DAYS
    ]
    taken = [
        entry
        for day, entry in bench.of(GravityReading)
        if entry.of == "batch"
        and entry.instrument == "refractometer"
        and day is not None
        and day > _PITCHING_DAYS
    ]
    if taken and len(corrected) < len(taken):
        bench.state("refractometer_not_convertible", True)
    if not corrected:
        return
    last = corrected[-1]
    raw = (last.raw_sg - 1) * 1000
    bench.number("refractometer_raw_over_gravity_points", raw - last.points)
    if bench.end is not None:
        bench.number("refractometer_raw_above_end_points", raw - bench.end.points)


def _before_pitching(bench: Bench) -> None:
    """Readings of one wort before the yeast goes in should agree."""
    points = [
        reading.points
        for reading in bench.readings
        if reading.day is not None and reading.day <= _PITCHING_DAYS
    ]
    if len(points) >= 2:
        bench.number("gap_before_pitching_points", max(points) - min(points))
