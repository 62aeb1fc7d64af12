"""How long a report takes to make, and how large it gets.

Run: python -m tests.report.speed

For every example and for a log of 190 readings: a fresh process is asked once, so that nothing is
warm but the parsed knowledge; the figures begin when the knowledge is loaded and the rules are
ready, as they are when any command starts to work. Median of 5, on the clock and of the processor.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import time
from datetime import datetime
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
RUNS = 5


def once(name: str) -> None:
    """Print what one report takes in this process, which must be fresh: [clock, processor, bytes].

    The first number is the process from its start to here, for comparison.
    """
    import gc

    gc.disable()  # as the command line does
    started = time.process_time()
    from tests.report.page.support import ASKED, EXAMPLES, long_log, work

    from trubshoot.batch import read_batch

    text = long_log(190) if name == "long log" else EXAMPLES / f"{name}.yaml"
    now = datetime.fromisoformat(ASKED.get(name, "2026-11-25")).replace(hour=23)
    ready = work()
    import rich.console  # noqa: F401 - loaded by every command

    loaded = time.process_time() - started
    clock, processor = time.perf_counter(), time.process_time()
    from trubshoot.diagnosis.overview import overview
    from trubshoot.report.page.document import report_html
    from trubshoot.report.page.seal import sealed

    seen = overview(ready, read_batch(text, now), now)
    half = time.process_time()
    raw = sealed(report_html(seen, "metric"))
    end = time.process_time()
    print(
        json.dumps(
            {
                "loaded": loaded,
                "clock": time.perf_counter() - clock,
                "worked out": half - processor,
                "drawn": end - half,
                "bytes": len(raw),
            }
        )
    )


def main() -> None:
    """Print the figures of every example and of a long log."""
    if len(sys.argv) > 1:
        once(sys.argv[1])
        return
    from tests.report.page.support import ASKED

    environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
    print(f"Python {sys.version.split()[0]}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    print(f"{'report of':<26} clock   processor: worked out + drawn = both      size")
    for name in [*sorted(ASKED), "long log"]:
        found = [
            json.loads(
                subprocess.run(
                    [sys.executable, "-m", "tests.report.speed", name],
                    cwd=ROOT,
                    env=environment,
                    capture_output=True,
                    check=True,
                ).stdout
            )
            for _ in range(RUNS)
        ]
        middle = {key: statistics.median(one[key] for one in found) for key in found[0]}
        both = middle["worked out"] + middle["drawn"]
        print(
            f"{name:<26} {middle['clock']:.2f} s {middle['worked out']:16.2f} s"
            f" + {middle['drawn']:.2f} s = {both:.2f} s {middle['bytes'] / 1000:8.0f} kB"
        )


if __name__ == "__main__":
    main()
