"""The shape of every knowledge file: typed, frozen, unknown keys refused."""

# no `from __future__ import annotations` here: pydantic would compile every annotation again
from functools import cached_property
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from trubshoot.knowledge_base.advice_schema import Advice, AdviceStep, Avoid, ByStage, Effort
from trubshoot.knowledge_base.entry import Entry as Entry
from trubshoot.knowledge_base.entry import Prose

Stage = Literal[
    "boil", "lag", "active", "late_fermentation", "packaging", "conditioning", "tasting"
]
Probability = Annotated[float, Field(gt=0, lt=1)]
Id = Annotated[str, Field(pattern=r"^[a-z0-9_]{2,70}$")]


class Source(Entry):
    """A publication, and how much of it was read."""

    citation: str
    basis: Literal["read", "memory"]
    extent: str = ""


class Step(Entry):
    """A step of the brewing process."""

    id: Id
    label: str
    what: str
    deeds: tuple[str, ...] = ()
    aliases: tuple[str, ...] = ()  # other words that somebody who browses may use for it


class Context(Entry):
    """A circumstance that changes how likely a cause is beforehand."""

    label: Prose
    # practice: what was done or was there beforehand; age: how old the beer is when it is judged;
    # outcome: how the beer turned out
    tells: Literal["practice", "age", "outcome"] = "practice"
    aliases: tuple[str, ...] = ()


class Sign(Entry):
    """Something a brewer may report that matters only for keeping people whole."""

    label: str
    aliases: tuple[str, ...] = ()
    topic: str


class Synonyms(Entry):
    """Words that are read as if they were one."""

    words: tuple[str, ...]


class CommonWords(Entry):
    """Words that mean a finding only beside certain others: alone they name common things."""

    words: tuple[str, ...]
    beside: tuple[str, ...]
    basis: str


class Fact(Entry):
    """A word that rules may use: something worked out from the log."""

    type: Literal["state", "number", "text"]
    meaning: str
    unit: str = ""
    range: tuple[float, float] | None = None
    values: tuple[str, ...] = ()
    shown_only: bool = False  # no rule reads it; people do, or the program works with it

    @model_validator(mode="after")
    def _complete(self) -> Self:
        if self.type == "number" and self.range is None:
            raise ValueError("a number needs its range: [lowest, highest]")
        if self.type == "text" and not self.values:
            raise ValueError("a text needs its values: [...]")
        return self


class Modifier(Entry):
    """A context that multiplies the odds of a cause beforehand."""

    when: Id
    odds: Annotated[float, Field(gt=0)]
    basis: str = ""


class Link(Entry):
    """How often a cause, acting alone, makes a finding noticed."""

    finding: Id
    strength: Probability
    basis: str = ""


class CauseExample(Entry):
    """A picture that must bring a cause up, or must not."""

    name: str
    present: tuple[Id, ...] = ()
    absent: tuple[Id, ...] = ()
    contexts: tuple[Id, ...] = ()
    expect: Literal["first", "top3", "not_first", "not_top3"]


class Cause(Entry):
    """One way in which a batch goes wrong, or a normal or mistaken reading of it."""

    id: Id
    label: Prose
    step: Id
    kind: Literal["fault", "normal", "measurement"]
    doubt: Prose = ""
    mechanism: Prose
    prior: Probability
    modifiers: tuple[Modifier, ...] = ()
    links: tuple[Link, ...]
    confirm: AdviceStep
    rule_out: Prose
    now: Advice
    avoid: tuple[Avoid, ...]
    stop: ByStage
    cost: ByStage
    next_time: Prose
    caution: Prose = ""
    sources: tuple[str, ...] = ()
    basis: str
    examples: tuple[CauseExample, ...]

    @model_validator(mode="after")
    def _at_one_with_itself(self) -> Self:
        for stage in ("brewing", "fermenting", "bottled"):
            advised = {step.action for step in self.now.for_stage(stage)} - {None}
            for item in self.avoid:
                if item.action in advised and item.holds_at(stage):
                    raise ValueError(f"now advises '{item.action}' ({stage}), avoid forbids it")
        return self


class Check(Entry):
    """How a brewer finds out whether a finding is so."""

    how: Prose
    by: Effort
    minutes: Annotated[float, Field(ge=0)]


class FindingExample(Entry):
    """Words that do, or do not, mean a finding."""

    words: str
    means: bool


class Days(Entry):
    """When a finding means what it says; said at another time it is another finding, or none."""

    since: Literal["pitching", "bottling"] = "pitching"
    first: float = 0.0
    last: float = 1e6
    earlier: str = ""  # the finding that the same words mean before
    later: str = ""  # ... and after


class Finding(Entry):
    """Something a brewer can observe."""

    id: Id
    label: Prose
    # practice: what was done; fault: what nobody wants of the beer; sign: any other observation
    tells: Literal["practice", "fault", "sign"] = "sign"
    term: str = ""
    doubt: Prose = ""
    aliases: tuple[str, ...]
    stages: tuple[Stage, ...]
    leak: Probability
    threshold: str = ""
    days: Days | None = None
    some_bottles: str = ""  # the finding that the same words mean when told of some bottles only
    unless_named: bool = False  # says that something is wrong and not what: gives way to what does
    check: Check
    confused_with: tuple[Id, ...] = ()
    sources: tuple[str, ...] = ()
    basis: str
    examples: tuple[FindingExample, ...]


class Told(Entry):
    """Chance of the evidence when the finding is so, and when it is not."""

    so: Probability
    not_so: Probability


class Condition(Entry):
    """One test on one fact; several tests in one condition must all hold."""

    fact: str
    is_: Annotated[
        Literal["present", "absent", "unknown"] | None, Field(alias="is", default=None)
    ] = None
    in_: Annotated[tuple[str, ...] | None, Field(alias="in", default=None)] = None
    gt: float | None = None
    gte: float | None = None
    lt: float | None = None
    lte: float | None = None
    eq: float | None = None

    def tests(self) -> list[tuple[str, object]]:
        """Return the (operator, argument) pairs of this condition."""
        pairs: list[tuple[str, object]] = []
        if self.is_ is not None:
            pairs.append(("is", self.is_))
        if self.in_ is not None:
            pairs.append(("in", self.in_))
        for name in ("gt", "gte", "lt", "lte", "eq"):
            value = getattr(self, name)
            if value is not None:
                pairs.append((name, value))
        return pairs

    @model_validator(mode="after")
    def _tests_something(self) -> Self:
        if not self.tests():
            raise ValueError("a condition needs a test: is, in, gt, gte, lt, lte or eq")
        return self


class When(Entry):
    """Conditions: all of these, at least one of these, none of these."""

    all: tuple[Condition, ...] = ()
    any: tuple[Condition, ...] = ()
    none: tuple[Condition, ...] = ()

    @model_validator(mode="after")
    def _positive(self) -> Self:
        if not self.all and not self.any:
            raise ValueError("a rule needs at least one condition under all or any")
        return self


_KINDS = ("finding", "no_finding", "context", "rules_out", "hazard", "marker", "hold", "permit")


class Then(Entry):
    """What a rule concludes: exactly one thing."""

    finding: Id | None = None
    told: Told | None = None
    no_finding: Id | None = None
    context: Id | None = None
    rules_out: Id | None = None
    hazard: Id | None = None
    marker: Id | None = None
    hold: Id | None = None
    permit: Literal["bottling"] | None = None

    @model_validator(mode="after")
    def _one(self) -> Self:
        named = [kind for kind in _KINDS if getattr(self, kind) is not None]
        if len(named) != 1:
            raise ValueError(f"a rule concludes exactly one of {', '.join(_KINDS)}")
        if self.told is not None and self.finding is None:
            raise ValueError("told belongs to a finding")
        return self

    @cached_property  # asked for a thousand times in a diagnosis; a rule never changes
    def kind(self) -> str:
        """Return which sort of conclusion this is."""
        return next(kind for kind in _KINDS if getattr(self, kind) is not None)

    @cached_property
    def target(self) -> str:
        """Return the id concluded."""
        return str(getattr(self, self.kind))


class RuleTest(Entry):
    """Facts, and whether the rule fires on them."""

    name: str
    facts: dict[str, float | str]
    fires: bool


class RuleSpec(Entry):
    """One rule: when, then, because."""

    id: Id
    title: str
    when: When
    then: Then
    # practice: a rules_out that follows from what was done alone, so that it holds beforehand too
    tells: Literal["practice", ""] = ""
    because: str
    why: str = ""
    sources: tuple[str, ...]
    basis: str
    tests: tuple[RuleTest, ...]


class AvoidStep(Entry):
    """One action of a hazard block, with its place in the order of protection."""

    do: str
    tag: Literal["people", "leave", "cool", "protect", "handle", "dispose", "save", "other"]


class GateAfter(Entry):
    """A waiting time: while one of `any` holds, the number `hours` must be known and reach this."""

    any: tuple[str, ...]
    hours: str
    at_least: float


class Gate(Entry):
    """When handling steps may be shown at all, and what stands in their place."""

    why: str
    needs: tuple[str, ...] = ()
    closed_by: tuple[str, ...] = ()
    after: GateAfter | None = None
    steps: tuple[AvoidStep, ...]


class Hazard(Entry):
    """A hazard: what it is, what it can do, how to avoid it."""

    id: Id
    level: Literal["notice", "caution", "warning", "danger"]
    topic: str
    hazard: str
    consequence: str
    avoid: tuple[AvoidStep, ...]
    gate: Gate | None = None
    if_hurt: str = ""
    no_tasting: bool = False
    latches: bool = False
    cleared_by: str | None = None
    covers: tuple[Id, ...] = ()
    unknown_if_missing: dict[str, str] = Field(default_factory=dict)
    never_known: tuple[str, ...] = ()
    stands_on_gaps: bool = False  # raised by what is missing alone, never by a sign
    sources: tuple[str, ...]
    basis: str


class Hold(Entry):
    """A reason not to bottle yet, and what would end it."""

    id: Id
    label: Prose
    mend: Prose
    kind: Literal["stop", "measure", "write", "wait", "change"]
    minutes: Annotated[float, Field(ge=0)] = 0.0
    wait_fact: str = ""  # a fact in days: how long it still takes at least
    why_stricter: Prose = ""  # where the trade is content with less
    sources: tuple[str, ...]
    basis: str


# fmt: off
ListTag = Literal[
    "clean", "sanitize", "oxygen", "fill", "sugar", "test_bottle", "store", "look",
    "water", "heat", "chill", "pitch", "ferment", "bottle", "caution",
    "people", "leave", "cool", "protect", "handle", "dispose",
]
# fmt: on


class ChecklistItem(Entry):
    """One line of a list: what to do, and when it concerns a batch (always, if not said)."""

    id: Id
    do: str  # {names} are filled in with numbers of the batch
    when: When | None = None
    tag: ListTag
    sources: tuple[str, ...]
    basis: str


class Checklist(Entry):
    """A list of which only the lines that concern a batch are shown."""

    id: Id
    title: str
    items: tuple[ChecklistItem, ...]
