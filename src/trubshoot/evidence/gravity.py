"""Gravity readings made comparable, and what they say of the fermentation."""

from __future__ import annotations

import math
from dataclasses import dataclass

from trubshoot.batch.model import GravityReading
from trubshoot.errors import OutOfRangeError
from trubshoot.evidence.bench import Bench
from trubshoot.evidence.model import ExpectedEnd, Reading
from trubshoot.evidence.wort import ingredients
from trubshoot.physics import fermentation, gravity
from trubshoot.sentences import joined, temperature, worded

_GUESSED_SAMPLE_C = 20.0
_FERMENTED_SG = 1.02  # above any beer that is asked about; the correction grows with it


def correct_readings(bench: Bench) -> None:
    """Turn every reading of the batch into points at 20 C with its spread; sets bench.readings."""
    scale_c = bench.batch.instruments.hydrometer_scale_c or _GUESSED_SAMPLE_C
    offset = _water_error(bench)
    first: float | None = None
    seen: set[tuple[object, ...]] = set()
    for day, entry in bench.of(GravityReading):
        same = (day, entry.sg, entry.instrument, entry.of)
        if entry.of not in ("batch", "another jar") or same in seen:
            continue  # one reading written down twice is no second reading
        seen.add(same)
        after_pitching = day is not None and day > 0.25
        if entry.instrument == "refractometer" and after_pitching:
            reading = _refractometer(bench, day, entry, first)
        else:
            reading = _hydrometer(bench, day, entry, scale_c, offset)
        if reading is None:
            continue
        if first is None and not after_pitching:
            first = reading.points
        bench.readings.append(reading)
    _instruments(bench, scale_c)


def scale_doubt_points(bench: Bench) -> float:
    """Return how much higher the gravity may be when the scale temperature is not written down.

    A hydrometer made for 15 C reads nearly a point low at 20 C; without the word it may be one.
    """
    if bench.batch.instruments.hydrometer_scale_c is not None:
        return 0.0
    lowest_c = bench.constant("hydrometer_scale_lowest_c")
    sg = gravity.hydrometer_corrected_sg(_FERMENTED_SG, _GUESSED_SAMPLE_C, lowest_c)
    if bench.batch.plan is not None:
        bench.lacks(
            "scale temperature of the hydrometer",
            worded(f"{lowest_c:.0f} C, the less favourable one"),
        )
    return 1000 * (sg - _FERMENTED_SG)


@dataclass(frozen=True)
class OtherSample:
    """A gravity of something beside the batch: a forced test or an opened bottle."""

    points: float
    lowest_points: float  # what it may be when its temperature is not written down
    well_taken: bool  # degassed, by a named hydrometer, at a known temperature


def other_sample(bench: Bench, of: str) -> OtherSample | None:
    """Return the latest gravity of another sample, corrected like the batch's own readings.

    A refractometer cannot read fermented beer closely enough for what is asked of these.
    """
    found = [entry for _, entry in bench.of(GravityReading) if entry.of == of]
    scale_c = bench.batch.instruments.hydrometer_scale_c or _GUESSED_SAMPLE_C
    for entry in reversed(found):
        if entry.instrument == "refractometer":
            bench.notes.append(f"line {entry.line}: a refractometer cannot show this; left out")
            continue
        reading = _hydrometer(bench, None, entry, scale_c, _water_error(bench))
        if reading is None:
            continue
        lowest = reading.points
        if entry.sample_c is None:
            cold_c = bench.constant("sample_coldest_c")
            try:
                cold = gravity.hydrometer_corrected_sg(entry.sg, cold_c, scale_c)
                lowest = min(lowest, lowest + 1000 * (cold - entry.sg))
            except OutOfRangeError:
                lowest -= bench.constant("reading_sigma_poor_points")
        well = reading.sample_known and reading.degassed and reading.instrument_named
        return OtherSample(reading.points, lowest, well)
    return None


def forced_test(bench: Bench) -> OtherSample | None:
    """Return the latest forced ferment test."""
    return other_sample(bench, "forced test")


def _water_error(bench: Bench) -> float:
    """Points the hydrometer shows in water, from the head or a logged reading of water."""
    shown = bench.batch.instruments.hydrometer_in_water
    logged = [entry.sg for _, entry in bench.of(GravityReading) if entry.of == "water"]
    if shown is None and logged:
        shown = logged[-1]
    bench.state("hydrometer_checked", True if shown is not None else None)
    if shown is None:
        return 0.0
    bench.number("hydrometer_water_error_points", (shown - 1) * 1000)
    return (shown - 1) * 1000


def _hydrometer(
    bench: Bench, day: float | None, entry: GravityReading, scale_c: float, offset: float
) -> Reading | None:
    corrections: list[str] = []
    sg = entry.sg
    sigma = bench.constant(
        "reading_sigma_poor_points"
        if entry.degassed is False
        else "reading_sigma_good_points"
        if entry.degassed and entry.sample_c is not None
        else "reading_sigma_ordinary_points"
    )
    if entry.sample_c is not None:
        try:
            sg = gravity.hydrometer_corrected_sg(entry.sg, entry.sample_c, scale_c)
        except OutOfRangeError as error:
            bench.notes.append(f"line {entry.line}: the reading cannot be corrected: {error}")
            return None
        if abs(sg - entry.sg) >= 0.0003:
            corrections.append(joined(f"read {entry.sg:.3f} at ", temperature(entry.sample_c)))
    else:
        guess = 2 * bench.constant("temperature_sigma_c")
        try:
            warm = gravity.hydrometer_corrected_sg(entry.sg, scale_c + guess, scale_c)
            sigma = math.hypot(sigma, 500 * (warm - entry.sg))
        except OutOfRangeError:
            sigma = bench.constant("reading_sigma_poor_points")
        bench.lacks(
            "temperature of the gravity samples", "20 C", "a warm sample reads low, a cold one high"
        )
    points = (sg - 1) * 1000 - offset
    if offset:
        corrections.append(f"{-offset:+.1f} points for the hydrometer's error in water")
    return Reading(
        day,
        entry.sg,
        points,
        sigma,
        "hydrometer",
        tuple(corrections),
        entry.line,
        sample_known=entry.sample_c is not None,
        degassed=entry.degassed is True,
        gassy=entry.degassed is False,
        instrument_named=entry.instrument == "hydrometer" or _only_hydrometer(bench),
    )


def _only_hydrometer(bench: Bench) -> bool:
    """Tell whether the head describes a hydrometer and no line of the log names any instrument.

    Where some lines name one, a line without a name may come from the other.
    """
    head = bench.batch.instruments
    described = head.hydrometer_scale_c is not None or head.hydrometer_in_water is not None
    return described and all(entry.instrument is None for _, entry in bench.of(GravityReading))


def _refractometer(
    bench: Bench, day: float | None, entry: GravityReading, first: float | None
) -> Reading | None:
    """A refractometer in fermenting beer shows alcohol as sugar; a published fit corrects it."""
    recipe = bench.batch.wort.expected_og
    start = first if first is not None else (recipe - 1) * 1000 if recipe else None
    sigma = bench.constant("refractometer_sigma_points")
    if start is None:
        bench.notes.append(
            f"line {entry.line}: a refractometer reading after pitching says nothing without the "
            "starting gravity"
        )
        return None
    try:
        sg = gravity.refractometer_final_sg(
            gravity.plato_from_sg(1 + start / 1000), gravity.plato_from_sg(entry.sg)
        )
    except OutOfRangeError:
        bench.notes.append(
            f"line {entry.line}: the refractometer reading after pitching lies where no published "
            "correction holds; it cannot tell a stuck beer from a finished one"
        )
        return None
    note = f"refractometer read {entry.sg:.3f}, corrected for alcohol"
    return Reading(day, entry.sg, (sg - 1) * 1000, sigma, "refractometer", (note,), entry.line)


def _instruments(bench: Bench, scale_c: float) -> None:
    after = [
        (day, entry)
        for day, entry in bench.of(GravityReading)
        if entry.of == "batch" and day is not None and day > 0.25
    ]
    with_refractometer = [entry for _, entry in after if entry.instrument == "refractometer"]
    bench.state("refractometer_after_pitching", True if with_refractometer else None)
    named = any(entry.instrument == "hydrometer" for _, entry in bench.of(GravityReading))
    bench.state("hydrometer_used", True if named else None)
    if after:
        last = after[-1][1]
        if last.degassed is False:
            bench.state("sample_not_degassed", True)
    gaps = [abs(entry.sample_c - scale_c) for _, entry in after if entry.sample_c is not None]
    if gaps:
        bench.number("sample_temp_gap_c", max(gaps))
    for day, entry in after:
        if entry.instrument != "refractometer":
            continue
        twins = [
            other
            for when, other in after
            if when is not None
            and day is not None
            and abs(when - day) < 0.7
            and other.instrument == "hydrometer"
        ]
        if twins:
            gap = (entry.sg - twins[-1].sg) * 1000
            bench.number("hydrometer_refractometer_gap_points", gap)
    checked = bench.batch.instruments.thermometer_checked
    bench.state("thermometer_checked", checked)


def expected_end(bench: Bench) -> None:
    """Set the gravity at which this beer should end, with its spread."""
    label = bench.batch.wort.expected_fg
    forced = forced_test(bench)
    estimates: list[ExpectedEnd] = []
    if label is not None:
        sigma = bench.constant("end_sigma_label_points")
        estimates.append(ExpectedEnd((label - 1) * 1000, sigma, "from the kit sheet"))
    computed = _computed_end(bench)
    if computed is not None:
        estimates.append(computed)
    if label is not None:
        bench.state("end_label_known", True)
    if ingredients(bench) is not None and computed is not None:
        bench.state("end_computed_known", True)
    if estimates:
        bench.lowest_end = min(estimates, key=lambda estimate: estimate.points)
    if estimates:
        bench.end = _combined(estimates)
    if forced is not None:
        sigma = bench.constant("end_sigma_forced_test_points")
        tested = ExpectedEnd(forced.lowest_points, sigma, "by the forced ferment test")
        # a test not taken well may lower the end, never raise it
        if forced.well_taken or bench.end is None or tested.points < bench.end.points:
            bench.end = tested
    if bench.end is None:
        bench.lacks("expected final gravity", matters="whether the beer is finished")
        bench.end = ExpectedEnd(
            bench.constant("end_nothing_known_points"),
            bench.constant("end_nothing_known_sigma_points"),
            "nothing known of the wort",
        )
    bench.number("expected_end_points", bench.end.points)
    bench.number("expected_end_sigma_points", bench.end.sigma_points)


def _computed_end(bench: Bench) -> ExpectedEnd | None:
    if bench.og_points is None or bench.og_points < 10:
        return None
    row = bench.yeast_class
    known = ingredients(bench)
    middle, how = row.attenuation_mid, "from starting gravity and yeast class"
    if known is not None:
        parts, spread = known
        try:
            mash_c = bench.get("mash_temp_c")
            shift = fermentation.mash_attenuation_shift_pct(mash_c) if mash_c else 0.0
            expected = fermentation.expected_final_gravity(
                parts, row.attenuation_mid, max(min(spread, 15.0), 1.0), shift
            )
        except OutOfRangeError:
            known = None
        else:
            middle = 100 * expected.apparent_attenuation
            how = "worked out from the fermentables and the yeast class"
    if known is None:
        spread = bench.constant(_spread_name(bench))
    if bench.yeast_class_id is None:
        spread = math.hypot(spread, row.sigma_percent)
        how += ", yeast class unknown"
    elif row.diastatic:
        spread = max(spread, bench.constant("attenuation_sigma_diastatic"))
    points = bench.og_points * (1 - middle / 100)
    sigma = math.hypot(bench.og_points * spread / 100, bench.og_sigma * (1 - middle / 100))
    return ExpectedEnd(points, max(sigma, 0.5), how)


def _spread_name(bench: Bench) -> str:
    kind = bench.facts.get("wort_kind")
    if kind in ("kit", "hopped_kit"):
        return "attenuation_sigma_kit_or_dark_extract"
    if kind == "all_grain" and bench.get("mash_temp_c") is not None:
        return "attenuation_sigma_known_mash"
    return "attenuation_sigma_unknown"


def _combined(estimates: list[ExpectedEnd]) -> ExpectedEnd:
    """Weigh estimates by their spread; when they disagree the spread covers both."""
    if len(estimates) == 1:
        return estimates[0]
    weights = [1 / estimate.sigma_points**2 for estimate in estimates]
    points = sum(
        weight * estimate.points for weight, estimate in zip(weights, estimates, strict=True)
    ) / sum(weights)
    apart = max(estimate.points for estimate in estimates) - min(
        estimate.points for estimate in estimates
    )
    sigma = max(1 / math.sqrt(sum(weights)), apart / 2)
    return ExpectedEnd(points, sigma, " and ".join(estimate.how for estimate in estimates))
