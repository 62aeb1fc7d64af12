"""The bottles themselves: class, fill, closure, and the hottest place they may stand in."""

from __future__ import annotations

import re

from trubshoot.batch.model import Bottles, Bottling, RoomTemperature
from trubshoot.evidence.bench import Bench
from trubshoot.evidence.handling import OPEN_VESSELS
from trubshoot.evidence.sugar_dose import bottles_hold
from trubshoot.evidence.words import resolve, tokens
from trubshoot.knowledge_base.tables import Bottle
from trubshoot.sentences import joined, temperature

_PLACES = ("fridge", "cellar", "indoor", "shed", "garage", "attic", "car")
_PLACE_WORDS = {
    "refrigerator": "fridge",
    "basement": "cellar",
    "cupboard": "indoor",
    "closet": "indoor",
    "kitchen": "indoor",
    "house": "indoor",
    "room": "indoor",
    "loft": "attic",
    "boot": "car",
    "trunk": "car",
}
_COLOURS = {
    "clear": "clear_or_green_glass",
    "green": "clear_or_green_glass",
    "brown": "brown_glass",
}
_KIND_WORDS = re.compile(r"\b(?!bottles?\b)[a-z]{4,}", re.IGNORECASE)
_SIZE_ML = re.compile(r"\b([0-9]{3,4}) ?ml\b")
_DOUBTFUL_CAPS = ("reused", "old", "worn", "hammer", "twist", "loose")


def bottle_class(bench: Bench, entry: Bottling | None) -> tuple[str, Bottle]:
    """Return the class of the bottles, the weakest ordinary one when nothing is known."""
    head = bench.batch.bottles
    own = entry.bottles if entry is not None else Bottles()
    named = own.kind if own.kind and _says_a_kind(bench, own.kind) else head.kind or own.kind
    reused = head.reused if own.reused is None else own.reused
    table = bench.knowledge.bottles
    key = _class_of(bench, named, reused)
    row = table[key]
    if named is not None or entry is not None:
        if key == "unknown":
            bench.lacks(
                "kind of bottles",
                row.label.lower() + ", the weakest ordinary ones",
                "how much pressure they are trusted with",
            )
        else:
            bench.text("bottle_class", key)
            bench.state("bottle_kind_known", True)
        bench.state("bottles_unrated", True if not row.pressure_rated else None)
    words = set(tokens(named or ""))
    for word, fact in _COLOURS.items():
        if word in words:
            bench.state(fact, True)
    caps = " ".join(
        text for text in (entry.caps if entry else None, head.closure, named) if text
    ).lower()
    if any(word in tokens(caps) for word in _DOUBTFUL_CAPS) and ("cap" in caps or "twist" in caps):
        bench.state("caps_reused_or_doubtful", True)
    if entry is not None:
        _headspace(bench, entry)
    return key, row


def _class_of(bench: Bench, named: str | None, reused: bool | None) -> str:
    key = resolve(named, bench.knowledge.bottles) or "unknown"
    if key == "single_use_longneck_new" and reused is not False:
        return "single_use_longneck_reused"  # new only when it says so
    return key


def _says_a_kind(bench: Bench, words: str) -> bool:
    """Tell whether words such as "48 x 330 ml" name a kind, or only a number and a size."""
    known = resolve(words, bench.knowledge.bottles) not in (None, "unknown")
    return known or bool(_KIND_WORDS.search(words))


def contradictions(bench: Bench, entry: Bottling) -> None:
    """Note where the file says two different things of one bottling that is planned."""
    head, own = bench.batch.bottles, entry.bottles
    found: list[str] = []
    if head.kind and own.kind and _says_a_kind(bench, own.kind):
        ours = _class_of(bench, own.kind, head.reused if own.reused is None else own.reused)
        theirs = _class_of(bench, head.kind, head.reused)
        if ours != theirs:
            found.append(f'the plan says "{own.kind}", the head says "{head.kind}"')
    if head.reused is not None and own.reused is not None and head.reused != own.reused:
        found.append("the bottles are new in one place and used in another")
    if head.size_ml and own.size_ml and abs(own.size_ml / head.size_ml - 1) > 0.02:
        found.append(f"bottles of {own.size_ml:.0f} ml and of {head.size_ml:.0f} ml")
    if head.size_ml and head.kind:
        said = _SIZE_ML.search(head.kind.lower())
        if said and abs(head.size_ml / float(said[1]) - 1) > 0.02:
            found.append(f'bottles of {head.size_ml:.0f} ml called "{head.kind}"')
    filled, volume_l = bottles_hold(bench, entry), entry.volume_l
    if filled and volume_l and filled < bench.constant("bottles_hold_least_share") * volume_l:
        found.append(f"{volume_l:.1f} litres into bottles that hold {filled:.1f}")
    whole = bench.batch.wort.volume_l
    if whole and volume_l and volume_l > bench.constant("plan_volume_most_share") * whole:
        found.append(f"{volume_l:.1f} litres to bottle from a batch of {whole:.1f}")
    pressure = bench.batch.vessel.pressure_bar
    if pressure and bench.facts.get("vessel_kind") in OPEN_VESSELS:
        found.append("a fermenter that cannot hold pressure is given a pressure")
    bench.state("plan_contradicts_itself", True if found else None)
    bench.notes += [f"The file says two things: {sentence}." for sentence in found]


def _headspace(bench: Bench, entry: Bottling) -> None:
    room = entry.headspace
    size_ml = entry.bottles.size_ml or bench.batch.bottles.size_ml
    if room is None:
        return
    if room.percent is not None:
        bench.number("bottle_headspace_percent", room.percent)
    elif size_ml and room.volume_l is not None:
        bench.number("bottle_headspace_percent", 100_000 * room.volume_l / size_ml)
    elif size_ml and room.height_cm is not None:
        neck_ml = room.height_cm * bench.constant("neck_ml_per_cm")
        bench.number("bottle_headspace_percent", min(100 * neck_ml / size_ml, 100.0))


def storage(bench: Bench, day: float | None) -> float:
    """Return the hottest credible temperature of the bottles [C]; sets what is known of storage."""
    head = bench.batch.storage
    temps: list[tuple[float | None, float]] = []
    places = [head.where] if head.where else []
    for when, deed in bench.deeds("stored"):
        if deed.where:
            places.append(deed.where)
        temps += [(when, temp) for temp in (deed.temp_c, deed.to_c) if temp is not None]
    if day is not None:
        temps += [
            (when, entry.temp_c)
            for when, entry in bench.of(RoomTemperature)
            if when is not None and when > day
        ]
    temps += [(day, temp) for temp in (head.temp_c, head.to_c) if temp is not None]
    bench.state("storage_known", True if temps else None)
    unknown_c = bench.constant("storage_max_unknown_c")
    credible = [bench.constant(f"storage_max_{place}_c") for place in _named_places(places)]
    if temps:
        bench.number("storage_temp_max_c", max(temp for _, temp in temps))
        early = [temp for when, temp in temps if day is None or when is None or when <= day + 21]
        if early:
            bench.number("conditioning_temp_c", sum(early) / len(early))
    else:
        bench.lacks(
            "storage temperature of the bottles",
            joined(temperature(max(credible, default=unknown_c)), " at the hottest"),
            "the pressure in them",
        )
    if not credible:
        credible = [unknown_c]  # a temperature without its place is no cellar
    hottest = max([*credible, *(temp for _, temp in temps)])
    bench.number("hottest_day_c", hottest)
    return hottest


def _named_places(texts: list[str]) -> list[str]:
    places = []
    for text in texts:
        for word in tokens(text):
            place = _PLACE_WORDS.get(word, word)
            if place in _PLACES:
                places.append(place)
    return places
