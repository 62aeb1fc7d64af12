"""The JSON Schema for editors agrees with the reader on good files and on unknown keys."""

from __future__ import annotations

from typing import Any

import pytest
from tests.batch.samples import METRIC, US

from trubshoot.batch import json_schema, read_batch
from trubshoot.batch.fields import GROUPS, HEAD_KEYS, LOG
from trubshoot.batch.verbs import VERBS
from trubshoot.yaml_lines import read_yaml

_TYPES: dict[str, tuple[type, ...]] = {
    "object": (dict,),
    "array": (list,),
    "string": (str,),
    "integer": (int,),
    "number": (int, float),
    "boolean": (bool,),
    "null": (type(None),),
}


def fits(schema: dict[str, Any], value: Any) -> bool:
    """Return whether a value fits a schema, for the few words of JSON Schema that ours uses."""
    kinds = schema.get("type", [])
    kinds = [kinds] if isinstance(kinds, str) else kinds
    if kinds and not any(
        isinstance(value, _TYPES[kind]) and (kind == "boolean" or not isinstance(value, bool))
        for kind in kinds
    ):
        return False
    if "enum" in schema and value not in schema["enum"]:
        return False
    if "anyOf" in schema and not any(fits(option, value) for option in schema["anyOf"]):
        return False
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        low, high = schema.get("minimum", value), schema.get("maximum", value)
        if not low <= value <= high:
            return False
    if isinstance(value, list) and "items" in schema:
        return all(fits(schema["items"], item) for item in value)
    if isinstance(value, dict) and "properties" in schema:
        known = schema["properties"]
        return (
            all(key in value for key in schema.get("required", []))
            and all(key in known for key in value)
            and all(fits(known[key], item) for key, item in value.items())
        )
    return True


def data_of(text: str) -> Any:
    """Return the plain data of a batch file."""
    return read_yaml(text, "b.yaml").data


@pytest.mark.parametrize("text", [US, METRIC, "batch: x", "batch: x\nyeast:\nlog: []"])
def test_good_files_fit_the_schema(text: str) -> None:
    """What the reader takes, the schema takes."""
    read_batch(text)
    assert fits(json_schema(), data_of(text))


@pytest.mark.parametrize(
    "text",
    [
        "units: us",
        "batch: x\nyeats: dry",
        "batch: x\nyeast: {fom: dry}",
        "batch: x\nlog: [{gravity: 1.02}]",
        "batch: x\nlog: [{day: 1, gravity: 1.02, saw: foam}]",
        "batch: x\nlog: [{day: 1, did: pitched, sugar: 5 oz}]",
        "batch: x\nbottles: {count: 9999}",
    ],
)
def test_bad_keys_do_not_fit_the_schema(text: str) -> None:
    """A missing name, unknown keys and two verbs in one line do not fit."""
    assert not fits(json_schema(), data_of(text))


def test_the_schema_names_every_key() -> None:
    """Every key of the head, every verb and every deed is there for the editor to offer."""
    schema = json_schema()
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert set(schema["properties"]) == set(HEAD_KEYS)
    text = str(schema)
    for word in (*GROUPS, *LOG, *VERBS):
        assert f"'{word}'" in text
