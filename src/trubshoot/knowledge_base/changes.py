"""Changes of the process that a plan may propose, and the checks of what they name."""

# no `from __future__ import annotations` here: pydantic would compile every annotation again
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Annotated, Literal, Self

from pydantic import Field, model_validator

from trubshoot.errors import Problem
from trubshoot.knowledge_base.advice_schema import Action
from trubshoot.knowledge_base.entry import Entry
from trubshoot.knowledge_base.schema import When

if TYPE_CHECKING:
    from trubshoot.knowledge_base.loader import KnowledgeBase, Raw

Money = Literal["nothing", "little", "some", "much"]
# what {names} in a label or change may stand for; the plan fills them in
NUMBERS = ("pitch_at", "ferment_at", "yeast_amount", "sugar_amount")


class ProcessChange(Entry):
    """One change of the process: what to do, what it alters, and what it costs."""

    label: str
    action: Action | None = None
    change: tuple[str, ...] = ()
    come: tuple[str, ...] = ()
    go: tuple[str, ...] = ()
    absent: tuple[str, ...] = ()
    when: When | None = None
    unless: When | None = None
    minutes: Annotated[float, Field(ge=0)]
    money: Money
    sources: tuple[str, ...]
    basis: str

    @model_validator(mode="after")
    def _alters(self) -> Self:
        if not (self.change or self.come or self.go or self.absent):
            raise ValueError("a change alters something: give change, come, go or absent")
        return self


def check_changes(knowledge: "KnowledgeBase", raw: "Raw") -> Iterator[Problem]:
    """Yield every name in a change that stands for nothing."""
    from trubshoot.knowledge_base.checks import fact_problem  # which runs this check
    from trubshoot.knowledge_base.wrong_value import nearest  # not needed where all is well

    for key, row in knowledge.changes.items():
        practice = [n for n, f in knowledge.findings.items() if f.tells == "practice"]
        named: tuple[tuple[str, tuple[str, ...], Iterable[str]], ...] = (
            ("come", row.come, knowledge.contexts),
            ("go", row.go, knowledge.contexts),
            ("absent", row.absent, practice),
        )
        for field, names, known in named:
            for name in names:
                if name not in known:
                    mend = nearest(name, known)
                    line = raw.line("changes.yaml", key, field)
                    yield Problem("changes.yaml", line, f"{field} names '{name}'.", mend)
        for field, when in (("when", row.when), ("unless", row.unless)):
            for condition in (*when.all, *when.any, *when.none) if when is not None else ():
                wrong = fact_problem(knowledge, condition)
                if wrong:
                    yield Problem("changes.yaml", raw.line("changes.yaml", key, field), *wrong)
        for text in (row.label, *row.change):
            try:
                text.format_map(dict.fromkeys(NUMBERS, ""))
            except (KeyError, ValueError, IndexError):
                known_names = ", ".join(NUMBERS)
                line = raw.line("changes.yaml", key)
                message = "a {name} that nothing fills in."
                yield Problem("changes.yaml", line, message, f"Use one of: {known_names}.")
