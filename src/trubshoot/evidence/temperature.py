"""Temperatures of the beer while it fermented: measured, or the room's plus the beer's own heat."""

from __future__ import annotations

from itertools import pairwise

from trubshoot.batch.model import BeerTemperature, RoomTemperature
from trubshoot.errors import OutOfRangeError
from trubshoot.evidence.bench import Bench
from trubshoot.physics.fermentation import DAYS_OF, days_to_end

Series = list[tuple[float, float]]  # (days since pitching, deg C), in order of time

_SETTLING_DAYS = 0.5  # a warm pitch that cools to the room in hours is no fall in fermentation
SLACK_C = 0.5  # a usual thermometer's scale division


def temperatures(bench: Bench) -> None:
    """Set the facts on temperature; call after the yeast is known and before the gravity course."""
    beer, rooms = beer_series(bench), room_series(bench)
    pitch = bench.deed("pitched")
    pitch_c = pitch[1].temp_c if pitch else None
    if pitch_c is not None:
        bench.number("pitch_temp_c", pitch_c)
        below = bench.yeast_class.temp_min_c - pitch_c
        bench.number("pitch_degrees_below_window", max(below, 0.0))
    bench.state("cold_crashed", True if bench.deeds("cold crashed") else None)
    bench.state("temperature_control", True if bench.deeds("warmed", "cooled") else None)
    if rooms:
        bench.number("room_max_c", max(temp for _, temp in rooms))
        bench.number("room_min_c", min(temp for _, temp in rooms))
    bench.state("beer_temp_logged", True if beer else None)
    bench.state("only_room_temp", True if rooms and not beer else None)
    if not beer and not rooms:
        bench.lacks(
            "temperature while fermenting",
            matters="off-flavours, stalling, and the CO2 left in the beer",
        )
    _expected_days(bench, beer, rooms)
    series = _active(bench, beer) if beer else _active(bench, _from_rooms(bench, rooms))
    if series:
        _window(bench, series)
        _drop(bench, series)
    _recent_rise(bench, beer or rooms)


def beer_series(bench: Bench) -> Series:
    """Return the temperatures of the beer as logged: read, or set by warming and cooling."""
    beer: Series = [
        (day, entry.temp_c) for day, entry in bench.of(BeerTemperature) if day is not None
    ]
    for day, deed in bench.deeds("warmed", "cooled", "cold crashed"):
        if day is not None and deed.to_c is not None:
            beer.append((day, deed.to_c))
    return sorted(beer)


def room_series(bench: Bench) -> Series:
    """Return the temperatures of the room while it fermented, that of the head at day 0."""
    rooms: Series = [
        (day, entry.temp_c)
        for day, entry in bench.of(RoomTemperature)
        if day is not None and (bench.fermenting_end is None or day <= bench.fermenting_end)
    ]
    if bench.batch.room.temp_c is not None:
        rooms.append((0.0, bench.batch.room.temp_c))
    return sorted(rooms)


def beer_temperatures_between(bench: Bench, start: float, end: float) -> list[float]:
    """Return the beer temperatures known to hold between two days [C].

    Readings inside the span, and the last one before it if that is at most three days old. The
    room counts as the beer where only the room is known: by then the beer makes no heat of its own.
    """
    series: Series = [
        (day, entry.temp_c) for day, entry in bench.of(BeerTemperature) if day is not None
    ]
    series += [
        (day, deed.to_c)
        for day, deed in bench.deeds("warmed", "cooled", "cold crashed")
        if day is not None and deed.to_c is not None
    ]
    # cooled, and not said how far: colder than the yeast works
    too_cold = bench.yeast_class.temp_min_c - 2 * SLACK_C
    series += [
        (day, too_cold)
        for day, deed in bench.deeds("cooled", "cold crashed")
        if day is not None and deed.to_c is None
    ]
    if not series:
        series = [
            (day, entry.temp_c) for day, entry in bench.of(RoomTemperature) if day is not None
        ]
    before = [item for item in sorted(series) if start - 3.0 <= item[0] < start]
    inside = [temp for day, temp in series if start <= day <= end + 1e-6]
    return [*(temp for _, temp in before[-1:]), *inside]


def _from_rooms(bench: Bench, rooms: Series) -> Series:
    """Return the beer's temperature estimated from the room's: warmer while it works."""
    warmth = bench.constant("self_heating_c")
    active = bench.get("expected_days_to_end") or bench.yeast_class.days_high
    return [(day, temp + (warmth if day <= active else 0.0)) for day, temp in rooms]


def _expected_days(bench: Bench, beer: Series, rooms: Series) -> None:
    row = bench.yeast_class
    known = beer or rooms
    og = 1 + (bench.og_points or 50.0) / 1000
    days = (row.days_low + row.days_high) / 2
    if known:
        mean = sum(temp for _, temp in known) / len(known)
        mean += 0.0 if beer else bench.constant("self_heating_c")
        table = DAYS_OF[row.pace]
        try:
            days = days_to_end(table, mean, og).central
        except OutOfRangeError:
            # colder or warmer than the table: the class's own slow or fast end
            days = row.days_high if mean < table[0][0] else row.days_low
    bench.number("expected_days_to_end", days)
    if bench.pitched_at_zero and bench.fermenting_end is not None and bench.fermenting_end >= 0:
        bench.number("age_over_expected", bench.fermenting_end / days)


def _active(bench: Bench, series: Series) -> Series:
    """Return the temperatures of the time in which the yeast worked."""
    end = bench.fermenting_end
    active = 2 * (bench.get("expected_days_to_end") or 7.0)
    last = min(end, active) if end is not None else active
    crashes = [day for day, _ in bench.deeds("cold crashed") if day is not None]
    if crashes:
        last = min(last, min(crashes) - 1e-6)
    return [(day, temp) for day, temp in series if -0.05 <= day <= last]


def _spans(bench: Bench, series: Series) -> list[tuple[float, float]]:
    """Return (hours, deg C): each temperature holds until the next one."""
    end = bench.fermenting_end
    active = 2 * (bench.get("expected_days_to_end") or 7.0)
    last = max(min(end if end is not None else series[-1][0], active), series[-1][0])
    closed = [*series, (last, series[-1][1])]
    return [((later - day) * 24, temp) for (day, temp), (later, _) in pairwise(closed)]


def _window(bench: Bench, series: Series) -> None:
    row = bench.yeast_class
    temps = [temp for _, temp in series]
    spans = _spans(bench, series)
    hours = sum(span for span, _ in spans)
    mean = sum(span * temp for span, temp in spans) / hours if hours > 0 else temps[-1]
    bench.number("beer_temp_mean_c", mean)
    bench.number("beer_temp_max_c", max(temps))
    bench.number("beer_temp_min_c", min(temps))
    if bench.yeast_class_id is None:
        bench.lacks(
            "yeast class", "an ale yeast of a kit sachet", "temperature window and attenuation"
        )
    high, low = row.temp_high_c + SLACK_C, row.temp_min_c - SLACK_C
    bench.number("degrees_above_window", max(max(temps) - high, 0.0))
    bench.number("degrees_below_window", max(low - min(temps), 0.0))
    bench.number("hours_above_window", sum(span for span, temp in spans if temp > high))
    bench.number("hours_below_window", sum(span for span, temp in spans if temp < low))
    inside = sum(span for span, temp in spans if low <= temp <= high)
    bench.number("days_in_window", inside / 24)


def _drop(bench: Bench, series: Series) -> None:
    """Largest fall of temperature before 80 % of the expected attenuation was reached."""
    share = bench.constant("stall_attenuation_share")
    until = bench.get("expected_days_to_end") or 7.0
    og, end = bench.og_points, bench.end
    if og is not None and end is not None:
        goal = og - share * (og - end.points)
        reached = [
            reading.day
            for reading in bench.readings
            if reading.day is not None and reading.day > 0.25 and reading.points <= goal
        ]
        above = [
            reading.day
            for reading in bench.readings
            if reading.day is not None and reading.day > 0.25 and reading.points > goal
        ]
        if reached:
            until = min(until, reached[0]) if not above else max(above[-1], min(until, reached[0]))
        elif above:
            until = max(until, above[-1])
    drop, highest = 0.0, None
    for day, temp in series:
        if day < _SETTLING_DAYS or day > until:
            continue
        highest = temp if highest is None else max(highest, temp)
        drop = max(drop, highest - temp)
    if highest is not None:
        bench.number("temp_drop_before_end_c", drop)


def _recent_rise(bench: Bench, series: Series) -> None:
    now = bench.now
    if now is None:
        return
    recent = [temp for day, temp in series if now - 3.5 <= day <= now]
    if len(recent) >= 2:
        bench.number("temp_rise_recent_c", max(0.0, recent[-1] - min(recent)))
