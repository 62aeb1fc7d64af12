"""How time grows with what is asked: findings told, causes, readings, batches; and peak memory.

A part of `python -m tests.speed`. All logs are invented; networks come from a fixed random state.
Times are those of the processor, but for folders of batches: there two processes share the work,
and the clock counts.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import numpy as np
from tests.diagnosis.enumeration import random_network
from tests.learning.many_files import run, write_files
from tests.report.page.support import long_log
from tests.speed_ranking import seconds

from trubshoot.batch import read_batch
from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.noisy_or import Told, rank
from trubshoot.diagnosis.sampling import MAX_EXACT, sample

ROOT = Path(__file__).resolve().parents[1]
TOLD = (1, 2, 4, 8, 12, 14, 16, 18, 24)
CAUSES = (50, 100, 200, 400, 800)
READINGS = (10, 50, 200, 800)
BATCHES = (10, 100, 1_000)
RANDOM_STATE = 8
# A process counts the memory of the one that it was split from, so a small one must start it.
_MEASURED = """
import os, sys
child = os.posix_spawn(sys.argv[1], sys.argv[1:], os.environ)
_, status, used = os.wait4(child, 0)
print("\\n", os.waitstatus_to_exitcode(status), used.ru_maxrss, file=sys.stderr)
"""


def row(what: str, milliseconds: float, first: float) -> str:
    """Return one line: time, and how many times that of the first line."""
    return f"  {what:<40} {milliseconds:12.2f} ms {milliseconds / first:8.1f} x"


def positives(work: Diagnostician) -> Iterator[str]:
    """Yield the time of the ranking by the number of findings told as present."""
    network = work.base.network
    order = np.argsort(-(network.strength > 0).sum(axis=0), kind="stable")  # the most linked first
    first = 0.0
    for count in TOLD:
        told = Told((), tuple(int(j) for j in order[:count]), (0.0,) * count, (1.0,) * count)
        method = rank if count <= MAX_EXACT else sample
        took = 1000 * seconds(lambda: method(network, told), 20 if count < 12 else 2)  # noqa: B023
        first = first or took
        yield row(
            f"{count} finding{'s' if count > 1 else ''}{'' if method is rank else ', sampled'}",
            took,
            first,
        )


def causes() -> Iterator[str]:
    """Yield the time of the exact ranking by the number of causes, 6 findings being told."""
    random, first = np.random.default_rng(RANDOM_STATE), 0.0
    told = Told((), tuple(range(6)), (0.0,) * 6, (1.0,) * 6)
    for count in CAUSES:
        network = random_network(random, count, 140, density=0.1)
        took = 1000 * seconds(lambda: rank(network, told), 20)  # noqa: B023
        first = first or took
        yield row(f"{count} causes", took, first)


def readings(work: Diagnostician, now: datetime) -> Iterator[str]:
    """Yield the time to read and diagnose a log by its readings of gravity and temperature."""
    first = 0.0
    for count in READINGS:
        text = long_log(count)
        took = 1000 * seconds(lambda: work.diagnose(read_batch(text, now), now), 3)  # noqa: B023
        first = first or took
        yield row(f"{2 * count} readings", took, first)


def batches() -> Iterator[str]:
    """Yield the time of `trubshoot cellar`, start of the process and all, by the batch files."""
    first = 0.0
    for count in BATCHES:
        with tempfile.TemporaryDirectory() as folder:
            write_files(Path(folder), count)
            told = run(Path(folder), None)
        took = 1000 * told["seconds"]
        first = first or took
        largest = max([told["parent"], *(max(sizes) for sizes in told["workers"].values())])
        each = f"   {took / count:7.1f} ms a file, at most {largest:.0f} MB"
        yield row(f"{count:,} files", took, first) + each


def memory(commands: dict[str, tuple[str, ...]], cache: str) -> Iterator[str]:
    """Yield the largest resident size of fresh processes [MB], where the system tells it."""
    if not hasattr(os, "wait4"):
        yield "  the system does not tell"
        return
    first = 0.0
    unit = 1e6 if sys.platform == "darwin" else 1e3  # bytes there, kilobytes elsewhere
    for name, arguments in commands.items():
        ended = subprocess.run(
            [sys.executable, "-S", "-c", _MEASURED, sys.executable, *arguments],
            env={**os.environ, "XDG_CACHE_HOME": cache},
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
        )
        code, kept = ended.stderr.splitlines()[-1].split()
        assert code in ("0", "3"), (name, ended.stderr)
        size = int(kept) / unit
        first = first or size
        yield f"  {name:<40} {size:12.0f} MB {size / first:8.1f} x"
