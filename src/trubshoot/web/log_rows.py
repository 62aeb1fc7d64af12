"""The lines of a log as a page shows them: as they were written, newest knowledge not added."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from trubshoot.batch.fields import LOG
from trubshoot.yaml_lines import read_yaml


@dataclass(frozen=True)
class LogRow:
    """One line of a log: when, what kind of line, and its words."""

    when: str
    verb: str
    words: str


def log_rows(raw: bytes) -> list[LogRow]:
    """Return the lines of a log in the order of the file; none when it cannot be read."""
    data = read_yaml(raw.decode("utf-8", errors="replace").removeprefix("\ufeff"), "").data
    log = data.get("log") if isinstance(data, dict) else None
    return [_row(item) for item in log if isinstance(item, dict)] if isinstance(log, list) else []


def _row(item: dict[str, Any]) -> LogRow:
    when = f"day {item['day']}" if "day" in item else _plain(item.get("at", ""))
    verb = next((key for key in item if key in LOG), "")
    parts = [_plain(item[verb])] if verb else []
    parts += [
        f"{key} {_plain(value)}" for key, value in item.items() if key not in ("at", "day", verb)
    ]
    shown = "" if verb in ("did", "note") else verb.replace("_", " ")
    return LogRow(when, shown, ", ".join(parts))


def _plain(value: object) -> str:
    if isinstance(value, list):
        return "; ".join(_plain(one) for one in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(value)
