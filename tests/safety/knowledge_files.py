"""The hazard side of the knowledge for these tests: files as they are, rules as the oracle runs."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from trubshoot.knowledge_base.schema import RuleSpec
from trubshoot.rules import compile_specs
from trubshoot.rules.conditions import Fact
from trubshoot.rules.oracle import OracleEngine
from trubshoot.safety import FiredHazard, HazardBlock, Step, hazard_blocks

_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)  # the C parser where it was built
KNOWLEDGE = Path(__file__).resolve().parents[2] / "knowledge"
Facts = Mapping[str, float | str]


@dataclass(frozen=True)
class After:
    """A waiting time as written in a hazard file."""

    any: tuple[str, ...]
    hours: str
    at_least: float


@dataclass(frozen=True)
class Gate:
    """A gate as written in a hazard file."""

    why: str
    needs: tuple[str, ...]
    closed_by: tuple[str, ...]
    steps: tuple[Step, ...]
    after: After | None = None


@dataclass(frozen=True)
class Hazard:
    """A hazard file; an unknown key is a TypeError."""

    id: str
    level: str
    topic: str
    hazard: str
    consequence: str
    avoid: tuple[Step, ...]
    unknown_if_missing: dict[str, str]
    sources: tuple[str, ...]
    basis: str
    never_known: tuple[str, ...] = ()
    stands_on_gaps: bool = False
    if_hurt: str = ""
    no_tasting: bool = False
    latches: bool = False
    cleared_by: str | None = None
    covers: tuple[str, ...] = ()
    gate: Gate | None = None

    def commands(self) -> list[str]:
        """Return every text that tells a brewer what to do."""
        gate = [step.do for step in self.gate.steps] if self.gate else []
        return [self.if_hurt, *(step.do for step in self.avoid), *gate]

    def texts(self) -> list[str]:
        """Return every text a brewer may read."""
        told = [self.hazard, self.consequence, *self.unknown_if_missing.values()]
        why = [self.gate.why] if self.gate else []
        return [*told, *why, *self.never_known, *self.commands()]


def _steps(raw: list[dict[str, str]]) -> tuple[Step, ...]:
    return tuple(Step(**step) for step in raw)


def make_hazard(raw: dict[str, Any]) -> Hazard:
    """Return the hazard of one file's content."""
    data = dict(raw)
    data["avoid"] = _steps(data["avoid"])
    if data.get("gate"):
        gate = dict(data["gate"])
        gate["steps"] = _steps(gate["steps"])
        gate["after"] = After(**gate["after"]) if gate.get("after") else None
        data["gate"] = Gate(**gate)
    return Hazard(**data)


@cache
def read(path: Path) -> Any:
    """Return the content of a YAML file; it is read once and must not be changed."""
    return yaml.load(path.read_text(encoding="utf-8"), Loader=_LOADER)


@cache
def hazards() -> dict[str, Hazard]:
    """Return every hazard file by id."""
    return {p.stem: make_hazard(read(p)) for p in sorted((KNOWLEDGE / "hazards").glob("*.yaml"))}


@cache
def rules() -> dict[str, RuleSpec]:
    """Return every hazard rule by id."""
    found = sorted((KNOWLEDGE / "rules").glob("hazard_*.yaml"))
    return {path.stem: RuleSpec.model_validate(read(path)) for path in found}


@cache
def engine() -> OracleEngine:
    """Return the reference engine with all hazard rules."""
    return OracleEngine(compile_specs(rules().values()))


def fired_by(facts: Facts) -> tuple[list[FiredHazard], dict[str, float | str]]:
    """Run the hazard rules; return the fired hazards and all facts with the markers concluded."""
    result = engine().run({name: Fact.of(value) for name, value in facts.items()})
    fired = [
        FiredHazard(rules()[f.rule].then.target, rules()[f.rule].because, f.supports[0])
        for f in result.firings
        if rules()[f.rule].then.kind == "hazard"
    ]
    return fired, {name: fact.plain for name, fact in result.facts.items()}


def blocks_for(facts: Facts) -> tuple[HazardBlock, ...]:
    """Return the hazard blocks for plain facts, through rules and verdict."""
    fired, known = fired_by(facts)
    return hazard_blocks(hazards(), fired, known)


def named(blocks: tuple[HazardBlock, ...]) -> set[str]:
    """Return the ids of all hazards that fired, shown or taken in by another block."""
    return {name for block in blocks for name in (block.id, *block.covers)}


# Keys that hold somebody else's words, not advice of ours.
QUOTED = frozenset(
    {"citation", "extent", "aliases", "words", "sources", "basis", "examples", "tests", "when"}
)


@dataclass(frozen=True)
class Text:
    """One text of the knowledge and where it stands."""

    place: str
    text: str
    keys: tuple[str, ...] = field(default=())


def texts_in(value: Any, place: str, keys: tuple[str, ...] = ()) -> Iterator[Text]:
    """Yield every text of a file's content but quotations."""
    if isinstance(value, str):
        yield Text(place, value, keys)
    elif isinstance(value, dict):
        for key, inner in value.items():
            if key not in QUOTED:
                yield from texts_in(inner, place, (*keys, str(key)))
    elif isinstance(value, list):
        for inner in value:
            yield from texts_in(inner, place, keys)


@cache
def knowledge_texts() -> list[Text]:
    """Return every text of every knowledge file but quotations and publications."""
    found = []
    for path in sorted(KNOWLEDGE.rglob("*.yaml")):
        if not path.name.startswith("sources"):
            found += texts_in(read(path), path.relative_to(KNOWLEDGE).as_posix())
    return found


def cause_advice() -> list[Text]:
    """Return what causes tell a brewer to do, or not to: all but how it works and the numbers."""
    advice = {"now", "avoid", "stop", "cost", "next_time", "caution", "confirm"}
    return [
        text
        for text in knowledge_texts()
        if text.place.startswith("causes/") and advice.intersection(text.keys[:1])
    ]
