"""What the written readings alone tell a careful reader of the log: scatter and rounding included.

A batch whose true values would give it away, but whose readings happen not to, is a drawer of its
own (`scatter`): nothing that stands in that log shows the danger, while readings further apart, or
more exact ones, would.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

import numpy as np
from tests.simulation.logbook import LogDict, _as_read
from tests.simulation.notes import GOOD_SPAN_DAYS


def looks_ended(log: LogDict, end: float, spread: float, most_fall: float) -> bool:
    """Tell whether the written readings look like the end of the fermentation.

    Args:
        log: the log as its brewer wrote it.
        end: gravity at which the log lets one expect the end [points].
        spread: how far above it still counts as the end [points].
        most_fall: fall from which it counts as falling [points]: by the line of least squares over
            the late readings, and by the first and the last of them.
    """
    readings = _late(log)
    if len(readings) < 3:
        return False
    days = np.array([day for day, _ in readings])
    points = np.array([value for _, value in readings])
    slope = float(np.polyfit(days, points, 1)[0])
    fall = max(-slope * (days[-1] - days[0]), points[0] - points[-1])
    return bool(fall < most_fall and points[-1] <= end + spread)


def _late(log: LogDict) -> list[tuple[float, float]]:
    """Return (day, points at the scale's temperature) of the last readings over six days or more.

    With a hydrometer, of the batch itself, not said to be full of gas.
    """
    scale_c = _celsius(log["instruments"].get("hydrometer_scale", "20 C"))
    in_water = log["instruments"].get("hydrometer_in_water", 1.0)
    found = []
    for entry in log["log"]:
        if "gravity" not in entry or "of" in entry or entry.get("with") == "refractometer":
            continue
        day = _day(entry)
        if day <= 0 or entry.get("degassed") is False:
            continue
        sg = float(entry["gravity"])
        if "sample" in entry:
            sg /= _as_read(1.0, _celsius(entry["sample"]), scale_c)
        found.append((day, (sg - float(in_water)) * 1000))
    pitched = min((_day(entry) for entry in log["log"]), default=0.0)
    found = sorted((day - pitched, points) for day, points in found if day > pitched)
    if not found:
        return []
    first = max(
        (day for day, _ in found if found[-1][0] - day >= GOOD_SPAN_DAYS), default=found[0][0]
    )
    return [reading for reading in found if reading[0] >= first]


def _day(entry: dict[str, Any]) -> float:
    if "day" in entry:
        return float(entry["day"])
    return datetime.fromisoformat(str(entry["at"])).timestamp() / 86400


def _celsius(text: str) -> float:
    number, unit = str(text).split()
    return (float(number) - 32) / 1.8 if unit == "F" else float(number)
