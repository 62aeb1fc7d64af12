"""The command `report`: one file about a batch, hazards first, here and in the terminal."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from trubshoot.cli.exits import FINE, HAZARD
from trubshoot.cli.guard import guarded
from trubshoot.cli.session import console, diagnostician, moment, unit_system
from trubshoot.cli.unreadable import hazards_in_text, unreadable
from trubshoot.errors import BatchError, UnitError
from trubshoot.safety import HazardBlock
from trubshoot.sentences import in_units
from trubshoot.whole_files import replace_file

_ENDINGS = {"html": ".html", "markdown": ".md"}
_MARKDOWN_ENDINGS = (".md", ".markdown")
_SHOWN = Path("-")


@dataclass(frozen=True)
class Wanted:
    """How a report is wanted."""

    output: Path | None
    form: str | None
    at: str | None
    units: str | None
    force: bool


def run_report(path: Path, wanted: Wanted) -> int:
    """Write the report of a batch; 3 when a hazard at WARNING or above stands, or HOLD."""
    form = _form(wanted)
    output = wanted.output or path.with_suffix(_ENDINGS[form])
    return guarded(lambda: _report(path, wanted, form, output), "text", verdict=False)


def _form(wanted: Wanted) -> str:
    """Return html or markdown. Raises UnitError for any other."""
    if wanted.form is None:
        named = wanted.output is not None and wanted.output.suffix.lower() in _MARKDOWN_ENDINGS
        return "markdown" if named else "html"
    if wanted.form not in _ENDINGS:
        raise UnitError(f'"{wanted.form}" is no format. Write html or markdown.')
    return wanted.form


def _report(path: Path, wanted: Wanted, form: str, output: Path) -> int:
    from trubshoot.batch import read_batch
    from trubshoot.diagnosis.overview import overview
    from trubshoot.report.bottling_words import verdict_line

    now = moment(wanted.at)
    try:
        batch = read_batch(path, now)
    except BatchError as error:
        return _unreadable(path, wanted, form, output, error, now)
    units = unit_system(wanted.units, batch.units)
    seen = in_units(overview(diagnostician(), batch, now), units)
    if form == "html":
        from trubshoot.report.page.document import report_html

        text = report_html(seen, units)
    else:
        from trubshoot.report.page.markdown import report_markdown

        text = report_markdown(seen, units)
    verdict = "" if seen.bottling.verdict is None else verdict_line(seen.bottling, "in the report")
    _deliver(text, output, path, seen.diagnosis.hazards, verdict, force=wanted.force)
    return HAZARD if seen.alarming else FINE


def _unreadable(
    path: Path, wanted: Wanted, form: str, output: Path, error: BatchError, now: datetime
) -> int:
    """Write what hazards the words of the file name, and what is wrong with it.

    An older report of the batch must not go on saying what is no longer known.
    """
    from trubshoot.diagnosis.not_assessed import BARE_LINE

    code = unreadable(path, [], error, now, "text")
    blocks = hazards_in_text(path, [], now)
    lines = [*([] if blocks else [BARE_LINE]), *(str(problem) for problem in error.problems)]
    if form == "html":
        from trubshoot.report.page.document import failure_html

        text = failure_html(path.name, blocks, lines)
    else:
        from trubshoot.report.page.markdown import failure_markdown

        text = failure_markdown(path.name, blocks, lines)
    if output != _SHOWN and path.exists():
        save(text, output, path, force=wanted.force)
        sys.stdout.write(f"That nothing was assessed is written to {output}.\n")
    return code


def _deliver(
    text: str,
    output: Path,
    batch: Path,
    blocks: Sequence[HazardBlock],
    verdict: str,
    *,
    force: bool,
) -> None:
    """Show the report itself, or show its hazards and write it."""
    from trubshoot.report.page.seal import sealed
    from trubshoot.report.terminal import Page, print_hazards

    if output == _SHOWN:
        sys.stdout.write(sealed(text).decode("utf-8"))
        return
    shown = console()
    with shown.capture() as captured:
        page = Page(shown)
        print_hazards(page, blocks)
        if verdict:
            page.line(verdict)
    sys.stdout.write(captured.get())  # before the file: writing it may fail
    save(text, output, batch, force=force)
    sys.stdout.write(f"Report written to {output}.\n")


def save(text: str, output: Path, batch: Path, *, force: bool) -> None:
    """Put a report in its place in one step; over another file only when that loses nothing.

    Args:
        text: the report, not sealed yet.
        output: the file to write.
        batch: the batch file, which is never written over.
        force: write over a file that is no untouched report.

    Raises: UnitError: the file may not or cannot be written; what was there is still there.
    """
    from trubshoot.report.page.seal import sealed

    try:
        real = output.resolve()
        _checked(real, output, batch, force=force)
    except UnitError:
        raise
    except (OSError, RuntimeError, ValueError) as error:  # no such name can be
        raise _cannot(output, error) from error
    try:
        replace_file(real, sealed(text))
    except OSError as error:
        raise _cannot(output, error) from error


def _cannot(output: Path, error: Exception) -> UnitError:
    why = getattr(error, "strerror", None) or str(error)
    return UnitError(f"{output} cannot be written: {why}. Name another file with -o.")


def _checked(real: Path, output: Path, batch: Path, *, force: bool) -> None:
    """Raise UnitError when the file may not be written over."""
    from trubshoot.report.page.seal import is_untouched

    if not real.exists():
        return
    if real.is_dir():
        raise UnitError(f"{output} is a folder. Name a file in it with -o.")
    if batch.exists() and real.samefile(batch):
        raise UnitError(f"{output} is the batch file itself. Name another file with -o.")
    if not real.is_file():
        raise UnitError(f"{output} is no ordinary file. Name another with -o.")
    if not force and not is_untouched(real.read_bytes()):
        raise UnitError(
            f"{output} is there already, and is no report of trubshoot or was changed since."
            " Name another file with -o, or replace it with --force."
        )
