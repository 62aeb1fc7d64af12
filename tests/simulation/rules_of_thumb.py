"""What brewers commonly go by, applied to the same logs. None of them looks at sugar or glass.

"Equal" means the same number written down. Readings by whatever instrument count, as in practice.
"""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise
from typing import Literal

from tests.simulation.logbook import LogDict

Verdict = Literal["HOLD", "GO WITH LIMITS"]
GO: Verdict = "GO WITH LIMITS"
HOLD: Verdict = "HOLD"
_DAY_S, _EPOCH = 86400.0, datetime(2000, 1, 1)
_NEARLY_A_DAY, _NEARLY_TWO_DAYS = 0.75, 1.75


def _readings(log: LogDict) -> list[tuple[float, float]]:
    """Return (day, gravity) of the beer itself, in order of time."""
    return sorted(
        (_when(entry), float(entry["gravity"]))
        for entry in log["log"]
        if "gravity" in entry and entry.get("of", "batch") == "batch"
    )


def _when(entry: LogDict) -> float:
    if "day" in entry:
        return float(entry["day"])
    return (datetime.fromisoformat(str(entry["at"])) - _EPOCH).total_seconds() / _DAY_S


def _equal(first: float, second: float) -> bool:
    return abs(first - second) < 0.0004


def two_equal_two_days_apart(log: LogDict) -> Verdict:
    """Say GO when the last reading equals one two days or more before it, and all between."""
    readings = _readings(log)
    if len(readings) < 2:
        return HOLD
    last_day, last = readings[-1]
    for day, value in reversed(readings[:-1]):
        if not _equal(value, last):
            return HOLD
        if last_day - day >= _NEARLY_TWO_DAYS:
            return GO
    return HOLD


def three_equal_in_a_row(log: LogDict) -> Verdict:
    """Say GO when the last three readings, a day or more apart, are equal."""
    last = _readings(log)[-3:]
    if len(last) < 3:
        return HOLD
    steady = all(_equal(a[1], b[1]) and b[0] - a[0] >= _NEARLY_A_DAY for a, b in pairwise(last))
    return GO if steady else HOLD


def airlock_silent(log: LogDict) -> Verdict:
    """Say GO when the last thing seen of the airlock is that it stands still."""
    for entry in reversed(log["log"]):
        saw = str(entry.get("saw", ""))
        if "airlock" in saw:
            return GO if "silent" in saw else HOLD
    return HOLD


RULES = {
    "two equal readings two days apart": two_equal_two_days_apart,
    "three equal in a row": three_equal_in_a_row,
    "airlock silent": airlock_silent,
}
