"""Looks at files in another process that dies, or waits, on some of them: for the tests only."""

from __future__ import annotations

import os
import time
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from trubshoot.cli.cellar_pool import Task
from trubshoot.learning.cellar import PassedOver, Seen


def die_on_bad(tasks: Sequence[Task], now: datetime) -> list[Seen]:
    """End the process at once on a file called bad; pass over all others."""
    if any(Path(shown).stem == "bad" for _, shown in tasks):
        os._exit(9)
    return [PassedOver(shown) for _, shown in tasks]


def wait_long(tasks: Sequence[Task], now: datetime) -> list[Seen]:
    """Take a minute for a portion."""
    time.sleep(60)
    return [PassedOver(shown) for _, shown in tasks]


def no_knowledge() -> None:
    """Stand in for making a process ready, which takes a second."""
