"""Batches as plain data for the tests of the bottling verdict, and the verdict on them, fast.

The Lantern Street cellar is invented, and so is every number here.
"""

from __future__ import annotations

import copy
import json
from collections.abc import Iterator
from datetime import datetime, timedelta
from functools import cache
from typing import Any

from trubshoot.batch import Batch, read_batch
from trubshoot.diagnosis import Diagnostician
from trubshoot.errors import BatchError
from trubshoot.evidence import collect
from trubshoot.knowledge_base import load_knowledge
from trubshoot.rules import Fact, compile_specs
from trubshoot.rules.oracle import OracleEngine
from trubshoot.safety import FiredHazard, FiredHold, HazardBlock, Verdict, decide, hazard_blocks

Doc = dict[str, Any]
NOW = datetime(2026, 3, 22, 18)
KINDS = ("hold", "permit", "hazard", "marker")


@cache
def work() -> Diagnostician:
    """Return the diagnostician over the real knowledge."""
    return Diagnostician(load_knowledge())


@cache
def _oracle() -> OracleEngine:
    rules = [rule for rule in work().knowledge.rules.values() if rule.then.kind in KINDS]
    return OracleEngine(compile_specs(rules))


def read(doc: Doc, now: datetime = NOW) -> Batch | None:
    """Return the batch of plain data; None when the reader refuses it."""
    try:
        return read_batch(json.dumps(doc, ensure_ascii=False), now)
    except BatchError:
        return None


def verdict(doc: Doc, now: datetime = NOW) -> Verdict | None:
    """Return the verdict by the reference engine alone; None for what cannot be read.

    The product asks both engines; test_fast_verdict_is_the_products compares the two ways.
    """
    batch = read(doc, now)
    return None if batch is None else verdict_of(batch, now)


def verdict_of(batch: Batch, now: datetime = NOW) -> Verdict | None:
    """Return the verdict on a batch by the reference engine alone; None once it is bottled."""
    knowledge = work().knowledge
    evidence = collect(batch, knowledge, lambda: work().lexicon, now)
    if evidence.stage == "bottled":
        return None
    facts = {name: Fact.of(value) for name, value in evidence.facts.items()}
    found = _oracle().run(facts)
    fired = [(knowledge.rules[item.rule], item) for item in found.firings]
    known = {name: fact.plain for name, fact in found.facts.items()}
    blocks = hazard_blocks(
        knowledge.hazards,
        [FiredHazard(rule.then.target, "x") for rule, _ in fired if rule.then.kind == "hazard"],
        known,
    )
    return decide(
        knowledge.holds,
        [frozenset(item.conclusion for _, item in fired)],
        [FiredHold(rule.then.target, "x") for rule, _ in fired if rule.then.kind == "hold"],
        ["x" for rule, _ in fired if rule.then.kind == "permit"],
        known,
        blocks,
    )


def blocks_of(doc: Doc, now: datetime) -> tuple[HazardBlock, ...] | None:
    """Return the hazard blocks by the reference engine alone; None for what cannot be read."""
    batch = read(doc, now)
    if batch is None:
        return None
    knowledge = work().knowledge
    evidence = collect(batch, knowledge, lambda: work().lexicon, now)
    found = _oracle().run({name: Fact.of(value) for name, value in evidence.facts.items()})
    fired = [knowledge.rules[item.rule].then for item in found.firings]
    return hazard_blocks(
        knowledge.hazards,
        [FiredHazard(then.target, "x") for then in fired if then.kind == "hazard"],
        {name: fact.plain for name, fact in found.facts.items()},
    )


def is_go(doc: Doc, now: datetime = NOW) -> bool:
    """Tell whether it may be bottled; what cannot be read may not."""
    found = verdict(doc, now)
    return found is not None and found.go


def good() -> Doc:
    """Return a complete log of a batch that may be bottled on 22 March 2026."""
    return {
        "batch": "Lantern Street Good No. 1",
        "units": "metric",
        "style": "american ale",
        "today": "2026-03-22",
        "wort": {
            "kind": "extract",
            "volume": "19 l",
            "expected_og": 1.048,
            "expected_fg": 1.012,
            "topped_up": "no",
        },
        "fermentables": [
            {"what": "light liquid malt extract", "amount": "3 kg", "age": "2 months"}
        ],
        "hops": [{"what": "a bittering hop", "amount": "30 g", "use": "boil"}],
        "yeast": {"class": "us ale", "form": "dry", "amount": "11 g", "age": "3 months"},
        "vessel": {"kind": "bucket", "volume": "25 l", "spigot": "yes"},
        "instruments": {"hydrometer_scale": "20 C", "hydrometer_in_water": 1.000},
        "bottles": {"kind": "brown longneck", "size": "330 ml", "reused": "yes", "count": 55},
        "storage": {"where": "cellar", "temp": "16 C"},
        "sanitizing": {"with": "no-rinse acid sanitizer"},
        "plan": {
            "sugar": "95 g table sugar",
            "volume": "18 l",
            "dosing": "bulk",
            "target": "2.4 vol",
            "headspace": "4 %",
            "weighed": "yes",
            "stirred": "yes",
        },
        "log": [
            {"at": "2026-03-07 16:10", "gravity": 1.048, "sample": "20 C", "with": "hydrometer"},
            {"at": "2026-03-07 16:20", "did": "pitched", "beer": "20 C"},
            {"at": "2026-03-08 19:00", "beer": "20 C"},
            _reading("2026-03-13 11:00", 1.014),
            _reading("2026-03-16 11:00", 1.011),
            _reading("2026-03-19 11:00", 1.011),
            {"at": "2026-03-19 11:00", "beer": "20 C"},
            _reading("2026-03-22 11:00", 1.011),
        ],
    }


def _reading(at: str, sg: float, **more: Any) -> Doc:
    return {
        "at": at,
        "gravity": sg,
        "sample": "20 C",
        "with": "hydrometer",
        "degassed": "yes",
        **more,
    }


reading = _reading


def changed(doc: Doc, **places: Any) -> Doc:
    """Return a copy with places such as `plan__sugar` or `log__3__gravity` set; None removes."""
    new = copy.deepcopy(doc)
    for place, value in places.items():
        *path, last = (int(part) if part.isdigit() else part for part in place.split("__"))
        where: Any = new
        for part in path:
            if isinstance(part, str) and part not in where:
                where[part] = {}
            where = where[part]
        if value is None:
            del where[last]
        else:
            where[last] = copy.deepcopy(value)
    return new


def added(doc: Doc, *entries: Doc) -> Doc:
    """Return a copy with further log entries, in order of time."""
    log = [*doc["log"], *entries]
    key = "at" if "at" in log[0] else "day"
    return {**copy.deepcopy(doc), "log": sorted(copy.deepcopy(log), key=lambda item: item[key])}


Place = tuple[Any, ...]


def places(doc: Doc) -> list[Place]:
    """Return the place of every key of the head, of its groups, and of the lines of lists."""

    def walk(node: Any, path: Place) -> Iterator[Place]:
        if isinstance(node, dict):
            for key, value in node.items():
                if path or key not in ("log", "batch"):
                    yield (*path, key)
                yield from walk(value, (*path, key))
        elif isinstance(node, list):
            for index, value in enumerate(node):  # whole items are no fields; their keys are
                yield from walk(value, (*path, index))

    return list(walk(doc, ()))


def name_of(place: Place) -> str:
    """Return a place as text."""
    return ".".join(str(part) for part in place)


def without(doc: Doc, place: Place) -> Doc:
    """Return the document without one key."""
    new = copy.deepcopy(doc)
    where = new
    for part in place[:-1]:
        where = where[part]
    del where[place[-1]]
    return new


def deletions(doc: Doc) -> Iterator[tuple[str, Doc]]:
    """Yield every document with one key less, and which."""
    for place in places(doc):
        yield name_of(place), without(doc, place)


def by_day_numbers(doc: Doc) -> Doc:
    """Return the log with day numbers in place of dates; the question is asked on day 15.1."""
    new = copy.deepcopy(doc)
    zero = datetime(2026, 3, 7, 16, 20)
    for entry in new["log"]:
        moment = datetime.fromisoformat(entry.pop("at"))
        entry["day"] = round((moment - zero).total_seconds() / 86400, 3)
    new["today"] = 15.1
    new["log"] = [{"day": max(entry.pop("day"), 0.0), **entry} for entry in new["log"]]
    return new


def shifted(doc: Doc, hours: float, *numbers: int) -> Doc:
    """Return the log with some entries moved in time."""
    new = copy.deepcopy(doc)
    for number in numbers:
        entry = new["log"][number]
        moment = datetime.fromisoformat(entry["at"]) + timedelta(hours=hours)
        entry["at"] = moment.strftime("%Y-%m-%d %H:%M")
    return new
