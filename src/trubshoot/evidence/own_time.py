"""The time that words carry: "stopped after three days" is said of day 3, whenever told."""

from __future__ import annotations

import re

_NUMBERS = {
    **{"a": 1.0, "an": 1.0, "one": 1.0, "two": 2.0, "three": 3.0, "four": 4.0, "five": 5.0},
    **{"six": 6.0, "seven": 7.0, "eight": 8.0, "nine": 9.0, "ten": 10.0},
}
_DAYS = {"hour": 1 / 24, "day": 1.0, "week": 7.0}
_NUMBER = rf"(?:about |only |just )?(?P<number>[0-9]+(?:\.[0-9]+)?|{'|'.join(_NUMBERS)})"
_UNIT = r"(?P<unit>hour|day|week)s?\b"
# "for three days" and "three days ago" count back from when it was told: they are left alone
_AFTER = re.compile(rf"\b(?:after|within)\s+{_NUMBER}\s*{_UNIT}(?!\s+ago)", re.IGNORECASE)
_LATER = re.compile(rf"\b{_NUMBER}\s*{_UNIT}\s+(?:after pitching|in|into it)\b", re.IGNORECASE)
_ON_DAY = re.compile(r"\b(?:on |by )?day (?P<number>[0-9]{1,3})\b", re.IGNORECASE)


def own_time(text: str) -> tuple[float, str] | None:
    """Return the days since pitching that a text names, and the words; None for none or several."""
    found = [match for pattern in (_AFTER, _LATER, _ON_DAY) for match in pattern.finditer(text)]
    if len(found) != 1:
        return None
    told = found[0].groupdict()
    number = told["number"].lower()
    count = _NUMBERS[number] if number in _NUMBERS else float(number)
    return count * _DAYS[(told.get("unit") or "day").lower()], found[0].group(0)
