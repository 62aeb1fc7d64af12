"""Checks of the slope statistics and of the time bounds."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.shared_tables import rows

from trubshoot.errors import OutOfRangeError
from trubshoot.physics import kinetics


@pytest.mark.parametrize(
    ("count", "span", "bounds"),
    [
        (2, 2, (0.58, 1.16, 2.33)),
        (3, 2, (0.58, 1.16, 2.33)),
        (2, 3, (0.39, 0.78, 1.55)),
        (3, 3, (0.39, 0.78, 1.55)),
        (3, 4, (0.29, 0.58, 1.16)),
        (3, 6, (0.19, 0.39, 0.78)),
        (5, 7, (0.15, 0.30, 0.59)),
        (2, 7, (0.17, 0.33, 0.66)),
        (2, 14, (0.08, 0.17, 0.33)),
    ],
)
def test_fall_not_excluded_table(count, span, bounds):
    """Equal readings exclude no more than the table says, for three spreads of a reading."""
    days = [span * i / (count - 1) for i in range(count)]
    for sigma, bound in zip((0.5, 1.0, 2.0), bounds, strict=True):
        slope = kinetics.gravity_slope(days, [1.012] * count, sigma)
        assert slope.fall_not_excluded == pytest.approx(bound, abs=0.0051)
        assert slope.points_per_day == 0.0
        assert (slope.readings, slope.span_days) == (count, span)


@given(st.lists(st.floats(0, 60), min_size=3, max_size=9, unique=True), st.floats(-2, 6))
def test_slope_of_a_straight_line(days, fall):
    """A straight line of readings gives back its fall, for any spacing, as polyfit does."""
    if np.std(days) < 0.1:
        return
    readings = [1.020 - fall * day / 1000 * 0.1 for day in days]
    slope = kinetics.gravity_slope(days, readings)
    assert slope.points_per_day == pytest.approx(0.1 * fall, abs=1e-6)
    assert slope.points_per_day == pytest.approx(-1000 * np.polyfit(days, readings, 1)[0], abs=1e-6)
    assert slope.worst_residual_points == pytest.approx(0, abs=1e-6)


def test_standard_error_by_simulation():
    """The standard error is the scatter of slopes when readings scatter as stated."""
    days = [0.0, 1.0, 4.0, 9.0]
    noise = np.random.default_rng(1).normal(0, 1.0, (4000, 4)) / 1000
    slopes = [kinetics.gravity_slope(days, list(1.02 + n)) for n in noise]
    scatter = np.std([s.points_per_day for s in slopes])
    assert slopes[0].standard_error == pytest.approx(scatter, rel=0.05)


@given(st.floats(-6, 6))
def test_a_constant_error_of_the_instrument_cancels(bias):
    """A hydrometer that is always wrong by the same points shows the same fall."""
    days, readings = [0, 2, 5], [1.016, 1.014, 1.012]
    here = kinetics.gravity_slope(days, readings)
    there = kinetics.gravity_slope(days, [sg + bias / 1000 for sg in readings])
    assert here.points_per_day == pytest.approx(there.points_per_day, abs=1e-9)


def test_rising_readings_exclude_more_but_never_below_zero():
    """Readings that rise do not give a negative bound."""
    slope = kinetics.gravity_slope([0, 10], [1.010, 1.016])
    assert slope.points_per_day == pytest.approx(-0.6)
    assert slope.fall_not_excluded == 0.0


@pytest.mark.parametrize(("rate", "left"), [(0.5, 1.6), (0.1, 7.8), (0.05, 15.6)])
def test_points_left_in_tail(rate, left):
    """The same plateau leaves more when the yeast is slow."""
    assert kinetics.points_left_in_tail(0.78, rate) == pytest.approx(left, abs=0.06)


@given(st.floats(0, 44), st.floats(1.1, 5))
def test_rate_factor(temp_c, q10):
    """The factor is one at the reference, q10 after ten degrees, and rises with warmth."""
    assert kinetics.temperature_rate_factor(20, 20, q10) == 1.0
    assert kinetics.temperature_rate_factor(30, 20, q10) == pytest.approx(q10)
    here = kinetics.temperature_rate_factor(temp_c, 20, q10)
    assert kinetics.temperature_rate_factor(temp_c + 1, 20, q10) > here


def test_published_times_lie_between_the_bounds():
    """Gauged and usual times to carbonated bottles lie between the slow and the fast bound."""
    table = {row["case"]: row for row in rows("time_course.csv")}
    gauged = next(row for name, row in table.items() if name.startswith("glucose 6.2"))
    done = kinetics.priming_done(float(gauged["days_low"]), float(gauged["t_C"]))
    assert done.fast == 1.0
    assert done.central < 1.0
    fast = next(row for name, row in table.items() if name.startswith("fast claim"))
    assert kinetics.priming_fast_days(float(fast["t_C"])) == float(fast["days_high"])
    usual = table["typical home bottle, ale"]
    assert 0.80 <= kinetics.priming_done(float(usual["days_low"]), 21).central <= 0.98
    assert kinetics.priming_done(float(usual["days_high"]), 21).central > 0.95
    tired = table["tired or low-count yeast, strong beer"]
    assert kinetics.priming_done(float(tired["days_low"]), 15).slow < 0.8
    assert kinetics.priming_done(float(tired["days_high"]), 15).slow > 0.95


def test_priming_central_rate():
    """At 20 C ninety percent is gas after nine days."""
    assert kinetics.priming_done(9, 20).central == pytest.approx(0.895, abs=0.005)
    assert kinetics.priming_fast_days(20) == 1.5
    assert kinetics.priming_fast_days(15) == pytest.approx(3.0)
    assert kinetics.priming_fast_days(5) == pytest.approx(3.0 * 2.3)


@given(st.floats(0, 60), st.floats(0, 45))
def test_priming_bounds_are_in_order(days, temp_c):
    """Slow, central and fast come in this order and rise with time."""
    done = kinetics.priming_done(days, temp_c)
    assert 0 <= done.slow <= done.central <= done.fast <= 1
    later = kinetics.priming_done(days + 1, temp_c)
    assert later.fast >= done.fast
    assert later.slow >= done.slow


def test_bottled_while_falling():
    """A beer falling a point a day goes from 2.5 to 4.5 volumes in three and a half days."""
    rise = kinetics.vols_rise_per_day(1.0, 20, 20)
    assert rise == pytest.approx(0.57)
    assert kinetics.days_until_vols(2.5, 4.5, rise) == pytest.approx(3.5, abs=0.02)
    assert kinetics.vols_rise_per_day(1.0, 20, 30) == pytest.approx(0.57 * 2.3)
    # an active fermentation of 5 to 15 points a day makes 3 to 8 volumes a day
    assert (
        2.8 < kinetics.vols_rise_per_day(5, 20, 20) < kinetics.vols_rise_per_day(15, 20, 20) < 8.6
    )


def test_days_until_volumes_edges():
    """A limit already reached takes no time; without a rise it is never reached."""
    assert kinetics.days_until_vols(5, 4, 0) == 0.0
    assert kinetics.days_until_vols(2, 4, 0) == math.inf


@pytest.mark.parametrize(
    ("function", "arguments"),
    [
        (kinetics.gravity_slope, ([1.0], [1.01])),
        (kinetics.gravity_slope, ([1.0, 2.0], [1.01])),
        (kinetics.gravity_slope, ([1.0, 1.0], [1.01, 1.01])),
        (kinetics.gravity_slope, ([1.0, math.nan], [1.01, 1.01])),
        (kinetics.gravity_slope, ([1.0, 2.0], [1.01, 10.1])),
        (kinetics.gravity_slope, ([1.0, 2.0], [1.01, math.nan])),
        (kinetics.gravity_slope, ([1.0, 2.0], [1.01, 1.01], 0.1)),
        (kinetics.gravity_slope, ([1.0, 2.0], [1.01, 1.01], 5.1)),
        (kinetics.points_left_in_tail, (-0.1, 0.5)),
        (kinetics.points_left_in_tail, (31, 0.5)),
        (kinetics.points_left_in_tail, (1, 0.01)),
        (kinetics.points_left_in_tail, (1, 2.1)),
        (kinetics.temperature_rate_factor, (-0.1,)),
        (kinetics.temperature_rate_factor, (45.1,)),
        (kinetics.temperature_rate_factor, (20, 46)),
        (kinetics.temperature_rate_factor, (20, 20, 0.9)),
        (kinetics.temperature_rate_factor, (20, 20, 5.1)),
        (kinetics.priming_done, (-1, 20)),
        (kinetics.priming_done, (5, 46)),
        (kinetics.priming_fast_days, (-1,)),
        (kinetics.vols_rise_per_day, (61, 20, 20)),
        (kinetics.vols_rise_per_day, (1, 20, 20, 0.6)),
        (kinetics.days_until_vols, (-1, 4, 1)),
        (kinetics.days_until_vols, (1, 21, 1)),
        (kinetics.days_until_vols, (1, 4, -1)),
        (kinetics.days_until_vols, (math.nan, 4, 1)),
    ],
)
def test_out_of_range_is_refused(function, arguments):
    """Outside its range, and for a value that is no number, a formula refuses to answer."""
    with pytest.raises(OutOfRangeError):
        function(*arguments)


@pytest.mark.parametrize("readings", range(3, 11))
def test_equal_readings_against_the_studentized_range(readings):
    """The factor is the ratio of scipy's upper 5 % points of the range of normal readings."""
    from scipy import stats

    of_three = stats.studentized_range.ppf(0.95, 3, 1e5)
    expected = stats.studentized_range.ppf(0.95, readings, 1e5) / of_three
    assert kinetics.equal_range_factor(readings) == pytest.approx(expected, abs=0.003)


def test_few_readings_get_no_wider_range():
    """One, two and three readings share a factor of 1; it never falls with more of them."""
    factors = [kinetics.equal_range_factor(count) for count in range(1, 40)]
    assert factors[:3] == [1.0, 1.0, 1.0]
    assert factors == sorted(factors)
    with pytest.raises(OutOfRangeError):
        kinetics.equal_range_factor(0)
