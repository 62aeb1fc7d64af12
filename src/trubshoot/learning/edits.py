"""Edits of a draft that other changes are made of: keys of the head, and how they are told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from trubshoot.batch.fields import LISTS
from trubshoot.batch.kinds import is_unknown
from trubshoot.learning.draft import Draft
from trubshoot.units import UnitSystem
from trubshoot.yaml_lines import scalar

# keys of the head that change the course of the fermentation
_COURSE_KEYS = frozenset(("wort", "fermentables", "yeast", "room"))


@dataclass
class Doing:
    """A change being made, and what has been found out about it so far."""

    draft: Draft
    units: UnitSystem
    did: list[str]
    course: bool = False
    moved_days: float = 0.0
    removed: bool = False


def set_key(doing: Doing, path: str, value: str) -> None:
    """Set a key, or key.part, of the head; an item is added to a list."""
    draft = doing.draft
    key, _, part = path.partition(".")
    written: object = scalar(value)
    doing.course = doing.course or key in _COURSE_KEYS
    doing.removed = doing.removed or is_unknown(written)
    if key in LISTS and part:
        items = draft.head.get(key)
        listed = items if isinstance(items, list) else [items] if items else [{}]
        draft.head[key] = [_with_part(item, part, written) for item in listed]
        doing.did.append(f"{path} -> {value or 'unknown'}")
        return
    if not part:
        old = draft.head.get(key)
        if key in ("circumstances", *LISTS) and not is_unknown(written):
            own = old if isinstance(old, list) else [] if is_unknown(old) else [old]
            draft.head[key] = [*own, written]
            doing.did.append(f"{key}: {value} added")
            return
        draft.head[key] = written
    else:
        group = draft.group(key)
        old = group.get(part)
        group[part] = written
        if key == "bottles":
            _own_bottles(doing, part)
    line = draft.line_of(*path.split("."))
    doing.did.append(f"{path} {said(old)} -> {said(written)}{line_text(line)}")


def _with_part(item: object, part: str, written: object) -> dict[str, Any]:
    if isinstance(item, dict):
        return {**item, part: written}
    return {"what": item, part: written}


def _own_bottles(doing: Doing, part: str) -> None:
    """Take back what the bottling itself says of its bottles, which would go before the head."""
    plan = doing.draft.head.get("plan")
    for own in (*(item.data for item in doing.draft.find("bottled")), plan):
        if isinstance(own, dict) and part in ("kind", "size", "count"):
            own.pop("bottles" if part == "kind" else part, None)


def said(value: object) -> str:
    """Return a value as a sentence shows it."""
    if is_unknown(value):
        return "unknown"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return ", ".join(f"{key} {said(part)}" for key, part in value.items())
    if isinstance(value, list):
        return "; ".join(said(part) for part in value)
    return str(value)


def line_text(line: int) -> str:
    """Return ", line 14"; nothing for what does not stand in the file."""
    return f", line {line}" if line else ""


def listed(doing: Doing, key: str) -> list[Any]:
    """Return a list of the head, one value being a list of one."""
    value = doing.draft.head.get(key)
    return list(value) if isinstance(value, list) else [] if is_unknown(value) else [value]
