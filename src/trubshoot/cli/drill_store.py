"""Practice kept on disk: the records, and the case that is open; written whole or not at all."""

from __future__ import annotations

import json
import math
import tempfile
from collections.abc import Sequence
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

from trubshoot.cli.places import NAME, folder, write_json
from trubshoot.learning.drill_draw import LEVELS
from trubshoot.learning.drill_progress import Record

_FORMAT = 1
_MOST_BYTES = 20_000_000


@dataclass(frozen=True)
class Open:
    """A case that was left: how it was drawn, and what was done in it."""

    random_state: int
    number: int
    level: int
    knowledge: str  # fingerprint of the knowledge it was drawn from
    turns: tuple[str, ...]


@dataclass(frozen=True)
class Kept:
    """All that is kept."""

    records: tuple[Record, ...] = ()
    open: Open | None = None


class Store:
    """The file of one learner."""

    def __init__(self) -> None:
        base = folder("data") or Path(tempfile.gettempdir()) / NAME
        self.path = base / "drill.json"

    def read(self) -> tuple[Kept, str]:
        """Return what is kept, and what happened to a file that cannot be read, or ""."""
        try:
            if self.path.stat().st_size > _MOST_BYTES:
                raise ValueError("too large")
            return _kept(json.loads(self.path.read_bytes())), ""
        except (FileNotFoundError, NotADirectoryError):
            return Kept(), ""
        except OSError as error:
            return Kept(), f"{self.path} cannot be read ({error.strerror}); nothing is kept now."
        except (ValueError, KeyError, TypeError, RecursionError):
            return Kept(), self._aside()

    def _aside(self) -> str:
        """Set a damaged file aside, so that a later write does not lose it; say where it is."""
        for number in range(1, 1000):
            other = self.path.with_name(f"drill.damaged-{number}.json")
            if not other.exists():
                break
        try:
            self.path.rename(other)
        except OSError as error:
            return f"{self.path} is damaged and cannot be moved ({error.strerror})."
        return f"The record of your practice was damaged. It is set aside as {other}."

    def write(self, kept: Kept) -> str:
        """Replace what is kept in one step; returns what went wrong, or nothing."""
        plain = {
            "format": _FORMAT,
            "records": [asdict(record) for record in kept.records],
            "open": None if kept.open is None else asdict(kept.open),
        }
        return write_json(self.path, plain)


def _kept(plain: Any) -> Kept:
    """Return what plain data hold. Raises ValueError, KeyError or TypeError for anything odd."""
    if plain["format"] != _FORMAT:
        raise ValueError("another format")
    records = tuple(_record(one) for one in plain["records"])
    left = plain["open"]
    if left is None:
        return Kept(records)
    turns = left["turns"]
    if not isinstance(turns, list) or not all(isinstance(turn, str) for turn in turns):
        raise TypeError("turns")
    numbers = [_whole(left[name]) for name in ("random_state", "number", "level")]
    if not 1 <= numbers[2] <= len(LEVELS) or min(numbers) < 0:
        raise ValueError("level")
    random_state, number, level = numbers
    return Kept(records, Open(random_state, number, level, str(left["knowledge"]), tuple(turns)))


def _whole(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise TypeError("no whole number")
    return value


_NUMBERS = {"free_chance", "minutes", "sensible_minutes"}
_WHOLE = {"random_state", "number", "level", "points"}
_TRUTHS = {"stopped", "correct"}


def _record(plain: Any) -> Record:
    values: dict[str, Any] = {}
    names: Sequence[str] = [one.name for one in fields(Record)]
    if set(plain) != set(names):
        raise KeyError("fields of a record")
    for name in names:
        value = plain[name]
        if name in _WHOLE:
            values[name] = _whole(value)
        elif name in _NUMBERS or (name == "sure" and value is not None):
            if isinstance(value, bool) or not math.isfinite(value):
                raise TypeError(name)
            values[name] = float(value)
        elif name in _TRUTHS or (name == "first_right" and value is not None):
            if not isinstance(value, bool):
                raise TypeError(name)
            values[name] = value
        elif value is None or isinstance(value, str):
            values[name] = value
        else:
            raise TypeError(name)
    if not 1 <= values["level"] <= len(LEVELS):
        raise ValueError("level")
    return Record(**values)
