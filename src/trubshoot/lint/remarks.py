"""What the lint says, and what it looks at."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.loader import Raw
from trubshoot.knowledge_base.schema import Condition, RuleSpec
from trubshoot.rules import compile_specs
from trubshoot.rules.conditions import Rule, Test, parse_condition

SECTIONS = ("all", "any", "none")
SAID = "said."
DERIVED = ("finding.", "absence.", "context.", "marker.", "ruled_out.", "hazard.", "hold.")


@dataclass(frozen=True, order=True)
class Remark:
    """One thing the lint found; a note is true and worth knowing, but no fault."""

    path: str
    line: int
    code: str
    message: str
    mend: str
    note: bool = field(default=False, compare=False)

    def __str__(self) -> str:
        place = f"{self.path}:{self.line}" if self.line else self.path
        return f"{place}: {self.code} {self.message} {self.mend}"


@dataclass(frozen=True)
class Subject:
    """The knowledge under the lint: typed, with the lines of its files and its rules compiled."""

    knowledge: KnowledgeBase
    raw: Raw
    rules: dict[str, Rule]

    @classmethod
    def of(cls, knowledge: KnowledgeBase, raw: Raw) -> Subject:
        """Return the subject for a knowledge base that passed the checks of loading."""
        compiled = compile_specs(knowledge.rules.values())
        return cls(knowledge, raw, {rule.id: rule for rule in compiled})

    def at_rule(self, rule: str, *keys: str | int) -> tuple[str, int]:
        """Return path and line of a place in a rule file."""
        path = f"rules/{rule}.yaml"
        return path, self.raw.line(path, *(keys or ("when",)))

    def at_row(self, table: str, key: str) -> tuple[str, int]:
        """Return path and line of a row of a table."""
        path = self.raw.table_file(table, key)
        return path, self.raw.line(path, key)

    def at_entry(self, folder: str, key: str, *keys: str | int) -> tuple[str, int]:
        """Return path and line of a place in a file of its own."""
        path = f"{folder}/{key}.yaml"
        return path, self.raw.line(path, *keys) if keys else 1

    def makers(self) -> dict[str, list[Rule]]:
        """Return the rules by what they conclude."""
        found: dict[str, list[Rule]] = {}
        for rule in self.rules.values():
            found.setdefault(rule.conclusion, []).append(rule)
        return found


def conditions(spec: RuleSpec) -> Iterable[tuple[str, int, Condition]]:
    """Return (section, number, condition) of a rule."""
    for section in SECTIONS:
        for number, condition in enumerate(getattr(spec.when, section)):
            yield section, number, condition


def place_of_test(subject: Subject, spec: RuleSpec, test: Test) -> tuple[str, int]:
    """Return where a test of a rule is written."""
    for section, number, condition in conditions(spec):
        if any(test in tests for tests in parse_condition(condition)):
            return subject.at_rule(spec.id, "when", section, number)
    return subject.at_rule(spec.id)
