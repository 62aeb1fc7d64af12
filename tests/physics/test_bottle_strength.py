"""Checks of the burst chances against their table and against plain probability."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.shared_tables import rows

from trubshoot.errors import OutOfRangeError
from trubshoot.physics import bottle_strength as strength

CLASSES = {row["class_id"]: row for row in rows("bottle_classes.csv")}


@pytest.mark.parametrize(
    "row", rows("burst_probability.csv"), ids=lambda r: f"{r['class_id']}-{r['gauge_bar']}"
)
def test_burst_table(row):
    """Every chance of the table comes back from the parameters of its class."""
    bottle_class = CLASSES[row["class_id"]]
    gauge = float(row["gauge_bar"])
    eta, k = float(bottle_class["planning_eta_bar_sustained"]), float(bottle_class["planning_k"])
    low = float(bottle_class["planning_eta_low10"])

    def check(name, scale, shape, count=1):
        got = strength.any_of(strength.burst_probability(gauge, scale, shape), count)
        assert got == pytest.approx(float(row[name]), rel=0.006, abs=1e-9), name

    expected = float(bottle_class["expected_eta_bar"]), float(bottle_class["expected_k"])
    check("p_bottle_expected", *expected)
    check("p_bottle_planning", eta, k)
    check("p_bottle_planning_low_eta", low, k)
    check("p_any_of_24_planning", eta, k, 24)
    check("p_any_of_24_planning_low_eta", low, k, 24)
    check("p_bottle_damaged_eta_x0.4", max(0.4 * eta, 1.0), k)


GAUGE, SCALE, SHAPE = st.floats(0.1, 20), st.floats(3, 25), st.floats(2, 12)


@given(GAUGE, SCALE, SHAPE, st.integers(1, 200))
def test_any_of_a_batch_is_at_least_one_bottle(gauge, scale, shape, count):
    """A batch is at least as likely to show a burst as one bottle, more bottles more so."""
    chance = strength.burst_probability(gauge, scale, shape)
    assert 0.0 <= chance <= 1.0
    assert strength.any_of(chance, count) >= chance * (1 - 1e-12)
    assert strength.any_of(chance, count + 1) >= strength.any_of(chance, count)


@given(GAUGE, SCALE, SHAPE)
def test_chance_rises_with_pressure_and_falls_with_strength(gauge, scale, shape):
    """More pressure never makes a burst less likely, a stronger bottle never more likely."""
    here = strength.burst_probability(gauge, scale, shape)
    assert strength.burst_probability(gauge + 0.5, scale, shape) >= here
    assert strength.burst_probability(gauge, scale + 0.5, shape) <= here


@pytest.mark.parametrize(("gauge", "scale", "shape", "count"), [(3, 8, 6, 24), (5, 8, 6, 1)])
def test_average_over_the_scale_against_random_draws(gauge, scale, shape, count):
    """Averaging after counting the batch agrees with drawing the strength scale at random."""
    scales = scale * np.exp(np.random.default_rng(5).normal(0, 0.25, 400_000))
    one = -np.expm1(-((gauge / scales) ** shape))
    expected = (1 - (1 - one) ** count).mean()
    got = strength.any_burst_probability(gauge, scale, shape, count)
    assert got == pytest.approx(expected, rel=0.01)
    # averaging first would over-state a batch, because its bottles share their scale
    assert got < 1 - (1 - one.mean()) ** count or count == 1


def test_no_doubt_about_the_scale_changes_nothing():
    """With a known scale the average is the plain chance."""
    got = strength.any_burst_probability(4, 8, 6, 24, scale_spread_ln=0.0)
    assert got == pytest.approx(strength.any_of(strength.burst_probability(4, 8, 6), 24))


def test_likelihood_is_the_binomial_one():
    """Burst and whole bottles give the binomial log chance, impossible sights minus infinity."""
    chance = strength.burst_probability(4, 8, 6)
    expected = 2 * math.log(chance) + 46 * math.log(1 - chance)
    assert strength.bottles_log_likelihood(4, 8, 6, 2, 46) == pytest.approx(expected)
    assert strength.bottles_log_likelihood(0, 8, 6, 1, 0) == -math.inf
    assert strength.bottles_log_likelihood(0, 8, 6, 0, 24) == 0.0


@given(st.floats(2, 9))
def test_one_burst_raises_belief_in_a_weak_batch(gauge):
    """A burst makes the weaker scale more likely, whole bottles the stronger one."""
    weak, strong = (strength.bottles_log_likelihood(gauge, eta, 6, 1, 0) for eta in (6, 10))
    assert weak > strong
    weak, strong = (strength.bottles_log_likelihood(gauge, eta, 6, 0, 1) for eta in (6, 10))
    assert weak < strong


def test_many_equals_one():
    """The array function gives what the single function gives."""
    gauge = np.linspace(-1, 30, 50)
    one = [strength.burst_probability(p, 8, 6) for p in gauge]
    np.testing.assert_allclose(strength.burst_probability_many(gauge, 8.0, 6.0), one, rtol=1e-12)


@pytest.mark.parametrize(
    ("function", "arguments"),
    [
        (strength.burst_probability, (-1.2, 8, 6)),
        (strength.burst_probability, (201, 8, 6)),
        (strength.burst_probability, (math.nan, 8, 6)),
        (strength.burst_probability, (5, 0.9, 6)),
        (strength.burst_probability, (5, 41, 6)),
        (strength.burst_probability, (5, 8, 0.9)),
        (strength.burst_probability, (5, 8, 21)),
        (strength.burst_probability_many, ([5, 300], 8, 6)),
        (strength.any_of, (-0.1, 24)),
        (strength.any_of, (1.1, 24)),
        (strength.any_of, (0.5, -1)),
        (strength.any_of, (0.5, 10001)),
        (strength.any_of, (0.5, 1.5)),
        (strength.any_burst_probability, (5, 2.9, 6)),
        (strength.any_burst_probability, (5, 31, 6)),
        (strength.any_burst_probability, (5, 8, 6, 24, 0.31)),
        (strength.bottles_log_likelihood, (5, 8, 6, -1, 0)),
        (strength.bottles_log_likelihood, (5, 8, 6, 0, 10001)),
    ],
)
def test_out_of_range_is_refused(function, arguments):
    """Outside its range, and for a value that is no number, a formula refuses to answer."""
    with pytest.raises(OutOfRangeError):
        function(*arguments)
