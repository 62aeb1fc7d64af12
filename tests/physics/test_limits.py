"""Checks of the one place where formulas refuse a quantity."""

import math

import numpy as np
import pytest

from trubshoot.errors import OutOfRangeError
from trubshoot.physics import limits


@pytest.mark.parametrize("value", [0.0, 0.5, 1.0])
def test_inside_is_returned(value):
    """A value inside, ends included, comes back unchanged."""
    assert limits.require("share", value, 0.0, 1.0) == value


@pytest.mark.parametrize("value", [-1e-9, 1.0 + 1e-9, math.nan, math.inf, -math.inf])
def test_outside_is_refused(value):
    """A value outside, infinite or no number is refused."""
    with pytest.raises(OutOfRangeError):
        limits.require("share", value, 0.0, 1.0)


def test_the_error_says_what_and_how_far():
    """The message names the quantity, its value, its unit and the range."""
    with pytest.raises(OutOfRangeError) as caught:
        limits.require("sample temperature", 62.0, 0.0, 50.0, "C")
    assert str(caught.value) == "sample temperature is 62 C; the formula holds from 0 to 50 C"


def test_arrays_are_checked_as_a_whole():
    """One bad value in an array refuses the array and is named."""
    good = limits.require_all("share", [0.0, 1.0], 0.0, 1.0)
    np.testing.assert_array_equal(good, [0.0, 1.0])
    with pytest.raises(OutOfRangeError) as caught:
        limits.require_all("share", [0.2, 1.5, 0.3], 0.0, 1.0)
    assert caught.value.value == 1.5
    with pytest.raises(OutOfRangeError):
        limits.require_all("share", [0.2, math.nan], 0.0, 1.0)


@pytest.mark.parametrize("value", [-1, 11, 2.5, math.nan])
def test_counts_are_whole_numbers_in_range(value):
    """A count is a whole number inside its range."""
    assert limits.require_count("bottles", 3, 0, 10) == 3
    with pytest.raises(OutOfRangeError):
        limits.require_count("bottles", value, 0, 10)
