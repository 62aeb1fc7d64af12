"""A value that does not fit its key -> what is wrong and what to write, in plain words."""

from __future__ import annotations

import difflib
import types
import typing
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from trubshoot.knowledge_base.entry import Entry

LONGEST_SHOWN = 40  # characters of a value that are repeated
LONGEST_LIST = 30  # names that are listed when none is near
_LIMITS = {
    "greater_than": ("gt", "above"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "below"),
    "less_than_equal": ("le", "at most"),
}
_IN_BRACKETS = "Write it in square brackets, such as [from memory], or one to a line after `- `."
_ID = "An id is small letters, digits and underscores, and is named as it stands in its file."


def nearest(word: str, known: Iterable[str], home: str = "") -> str:
    """Return what to write in place of an unknown name: the nearest, else all when they are few.

    Args:
        word: the name as written.
        known: the names there are.
        home: the file or folder in which a new one is added; empty where none can be.
    """
    names = list(known)
    add = f" If it is new, add it to {home}." if home else ""
    close = difflib.get_close_matches(word.lower(), names, n=1)
    if close:
        return f"Did you mean '{close[0]}'?{add}"
    if len(names) <= LONGEST_LIST:
        return f"Use one of: {', '.join(names)}.{add}"
    return f"Correct the spelling.{add}"


def wrong_value(
    entry: type[Entry], detail: Mapping[str, Any], keys: Sequence[str | int]
) -> tuple[str, str]:
    """Return (what is wrong, what to write) of one thing the schema refuses.

    Args:
        entry: the type of the whole file or row.
        detail: one of the errors of pydantic.
        keys: where it stands, from the top of the file or row.
    """
    kind, given = str(detail["type"]), detail.get("input")
    where = ".".join(str(key) for key in keys if not isinstance(key, int))
    place = f"{where}: " if where else ""
    limits: Mapping[str, Any] = detail.get("ctx") or {}
    if kind == "extra_forbidden":
        allowed = _keys_of(_type_at(entry, keys[:-1]))
        return (
            f"unknown key '{keys[-1]}'.",
            f"Remove it or correct it. {nearest(str(keys[-1]), allowed)}",
        )
    if kind == "missing":
        return f"'{where}' is missing.", "Add it."
    if kind == "literal_error":
        known = [str(item) for item in _literals(_type_at(entry, keys))]
        return f"{place}{_shown(given)} is no word for it.", f"Use one of: {', '.join(known)}."
    if kind in _LIMITS:
        mark, word = _LIMITS[kind]
        return f"{place}{_shown(given)} is not {word} {limits[mark]:g}.", _number(entry, keys)
    if kind.startswith(("float_", "int_", "finite_")):
        return f"{place}{_shown(given)} is not a number.", _number(entry, keys)
    if kind == "string_pattern_mismatch":
        return f"{place}{_shown(given)} is not an id.", _ID
    if kind == "tuple_type":
        return f"{place}a list is needed, not {_shown(given)}.", _IN_BRACKETS
    if kind == "string_type":
        return f"{place}a text is needed, not {_shown(given)}.", "Put it in quotation marks."
    if kind in ("model_type", "dict_type"):
        listed = ", ".join(_keys_of(_type_at(entry, keys)))
        return (
            f"{place}keys are needed, not {_shown(given)}.",
            f"Use these, each on its line: {listed}.",
        )
    if kind.startswith("bool_"):
        return f"{place}{_shown(given)} is neither true nor false.", "Write true or false."
    told = str(detail["msg"]).removeprefix("Value error, ")
    return f"{place}{told}.", "Correct the value."


def _shown(given: object) -> str:
    """Return a value as it may be repeated in a sentence."""
    if given is None:
        return "nothing"
    if isinstance(given, (dict, list)):
        return "keys" if isinstance(given, dict) else "a list"
    if isinstance(given, (int, float)) and not isinstance(given, bool):
        return f"{given:g}"
    text = str(given).lower() if isinstance(given, bool) else " ".join(str(given).split())
    return f"'{text[: LONGEST_SHOWN - 1] + '…' if len(text) > LONGEST_SHOWN else text}'"


def _number(entry: type[Entry], keys: Sequence[str | int]) -> str:
    """Return how a number of this place is written, with its limits where it has some."""
    low = high = None
    for mark in _marks(_type_at(entry, keys, bare=False)):
        low = getattr(mark, "gt", None) if low is None else low
        high = getattr(mark, "lt", None) if high is None else high
    if (low, high) == (0, 1):
        return "Write a share above 0 and below 1 with a point: 0.03 for 3 of 100."
    return "Write a bare number, with a point and without a unit."


def _marks(kind: Any) -> Iterable[Any]:
    for mark in getattr(kind, "__metadata__", ()):
        yield from getattr(mark, "metadata", ()) or (mark,)


def _arms(kind: Any) -> list[Any]:
    """Return the alternatives of a type without None; a single type is its only one."""
    if typing.get_origin(kind) is typing.Annotated:
        return _arms(typing.get_args(kind)[0])
    if typing.get_origin(kind) in (typing.Union, types.UnionType):
        return [
            arm for part in typing.get_args(kind) if part is not type(None) for arm in _arms(part)
        ]
    return [kind]


def _is_entry(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, Entry)


def _type_at(entry: Any, keys: Sequence[str | int], *, bare: bool = True) -> Any:
    """Return the type that stands at a place of an entry; None where the path leads nowhere."""
    kind = entry
    for key in keys:
        found = None
        for arm in _arms(kind):
            if isinstance(key, int) and typing.get_origin(arm) is tuple:
                found = typing.get_args(arm)[0]
            elif _is_entry(arm):
                for name, field in arm.model_fields.items():
                    if key in (name, field.alias):
                        found = (
                            typing.Annotated[field.annotation, *field.metadata]
                            if field.metadata
                            else field.annotation
                        )
        if found is None:
            return None
        kind = found
    if bare:
        entries = [arm for arm in _arms(kind) if _is_entry(arm)]
        return entries[0] if entries else kind
    return kind


def _keys_of(kind: Any) -> list[str]:
    """Return the keys of an entry as they are written in a file."""
    if not _is_entry(kind):
        return []
    return [field.alias or name for name, field in kind.model_fields.items()]


def _literals(kind: Any) -> list[Any]:
    return [
        value
        for arm in _arms(kind)
        if typing.get_origin(arm) is typing.Literal
        for value in typing.get_args(arm)
    ]
