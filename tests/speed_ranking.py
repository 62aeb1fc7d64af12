"""How fast the exact ranking is beside a general library and beside trying out all sets of causes.

A part of `python -m tests.speed`. All three get the same network and must give the same numbers.
Times are those of the processor.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import numpy as np

from trubshoot.diagnosis.network import Case
from trubshoot.diagnosis.noisy_or import Network, Told, rank

SAME = 1e-9
BRUTE = (8, 12, 16, 18)  # causes whose sets are tried out: 2 to the power of this
QUERIES = 10  # the library's time for one cause is the mean over these


def seconds(work: Callable[[], object], repeat: int) -> float:
    """Return the mean time of the processor for a call [s], after one that does not count."""
    work()
    start = time.process_time()
    for _ in range(repeat):
        work()
    return (time.process_time() - start) / repeat


def beside_the_library(case: Case) -> Iterator[str]:
    """Yield the lines on pgmpy, which gets the whole case and gives posteriors only."""
    from tests.diagnosis.library import asker, in_chains

    try:
        model, evidence, linked = in_chains(case.network, case.told)
    except ImportError:
        yield "  pgmpy is not installed here: left out"
        return
    ours = seconds(lambda: rank(case.network, case.told), 50)
    chance = asker(model, evidence)
    right = rank(case.network, case.told).posterior
    worst = max(abs(chance(f"c{i}") - right[i]) for i in linked)
    asked = linked[:QUERIES]
    one = seconds(lambda: [chance(f"c{i}") for i in asked], 1) / len(asked)
    whole = one * len(linked)
    told, absent = len(case.told.findings), len(case.told.absent)
    yield f"  the case: {told} findings told, {absent} absent, {len(linked)} causes linked to them"
    for what, took in (
        ("ours, every posterior and responsibility", ours),
        ("pgmpy, the posterior of one cause", one),
        ("pgmpy, that of every linked cause", whole),
    ):
        yield f"  {what:<42} {took * 1000:10.2f} ms {took / ours:8.1f} x"
    yield f"  {'largest difference of a posterior':<42} {worst:10.0e}{same(worst)}"


def same(worst: float) -> str:
    """Return a remark where two answers differ by more than rounding."""
    return "" if worst < SAME else "  THE NUMBERS DIFFER"


def over_all_sets(network: Network, told: Told) -> np.ndarray:
    """Return every posterior by trying out all sets of causes."""
    count = len(network.prior)
    sets = (np.arange(1 << count)[:, None] >> np.arange(count)) & 1 == 1
    weight = np.prod(np.where(sets, network.prior, 1 - network.prior), axis=1)
    silent = np.log1p(-network.strength)

    def off(finding: int) -> np.ndarray:
        return np.asarray((1 - network.leak[finding]) * np.exp(sets @ silent[:, finding]))

    for finding in told.absent:
        weight = weight * off(finding)
    for finding, low, high in zip(told.findings, told.if_not_so, told.if_so, strict=True):
        weight = weight * (low * off(finding) + high * (1 - off(finding)))
    return np.asarray(weight @ sets / weight.sum())


def beside_all_sets(case: Case) -> Iterator[str]:
    """Yield the lines on brute force, over the first few causes that are linked to the case."""
    asked = [*case.told.findings, *case.told.absent]
    linked = np.flatnonzero(case.network.strength[:, asked].any(axis=1))
    for count in BRUTE:
        kept = linked[:count]
        if len(kept) < count:
            break
        few = Network(case.network.prior[kept], case.network.strength[kept], case.network.leak)
        repeat = 50 if count < 12 else 3
        ours = seconds(lambda few=few: rank(few, case.told), 50)
        brute = seconds(lambda few=few: over_all_sets(few, case.told), repeat)
        worst = float(np.abs(over_all_sets(few, case.told) - rank(few, case.told).posterior).max())
        yield (
            f"  {count:>3} causes {brute * 1000:>34.2f} ms {brute / ours:8.1f} x"
            f"   difference {worst:.0e}{same(worst)}"
        )
