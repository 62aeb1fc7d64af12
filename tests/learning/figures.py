"""Published figures beside the forward model: `python -m tests.learning.figures` prints the table.

With `--write` it puts the table into docs/explanation/forward_model.md.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import yaml

from trubshoot.diagnosis import Diagnostician
from trubshoot.knowledge_base import load_knowledge
from trubshoot.learning.draft import Draft
from trubshoot.learning.forward import Forecast, forecast
from trubshoot.learning.whatif import WhatIf, whatif

HERE = Path(__file__).parent
PAGE = HERE.parents[1] / "docs" / "explanation" / "forward_model.md"
BEGIN, END = "<!-- begin of the figures -->", "<!-- end of the figures -->"
NOW = datetime(2026, 11, 25, 12)


@cache
def work() -> Diagnostician:
    """The shipped knowledge; one rule engine is enough here, tests elsewhere compare the two."""
    made = Diagnostician(load_knowledge())
    made.reasoner._engine = None
    return made


@cache
def changes() -> dict[str, Any]:
    """Return the base batches and the rows of the table of practice changes."""
    found: dict[str, Any] = yaml.safe_load((HERE / "practice_changes.yaml").read_text())
    return found


def ask(base: str, change: list[str]) -> WhatIf:
    """Run a what-if on one of the base batches."""
    return whatif(work(), Draft.of_text(changes()["bases"][base]), change, NOW)


@cache
def beginner() -> Forecast:
    """The beginner's batch of the priors."""
    return forecast(work().knowledge, work().base)


def rows() -> list[dict[str, Any]]:
    """Return the published figures."""
    found: list[dict[str, Any]] = yaml.safe_load((HERE / "published_figures.yaml").read_text())
    return found


def model(row: dict[str, Any]) -> float:
    """Return the model's figure for a row."""
    shown, kind = beginner(), row["kind"]
    chance = dict(zip(shown.causes, map(float, shown.cause_chance), strict=True))
    if kind == "any_cause":
        return float(1 - np.prod([1 - chance[name] for name in row["causes"]]))
    if kind == "share":
        return sum(chance[name] for name in row["causes"]) / sum(chance[name] for name in row["of"])
    if kind == "any_finding":
        causes = work().knowledge.causes
        columns = [shown.findings.index(name) for name in row["findings"]]
        silent = 1.0
        for name in shown.causes:
            if causes[name].kind == "fault":
                strength = {link.finding: link.strength for link in causes[name].links}
                missed = np.prod([1 - strength.get(shown.findings[c], 0.0) for c in columns])
                silent *= 1 - chance[name] * (1 - float(missed))
        return 1 - silent
    faults = {fault.finding: fault for fault in ask(row["base"], row["change"]).faults}
    if kind == "finding":
        return faults[row["findings"][0]].after
    return max(faults[name].after - faults[name].before for name in row["findings"])


@dataclass(frozen=True)
class Beside:
    """A published figure and the model's, with the factor between them (1 inside the range)."""

    row: dict[str, Any]
    model: float

    @property
    def factor(self) -> float:
        """Return how far outside the published range the model stands."""
        low, high, value = self.row["low"], self.row["high"], max(self.model, 1e-6)
        return max(1.0, low / value, value / max(high, 1e-6))


@cache
def beside() -> tuple[Beside, ...]:
    """Return every figure beside the model's."""
    return tuple(Beside(row, model(row)) for row in rows())


def table() -> str:
    """Return the table of the page."""
    lines = [
        "| published | source | range | range from | model | factor | explanation |",
        "|---|---|---|---|---|---|---|",
    ]
    for item in beside():
        row = item.row
        span = f"{100 * row['low']:.0f}-{100 * row['high']:.0f} %"
        source = "95 % interval" if "count" in row else "judgement"
        why = " ".join(row.get("why", "at the edge of the range").split())
        why = "inside the range" if item.factor == 1.0 else why
        lines.append(
            f"| {row['figure']} | {row['source']} | {span} | {source} | {100 * item.model:.1f} %"
            f" | {item.factor:.2f} | {why} |"
        )
    return "\n".join(lines)


def with_table(page: str) -> str:
    """Return the page with the table as it is now."""
    head, rest = page.split(BEGIN, 1)
    tail = rest.split(END, 1)[1]
    return f"{head}{BEGIN}\n\n{table()}\n\n{END}{tail}"


if __name__ == "__main__":
    if "--write" in sys.argv:
        PAGE.write_text(with_table(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
    print(table())
