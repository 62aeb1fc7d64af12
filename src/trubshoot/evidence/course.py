"""What the gravity readings say of the fermentation: fall, speed, nearness to the end, plateau."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import pairwise

from trubshoot.errors import OutOfRangeError
from trubshoot.evidence.bench import Bench
from trubshoot.evidence.gravity import forced_test, other_sample, scale_doubt_points
from trubshoot.evidence.handling import late_sugar_day
from trubshoot.evidence.model import Reading
from trubshoot.evidence.temperature import SLACK_C, beer_temperatures_between
from trubshoot.physics import gravity, kinetics

_SLOPE_READINGS = 5  # the latest ones that may make up a straight tail
_SLOPE_SPAN_DAYS = 16.0
_MEAN_READINGS = 3  # equal readings from which their mean counts


def course(bench: Bench) -> None:
    """Set the facts on how the gravity has moved since pitching."""
    end_day = bench.fermenting_end
    after = bench.fermenting_readings(end_day)
    bench.number("gravity_readings", len(after))
    if not after:
        return
    last = after[-1]
    bench.number("last_gravity_points", last.points)
    if end_day is not None and last.day is not None:
        bench.number("last_reading_age_days", max(end_day - last.day, 0.0))
    _against_start(bench, after)
    _against_end(bench, standing(after, bench.constant("gate_equal_points")))
    _steadiness(bench, after)
    jumps = [later.points - earlier.points for earlier, later in pairwise(after)]
    if jumps:
        bench.number("gravity_rise_points", max(0.0, *jumps))
    limit = 21.0 if bench.yeast_class.lager else 14.0
    late = [reading for reading in after if reading.day is not None and reading.day >= limit]
    if len(late) >= 2:
        bench.number("fall_after_day_14_points", late[0].points - late[-1].points)
    _other_samples(bench, last)


def _against_start(bench: Bench, after: list[Reading]) -> None:
    if bench.og_points is None:
        return
    og, last = bench.og_points, after[-1]
    falls = [(reading.day or 0.0, og - reading.points) for reading in after]
    counts = bench.constant("fall_that_counts_points")
    fallen = [day for day, fall in falls if fall >= counts]
    still = [day for day, fall in falls if fall < counts and (not fallen or day < fallen[0])]
    bench.number("gravity_fall_points", og - last.points)
    if still and bench.pitched_at_zero:
        bench.number("hours_without_fall", max(still) * 24)
    if fallen and bench.pitched_at_zero:
        bench.number("hours_to_first_fall", fallen[0] * 24)
    if og > 0:
        bench.number("apparent_attenuation_percent", 100 * (og - last.points) / og)
    course = [(0.0, og), *((reading.day or 0.0, reading.points) for reading in after)]
    rates = [
        (before - later) / (end - start)
        for (start, before), (end, later) in pairwise(course)
        if end - start >= 0.4
    ]
    if rates:
        bench.number("peak_rate_points_per_day", max(0.0, *rates))
    counts = 2 * counts  # across less than this no peak can hide
    gaps = [
        end - start
        for (start, before), (end, later) in pairwise(course)
        if before - later >= counts
    ]
    if gaps:
        bench.number("days_between_falling_readings", max(gaps))
    try:
        abv = gravity.alcohol_by_volume_pct(1 + og / 1000, 1 + last.points / 1000)
    except OutOfRangeError:
        return
    bench.number("abv_percent", abv)


def _against_end(bench: Bench, last: Reading) -> None:
    if bench.end is None:
        return
    above = last.points - bench.end.points
    bench.number("points_above_expected_end", above)
    sigma = math.hypot(bench.end.sigma_points, last.sigma_points, _bias_sigma(bench, last))
    bench.number("z_above_expected_end", above / sigma)
    lowest = bench.lowest_end
    if lowest is not None:
        sigma = math.hypot(lowest.sigma_points, last.sigma_points, _bias_sigma(bench, last))
        highest = last.points + scale_doubt_points(bench)
        bench.number("points_above_lowest_end", highest - lowest.points)
        bench.number("z_above_lowest_end", (highest - lowest.points) / sigma)
    label = bench.batch.wort.expected_fg
    if label is not None:
        bench.number("points_above_recipe_end", last.points - (label - 1) * 1000)
    if bench.og_points is None:
        return
    to_lose = bench.og_points - bench.end.points
    if to_lose > 1:
        bench.number("attenuation_share_of_expected", (bench.og_points - last.points) / to_lose)
    recipe = bench.batch.wort
    try:
        expected = gravity.alcohol_by_volume_pct(
            1 + bench.og_points / 1000, 1 + bench.end.points / 1000
        )
        bench.number("expected_abv_percent", expected)
        # strength is judged on a beer at its end: a stuck one is weak for another reason
        done = (bench.get("z_above_expected_end") or 0.0) <= 1.0
        if recipe.expected_og and recipe.expected_fg and done:
            planned = gravity.alcohol_by_volume_pct(recipe.expected_og, recipe.expected_fg)
            bench.number("abv_minus_planned_percent", (bench.get("abv_percent") or 0.0) - planned)
    except OutOfRangeError:
        return


def _bias_sigma(bench: Bench, reading: Reading) -> float:
    """A hydrometer's own error cancels between readings, not against an expected end."""
    if reading.instrument != "hydrometer":
        return 0.0
    checked = bench.is_set("hydrometer_checked")
    return bench.constant(
        "hydrometer_bias_sigma_checked_points"
        if checked
        else "hydrometer_bias_sigma_unchecked_points"
    )


def plateau(readings: list[Reading], tolerance: float) -> list[Reading]:
    """Return the latest readings that agree: within the tolerance, and no fall along them.

    The tolerance is that of two or three readings; more of them lie further apart by chance.
    Of the windows that end with the latest reading the longest counts.
    """
    return list(_plateau(tuple(readings), tolerance))


@lru_cache(maxsize=8)  # several facts of one batch rest on the same plateau
def _plateau(readings: tuple[Reading, ...], tolerance: float) -> tuple[Reading, ...]:
    widest = tolerance * kinetics.equal_range_factor(max(len(readings), 1)) + 1e-6
    narrow: list[int] = []  # where windows begin whose readings lie near enough together
    low, high = math.inf, -math.inf
    for start in range(len(readings) - 1, -1, -1):
        low = min(low, readings[start].points)
        high = max(high, readings[start].points)
        if high - low > widest:
            break
        allowed = tolerance * kinetics.equal_range_factor(len(readings) - start)
        if high - low <= allowed + 1e-6:
            narrow.append(start)
    for start in reversed(narrow):
        if not _falls(readings[start:]):
            return readings[start:]
    return readings[-1:]


def standing(readings: list[Reading], tolerance: float) -> Reading:
    """Return where the gravity stands: the mean of the latest equal readings, else the latest.

    Against an expected end a single reading says little more than its own scatter. The mean lies
    above the truth if it falls unnoticed, which is the careful side. Its spread counts three
    readings only, however many there are.
    """
    flat = plateau(readings, tolerance)
    if len({reading.day for reading in flat}) < _MEAN_READINGS:
        return readings[-1]
    return replace(
        flat[-1],
        points=math.fsum(reading.points for reading in flat) / len(flat),
        sigma_points=max(reading.sigma_points for reading in flat) / math.sqrt(_MEAN_READINGS),
    )


def _falls(readings: Sequence[Reading]) -> bool:
    """Tell whether a line through the readings falls by more than reading error explains."""
    slope = _slope(readings)
    return slope is not None and slope.points_per_day > 1.645 * slope.standard_error


def _slope(readings: Sequence[Reading]) -> kinetics.Slope | None:
    if len({reading.day for reading in readings}) < 2:
        return None
    try:
        return kinetics.gravity_slope(
            [reading.day or 0.0 for reading in readings],
            [1 + reading.points / 1000 for reading in readings],
            max(reading.sigma_points for reading in readings),
        )
    except OutOfRangeError:
        return None


def _steadiness(bench: Bench, after: list[Reading]) -> None:
    tolerance = bench.constant("gate_equal_points")
    flat = plateau(after, tolerance)
    days = [reading.day for reading in flat if reading.day is not None]
    if len(flat) >= 2:
        bench.number("days_unchanged", max(days) - min(days))
    # two jars at one time are one look at the beer
    bench.number("readings_unchanged", len({reading.day for reading in flat}))
    _plateau_quality(bench, flat)
    last_day = after[-1].day or 0.0
    recent = [
        reading
        for reading in after[-_SLOPE_READINGS:]
        if reading.day is not None and last_day - reading.day <= _SLOPE_SPAN_DAYS
    ]
    tail = flat if len(flat) >= 2 else recent[-2:]
    slope = _slope(tail)
    if slope is None:
        return
    bench.number("slope_points_per_day", slope.points_per_day)
    bench.number("slope_bound_points_per_day", slope.fall_not_excluded)
    bench.state("slope_significant", _falls(tail))


def _plateau_quality(bench: Bench, flat: list[Reading]) -> None:
    """Set how well the equal readings were taken; what is not said counts as not done."""
    bench.state("plateau_samples_known", all(reading.sample_known for reading in flat))
    bench.state("plateau_degassed", all(reading.degassed for reading in flat))
    named = all(reading.instrument == "hydrometer" and reading.instrument_named for reading in flat)
    bench.state("plateau_by_hydrometer", named)
    start, end = flat[0].day or 0.0, flat[-1].day or 0.0
    temps = beer_temperatures_between(bench, start, end)
    if temps:
        low = bench.yeast_class.temp_min_c - SLACK_C
        bench.state("plateau_in_window", min(temps) >= low)
        bench.number("plateau_temp_max_c", max(temps))


def waits(bench: Bench) -> None:
    """Set how many days are still needed before the readings can show that it is finished."""
    span = bench.get("days_unchanged") or 0.0
    bench.number("days_until_span", max(bench.constant("gate_min_hours") / 24 - span, 0.0))
    row = bench.yeast_class
    # of an unknown yeast the longest of the three
    pace = row.pace if bench.yeast_class_id is not None else "lager"
    needed = bench.constant(f"gate_age_{pace}_days")
    age = bench.now if bench.pitched_at_zero and bench.timeline.now_known else None
    if age is not None and age >= 0:
        bench.number("days_until_age", max(needed - age, 0.0))
        bench.state("old_enough", age >= needed)
    hopped = bench.get("days_since_dry_hop")
    if hopped is not None:
        after = bench.constant("gate_after_dry_hop_days")
        bench.number("days_until_after_dry_hop", max(after - hopped, 0.0))
        now = bench.fermenting_end if bench.fermenting_end is not None else 0.0
        bench.state("plateau_after_dry_hop", _steady_since(bench, now - hopped, 0.0))
    if bench.is_set("fruit_or_sugar_added_late"):
        days = bench.constant("gate_after_late_sugar_days")
        bench.state("plateau_after_late_sugar", _steady_since(bench, late_sugar_day(bench), days))
    bench.number("days_until_slope", _days_until_slope(bench))


def _steady_since(bench: Bench, day: float, least_days: float) -> bool:
    """Tell whether the equal readings alone that were taken since a day would do."""
    after = bench.fermenting_readings(bench.fermenting_end)
    flat = plateau(after, bench.constant("gate_equal_points"))
    days = [item.day for item in flat if item.day is not None and item.day >= day - 1e-6]
    enough = len(set(days)) >= bench.constant("gate_min_readings")
    least = max(least_days, bench.constant("gate_min_hours") / 24)
    return enough and max(days) - min(days) >= least - 1e-6


def _days_until_slope(bench: Bench) -> float:
    """Return the days after which one more equal reading bounds the fall enough (21 at most)."""
    after = bench.fermenting_readings(bench.fermenting_end)
    flat = plateau(after, bench.constant("gate_equal_points"))
    allowed = bench.constant("gate_slope_week_points") / 7
    now = bench.now if bench.now is not None else 0.0
    if not flat:
        return 7.0
    sigma = max(reading.sigma_points for reading in flat)
    values = [1 + reading.points / 1000 for reading in flat]
    days = [reading.day or 0.0 for reading in flat]
    for half_days in range(43):
        again = max(now, days[-1]) + half_days / 2
        if again - days[0] >= 7:
            return half_days / 2
        if again <= days[-1]:
            continue
        try:
            slope = kinetics.gravity_slope([*days, again], [*values, values[-1]], sigma)
        except OutOfRangeError:
            continue
        if len(flat) >= 2 and slope.fall_not_excluded <= allowed:
            return half_days / 2
    return 21.0


def _other_samples(bench: Bench, last: Reading) -> None:
    forced = forced_test(bench)
    if forced is not None:
        gap = last.points - forced.lowest_points
        bench.number("forced_test_gap_points", gap)
        bench.state("forced_test_well_taken", forced.well_taken)
    opened = other_sample(bench, "opened bottle")
    if opened is not None:
        # its bottling sugar is fermented too, so its gravity should be a little lower
        bench.number("opened_bottle_fall_points", last.points - opened.points)
