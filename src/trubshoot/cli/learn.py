"""The command `learn`: browse what is known, and the map of steps and faults."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from trubshoot.cli.exits import FINE
from trubshoot.cli.session import console, diagnostician, page_text, unit_system
from trubshoot.errors import UnitError
from trubshoot.sentences import in_units
from trubshoot.units import UnitSystem

if TYPE_CHECKING:
    from trubshoot.learning.browse import Library
    from trubshoot.learning.lookup import Found

MAP = "map"
MAP_WIDTH = 120  # a map is looked over, not read: it may be wider than a page of text
SHOWN_FAULTS = 25


def run_learn(
    words: Sequence[str],
    form: str,
    top: int | None,
    steps: Sequence[str],
    faults: Sequence[str],
    units: str | None,
) -> int:
    """Show the steps, the page of one thing, or the map; returns the exit code.

    Raises: UnitError: an option that cannot be, or words that name nothing known.
    """
    text = " ".join(words)
    is_map = text.strip().lower() == MAP
    forms = ("text", "json", "csv") if is_map else ("text", "json")
    if form not in forms:
        raise UnitError(f'"{form}" is no format. Write {" or ".join(forms)}.')
    if not is_map and (top is not None or steps or faults):
        raise UnitError("--top, --step and --fault belong to `trubshoot learn map`.")
    system = unit_system(units, "metric")
    from trubshoot.learning.browse import Library

    library = Library(diagnostician())
    if is_map:
        return _map(library, form, top, steps, faults)
    if not text.strip():
        return _show(library.overview(), form, system)
    found = library.index.find(text)
    if not found.meant:
        raise UnitError(nothing_fits(found))
    if found.one is None:
        return _meant(found, form)
    if found.spelt and form == "text":
        sys.stdout.write(f'Nothing is called "{found.asked}"; the nearest:\n\n')
    return _show(library.page(found.one), form, system)


def nothing_fits(found: Found) -> str:
    """Return the message for words that mean nothing known."""
    nearest = "; ".join(found.nearest)
    mend = f" Nearest: {nearest}." if nearest else ""
    return (
        f'"{found.asked[:80]}" is no step, fault or cause that is known.{mend}'
        " `trubshoot learn` lists the steps, `trubshoot learn map` the faults."
    )


def _show(page: object, form: str, system: UnitSystem) -> int:
    if form == "json":
        from trubshoot.report.learn_json import view_json
        from trubshoot.report.result_json import to_text

        view = type(page).__name__.removesuffix("Page").lower()
        sys.stdout.write(to_text(view_json(view, page)))
        return FINE
    from trubshoot.report.learn_terminal import print_page

    told = in_units(page, system)
    sys.stdout.write(page_text(lambda shown: print_page(shown, told)))  # type: ignore[arg-type]  # one of the pages
    return FINE


def _meant(found: Found, form: str) -> int:
    if form == "json":
        from trubshoot.report.learn_json import found_json
        from trubshoot.report.result_json import to_text

        sys.stdout.write(to_text(found_json(found)))
        return FINE
    from trubshoot.report.learn_terminal import print_meant

    sys.stdout.write(page_text(lambda shown: print_meant(shown, found)))
    return FINE


def _one(library: Library, text: str, kind: str) -> str:
    """Return the id of the one thing of a kind that a text means. Raises UnitError."""
    found = library.index.find(text, (kind,))
    if found.one is not None:
        return found.one.id
    if not found.meant:
        raise UnitError(nothing_fits(found))
    labels = "; ".join(thing.id for thing in found.meant)
    raise UnitError(f'"{text}" may mean several things. Write one of: {labels}.')


def _map(
    library: Library, form: str, top: int | None, steps: Sequence[str], faults: Sequence[str]
) -> int:
    from trubshoot.learning.heat import heat

    if top is not None and top < 1:
        raise UnitError(f"--top {top}: write how many faults to show, at least 1.")
    if top is None and form == "text" and not faults:
        top = SHOWN_FAULTS
    shown = heat(
        library.knowledge,
        library.beginner,
        top,
        [_one(library, text, "step") for text in steps],
        list(dict.fromkeys(_one(library, text, "finding") for text in faults)),
    )
    if form == "csv":
        from trubshoot.report.learn_json import heat_csv

        sys.stdout.write(heat_csv(shown))
    elif form == "json":
        from trubshoot.report.learn_json import heat_json
        from trubshoot.report.result_json import to_text

        sys.stdout.write(to_text(heat_json(shown)))
    else:
        from trubshoot.report.heat_terminal import print_heat
        from trubshoot.report.terminal import Page

        terminal = console()
        terminal.width = min(_terminal_width(terminal.width), MAP_WIDTH)
        with terminal.capture() as captured:
            print_heat(Page(terminal), shown)
        sys.stdout.write(captured.get())
    return FINE


def _terminal_width(page: int) -> int:
    """Return the width of the terminal, which may be more than a page of text takes."""
    named = os.environ.get("COLUMNS", "")
    if named.isdigit():
        return max(int(named), 40)
    if sys.stdout.isatty():
        import shutil

        return max(shutil.get_terminal_size().columns, 40)
    return page
