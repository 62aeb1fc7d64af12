"""The commands `bottling` and `bottles`."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from trubshoot.cli.exits import FINE, HAZARD
from trubshoot.cli.guard import guarded
from trubshoot.cli.session import checked_form, console, diagnostician, moment, unit_system
from trubshoot.cli.unreadable import unreadable
from trubshoot.errors import BatchError, UnitError
from trubshoot.safety import Level
from trubshoot.sentences import in_units


@dataclass(frozen=True)
class Asked:
    """How an answer is wanted."""

    form: str
    at: str | None
    units: str | None
    why: bool


def run_bottling(path: Path, options: Mapping[str, str | None], asked: Asked) -> int:
    """Print whether a batch may be bottled; 0 for GO, 3 for HOLD or a hazard at WARNING."""
    form = checked_form(asked.form)
    return guarded(lambda: _bottling(path, options, asked), form, verdict=True)


def _bottling(path: Path, options: Mapping[str, str | None], asked: Asked) -> int:
    from trubshoot.batch import read_batch
    from trubshoot.batch.plan_options import with_options
    from trubshoot.diagnosis.bottling_report import bottling_report
    from trubshoot.report.bottling_json import bottling_json
    from trubshoot.report.bottling_terminal import print_bottling, print_is_bottled
    from trubshoot.report.result_json import to_text

    now = moment(asked.at)
    try:
        batch = read_batch(path, now)
    except BatchError as error:
        return unreadable(path, [], error, now, asked.form, asked="bottling")
    batch = with_options(batch, path.read_text("utf-8"), str(path), options)
    units = unit_system(asked.units, batch.units)
    report = in_units(bottling_report(diagnostician(), batch, now), units)
    if asked.form == "json":
        text = to_text(bottling_json(report, units))
    else:
        shown = console()
        with shown.capture() as captured:
            if report.verdict is None:
                print_is_bottled(shown, report)
            else:
                print_bottling(shown, report, units, why=asked.why)
        text = captured.get()
    sys.stdout.write(text)
    go = report.verdict is not None and report.verdict.go and report.level < Level.WARNING
    return FINE if go else HAZARD


def run_bottles(path: Path | None, asked: Asked, *, table: bool) -> int:
    """Print what filled bottles hold, or the table of bottle classes.

    Raises: UnitError: neither a batch file nor the table is asked for.
    """
    form = checked_form(asked.form)
    if table:
        return _table(asked)
    if path is None:
        raise UnitError("no batch is named. Name one, or write `trubshoot bottles --table`.")
    return guarded(lambda: _bottles(path, asked), form, verdict=False)


def _bottles(path: Path, asked: Asked) -> int:
    from trubshoot.batch import read_batch
    from trubshoot.diagnosis.bottling_report import bottling_report
    from trubshoot.report.bottles_terminal import print_bottles
    from trubshoot.report.bottling_json import bottles_json
    from trubshoot.report.result_json import to_text

    now: datetime = moment(asked.at)
    try:
        batch = read_batch(path, now)
    except BatchError as error:
        return unreadable(path, [], error, now, asked.form, asked="bottles")
    units = unit_system(asked.units, batch.units)
    report = in_units(bottling_report(diagnostician(), batch, now), units)
    if asked.form == "json":
        text = to_text(bottles_json(report, units))
    else:
        shown = console()
        with shown.capture() as captured:
            print_bottles(shown, report, units, why=asked.why)
        text = captured.get()
    sys.stdout.write(text)
    return HAZARD if report.level >= Level.WARNING else FINE


def _table(asked: Asked) -> int:
    from trubshoot.diagnosis.bottle_classes import bottle_classes
    from trubshoot.knowledge_base import load_knowledge
    from trubshoot.report.bottles_terminal import print_classes
    from trubshoot.report.bottling_json import classes_json
    from trubshoot.report.result_json import to_text

    knowledge = load_knowledge()
    rows = bottle_classes(knowledge)
    notes = knowledge.checklists["bottle_classes"].items
    if asked.form == "json":
        sys.stdout.write(to_text(classes_json(rows, notes)))
    else:
        print_classes(console(), rows, notes, unit_system(asked.units, "metric"))
    return FINE
