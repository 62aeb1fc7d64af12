"""The command `diagnose`."""

from __future__ import annotations

import sys
from pathlib import Path

from trubshoot.cli.exits import FINE, HAZARD
from trubshoot.cli.guard import guarded
from trubshoot.cli.session import checked_form, console, diagnostician, moment, unit_system
from trubshoot.cli.unreadable import unreadable
from trubshoot.errors import BatchError
from trubshoot.safety import Level


def run_diagnose(
    path: Path,
    words: list[tuple[str, str]],
    *,
    why: bool,
    form: str,
    at: str | None,
    units: str | None,
) -> int:
    """Diagnose one batch file and print it; returns the exit code."""
    form = checked_form(form)
    return guarded(
        lambda: _diagnose(path, words, why=why, form=form, at=at, units=units),
        form,
        verdict=False,
    )


def _diagnose(
    path: Path,
    words: list[tuple[str, str]],
    *,
    why: bool,
    form: str,
    at: str | None,
    units: str | None,
) -> int:
    from trubshoot.batch import read_batch

    now = moment(at)
    try:
        batch = read_batch(path, now)
    except BatchError as error:
        return unreadable(path, words, error, now, form)
    work = diagnostician()
    labels = {key: finding.label for key, finding in work.knowledge.findings.items()}
    diagnosis = work.diagnose(batch, now, words)
    if form == "json":
        from trubshoot.report.result_json import diagnosis_json, to_text

        text = to_text(diagnosis_json(diagnosis, labels))
    else:
        from trubshoot.report.terminal import print_diagnosis

        shown = console()
        with shown.capture() as captured:
            print_diagnosis(shown, diagnosis, labels, unit_system(units, batch.units), why=why)
        text = captured.get()
    sys.stdout.write(text)
    return HAZARD if diagnosis.level >= Level.WARNING else FINE
