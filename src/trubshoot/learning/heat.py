"""The map of steps and faults: the chance that the causes of a step make a fault.

The numbers are those of the model run forward for a beginner's batch; rows and columns may be
chosen, and are put in an order in which neighbours belong together.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.learning.forward import Forecast, fault_names
from trubshoot.learning.lookup import Named


@dataclass(frozen=True)
class HeatRow:
    """One fault of the map."""

    fault: Named
    term: str
    chance: float  # it is noticed, whatever makes it
    by_step: tuple[float, ...]  # chance that a cause of the step makes it, in the order of `steps`


@dataclass(frozen=True)
class Heat:
    """Faults (rows) by steps (columns)."""

    steps: tuple[Named, ...]
    rows: tuple[HeatRow, ...]
    left_out: int  # faults not shown

    def chance(self, step: str, fault: str) -> float:
        """Return one chance. Raises ValueError for what the map does not hold."""
        column = [one.id for one in self.steps].index(step)
        row = [one.fault.id for one in self.rows].index(fault)
        return self.rows[row].by_step[column]


def heat(
    knowledge: KnowledgeBase,
    shown: Forecast,
    top: int | None = None,
    steps: Collection[str] = (),
    faults: Collection[str] = (),
) -> Heat:
    """Return the map.

    Args:
        knowledge: steps, findings.
        shown: a forecast that holds all faults.
        top: the number of faults, those with the highest chance by the steps shown; None: all.
        steps: ids of the steps shown; all that make any fault when left out.
        faults: ids of the findings shown; all faults when left out.

    Faults stand in the order of the step that makes them most, so that each step has its own block.
    """
    wanted = tuple(faults) or fault_names(knowledge)
    columns = [shown.findings.index(name) for name in wanted]
    rows = [
        number
        for number, name in enumerate(shown.steps)
        if (name in steps if steps else bool((shown.made_by_step[number, columns] > 0).any()))
    ]
    table = shown.made_by_step[rows][:, columns]
    strongest = {name: float(table[:, place].max()) for place, name in enumerate(wanted)}
    kept = [name for name in sorted(wanted, key=lambda name: -strongest[name])]
    if not faults:
        kept = [name for name in kept if strongest[name] > 0]
    of_all = len(kept)
    kept = kept[:top]
    place = {name: number for number, name in enumerate(wanted)}
    kept.sort(key=lambda name: (int(table[:, place[name]].argmax()), -strongest[name]))
    return Heat(
        tuple(
            Named("step", shown.steps[row], knowledge.steps[shown.steps[row]].label) for row in rows
        ),
        tuple(
            HeatRow(
                Named("finding", name, knowledge.findings[name].label),
                knowledge.findings[name].term,
                float(shown.finding_chance[columns[place[name]]]),
                tuple(float(value) for value in table[:, place[name]]),
            )
            for name in kept
        ),
        of_all - len(kept),
    )
