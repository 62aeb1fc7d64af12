"""Try the bottling check and the rules of thumb on invented batches with known truth.

    python -m tests.simulation.campaign --batches 200000 --processes 2
    python -m tests.simulation.campaign --batches 20000 --only rules

Prints Markdown tables; progress goes to the error output.
"""

from __future__ import annotations

import argparse
import math
import multiprocessing
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field

from tests.simulation import product
from tests.simulation.brewery import CHUNK, SimulatedBatch, brew_chunk
from tests.simulation.labels import TESTS
from tests.simulation.logbook import LogDict
from tests.simulation.rules_of_thumb import GO, RULES

PRODUCT = "trubshoot"
DRAWERS = {
    "shown": "the log shows it",
    "lacks": "the log lacks data",
    "scatter": "only the scatter of its readings hid it",
    "hidden": "nothing in the log could have shown it",
}
# groups of batches in which GO is wanted
WANTED: dict[str, Callable[[SimulatedBatch], bool]] = {
    "finished, 3+ good readings over 6+ days": lambda b: b.finished and b.logged_well,
    "... and everything written that the batch file asks for": (
        lambda b: b.finished and b.logged_fully
    ),
    "... and sugar, bottles and storage suit each other": (
        lambda b: b.finished and b.logged_fully and b.plan_fits
    ),
    "... and a forced ferment test": (
        lambda b: b.finished and b.logged_fully and b.plan_fits and _forced(b.log)
    ),
    "... or three of the readings, over 6+ days, are good ones of the ended beer": (
        lambda b: b.finished and b.logged_fully and b.plan_fits and b.read_at_end
    ),
}
Z95 = 1.959964
_PROGRESS_S = 5.0


@dataclass
class Tally:
    """Counts of one campaign; small, whatever the number of batches."""

    batches: int = 0
    facts: Counter[str] = field(default_factory=Counter)
    groups: Counter[str] = field(default_factory=Counter)  # size of each group
    go: Counter[tuple[str, str]] = field(default_factory=Counter)  # (method, group)
    false_go: list[tuple[str, int, str]] = field(default_factory=list)  # method, number, causes

    def add(self, other: Tally) -> None:
        """Add the counts of another part of the campaign."""
        self.batches += other.batches
        self.facts.update(other.facts)
        self.groups.update(other.groups)
        self.go.update(other.go)
        self.false_go = (self.false_go + other.false_go)[:200]

    def count(self, batch: SimulatedBatch, methods: dict[str, Callable[[LogDict], str]]) -> None:
        """Count one batch."""
        self.batches += 1
        groups = _groups(batch)
        self.groups.update(groups)
        self.facts.update(_facts(batch))
        for name, judge in methods.items():
            if judge(batch.log) != GO:
                continue
            self.go.update((name, group) for group in groups)
            if name == PRODUCT and batch.drawer in ("shown", "lacks", "scatter"):
                self.false_go.append((batch.drawer, batch.number, _story(batch)))


def wilson(hits: int, of: int) -> tuple[float, float]:
    """Return the Wilson 95 % interval of a share (Wilson 1927, from memory)."""
    if of == 0:
        return 0.0, 1.0
    share, z2 = hits / of, Z95**2
    middle = share + z2 / (2 * of)
    half = Z95 * math.sqrt(share * (1 - share) / of + z2 / (4 * of**2))
    low, high = (middle - half) / (1 + z2 / of), (middle + half) / (1 + z2 / of)
    return max(low, 0.0), min(high, 1.0)


def _forced(log: LogDict) -> bool:
    return any(entry.get("of") == "forced test" for entry in log["log"])


def _groups(batch: SimulatedBatch) -> list[str]:
    """Return the groups that a batch belongs to."""
    groups = ["all"]
    if batch.dangerous:
        groups += ["dangerous", f"drawer:{batch.drawer}"]
        if batch.drawer in ("shown", "lacks"):
            groups.append("dangerous:not hidden")
        if batch.dangerous_by_median:
            groups.append("dangerous:median")
        for cause, drawer in batch.causes.items():
            groups.append(f"cause:{cause}")
            if drawer == batch.drawer == "hidden":
                groups.append(f"hidden:{cause}")
    groups += [f"wanted:{name}" for name, test in WANTED.items() if test(batch)]
    return groups


def _facts(batch: SimulatedBatch) -> Iterator[str]:
    if batch.finished:
        yield "truly finished and healthy (at most 1 point to fall, no bottle over its limit)"
    elif not batch.dangerous:
        yield "1-3 points to fall, no bottle over its limit"
    if batch.truth["further_fall"] > 3:
        yield "further fall over 3 points"
    if batch.truth["peak_worst_bar"] > batch.truth["limit_bar"]:
        yield "worst bottle over its planning limit"
    if batch.truth["peak_median_bar"] > batch.truth["limit_bar"]:
        yield "median bottle over its planning limit"


def _story(batch: SimulatedBatch) -> str:
    truth = batch.truth
    causes = ", ".join(f"{name} ({drawer})" for name, drawer in batch.causes.items())
    return (
        f"fall {truth['further_fall']:.1f}, worst {truth['peak_worst_bar']:.1f} of "
        f"{truth['limit_bar']:.1f} bar, CO2 {truth['co2_worst']:.2f}: {causes}"
    )


def methods_of(only: str) -> dict[str, Callable[[LogDict], str]]:
    """Return the methods by name: "all", "rules" or "product"."""
    methods: dict[str, Callable[[LogDict], str]] = {}
    if only in ("all", "product"):
        methods[PRODUCT] = product.verdict
    if only in ("all", "rules"):
        methods.update(RULES)
    return methods


def run_part(task: tuple[int, int, int, str]) -> Tally:
    """Run one chunk: (random state, index of the chunk, batches in it, methods)."""
    random_state, index, count, only = task
    tally, methods = Tally(), methods_of(only)
    for batch in brew_chunk(count, (random_state, index), index * CHUNK):
        tally.count(batch, methods)
    return tally


def run(
    batches: int, random_state: int = 1, processes: int = 1, only: str = "all", quiet: bool = True
) -> Tally:
    """Run a campaign. Memory stays flat: a part leaves only its counts."""
    if only in ("all", "product"):
        product.verdict({"batch": "empty", "log": []})  # fail early, and clearly
    tasks = [
        (random_state, index, min(CHUNK, batches - first), only)
        for index, first in enumerate(range(0, batches, CHUNK))
    ]
    total, start, shown = Tally(), time.monotonic(), 0.0
    for part in _parts(tasks, processes):
        total.add(part)
        if not quiet and time.monotonic() - shown > _PROGRESS_S:
            shown = time.monotonic()
            rate = total.batches / max(time.monotonic() - start, 1e-9)
            left = (batches - total.batches) / rate
            print(
                f"\r{total.batches:,} of {batches:,} batches, {rate:.0f}/s, {left:.0f} s left ",
                end="",
                file=sys.stderr,
                flush=True,
            )
    if not quiet:
        print(file=sys.stderr)
    return total


def _parts(tasks: list[tuple[int, int, int, str]], processes: int) -> Iterable[Tally]:
    if processes <= 1:
        yield from map(run_part, tasks)
        return
    context = multiprocessing.get_context("spawn")
    with context.Pool(processes) as pool:
        yield from pool.imap_unordered(run_part, tasks)


def _share(hits: int, of: int) -> str:
    if of == 0:
        return "none"
    low, high = wilson(hits, of)
    digits = 3 if high < 0.01 else 2 if high < 0.1 else 1
    return (
        f"{hits:,}/{of:,} = {100 * hits / of:.{digits}f} % "
        f"({100 * low:.{digits}f}-{100 * high:.{digits}f})"
    )


def report(total: Tally, only: str) -> str:
    """Return the tables of a campaign in Markdown."""
    names = list(methods_of(only))

    def row(label: str, group: str) -> str:
        cells = [_share(total.go[name, group], total.groups[group]) for name in names]
        return f"| {label} | " + " | ".join(cells) + " |"

    def table(title: str, rows: list[str]) -> list[str]:
        head = f"| {title} | " + " | ".join(names) + " |"
        return ["", head, "|---" * (len(names) + 1) + "|", *rows]

    lines = [f"{total.batches:,} invented decision moments; Wilson 95 % intervals in brackets.", ""]
    lines += [
        f"- {name}: {_share(hits, total.batches)}" for name, hits in total.facts.most_common()
    ]
    lines += table(
        "false GO among dangerous batches",
        [
            *(row(words, f"drawer:{drawer}") for drawer, words in DRAWERS.items()),
            row("shown or lacking data, together", "dangerous:not hidden"),
            row("all dangerous", "dangerous"),
            row("dangerous by the median bottle or the fall", "dangerous:median"),
        ],
    )
    every = [
        f"| {label} | "
        + " | ".join(_share(total.go[name, group], total.batches) for name in names)
        + " |"
        for label, group in (
            ("shown or lacking data", "dangerous:not hidden"),
            ("all dangerous", "dangerous"),
        )
    ]
    lines += table("false GO of all batches", every)
    lines += table("GO where it is wanted", [row(n, f"wanted:{n}") for n in WANTED])
    causes = sorted(group for group in total.groups if group.startswith("cause:"))
    lines += table(
        "GO among dangerous batches with",
        [row(group.removeprefix("cause:").replace("_", " "), group) for group in causes],
    )
    hidden = sorted(group for group in total.groups if group.startswith("hidden:"))
    lines += ["", "What nothing in the log could have shown, and what test would:", ""]
    lines += [
        f"- {group.removeprefix('hidden:').replace('_', ' ')} "
        f"({total.groups[group]:,}): {TESTS.get(group.removeprefix('hidden:'), 'no test known')}"
        for group in hidden
    ]
    if total.false_go:
        lines += ["", "False GO of trubshoot where more than a hidden cause was to blame:", ""]
        lines += [
            f"- batch {number} ({drawer}): {story}"
            for drawer, number, story in sorted(total.false_go)
        ]
    return "\n".join(lines)


def main(arguments: list[str] | None = None) -> int:
    """Run a campaign from the command line."""
    parser = argparse.ArgumentParser(description="Bottling check on invented batches.")
    parser.add_argument("--batches", type=int, default=200_000)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--random-state", type=int, default=1)
    parser.add_argument("--only", choices=("all", "rules", "product"), default="all")
    given = parser.parse_args(arguments)
    try:
        total = run(given.batches, given.random_state, given.processes, given.only, quiet=False)
    except product.NotWired as error:
        print(error, file=sys.stderr)
        return 1
    print(report(total, given.only))
    return 0


if __name__ == "__main__":
    sys.exit(main())
