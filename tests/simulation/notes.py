"""Which things a brewer writes down and when the readings are taken: no numbers yet."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from tests.simulation import priors
from tests.simulation.draws import Array, Draws, Flags, of_yeast
from tests.simulation.kinetics import Course, gravity, intruder_fall

GOOD_SPAN_DAYS = 6.0
MOST_READINGS = 8


@dataclass
class Notes:
    """What each log holds."""

    has: dict[str, Flags]
    days: list[list[int]]  # days of the readings after pitching, oldest first
    gassy: list[list[bool]]  # whether that sample was full of gas
    degassed_said: list[list[bool | None]]
    sign: Flags  # a grown intruder was noticed and written down
    cold_said: Flags  # the log tells that the beer was cooled
    span: Array  # days covered by the late good readings (0 with fewer than three)
    flat: Array  # true fall over that span
    fresh: Flags  # last reading within a day of asking


def take_notes(rng: np.random.Generator, drawn: Draws) -> Notes:
    """Decide what each brewer writes down."""
    n = len(drawn.day)
    brewer = drawn.choice["brewer"]
    has = {
        name: rng.random(n) >= np.asarray(shares)[brewer] for name, shares in priors.MISSING.items()
    }
    days = [_reading_days(rng, int(brewer[i]), int(drawn.day[i]), has["og"][i]) for i in range(n)]
    gassy = [
        [bool(gas) for gas in rng.random(len(row)) < priors.GASSY[brewer[i]]]
        for i, row in enumerate(days)
    ]
    said = [
        [
            (not gas or bool(rng.random() < priors.GAS_UNNOTICED)) if has["degassed"][i] else None
            for gas in row
        ]
        for i, row in enumerate(gassy)
    ]
    grown = intruder_fall(drawn.course, drawn.day[:, None])[:, 0] > 1.5
    sign = grown & (rng.random(n) < priors.SIGN_NOTICED)
    chilled = drawn.flags["crash"] & (has["cooling_line"] | has["beer_temp"])
    cold = drawn.flags["cold_stall"] & has["beer_temp"]
    notes = Notes(
        has,
        days,
        gassy,
        said,
        sign,
        chilled | cold,
        np.zeros(n),
        np.zeros(n),
        np.zeros(n, dtype=bool),
    )
    for i in range(n):
        _late_span(drawn, notes, i)
    return notes


def _reading_days(rng: np.random.Generator, brewer: int, day: int, og: bool) -> list[int]:
    """Return the days of the readings; with the OG there are 2 to 8 in a log."""
    cadences = priors.CADENCES[brewer]
    back = cadences[rng.integers(len(cadences))]
    old = 0
    if rng.random() < priors.LAST_READING_OLD[brewer]:
        old = int(rng.integers(1, 6))
    late = {day - old - ago for ago in back}
    early = {3} if brewer < 3 and rng.random() < 0.4 else set()
    if brewer < 2 and rng.random() < 0.4:
        early |= {5, 7}
    found = sorted(item for item in late | early if 1 <= item <= day)
    least = 1 if og else 2
    spare = [item for item in (4, 2, 1, 6, 3) if item <= day and item not in found]
    while len(found) < least and spare:
        found.append(spare.pop(0))
    return sorted(found)[-(MOST_READINGS - 1) :]


def _late_span(drawn: Draws, notes: Notes, i: int) -> None:
    """Find the late good readings: by hydrometer, warm, not known to be full of gas.

    They begin when the beer stood within 1 point (true) of where it was at the last of them, or
    six days back at the least: what a careful reader would lay side by side.
    """
    day = drawn.day[i]
    days = notes.days[i]
    notes.fresh[i] = bool(days) and day - days[-1] <= 1.0
    if drawn.flags["refractometer_raw"][i] or drawn.flags["refractometer_new"][i]:
        return
    cold_from = drawn.event_day[i] if drawn.flags["crash"][i] else 1e9
    good = [
        d
        for d, said in zip(days, notes.degassed_said[i], strict=True)
        if said is not False and d <= cold_from
    ]
    if len(good) < 3:
        return
    row = _one(drawn, i, np.array([good], dtype=float))
    kept = [j for j in range(len(good)) if row[j] - row[-1] <= 1.0]
    if len(kept) < 3 or good[-1] - good[kept[0]] < GOOD_SPAN_DAYS:
        start = next(
            (j for j in range(len(good) - 1, -1, -1) if good[-1] - good[j] >= GOOD_SPAN_DAYS), None
        )
        if start is None or len(good) - start < 3:
            return
        kept = list(range(start, len(good)))
    notes.span[i] = good[-1] - good[kept[0]]
    notes.flat[i] = row[kept[0]] - row[-1]


def _one(drawn: Draws, i: int, days: Array) -> Array:
    """Return the true gravity of one batch at some days."""
    values = {
        item.name: getattr(drawn.course, item.name)[i : i + 1] for item in fields(drawn.course)
    }
    return np.asarray(gravity(Course(**values), days)[0])


def expected_end(drawn: Draws, notes: Notes) -> tuple[Array, Array]:
    """Return the end that the log itself lets one expect, and its sigma (0: nothing to go by).

    Label: sigma 3 points. Class of yeast, kind of wort and starting gravity: what such worts truly
    do on the average, with their true spread (F 3.4, 3.5), so that nobody is called careless who
    trusts a beer that ended where such beers end; test_brewery.py holds its sigma to the truth.
    Both weighed together. A forced ferment test that was written down outweighs both: 0.7 points
    (P 4.2).
    """
    label = notes.has["expected_fg"]
    klass = notes.has["yeast_class"] & notes.has["yeast_vague"]
    klass = klass & (notes.has["og"] | notes.has["expected_og"])
    og = drawn.course.og
    wort = drawn.choice["wort"]  # always written
    attenuation = of_yeast(drawn.yeast, "attenuation") + np.array(priors.WORT_SHIFT)[wort]
    by_class = og * (1 - attenuation / 100)
    spread = og * np.array(priors.WORT_SPREAD)[wort] / 100
    weight_label = np.where(label, 1 / 3.0**2, 0.0)
    weight_class = np.where(klass, 1 / spread**2, 0.0)
    weight_forced = np.where(notes.has["forced"], 1 / 0.7**2, 0.0)
    total = weight_label + weight_class + weight_forced
    some = np.maximum(total, 1e-12)
    end = weight_label * drawn.label_fg + weight_class * by_class
    end = (end + weight_forced * drawn.course.fg) / some
    return end, np.where(total > 0, 1 / np.sqrt(some), 0.0)
