"""The shape of advice: steps by stage, what not to do, when to stop, what it costs."""

# no `from __future__ import annotations` here: pydantic would compile every annotation again
from typing import Literal, Self

from pydantic import model_validator

from trubshoot.knowledge_base.entry import Entry, Prose

Place = Literal["brewing", "fermenting", "bottled", "serving", "any"]
# how somebody finds out whether a finding is so
Effort = Literal["ask", "look", "smell", "taste", "measure", "open_bottle", "wait"]
# what somebody may do to a beer, the mildest first: what is put in cannot be taken out again
Action = Literal[
    "wait",
    "taste",
    "warm",
    "cool",
    "rouse",
    "open_lid",
    "handle_bottles",
    "aerate",
    "open_bottle",
    "add_other",
    "add_yeast",
    "add_sugar",
    "bottle",
]


class AdviceStep(Entry):
    """A step of advice; its kind of action lets the causes that it would harm object."""

    do: Prose
    action: Action | None = None

    @model_validator(mode="before")
    @classmethod
    def _plain_text(cls, given: object) -> object:
        """Take a plain text for a step of no kind."""
        return {"do": given} if isinstance(given, str) else given


class Advice(Entry):
    """What to do now, by how far the batch has come; best step first."""

    brewing: tuple[AdviceStep, ...] = ()
    fermenting: tuple[AdviceStep, ...] = ()
    bottled: tuple[AdviceStep, ...] = ()
    serving: tuple[AdviceStep, ...] = ()
    any: tuple[AdviceStep, ...] = ()

    def for_stage(self, stage: str) -> tuple[AdviceStep, ...]:
        """Return the steps for a stage of the batch, then the ones that always hold."""
        if stage == "bottled":
            return (*self.bottled, *self.serving, *self.any)
        here: tuple[AdviceStep, ...] = getattr(self, stage, ())
        return (*here, *self.any) or self.fermenting or self.bottled


class ForbiddenActions(Entry):
    """Kinds of action that a hazard leaves no room for."""

    actions: tuple[Action, ...]
    checks: tuple[Effort, ...] = ()
    when: str
    sources: tuple[str, ...]
    basis: str


class Avoid(Entry):
    """What not to do with this batch, and why."""

    dont: Prose
    why: Prose
    action: Action | None = None
    at: tuple[Place, ...] = ("any",)

    def holds_at(self, stage: str) -> bool:
        """Tell whether it concerns a stage of the batch."""
        here = {stage, "any"} | ({"serving"} if stage == "bottled" else set())
        return not here.isdisjoint(self.at)


class ByStage(Entry):
    """A text that differs with how far the batch has come; `any` stands for the stages left out."""

    brewing: Prose = ""
    fermenting: Prose = ""
    bottled: Prose = ""
    any: Prose = ""

    def for_stage(self, stage: str) -> str:
        """Return the text of a stage, or what holds at every stage, or ""."""
        own: str = getattr(self, stage, "")
        return own or self.any

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if not (self.brewing or self.fermenting or self.bottled or self.any):
            raise ValueError("say it for at least one of brewing, fermenting, bottled, any")
        return self
