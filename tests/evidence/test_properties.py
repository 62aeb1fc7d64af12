"""The same batch with one thing changed: what must not change, and what must not look safer."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.batch.samples import METRIC, US
from tests.evidence.support import facts_of, number, real_knowledge, without

from trubshoot.errors import BatchError
from trubshoot.evidence.course import plateau
from trubshoot.evidence.model import Reading
from trubshoot.physics.kinetics import equal_range_factor, gravity_slope
from trubshoot.rules import Fact, compile_specs
from trubshoot.rules.oracle import OracleEngine

HEAD = """\
batch: Lantern Street Bitter No. 3
style: pale ale
today: 2026-04-12
wort: {kind: extract, volume: 20 l, boiled: 20 l, expected_og: 1.048, expected_fg: 1.014}
fermentables: [{what: light dried malt extract, amount: 2.6 kg}]
yeast: {class: english ale, form: dry, amount: 11 g, age: 4 months, stored: fridge}
vessel: {kind: bucket, volume: 25 l}
instruments: {hydrometer_scale: 20 C, hydrometer_in_water: 1.000}
bottles: {kind: new longneck bottles, size: 0.5 l, count: 38, reused: no}
storage: {where: cellar, temp: 14 C}
room: 19 C
log:
"""
LOG = [
    "{at: 2026-03-07 16:10, gravity: 1.048, sample: 20 C, degassed: yes}",
    "{at: 2026-03-07 16:20, did: pitched, beer: 19 C, amount: 11 g}",
    "{at: 2026-03-08 16:20, beer: 20 C}",
    "{at: 2026-03-12 16:20, beer: 19 C}",
    "{at: 2026-03-14 09:00, did: dry hopped, amount: 40 g, for: 4 d}",
    "{at: 2026-03-18 12:00, gravity: 1.014, sample: 20 C, degassed: yes}",
    "{at: 2026-03-20 12:00, gravity: 1.014, sample: 20 C, degassed: yes}",
    "{at: 2026-03-22 12:00, gravity: 1.014, sample: 20 C, degassed: yes}",
    "{at: 2026-03-22 12:10, beer: 19 C}",
    "{at: 2026-03-22 14:00, did: bottled, sugar: 110 g table sugar, volume: 19 l, stirred: yes,"
    " weighed: yes, headspace: 4 %}",
    "{at: 2026-03-23 14:00, did: stored, temp: 18 C, where: cellar}",
    "{at: 2026-04-10 20:00, tasted: [sour, thin]}",
]
RISK = ("co2_upper_vols", "pressure_over_danger_bar", "pressure_hot_upper_bar")


def text_of(log: list[str], head: str = HEAD) -> str:
    """Return the text of a batch file."""
    return head + "".join(f"  - {entry}\n" for entry in log)


def conclusions(text: str) -> set[str]:
    """Return what the real rules conclude."""
    rules = OracleEngine(compile_specs(real_knowledge().rules.values()))
    facts = {name: Fact.of(value) for name, value in facts_of(text).items()}
    return {firing.conclusion for firing in rules.run(facts).firings}


@settings(max_examples=40, deadline=None)
@given(st.permutations(LOG))
def test_order_of_log_lines(log: list[str]) -> None:
    """Log lines with times of their own may stand in any order."""
    assert facts_of(text_of(log)) == facts_of(text_of(LOG))


def test_us_and_metric_twins() -> None:
    """One batch written in US and in metric units gives the same facts, within rounding."""
    us, metric = facts_of(US), facts_of(METRIC)
    assert us.keys() == metric.keys()
    assert len(us) > 60
    for name, value in us.items():
        if isinstance(value, float):
            assert metric[name] == pytest.approx(value, rel=2e-3, abs=2e-3), name
        else:
            assert metric[name] == value, name


@settings(max_examples=40, deadline=None)
@given(
    gallons=st.floats(1, 12),
    ounces=st.floats(0.5, 8),
    pounds=st.floats(1, 12),
    fahrenheit=st.floats(50, 90),
    points=st.integers(5, 30),
)
def test_twins_at_random(
    gallons: float, ounces: float, pounds: float, fahrenheit: float, points: int
) -> None:
    """Gallons, ounces, pounds and Fahrenheit mean what litres, grams and Celsius mean."""
    celsius = (fahrenheit - 32) / 1.8

    def text(volume: str, sugar: str, extract: str, temp: str) -> str:
        return f"""\
batch: twin
today: 2026-04-12
wort: {{volume: {volume}}}
fermentables: [{{what: light dried malt extract, amount: {extract}}}]
storage: {{temp: {temp}}}
log:
  - {{at: 2026-03-07 16:20, did: pitched, beer: {temp}}}
  - {{at: 2026-03-20 12:00, gravity: {1 + points / 1000:.3f}, sample: {temp}}}
  - {{at: 2026-03-22 14:00, did: bottled, sugar: {sugar} table sugar, volume: {volume}}}
"""

    us = facts_of(text(f"{gallons} gal", f"{ounces} oz", f"{pounds} lb", f"{fahrenheit} F"))
    metric = facts_of(
        text(
            f"{gallons * 3.785411784} l",
            f"{ounces * 28.349523125} g",
            f"{pounds * 453.59237} g",
            f"{celsius} C",
        )
    )
    assert us.keys() == metric.keys()
    for name, value in us.items():
        expected = pytest.approx(value, rel=1e-6, abs=1e-6) if isinstance(value, float) else value
        assert metric[name] == expected, name


@pytest.mark.parametrize("place", [number for number, line in enumerate(LOG) if "gravity" in line])
@pytest.mark.parametrize("bottled", [True, False], ids=["bottled", "not bottled"])
def test_reading_entered_twice(place: int, bottled: bool) -> None:
    """A reading written down twice changes no fact and no conclusion."""
    log = LOG if bottled else LOG[:8]
    doubled = [*log[: place + 1], *log[place:]]
    assert facts_of(text_of(doubled)) == facts_of(text_of(log))


def test_two_readings_do_not_become_three_by_writing() -> None:
    """Three equal readings are asked for before bottling; the same one again is not a third."""
    head = HEAD.replace("today: 2026-04-12", "today: 2026-03-22")
    two = [LOG[1], LOG[5], LOG[7]]
    again = [*two, LOG[7], LOG[5]]
    jar = [*two, LOG[7].replace("degassed: yes", "degassed: yes, of: another jar")]
    assert "hold.fewer_than_three_equal" in conclusions(text_of(two, head))
    assert conclusions(text_of(again, head)) == conclusions(text_of(two, head))
    assert "hold.fewer_than_three_equal" in conclusions(text_of(jar, head))
    assert facts_of(text_of(jar, head))["readings_unchanged"] == 2


@settings(max_examples=30, deadline=None)
@given(st.floats(0.2, 5))
def test_scaling_everything(factor: float) -> None:
    """Twice the volume with twice of everything changes nothing about gravity and dose."""

    def text(scale: float) -> str:
        volume = 19 * scale
        return f"""\
batch: scaled
today: 2026-04-12
wort: {{volume: {20 * scale} l, boiled: {12 * scale} l}}
fermentables:
  - {{what: light dried malt extract, amount: {2.0 * scale} kg}}
  - {{what: table sugar, amount: {0.5 * scale} kg}}
yeast: {{class: english ale, form: dry, amount: {11 * scale} g}}
vessel: {{kind: bucket, volume: {25 * scale} l}}
log:
  - {{at: 2026-03-07 16:20, did: pitched, beer: 19 C, amount: {11 * scale} g}}
  - {{at: 2026-03-12 12:00, did: dry hopped, amount: {40 * scale} g}}
  - {{at: 2026-03-20 12:00, gravity: 1.010, sample: 20 C}}
  - {{at: 2026-03-22 14:00, did: bottled, sugar: {110 * scale} g table sugar, volume: {volume} l}}
"""

    one, more = facts_of(text(1)), facts_of(text(factor))
    assert one.keys() == more.keys()
    # the scale's own error, 1.5 g, weighs less in a larger dose; everything else is a ratio
    other = {"bottled_volume_l", *RISK}
    for name, value in one.items():
        if name in other:
            continue
        if name in ("co2_expected_vols", "co2_over_target_vols") or name.startswith("pressure"):
            assert more[name] == pytest.approx(value, abs=0.02), name
        elif isinstance(value, float):
            assert more[name] == pytest.approx(value, rel=1e-9, abs=1e-9), name
        else:
            assert more[name] == value, name


def removals(text: str) -> Iterator[tuple[str, str]]:
    """Yield (what was taken out, the text without it) for every line and every field."""
    lines = text.splitlines(keepends=True)
    for place, line in enumerate(lines[1:], 1):
        if line.startswith("log:"):
            continue
        yield line.strip(), "".join([*lines[:place], *lines[place + 1 :]])
        for field in re.findall(r"\w+: [^,{}\[\]]+(?:, )?", line):
            if not line.startswith(field) and not field.startswith("at:"):
                thinner = line.replace(field, "", 1)
                yield (
                    f"{field} of {line.strip()}",
                    "".join([*lines[:place], thinner, *lines[place + 1 :]]),
                )


def plain_batch(random_: random.Random) -> str:
    """Return a batch whose entries agree with each other, so that none of them is bad news.

    Taking out a single bad reading would rightly make a batch look better; what is tested is that
    knowing less does not.
    """
    temp = random_.randint(17, 20)
    fg = random_.choice([1.012, 1.014, 1.018, 1.022])
    volume = random_.randint(8, 40)
    extract = 48 / 367 * volume  # 48 points, as measured
    dose = random_.uniform(3, 9) * volume
    bottle = random_.choice(
        ["new longneck bottles", "swing top bottles", "champagne bottles", "unknown"]
    )
    primed = f"sugar: {dose:.1f} g table sugar, volume: {volume} l, stirred: yes, weighed: yes"
    return f"""\
batch: plain
today: 2026-04-20
wort: {{kind: extract, volume: {volume} l, expected_fg: 1.014}}
fermentables: [{{what: light dried malt extract, amount: {extract:.3f} kg}}]
yeast: {{class: english ale, form: dry, amount: 11 g}}
instruments: {{hydrometer_scale: 20 C, hydrometer_in_water: 1.000}}
bottles: {{kind: {bottle}, size: 0.5 l, reused: no}}
storage: {{where: cellar, temp: {temp} C}}
room: {temp} C
log:
  - {{at: 2026-03-07 16:10, gravity: 1.048, sample: 20 C, degassed: yes}}
  - {{at: 2026-03-07 16:20, did: pitched, beer: {temp} C, amount: 11 g}}
  - {{at: 2026-03-12 16:20, beer: {temp} C}}
  - {{at: 2026-03-18 12:00, gravity: {fg:.3f}, sample: 20 C, degassed: yes}}
  - {{at: 2026-03-20 12:00, gravity: {fg:.3f}, sample: 20 C, degassed: yes}}
  - {{at: 2026-03-22 12:00, gravity: {fg:.3f}, sample: 20 C, degassed: yes}}
  - {{at: 2026-03-22 14:00, did: bottled, {primed}}}
  - {{at: 2026-03-23 14:00, did: stored, temp: {temp} C}}
"""


@pytest.mark.parametrize("random_state", range(12))
def test_knowing_less_never_looks_safer(random_state: int) -> None:
    """Taking any line or field out never lowers the upper gas or its pressure, where they stand."""
    text = plain_batch(random.Random(random_state))
    full = facts_of(text)
    compared = 0
    lower = []
    for what, thinner in removals(text):
        try:
            less = facts_of(thinner)
        except BatchError:
            continue
        for name in RISK:
            if name in less:
                compared += 1
                if number(less, name) < number(full, name) - 1e-6:
                    lower.append((name, number(full, name), number(less, name), what))
    assert compared > 80
    assert not lower, "\n".join(map(str, lower))


def test_without_sugar_or_volume_nothing_is_computed() -> None:
    """Where amount or volume is not known there is no figure that could reassure."""
    text = text_of(LOG)
    for pattern in (r"sugar: 110 g table sugar, ", r"110 g ", r"volume: 19 l, "):
        thin = without(text, pattern).replace("count: 38, ", "")
        facts = facts_of(thin)
        assert not {*RISK, "co2_expected_vols"} & facts.keys(), pattern


def _longest_equal(readings: list[Reading], tolerance: float) -> list[Reading]:
    """Return the plateau by its definition: every window looked at, the longest that does kept."""
    best = readings[-1:]
    widest = tolerance * equal_range_factor(len(readings))
    for start in range(len(readings) - 2, -1, -1):
        window = readings[start:]
        points = [item.points for item in window]
        spread = max(points) - min(points)
        if spread > widest + 1e-6:
            break
        slope = gravity_slope(
            [item.day or 0.0 for item in window], [1 + point / 1000 for point in points], 1.0
        )
        allowed = tolerance * equal_range_factor(len(window))
        falls = slope.points_per_day > 1.645 * slope.standard_error
        if spread <= allowed + 1e-6 and not falls:
            best = window
    return best


@pytest.mark.parametrize("fall", [0.0, 0.05, 0.2, 1.0])
def test_plateau_is_the_longest_window_of_equal_readings(fall: float) -> None:
    """Looking at the longest windows first finds what looking at all of them finds."""
    draw = random.Random(7)
    lengths = set()
    for count in [*range(2, 12), 60]:
        readings = [
            Reading(float(day), 1.0, 12 - fall * day + draw.gauss(0, 0.7), 1.0, "hydrometer")
            for day in range(count)
        ]
        found = plateau(readings, 1.0)
        assert found == _longest_equal(readings, 1.0)
        lengths.add(len(found))
    assert len(lengths) > 1
