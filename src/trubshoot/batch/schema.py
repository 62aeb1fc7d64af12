"""The JSON Schema of a batch file as people write it, so that editors complete the keys.

It names every key and the form of its value. The reader checks more than a schema can say
(bounds in both unit systems, order in time), and the reader's word counts.
"""

from __future__ import annotations

from typing import Any

from trubshoot.batch.fields import (
    BOTTLES,
    BOTTLING,
    GROUPS,
    LISTS,
    LOG,
    Fields,
    detail_kind,
)
from trubshoot.batch.verbs import DETAILS, VERBS, words_for

_WORDS: dict[str, Any] = {"type": ["string", "number"]}
_DATE = {"type": "string", "examples": ["2026-03-07 15:00", "2026-03-07"]}
_SUGAR_ITEM: dict[str, Any] = {
    "anyOf": [
        {"type": "string", "examples": ["5 oz corn sugar", "none"]},
        {
            "type": "object",
            "properties": {"what": _WORDS, "amount": {"type": "string"}},
            "additionalProperties": False,
        },
    ]
}


def json_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a batch file."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "trubshoot batch file",
        "type": "object",
        "required": ["batch"],
        "additionalProperties": False,
        "properties": {
            "batch": {**_WORDS, "description": "name of the batch"},
            "units": _or_open({"enum": ["metric", "us"]}),
            "style": _or_open(_WORDS),
            "today": _or_open({"anyOf": [_DATE, {"type": "number"}]}),
            **{key: _group(group.fields, group.short is not None) for key, group in GROUPS.items()},
            **{key: _list(fields) for key, fields in LISTS.items()},
            "plan": _or_open(
                _object({"target": {"type": ["number", "string"]}, **_deed("bottled")})
            ),
            "circumstances": _or_open({"anyOf": [_WORDS, {"type": "array", "items": _WORDS}]}),
            "log": _or_open({"type": "array", "items": {"anyOf": list(_log_lines())}}),
        },
    }


def _or_open(schema: dict[str, Any]) -> dict[str, Any]:
    """Return a schema that also lets the value be left open."""
    return {"anyOf": [schema, {"type": "null"}, {"enum": ["unknown", "?"]}]}


def _object(properties: dict[str, Any], required: list[str] | None = None) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": properties,
        "additionalProperties": False,
        **({"required": required} if required else {}),
    }


def _properties(fields: Fields) -> dict[str, Any]:
    return {key: _or_open(dict(kind.schema)) for key, kind in fields.items()}


def _group(fields: Fields, short: bool) -> dict[str, Any]:
    whole = _object(_properties(fields))
    return _or_open({"anyOf": [whole, _WORDS]} if short else whole)


def _list(fields: Fields) -> dict[str, Any]:
    item = {"anyOf": [_object(_properties(fields)), {"type": "string"}]}
    return _or_open({"anyOf": [item, {"type": "array", "items": item}]})


def _log_lines() -> list[dict[str, Any]]:
    """Return one schema for each verb of a log line and for each deed."""
    lines = []
    for verb, (kind, beside) in LOG.items():
        if verb != "did":
            keys = {verb: dict(kind.schema), **_properties(beside)}
            lines.extend(_timed(keys, verb))
    for deed in VERBS:
        keys = {"did": {"enum": list(words_for(deed))}, **_deed(deed)}
        lines.extend(_timed(keys, "did"))
    lines.extend(_timed({"did": {"type": "string"}}, "did"))
    return lines


def _timed(keys: dict[str, Any], verb: str) -> list[dict[str, Any]]:
    days = {"anyOf": [{"type": "number"}, {"type": "string"}]}
    return [
        _object({"at": _DATE, **keys}, ["at", verb]),
        _object({"day": days, **keys}, ["day", verb]),
    ]


def _deed(verb: str) -> dict[str, Any]:
    if verb != "bottled":
        return {key: _or_open(dict(detail_kind(verb, key).schema)) for key in DETAILS[verb]}
    sugar = {"anyOf": [_SUGAR_ITEM, {"type": "array", "items": _SUGAR_ITEM}]}
    return {
        "sugar": _or_open(sugar),
        "bottles": _or_open({"type": ["string", "integer"]}),
        **_properties({key: BOTTLES[key] for key in ("count", "size")}),
        **_properties(BOTTLING),
    }
