"""How fast trubshoot is: cold, in-process, beside others, as things grow, and its memory.

Run: python -m tests.speed [EXAMPLE] [--only start|ranking|growth|memory]

Two figures stand side by side: time on the clock, which is what a user waits and which grows when
the machine does other work, and time of the processor, which hardly does. A third says how many
bare starts of the packages the processor's time is: figures from different machines can be laid
side by side by it.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # imported where they are used, since `once` times the imports
    from trubshoot.diagnosis import Diagnostician
    from trubshoot.diagnosis.network import Case

ROOT = Path(__file__).resolve().parents[1]
EXAMPLE = ROOT / "docs" / "examples" / "bottled_too_early.yaml"
NOW = datetime(2026, 11, 25, 12)
COLD_RUNS = 5
WARM_RUNS = 20
BARE = ("-c", "import typer, rich, yaml")


Spent = tuple[float, float]  # [ms]: on the clock, and of the processor


def _used() -> float:
    """Return the processor time of this process and of its ended children [s]."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


def milliseconds(work: Callable[[], object], repeat: int = 1) -> Spent:
    """Return what one call takes [ms], on the clock and of the processor."""
    start, used = time.perf_counter(), _used()
    for _ in range(repeat):
        work()
    return (
        (time.perf_counter() - start) * 1000 / repeat,
        (_used() - used) * 1000 / repeat,
    )


def median_of(count: int, work: Callable[[], object]) -> Spent:
    """Return the medians of several calls [ms]."""
    return medians([milliseconds(work) for _ in range(count)])


def medians(spent: list[Spent]) -> Spent:
    """Return the median of each of the two figures."""
    return (
        statistics.median(clock for clock, _ in spent),
        statistics.median(processor for _, processor in spent),
    )


def warm(work: Callable[[], object]) -> Spent:
    """Return what one call takes after loading [ms].

    The clock's figure is the median of single calls; the processor's, whose clock ticks in
    hundredths of a second, is the mean over all of them.
    """
    clock, _ = median_of(WARM_RUNS, work)
    _, processor = milliseconds(work, repeat=WARM_RUNS)
    return clock, processor


def _child(arguments: tuple[str, ...], cache: str) -> Callable[[], bytes]:
    """Return a call that starts a fresh interpreter and waits for its end."""
    environment = {**os.environ, "XDG_CACHE_HOME": cache}

    def run() -> bytes:
        ended = subprocess.run(
            [sys.executable, *arguments],
            env=environment,
            cwd=ROOT,
            capture_output=True,
            check=False,
        )
        assert ended.returncode in (0, 3), ended.stderr.decode()
        return ended.stdout

    return run


def once(example: Path) -> dict[str, Spent]:
    """Return what a fresh process pays one time [ms]; call it in a fresh process only."""
    parts: dict[str, Spent] = {}
    start, used = time.perf_counter(), time.process_time()

    def done(name: str) -> None:
        nonlocal start, used
        parts[name] = (
            (time.perf_counter() - start) * 1000,
            (time.process_time() - used) * 1000,
        )
        start, used = time.perf_counter(), time.process_time()

    import rich.console
    import typer  # noqa: F401 - what the command imports, to time it

    from trubshoot.batch import read_batch
    from trubshoot.cli import app  # noqa: F401
    from trubshoot.diagnosis import Diagnostician
    from trubshoot.knowledge_base import load_knowledge
    from trubshoot.report import terminal

    done("import")
    knowledge = load_knowledge()
    done("knowledge, parsed before")
    work = Diagnostician(knowledge)
    done("rules made ready in both engines")
    diagnosis = work.diagnose(read_batch(example, NOW), NOW)
    done("first diagnosis")
    labels = {key: finding.label for key, finding in knowledge.findings.items()}
    screen = rich.console.Console(file=io.StringIO(), width=80)
    terminal.print_diagnosis(screen, diagnosis, labels, "us", why=False)
    done("first rendering as text")
    return parts


def case_of(example: Path) -> tuple[Diagnostician, Case]:
    """Return what diagnoses, loaded, and the network of one example with what it tells."""
    from trubshoot.batch import read_batch
    from trubshoot.diagnosis import Diagnostician
    from trubshoot.diagnosis.network import make_case
    from trubshoot.knowledge_base import load_knowledge

    work = Diagnostician(load_knowledge())
    diagnosis = work.diagnose(read_batch(example, NOW), NOW)
    contexts = [context.id for context in diagnosis.contexts]
    ruled_out = {cause.id for cause in diagnosis.ruled_out}
    return work, make_case(work.base, diagnosis.findings, contexts, ruled_out)


def repeated(example: Path, work: Diagnostician, case: Case) -> dict[str, Spent]:
    """Return the parts of one diagnosis after loading, median of many [ms]."""
    from rich.console import Console

    from trubshoot.batch import read_batch
    from trubshoot.diagnosis.noisy_or import rank
    from trubshoot.evidence import collect
    from trubshoot.report.terminal import print_diagnosis
    from trubshoot.rules import Fact

    knowledge = work.knowledge
    batch = read_batch(example, NOW)
    diagnosis = work.diagnose(batch, NOW)
    evidence = collect(batch, knowledge, lambda: work.lexicon, NOW)
    facts = {name: Fact.of(value) for name, value in evidence.facts.items()}
    labels = {key: finding.label for key, finding in knowledge.findings.items()}

    def render() -> None:
        print_diagnosis(Console(file=io.StringIO(), width=80), diagnosis, labels, "us", why=False)

    def whole() -> None:
        work.diagnose(read_batch(example, NOW), NOW)

    steps: dict[str, Callable[[], object]] = {
        "reading the batch file": lambda: read_batch(example, NOW),
        "evidence": lambda: collect(batch, knowledge, lambda: work.lexicon, NOW),
        "rules in both engines": lambda: work.reasoner.run(facts),
        "ranking": lambda: rank(case.network, case.told),
        "rendering as text": render,
        "whole: read and diagnose": whole,
    }
    return {name: warm(step) for name, step in steps.items()}


def line(name: str, spent: Spent, bare: float) -> None:
    """Print one line of figures; `bare` is the processor's time for a bare start [ms]."""
    print(f"{name:<44} {spent[0]:9.1f} ms {spent[1]:8.1f} ms {spent[1] / bare:8.2f} x", flush=True)


def start_and_parts(example: Path, cache: str, work: Diagnostician, case: Case) -> None:
    """Print what a start takes, what it is spent on, and what a diagnosis takes after it."""
    diagnose = _child(_diagnose(example), cache)
    first = milliseconds(diagnose)
    bare = median_of(COLD_RUNS, _child(BARE, cache))
    cold = median_of(COLD_RUNS, diagnose)
    child = _child(("-m", "tests.speed", "--once", str(example)), cache)
    parts = [json.loads(child()) for _ in range(COLD_RUNS)]
    print(f"{example.name:<44} on the clock   processor  bare starts")
    line(f"bare start of typer, rich, yaml (of {COLD_RUNS})", bare, bare[1])
    line(f"diagnose from cold (of {COLD_RUNS})", cold, bare[1])
    line("  the very first time, cache empty", first, bare[1])
    print(f"once in a process (of {COLD_RUNS})")
    for name in parts[0]:
        line(f"  {name}", medians([part[name] for part in parts]), bare[1])
    print(f"each diagnosis after that (of {WARM_RUNS})")
    for name, spent in repeated(example, work, case).items():
        line(f"  {name}", spent, bare[1])


def _diagnose(example: Path) -> tuple[str, ...]:
    return ("-m", "trubshoot", "diagnose", str(example), "--at", f"{NOW:%Y-%m-%d}")


def growth(work: Diagnostician) -> None:
    """Print how time grows with each of four things; the ratios are to the first line of each."""
    from tests import speed_growth

    section("exact ranking, by findings told as present", speed_growth.positives(work))
    section("exact ranking of 6 findings, by causes", speed_growth.causes())
    section("reading and diagnosing a log, by its readings", speed_growth.readings(work, NOW))
    section("`trubshoot cellar` over a folder, by its files", speed_growth.batches())


def peak_memory(example: Path, cache: str) -> None:
    """Print the largest memory of some commands, beside that of a bare start."""
    from tests import speed_growth

    report = ("report", str(example), "-o", str(Path(cache) / "report.html"))
    commands = {
        "bare start of typer, rich, yaml": BARE,
        "diagnose": _diagnose(example),
        "diagnose --why": (*_diagnose(example), "--why"),
        "bottling": ("-m", "trubshoot", "bottling", str(example), "--at", f"{NOW:%Y-%m-%d}"),
        "report": ("-m", "trubshoot", *report, "--at", f"{NOW:%Y-%m-%d}"),
        "knowledge check": ("-m", "trubshoot", "knowledge", "check"),
    }
    section("largest memory of a process", speed_growth.memory(commands, cache))


def section(title: str, lines: Iterable[str]) -> None:
    """Print a title and, as they come, the lines below it."""
    print(title, flush=True)
    for text in lines:
        print(text, flush=True)


def main() -> None:
    """Print all figures, or those of one part."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("example", nargs="?", type=Path, default=EXAMPLE)
    parser.add_argument("--only", choices=("start", "ranking", "growth", "memory"))
    parser.add_argument("--once", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the command line does
    if asked.once:
        print(json.dumps(once(asked.example)))
        return
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    print(f"Python {sys.version.split()[0]}, {os.cpu_count()} cores, load {load:.1f}", flush=True)

    def wanted(part: str) -> bool:
        return asked.only in (None, part)

    with tempfile.TemporaryDirectory() as cache, tempfile.TemporaryDirectory() as own:
        os.environ["XDG_CACHE_HOME"] = own  # the user's is not touched, the other one still empty
        work, case = case_of(asked.example)
        if wanted("start"):
            start_and_parts(asked.example, cache, work, case)
        if wanted("ranking"):
            from tests import speed_ranking

            section("exact ranking beside pgmpy", speed_ranking.beside_the_library(case))
            section("exact ranking beside all sets", speed_ranking.beside_all_sets(case))
        if wanted("growth"):
            growth(work)
        if wanted("memory"):
            peak_memory(asked.example, cache)


if __name__ == "__main__":
    main()
