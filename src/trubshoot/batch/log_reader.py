"""Read one line of the log: when, which verb, and the details beside it."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from trubshoot.batch import kinds
from trubshoot.batch.amounts import parse_amount, parse_bottles, parse_sugar
from trubshoot.batch.fields import BOTTLES, BOTTLING, LOG, detail_kind
from trubshoot.batch.model import (
    BeerTemperature,
    Bottles,
    Bottling,
    Deed,
    Entry,
    GravityReading,
    LogEntry,
    Note,
    Observation,
    Outcome,
    PhReading,
    Plan,
    RoomTemperature,
    Sugar,
)
from trubshoot.batch.moments import read_day, read_moment, refuse_future
from trubshoot.batch.verbs import ALL_DETAILS, DETAILS, VERBS, find_verb, meant_verb
from trubshoot.units import Amount, UnreadableQuantity, is_about, shown
from trubshoot.yaml_lines import Keys

if TYPE_CHECKING:
    from trubshoot.batch.reader import Reading

_WHEN = ("at", "day")
_CLASSES: dict[str, type[LogEntry]] = {
    "gravity": GravityReading,
    "beer": BeerTemperature,
    "room": RoomTemperature,
    "ph": PhReading,
    "note": Note,
    "turned_out": Outcome,
}
# an amount up to these, written beside `dosing: per bottle`, is the amount for one bottle
_BOTTLE_MASS_G, _BOTTLE_VOLUME_ML, _BOTTLE_PIECES = 25.0, 30.0, 10.0
_BRIX = re.compile(r"(?:bx|brix)\s*\.?\s*$", re.IGNORECASE)


def read_entry(reader: Reading, item: object, index: int) -> Entry | None:
    """Return one log entry; None when it has problems, which the reader then holds."""
    keys: Keys = ("log", index)
    if not isinstance(item, dict):
        mend = "Write it like `- {day: 3, gravity: 1.020}` or `- {at: 2026-03-07, note: ...}`."
        reader.problem(keys, f"the log line {shown(item)} has no key.", mend)
        return None
    before = len(reader.problems)
    found = _when(reader, item, keys)
    found.update(line=reader.document.line(keys), number=index)
    verb = _verb(reader, item, keys)
    entry: Entry | None = None
    if verb == "did":
        entry = _deed(reader, item, keys, found)
    elif verb is not None:
        entry = _plain_entry(reader, item, keys, verb, found)
    return entry if len(reader.problems) == before else None


def _when(reader: Reading, item: dict[str, Any], keys: Keys) -> dict[str, Any]:
    given = [key for key in _WHEN if not kinds.is_unknown(item.get(key))]
    if len(given) != 1:
        message = "no time is written." if not given else "`at` and `day` both stand here."
        mend = "Write `at: 2026-03-07 15:00` or `day: 3` (days since pitching)."
        reader.problem(keys, message, mend)
        return {}
    key = given[0]
    try:
        if key == "day":
            return {"day": read_day(item[key])}
        at, known = read_moment(item[key])
        refuse_future(at, known, reader.now)
    except UnreadableQuantity as error:
        reader.problem((*keys, key), f"{key}: {error.message}", error.mend)
        return {}
    return {"at": at, "hour_known": known}


def _verb(reader: Reading, item: dict[str, Any], keys: Keys) -> str | None:
    if "did" in item:
        verbs = [key for key in item if key in LOG and key not in ALL_DETAILS]
    else:
        verbs = [key for key in item if key in LOG]
    if len(verbs) == 1:
        return verbs[0]
    if verbs:
        message = f"two things stand in one log line ({', '.join(verbs)})."
        reader.problem(keys, message, "Write a log line for each, with the same time.")
        return None
    others = [key for key in item if key not in _WHEN]
    if not others:
        reader.problem(keys, "nothing but a time is written.", f"Add one of: {', '.join(LOG)}.")
    for key in others:
        mend = kinds.nearest(key, LOG)
        if find_verb(key) is not None:
            mend = f"Write `did: {find_verb(key)}`."
        reader.problem((*keys, key), f"the key {shown(key)} does not begin a log line.", mend)
    return None


def _plain_entry(
    reader: Reading, item: dict[str, Any], keys: Keys, verb: str, found: dict[str, Any]
) -> Entry | None:
    before = len(reader.problems)
    kind, beside = LOG[verb]
    reader.unknown_keys(item, (*_WHEN, verb, *beside), keys)
    value = item[verb]
    if kinds.is_unknown(value):
        reader.problem((*keys, verb), f"{verb}: nothing is written.", "Remove the line or fill it.")
        return None
    if verb == "gravity":
        found["written"] = str(value)[:60]
        if isinstance(value, str) and _BRIX.search(value):
            found["instrument"] = "refractometer"
    found.update(reader.value(kind, value, (*keys, verb)))
    for key, detail in beside.items():
        if key in item:
            found.update(reader.value(detail, item[key], (*keys, key)))
    if len(reader.problems) > before:
        return None
    if verb in _CLASSES:
        return _CLASSES[verb](**found)  # type: ignore[return-value]  # classes of Entry only
    return Observation(kind=verb, **found)


def _deed(reader: Reading, item: dict[str, Any], keys: Keys, found: dict[str, Any]) -> Entry | None:
    said = reader.value(LOG["did"][0], item["did"], (*keys, "did")).get("words")
    if said is None:
        if kinds.is_unknown(item["did"]):
            reader.problem((*keys, "did"), "did: nothing is written.", "Say what was done.")
        return None
    verb = find_verb(said)
    details = [key for key in item if key not in (*_WHEN, "did")]
    if verb is None:
        meant = meant_verb(said)
        if meant is not None:
            message = f"did: {shown(said)} cannot be read for sure."
            mend = f"Write `did: {meant}` with details beside it, or `note:` for a remark."
            reader.problem((*keys, "did"), message, mend)
        elif details:
            message = f"`{details[0]}` stands beside {shown(said)}, which is not a known deed."
            reader.problem((*keys, details[0]), message, f"Known deeds: {', '.join(VERBS)}.")
        return Deed(words=said, **found)
    reader.unknown_keys(item, (*_WHEN, "did", *DETAILS[verb]), keys)
    if verb == "bottled":
        return _bottling(reader, item, keys, {**found, "words": said})
    for key in DETAILS[verb]:
        if key in item:
            found.update(reader.value(detail_kind(verb, key), item[key], (*keys, key)))
    return Deed(verb=verb, words=said, **found)


def read_plan(reader: Reading, value: object) -> Plan | None:
    """Return the bottling as planned: the details of a bottling, and the CO2 aimed at."""
    keys: Keys = ("plan",)
    if kinds.is_unknown(value):
        return None
    if not isinstance(value, dict):
        mend = "Write it like `plan: {sugar: 110 g table sugar, volume: 18 l}`."
        reader.problem(keys, "plan must be a group of keys.", mend)
        return None
    reader.unknown_keys(value, ("target", *DETAILS["bottled"]), keys)
    target: dict[str, Any] = {}
    if "target" in value:
        kind = kinds.number("target_vols", 0.5, 6.0)
        target = reader.value(kind, _without_vol(value["target"]), (*keys, "target"))
    found = {"line": reader.document.line(keys), "words": ""}
    return Plan(bottling=_bottling(reader, value, keys, found), **target)


def _without_vol(value: object) -> object:
    """Return 2.4 for "2.4 vol"."""
    text = str(value).strip().lower()
    for ending in ("volumes", "vols", "vol"):
        if text.endswith(ending):
            return text.removesuffix(ending).strip()
    return value


def _bottling(reader: Reading, item: dict[str, Any], keys: Keys, found: dict[str, Any]) -> Bottling:
    for key, kind in BOTTLING.items():
        if key in item:
            found.update(reader.value(kind, item[key], (*keys, key)))
    if not kinds.is_unknown(item.get("sugar")):
        found["sugars"] = _sugars(reader, item["sugar"], keys, found.get("dosing"))
        if found.get("dosing") is None and any(
            sugar.amount is not None and sugar.amount.per == "bottle" for sugar in found["sugars"]
        ):
            found["dosing"] = "per bottle"
    bottles: dict[str, Any] = {}
    if not kinds.is_unknown(item.get("bottles")):
        try:
            bottles = parse_bottles(item["bottles"]).model_dump(exclude_none=True)
        except UnreadableQuantity as error:
            reader.problem((*keys, "bottles"), f"bottles: {error.message}", error.mend)
    for key in ("count", "size"):
        if key in item:
            bottles.update(reader.value(BOTTLES[key], item[key], (*keys, key)))
    return Bottling(bottles=Bottles(**bottles), **found)


def _sugars(reader: Reading, value: object, keys: Keys, dosing: str | None) -> tuple[Sugar, ...]:
    here = (*keys, "sugar")
    answer = kinds.yes_or_no(value)
    if answer is not None:
        return (Sugar(),) if answer else ()
    sugars: list[Sugar] = []
    for item in value if isinstance(value, list) else [value]:
        try:
            sugar = _sugar(item)
        except UnreadableQuantity as error:
            reader.problem(here, f"sugar: {error.message}", error.mend)
            continue
        if sugar is None:
            continue
        if is_about(item):
            reader.rough.add(f"log[{keys[-1]}].sugar")
        if dosing == "per bottle" and sugar.amount is not None and _for_one(sugar.amount):
            sugar = Sugar(kind=sugar.kind, amount=replace(sugar.amount, per="bottle"))
            message = f"sugar: {shown(item)} beside `dosing: per bottle` is read as one bottle's."
            reader.warn(here, message, "Write `per bottle` after the amount, or `dosing: bulk`.")
        sugars.append(sugar)
    return tuple(sugars)


def _sugar(item: object) -> Sugar | None:
    if not isinstance(item, dict):
        return parse_sugar(item)
    unknown = [key for key in item if key not in ("what", "amount")]
    if unknown:
        mend = 'Write it like "5 oz corn sugar" or {what: corn sugar, amount: 5 oz}.'
        raise UnreadableQuantity(f"the key {shown(unknown[0])} is not known here.", mend)
    what, amount = item.get("what"), item.get("amount")
    return Sugar(
        kind=None if kinds.is_unknown(what) else kinds.words(what),
        amount=None if kinds.is_unknown(amount) else parse_amount(amount),
    )


def _for_one(amount: Amount) -> bool:
    """Return whether an amount, written without "per", can only be meant for one bottle."""
    if amount.per != "batch":
        return False
    return (
        (amount.mass_g is not None and amount.mass_g <= _BOTTLE_MASS_G)
        or (amount.volume_ml is not None and amount.volume_ml <= _BOTTLE_VOLUME_ML)
        or (amount.pieces is not None and amount.pieces <= _BOTTLE_PIECES)
    )
