"""The command `log`: one line from the kitchen into the batch file, and what it changed."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trubshoot.cli.exits import BAD_INPUT, FINE, HAZARD
from trubshoot.cli.guard import guarded
from trubshoot.cli.session import console, diagnostician, moment, unit_system
from trubshoot.cli.unreadable import unreadable
from trubshoot.errors import BatchError, UnitError
from trubshoot.safety import Level
from trubshoot.sentences import in_units

if TYPE_CHECKING:
    from trubshoot.batch import Batch
    from trubshoot.batch.append import LogLine
    from trubshoot.batch.store import Written
    from trubshoot.report.terminal import Page

_SHOWN_BAD = 20
_SENSES = ("saw", "smelled", "tasted", "no_sign_of")


@dataclass(frozen=True)
class When:
    """When it was, as typed."""

    at: str | None
    day: str | None


@dataclass(frozen=True)
class Table:
    """A table of readings, as typed; without a path none was named."""

    path: Path | None
    time: str | None
    gravity: str | None
    temperature: str | None
    day_first: bool | None
    skip_bad: bool


def run_command(
    path: Path,
    words: Sequence[str],
    details: Mapping[str, str],
    when: tuple[str | None, str | None],
    table: Table,
    undo: bool,
    units: str | None,
) -> int:
    """Tell apart a typed line, a table and taking back; returns the exit code.

    Raises: UnitError: none of them, or more than one.
    """
    unit_system(units, "metric")  # refused before anything is written
    if (undo or table.path is not None) and words:
        raise UnitError("words to log, --csv and --undo do not go together. Give one of them.")
    if undo:
        return run_undo(path, when[0], units)
    if table.path is not None:
        return run_csv(path, table, table.path, details, when[0], units)
    if table != Table(None, None, None, None, None, False):
        raise UnitError(
            "columns are named, but no table. Add `--csv FILE`; "
            "a single reading is logged by `gravity 1.014`, without dashes."
        )
    return run_log(path, words, details, When(*when), units)


def run_log(
    path: Path, words: Sequence[str], options: Mapping[str, str], when: When, units: str | None
) -> int:
    """Append one typed line and print what it changed; returns the exit code."""
    from trubshoot.batch.log_words import refuse_late_og, typed_line, when_typed
    from trubshoot.batch.store import append_lines
    from trubshoot.diagnosis.after_log import asked_for

    clock = datetime.now()

    read: list[Batch] = []

    def make(batch: Batch) -> list[LogLine]:
        read.append(batch)
        refuse_late_og(words, when.at, when.day, batch)
        return [typed_line(words, options, when_typed(when.at, when.day, batch, clock))]

    try:
        written = append_lines(path, make, clock)
    except (BatchError, UnitError) as error:
        if read or isinstance(error, UnitError):
            return _refused(path, words, error)
        code = unreadable(path, _said(words), error, clock, "text")
        sys.stderr.write("Nothing was written.\n")
        return code
    # a line of the past is answered for its own time, so that an old log can be replayed
    asked = clock if when.at is None and when.day is None else asked_for(written, clock)
    return tell(path, written, asked, units, "Logged")


def _refused(path: Path, words: Sequence[str], error: BatchError | UnitError) -> int:
    """Say why a typed line was not taken; a hazard that it names comes before that."""
    from trubshoot.batch import Batch
    from trubshoot.report.terminal import Page, print_hazards

    said = _said(words)
    if said:
        blocks = diagnostician().hazards_in_words(Batch(name=path.name), datetime.now(), said)
        print_hazards(Page(console()), blocks)
    lines = [str(error)]
    if isinstance(error, BatchError):
        lines = [f"{item.message} {item.mend}".strip() for item in error.problems]
    for line in lines:
        sys.stderr.write(f"trubshoot: {line}\n")
    sys.stderr.write("Nothing was written.\n")
    return BAD_INPUT


def _said(words: Sequence[str]) -> list[tuple[str, str]]:
    """Return what was typed as words to look for hazards in."""
    first, _, rest = " ".join(words).strip().partition(" ")
    verb = first.lower().replace("-", "_")
    text = rest if verb in _SENSES else f"{first} {rest}".strip()
    return [(verb if verb in _SENSES else "saw", text)] if text else []


def run_undo(path: Path, at: str | None, units: str | None) -> int:
    """Take the last line of the log away and print it, answering for `at`; returns the code."""
    from trubshoot.batch.store import remove_last

    clock = datetime.now()
    try:
        written = remove_last(path, clock)
    except BatchError as error:
        code = unreadable(path, [], error, clock, "text")
        sys.stderr.write("Nothing was written.\n")
        return code
    return tell(path, written, clock if at is None else moment(at), units, "Taken back")


def run_csv(
    path: Path,
    table: Table,
    source: Path,
    options: Mapping[str, str],
    at: str | None,
    units: str | None,
) -> int:
    """Append the readings of a table, thinned, answering for `at`; returns the exit code.

    Raises: UnitError: no column for the time, or a table that cannot be read.
    """
    from trubshoot.batch import read_batch
    from trubshoot.batch.csv_readings import Columns, lines_of, read_readings
    from trubshoot.batch.store import append_lines

    if table.time is None:
        raise UnitError("--csv needs --time with the name of the column that holds the time.")
    if set(options) - {"with"}:
        raise UnitError("beside --csv only --with can be given; the table says the rest.")
    clock = datetime.now()
    try:
        system = unit_system(units, read_batch(path, clock).units)
    except BatchError as error:
        return unreadable(path, [], error, clock, "text")
    try:
        raw = source.read_bytes()
    except OSError as error:
        raise UnitError(f"{source} cannot be read: {error.strerror}.") from error
    columns = Columns(table.time, table.gravity, table.temperature, system, table.day_first)
    readings = read_readings(raw, columns, str(source), clock)
    for problem in readings.bad[:_SHOWN_BAD]:
        sys.stderr.write(f"{problem}\n")
    if len(readings.bad) > _SHOWN_BAD:
        sys.stderr.write(f"... and {len(readings.bad) - _SHOWN_BAD} more.\n")
    if readings.bad and not table.skip_bad:
        sys.stderr.write(
            f"trubshoot: {len(readings.bad)} rows cannot be used. Nothing was written. "
            "Correct them, or leave them out with --skip-bad.\n"
        )
        return BAD_INPUT
    name, details = source.name, list(options.items())
    try:
        written = append_lines(
            path, lambda batch: lines_of(readings, name, batch, details, system), clock
        )
    except BatchError as error:
        return unreadable(path, [], error, clock, "text")
    for note in readings.notes:
        sys.stdout.write(f"{note}\n")
    if not written.lines:
        sys.stdout.write(f"{name} holds no row that is not in the log already.\n")
        return FINE
    asked = clock if at is None else moment(at)
    return tell(path, written, asked, units, f"From {readings.rows} rows of {name}")


def tell(path: Path, written: Written, asked: datetime, units: str | None, title: str) -> int:
    """Print what a change of the file changed, new hazards before everything else."""
    code = guarded(lambda: _changes(path, written, asked, units, title), "text", verdict=False)
    if code not in (FINE, HAZARD):
        sys.stdout.write(f"{title} all the same: {written.lines[-1]}\n")
    return code


def _changes(path: Path, written: Written, asked: datetime, units: str | None, title: str) -> int:
    from trubshoot.diagnosis.after_log import after_log
    from trubshoot.report.terminal import Page, print_hazards
    from trubshoot.report.wording import date_text

    system = unit_system(units, written.after.units)
    told = in_units(after_log(diagnostician(), written, asked, system), system)
    shown = console()
    with shown.capture() as captured:
        page = Page(shown)
        print_hazards(page, told.hazards)
        for block in told.still:
            page.line(f"{block.level.name} still stands: {block.hazard}")
        _written(page, path, written, title, told.twin)
        for problem in told.warnings:
            page.item("!", problem)
        for sentence in told.sentences:
            if sentence.startswith("- "):
                page.item("-", sentence[2:], 2)
            else:
                page.line(sentence)
        if asked.date() != datetime.now().date():
            page.line(f"Worked out for {date_text(asked)}.")
    sys.stdout.write(captured.get())
    return HAZARD if told.diagnosis.level >= Level.WARNING else FINE


def _written(page: Page, path: Path, written: Written, title: str, twin: int) -> None:
    lines = written.lines
    if len(lines) > 1:
        page.line(f"{title}: {len(lines)} lines added to {path.name}; the last is {lines[-1]}")
        return
    page.line(f"{title} ({path.name}): {lines[0].removeprefix('- ')}")
    if twin and title == "Logged":
        page.line(f"The same stands in line {twin} already. `--undo` takes this one back.")
