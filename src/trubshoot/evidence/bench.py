"""The workbench on which facts are gathered: the batch, its timeline, and what was found so far."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, TypeVar

from trubshoot.batch import Batch
from trubshoot.batch.model import Bottling, Deed, GravityReading
from trubshoot.batch.timeline import TimedEntry, Timeline
from trubshoot.evidence.model import (
    BottleBasis,
    BottleOutlook,
    ExpectedEnd,
    Missing,
    Reading,
    Understood,
    Value,
)
from trubshoot.evidence.words import resolve
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.tables import YeastClass

E = TypeVar("E")
_BREWING_VERBS = ("steeped", "mashed", "boiled", "added extract", "chilled", "topped up", "aerated")


@dataclass
class Bench:
    """Facts under construction; a fact that the log does not give is simply not set."""

    batch: Batch
    knowledge: KnowledgeBase
    timeline: Timeline
    facts: dict[str, Value] = field(default_factory=dict)
    missing: list[Missing] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    readings: list[Reading] = field(default_factory=list)
    og_points: float | None = None
    og_how: str = ""
    og_sigma: float = 1.0
    end: ExpectedEnd | None = None
    lowest_end: ExpectedEnd | None = None
    basis: BottleBasis | None = None
    outlook: BottleOutlook | None = None
    understood: list[Understood] = field(default_factory=list)
    _by_kind: dict[type[Any], list[tuple[float | None, Any]]] = field(default_factory=dict)

    # --- setting facts
    def state(self, name: str, value: bool | None) -> None:
        """Set a state; None leaves it unstated."""
        if value is not None:
            self.facts[name] = "present" if value else "absent"

    def number(self, name: str, value: float | None) -> None:
        """Set a number in the unit of facts.yaml; outside its range it is noted and left out."""
        if value is None:
            return
        low, high = self.knowledge.facts[name].range or (float("-inf"), float("inf"))
        if low <= value <= high:
            self.facts[name] = float(value)
        else:
            meaning = self.knowledge.facts[name].meaning
            self.notes.append(f"{meaning}: {value:.4g} is out of the ordinary and is left out")

    def text(self, name: str, value: str | None) -> None:
        """Set a text."""
        if value is not None:
            self.facts[name] = value

    def lacks(self, what: str, assumed: str = "", matters: str = "") -> None:
        """Note something the log does not say."""
        gap = Missing(what, assumed, matters)
        if gap not in self.missing:
            self.missing.append(gap)

    def is_set(self, name: str) -> bool:
        """Tell whether a state is present."""
        return self.facts.get(name) == "present"

    def get(self, name: str) -> float | None:
        """Return a number set before, in the unit of facts.yaml, or None."""
        value = self.facts.get(name)
        return value if isinstance(value, float) else None

    def constant(self, name: str) -> float:
        """Return a constant of the knowledge, in the unit that constants.yaml gives it."""
        return self.knowledge.constant(name)

    # --- reading the log
    @cached_property
    def entries(self) -> tuple[TimedEntry, ...]:
        """Return the log up to the moment of asking; entries without place stand last."""
        unplaced = tuple(item for item in self.timeline.entries if item.days is None)
        return self.timeline.until_now() + unplaced

    def of(self, kind: type[E]) -> list[tuple[float | None, E]]:
        """Return the entries of a kind with their days since pitching."""
        found = self._by_kind.get(kind)
        if found is None:
            found = [
                (item.days, item.entry) for item in self.entries if isinstance(item.entry, kind)
            ]
            self._by_kind[kind] = found
        return list(found)

    def deeds(self, *verbs: str) -> list[tuple[float | None, Deed]]:
        """Return what was done under these verbs, with the days since pitching."""
        return [(days, deed) for days, deed in self.of(Deed) if deed.verb in verbs]

    def deed(self, *verbs: str) -> tuple[float | None, Deed] | None:
        """Return the first deed under these verbs, with its days since pitching."""
        found = self.deeds(*verbs)
        return found[0] if found else None

    @cached_property
    def bottling(self) -> tuple[float | None, Bottling] | None:
        """Return the last bottling, if there was one, with its days since pitching."""
        found = self.of(Bottling)
        return found[-1] if found else None

    def is_plan(self, entry: Bottling) -> bool:
        """Tell whether a bottling is only planned."""
        return self.batch.plan is not None and entry is self.batch.plan.bottling

    @property
    def now(self) -> float | None:
        """Return the moment of asking in days since pitching."""
        return self.timeline.now_days

    @cached_property
    def pitched_at_zero(self) -> bool:
        """Tell whether day 0 is the pitching: logged, or counted so by the writer's day numbers.

        A log that opens with the bottling counts from the bottling.
        """
        if not self.timeline.pitched and self.bottling is not None:
            bottled = self.bottling[0]
            if bottled is not None and bottled < self.constant("least_days_to_bottling"):
                return False
        by_number = any(item.entry.day is not None for item in self.timeline.entries)
        return self.timeline.pitched or by_number or self.batch.today_day is not None

    @cached_property
    def fermenting_end(self) -> float | None:
        """Return the day on which fermenting in the vessel ended: bottling, or now."""
        if self.bottling is not None and self.bottling[0] is not None:
            return self.bottling[0]
        return self.now

    def fermenting_readings(self, until: float | None) -> list[Reading]:
        """Return the readings of fermenting beer up to a day.

        Those said to be full of gas are left out when there are others: gas lifts the float.
        """
        found = [
            reading
            for reading in self.readings
            if reading.day is not None
            and reading.day > 0.25
            and (until is None or reading.day <= until + 1e-6)
        ]
        clear = [reading for reading in found if not reading.gassy]
        if not clear:
            return found
        # gas makes a sample read high: one that is low all the same counts
        low = clear[-1].points - self.constant("gate_equal_points")
        return [reading for reading in found if not reading.gassy or reading.points < low]

    @cached_property
    def yeast_class_id(self) -> str | None:
        """Return the class of the yeast, when the words lead to one."""
        return resolve(self.batch.yeast.strain_class, self.knowledge.yeast_classes)

    @cached_property
    def yeast_class(self) -> YeastClass:
        """Return the class of the yeast; unknown yeast is taken for a kit sachet of ale yeast."""
        return self.knowledge.yeast_classes[self.yeast_class_id or "bread_or_unknown_kit_sachet"]

    @cached_property
    def brewing_only(self) -> bool:
        """Tell whether the log has not come to pitching yet."""
        later = self.timeline.pitched or self.bottling is not None
        started = bool(self.deeds(*_BREWING_VERBS))
        return (
            started
            and not later
            and not any((day or 0) > 1.5 for day, _ in self.of(GravityReading))
        )
