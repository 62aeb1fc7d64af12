"""The command `whatif`: one batch under two practices."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from trubshoot.cli.exits import FINE, HAZARD
from trubshoot.cli.guard import guarded
from trubshoot.cli.session import checked_form, console, diagnostician, moment, unit_system
from trubshoot.cli.unreadable import unreadable
from trubshoot.errors import BatchError, UnitError
from trubshoot.safety import Level
from trubshoot.sentences import in_units


def run_whatif(
    path: Path,
    changes: Sequence[str],
    *,
    all_: bool,
    form: str,
    at: str | None,
    units: str | None,
) -> int:
    """Print both practices beside each other; returns the exit code."""
    checked_form(form)
    unit_system(units, "metric")
    return guarded(lambda: _whatif(path, changes, all_, form, at, units), form, verdict=False)


def _whatif(
    path: Path, changes: Sequence[str], all_: bool, form: str, at: str | None, units: str | None
) -> int:
    from trubshoot.batch import read_batch
    from trubshoot.learning.change_words import nearest_forms
    from trubshoot.learning.draft import Draft
    from trubshoot.learning.whatif import whatif
    from trubshoot.report.result_json import to_text
    from trubshoot.report.whatif_json import whatif_json
    from trubshoot.report.whatif_terminal import print_whatif

    now = moment(at)
    try:
        batch = read_batch(path, now)
    except BatchError as error:
        return unreadable(path, [], error, now, form)
    if not changes:
        raise UnitError(f"no change is said. Add `--change`, once for each. {nearest_forms('')}")
    answer = whatif(diagnostician(), Draft.of_file(path), changes, now)
    if form == "json":
        text = to_text(whatif_json(answer))
    else:
        shown = console()
        with shown.capture() as captured:
            system = unit_system(units, batch.units)
            print_whatif(shown, in_units(answer, system), system, all_=all_)
        text = captured.get()
    sys.stdout.write(text)
    return HAZARD if answer.level >= Level.WARNING else FINE
