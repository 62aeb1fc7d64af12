"""The one place where the simulation touches the product: a batch file in, a verdict out.

Only trubshoot's public door is used, the same one that `trubshoot bottling` goes through: the
file is written as YAML and read again, so that no truth can slip past.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cache
from typing import TYPE_CHECKING

import yaml
from tests.simulation.logbook import LogDict
from tests.simulation.rules_of_thumb import GO, HOLD, Verdict

if TYPE_CHECKING:
    from trubshoot.safety import Verdict as FullVerdict

_DUMPER = getattr(yaml, "CSafeDumper", yaml.SafeDumper)


class NotWired(RuntimeError):
    """The product does not offer what the simulation asks for."""


@cache
def _check() -> Callable[[str, datetime], FullVerdict | None]:
    """Return a function from the text of a batch file to the product's whole verdict."""
    try:
        from trubshoot.batch import read_batch
        from trubshoot.diagnosis.diagnose import Diagnostician
        from trubshoot.knowledge_base import load_knowledge
    except ImportError as error:
        raise NotWired(f"tests/simulation/product.py: trubshoot lacks {error.name}.") from error
    desk = Diagnostician(load_knowledge())
    if not hasattr(desk, "bottling_check"):
        raise NotWired("tests/simulation/product.py: Diagnostician has no bottling_check.")

    def check(text: str, now: datetime) -> FullVerdict | None:
        return desk.bottling_check(read_batch(text), now)

    return check


def full_verdict(log: LogDict) -> FullVerdict | None:
    """Return the product's verdict with its reasons. Raises NotWired."""
    text = yaml.dump(log, Dumper=_DUMPER, sort_keys=False)
    return _check()(text, _moment(log))


def verdict(log: LogDict) -> Verdict:
    """Return the product's word. Raises NotWired; any other failure is the product's own."""
    found = full_verdict(log)
    return GO if found is not None and found.word == GO else HOLD


def _moment(log: LogDict) -> datetime:
    """Return when the question is asked: at the hour of the readings, which is 18:00.

    Two hours after the last entry when `today` is missing.
    """
    if isinstance(log.get("today"), str):
        return datetime.fromisoformat(log["today"]) + timedelta(hours=18)
    dated = [str(entry["at"]) for entry in log["log"] if "at" in entry]
    if dated:
        return datetime.fromisoformat(max(dated)) + timedelta(hours=2)
    return datetime(2026, 1, 1, 20)
