"""The network of a case in pgmpy, a general-purpose library for Bayesian networks (tests only)."""

from __future__ import annotations

import itertools
import warnings
from collections.abc import Callable
from functools import cache
from types import SimpleNamespace
from typing import Any

import numpy as np

from trubshoot.diagnosis.noisy_or import Network, Told


@cache
def pgmpy() -> Any:
    """Return what is used of the library; raises ImportError where it is not installed."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pgmpy.factors.discrete import TabularCPD
        from pgmpy.inference import VariableElimination
        from pgmpy.models import DiscreteBayesianNetwork
    return SimpleNamespace(
        table=TabularCPD, infer=VariableElimination, network=DiscreteBayesianNetwork
    )


def _or_table(lib: Any, name: str, parents: list[str]) -> Any:
    combinations = list(itertools.product((0, 1), repeat=len(parents)))
    off = [0.0 if any(bits) else 1.0 for bits in combinations]
    return lib.table(name, 2, [off, [1 - value for value in off]], parents, [2] * len(parents))


def _made(edges: list[tuple[str, str]], nodes: list[str], tables: list[Any]) -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = pgmpy().network(edges)
        model.add_nodes_from(nodes)
        model.add_cpds(*tables)
        assert model.check_model()
    return model


def with_links(network: Network, told: Told) -> tuple[Any, dict[str, int]]:
    """Return the network with each link a node of its own, and the evidence; for a few links.

    Besides `c0`, `c1`... for the causes it has `made0`... (this cause made a finding that was told)
    and `made` (any cause did).
    """
    lib = pgmpy()
    edges: list[tuple[str, str]] = []
    tables: list[Any] = []
    evidence: dict[str, int] = {}
    for i, prior in enumerate(network.prior):
        tables.append(lib.table(f"c{i}", 2, [[1 - prior], [prior]]))
    made: dict[int, list[str]] = {i: [] for i in range(len(network.prior))}
    up = {told.findings[position] for position in told.up}
    for j in (*told.findings, *told.absent):
        leak = network.leak[j]
        tables.append(lib.table(f"leak{j}", 2, [[1 - leak], [leak]]))
        parents = [f"leak{j}"]
        for i in np.flatnonzero(network.strength[:, j]):
            q = network.strength[i, j]
            name = f"link{i}_{j}"
            tables.append(lib.table(name, 2, [[1, 1 - q], [0, q]], [f"c{i}"], [2]))
            edges.append((f"c{i}", name))
            parents.append(name)
            if j in up:
                made[int(i)].append(name)
        edges += [(parent, f"f{j}") for parent in parents]
        tables.append(_or_table(lib, f"f{j}", parents))
    for j in told.absent:
        evidence[f"f{j}"] = 0
    for j, low, high in zip(told.findings, told.if_not_so, told.if_so, strict=True):
        edges.append((f"f{j}", f"told{j}"))
        tables.append(lib.table(f"told{j}", 2, [[1 - low, 1 - high], [low, high]], [f"f{j}"], [2]))
        evidence[f"told{j}"] = 1
    for i, names in made.items():
        if names:
            edges += [(name, f"made{i}") for name in names]
            tables.append(_or_table(lib, f"made{i}", names))
    makers = [f"made{i}" for i, names in made.items() if names]
    if makers:
        edges += [(name, "made") for name in makers]
        tables.append(_or_table(lib, "made", makers))
    return _made(edges, [f"c{i}" for i in made], tables), evidence


def in_chains(network: Network, told: Told) -> tuple[Any, dict[str, int], list[int]]:
    """Return the network of a whole case, the evidence, and the causes in it.

    A finding with twenty causes would be a table of two million numbers. So each finding is a
    chain: on by its leak, then by one cause after the other; its nodes have two parents each.
    Causes that are linked to nothing told keep their priors and are left out, and so are all
    findings that were not told, which is exact.
    """
    lib = pgmpy()
    edges: list[tuple[str, str]] = []
    evidence: dict[str, int] = {}
    asked = [*told.findings, *told.absent]
    linked = [int(i) for i in np.flatnonzero(network.strength[:, asked].any(axis=1))]
    tables = [lib.table(f"c{i}", 2, [[1 - network.prior[i]], [network.prior[i]]]) for i in linked]
    for j in asked:
        last = f"f{j}"
        tables.append(lib.table(last, 2, [[1 - network.leak[j]], [network.leak[j]]]))
        for i in np.flatnonzero(network.strength[:, j]):
            q, name = network.strength[i, j], f"f{j}_{i}"
            table = [[1, 1 - q, 0, 0], [0, q, 1, 1]]
            tables.append(lib.table(name, 2, table, [last, f"c{i}"], [2, 2]))
            edges += [(last, name), (f"c{i}", name)]
            last = name
        if j in told.absent:
            evidence[last] = 0
            continue
        place = told.findings.index(j)
        low, high = told.if_not_so[place], told.if_so[place]
        edges.append((last, f"told{j}"))
        tables.append(lib.table(f"told{j}", 2, [[1 - low, 1 - high], [low, high]], [last], [2]))
        evidence[f"told{j}"] = 1
    return _made(edges, [f"c{i}" for i in linked], tables), evidence, linked


def asker(model: Any, evidence: dict[str, int]) -> Callable[[str], float]:
    """Return a function that gives the chance of a node by variable elimination."""
    infer = pgmpy().infer(model)

    def chance(name: str) -> float:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return float(infer.query([name], evidence=evidence, show_progress=False).values[1])

    return chance
