"""The command `confirm`: what a batch turned out to be, as one line more in its log."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trubshoot.cli.exits import BAD_INPUT
from trubshoot.cli.log import tell
from trubshoot.cli.session import console, diagnostician, unit_system
from trubshoot.cli.unreadable import unreadable
from trubshoot.errors import BatchError, UnitError

if TYPE_CHECKING:
    from trubshoot.batch import Batch
    from trubshoot.batch.append import LogLine

_SURE = {"yes": "certain", "no": "guess"}


def run_confirm(
    path: Path,
    cause: Sequence[str],
    *,
    words: str | None,
    sure: str | None,
    when: tuple[str | None, str | None],
    units: str | None,
) -> int:
    """Append what it turned out to be and print what that changed; returns the exit code.

    Args:
        path: the batch file.
        cause: id or label of a cause, or none of these, as typed.
        words: what showed it, or what it was when none of the causes.
        sure: certain or guess.
        when: date and day as typed.
        units: us or metric.

    Raises: UnitError: no such cause, or words that cannot be kept.
    """
    from trubshoot.batch.append import LogLine
    from trubshoot.batch.log_words import when_typed
    from trubshoot.batch.store import append_lines
    from trubshoot.diagnosis.after_log import asked_for
    from trubshoot.learning.history import NONE_OF_THESE, find_cause

    unit_system(units, "metric")  # refused before anything is written
    try:
        found = find_cause(diagnostician().knowledge, " ".join(cause))
    except BatchError as error:
        return _refused(error)
    if sure is not None and _SURE.get(sure, sure) not in _SURE.values():
        raise UnitError(
            f'"{sure}" does not say how sure. Write `--sure certain` or `--sure guess`.'
        )
    if not found and not (words or "").strip():
        raise UnitError(
            "none of these helps later only with words. Add what it was: --words "
            '"a wasp fell into the bucket".'
        )
    clock = datetime.now()
    read: list[Batch] = []

    def make(batch: Batch) -> list[LogLine]:
        read.append(batch)
        items: list[tuple[str, str | tuple[str, ...]]] = [
            when_typed(*when, batch, clock),
            ("turned_out", found or NONE_OF_THESE),
        ]
        if sure is not None:
            items.append(("sure", _SURE.get(sure, sure)))
        if words and words.strip():
            items.append(("words", " ".join(words.split())))
        return [LogLine(tuple(items))]

    try:
        written = append_lines(path, make, clock)
    except BatchError as error:
        if read:
            return _refused(error)
        code = unreadable(path, [], error, clock, "text")
        sys.stderr.write("Nothing was written.\n")
        return code
    asked = clock if when == (None, None) else asked_for(written, clock)
    code = tell(path, written, asked, units, "Confirmed")
    _say(path, found)
    return code


def _say(path: Path, found: str) -> None:
    """Print what was confirmed, the habit for next time, and how to take it back."""
    from trubshoot.report.terminal import Page

    shown = console()
    with shown.capture() as captured:
        page = Page(shown)
        if found:
            knowledge = diagnostician().knowledge
            told = knowledge.causes[found]
            step = knowledge.steps[told.step].label
            page.line(f"It turned out to be: {told.label}. Step: {step}.")
            if told.kind != "normal":
                page.line(f"Next time: {told.next_time}")
        else:
            page.line("It turned out to be none of the causes that are known here.")
        page.line(
            "Hazards stand as before: a confirmation never ends one. To take it back:"
            f" trubshoot log {path} --undo"
        )
    sys.stdout.write(captured.get())


def _refused(error: BatchError) -> int:
    for item in error.problems:
        sys.stderr.write(f"trubshoot: {item.message} {item.mend}".rstrip() + "\n")
    sys.stderr.write("Nothing was written.\n")
    return BAD_INPUT
