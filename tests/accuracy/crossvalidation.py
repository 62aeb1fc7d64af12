"""Cross-validation on the real cases: two numbers fitted on four fifths, tried on the fifth.

Run: python -m tests.accuracy.crossvalidation

Nothing in the knowledge was fitted by a program, so that there is no fit to leave a fifth out of.
What can be fitted with so few cases is one number for all priors and one for all links, and that is
done here five times, each time without a fifth: how far priors lie apart (their log-odds times a
factor about their middle) and how much weak links count (all strengths to a power). If what is
shipped were bent to these cases in these two respects, it would do clearly better than values that
were fitted without the fifth they are tried on. And noise on every number at once shows how much of
the score hangs on exact values.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from tests.accuracy.scoring import place_of, wilson
from tests.accuracy.whole import Run, diagnostician, run_all

from trubshoot.diagnosis.diagnose import best_first
from trubshoot.diagnosis.network import Base, FindingState, make_case
from trubshoot.diagnosis.noisy_or import Network, Vector, rank

SPREADS = (0.6, 0.8, 1.0, 1.2)  # factor on the log-odds of priors, about their median
POWERS = (0.7, 0.85, 1.0, 1.2, 1.4)  # of strengths: above 1 weak links count less
SHIPPED = (1.0, 1.0)
NOISE = 0.5  # standard deviation of the log-odds
DRAWS = 30
RANDOM_STATE = 20260105


@dataclass(frozen=True)
class Told:
    """A scored case with its evidence worked out, ready to be ranked again."""

    id: str
    states: tuple[FindingState, ...]
    contexts: tuple[str, ...]
    out: frozenset[str]
    accept: tuple[str, ...]

    @classmethod
    def of(cls, run: Run) -> Told:
        """Return the evidence of a run of the whole product."""
        diagnosis = run.diagnosis
        return cls(
            run.id,
            diagnosis.findings,
            tuple(item.id for item in diagnosis.contexts),
            frozenset(item.id for item in diagnosis.ruled_out),
            tuple(run.answer["accept"]),
        )


@cache
def cases() -> tuple[Told, ...]:
    """Return the scored cases, log and words read once."""
    return tuple(Told.of(run) for run in run_all() if run.scored)


def place(base: Base, case: Told) -> int:
    """Return the place of the right cause."""
    problem = make_case(base, case.states, case.contexts, case.out)
    order = best_first(rank(problem.network, problem.told), problem.base_prior)
    return place_of([problem.causes[row] for row in order], case.accept)


def changed(base: Base, spread: float, power: float) -> Base:
    """Return the network with all priors drawn apart or together, and all strengths to a power."""
    network = base.network
    odds = np.log(network.prior / (1 - network.prior))
    middle = np.median(odds)
    prior = 1 / (1 + np.exp(-(middle + spread * (odds - middle))))
    return replace(base, network=Network(prior, network.strength**power, network.leak))


def fifths(items: Sequence[Told]) -> list[list[Told]]:
    """Return the cases dealt into five parts by their order."""
    return [list(items[start::5]) for start in range(5)]


def best(places: dict[tuple[float, float], dict[str, int]], names: set[str]) -> tuple[float, float]:
    """Return the values with most first places, then most in the first three, then the shipped."""

    def goodness(values: tuple[float, float]) -> tuple[int, int, float]:
        found = [places[values][name] for name in names]
        far = sum(abs(np.log(value)) for value in values)
        return sum(at < 1 for at in found), sum(at < 3 for at in found), -far

    return max(places, key=goodness)


def noisy(base: Base, size: float, chance: np.random.Generator) -> Base:
    """Return the network with normal noise on the log-odds of every number."""

    def moved(values: Vector) -> Vector:
        out = np.zeros_like(values)
        there = values > 0
        odds = np.log(values[there] / (1 - values[there]))
        out[there] = 1 / (1 + np.exp(-(odds + chance.normal(0, size, odds.size))))
        return out

    network = base.network
    return replace(
        base,
        network=Network(moved(network.prior), moved(network.strength), moved(network.leak)),
    )


def held_out(base: Base, told: Sequence[Told]) -> list[tuple[tuple[float, float], list[int]]]:
    """Return for each fifth the values fitted without it and the places with them."""
    places = {
        (spread, power): {case.id: place(changed(base, spread, power), case) for case in told}
        for spread in SPREADS
        for power in POWERS
    }
    found = []
    for fifth in fifths(told):
        left = {case.id for case in fifth}
        values = best(places, {case.id for case in told} - left)
        found.append((values, [places[values][case.id] for case in fifth]))
    return found


def share(places: Sequence[int], within: int) -> str:
    """Return hits, count, per cent and interval."""
    hits, count = sum(at < within for at in places), len(places)
    low, high = wilson(hits, count)
    return f"{hits}/{count} = {hits / count:.1%} ({low:.0%}-{high:.0%})"


def main() -> None:
    """Print the figures."""
    base, told = Base.of(diagnostician().knowledge), cases()
    shipped = [[place(base, case) for case in fifth] for fifth in fifths(told)]
    print(f"{len(told)} scored cases in five parts; log and words in, answer out")
    parts = held_out(base, told)
    for number, (own, (values, found)) in enumerate(zip(shipped, parts, strict=True), 1):
        print(
            f"  part {number}: as shipped top-1 {sum(at < 1 for at in own)}/{len(own)}, "
            f"top-3 {sum(at < 3 for at in own)}/{len(own)}; fitted without it (priors x "
            f"{values[0]:g}, links ^ {values[1]:g}) top-1 {sum(at < 1 for at in found)}, "
            f"top-3 {sum(at < 3 for at in found)}"
        )
    for name, rows in (("as shipped", shipped), ("left out", [found for _, found in parts])):
        flat = [at for row in rows for at in row]
        print(f"  {name}: top-1 {share(flat, 1)}  top-3 {share(flat, 3)}")
    chance = np.random.default_rng(RANDOM_STATE)
    drawn = []
    for _ in range(DRAWS):
        other = noisy(base, NOISE, chance)
        drawn.append([place(other, case) for case in told])
    for within in (1, 3):
        mean = np.mean([[at < within for at in row] for row in drawn])
        print(f"  noise of {NOISE} on all log-odds, {DRAWS} draws: top-{within} {mean:.1%}")


if __name__ == "__main__":
    main()
