"""How long `trubshoot cellar` takes over thousands of batch files, and how much memory.

Run: python -m tests.learning.many_files [--files 10000] [--jobs 2]

The files are invented by the simulated brewery, each as its brewer would have written it; one in a
hundred is broken, one in a hundred is no batch file, and one in ten says what it turned out to be.
Memory is the largest resident size of each process, asked of the system ten times a second.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from pathlib import Path
from typing import Any

import yaml
from tests.simulation.brewery import brew

ROOT = Path(__file__).resolve().parents[2]
RANDOM_STATE = 20261125
AT = "2026-11-25"
_DUMPER = getattr(yaml, "CSafeDumper", yaml.SafeDumper)
_TURNED_OUT = ("packaged_too_early", "temperature_drop", "none of these", "priming_too_much")


def write_files(folder: Path, files: int) -> None:
    """Write invented batch files, a hundred to a folder."""
    for number, batch in enumerate(brew(files, RANDOM_STATE)):
        log: dict[str, Any] = dict(batch.log)
        log.pop("today", None)  # all are asked about for the same day
        if number % 10 == 3:
            told = {"at": AT, "turned_out": _TURNED_OUT[number // 10 % len(_TURNED_OUT)]}
            if all("at" in entry for entry in log["log"]):
                log["log"] = [*log["log"], {**told, "words": "invented"}]
        text = yaml.dump(log, Dumper=_DUMPER, sort_keys=False)
        if number % 100 == 50:
            text = text.replace("log:", "log:\n- {gravty: 1.050}\nlog:", 1)
        if number % 100 == 75:
            text = "colour: blue\nsize: 3\n"
        place = folder / f"{number // 100:04d}"
        place.mkdir(exist_ok=True)
        (place / f"batch_{number:06d}.yaml").write_text(text, "utf-8")


def family(process: int) -> list[int]:
    """Return a process and all below it (Linux)."""
    found = [process]
    for parent in found:
        for task in Path(f"/proc/{parent}/task").glob("*/children"):
            try:
                found += [int(word) for word in task.read_text().split()]
            except OSError:
                continue
    return found


def resident_mb(process: int) -> float:
    """Return the resident size of a process [MB]; 0 when it has ended."""
    try:
        pages = int(Path(f"/proc/{process}/statm").read_text().split()[1])
    except (OSError, IndexError, ValueError):
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def run(folder: Path, jobs: int | None) -> dict[str, Any]:
    """Run the command over a folder; returns what it took."""
    command = [sys.executable, "-m", "trubshoot", "cellar", str(folder), "--format", "json"]
    command += ["--at", AT, *(("--jobs", str(jobs)) if jobs else ())]
    start = time.monotonic()
    sizes: dict[int, list[float]] = defaultdict(list)
    with tempfile.TemporaryFile() as told, tempfile.TemporaryFile() as complaints:
        process = subprocess.Popen(command, cwd=ROOT, stdout=told, stderr=complaints)
        while process.poll() is None:
            for one in family(process.pid):
                sizes[one].append(resident_mb(one))
            time.sleep(0.1)
        seconds = time.monotonic() - start
        told.seek(0)
        plain = json.loads(told.read())
        complaints.seek(0)
        errors = complaints.read().decode()
    parent = sizes.pop(process.pid)
    times = os.times()
    return {
        "seconds": seconds,
        "processor": times.children_user + times.children_system,
        "code": process.returncode,
        "parent": max(parent),
        "workers": {one: size for one, size in sizes.items() if max(size) > 60},
        "plain": plain,
        "errors": errors,
    }


def main() -> int:
    """Print all figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--files", type=int, default=10_000)
    parser.add_argument("--jobs", type=int, default=None)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        start = time.monotonic()
        write_files(Path(name), asked.files)
        print(f"{asked.files:,} files written in {time.monotonic() - start:.0f} s")
        told = run(Path(name), asked.jobs)
    plain = told["plain"]
    load = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    print(f"Python {sys.version.split()[0]}, {os.cpu_count()} processors, load {load:.1f}")
    print(
        f"{told['seconds']:.0f} s on the clock, {told['processor']:.0f} s of the processor, "
        f"{1000 * told['processor'] / asked.files:.1f} ms a file; exit code {told['code']}"
    )
    print(f"first process: at most {told['parent']:.0f} MB")
    for number, size in enumerate(told["workers"].values(), 1):
        # the first half of a run against the second: flat memory does not grow
        half = len(size) // 2
        early, late = max(size[:half], default=0.0), max(size[half:], default=0.0)
        print(f"worker {number}: at most {early:.0f} MB in the first half, {late:.0f} MB after it")
    seen = len(plain["batches"]), len(plain["unusable"]), len(plain["passed_over"])
    print(f"{seen[0]} batches, {seen[1]} unusable, {seen[2]} passed over")
    if told["errors"]:
        print(told["errors"][:2000])
    return 0 if sum(seen) == asked.files else 1


if __name__ == "__main__":
    sys.exit(main())
