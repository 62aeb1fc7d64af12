"""Many diagnoses in one process: memory stays flat, and equal questions get equal answers.

Run: python -m tests.proof.soak --diagnoses 100000

Real files, in turn: the shipped examples, the logs of the safety tests and the real cases, some
with words beside them. Every file's answer is compared with the first one it got.
"""

from __future__ import annotations

import argparse
import hashlib
import itertools
import os
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
NOW = datetime(2026, 11, 25, 12)
FOLDERS = ("docs/examples", "tests/safety/logs", "tests/real_cases")
NOT_BATCHES = ("answers.yaml",)
WORDS: tuple[tuple[tuple[str, str], ...], ...] = (
    (),
    (("smelled", "green apple"),),
    (("saw", "bottles gush when opened"), ("tasted", "sour")),
    (("tasted", "flurb wibble"), ("no_sign_of", "white film")),
)
WARM_UP = 0.1  # share of the diagnoses after which memory must no longer grow
ALLOWED_MIB = 8.0  # what the rest may add, page granularity and fragmentation included


@dataclass(frozen=True)
class Mark:
    """What was measured after so many diagnoses."""

    diagnoses: int
    seconds: float
    rss_mib: float


def rss_mib() -> float:
    """Return the memory of this process that is in use now [MiB]."""
    pages = int(Path("/proc/self/statm").read_text("ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 2**20


def files() -> list[Path]:
    """Return the batch files that are asked about, in a fixed order."""
    found = [path for folder in FOLDERS for path in sorted((ROOT / folder).glob("*.yaml"))]
    return [path for path in found if path.name not in NOT_BATCHES]


def soak(diagnoses: int, every: int) -> Iterator[Mark]:
    """Diagnose over and over and yield what is measured; any differing answer is an error."""
    from trubshoot.batch import read_batch
    from trubshoot.diagnosis import Diagnostician
    from trubshoot.knowledge_base import load_knowledge
    from trubshoot.report.result_json import diagnosis_json, to_text

    work = Diagnostician(load_knowledge())
    labels = {key: finding.label for key, finding in work.knowledge.findings.items()}
    questions = itertools.cycle([(path, words) for words in WORDS for path in files()])
    first: dict[tuple[Path, tuple[tuple[str, str], ...]], str] = {}
    start = time.perf_counter()
    for number in range(1, diagnoses + 1):
        path, words = next(questions)
        answer = work.diagnose(read_batch(path, NOW), NOW, words)
        text = to_text(diagnosis_json(answer, labels))
        digest = hashlib.sha256(text.encode()).hexdigest()
        assert first.setdefault((path, words), digest) == digest, f"another answer: {path} {words}"
        assert not answer.faults, (path, answer.faults)
        if number % every == 0 or number == diagnoses:
            yield Mark(number, time.perf_counter() - start, rss_mib())


def growth_mib(marks: list[Mark]) -> float:
    """Return by how much memory grew after the warm-up [MiB]."""
    steady = [mark for mark in marks if mark.diagnoses >= WARM_UP * marks[-1].diagnoses]
    return steady[-1].rss_mib - steady[0].rss_mib


def main(arguments: list[str]) -> int:
    """Run the soak and print the memory as it goes; returns the exit code."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--diagnoses", type=int, default=2_000)
    parser.add_argument("--every", type=int, default=0, help="print after so many; a twentieth")
    chosen = parser.parse_args(arguments)
    every = chosen.every or max(1, chosen.diagnoses // 20)
    marks = []
    print("diagnoses   seconds   memory in use [MiB]")
    for mark in soak(chosen.diagnoses, every):
        marks.append(mark)
        print(f"{mark.diagnoses:>9} {mark.seconds:>9.0f} {mark.rss_mib:>12.1f}", flush=True)
    grown = growth_mib(marks)
    print(f"after the first {WARM_UP:.0%}: {grown:+.1f} MiB, allowed {ALLOWED_MIB:.0f}")
    return 0 if grown <= ALLOWED_MIB else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
