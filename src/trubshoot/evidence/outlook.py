"""Gas and pressure that the bottles will see, done or planned; every gap at its worse end."""

from __future__ import annotations

import math

from trubshoot.batch.model import Bottling
from trubshoot.errors import OutOfRangeError
from trubshoot.evidence.bench import Bench
from trubshoot.evidence.gravity import scale_doubt_points
from trubshoot.evidence.model import FAR_TOO_MUCH, BottleBasis, BottleOutlook, PressureAt, Reading
from trubshoot.evidence.sugar_dose import Dose, dose_of, target_vols, volume_of
from trubshoot.knowledge_base.tables import Bottle
from trubshoot.physics import bottle, carbonation, kinetics
from trubshoot.physics.gas import PointsLeft, vols_quantiles
from trubshoot.sentences import worded

REFERENCE_C = 20.0
_LOW_C, _HIGH_C = -1.5, 35.0  # range of the formula for what beer holds
_HOT_FACTOR_FROM_C = 35.0
_MOST_SUGAR_VOLS = 20.0  # range of the formulas; read it as FAR_TOO_MUCH


def outlook(
    bench: Bench,
    entry: Bottling | None,
    row: Bottle,
    row_id: str,
    before: Reading | None,
    hottest_c: float,
) -> None:
    """Set gas and pressure, and keep the numbers for the report.

    Args:
        bench: the facts so far.
        entry: the bottling done or planned; None when nothing is planned yet.
        row, row_id: the class of the bottles.
        before: the last gravity before bottling.
        hottest_c: hottest credible temperature of the bottles [C].
    """
    dose = dose_of(bench, entry) if entry is not None else None
    basis = _basis(bench, entry, row, row_id, before, hottest_c)
    bench.basis = basis
    if dose is None or basis is None or entry is None:
        return
    bench.number("sugar_g_per_l", dose.sucrose_g_per_l)
    bench.number("co2_from_sugar_vols", dose.vols)
    if dose.vols_high > _MOST_SUGAR_VOLS:
        bench.lacks("a believable amount of bottling sugar", FAR_TOO_MUCH)
    try:
        expected, upper = total_vols(basis, dose.vols, dose.vols_high, dose.share_sigma)
    except OutOfRangeError as error:
        bench.lacks(f"numbers for which the gas can be worked out ({error})", FAR_TOO_MUCH)
        return
    bench.number("co2_expected_vols", expected)
    bench.number("co2_upper_vols", upper)
    bench.number("co2_over_target_vols", expected - basis.target_vols)
    if basis.target_vols - basis.residual_vols > 0.1:
        bench.number("sugar_ratio_to_target", dose.vols / (basis.target_vols - basis.residual_vols))
    _pressure(bench, basis, row, expected, upper, dose)


def total_vols(
    basis: BottleBasis, sugar_vols: float, sugar_most_vols: float, share_sigma: float
) -> tuple[float, float]:
    """Return the middle and the 95 % upper volumes of CO2 with so much sugar.

    Raises: OutOfRangeError: numbers for which the gas cannot be worked out.
    """
    spread = basis.residual_sigma_vols
    expected = vols_quantiles(
        min(sugar_vols, _MOST_SUGAR_VOLS),
        share_sigma,
        basis.residual_vols,
        spread,
        basis.left,
        (0.5,),
    )[0]
    upper = vols_quantiles(
        min(sugar_most_vols, _MOST_SUGAR_VOLS),
        share_sigma,
        basis.residual_most_vols,
        spread,
        basis.left_most,
        (0.95,),
    )[0]
    return expected, max(upper, expected)


def sealed_bars(
    basis: BottleBasis, expected_vols: float, upper_vols: float, temp_c: float, usual_share: float
) -> tuple[float, float]:
    """Return middle and upper pressure at a temperature [bar gauge]; an unknown fill at its worst.

    Raises: OutOfRangeError: a fill or temperature for which no pressure can be worked out.
    """
    share = basis.headspace_share
    spaces = (share,) if share is not None else bottle.UNKNOWN_HEADSPACES
    middle = bottle.sealed_gauge_bar(
        min(expected_vols, bottle.VOLS_HIGH), temp_c, usual_share if share is None else share
    )
    most = min(upper_vols, bottle.VOLS_HIGH)
    upper = max(bottle.sealed_gauge_bar(most, temp_c, space, swelling=True) for space in spaces)
    return middle, max(upper, middle)


def danger_bar_at(row: Bottle, temp_c: float) -> float:
    """Return the pressure from which the bottles are in danger [bar gauge]."""
    return row.danger_bar * (row.hot_factor if temp_c >= _HOT_FACTOR_FROM_C else 1.0)


def band(row: Bottle, bar: float, temp_c: float) -> str:
    """Return how the bottles bear a pressure: carried, strained, over or failing.

    Bands, not chances: the strength figures of worn bottles are judgement (physics, section 6).
    """
    factor = row.hot_factor if temp_c >= _HOT_FACTOR_FROM_C else 1.0
    if bar >= row.planning_eta_bar * factor:
        return "failing"
    if bar >= row.danger_bar * factor:
        return "over"
    return "strained" if bar > row.rating_bar * factor else "carried"


def _residual(bench: Bench) -> tuple[float, float]:
    """Return the CO2 the beer holds when bottled, and the most it may hold [vol].

    What counts is the warmest time after the end; where that is not known, the mean while it
    fermented, and for the upper figure the coldest.
    """
    row = bench.yeast_class
    mean, coldest = bench.get("beer_temp_mean_c"), bench.get("beer_temp_min_c")
    room = bench.get("room_min_c")
    if coldest is not None and room is not None and bench.is_set("only_room_temp"):
        coldest = min(coldest, room)  # its own heat is an estimate: the upper figure takes none
    after_end = bench.get("plateau_temp_max_c")
    middle = after_end if after_end is not None else mean if mean is not None else REFERENCE_C
    cold = (
        after_end if after_end is not None else coldest if coldest is not None else row.temp_min_c
    )
    pressure = bench.batch.vessel.pressure_bar or 0.0
    held = carbonation.residual_vols(min(max(middle, _LOW_C), _HIGH_C), pressure)
    most = carbonation.residual_vols(min(max(cold, _LOW_C), _HIGH_C), pressure)
    return held, max(held, most) + bench.constant("supersaturation_vols")


def points_left(
    bench: Bench, before: Reading | None, creep: float, doubt: float = 0.0
) -> PointsLeft | None:
    """Return what may still ferment in the bottle, with what dry hops may free [points].

    `doubt` is how much higher the gravity may have been. None when no end can be named.
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
    mean = before.points - bench.end.points + creep + doubt
    sigma = math.hypot(before.sigma_points, bias, bench.end.sigma_points)
    tail = _left_by_plateau(bench)
    if tail is None or mean > kinetics.ONE_SIDED_95 * sigma:
        return PointsLeft(mean, sigma)
    return PointsLeft(mean, sigma, tail + creep, bench.constant("stall_share_on_plateau"))


def _as_opened(bench: Bench, left: PointsLeft) -> PointsLeft:
    """Return what fermented in the bottles: no less than an opened one shows, once it is clear.

    The plateau is then refuted; what it left open at its upper end stays open all the same.
    """
    fallen = bench.get("opened_bottle_fall_points")
    if fallen is None or fallen < bench.constant("opened_bottle_fall_points"):
        return left
    mean = max(left.mean, fallen)
    tail_sigma = ((left.tail_95 or 0.0) - mean) / kinetics.ONE_SIDED_95
    return PointsLeft(mean, max(left.sigma, tail_sigma))


def _left_by_plateau(bench: Bench) -> float | None:
    """Return the most points still to fall behind a steady, warm plateau; None without one."""
    span, bound = bench.get("days_unchanged"), bench.get("slope_bound_points_per_day")
    blocked = ("enzyme_added", "cold_crashed")
    if span is None or bound is None or span < 3 or any(bench.is_set(name) for name in blocked):
        return None
    if bench.facts.get("yeast_is_diastatic") != "absent":
        return None  # a yeast that may ferment dextrins stands still for weeks, and goes on
    if not bench.is_set("plateau_in_window"):
        return None
    warmest = bench.get("plateau_temp_max_c")
    if warmest is None:
        return None
    # the tail is slower in the cold, but not slower than what was seen of cold, flocculated beer
    cold = (warmest - bench.yeast_class.temp_high_c) / 10
    fastest, slowest = (
        bench.constant("tail_rate_warm_ale_per_day"),
        bench.constant("tail_rate_cool_per_day"),
    )
    rate = min(max(fastest * bench.constant("rate_q10") ** cold, slowest), fastest)
    try:
        return kinetics.points_left_in_tail(max(bound, 0.0), rate)
    except OutOfRangeError:
        return None


def _basis(
    bench: Bench,
    entry: Bottling | None,
    row: Bottle,
    row_id: str,
    before: Reading | None,
    hottest_c: float,
) -> BottleBasis | None:
    """Return everything but the sugar; None when no end of the fermentation can be named."""
    creep = bench.constant("hop_creep_typical_points")
    hopped = bench.is_set("dry_hopped")
    # before bottling what is not denied is reckoned with; afterwards only what was logged
    planned = entry is None or bench.is_plan(entry)
    maybe = hopped or (planned and bench.facts.get("dry_hopped") != "absent")
    doubt = scale_doubt_points(bench) if planned else 0.0
    left = points_left(bench, before, creep if hopped else 0.0, doubt)
    left_most = points_left(bench, before, creep if maybe else 0.0, doubt)
    if left is None or left_most is None:
        return None
    if not planned:
        left, left_most = _as_opened(bench, left), _as_opened(bench, left_most)
    residual, residual_most = _residual(bench)
    headspace = bench.get("bottle_headspace_percent")
    own_size = entry.bottles.size_ml if entry is not None else None
    return BottleBasis(
        target_vols=target_vols(bench),
        residual_vols=residual,
        residual_most_vols=residual_most,
        residual_sigma_vols=bench.constant("residual_co2_sigma_vols"),
        left=left,
        left_most=left_most,
        bottle_class=row_id,
        bottle_label=row.label,
        rating_bar=row.rating_bar,
        danger_bar=danger_bar_at(row, hottest_c),
        hottest_c=hottest_c,
        storage_c=bench.get("storage_temp_max_c"),
        headspace_share=None if headspace is None else headspace / 100,
        volume_l=volume_of(bench, entry) if entry is not None else None,
        size_ml=own_size or bench.batch.bottles.size_ml,
        gravity_points=None if before is None else before.points,
    )


def _pressure(
    bench: Bench, basis: BottleBasis, row: Bottle, expected: float, upper: float, dose: Dose
) -> None:
    """Set the two tests: middle gas at 20 C against the rating, upper gas hot against danger."""
    if basis.hottest_c > bottle.TEMP_HIGH_C:
        bench.lacks(
            worded(f"a storage below {bottle.TEMP_HIGH_C:.0f} C: no formula holds above it"),
            "far too hot",
        )
    hot = min(max(basis.hottest_c, 0.0), bottle.TEMP_HIGH_C)
    usual = bench.constant("headspace_share")
    places = [("reference", REFERENCE_C), ("hottest", hot)]
    if basis.storage_c is not None:
        places.insert(1, ("storage", min(max(basis.storage_c, 0.0), bottle.TEMP_HIGH_C)))
    found = {}
    try:
        for place, temp in places:
            middle_bar, upper_bar = sealed_bars(basis, expected, upper, temp, usual)
            found[place] = PressureAt(
                place,
                temp,
                middle_bar,
                upper_bar,
                band(row, middle_bar, temp),
                band(row, upper_bar, temp),
            )
        alone = carbonation.chart_gauge_bar(min(expected, bottle.VOLS_HIGH), REFERENCE_C)
    except OutOfRangeError:
        bench.lacks("a fill of the bottles for which pressure can be worked out", "far too full")
        return
    hottest = found["hottest"]
    bench.number("pressure_20c_bar", min(found["reference"].middle_bar, 80.0))
    bench.number("pressure_hot_upper_bar", min(hottest.upper_bar, 150.0))
    bench.number("pressure_over_rating_bar", min(alone - basis.rating_bar, 100.0))
    bench.number("pressure_over_danger_bar", min(hottest.upper_bar - basis.danger_bar, 150.0))
    bench.number(
        "pressure_median_hot_over_danger_bar", min(hottest.middle_bar - basis.danger_bar, 150.0)
    )
    bench.outlook = BottleOutlook(
        basis=basis,
        sugar_g=None if basis.volume_l is None else dose.g_per_l * basis.volume_l,
        sugar_g_per_l=dose.g_per_l,
        sugar_vols=dose.vols,
        sugar_most_vols=dose.vols_high,
        sugar_share_sigma=dose.share_sigma,
        expected_vols=expected,
        upper_vols=upper,
        alone_20c_bar=alone,
        pressures=tuple(found.values()),
    )


def storage_below_c(look: BottleOutlook, row: Bottle, usual_share: float) -> float:
    """Return the highest temperature at which the upper pressure stays under the danger limit [C].

    Worked out only for the reports that name it: a search over the whole range of the model.
    """
    low, high = 0.0, bottle.TEMP_HIGH_C
    for _ in range(12):
        middle = 0.5 * (low + high)
        _, bar = sealed_bars(look.basis, 0.0, look.upper_vols, middle, usual_share)
        low, high = (middle, high) if bar < danger_bar_at(row, middle) else (low, middle)
    return low
