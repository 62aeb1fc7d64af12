"""The one worker that thinks: every library call of the pages runs here, one after the other.

The rule engine answers one question at a time, and two threads that compute would only take turns;
so one thread does all of it, and the server stays free to answer. What was worked out is kept by
the content of the file: a batch that did not change is not worked out again for a while.
"""

from __future__ import annotations

import asyncio
import contextlib
import hashlib
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property
from typing import Any, TypeVar

from trubshoot.batch import Batch, read_batch
from trubshoot.batch.plan_options import with_options
from trubshoot.diagnosis import Diagnosis, Diagnostician
from trubshoot.diagnosis.bottling_report import BottlingReport, bottling_report
from trubshoot.diagnosis.not_assessed import failure_blocks, hazards_in_text
from trubshoot.diagnosis.overview import Overview, overview
from trubshoot.diagnosis.plan_next import NextStep, plan_next
from trubshoot.errors import BatchError, Problem
from trubshoot.learning.browse import Library
from trubshoot.learning.draft import Draft
from trubshoot.learning.drill_draw import Bench
from trubshoot.learning.plan import BrewPlan, brew_day_of, brew_plan
from trubshoot.learning.whatif import WhatIf, whatif
from trubshoot.safety import HazardBlock
from trubshoot.units import UnitSystem
from trubshoot.web.cellar import BatchFile
from trubshoot.web.log_rows import LogRow, log_rows

T = TypeVar("T")

FRESH = timedelta(minutes=1)  # how old an answer about one batch may be
FRESH_IN_LIST = timedelta(minutes=10)
_KEPT = 600
_MOST_AHEAD = 20
_PAUSE_S = 0.05
_WRITERS = 4  # they wait for locks and disks, and must not keep the thinker waiting


@dataclass(frozen=True)
class Known:
    """One batch file, worked out: either a batch with its diagnosis, or what is wrong with it."""

    file: BatchFile
    asked_at: datetime
    batch: Batch | None
    diagnosis: Diagnosis | None
    next_steps: tuple[NextStep, ...]
    rows: tuple[LogRow, ...]
    hazards: tuple[HazardBlock, ...]
    problems: tuple[Problem, ...]
    fault: str  # trubshoot's own failure, in one line

    @property
    def units(self) -> UnitSystem:
        """Return the units of the file; metric where it cannot be read."""
        return "metric" if self.batch is None else self.batch.units


class Kitchen:
    """Works for the pages."""

    def __init__(self, work: Diagnostician, clock: Callable[[], datetime]) -> None:
        """Take the knowledge made ready, and what tells the time."""
        self.work, self.clock = work, clock
        self._thinker = ThreadPoolExecutor(1, "thinker")
        self._writers = ThreadPoolExecutor(_WRITERS, "writer")
        self._waiting = 0  # calls that the thinker has not finished
        self._ahead: set[asyncio.Task[None]] = set()
        self._kept: OrderedDict[tuple[str, ...], tuple[datetime, Any]] = OrderedDict()

    async def think(self, run: Callable[[], T]) -> T:
        """Return what a call gives that is made by the thinker, after all calls before it."""
        self._waiting += 1
        try:
            return await asyncio.get_running_loop().run_in_executor(self._thinker, run)
        finally:
            self._waiting -= 1

    async def write(self, run: Callable[[], T]) -> T:
        """Return what a call gives that waits for a disk or a lock."""
        return await asyncio.get_running_loop().run_in_executor(self._writers, run)

    @cached_property
    def library(self) -> Library:
        """Return the pages of what is known; asked for in the thinker only."""
        return Library(self.work)

    @cached_property
    def bench(self) -> Bench:
        """Return what draws cases of practice; asked for in the thinker only."""
        return Bench(self.work)

    def ahead(self, file: BatchFile) -> None:
        """Work out the slow answers about a batch that is looked at, once nobody else waits."""
        if len(self._ahead) < _MOST_AHEAD:
            task = asyncio.get_running_loop().create_task(self._work_ahead(file))
            self._ahead.add(task)
            task.add_done_callback(self._ahead.discard)

    async def _work_ahead(self, file: BatchFile) -> None:
        while self._waiting:
            await asyncio.sleep(_PAUSE_S)
        with contextlib.suppress(Exception):  # whoever asks for the page is told what is wrong
            await self.overview(file)
            while self._waiting:
                await asyncio.sleep(_PAUSE_S)
            await self.plan(file)

    def close(self) -> None:
        """Let the threads end; what is being written is written to its end."""
        for task in self._ahead:
            task.cancel()
        self._writers.shutdown(wait=True)
        self._thinker.shutdown(wait=True, cancel_futures=True)

    # --- asked by the pages; all of them run in the thinker

    async def known(self, file: BatchFile, fresh: timedelta = FRESH) -> Known:
        """Return a batch file worked out for now, or for a moment not older than `fresh`."""
        key = ("batch", file.name, digest(file.raw))
        found: Known | None = self._fresh(key, fresh)
        if found is not None:
            return found
        return await self.think(lambda: self._keep(key, fresh, lambda: self._known(file)))

    async def bottling(self, file: BatchFile, options: Mapping[str, str]) -> BottlingReport:
        """Return everything about bottling a batch, its plan changed by options.

        Raises: BatchError: the file or an option cannot be read.
        """
        if not options:
            return (await self.overview(file)).bottling
        asked = tuple(f"{name}={value}" for name, value in sorted(options.items()))
        key = ("bottling", file.name, digest(file.raw), *asked)
        return await self._kept_answer(key, lambda: self._bottling(file, options))

    async def overview(self, file: BatchFile) -> Overview:
        """Return everything that pages and reports show of a batch.

        Raises: BatchError: the file cannot be read.
        """

        def make() -> Overview:
            known: Known = self._keep(
                ("batch", file.name, digest(file.raw)), FRESH, lambda: self._known(file)
            )
            if known.batch is not None and known.diagnosis is not None:
                seen = overview(self.work, known.batch, known.asked_at, diagnosis=known.diagnosis)
                return seen
            now = self.clock()  # whoever asks is told what is wrong
            return overview(self.work, read_batch(file.raw, now, file.name), now)

        return await self._kept_answer(("overview", file.name, digest(file.raw)), make)

    async def plan(self, file: BatchFile) -> BrewPlan:
        """Return the faults that a process is likely to make, and its card.

        Raises: BatchError: the file cannot be read.
        """

        def make() -> BrewPlan:
            now = self.clock()
            draft = Draft.of_text(file.raw.decode("utf-8-sig"), file.name)
            return brew_plan(self.work, draft, now, brew_day_of(draft.read(), now))

        return await self._kept_answer(("plan", file.name, digest(file.raw)), make)

    async def whatif(self, file: BatchFile, texts: Sequence[str]) -> WhatIf:
        """Return a batch under two practices: as logged, and with the changes that texts say.

        Raises: BatchError, UnitError: the file or a change cannot be read.
        """

        def make() -> WhatIf:
            draft = Draft.of_text(file.raw.decode("utf-8-sig"), file.name)
            return whatif(self.work, draft, texts, self.clock())

        return await self._kept_answer(("whatif", file.name, digest(file.raw), *texts), make)

    async def _kept_answer(self, key: tuple[str, ...], make: Callable[[], T]) -> T:
        found: T | None = self._fresh(key, FRESH_IN_LIST)
        if found is not None:
            return found
        return await self.think(lambda: self._keep(key, FRESH_IN_LIST, make))

    def _known(self, file: BatchFile) -> Known:
        now = self.clock()
        rows = tuple(log_rows(file.raw))
        try:
            batch = read_batch(file.raw, now, file.name)
        except BatchError as error:
            blocks = hazards_in_text(self.work, file.name, file.raw, (), now)
            return Known(file, now, None, None, (), rows, blocks, tuple(error.problems), "")
        try:
            diagnosis = self.work.diagnose(batch, now)
            steps = plan_next(self.work.knowledge, batch, diagnosis)
        except Exception as error:  # noqa: BLE001 - any fault at all must end in its hazard block
            what = f"{type(error).__name__}: {error}"
            return Known(file, now, batch, None, (), rows, failure_blocks(what), (), what)
        return Known(file, now, batch, diagnosis, steps, rows, diagnosis.hazards, (), "")

    def _bottling(self, file: BatchFile, options: Mapping[str, str]) -> BottlingReport:
        now = self.clock()
        batch = read_batch(file.raw, now, file.name)
        text = file.raw.decode("utf-8")
        return bottling_report(self.work, with_options(batch, text, file.name, options), now)

    # --- what is kept

    def _fresh(self, key: tuple[str, ...], fresh: timedelta) -> Any:
        found = self._kept.get(key)
        if found is None or not timedelta(0) <= self.clock() - found[0] < fresh:
            return None
        return found[1]

    def _keep(self, key: tuple[str, ...], fresh: timedelta, make: Callable[[], T]) -> T:
        again = self._fresh(key, fresh)  # many may have asked for the same while the first waited
        if again is not None:
            return again  # type: ignore[no-any-return]  # kept under its own key
        at = self.clock()
        made = make()
        self._kept[key] = at, made
        self._kept.move_to_end(key)
        while len(self._kept) > _KEPT:
            self._kept.popitem(last=False)
        return made


def digest(raw: bytes) -> str:
    """Return what stands for the content of a file."""
    return hashlib.sha256(raw).hexdigest()
