"""Hostile input in bulk: counts what was run, and catches tracebacks, hangs and too much memory.

Run: python -m tests.proof.fuzz --target words --executions 10000
     python -m tests.proof.fuzz --target all --executions 1000000
     python -m tests.proof.fuzz --target batch_bytes --executions 50000 --guided

A finding is any exception that is not one of the project's own errors, a run that takes more of
the processor's time than the target allows, or memory of the process beyond 300 MiB. Each run has a
number, and `--from NUMBER --executions 1` makes its input again. With `--guided` the input is
steered by the branches it reaches; that needs the package atheris, which is not among the tests'
own needs, since it is published for few machines.
"""

from __future__ import annotations

import argparse
import faulthandler
import os
import random
import resource
import sys
import tempfile
import time
import traceback
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
MOST_MIB = 300.0
HANG = 20  # a run over so many times its limit is broken off, with the place where it hangs
SHOWN = 20  # findings printed in full


@dataclass
class Tally:
    """What a campaign against one target did and found."""

    target: str
    executions: int = 0
    outcomes: Counter[str] = field(default_factory=Counter)
    findings: dict[str, str] = field(default_factory=dict)  # kind and place -> one input, its trace
    slowest_s: float = 0.0
    slowest: str = ""  # the input of that run
    seconds: float = 0.0
    peak_mib: float = 0.0

    def note(self, kind: str, number: int, made: Any, trace: str) -> None:
        """Keep one finding of each kind and place."""
        text = f"run {number}: {made!r:.3000}\n{trace}"
        self.findings.setdefault(kind, text)
        self.outcomes["found"] += 1

    def row(self) -> str:
        """Return the line of the table."""
        taken = self.outcomes["taken"] / max(1, self.executions)
        return (
            f"| {self.target} | {self.executions:,} | {taken:.0%} | {self.slowest_s:.2f} s "
            f"| {self.peak_mib:.0f} MiB | {len(self.findings)} |"
        )


HEAD = (
    "| target | executions | taken as good | slowest | memory at most | findings |\n"
    "| --- | --- | --- | --- | --- | --- |"
)


def peak_mib() -> float:
    """Return the most memory that this process ever held [MiB]."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def place_of(error: BaseException) -> str:
    """Return the kind of an exception and the last place in the project's own code."""
    frames = traceback.extract_tb(error.__traceback__)
    source = str(ROOT / "src")
    own = [frame for frame in frames if frame.filename.startswith(source)]
    last = own[-1] if own else frames[-1]
    return f"{type(error).__name__} in {Path(last.filename).name}:{last.name}"


def execute(tally: Tally, number: int, made: Any) -> None:
    """Run one input and write into the tally what became of it."""
    from tests.proof.targets import TARGETS

    target = TARGETS[tally.target]
    start = time.process_time()
    faulthandler.dump_traceback_later(HANG * target.seconds, exit=True)
    try:
        tally.outcomes[target.run(made)] += 1
    except KeyboardInterrupt:
        raise
    except BaseException as error:  # noqa: BLE001 - whatever else comes out is a finding
        tally.note(place_of(error), number, made, traceback.format_exc()[-3000:])
    finally:
        faulthandler.cancel_dump_traceback_later()
    took = time.process_time() - start
    tally.executions += 1
    tally.peak_mib = peak_mib()
    if took > tally.slowest_s:
        tally.slowest_s, tally.slowest = took, f"{made!r:.300}"
    if took > target.seconds:
        tally.note(f"{took:.1f} s where {target.seconds:.0f} s are allowed", number, made, "")
    if tally.peak_mib > MOST_MIB:
        tally.note("more memory than 300 MiB", number, made, f"{tally.peak_mib:.0f} MiB")


def attack(name: str, executions: int, first: int = 0, random_state: int = 1) -> Tally:
    """Run a campaign of random input against one target."""
    from tests.proof.targets import TARGETS

    tally = Tally(name)
    start = time.perf_counter()
    for number in range(first, first + executions):
        made = TARGETS[name].make(random.Random(random_state * 10_000_000_000 + number))
        execute(tally, number, made)
    tally.seconds = time.perf_counter() - start
    return tally


def guided(name: str, executions: int) -> None:
    """Run a campaign steered by coverage; prints its tally and ends the process."""
    import atheris  # type: ignore[import-not-found]

    with atheris.instrument_imports(include=["trubshoot"]):
        from tests.proof.targets import TARGETS
    from tests.proof.choices import FromBytes

    tally = Tally(name)

    def one(raw: bytes) -> None:
        made = TARGETS[name].make(FromBytes(raw))
        execute(tally, tally.executions, made)
        if tally.executions >= executions:
            report([tally])
            sys.stdout.flush()
            os._exit(1 if tally.findings else 0)

    with tempfile.TemporaryDirectory() as corpus:
        settings = ["-max_len=2000", "-verbosity=0", "-detect_leaks=0", corpus]
        atheris.Setup([sys.argv[0], *settings], one)
        atheris.Fuzz()


def report(tallies: list[Tally]) -> None:
    """Print the findings, then the table."""
    for tally in tallies:
        for kind, text in list(tally.findings.items())[:SHOWN]:
            print(f"FOUND by {tally.target}: {kind}\n{text}\n")
    print(HEAD)
    for tally in tallies:
        print(tally.row())
    for tally in tallies:
        each = 1000 * tally.seconds / max(1, tally.executions)
        print(
            f"{tally.target}: {dict(tally.outcomes)}, {each:.2f} ms each; slowest: {tally.slowest}"
        )


def main(arguments: list[str]) -> int:
    """Run a campaign from the command line; returns the exit code, 1 when anything was found."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--target", default="all", help="a target, or all")
    parser.add_argument("--executions", type=int, default=1_000)
    parser.add_argument("--from", dest="first", type=int, default=0, help="number of the first run")
    parser.add_argument("--random-state", type=int, default=1)
    parser.add_argument("--guided", action="store_true", help="steered by coverage (atheris)")
    chosen = parser.parse_args(arguments)
    if chosen.guided:
        guided(chosen.target, chosen.executions)
    from tests.proof.targets import TARGETS

    tallies = []
    for name, target in TARGETS.items():
        if chosen.target not in ("all", name):
            continue
        share = target.weight if chosen.target == "all" else 1.0
        runs = max(1, round(share * chosen.executions))
        tallies.append(attack(name, runs, chosen.first, chosen.random_state))
        print(tallies[-1].row(), file=sys.stderr, flush=True)
    report(tallies)
    print(f"executions: {sum(tally.executions for tally in tallies):,}")
    return 1 if any(tally.findings for tally in tallies) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
