"""How fast a diagnosis is: cold from the command line, in-process, and where the time goes.

Run: python -m tests.speed [EXAMPLE]
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
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
EXAMPLE = ROOT / "docs" / "examples" / "bottled_too_early.yaml"
NOW = datetime(2026, 11, 25, 12)
COLD_RUNS = 5
WARM_RUNS = 20
BARE = ("-c", "import typer, rich, yaml")


def milliseconds(work: Callable[[], object]) -> float:
    """Return how long one call takes [ms]."""
    start = time.perf_counter()
    work()
    return (time.perf_counter() - start) * 1000


def median_of(count: int, work: Callable[[], object]) -> float:
    """Return the median of several calls [ms]."""
    return statistics.median(milliseconds(work) for _ in range(count))


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


def once(example: Path) -> dict[str, float]:
    """Return what a fresh process pays one time [ms]; call it in a fresh process only."""
    parts: dict[str, float] = {}
    start = time.perf_counter()
    import rich.console  # noqa: F401 - what the command imports, to time it
    import typer  # noqa: F401

    from trubshoot.batch import read_batch
    from trubshoot.cli import app  # noqa: F401
    from trubshoot.diagnosis import Diagnostician
    from trubshoot.knowledge_base import load_knowledge
    from trubshoot.report import terminal  # noqa: F401

    parts["import"] = (time.perf_counter() - start) * 1000
    start = time.perf_counter()
    knowledge = load_knowledge()
    parts["knowledge (cached parse)"] = (time.perf_counter() - start) * 1000
    start = time.perf_counter()
    work = Diagnostician(knowledge)
    parts["rules made ready in both engines"] = (time.perf_counter() - start) * 1000
    start = time.perf_counter()
    work.diagnose(read_batch(example, NOW), NOW)
    parts["first diagnosis"] = (time.perf_counter() - start) * 1000
    return parts


def repeated(example: Path) -> dict[str, float]:
    """Return the parts of one diagnosis after loading, median of many [ms]."""
    from rich.console import Console

    from trubshoot.batch import read_batch
    from trubshoot.diagnosis import Diagnostician
    from trubshoot.diagnosis.network import make_case
    from trubshoot.diagnosis.noisy_or import rank
    from trubshoot.evidence import collect
    from trubshoot.knowledge_base import load_knowledge
    from trubshoot.report.terminal import print_diagnosis
    from trubshoot.rules import Fact

    knowledge = load_knowledge()
    work = Diagnostician(knowledge)
    batch = read_batch(example, NOW)
    diagnosis = work.diagnose(batch, NOW)
    evidence = collect(batch, knowledge, lambda: work.lexicon, NOW)
    facts = {name: Fact.of(value) for name, value in evidence.facts.items()}
    case = make_case(
        work.base,
        diagnosis.findings,
        [context.id for context in diagnosis.contexts],
        {cause.id for cause in diagnosis.ruled_out},
    )
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
        "WHOLE: read and diagnose": whole,
    }
    return {name: median_of(WARM_RUNS, step) for name, step in steps.items()}


def main() -> None:
    """Print all figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("example", nargs="?", type=Path, default=EXAMPLE)
    parser.add_argument("--once", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.once:
        print(json.dumps(once(asked.example)))
        return
    with tempfile.TemporaryDirectory() as cache:
        diagnose = _child(
            ("-m", "trubshoot", "diagnose", str(asked.example), "--at", f"{NOW:%Y-%m-%d}"), cache
        )
        first = milliseconds(diagnose)
        bare = median_of(COLD_RUNS, _child(BARE, cache))
        cold = median_of(COLD_RUNS, diagnose)
        child = _child(("-m", "tests.speed", "--once", str(asked.example)), cache)
        parts = [json.loads(child()) for _ in range(COLD_RUNS)]
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    print(f"Python {sys.version.split()[0]}, {os.cpu_count()} cores, load {load:.1f}")
    print(f"example {asked.example.name}")
    print(f"bare start of typer, rich, yaml (median of {COLD_RUNS})   {bare:7.0f} ms")
    print(f"diagnose from cold (median of {COLD_RUNS})                {cold:7.0f} ms")
    print(f"  as a multiple of the bare start                {cold / bare:7.1f}")
    print(f"  the very first time, cache empty               {first:7.0f} ms")
    print(f"once in a process (median of {COLD_RUNS})")
    for name in parts[0]:
        print(f"  {name:<46} {statistics.median(part[name] for part in parts):7.1f} ms")
    print(f"each diagnosis after that (median of {WARM_RUNS})")
    for name, spent in repeated(asked.example).items():
        print(f"  {name:<46} {spent:7.1f} ms")


if __name__ == "__main__":
    main()
