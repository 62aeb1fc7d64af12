"""An invented brewery: batches with a hidden truth, and the logs that their brewers keep.

Nothing here knows the product: gravity, gas and pressure come from this folder's own formulas
(kinetics.py, sealed_bottle.py), and how often things go wrong from priors.py.

    for batch in brew(1000, random_state=7):
        batch.log      # a batch file as a dict; `plan` is the bottling asked about
        batch.truth    # what would truly happen if it were bottled
        batch.drawer   # "", or for a dangerous batch "shown", "lacks", "scatter" or "hidden"
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from tests.simulation.draws import BOTTLE_NAMES, draw
from tests.simulation.labels import label, scattered
from tests.simulation.logbook import LogDict, write_logs
from tests.simulation.notes import take_notes
from tests.simulation.truth import MOST_BOTTLES, plan_of, truth_of

__all__ = ["CHUNK", "SimulatedBatch", "brew", "brew_chunk"]

CHUNK = 500


@dataclass(frozen=True)
class SimulatedBatch:
    """One decision moment: the log, and the truth behind it.

    truth: figures by name (see truth.Truth); gravities in points, pressures in bar gauge.
    dangerous: the worst bottle would pass its planning limit at the hottest, or the beer would
        fall more than 3 points further. drawer: whether the log could have told (labels.py).
    causes: what is wrong, each with its own drawer; also causes that do no harm this time.
    finished: truly at most 1 point from its end and not dangerous. logged_well: three or more
    good readings over six days, the last within a day; end, yeast class, sugar, volume, bottles
    and storage known. logged_fully: and everything else the batch file asks for. read_at_end:
    three or more of those readings, over six days or more, were taken of the beer at its end,
    with a spread of 0.7 points or less. plan_fits: sugar, bottles and storage suit each other by
    the two tests of physics.md 6.3, at the median bottle, with room for the 95 % bound.
    """

    number: int
    log: LogDict
    truth: dict[str, float]
    bottle: str
    dangerous: bool
    drawer: str
    causes: dict[str, str]
    finished: bool
    logged_well: bool
    logged_fully: bool
    read_at_end: bool
    plan_fits: bool

    @property
    def dangerous_by_median(self) -> bool:
        """Return whether even the median bottle passes its limit, or the beer falls over 3."""
        over = self.truth["peak_median_bar"] > self.truth["limit_bar"]
        return over or self.truth["further_fall"] > 3.0


def brew_chunk(
    count: int, random_state: int | Sequence[int], first: int = 0
) -> list[SimulatedBatch]:
    """Return `count` batches; the same random state gives the same batches."""
    rng = np.random.default_rng(np.random.SeedSequence(random_state))
    drawn = draw(rng, count)
    plan = plan_of(drawn)
    bottle_noise = rng.standard_normal((count, MOST_BOTTLES))
    truth = truth_of(drawn, plan, bottle_noise)
    notes = take_notes(rng, drawn)
    labels = label(drawn, notes, plan, truth, bottle_noise)
    logs = write_logs(rng, drawn, notes, plan, first)
    return [
        SimulatedBatch(
            number=first + i,
            log=logs[i],
            truth=truth.row(i),
            bottle=BOTTLE_NAMES[int(drawn.choice["bottle_true"][i])],
            dangerous=bool(labels.dangerous[i]),
            drawer="scatter" if scattered(labels, i, logs[i]) else labels.drawer[i],
            causes={
                name: labels.cause_drawer[name][i]
                for name, active in labels.causes.items()
                if active[i]
            },
            finished=bool(labels.finished[i]),
            logged_well=bool(labels.logged_well[i]),
            logged_fully=bool(labels.logged_fully[i]),
            read_at_end=bool(labels.read_at_end[i]),
            plan_fits=bool(labels.plan_fits[i]),
        )
        for i in range(count)
    ]


def brew(count: int, random_state: int) -> Iterator[SimulatedBatch]:
    """Yield `count` batches in chunks, so that memory stays flat.

    Chunk k depends on the random state and k alone: a campaign may share chunks among processes.
    """
    for index, first in enumerate(range(0, count, CHUNK)):
        yield from brew_chunk(min(CHUNK, count - first), (random_state, index), first)
