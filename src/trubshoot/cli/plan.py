"""The command `plan`: before brew day, likely faults and the card."""

from __future__ import annotations

import sys
from pathlib import Path

from trubshoot.cli.exits import FINE, HAZARD
from trubshoot.cli.guard import guarded
from trubshoot.cli.session import console, diagnostician, moment, unit_system
from trubshoot.cli.unreadable import unreadable
from trubshoot.errors import BatchError, UnitError
from trubshoot.safety import Level
from trubshoot.sentences import in_units

_FORMS = ("text", "markdown", "json")


def run_plan(path: Path, *, card: bool, form: str, at: str | None, units: str | None) -> int:
    """Print what this process is likely to go wrong with, and its card; returns the exit code.

    Raises: UnitError: a format or a unit that is not known.
    """
    if form not in _FORMS:
        raise UnitError(f'"{form}" is no format. Write {", ".join(_FORMS)}.')
    unit_system(units, "metric")
    kind = "json" if form == "json" else "text"
    return guarded(lambda: _plan(path, card, form, at, units), kind, verdict=False)


def _plan(path: Path, card: bool, form: str, at: str | None, units: str | None) -> int:
    from trubshoot.batch import read_batch
    from trubshoot.learning.draft import Draft
    from trubshoot.learning.plan import brew_day_of, brew_plan
    from trubshoot.report.plan_json import plan_json
    from trubshoot.report.plan_markdown import plan_markdown
    from trubshoot.report.plan_terminal import print_plan
    from trubshoot.report.result_json import to_text

    now = moment(at)
    try:
        batch = read_batch(path, now)
    except BatchError as error:
        return unreadable(path, [], error, now, "json" if form == "json" else "text")
    shown_units = unit_system(units, batch.units)
    plan = brew_plan(diagnostician(), Draft.of_file(path), now, brew_day_of(batch, now))
    plan = in_units(plan, shown_units)
    if form == "json":
        text = to_text(plan_json(plan, shown_units))
    elif form == "markdown":
        text = plan_markdown(plan, shown_units, card_only=card)
    else:
        shown = console()
        with shown.capture() as captured:
            print_plan(shown, plan, shown_units, card_only=card)
        text = captured.get()
    sys.stdout.write(text)
    return HAZARD if plan.level >= Level.WARNING else FINE
