"""Print how quick the pages are: the server's time, fifty at once, and a slow phone.

Run as `python -m tests.web.measure`. The server runs in a process of its own, as it does in use.
"""

from __future__ import annotations

import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path

from tests.web.conftest import ARGUMENTS, MISSING
from tests.web.support import Visitor, fill

USERS, VISITS, LINES = 50, 4, 1
CHANGES = 5
PAGES = (
    "/",
    "/batch/all_well.yaml",
    "/batch/bottled_too_early.yaml",
    "/batch/all_well.yaml/page",
    "/batch/all_well.yaml/bottling",
    "/batch/bottled_too_early.yaml/bottles",
    "/batch/all_well.yaml/whatif?change=pitched+at+25+C",
    "/batch/all_well.yaml/plan",
    "/batch/all_well.yaml/noticed",
    "/new",
    "/batch/all_well.yaml/did?verb=bottled",
    "/interview",
    "/learn/map",
    "/learn/finding/astringent_drying",
)


class Running:
    """A server in a process of its own, in the shape that a visitor speaks to."""

    def __init__(self, port: int, folder: Path, process: int) -> None:
        self.port, self.folder, self.url = port, folder, f"http://127.0.0.1:{port}"
        self._times = Path(f"/proc/{process}/stat")

    def used_ms(self) -> float:
        """Return the processor time of the server [ms], in steps of 10; nan but on Linux."""
        if not self._times.exists():
            return float("nan")
        ticks = self._times.read_text("utf-8").rpartition(")")[2].split()[11:13]
        return 1000 * sum(int(count) for count in ticks) / os.sysconf("SC_CLK_TCK")

    def visitor(self) -> Visitor:
        """Return a new browser."""
        return Visitor(self)  # type: ignore[arg-type]  # port and address are all that is used


@contextmanager
def running() -> Iterator[Running]:
    """Give a server over the examples, started by the command."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        fill(folder)
        command = [sys.executable, "-m", "trubshoot", "web", str(folder), "--port", "0"]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
            try:
                assert process.stdout is not None
                text = "".join(process.stdout.readline() for _ in range(2))
                found = re.search(r"http://127\.0\.0\.1:(\d+)/", text)
                assert found, text
                yield Running(int(found[1]), folder, process.pid)
            finally:
                process.terminate()


def timed(run: Callable[[], object]) -> float:
    """Return how long a call took [ms]."""
    begun = time.perf_counter()
    run()
    return 1000 * (time.perf_counter() - begun)


def pages(server: Running) -> None:
    """Print the time of each page, the first time and warm, and of the forms."""
    visitor = server.visitor()
    visitor.get("/")
    print("server time of a page [ms]         first   median      worst of 20")
    for path in PAGES:
        first = timed(lambda path=path: visitor.get(path))
        warm = [timed(lambda path=path: visitor.get(path)) for _ in range(20)]
        print(f"  {path:<38}{first:6.0f}{statistics.median(warm):8.0f}{max(warm):8.0f}")
    token = visitor.get("/interview").token
    logged = [
        timed(
            lambda: visitor.post(
                "/batch/plaster_taste.yaml/noticed",
                {"token": token, "sense": "note", "text": "a line"},
            )
        )
        for _ in range(8)
    ]
    print(f"  a line logged, and what it changed        {statistics.median(logged):8.0f}")
    after = timed(lambda: visitor.get("/batch/plaster_taste.yaml"))
    print(f"  the page of the batch after it            {after:8.0f}")
    talk = visitor.post("/interview/begin", {"token": token}).headers["location"]
    steps = []
    for number, said in enumerate(("smells of butter, 2 weeks old", "yes", "1", "no", "no", "no")):
        fields = {"token": token, "step": str(number), "answer": said}
        steps.append(
            timed(lambda fields=fields: visitor.follow(visitor.post(f"{talk}/answer", fields)))
        )
    print(f"  an answer and the next question           {statistics.median(steps):8.0f}")


def changed(server: Running) -> None:
    """Print what the first view costs after a batch has changed and nothing is worked out ahead."""
    visitor = server.visitor()
    print("first view of a changed batch [ms]       clock   processor")
    for name in ("all_well", "bottled_too_early", "stuck_after_cold_night"):
        file = server.folder / f"{name}.yaml"
        for part in ("", "/page", "/bottling"):
            seen = []
            for number in range(CHANGES):
                file.write_text(f"{file.read_text('utf-8')}\n# {part} {number}\n", "utf-8")
                used = server.used_ms()
                clock = timed(lambda path=f"/batch/{name}.yaml{part}": visitor.get(path))
                seen.append((clock, server.used_ms() - used))
                time.sleep(0.5)  # what is worked out behind the page is not counted
            clocks, processors = (statistics.median(each) for each in zip(*seen, strict=True))
            print(f"  /batch/{name + '.yaml' + part:<32}{clocks:6.0f}{processors:12.0f}")


def together(server: Running) -> None:
    """Print what fifty users at once are answered, reading and writing."""

    def one(user: int) -> list[tuple[int, float]]:
        visitor = server.visitor()
        told = []
        for turn in range(VISITS):
            path = PAGES[(user + turn) % len(PAGES)]
            begun = time.perf_counter()
            told.append((visitor.get(path).status, time.perf_counter() - begun))
        for number in range(LINES):
            fields = {"sense": "note", "text": f"user {user}, line {number}"}
            begun = time.perf_counter()
            sent = visitor.post("/batch/stuck_after_cold_night.yaml/noticed", fields)
            told.append((sent.status, time.perf_counter() - begun))
        return told

    begun = time.perf_counter()
    with ThreadPoolExecutor(USERS) as pool:
        told = [pair for some in pool.map(one, range(USERS)) for pair in some]
    took = time.perf_counter() - begun
    wrong = [status for status, _ in told if status not in (200, 303)]
    text = (server.folder / "stuck_after_cold_night.yaml").read_text("utf-8")
    kept = sum(f"user {user}, line" in text for user in range(USERS))
    times = sorted(seconds for _, seconds in told)
    print(
        f"{USERS} users at once: {len(told)} requests in {took:.1f} s, {len(wrong)} errors, "
        f"{kept} of {USERS} lines kept; median {1000 * statistics.median(times):.0f} ms, "
        f"95 of 100 under {1000 * times[int(0.95 * len(times))]:.0f} ms"
    )


def slow_phone(server: Running) -> None:
    """Print when the first page can be used on a slow phone with a slow line."""
    from playwright.sync_api import sync_playwright

    path = shutil.which("chromium") or shutil.which("chromium-browser")
    assert path is not None, MISSING
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=path, args=list(ARGUMENTS))
        shown = []
        for _ in range(3):
            context = browser.new_context(viewport={"width": 360, "height": 740})
            page = context.new_page()
            line = context.new_cdp_session(page)
            line.send("Emulation.setCPUThrottlingRate", {"rate": 4})
            speed = {"downloadThroughput": 200_000, "uploadThroughput": 90_000, "latency": 60}
            line.send("Network.enable")
            line.send("Network.emulateNetworkConditions", {"offline": False, **speed})
            page.goto(server.url)
            page.wait_for_function(
                "() => performance.getEntriesByName('first-contentful-paint').length > 0"
            )
            shown.append(
                page.evaluate(
                    "() => { const t = performance.getEntriesByType('navigation')[0];"
                    " const p = performance.getEntriesByName('first-contentful-paint')[0];"
                    " return [p.startTime, t.domContentLoadedEventEnd, t.loadEventEnd]; }"
                )
            )
            context.close()
        browser.close()
    first, usable, whole = (statistics.median(times) for times in zip(*shown, strict=True))
    print(
        "first page on a slow phone (processor 4 times slower, 1.6 Mbit/s, 60 ms a way): "
        f"drawn after {first:.0f} ms, usable after {usable:.0f} ms, all of it after {whole:.0f} ms"
    )


def main() -> None:
    """Measure and print."""
    load = f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "not known"
    print(f"{os.cpu_count()} cores, load {load}")
    with running() as server:
        time.sleep(3)  # the batches are worked out ahead
        pages(server)
        changed(server)
        slow_phone(server)
        together(server)


if __name__ == "__main__":
    main()
