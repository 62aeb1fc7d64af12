"""The command `diagnose`."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

from trubshoot.cli.exits import BAD_INPUT, FINE, HAZARD
from trubshoot.cli.session import console, diagnostician, moment, unit_system
from trubshoot.errors import BatchError, UnitError
from trubshoot.safety import HazardBlock, Level


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
    from trubshoot.batch import read_batch

    if form not in ("text", "json"):
        raise UnitError(f'"{form}" is no format. Write text or json.')
    now = moment(at)
    try:
        batch = read_batch(path, now)
    except BatchError as error:
        return _unreadable(path, words, error, now, form)
    work = diagnostician()
    labels = {key: finding.label for key, finding in work.knowledge.findings.items()}
    diagnosis = work.diagnose(batch, now, words)
    if form == "json":
        from trubshoot.report.result_json import diagnosis_json, to_text

        sys.stdout.write(to_text(diagnosis_json(diagnosis, labels)))
    else:
        from trubshoot.report.terminal import print_diagnosis

        print_diagnosis(console(), diagnosis, labels, unit_system(units, batch.units), why=why)
    return HAZARD if diagnosis.level >= Level.WARNING else FINE


def _unreadable(
    path: Path, words: list[tuple[str, str]], error: BatchError, now: datetime, form: str
) -> int:
    """Say what is wrong with the file; hazards that its text names come before that."""
    blocks = _hazards_in_text(path, words, now)
    if form == "json":
        from trubshoot.report.result_json import FORMAT_VERSION, hazard_json, to_text

        problems = [
            {"path": item.path, "line": item.line, "message": item.message, "mend": item.mend}
            for item in error.problems
        ]
        plain = {
            "format_version": FORMAT_VERSION,
            "hazards": [hazard_json(block) for block in blocks],
            "problems": problems,
        }
        sys.stdout.write(to_text(plain))
    elif blocks:
        from trubshoot.report.terminal import Page, print_hazards

        print_hazards(Page(console()), blocks)
    sys.stderr.write(f"trubshoot: the batch file cannot be used:\n{error}\n")
    if not blocks:
        sys.stderr.write("Nothing was assessed. Treat sealed bottles as suspect until it is.\n")
    return BAD_INPUT


def _hazards_in_text(
    path: Path, words: list[tuple[str, str]], now: datetime
) -> tuple[HazardBlock, ...]:
    """Return the hazards that stand in so many words in a file that cannot be read as a batch."""
    from trubshoot.batch import Batch

    try:
        text = path.read_bytes()[:100_000].decode("utf-8", errors="replace")
    except OSError:
        text = ""
    lines = [("saw", line) for line in text.splitlines()[:2000] if line.strip()]
    work = diagnostician()
    return work.hazards_in_words(Batch(name=path.name), now, [*words, *lines])
