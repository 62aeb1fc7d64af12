"""Checks of the fitted curve: made-up batches with known ends, and brewed series."""

import math
from itertools import pairwise

import numpy as np
import pytest
from tests.shared_tables import rows

from trubshoot.errors import OutOfRangeError
from trubshoot.physics import curve

ALE_HOURS = curve.HALF_TIME_HOURS["ale"][0]


def made_up_batch(draw, days):
    """Return (true FG points, readings) of a batch drawn from what the fit expects."""
    fg = draw.normal(10, 3)
    half = ALE_HOURS / 24 * math.exp(draw.normal(0, 0.4))
    steep, s = math.exp(draw.normal(math.log(3), 0.35)), math.exp(draw.normal(0, 0.5))

    def shape(day):
        return (1 + (2**s - 1) * math.exp(steep * (day / half - 1))) ** (-1 / s)

    points = [fg + (50 - fg) * shape(day) / shape(0) + draw.normal(0, 1) for day in days]
    return fg, [1 + round(p) / 1000 for p in points]


@pytest.mark.parametrize(
    ("days", "half_width"),
    [([], 4.9), ([0, 3], 4.1), ([0, 3, 6], 2.2), ([0, 2, 4, 6], 2.0), ([0, 4, 8], 1.6)],
    ids=str,
)
def test_band_holds_the_truth(days, half_width):
    """The 90 % band holds 84 to 96 % of known ends and is as wide as the chapter says."""
    draw = np.random.default_rng(11)
    inside, widths = 0, []
    batches = 150
    for _ in range(batches):
        fg, readings = made_up_batch(draw, days)
        fit = curve.fit_gravity_curve(days, readings, 1.050, 1.010, 3.0, ALE_HOURS, draws=20_000)
        low, high = 1000 * (fit.fg.low - 1), 1000 * (fit.fg.high - 1)
        inside += low <= fg <= high
        widths.append((high - low) / 2)
    assert 0.83 <= inside / batches <= 0.97
    assert np.mean(widths) == pytest.approx(half_width, abs=0.55)


def test_without_readings_the_prior_speaks():
    """With no reading at all the answer is what was expected, with its spread."""
    fit = curve.fit_gravity_curve([], [], 1.050, 1.010, 3.0, ALE_HOURS)
    assert fit.fg.median == pytest.approx(1.010, abs=1e-4)
    assert fit.fg.high - fit.fg.low == pytest.approx(2 * 1.645 * 0.003, rel=0.03)
    assert fit.effective_draws == pytest.approx(100_000, rel=1e-6)
    assert fit.fits


def test_same_answer_every_time():
    """The draws start from a fixed random state, so the answer repeats and hardly depends on it."""
    arguments = ([0, 3, 6], [1.050, 1.020, 1.012], 1.050, 1.010, 3.0, ALE_HOURS)
    first, second = (curve.fit_gravity_curve(*arguments, at_days=[10]) for _ in range(2))
    assert first == second
    other = curve.fit_gravity_curve(*arguments, random_state=99)
    assert other.fg.median == pytest.approx(first.fg.median, abs=2e-4)
    assert other.fg.high == pytest.approx(first.fg.high, abs=4e-4)


def test_curve_starts_at_og_and_falls():
    """The curve starts at the original gravity, is half way near the half time, and only falls."""
    days = [0, 0.5, 1, 1.75, 2, 3, 5, 8, 15, 60]
    fit = curve.fit_gravity_curve([], [], 1.050, 1.010, 0.3, ALE_HOURS, at_days=days)
    medians = [band.median for _, band in fit.curve]
    assert [day for day, _ in fit.curve] == days
    assert medians[0] == pytest.approx(1.050, abs=2e-4)
    assert medians[3] == pytest.approx(1.030, abs=0.002)
    assert medians[-1] == pytest.approx(1.010, abs=2e-4)
    assert all(a >= b for a, b in pairwise(medians))
    assert all(band.low <= band.median <= band.high for _, band in fit.curve)


def test_end_of_a_finished_and_of_a_young_batch():
    """A flat end leaves little to fall; on the second day much is left."""
    readings = [1.050, 1.022, 1.012, 1.010, 1.010]
    old = curve.fit_gravity_curve([0, 2, 4, 7, 14], readings, 1.050, 1.010, 2.0, ALE_HOURS)
    assert old.chance_much_left < 0.05
    assert old.points_left.high < 2
    assert 3 < old.days_to_end.median < 9
    young = curve.fit_gravity_curve([0, 2], [1.050, 1.024], 1.050, 1.010, 2.0, ALE_HOURS)
    assert young.chance_much_left > 0.99
    assert young.points_left.low > 8


def test_time_to_within_one_point_is_where_the_curve_is():
    """At the median day of the end the curve stands about one point above the final gravity."""
    fit = curve.fit_gravity_curve([], [], 1.050, 1.010, 0.3, ALE_HOURS, og_sigma_points=0.2)
    day = fit.days_to_end.median
    again = curve.fit_gravity_curve(
        [], [], 1.050, 1.010, 0.3, ALE_HOURS, at_days=[day], og_sigma_points=0.2
    )
    assert 1000 * (again.curve[0][1].median - 1.010) == pytest.approx(1.0, abs=0.3)
    # 5-7 days at 20 C is the chapter's band for an ale
    assert 4 <= day <= 7


def test_a_stall_does_not_fit():
    """A beer that stands at 1.030 for two weeks is not this curve, and the fit says so."""
    days, readings = [0, 2, 5, 9, 16], [1.050, 1.030, 1.030, 1.030, 1.030]
    fit = curve.fit_gravity_curve(days, readings, 1.050, 1.010, 1.5, ALE_HOURS)
    assert not fit.fits
    assert fit.worst_residual > curve.NO_FIT_ABOVE


def test_a_typing_error_does_not_fit():
    """One reading that rises by twenty points is refused as a fit."""
    readings = [1.050, 1.020, 1.040, 1.011]
    fit = curve.fit_gravity_curve([0, 3, 4, 7], readings, 1.050, 1.010, 3.0, ALE_HOURS)
    assert not fit.fits


SERIES = {}
for _row in rows("fermentation_series_points.csv"):
    SERIES.setdefault(_row["series"], []).append(_row)


@pytest.mark.parametrize(
    ("series", "half_time", "fg"),
    [("A", 33, 1.012), ("B", 42, 1.012), ("C", 42, 1.011), ("E", 33, 1.010), ("M", 101, 1.009)],
)
def test_brewed_series_fit(series, half_time, fg):
    """Published readings of healthy batches are met by the curve."""
    table = SERIES[series]
    days = [float(row["hours"]) / 24 for row in table]
    readings = [float(row["SG"]) for row in table]
    fit = curve.fit_gravity_curve(days, readings, readings[0], fg, 3.0, half_time)
    assert fit.fits
    assert fit.effective_draws > 300


def test_half_time_follows_temperature():
    """Ten degrees cooler takes 2.5 times as long."""
    assert curve.half_time_hours(42, 20, 10) == pytest.approx(105)
    assert curve.half_time_hours(42, 20, 20) == 42


GOOD = {
    "days": [0, 3],
    "readings_sg": [1.05, 1.02],
    "og": 1.05,
    "expected_fg": 1.01,
    "fg_sigma_points": 3.0,
    "half_time_h": 42.0,
}


@pytest.mark.parametrize(
    "change",
    [
        {"days": [0]},
        {"days": [0, 201]},
        {"days": [0, -1]},
        {"readings_sg": [1.05, 1.18]},
        {"readings_sg": [1.05, math.nan]},
        {"og": 1.009},
        {"og": 1.121},
        {"expected_fg": 0.984},
        {"expected_fg": 1.05},
        {"fg_sigma_points": 0.2},
        {"fg_sigma_points": 16},
        {"half_time_h": 3},
        {"half_time_h": 801},
        {"at_days": [401]},
        {"og_sigma_points": 13},
        {"reading_sigma_points": 0.2},
        {"much_points": 0.4},
        {"draws": 999},
    ],
)
def test_out_of_range_is_refused(change):
    """Outside its ranges the fit refuses to answer."""
    assert curve.fit_gravity_curve(**GOOD, draws=1000).fits
    with pytest.raises(OutOfRangeError):
        curve.fit_gravity_curve(**{"draws": 1000, **GOOD, **change})


@pytest.mark.parametrize("arguments", [(5, 20, 20), (401, 20, 20), (42, 20, 46), (42, -1, 20)])
def test_half_time_out_of_range(arguments):
    """Outside its ranges the half time is refused."""
    with pytest.raises(OutOfRangeError):
        curve.half_time_hours(*arguments)


def test_prior_spread_of_the_end_by_another_way():
    """Without readings, the band of the end is that of draws made and searched on a day grid."""
    draw = np.random.default_rng(4)
    n = 4000
    half = ALE_HOURS / 24 * np.exp(draw.normal(0, 0.4, n))
    steep, s = np.exp(draw.normal(math.log(3), 0.35, n)), np.exp(draw.normal(0, 0.5, n))
    grid = np.arange(0, 60, 0.02)[:, None]
    ended = np.empty(n)
    for part in np.array_split(np.arange(n), 20):
        h, k, a = half[part], steep[part], s[part]
        shape = (1 + (2**a - 1) * np.exp(np.minimum(k * (grid / h - 1), 500))) ** (-1 / a)
        ended[part] = grid[np.argmax(40 * shape / shape[0] < 1.0, axis=0), 0]
    fit = curve.fit_gravity_curve([], [], 1.050, 1.010, 0.3, ALE_HOURS, og_sigma_points=0.2)
    expected = np.percentile(ended, [5, 50, 95])
    got = [fit.days_to_end.low, fit.days_to_end.median, fit.days_to_end.high]
    assert got == pytest.approx(list(expected), rel=0.05)


def _noisy(count: int) -> tuple[list[float], list[float]]:
    """Return days and gravities of a made-up batch, off by up to a point either way."""
    days = [0.5 + 13.0 * index / (count - 1) for index in range(count)]
    wobble = [(index * 7 % 5 - 2) * 0.0005 for index in range(count)]
    return days, [
        1.011 + 0.039 / (1 + (day / 2.6) ** 4) + off for day, off in zip(days, wobble, strict=True)
    ]


@pytest.mark.parametrize("count", [3, 12, 13, 25, 60])
def test_draws_given_up_would_not_have_counted(count: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """With many readings most draws are given up early; the answer is that of looking at all."""
    days, readings = _noisy(count)
    quick = curve.fit_gravity_curve(days, readings, 1.050, 1.011, 2.0, 42.0, draws=20_000)
    monkeypatch.setattr(curve, "_HOPELESS", float("inf"))
    whole = curve.fit_gravity_curve(days, readings, 1.050, 1.011, 2.0, 42.0, draws=20_000)
    assert quick.fg == whole.fg
    assert quick.days_to_end == whole.days_to_end
    assert quick.points_left == whole.points_left
    assert quick.effective_draws == pytest.approx(whole.effective_draws)
    assert quick.worst_residual == pytest.approx(whole.worst_residual)


@pytest.mark.parametrize("count", [2, 4])
def test_drawn_band_is_that_of_all_draws(count: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """The curve is drawn from fewer draws; its band differs by a twentieth of its width at most."""
    days, readings = _noisy(count)
    at = [0.5 * step for step in range(30)]
    few = curve.fit_gravity_curve(days, readings, 1.050, 1.011, 2.0, 42.0, at_days=at)
    monkeypatch.setattr(curve, "_CURVE_DRAWS", 10**9)
    monkeypatch.setattr(curve, "_NO_WEIGHT", -1.0)
    whole = curve.fit_gravity_curve(days, readings, 1.050, 1.011, 2.0, 42.0, at_days=at)
    assert few.fg == whole.fg
    assert few.curve != whole.curve  # fewer draws were taken indeed
    for (_, one), (_, other) in zip(few.curve, whole.curve, strict=True):
        near = max(0.05 * (other.high - other.low), 0.0001)
        for level in ("low", "median", "high"):
            assert getattr(one, level) == pytest.approx(getattr(other, level), abs=near)


def sorted_quantiles(values, weights):
    """Return the quantiles by putting everything in order."""
    order = np.argsort(values)
    share = np.cumsum(weights[order])
    places = np.minimum(np.searchsorted(share, np.asarray(curve.LEVELS)), len(values) - 1)
    return curve.Quantiles(*values[order][places])


@pytest.mark.parametrize("shape", ["even", "long tail", "few values", "one value", "an outlier"])
def test_quantiles_are_those_of_sorted_values(shape):
    """Counting into bins finds the very values that sorting all of them finds."""
    draw = np.random.default_rng(3)
    for count in (1, 2, 300, 20_000):
        values = draw.standard_normal(count)
        if shape == "long tail":
            values = np.exp(4 * values)
        elif shape == "few values":
            values = np.round(values)
        elif shape == "one value":
            values = np.ones(count)
        elif shape == "an outlier":
            values[0] = 1e300
        weights = np.exp(-20 * draw.uniform(size=count))
        weights = weights / weights.sum()
        assert curve._quantiles(values, weights) == sorted_quantiles(values, weights)
