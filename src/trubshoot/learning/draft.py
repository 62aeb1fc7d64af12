"""A batch file taken into memory to be changed: the file itself is never touched.

The plain data is changed and read again by the reader of batch files, so that every check and
message of that reader holds for the changed batch too.
"""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from trubshoot.batch import Batch
from trubshoot.batch.fields import GROUPS
from trubshoot.batch.kinds import is_unknown
from trubshoot.batch.moments import read_moment
from trubshoot.batch.reader import read_document, text_of
from trubshoot.batch.verbs import find_verb
from trubshoot.errors import UnitError
from trubshoot.units import UnreadableQuantity
from trubshoot.yaml_lines import Document, Keys, read_yaml

# the key under which words written in place of a group of keys are kept
_SHORT = {
    **{"wort": "kind", "yeast": "class", "vessel": "kind", "bottles": "kind"},
    **{"sanitizing": "with", "storage": "where", "room": "where"},
}

_SAME_DAY = 0.6  # nearer than this it is the same day


@dataclass
class Line:
    """One line of the log: its keys, and the line it had in the file (0: not in the file)."""

    data: dict[str, Any]
    line: int = 0

    @property
    def verb(self) -> str:
        """Return the deed it tells, else the key that begins it."""
        if "did" in self.data:
            return find_verb(str(self.data["did"])) or str(self.data["did"])
        return next((key for key in self.data if key not in ("at", "day")), "")


class Draft:
    """The data of a batch file, open to changes."""

    def __init__(self, document: Document, name: str) -> None:
        data = document.data if isinstance(document.data, dict) else {}
        self.name = name
        self.head: dict[str, Any] = {
            key: copy.deepcopy(value) for key, value in data.items() if key != "log"
        }
        items = data.get("log")
        self.log: list[Line] = [
            Line(copy.deepcopy(item), document.line(("log", number)))
            for number, item in enumerate(items if isinstance(items, list) else [])
            if isinstance(item, dict)
        ]
        self._lines = {keys: line for keys, line in document.lines.items() if keys[:1] != ("log",)}

    @classmethod
    def of_file(cls, path: Path) -> Draft:
        """Return the draft of a file. Raises BatchError: the file cannot be read."""
        name = str(path)
        return cls(read_yaml(text_of(path, name), name), name)

    @classmethod
    def of_text(cls, text: str, name: str = "<text>") -> Draft:
        """Return the draft of a text."""
        return cls(read_yaml(text, name), name)

    def read(self) -> Batch:
        """Return the batch as it stands now. Raises BatchError: it cannot be read."""
        lines = dict(self._lines)
        for number, item in enumerate(self.log):
            for keys in (("log", number), *(("log", number, key) for key in item.data)):
                lines[keys] = item.line
        data = copy.deepcopy(self.head)
        if self.log:
            data["log"] = [copy.deepcopy(item.data) for item in self.log]
        return read_document(Document(data, lines), self.name)

    def days(self) -> list[float | None]:
        """Return the day of every log line, counted from pitching."""
        days: list[float | None] = [None] * len(self.log)
        for timed in self.read().timeline().entries:
            days[timed.entry.number] = timed.days
        return days

    def find(self, *verbs: str) -> list[Line]:
        """Return the log lines under these verbs, in the order of the file."""
        return [item for item in self.log if item.verb in verbs]

    def on_day(self, day: float, within: float = _SAME_DAY) -> list[Line]:
        """Return the log lines of a day since pitching."""
        return [
            item
            for item, when in zip(self.log, self.days(), strict=True)
            if when is not None and abs(when - day) <= within
        ]

    def line_of(self, *keys: str) -> int:
        """Return the line of a key of the head; 0 when it does not stand in the file."""
        known: Keys = keys
        return self._lines.get(known, 0)

    # --- the head
    def group(self, key: str) -> dict[str, Any]:
        """Return a group of keys of the head, made from words that stand in its place."""
        value = self.head.get(key)
        if isinstance(value, dict):
            return value
        made: dict[str, Any] = {}
        if not is_unknown(value):
            made[self._short_key(key, value)] = value
        self.head[key] = made
        return made

    def _short_key(self, key: str, value: object) -> str:
        if key in ("storage", "room"):
            fields = GROUPS[key].fields
            units = "us" if str(self.head.get("units", "")).lower() == "us" else "metric"
            try:
                fields["temp"].read(value, "us" if units == "us" else "metric")
            except UnreadableQuantity:
                return "where"
            return "temp"
        return _SHORT.get(key, "kind")

    # --- time
    def when_of_day(self, day: float) -> dict[str, Any]:
        """Return the keys that put a line on a day since pitching, in the manner of this log."""
        bottled = self.bottling()
        if bottled is not None and 0 <= day - bottled[1] < _SAME_DAY:  # just before the bottling
            data = bottled[0].data
            return {key: data[key] for key in data if key in ("at", "day")}
        zero = self.read().timeline().zero_at
        if zero is None:
            return {"day": round(day, 3)}
        at = zero + timedelta(days=day)
        return {"at": f"{at:%Y-%m-%d %H:%M}"}

    def when_of_pitching(self) -> dict[str, Any]:
        """Return the keys that put a line at the time of pitching, else of the first line."""
        for item in (*self.find("pitched"), *self.log):
            found = {key: item.data[key] for key in item.data if key in ("at", "day")}
            if found:
                return found
        return {"day": 0}

    def add(self, data: dict[str, Any]) -> Line:
        """Add a log line at its place in time."""
        item = Line(data)
        self.log.append(item)
        days = self.days()
        mine = days.pop()
        self.log.pop()
        place = len(self.log)
        if mine is not None:
            later = [n for n, day in enumerate(days) if day is not None and day > mine + 1e-9]
            place = min(later, default=place)
        # what is done in the same hour comes before the yeast, and before the bottling
        same = [
            number
            for number, other in enumerate(self.log)
            if other.verb in ("pitched", "bottled") and days[number] == mine
        ]
        place = min([place, *same])
        self.log.insert(place, item)
        return item

    def shift(self, items: list[Line], days: float) -> None:
        """Move log lines in time by so many days."""
        for item in items:
            if "at" in item.data:
                moment, hour_known = read_moment(item.data["at"])
                moved = moment + timedelta(days=days)
                form = "%Y-%m-%d %H:%M" if hour_known else "%Y-%m-%d"
                item.data["at"] = moved.strftime(form)
            elif isinstance(item.data.get("day"), (int, float)):
                item.data["day"] = round(item.data["day"] + days, 3)

    def bottling(self) -> tuple[Line, float] | None:
        """Return the last bottling of the log and its day since pitching."""
        found = [
            (item, day)
            for item, day in zip(self.log, self.days(), strict=True)
            if item.verb == "bottled" and day is not None
        ]
        return found[-1] if found else None

    def brewing_lines(self) -> Iterator[tuple[Line, float | None]]:
        """Yield log lines from pitching up to the bottling, with their days."""
        bottled = self.bottling()
        for item, day in zip(self.log, self.days(), strict=True):
            if bottled is None or (day is not None and day <= bottled[1] + 1e-9):
                yield item, day


def moved_date(text: str, zero: datetime | None) -> float:
    """Return the day since pitching of a date. Raises UnitError: no date, or a log without one."""
    try:
        moment, _ = read_moment(text)
    except UnreadableQuantity as error:
        raise UnitError(f"{error.message} {error.mend}") from error
    if zero is None:
        raise UnitError("this log counts days since pitching. Say the day, such as `day 14`.")
    return (moment - zero).total_seconds() / 86400
