"""Gas and pressure that the bottles will see, done or planned; every gap at its worse end."""

from __future__ import annotations

import math

from trubshoot.batch.model import Bottling
from trubshoot.errors import OutOfRangeError
from trubshoot.evidence.bench import Bench
from trubshoot.evidence.bottles import bottle_class, storage
from trubshoot.evidence.course import plateau
from trubshoot.evidence.model import BottleOutlook, Reading
from trubshoot.evidence.sugar_dose import Dose, dose_of, target_vols
from trubshoot.evidence.words import tokens
from trubshoot.knowledge_base.tables import Bottle
from trubshoot.physics import bottle, carbonation, kinetics
from trubshoot.physics.gas import PointsLeft, vols_quantiles
from trubshoot.units import DAYS_PER_MONTH

_REFERENCE_C = 20.0
_LOW_C, _HIGH_C = -1.5, 35.0  # range of the formula for what beer holds


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
        row = bottle_class(bench, entry)
        if entry is None:
            return
        bench.state("bottling_planned", True)
        last = _last_before(bench, None)
        _outlook(bench, entry, row, last, storage(bench, None))
        return
    day, entry = found
    row = bottle_class(bench, entry)
    if day is not None:
        if bench.pitched_at_zero:
            bench.number("days_pitch_to_bottling", max(day, 0.0))
            bench.number("months_before_bottling", max(day, 0.0) / DAYS_PER_MONTH)
        if bench.now is not None:
            in_bottle = max(bench.now - day, 0.0)
            bench.number("days_since_bottling", in_bottle)
            bench.number("conditioning_days", in_bottle)
            bench.number("months_in_bottle", in_bottle / DAYS_PER_MONTH)
    _outlook(bench, entry, row, _at_bottling(bench, day), storage(bench, day))


def _last_before(bench: Bench, day: float | None) -> Reading | None:
    before = [
        reading
        for reading in bench.readings
        if reading.day is not None and reading.day > 0.25 and (day is None or reading.day <= day)
    ]
    return before[-1] if before else None


def _at_bottling(bench: Bench, day: float | None) -> Reading | None:
    """Return the last reading before bottling; sets how finished the beer was."""
    before = [
        reading
        for reading in bench.readings
        if reading.day is not None and reading.day > 0.25 and (day is None or reading.day <= day)
    ]
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
    flat = plateau(before, bench.constant("gate_max_fall_points"))
    if len(flat) >= 2:
        span = (flat[-1].day or 0.0) - (flat[0].day or 0.0)
        bench.number("days_unchanged_at_bottling", span)
    last = before[-1]
    if bench.end is not None:
        bench.number("points_above_expected_end_at_bottling", last.points - bench.end.points)
        bench.number("z_above_expected_end_at_bottling", bench.get("z_above_expected_end"))
    return last


def _residual(bench: Bench) -> tuple[float, float]:
    """Return the CO2 the beer holds when bottled, and the most it may hold [vol].

    What counts is the warmest time after the end; where that is not known, the mean while it
    fermented, and for the upper figure the coldest.
    """
    row = bench.yeast_class
    mean, coldest = bench.get("beer_temp_mean_c"), bench.get("beer_temp_min_c")
    after_end = bench.get("plateau_temp_max_c")
    middle = after_end if after_end is not None else mean if mean is not None else _REFERENCE_C
    cold = (
        after_end if after_end is not None else coldest if coldest is not None else row.temp_min_c
    )
    pressure = bench.batch.vessel.pressure_bar or 0.0
    held = carbonation.residual_vols(min(max(middle, _LOW_C), _HIGH_C), pressure)
    most = carbonation.residual_vols(min(max(cold, _LOW_C), _HIGH_C), pressure)
    return held, max(held, most) + bench.constant("supersaturation_vols")


def points_left(bench: Bench, before: Reading | None, creep: float) -> PointsLeft | None:
    """Return what may still ferment in the bottle, with what dry hops may free [points].

    None when no end can be named.
    """
    if bench.end is None:
        return None
    checked = bench.is_set("hydrometer_checked")
    bias = bench.constant(
        "hydrometer_bias_sigma_checked_points"
        if checked
        else "hydrometer_bias_sigma_unchecked_points"
    )
    if before is None:
        nothing = bench.constant("end_nothing_known_sigma_points")
        return PointsLeft(creep, math.hypot(nothing, bench.end.sigma_points))
    mean = before.points - bench.end.points + creep
    sigma = math.hypot(before.sigma_points, bias, bench.end.sigma_points)
    tail = _left_by_plateau(bench)
    if tail is None or mean > 1.645 * sigma:
        return PointsLeft(mean, sigma)
    return PointsLeft(mean, sigma, tail + creep, bench.constant("stall_share_on_plateau"))


def _left_by_plateau(bench: Bench) -> float | None:
    """Return the most points still to fall behind a steady, warm plateau; None without one."""
    span, bound = bench.get("days_unchanged"), bench.get("slope_bound_points_per_day")
    blocked = ("yeast_is_diastatic", "enzyme_added", "cold_crashed")
    if span is None or bound is None or span < 3 or any(bench.is_set(name) for name in blocked):
        return None
    if not bench.is_set("plateau_in_window"):
        return None
    warmest = bench.get("plateau_temp_max_c")
    warm = warmest is not None and warmest >= bench.yeast_class.temp_low_c
    rate = bench.constant("tail_rate_warm_ale_per_day" if warm else "tail_rate_cool_per_day")
    try:
        return kinetics.points_left_in_tail(max(bound, 0.0), rate)
    except OutOfRangeError:
        return None


def _outlook(
    bench: Bench, entry: Bottling, row: Bottle, before: Reading | None, hottest_c: float
) -> None:
    """Set gas and pressure, and keep the numbers for the report."""
    dose = dose_of(bench, entry)
    creep = bench.constant("hop_creep_typical_points")
    hopped = bench.is_set("dry_hopped")
    # before bottling what is not denied is reckoned with; afterwards only what was logged
    maybe = hopped or (bench.is_plan(entry) and bench.facts.get("dry_hopped") != "absent")
    left = points_left(bench, before, creep if hopped else 0.0)
    left_most = points_left(bench, before, creep if maybe else 0.0)
    if dose is None or left is None or left_most is None:
        return
    residual, residual_most = _residual(bench)
    bench.number("sugar_g_per_l", dose.sucrose_g_per_l)
    bench.number("co2_from_sugar_vols", dose.vols)
    spread = bench.constant("residual_co2_sigma_vols")
    try:
        expected = vols_quantiles(
            min(dose.vols, 20.0), dose.share_sigma, residual, spread, left, (0.5,)
        )[0]
        upper = vols_quantiles(
            min(dose.vols_high, 20.0), dose.share_sigma, residual_most, spread, left_most, (0.95,)
        )[0]
    except OutOfRangeError as error:
        bench.lacks(f"numbers for which the gas can be worked out ({error})", "far too much")
        return
    bench.number("co2_expected_vols", expected)
    bench.number("co2_upper_vols", max(upper, expected))
    target = target_vols(bench)
    bench.number("co2_over_target_vols", expected - target)
    if target - residual > 0.1:
        bench.number("sugar_ratio_to_target", dose.vols / (target - residual))
    bench.outlook = BottleOutlook(
        target_vols=target,
        residual_vols=residual,
        sugar_vols=dose.vols,
        expected_vols=expected,
        upper_vols=max(upper, expected),
        hottest_c=hottest_c,
        bottle_label=row.label,
        rating_bar=row.rating_bar,
        danger_bar=row.danger_bar * (row.hot_factor if hottest_c >= 35 else 1.0),
    )
    _pressure(bench, bench.outlook, dose)


def _pressure(bench: Bench, look: BottleOutlook, dose: Dose) -> None:
    """Set the two tests: middle gas at 20 C against the rating, upper gas hot against danger."""
    headspace = bench.get("bottle_headspace_percent")
    fraction = bench.constant("headspace_share") if headspace is None else headspace / 100
    spaces = (fraction,) if headspace is not None else bottle.UNKNOWN_HEADSPACES
    if look.hottest_c > bottle.TEMP_HIGH_C:
        bench.lacks(
            f"a storage below {bottle.TEMP_HIGH_C:.0f} C: no formula holds above it", "far too hot"
        )
    hot = min(max(look.hottest_c, 0.0), bottle.TEMP_HIGH_C)
    try:
        expected = min(look.expected_vols, bottle.VOLS_HIGH)
        upper = min(look.upper_vols, bottle.VOLS_HIGH)
        middle_20 = bottle.sealed_gauge_bar(expected, _REFERENCE_C, fraction)
        middle_hot = bottle.sealed_gauge_bar(expected, hot, fraction)
        upper_hot = max(bottle.sealed_gauge_bar(upper, hot, space) for space in spaces)
        chart = carbonation.chart_gauge_bar(expected, _REFERENCE_C)
    except OutOfRangeError:
        bench.lacks("a fill of the bottles for which pressure can be worked out", "far too full")
        return
    bench.number("pressure_20c_bar", min(middle_20, 80.0))
    bench.number("pressure_hot_upper_bar", min(upper_hot, 150.0))
    bench.number("pressure_over_rating_bar", min(chart - look.rating_bar, 100.0))
    bench.number("pressure_over_danger_bar", min(upper_hot - look.danger_bar, 150.0))
    bench.number("pressure_median_hot_over_danger_bar", min(middle_hot - look.danger_bar, 150.0))
