"""The command `diagnose`."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trubshoot.cli.exits import FINE, HAZARD
from trubshoot.cli.guard import guarded
from trubshoot.cli.session import checked_form, console, diagnostician, moment, unit_system
from trubshoot.cli.unreadable import unreadable
from trubshoot.errors import BatchError, UnitError
from trubshoot.safety import Level
from trubshoot.sentences import in_units

if TYPE_CHECKING:
    from trubshoot.batch import Batch
    from trubshoot.diagnosis.own_history import OwnHistory


@dataclass(frozen=True)
class OwnChoice:
    """Whose confirmed batches shift the chances, as typed; by default as the settings say."""

    folder: Path | None = None
    none: bool = False

    def of(self, path: Path, batch: Batch, now: datetime) -> OwnHistory | None:
        """Return what the cellar's batches make of the priors; None leaves the textbook's.

        A cellar named in the settings counts for the batch files inside it and for no others.

        Raises: UnitError: both options are given, or the folder is none.
        """
        if self.none and self.folder is not None:
            raise UnitError("--own-history and --no-own-history exclude each other. Give one.")
        folder = None if self.none else self.folder or _cellar_of_settings(path)
        if folder is None:
            return None
        if not folder.is_dir():
            raise UnitError(
                f"{folder} is no folder of batches. Correct --own-history, or leave it out."
            )
        from trubshoot.learning.history import read_history
        from trubshoot.learning.own_priors import own_history

        knowledge = diagnostician().knowledge
        found = own_history(read_history(folder, knowledge, now), knowledge, batch, path)
        return found if found.confirmed else None


_BY_SETTINGS = OwnChoice()


def _cellar_of_settings(path: Path) -> Path | None:
    from trubshoot.cli.places import settings

    named = settings().get("cellar")
    if named is None:
        return None
    folder = Path(named).expanduser()
    if not folder.is_dir():
        # a wrong setting must not keep anybody from an answer
        sys.stderr.write(f"trubshoot: the cellar of the settings, {folder}, is no folder.\n")
        return None
    return folder if folder.resolve() in path.resolve().parents else None


def run_diagnose(
    path: Path,
    words: list[tuple[str, str]],
    *,
    why: bool,
    form: str,
    at: str | None,
    units: str | None,
    own: OwnChoice = _BY_SETTINGS,
) -> int:
    """Diagnose one batch file and print it; returns the exit code."""
    form = checked_form(form)
    return guarded(
        lambda: _diagnose(path, words, why=why, form=form, at=at, units=units, own=own),
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
    own: OwnChoice,
) -> int:
    from trubshoot.batch import read_batch

    now = moment(at)
    try:
        batch = read_batch(path, now)
    except BatchError as error:
        return unreadable(path, words, error, now, form)
    work = diagnostician()
    labels = {key: finding.label for key, finding in work.knowledge.findings.items()}
    history = own.of(path, batch, now)
    diagnosis = work.diagnose(batch, now, words, own=history)
    if form == "json":
        from trubshoot.report.result_json import diagnosis_json, to_text

        text = to_text(diagnosis_json(diagnosis, labels))
    else:
        from trubshoot.report.terminal import print_diagnosis

        shown = console()
        with shown.capture() as captured:
            system = unit_system(units, batch.units)
            print_diagnosis(shown, in_units(diagnosis, system), labels, system, why=why)
        text = captured.get()
    sys.stdout.write(text)
    return HAZARD if diagnosis.level >= Level.WARNING else FINE
