"""The pages for learning: steps, faults and causes to browse, and the map of steps and faults."""

from __future__ import annotations

from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from trubshoot.learning import pages
from trubshoot.learning.heat import heat
from trubshoot.learning.lookup import KINDS, Named
from trubshoot.report import learn_words, wording
from trubshoot.report.learn_words import with_reason
from trubshoot.sentences import in_units
from trubshoot.web.site import missing, page, see, site_of

SHOWN_FAULTS = 25
_LONGEST = 200  # characters of what is looked for
# from which chance a cell of the map is shaded how; the number in it says the same
_SHADES = ((0.20, "s4"), (0.10, "s3"), (0.05, "s2"), (0.02, "s1"), (0.0, ""))


def words() -> dict[str, Any]:
    """Return the words that the templates for learning need."""
    return {
        "often": learn_words.often,
        "of_batches": learn_words.of_batches,
        "odds": learn_words.odds_text,
        "KIND": learn_words.KIND,
        "STAGES": learn_words.STAGES,
        "TELLS": learn_words.TELLS,
        "BY": wording.BY,
        "what_counts": learn_words.WHAT_COUNTS,
        "of_hundred": _of_hundred,
    }


def _of_hundred(chance: float) -> str:
    """Return a chance as a number out of a hundred; the ends are never claimed."""
    number = min(round(100 * chance), 99)
    return str(number) if number else "under 1"


async def learn(request: Request) -> Response:
    """Show the steps with their commonest faults, or what words mean."""
    site = site_of(request)
    text = request.query_params.get("q", "").strip()[:_LONGEST]
    values: dict[str, Any] = {**words(), "title": "Learn", "asked": text, "found": None}
    if text:
        found = await site.kitchen.think(lambda: site.kitchen.library.index.find(text))
        if found.one is not None:
            return see(_address(found.one))
        values["found"] = found
    values["overview"] = await site.kitchen.think(lambda: site.kitchen.library.overview())
    return page(request, "learn.html", values)


def _address(thing: Named) -> str:
    return f"/learn/{thing.kind}/{thing.id}"


async def thing(request: Request) -> Response:
    """Show the page of one step, fault, cause, circumstance, hazard or source."""
    site = site_of(request)
    kind, key = request.path_params["kind"], request.path_params["id"]

    def make() -> pages.Page | None:
        library = site.kitchen.library
        if kind not in KINDS or (kind, key) not in library.index.things:
            return None
        return in_units(library.page(library.index.thing(kind, key)), site.units_of("metric"))

    shown = await site.kitchen.think(make)
    if shown is None:
        return missing(request, "Nothing of that name is known.")
    named: Named = getattr(shown, kind)
    values = {
        **words(),
        "title": named.label,
        "kind": kind,
        "shown": shown,
        "hazards": with_reason(getattr(shown, "hazards", ())),
    }
    return page(request, "learn_thing.html", values)


async def whole_map(request: Request) -> Response:
    """Show which step makes which fault, in numbers that are shaded as well."""
    site = site_of(request)
    every = "all" in request.query_params
    kitchen = site.kitchen
    shown = await kitchen.think(
        lambda: heat(
            kitchen.work.knowledge, kitchen.library.beginner, None if every else SHOWN_FAULTS
        )
    )
    rows = [(row.fault, [_cell(chance) for chance in row.by_step]) for row in shown.rows]
    values = {**words(), "title": "Which step makes which fault", "heat": shown, "rows": rows}
    return page(request, "learn_map.html", values)


def _cell(chance: float) -> tuple[str, str]:
    """Return the words of a cell and the class that shades it."""
    shade = next(name for lowest, name in _SHADES if chance >= lowest)
    if chance <= 0:
        return "", ""
    number = min(round(100 * chance), 99)
    return (str(number), shade) if number else ("\u00b7", "")
