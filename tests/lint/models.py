"""A small sound model for the lint, and the means to seed one fault in it."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from typing import Any

import yaml

from trubshoot.knowledge_base.loader import KnowledgeBase, Raw, build, parse

Plain = dict[str, Any]
ANYTHING = {"name": "toy", "facts": {}, "fires": False}


def rule(then: Mapping[str, Any], **when: list[Mapping[str, Any]]) -> Plain:
    """Return a rule as plain data."""
    return {
        "title": "Toy",
        "when": {key: list(value) for key, value in when.items()},
        "then": dict(then),
        "because": "Toy.",
        "sources": ["judgement"],
        "basis": "judgement",
        "tests": [ANYTHING],
    }


def fact(name: str, **test: Any) -> Plain:
    """Return a condition; `is_` and `in_` stand for the words that Python keeps for itself."""
    return {"fact": name, **{key.rstrip("_"): value for key, value in test.items()}}


def cause(links: Mapping[str, float], *examples: Plain, **more: Any) -> Plain:
    """Return a cause as plain data."""
    return {
        "label": "Toy",
        "step": "boil",
        "kind": "fault",
        "mechanism": "Toy.",
        "prior": 0.1,
        "links": [{"finding": name, "strength": strength} for name, strength in links.items()],
        "confirm": "Look.",
        "rule_out": "Look.",
        "now": {"any": ["Toy."]},
        "avoid": [{"dont": "Do not shake.", "why": "Toy."}],
        "stop": {"any": "Toy."},
        "cost": {"any": "Toy."},
        "next_time": "Toy.",
        "basis": "judgement",
        "examples": list(examples),
        **more,
    }


def finding(*aliases: str, label: str = "Toy finding") -> Plain:
    """Return a finding as plain data."""
    return {
        "label": label,
        "aliases": list(aliases),
        "stages": ["tasting"],
        "leak": 0.02,
        "check": {"how": "Taste.", "by": "taste", "minutes": 1},
        "basis": "judgement",
        "examples": [],
    }


def seen(*present: str, expect: str = "first") -> Plain:
    """Return an example of a cause."""
    return {"name": "toy", "present": list(present), "expect": expect}


SOUND: dict[str, dict[str, Plain]] = {
    "steps": {"boil": {"id": "boil", "label": "Boil", "what": "Boiling."}},
    "facts": {
        "heat_c": {"type": "number", "unit": "C", "range": [0, 100], "meaning": "warmth"},
        "days": {"type": "number", "unit": "d", "range": [0, 50], "meaning": "age"},
        "kind": {"type": "text", "values": ["ale", "lager", "wild"], "meaning": "kind"},
        "lid_on": {"type": "state", "meaning": "the lid was on"},
    },
    "contexts": {"hot_room": {"label": "Hot room", "aliases": ["room like an oven"]}},
    "signs": {"crack": {"label": "Crack", "aliases": ["cracked glass"], "topic": "bottles"}},
    "constants": {
        name: {"value": 1, "unit": "1", "sources": ["judgement"], "basis": "judgement"}
        for name in ("words_low_gravity_points", "words_cold_c", "words_hot_c")
    },
    "findings": {
        "toffee": finding("toffee", label="Toffee"),
        "rubber": finding("rubbery", label="Rubber"),
    },
    "causes": {
        "boiled_long": cause(
            {"toffee": 0.6},
            seen("toffee"),
            modifiers=[{"when": "hot_room", "odds": 2.0}],
        ),
        "yeast_tired": cause({"rubber": 0.6}, seen("rubber")),
    },
    "rules": {
        "warm": rule({"context": "hot_room"}, all=[fact("heat_c", gt=30)]),
        "old_lager": rule(
            {"finding": "rubber"},
            all=[fact("days", gte=20), fact("kind", in_=["lager"])],
        ),
        "cracked": rule({"marker": "broken"}, all=[fact("said.crack", is_="present")]),
        "grant": rule(
            {"permit": "bottling"},
            all=[fact("lid_on", is_="absent"), fact("days", gte=10)],
            none=[fact("marker.broken", is_="present")],
        ),
    },
}

_OWN_FILES = ("causes", "findings", "rules")


def model(changes: Mapping[str, Mapping[str, Plain | None]]) -> tuple[KnowledgeBase, Raw]:
    """Return the sound model with entries put in, changed, or (None) taken out."""
    tables = deepcopy(SOUND)
    for table, entries in changes.items():
        for key, entry in entries.items():
            if entry is None:
                del tables[table][key]
            else:
                tables[table][key] = entry
    contents: dict[str, bytes] = {}
    for table, entries in tables.items():
        if table in _OWN_FILES:
            for key, entry in entries.items():
                text = yaml.safe_dump({"id": key, **entry}, sort_keys=False)
                contents[f"{table}/{key}.yaml"] = text.encode()
        else:
            rows: Any = list(entries.values()) if table == "steps" else entries
            contents[f"{table}.yaml"] = yaml.safe_dump(rows, sort_keys=False).encode()
    plain, raw, problems = parse(contents)
    assert not problems, problems
    knowledge, problems = build(plain, "toy", raw)
    assert knowledge is not None, problems
    return knowledge, raw
