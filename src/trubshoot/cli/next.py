"""The command `next`: one to three things worth doing, with dates, and a calendar file."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trubshoot.cli.exits import FINE, HAZARD
from trubshoot.cli.guard import guarded
from trubshoot.cli.session import console, diagnostician, moment
from trubshoot.cli.unreadable import unreadable
from trubshoot.errors import BatchError, UnitError
from trubshoot.safety import Level
from trubshoot.sentences import in_units

if TYPE_CHECKING:
    from trubshoot.diagnosis.plan_next import NextStep
    from trubshoot.report.terminal import Page


def run_next(path: Path, *, at: str | None, ics: Path | None) -> int:
    """Print what to do or measure next, and when; returns the exit code."""
    return guarded(lambda: _next(path, at, ics), "text", verdict=False)


def _next(path: Path, at: str | None, ics: Path | None) -> int:
    from trubshoot.batch import read_batch
    from trubshoot.diagnosis.plan_next import plan_next
    from trubshoot.report.calendar import calendar_text
    from trubshoot.report.terminal import Page, print_hazards
    from trubshoot.report.wording import date_text

    now = moment(at)
    try:
        batch = read_batch(path, now)
    except BatchError as error:
        return unreadable(path, [], error, now, "text")
    work = diagnostician()
    diagnosis = work.diagnose(batch, now)
    steps = in_units(plan_next(work.knowledge, batch, diagnosis), batch.units)
    shown = console()
    with shown.capture() as captured:
        page = Page(shown)
        print_hazards(page, in_units(diagnosis.hazards, batch.units))
        page.line(f"{batch.name}, asked {date_text(now)}")
        _steps(page, steps, now)
    sys.stdout.write(captured.get())
    if ics is not None:
        stamp = now.astimezone(UTC)
        text = calendar_text(batch.name, steps, stamp)
        if text:
            _save(ics, text)
            sys.stdout.write(f"Dates written to {ics}.\n")
        else:
            sys.stdout.write("None of this waits for a date, so no calendar was written.\n")
    return HAZARD if diagnosis.level >= Level.WARNING else FINE


def _steps(page: Page, steps: Sequence[NextStep], now: datetime) -> None:
    from trubshoot.diagnosis.plan_next import day_text
    from trubshoot.report.wording import minutes_text

    page.head("Next")
    if not steps:
        page.line("Nothing: no check would tell enough for its trouble. Log what you notice.")
    for number, step in enumerate(steps, 1):
        when = "now"
        if step.due is not None:
            when = "later today" if step.due.date() == now.date() else day_text(step.due)
        took = f", about {minutes_text(step.minutes)}" if step.minutes else ""
        page.item(f"{number}.", f"{when[0].upper()}{when[1:]}{took}: {step.do}")
        page.item("  ", f"Why: {step.why}.")


def _save(path: Path, text: str) -> None:
    """Write a calendar; over another file only when that is a calendar of this program."""
    from trubshoot.report.calendar import PRODUCT
    from trubshoot.whole_files import replace_file

    try:
        if path.exists() and PRODUCT.encode() not in path.read_bytes()[:500]:
            raise UnitError(
                f"{path} is there already and is no calendar of trubshoot. Name another."
            )
        replace_file(path.resolve(), text.encode("utf-8"))
    except OSError as error:
        raise UnitError(f"{path} cannot be written: {error.strerror}.") from error
