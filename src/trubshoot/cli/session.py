"""What every command needs: the knowledge made ready once, the moment of asking, a console."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING

from trubshoot.errors import UnitError

if TYPE_CHECKING:
    from rich.console import Console

    from trubshoot.diagnosis import Diagnostician
    from trubshoot.report.terminal import Page
    from trubshoot.units import UnitSystem

MAX_WIDTH = 100  # longer lines are hard to read


@cache
def diagnostician() -> Diagnostician:
    """Return the knowledge made ready for work."""
    from trubshoot.diagnosis import Diagnostician
    from trubshoot.knowledge_base import load_knowledge

    return Diagnostician(load_knowledge())


def page_text(write: Callable[[Page], None]) -> str:
    """Return what is written on a page for the terminal, as text."""
    from trubshoot.report.terminal import Page

    shown = console()
    with shown.capture() as captured:
        write(Page(shown))
    return captured.get()


def checked_form(text: str) -> str:
    """Return text or json. Raises UnitError for any other format."""
    if text not in ("text", "json"):
        raise UnitError(f'"{text}" is no format. Write text or json.')
    return text


def moment(text: str | None) -> datetime:
    """Return the moment named, or now; a bare day means late that day.

    Raises: UnitError: it is no date, or may be two.
    """
    if text is None:
        return datetime.now()
    try:
        named = datetime.fromisoformat(text.strip()).replace(tzinfo=None)
        known = bool(named.hour or named.minute)
    except ValueError:
        from trubshoot.batch.typed_time import typed_moment  # most dates need no more

        named, known = typed_moment(text, datetime.now())
    return named if known else named.replace(hour=23, minute=0)


def chosen_units(text: str | None) -> str | None:
    """Return the units named on the command line, else in the user's settings, else None."""
    if text is not None:
        return unit_system(text, "metric")
    from trubshoot.cli.places import settings

    return settings().get("units")


def unit_system(text: str | None, own: UnitSystem) -> UnitSystem:
    """Return the units to show: as named, else of the user's settings, else `own`.

    Raises: UnitError: anything but us and metric, or settings that cannot be read.
    """
    text = chosen_units(None) if text is None else text
    if text is None:
        return own
    if text == "us":
        return "us"
    if text == "metric":
        return "metric"
    raise UnitError(f'"{text}" is no system of units. Write us or metric.')


def console() -> Console:
    """Return a console for standard output, no wider than a page is readable."""
    from rich.console import Console

    shown = Console(file=sys.stdout, highlight=False, emoji=False, markup=False)
    width = int(os.environ["COLUMNS"]) if os.environ.get("COLUMNS", "").isdigit() else shown.width
    shown.width = max(40, min(width, MAX_WIDTH))
    return shown
