"""What an interview knows at one moment, and what it asks next: plain frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from trubshoot.safety import HazardBlock

Kind = Literal["finding", "sign", "context", "detail", "lost"]
Form = Literal["words", "repeat", "yes_no", "one", "several", "which", "value", "end"]


@dataclass(frozen=True)
class Item:
    """One thing understood (or, as `lost`, not understood), as it will stand in the batch file.

    value: the log line's words, or the value of a detail. said: the brewer's own words. nearest:
    for what was not understood, the nearest things known.
    """

    kind: Kind
    id: str
    label: str
    state: str  # present, absent, or "" for details and what was lost
    value: str
    said: str = ""
    sense: str = "saw"
    vague: str = ""  # the confusable word that it rests on
    nearest: tuple[str, ...] = ()
    asked: bool = False  # told when asked, and not what the brewer complained of

    @property
    def key(self) -> str:
        """Return what two items share that say something of the same thing."""
        return f"{self.kind}:{self.value if self.kind == 'lost' else self.id}"


@dataclass(frozen=True)
class Option:
    """One answer that may be chosen by its number or its words."""

    label: str
    says: str = ""
    how: str = ""  # how to find out whether this one is so


@dataclass(frozen=True)
class Prompt:
    """What is asked now.

    id: what is asked about; an answer kept under it can be given again later. form: what kind of
    answer is wanted. about: what was understood so far and waits for a yes. message: what is to be
    said about the last answer. hazards: everything that stands; whoever shows a prompt shows new
    ones first.
    """

    id: str
    form: Form
    ask: str
    how: str = ""
    options: tuple[Option, ...] = ()
    about: tuple[Item, ...] = ()
    minutes: float = 0.0
    message: str = ""
    hazards: tuple[HazardBlock, ...] = ()


@dataclass(frozen=True)
class State:
    """Everything an interview knows. Turns are (prompt id, answer) and lead to the rest."""

    turns: tuple[tuple[str, str], ...] = ()
    items: tuple[Item, ...] = ()
    closed: frozenset[str] = frozenset()  # prompts that are not asked again
    unchecked: bool = False  # something was understood that was not yet repeated
    ended: bool = False  # the brewer wants the answer now
    unknown_run: int = 0  # answers "don't know" since the last other one
    message: str = ""

    @property
    def details(self) -> dict[str, str]:
        """Return the details told, by their row in interview.yaml."""
        return {item.id: item.value for item in self.items if item.kind == "detail"}

    @property
    def asked(self) -> tuple[str, ...]:
        """Return the ids of the questions put, without the opening and the repeating."""
        return tuple(
            prompt for prompt, _ in self.turns if prompt not in ("opening", "repeat", "more")
        )
