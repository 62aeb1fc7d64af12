"""What the written readings tell, on logs written by hand."""

from __future__ import annotations

from typing import Any

import pytest
from tests.simulation.written import looks_ended


def _log(*readings: tuple[int, float], **details: Any) -> dict[str, Any]:
    entries = [{"day": day, "with": "hydrometer", "gravity": sg} for day, sg in readings]
    return {
        "batch": "invented",
        "instruments": details.get("instruments", {}),
        "log": [{"day": 0, "did": "pitched"}, *entries],
    }


@pytest.mark.parametrize(
    ("readings", "ended"),
    [
        (((3, 1.030), (14, 1.012), (17, 1.012), (21, 1.012)), True),
        (((14, 1.012), (17, 1.011), (21, 1.012)), True),  # one point of scatter
        (((14, 1.014), (17, 1.013), (21, 1.012)), False),  # two points in a week
        (((14, 1.015), (17, 1.015), (21, 1.015)), False),  # above 12 and 2
        (((14, 1.012), (21, 1.012)), False),  # two readings
    ],
)
def test_readings_as_they_stand(readings: tuple[tuple[int, float], ...], ended: bool) -> None:
    """End 12 give or take 2; from 1.6 points on it is a fall."""
    assert looks_ended(_log(*readings), 12.0, 2.0, 1.6) is ended


def test_errors_that_the_log_tells_are_taken_off() -> None:
    """Two points in water, and a warm sample: 1.014 then stands for 1.012."""
    high = _log((14, 1.015), (17, 1.015), (21, 1.015), instruments={"hydrometer_in_water": 1.002})
    assert looks_ended(high, 12.0, 2.0, 1.6)
    warm = _log((14, 1.013), (17, 1.013), (21, 1.013))
    assert looks_ended(warm, 12.0, 2.0, 1.6)
    for entry in warm["log"][1:]:
        entry["sample"] = "32 C"  # water expands by 3.1 parts in a thousand from 20 to 32 C
    assert not looks_ended(warm, 12.0, 2.0, 1.6)


def test_samples_full_of_gas_and_other_gravities_do_not_count() -> None:
    """Only what was read of the beer itself, without gas, is laid side by side."""
    log = _log((14, 1.012), (17, 1.012), (21, 1.012))
    log["log"][1]["degassed"] = False
    assert not looks_ended(log, 12.0, 2.0, 1.6)
