"""The command `cellar`: all batch files of a folder in one page."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

from trubshoot.cli.exits import BAD_INPUT, FAILED, FINE, HAZARD, INTERRUPTED
from trubshoot.cli.session import console, diagnostician, moment, unit_system
from trubshoot.errors import UnitError
from trubshoot.safety import Level
from trubshoot.sentences import in_units

if TYPE_CHECKING:
    from trubshoot.learning.cellar_page import Cellar

FORMS = ("text", "json", "csv")


def run_cellar(
    folder: Path,
    *,
    form: str,
    everything: bool,
    at: str | None,
    units: str | None,
    jobs: int | None,
) -> int:
    """Look at every batch file in a folder and print the page; returns the exit code.

    Args:
        folder: the folder; folders in it are looked through as well.
        form: text, json or csv.
        everything: all batches in the text, however many.
        at: the day to answer for, as typed.
        units: us or metric.
        jobs: how many processes; as many as there are processors when None.

    Raises: UnitError: what the user can mend.
    """
    from trubshoot.cli.cellar_pool import look_at_all
    from trubshoot.learning.cellar_page import gather
    from trubshoot.learning.history import files_below, is_yaml

    if form not in FORMS:
        raise UnitError(f'"{form}" is no format. Write text, json or csv.')
    system = unit_system(units, "metric")
    now = moment(at)
    if not folder.is_dir():
        raise UnitError(f"{folder} is no folder. Name the folder in which your batch files are.")
    paths: list[Path] = []
    others = 0
    for path in files_below(folder):
        if is_yaml(path):
            paths.append(path)
        else:
            others += 1
    work = diagnostician()
    try:
        seen = look_at_all(paths, folder, now, jobs)
    except KeyboardInterrupt:
        sys.stderr.write("trubshoot: stopped before all files were seen, so nothing is shown.\n")
        return INTERRUPTED
    page = gather(folder.resolve().name or str(folder), now, seen, others, work.knowledge)
    _show(page, form, everything, system)
    if page.level >= Level.WARNING:
        return HAZARD
    if any(item.failed for item in page.unusable):
        return FAILED
    return BAD_INPUT if page.unusable else FINE


def _show(page: Cellar, form: str, everything: bool, system: str) -> None:
    from trubshoot.report.cellar_data import cellar_csv, cellar_json

    if form == "json":
        from trubshoot.report.result_json import to_text

        sys.stdout.write(to_text(cellar_json(page)))
        return
    units = unit_system(system, "metric")
    if form == "csv":
        for item in page.hazards:
            names = ", ".join(item.batches)
            sys.stderr.write(f"{item.block.level.name}: {item.block.hazard} ({names})\n")
        sys.stdout.write(cellar_csv(page, units))
        return
    from trubshoot.report.cellar_terminal import print_cellar

    shown = console()
    with shown.capture() as captured:
        print_cellar(shown, in_units(page, units), units, everything=everything)
    sys.stdout.write(captured.get())
