"""The shape of what the interview asks: confusable words, safety questions, details, sentences."""

# no `from __future__ import annotations` here: pydantic would compile every annotation again
from typing import Literal, Self

from pydantic import model_validator

from trubshoot.knowledge_base.advice_schema import Effort
from trubshoot.knowledge_base.schema import Entry, Id, Told


class Meaning(Entry):
    """One thing that a confusable word may mean; without a finding it means nothing wrong."""

    label: str
    finding: Id | None = None
    fermenting: Id | None = None


class Confusion(Entry):
    """A word that brewers without training mix up, and the question that tells what is meant."""

    words: tuple[str, ...]
    by: Effort
    ask: str
    how: str
    options: tuple[Meaning, ...]
    told: Told
    sources: tuple[str, ...]
    basis: str


class Choice(Entry):
    """One answer of a question of the interview."""

    label: str
    says: Id | None = None
    deny: bool = True
    cues: tuple[str, ...] = ()


class InterviewItem(Entry):
    """A row of the interview: a question on safety, on several findings, a detail, a sentence."""

    kind: Literal["wording", "safety", "group", "detail"]
    ask: str = ""
    how: str = ""
    label: str = ""
    dimension: Literal["gravity", "temperature", "duration", "mass", "volume", "date"] | None = None
    place: str = ""
    cues: tuple[str, ...] = ()
    default: bool = False
    asked: bool = False
    stages: tuple[Literal["brewing", "fermenting", "bottled"], ...] = ()
    options: tuple[Choice, ...] = ()
    of: tuple[Id, ...] = ()
    sources: tuple[str, ...] = ()
    basis: str

    @model_validator(mode="after")
    def _complete(self) -> Self:
        several = self.kind == "group" and bool(self.of)
        if self.kind in ("safety", "group") and not (
            self.ask and self.how and self.stages and bool(self.options) != several
        ):
            raise ValueError(
                "a safety or group question needs ask, how, stages, and options (of a group: or of)"
            )
        if self.kind == "detail" and not (self.label and (self.dimension or self.options)):
            raise ValueError("a detail needs a label, and a dimension or options")
        if self.kind == "wording" and not self.ask:
            raise ValueError("a wording needs ask")
        return self
