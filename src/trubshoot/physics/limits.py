"""The one way the formulas refuse a quantity outside their range."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from trubshoot.errors import OutOfRangeError

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Array = npt.NDArray[np.float64]


def require(name: str, value: float, low: float, high: float, unit: str = "") -> float:
    """Return the value if it lies from low to high, ends included; raise OutOfRangeError if not.

    Value and ends are in one `unit`, which only the error names. A value that is not a number lies
    outside every range. No formula behind this check is ever
    used outside the range in which it was compared with something.
    """
    if not low <= value <= high:  # false for NaN, so NaN is refused too
        raise OutOfRangeError(name, value, low, high, unit)
    return value


def require_each(
    name: str, values: Iterable[float], low: float, high: float, unit: str = ""
) -> None:
    """Raise OutOfRangeError for the first value that does not lie from low to high."""
    for value in values:
        if not low <= value <= high:
            raise OutOfRangeError(name, value, low, high, unit)


def require_all(name: str, values: Any, low: float, high: float, unit: str = "") -> Array:
    """Return the values as an array if all lie from low to high; raise OutOfRangeError if not.

    Values and ends are in one `unit`. The error names the first value that lies outside. An array
    with NaN in it is refused.
    """
    import numpy as np

    array: Array = np.asarray(values, dtype=np.float64)
    inside = (array >= low) & (array <= high)
    if not bool(inside.all()):
        worst = float(array.ravel()[int(np.argmin(inside))])
        raise OutOfRangeError(name, worst, low, high, unit)
    return array


def require_count(name: str, value: int, low: int, high: int) -> int:
    """Return a whole number that lies from low to high; raise OutOfRangeError if it does not."""
    require(name, value, low, high)
    if value != math.floor(value):
        raise OutOfRangeError(f"{name} (a whole number)", value, low, high)
    return int(value)
