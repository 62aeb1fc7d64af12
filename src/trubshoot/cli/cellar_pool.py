"""Looks at many files, in several processes when it pays, with a bar on a terminal.

Each process makes the knowledge ready once and then takes small portions of files, so that memory
stays flat and a stop takes effect at once. A file on which a process dies is found by looking at
its portion again, one file at a time, and is listed; the rest goes on.
"""

from __future__ import annotations

import contextlib
import gc
import multiprocessing
import os
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trubshoot.cli.session import diagnostician

if TYPE_CHECKING:
    from trubshoot.learning.cellar import Seen

ALONE_BELOW = 40  # files; starting processes costs as much as some twenty of them
PORTION = 20
_AHEAD = 4  # portions given out for each process at a time

Step = Callable[[int], None]
Task = tuple[Path, str]  # file, how it is called in the table


def look_at_all(paths: Sequence[Path], folder: Path, now: datetime, jobs: int | None) -> list[Seen]:
    """Return what was seen in each file, in any order.

    Args:
        paths: the files.
        folder: they are called by their path inside it.
        now: the moment of asking.
        jobs: how many processes; as many as there are processors when None.
    """
    tasks = [(path, path.relative_to(folder).as_posix()) for path in paths]
    workers = min(jobs or _processors(), max(len(tasks) // PORTION, 1))
    seen: list[Seen] = []
    with _collecting(), _bar(len(tasks)) as step:
        found = _alone(tasks, now) if workers < 2 or len(tasks) < ALONE_BELOW else None
        for portion in found or _together(tasks, now, workers):
            seen += portion
            step(len(portion))
    return seen


def _processors() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _alone(tasks: Sequence[Task], now: datetime) -> Iterator[list[Seen]]:
    for task in tasks:
        yield look_at_portion([task], now)


def look_at_portion(tasks: Sequence[Task], now: datetime) -> list[Seen]:
    """Return what was seen in some files; runs in whatever process."""
    from trubshoot.learning.cellar import look_at

    return [look_at(diagnostician(), path, shown, now) for path, shown in tasks]


def _ready() -> None:
    """Make a process ready: the knowledge once, and what it holds is never walked again."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the first process ends the others
    diagnostician()
    gc.freeze()
    gc.enable()


def _together(tasks: Sequence[Task], now: datetime, workers: int) -> Iterator[list[Seen]]:
    waiting = [list(tasks[at : at + PORTION]) for at in range(0, len(tasks), PORTION)][::-1]
    while waiting:
        lost: list[list[Task]] = []
        yield from _run(waiting, now, workers, workers * _AHEAD, lost)
        # a process died: what was in work then is looked at again, one file at a time
        single = [[task] for portion in lost for task in portion]
        while single:
            dead: list[list[Task]] = []
            yield from _run(single, now, 1, 1, dead)
            for ((_, shown),) in dead:
                from trubshoot.learning.cellar import failed

                yield [failed(diagnostician(), shown, "the process died on this file")]


def _run(
    waiting: list[list[Task]], now: datetime, workers: int, ahead: int, lost: list[list[Task]]
) -> Iterator[list[Seen]]:
    """Yield what was seen in each portion, last ones first, taking them off `waiting`.

    When a process dies, the portions that were in work go to `lost`, and the run ends.
    """
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(workers, mp_context=context, initializer=_ready)
    running: dict[Future[list[Seen]], list[Task]] = {}
    try:
        while waiting or running:
            with _quiet_start():
                while waiting and len(running) < ahead:
                    running[pool.submit(look_at_portion, waiting[-1], now)] = waiting[-1]
                    waiting.pop()
            done = next(as_completed(running))
            yield done.result()
            del running[done]
    except BrokenProcessPool:
        lost += running.values()
        pool.shutdown()
    except BaseException:
        # stopped: nothing waits for what was given out already
        processes = list((getattr(pool, "_processes", None) or {}).values())
        pool.shutdown(wait=False, cancel_futures=True)
        for process in processes:
            process.terminate()
        raise
    else:
        pool.shutdown()


@contextlib.contextmanager
def _quiet_start() -> Iterator[None]:
    """Start processes so that a stop by the keyboard reaches only this one."""
    kept = signal.getsignal(signal.SIGINT)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, kept)


@contextlib.contextmanager
def _collecting() -> Iterator[None]:
    """Collect garbage again: this run is long, unlike those of other commands."""
    before = gc.isenabled()
    gc.enable()
    try:
        yield
    finally:
        if not before:
            gc.disable()


@contextlib.contextmanager
def _bar(total: int) -> Iterator[Step]:
    """Give a function that counts files; on a terminal it moves a bar on standard error."""
    if total < ALONE_BELOW or not sys.stderr.isatty():
        yield lambda count: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

    shown = Console(file=sys.stderr)
    columns = (BarColumn(), MofNCompleteColumn(), TimeRemainingColumn())
    with Progress(*columns, console=shown, transient=True) as progress:
        task = progress.add_task("", total=total)

        def step(count: int) -> None:
            progress.advance(task, count)

        yield step
