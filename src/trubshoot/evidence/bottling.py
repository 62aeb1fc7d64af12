"""The bottles: sugar, gas and the pressure they will see, every gap at its unfavourable end."""

from __future__ import annotations

import math
from dataclasses import dataclass

from trubshoot.batch.model import Bottling, RoomTemperature, Sugar
from trubshoot.errors import OutOfRangeError
from trubshoot.evidence.bench import Bench
from trubshoot.evidence.gravity import plateau
from trubshoot.evidence.model import Reading
from trubshoot.evidence.words import resolve, tokens
from trubshoot.knowledge_base.tables import Bottle
from trubshoot.knowledge_base.tables import Sugar as SugarRow
from trubshoot.physics import bottle, carbonation, kinetics
from trubshoot.physics.sugar import VOLS_PER_POINT, vols_from_sugar, vols_spread
from trubshoot.units import DAYS_PER_MONTH

_PLACES = ("fridge", "cellar", "indoor", "shed", "garage", "attic", "car")
_PLACE_WORDS = {
    "refrigerator": "fridge",
    "basement": "cellar",
    "cupboard": "indoor",
    "closet": "indoor",
    "kitchen": "indoor",
    "house": "indoor",
    "room": "indoor",
    "loft": "attic",
    "boot": "car",
    "trunk": "car",
}
_REFERENCE_C = 20.0
_COLOURS = {
    "clear": "clear_or_green_glass",
    "green": "clear_or_green_glass",
    "brown": "brown_glass",
}
_DOUBTFUL_CAPS = ("reused", "old", "worn", "hammer", "twist", "loose")
_BY_GUESS = ("guess", "eye", "spoon", "cup")


@dataclass(frozen=True)
class Dose:
    """Bottling sugar per litre, middle and highest, and how well it is known."""

    g_per_l: float  # as weighed
    vols: float
    vols_high: float
    share_sigma: float
    sucrose_g_per_l: float


@dataclass(frozen=True)
class Gas:
    """Volumes of CO2 expected in the bottles, and their upper 95 % bound."""

    expected: float
    upper: float
    residual: float
    points_left: float


def bottling(bench: Bench) -> None:
    """Set the facts about bottling, the bottles, and their storage."""
    found = bench.bottling
    bench.state("bottled", True if found is not None else None)
    disposed = [deed for _, deed in bench.deeds("disposed") if "all" in tokens(deed.what or "")]
    bench.state("disposed_all", True if disposed else None)
    row = _bottles(bench, found[1] if found else None)
    if found is None:
        started = bench.timeline.pitched or bool(bench.readings)
        bench.state("not_bottled", True if started else None)
        return
    day, entry = found
    if day is not None:
        if bench.pitched_at_zero:
            bench.number("days_pitch_to_bottling", max(day, 0.0))
            bench.number("months_before_bottling", max(day, 0.0) / DAYS_PER_MONTH)
        if bench.now is not None:
            in_bottle = max(bench.now - day, 0.0)
            bench.number("days_since_bottling", in_bottle)
            bench.number("conditioning_days", in_bottle)
            bench.number("months_in_bottle", in_bottle / DAYS_PER_MONTH)
    hottest = _storage(bench, day)
    before = _at_bottling(bench, day)
    dose = _dose(bench, entry)
    _dosing(bench, entry)
    if entry.headspace is not None and entry.headspace.percent is not None:
        bench.number("bottle_headspace_percent", entry.headspace.percent)
    if dose is None:
        return
    gas = _gas(bench, dose, before, entry)
    if gas is not None:
        _pressure(bench, gas, row, hottest)


def _bottles(bench: Bench, entry: Bottling | None) -> Bottle:
    head = bench.batch.bottles
    named = entry.bottles.kind if entry is not None and entry.bottles.kind else head.kind
    reused = entry.bottles.reused if entry is not None else None
    reused = head.reused if reused is None else reused
    table = bench.knowledge.bottles
    key = resolve(named, table) or "unknown"
    if key == "single_use_longneck_new" and reused is not False:
        key = "single_use_longneck_reused"  # new only when it says so
    row = table[key]
    if named is not None or entry is not None:
        if key == "unknown":
            bench.lacks(
                "kind of bottles",
                row.label.lower() + ", the weakest ordinary ones",
                "how much pressure they are trusted with",
            )
        else:
            bench.text("bottle_class", key)
        bench.state("bottles_unrated", True if not row.pressure_rated else None)
    words = set(tokens(named or ""))
    for word, fact in _COLOURS.items():
        if word in words:
            bench.state(fact, True)
    caps = " ".join(
        text for text in (entry.caps if entry else None, head.closure, named) if text
    ).lower()
    if any(word in tokens(caps) for word in _DOUBTFUL_CAPS) and ("cap" in caps or "twist" in caps):
        bench.state("caps_reused_or_doubtful", True)
    return row


def _storage(bench: Bench, day: float | None) -> float:
    """Return the hottest credible temperature of the bottles; sets what is known of storage."""
    head = bench.batch.storage
    temps: list[tuple[float | None, float]] = []
    places = [head.where] if head.where else []
    for when, deed in bench.deeds("stored"):
        if deed.where:
            places.append(deed.where)
        temps += [(when, temp) for temp in (deed.temp_c, deed.to_c) if temp is not None]
    if day is not None:
        temps += [
            (when, entry.temp_c)
            for when, entry in bench.of(RoomTemperature)
            if when is not None and when > day
        ]
    temps += [(day, temp) for temp in (head.temp_c, head.to_c) if temp is not None]
    bench.state("storage_unknown", True if not temps and not places else None)
    unknown_c = bench.constant("storage_max_unknown_c")
    credible = [bench.constant(f"storage_max_{place}_c") for place in _named_places(places)]
    if temps:
        values = [temp for _, temp in temps]
        bench.number("storage_temp_max_c", max(values))
        early = [temp for when, temp in temps if day is None or when is None or when <= day + 21]
        if early:
            bench.number("conditioning_temp_c", sum(early) / len(early))
    else:
        bench.lacks(
            "storage temperature of the bottles",
            f"{max(credible, default=unknown_c):.0f} C at the hottest",
            "the pressure in them",
        )
    if not credible:
        credible = [bench.constant("storage_max_indoor_c") if temps else unknown_c]
    return max([*credible, *(temp for _, temp in temps)])


def _named_places(texts: list[str]) -> list[str]:
    places = []
    for text in texts:
        for word in tokens(text):
            place = _PLACE_WORDS.get(word, word)
            if place in _PLACES:
                places.append(place)
    return places


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
        above = last.points - bench.end.points
        bench.number("points_above_expected_end_at_bottling", above)
        z = bench.get("z_above_expected_end")
        if z is not None:
            bench.number("z_above_expected_end_at_bottling", z)
    return last


def _bottles_hold(bench: Bench, entry: Bottling) -> float | None:
    """Return what the bottles counted at bottling hold [l]."""
    size_ml = entry.bottles.size_ml or bench.batch.bottles.size_ml
    if not entry.bottles.count or not size_ml:
        return None
    return entry.bottles.count * size_ml / 1000


def _dose(bench: Bench, entry: Bottling) -> Dose | None:
    if entry.sugars is None:
        bench.state("priming_missing", True)
        bench.lacks("bottling sugar", "more than the bottles stand", "the pressure in the bottles")
        return None
    if not entry.sugars:
        bench.state("no_sugar_added", True)
        bench.state("priming_known", True)
        return Dose(0.0, 0.0, 0.0, 0.0, 0.0)
    filled = _bottles_hold(bench, entry)
    volume_l = entry.volume_l if entry.volume_l is not None else filled
    least_l = volume_l
    if volume_l is not None:
        bench.number("bottled_volume_l", volume_l)
    if filled and entry.volume_l:
        bench.number("bottles_hold_share", filled / entry.volume_l)
        if filled < bench.constant("bottles_hold_least_share") * entry.volume_l:
            least_l = filled  # the log says two things: the upper bound takes the stronger dose
    doses = [_one_sugar(bench, item, entry, volume_l, least_l) for item in entry.sugars]
    if any(dose is None for dose in doses):
        return None
    known = [dose for dose in doses if dose is not None]
    bench.state("priming_known", True)
    return Dose(
        sum(dose.g_per_l for dose in known),
        sum(dose.vols for dose in known),
        sum(dose.vols_high for dose in known),
        max(dose.share_sigma for dose in known),
        sum(dose.sucrose_g_per_l for dose in known),
    )


def _one_sugar(
    bench: Bench, item: Sugar, entry: Bottling, volume_l: float | None, least_l: float | None
) -> Dose | None:
    table = bench.knowledge.sugars
    row = table[resolve(item.kind, table) or "unknown_sugar"]
    amount = item.amount
    if amount is None:
        bench.lacks("amount of the bottling sugar", "more than the bottles stand")
        return None
    guess = 0.0
    if amount.mass_g is not None:
        mass_g, mass_high = amount.mass_g, amount.mass_g
    elif amount.volume_ml is not None and row.spoon_g_per_ml is not None:
        heap = bench.constant("heaped_spoon_factor") if amount.heaped else 1.0
        mass_g = mass_high = amount.volume_ml * row.spoon_g_per_ml * heap
        guess = bench.constant("sugar_sigma_spoon_share")
    elif amount.pieces is not None:
        piece = _piece(bench, row)
        if piece is None:
            bench.lacks("mass of one piece of the bottling sugar")
            return None
        mass_g, mass_high = amount.pieces * piece[0], amount.pieces * piece[1]
    else:
        bench.lacks("amount of the bottling sugar in grams", "more than the bottles stand")
        return None
    litres: float | None
    if amount.per == "bottle":
        size_ml = entry.bottles.size_ml or bench.batch.bottles.size_ml
        litres = size_ml / 1000 if size_ml else None
        least_l = litres
    else:
        litres = 1.0 if amount.per == "litre" else volume_l
    if litres is None or litres <= 0:
        bench.lacks("volume bottled", "less than the bottles stand", "the sugar per litre")
        return None
    least = least_l if least_l and amount.per != "litre" else litres
    weighed = bench.constant("sugar_sigma_weighed_g") / max(mass_g, 1.0)
    mixing = bench.constant(
        "mixing_sigma_unstirred_share"
        if entry.stirred is False and amount.per == "batch"
        else "mixing_sigma_share"
    )
    volume = bench.constant("volume_sigma_share") if amount.per == "batch" else 0.0
    try:
        return Dose(
            mass_g / litres,
            vols_from_sugar(mass_g, litres, row.yield_central) if row.yield_central else 0.0,
            vols_from_sugar(mass_high, least, row.yield_high) if row.yield_high else 0.0,
            math.hypot(max(weighed, guess), mixing, volume),
            mass_g / litres * row.yield_central / table["sucrose"].yield_central,
        )
    except OutOfRangeError as error:
        bench.lacks(f"a believable amount of bottling sugar ({error})", "far too much")
        return None


def _piece(bench: Bench, row: SugarRow) -> tuple[float, float] | None:
    if row.piece_g is not None:
        return row.piece_g, row.piece_g_high or row.piece_g
    drops = bench.knowledge.sugars.get("carbonation_drops")
    if drops is not None and drops.piece_g is not None:
        return drops.piece_g, drops.piece_g_high or drops.piece_g
    return None


def _dosing(bench: Bench, entry: Bottling) -> None:
    amounts = [item.amount for item in entry.sugars or () if item.amount is not None]
    per_bottle = entry.dosing == "per bottle" or any(item.per == "bottle" for item in amounts)
    if per_bottle:
        bench.text("dosing", "per_bottle")
    elif entry.dosing == "bulk":
        bench.text("dosing", "bulk")
    if entry.stirred is not None:
        bench.state("sugar_stirred" if entry.stirred else "sugar_not_stirred", True)
    spooned = any(item.volume_ml is not None or item.heaped for item in amounts)
    if entry.weighed is not None:
        bench.state("sugar_weighed" if entry.weighed else "sugar_by_spoon", True)
    elif spooned or any(word in tokens(entry.words) for word in _BY_GUESS):
        bench.state("sugar_by_spoon", True)


def target_vols(bench: Bench) -> float:
    """Return the usual CO2 of the style, or the default when none is given."""
    words = set(tokens(bench.batch.style or ""))
    for name in bench.knowledge.constants:
        if name.startswith("target_vols_") and name != "target_vols_default":
            parts = set(name.removeprefix("target_vols_").split("_")) - {"ale"}
            if parts & words:
                return bench.constant(name)
    return bench.constant("target_vols_default")


def _residual(bench: Bench) -> tuple[float, float]:
    """Return the CO2 the beer held when bottled: middle and highest [vol]."""
    row = bench.yeast_class
    mean = bench.get("beer_temp_mean_c")
    coldest = bench.get("beer_temp_min_c")
    warm = min(max(mean if mean is not None else _REFERENCE_C, -1.5), 35.0)
    cold = min(max(coldest if coldest is not None else row.temp_min_c, -1.5), 35.0)
    return carbonation.residual_vols(warm), carbonation.residual_vols_upper(cold)


def _gas(bench: Bench, dose: Dose, before: Reading | None, entry: Bottling) -> Gas | None:
    if bench.end is None:
        return None
    checked = bench.is_set("hydrometer_checked")
    bias = bench.constant(
        "hydrometer_bias_sigma_checked_points"
        if checked
        else "hydrometer_bias_sigma_unchecked_points"
    )
    if before is None:
        left, reading_sigma = 0.0, bench.constant("end_nothing_known_sigma_points")
    else:
        left = max(before.points - bench.end.points, 0.0)
        reading_sigma = math.hypot(before.sigma_points, bias)
    limit_sigma = bench.end.sigma_points
    tail = _left_by_plateau(bench)
    if tail is not None and left <= 1.645 * math.hypot(limit_sigma, reading_sigma):
        # a long warm plateau says more than the recipe: what is left follows from its slope
        left = min(left, tail)
        limit_sigma, reading_sigma = min(limit_sigma, tail / 1.645), 0.0
    creep = bench.constant("hop_creep_typical_points") if bench.is_set("dry_hopped") else 0.0
    try:
        sigma = vols_spread(
            min(dose.vols, 20.0),
            dose.share_sigma,
            min(reading_sigma, 10.0),
            min(limit_sigma, 15.0),
            bench.constant("residual_co2_sigma_vols"),
        )
    except OutOfRangeError:
        return None
    residual, residual_high = _residual(bench)
    expected = residual + dose.vols + VOLS_PER_POINT * left
    upper = (
        max(residual_high, residual)
        + dose.vols_high
        + VOLS_PER_POINT * (left + creep)
        + 1.645 * sigma
    )
    bench.number("sugar_g_per_l", dose.sucrose_g_per_l)
    bench.number("co2_from_sugar_vols", dose.vols)
    bench.number("co2_expected_vols", expected)
    bench.number("co2_upper_vols", upper)
    target = target_vols(bench)
    bench.number("co2_over_target_vols", expected - target)
    wanted = target - residual
    if wanted > 0.1:
        bench.number("sugar_ratio_to_target", dose.vols / wanted)
    return Gas(expected, upper, residual, left)


def _left_by_plateau(bench: Bench) -> float | None:
    """Return the most points still to fall behind a steady, warm plateau; None without one."""
    span, bound = bench.get("days_unchanged"), bench.get("slope_bound_points_per_day")
    blocked = ("dry_hopped", "yeast_is_diastatic", "enzyme_added", "cold_crashed")
    if span is None or bound is None or span < 3 or any(bench.is_set(name) for name in blocked):
        return None
    if (bench.get("days_in_window") or 0.0) < span:
        return None
    mean = bench.get("beer_temp_mean_c")
    warm = mean is not None and mean >= bench.yeast_class.temp_low_c
    rate = bench.constant("tail_rate_warm_ale_per_day" if warm else "tail_rate_cool_per_day")
    try:
        return kinetics.points_left_in_tail(max(bound, 0.0), rate)
    except OutOfRangeError:
        return None


def _pressure(bench: Bench, gas: Gas, row: Bottle, hottest_c: float) -> None:
    headspace = bench.get("bottle_headspace_percent")
    fraction = None if headspace is None else headspace / 100
    hot = min(max(hottest_c, 0.0), bottle.TEMP_HIGH_C)
    danger = row.danger_bar * (row.hot_factor if hot >= 35 else 1.0)
    try:
        expected = min(gas.expected, bottle.VOLS_HIGH)
        upper = min(gas.upper, bottle.VOLS_HIGH)
        usual = bench.constant("headspace_share") if fraction is None else fraction
        bench.number("pressure_20c_bar", bottle.sealed_gauge_bar(expected, _REFERENCE_C, usual))
        hot_upper = bottle.upper_gauge_bar(upper, hot, fraction)
        hot_middle = bottle.sealed_gauge_bar(expected, hot, usual)
    except OutOfRangeError:
        bench.lacks("a headspace for which pressure can be worked out", "far too full")
        return
    bench.number("pressure_hot_upper_bar", min(hot_upper, 150.0))
    chart = carbonation.chart_gauge_bar(expected, _REFERENCE_C)
    bench.number("pressure_over_rating_bar", min(chart - row.rating_bar, 100.0))
    bench.number("pressure_over_danger_bar", min(hot_upper - danger, 150.0))
    bench.number("pressure_median_hot_over_danger_bar", min(hot_middle - danger, 150.0))
