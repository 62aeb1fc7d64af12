"""The keys of a batch file: for each group of keys, what they are called and what they hold.

The reader and the JSON Schema are both made from these tables.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from trubshoot.batch import kinds
from trubshoot.batch.kinds import Kind

Fields = Mapping[str, Kind]

# likely (bare number) and possible (unit written) temperatures [deg C]; judgement, see kinds.py
_BEER = ((-2.0, 45.0), (-10.0, 60.0))
_ROOM = ((-5.0, 45.0), (-40.0, 60.0))
_STORE = ((-5.0, 45.0), (-30.0, 80.0))
_SAMPLE = ((-2.0, 45.0), (-5.0, 105.0))
_LIVING = ((-2.0, 45.0), (-5.0, 110.0))  # wort or water into which yeast goes
_TARGET = ((-5.0, 45.0), (-15.0, 105.0))  # cooled, warmed or chilled to
_HOT = ((30.0, 105.0), (0.0, 110.0))  # steeping and mashing
_ANY = ((-5.0, 105.0), (-20.0, 110.0))
_SCALE = ((10.0, 30.0), (0.0, 40.0))


@dataclass(frozen=True)
class Group:
    """A group of keys: its fields, and the attribute for words written in place of the group."""

    fields: Fields
    short: Kind | None = None


WORT: Fields = {
    "kind": kinds.text("kind"),
    "volume": kinds.volume("volume_l", 0.1),
    "boiled": kinds.yes_no_or("was_boiled", kinds.volume("boiled_l")),
    "water": kinds.text("water"),
    "water_treatment": kinds.text("water_treatment"),
    "expected_og": kinds.gravity("expected_og"),
    "expected_fg": kinds.gravity("expected_fg"),
    "topped_up": kinds.yes_no_or("topped_up", kinds.volume("topped_up_l")),
    "hopped": kinds.flag("hopped"),
    "ibu": kinds.number("ibu", 0, 500),
}
FERMENTABLE: Fields = {
    "what": kinds.text("what"),
    "amount": kinds.amount("amount"),
    "age": kinds.age("age_days"),
}
HOP: Fields = {
    "what": kinds.text("what"),
    "amount": kinds.amount("amount"),
    "use": kinds.text("use"),
}
YEAST: Fields = {
    "class": kinds.text("strain_class"),
    "form": kinds.choice(
        "form", ("dry", "liquid", "slurry"), {"dried": "dry", "yeast cake": "slurry"}
    ),
    "amount": kinds.amount("amount"),
    "packs": kinds.number("packs", 0, 100),
    "age": kinds.age("age_days"),
    "stored": kinds.quantity_or_words(kinds.temperature("stored_c", *_STORE), "stored"),
    "starter": kinds.yes_no_or("starter", kinds.volume("starter_l", 0, 100)),
    "rehydrated": kinds.yes_no_or("rehydrated", kinds.temperature("rehydrated_c", *_LIVING)),
}
VESSEL: Fields = {
    "kind": kinds.text("kind"),
    "volume": kinds.volume("volume_l", 0.1),
    "spigot": kinds.flag("spigot"),
    "headspace": kinds.headspace("headspace"),
    "pressure": kinds.pressure("pressure_bar"),
}
INSTRUMENTS: Fields = {
    "hydrometer_scale": kinds.temperature("hydrometer_scale_c", *_SCALE),
    "hydrometer_in_water": kinds.gravity("hydrometer_in_water"),
    "thermometer_checked": kinds.flag("thermometer_checked"),
}
BOTTLES: Fields = {
    "kind": kinds.text("kind"),
    "size": kinds.bottle_size("size_ml"),
    "count": kinds.number("count", 0, 5000, whole=True),
    "reused": kinds.flag("reused"),
    "closure": kinds.text("closure"),
}
STORAGE: Fields = {
    "where": kinds.text("where"),
    "temp": kinds.temperature("temp_c", *_STORE),
    "to": kinds.temperature("to_c", *_STORE),
}
SANITIZING: Fields = {
    "with": kinds.text("agent"),
    "rinsed": kinds.rinse("rinsed"),
    "strength": kinds.text("strength"),
    "contact": kinds.duration("contact_min", "min"),
    "cleaner": kinds.text("cleaner"),
    "skipped": kinds.texts("skipped"),
}
ROOM: Fields = {
    "where": kinds.text("where"),
    "temp": kinds.temperature("temp_c", *_ROOM),
}
GROUPS: Mapping[str, Group] = {
    "wort": Group(WORT, kinds.text("kind")),
    "yeast": Group(YEAST, kinds.text("strain_class")),
    "vessel": Group(VESSEL, kinds.text("kind")),
    "instruments": Group(INSTRUMENTS),
    "bottles": Group(BOTTLES, kinds.text("kind")),
    "storage": Group(
        STORAGE, kinds.quantity_or_words(kinds.temperature("temp_c", *_STORE), "where")
    ),
    "sanitizing": Group(SANITIZING, kinds.text("agent")),
    "room": Group(ROOM, kinds.quantity_or_words(kinds.temperature("temp_c", *_ROOM), "where")),
}
LISTS: Mapping[str, Fields] = {"fermentables": FERMENTABLE, "hops": HOP}
HEAD_KEYS = (
    *("batch", "units", "style", "today", "wort", "fermentables", "hops", "yeast", "vessel"),
    *("instruments", "bottles", "storage", "sanitizing", "room", "plan", "circumstances"),
    "log",
)

_WHERE = kinds.choice(
    "where",
    ("all bottles", "some bottles", "one bottle", "fermenter", "glass"),
    {
        **dict.fromkeys(("all", "every bottle", "whole batch", "all of them"), "all bottles"),
        **dict.fromkeys(
            ("some", "a few bottles", "several bottles", "few bottles"), "some bottles"
        ),
        **dict.fromkeys(("one", "a bottle", "a single bottle", "bottle"), "one bottle"),
        **dict.fromkeys(("bucket", "carboy", "in the fermenter", "the fermenter"), "fermenter"),
        **dict.fromkeys(("the glass", "in the glass"), "glass"),
    },
)
# asked: the answer to a question, and not what somebody complained of
_SEEN: Fields = {"in": _WHERE, "asked": kinds.flag("asked")}
# the verbs of a log line: what stands after the verb, and what may stand beside it
LOG: Mapping[str, tuple[Kind, Fields]] = {
    "gravity": (
        kinds.gravity("sg"),
        {
            "sample": kinds.temperature("sample_c", *_SAMPLE),
            "with": kinds.choice("instrument", ("hydrometer", "refractometer")),
            "degassed": kinds.flag("degassed"),
            "of": kinds.choice(
                "of",
                ("batch", "forced test", "opened bottle", "water", "another jar"),
                {
                    **dict.fromkeys(("beer", "wort", "fermenter", "the batch"), "batch"),
                    **dict.fromkeys(
                        ("forced", "forced ferment test", "forced fermentation test"), "forced test"
                    ),
                    **dict.fromkeys(("bottle", "a bottle", "one bottle"), "opened bottle"),
                    **dict.fromkeys(("tap water", "distilled water", "plain water"), "water"),
                },
            ),
        },
    ),
    "beer": (kinds.temperature("temp_c", *_BEER), {}),
    "room": (kinds.temperature("temp_c", *_ROOM), {}),
    "ph": (kinds.number("ph", 2.0, 9.0), {}),
    "saw": (kinds.texts("texts"), _SEEN),
    "smelled": (kinds.texts("texts"), _SEEN),
    "tasted": (kinds.texts("texts"), _SEEN),
    "no_sign_of": (kinds.texts("texts"), _SEEN),
    "did": (kinds.text("words"), {}),
    "note": (kinds.text("text"), {}),
    "turned_out": (
        kinds.text("text"),
        {
            "sure": kinds.choice(
                "sure",
                ("certain", "guess"),
                {
                    **dict.fromkeys(("on", "sure", "shown", "tested"), "certain"),
                    **dict.fromkeys(("off", "not sure", "unsure", "guessed", "likely"), "guess"),
                },
            ),
            "words": kinds.text("words"),
        },
    ),
}

_TOOK = kinds.duration("took_min", "min", 60)
_TO = kinds.temperature("to_c", *_TARGET)
_LID = kinds.choice(
    "lid", ("on", "off", "partly"), {"partly on": "partly", "half on": "partly", "ajar": "partly"}
)
DETAIL_KINDS: Mapping[str, Kind] = {
    "temp": kinds.temperature("temp_c", *_ANY),
    "beer": kinds.temperature("temp_c", *_LIVING),
    "to": _TO,
    "took": _TOOK,
    "for": kinds.duration("for_days"),
    "volume": kinds.volume("volume_l"),
    "water": kinds.text("water"),
    "grain": kinds.mass("grain_g"),
    "amount": kinds.amount("amount"),
    "what": kinds.text("what"),
    "with": kinds.text("agent"),
    "rinsed": kinds.rinse("rinsed"),
    "lid": _LID,
    "heat": kinds.choice("heat", ("on", "off")),
    "splashed": kinds.flag("splashed"),
    "where": kinds.text("where"),
}
# details that mean something else after these verbs
DETAIL_EXCEPTIONS: Mapping[tuple[str, str], Kind] = {
    ("steeped", "temp"): kinds.temperature("temp_c", *_HOT),
    ("mashed", "temp"): kinds.temperature("temp_c", *_HOT),
    ("steeped", "water"): kinds.volume("water_l"),
    ("mashed", "water"): kinds.volume("water_l"),
    ("rehydrated", "temp"): kinds.temperature("temp_c", *_LIVING),
    ("stored", "temp"): kinds.temperature("temp_c", *_STORE),
    ("stored", "to"): kinds.temperature("to_c", *_STORE),
    ("opened bottle", "temp"): kinds.temperature("temp_c", *_STORE),
    ("chilled bottle", "temp"): kinds.temperature("temp_c", *_STORE),
    ("burned with", "where"): kinds.choice(
        "where",
        ("indoors", "outdoors"),
        {
            **dict.fromkeys(("inside", "kitchen", "garage", "tent", "shed"), "indoors"),
            **dict.fromkeys(("outside", "garden", "open air"), "outdoors"),
        },
    ),
}
BOTTLING: Fields = {
    "volume": kinds.volume("volume_l", 0.1),
    "dosing": kinds.choice(
        "dosing",
        ("bulk", "per bottle"),
        {
            **dict.fromkeys(("bucket", "batch", "in the bucket", "batch priming"), "bulk"),
            **dict.fromkeys(("bottle", "bottles", "each bottle", "per_bottle"), "per bottle"),
        },
    ),
    "stirred": kinds.flag("stirred"),
    "weighed": kinds.flag("weighed"),
    "headspace": kinds.headspace("headspace"),
    "temp": kinds.temperature("temp_c", *_BEER),
    "caps": kinds.text("caps"),
}


def detail_kind(verb: str, detail: str) -> Kind:
    """Return the kind of a detail beside a verb."""
    return DETAIL_EXCEPTIONS.get((verb, detail)) or DETAIL_KINDS[detail]
