"""Conjunctions of tests as boxes: for each fact a state, a text and an interval of numbers.

A box says what the facts must look like for all tests to hold, so that questions such as "does one
imply the other" become comparisons of intervals. Numbers are whole counts of 1/10,000 as in the
engines, hence "above 3" is the closed interval from 3.0001.

After the checks on decision tables and rule bases of Nguyen and others, Checking a knowledge base
for consistency and completeness, AI Magazine 8(2), 1987 (abstract read).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from trubshoot.knowledge_base.schema import Fact as FactSpec
from trubshoot.rules.conditions import SCALE, Fact, Test

ENDLESS = 10**12


@dataclass(frozen=True)
class Side:
    """What a box asks of one fact."""

    state: str | None = None
    text: str | None = None
    low: int = -ENDLESS
    high: int = ENDLESS

    @property
    def numeric(self) -> bool:
        """Tell whether a number is asked for."""
        return self.low > -ENDLESS or self.high < ENDLESS

    def within(self, other: Side) -> bool:
        """Tell whether whatever fits this fits the other too."""
        return (
            (other.state is None or self.state == other.state)
            and (other.text is None or self.text == other.text)
            and (not other.numeric or (self.numeric and other.low <= self.low))
            and self.high <= other.high
        )

    def meets(self, other: Side) -> Side | None:
        """Return what fits both; None when nothing does."""
        low, high = max(self.low, other.low), min(self.high, other.high)
        states = {self.state, other.state} - {None}
        texts = {self.text, other.text} - {None}
        if low > high or len(states) > 1 or len(texts) > 1:
            return None
        return Side(next(iter(states), None), next(iter(texts), None), low, high)


Box = Mapping[str, Side]
Vocabulary = Mapping[str, FactSpec]


def range_of(vocabulary: Vocabulary, name: str) -> tuple[int, int]:
    """Return the declared range of a number as whole counts; endless when there is none."""
    spec = vocabulary.get(name)
    if spec is None or spec.range is None:
        return -ENDLESS, ENDLESS
    return round(spec.range[0] * SCALE), round(spec.range[1] * SCALE)


def side_of(test: Test) -> Side:
    """Return what one test asks of its fact; a text or a number is only ever stated as present."""
    if test.operator == "is":
        return Side(state=str(test.argument))
    if test.operator == "text":
        return Side(state="present", text=str(test.argument))
    limit = int(test.argument)
    low = {"gt": limit + 1, "gte": limit, "eq": limit}.get(test.operator, -ENDLESS)
    high = {"lt": limit - 1, "lte": limit, "eq": limit}.get(test.operator, ENDLESS)
    return Side("present", None, low, high)


def box_of(tests: Iterable[Test], vocabulary: Vocabulary) -> Box | None:
    """Return the box of a conjunction inside the declared ranges; None when it never holds."""
    sides: dict[str, Side] = {}
    for test in tests:
        met = sides.get(test.fact, Side()).meets(side_of(test))
        if met is None:
            return None
        sides[test.fact] = met
    for name, side in sides.items():
        low, high = range_of(vocabulary, name)
        if side.numeric:
            inside = side.meets(replace(side, low=low, high=high))
            if inside is None:
                return None
            sides[name] = inside
    return sides


def implies(inner: Box, outer: Box) -> bool:
    """Tell whether the outer box holds whenever the inner one does."""
    return all(name in inner and inner[name].within(side) for name, side in outer.items())


def implies_test(box: Box, test: Test) -> bool:
    """Tell whether a test holds whenever the box does."""
    return test.fact in box and box[test.fact].within(side_of(test))


def excludes_test(box: Box, test: Test) -> bool:
    """Tell whether a test never holds while the box does."""
    return test.fact in box and box[test.fact].meets(side_of(test)) is None


def join(first: Box, second: Box) -> Box | None:
    """Return the box in which both hold; None when they never hold together."""
    sides = dict(first)
    for name, side in second.items():
        met = sides.get(name, Side()).meets(side)
        if met is None:
            return None
        sides[name] = met
    return sides


def facts_in(box: Box, vocabulary: Vocabulary, share: float) -> dict[str, Fact]:
    """Return facts inside a box; numbers lie at a share of the way from its lower to upper end."""
    facts: dict[str, Fact] = {}
    for name, side in box.items():
        if side.text is not None:
            facts[name] = Fact(text=side.text)
        elif side.numeric:
            low, high = range_of(vocabulary, name)
            low, high = max(low, side.low), min(high, side.high)
            facts[name] = Fact(number=round(low + share * (high - low)) / SCALE)
        else:
            facts[name] = Fact(state=side.state or "present")
    return facts
