"""The errors a user can act on.

TrubshootError                 base: one sentence, where it happened, what to do instead
├── BatchError                 a batch file that cannot be used; carries every problem found
├── KnowledgeError             a knowledge file that cannot be used; carries every problem found
├── OutOfRangeError            a quantity outside the range in which a formula holds
├── UnitError                  a quantity written in a way that cannot be read
└── EngineError                the rule engine refused a rule or failed while running
"""

from __future__ import annotations

from dataclasses import dataclass


def printable(text: str) -> str:
    """Return a text without signs that steer a terminal, which could hide what stands on it."""
    if text.isprintable():
        return text
    return "".join(char if char.isprintable() or char == "\n" else " " for char in text)


@dataclass(frozen=True, order=True)
class Problem:
    """One thing that is wrong in a file: where, what, and what to write instead."""

    path: str
    line: int  # 1-based; 0 when the problem belongs to the whole file
    message: str
    mend: str = ""

    def __str__(self) -> str:
        place = f"{self.path}:{self.line}" if self.line else self.path
        return printable(f"{place}: {self.message}" + (f" {self.mend}" if self.mend else ""))


class TrubshootError(Exception):
    """Base of all errors that are reported to the user without a traceback."""

    slug = "error"


class ProblemsError(TrubshootError):
    """An error that carries a list of problems, all of them found in one pass."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = sorted(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class BatchError(ProblemsError):
    """A batch file that cannot be used."""

    slug = "batch-file"


class KnowledgeError(ProblemsError):
    """Knowledge files that cannot be used."""

    slug = "knowledge"


class OutOfRangeError(TrubshootError, ValueError):
    """A quantity outside the range in which a formula holds: the answer is "not known"."""

    slug = "out-of-range"

    def __init__(self, name: str, value: float, low: float, high: float, unit: str = "") -> None:
        self.name, self.value, self.low, self.high, self.unit = name, value, low, high, unit
        shown = f" {unit}" if unit else ""
        super().__init__(
            f"{name} is {value:g}{shown}; the formula holds from {low:g} to {high:g}{shown}"
        )


class UnitError(TrubshootError, ValueError):
    """A quantity that cannot be read."""

    slug = "unit"


class EngineError(TrubshootError):
    """The rule engine refused a rule, or failed while running."""

    slug = "engine"
