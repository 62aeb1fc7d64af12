"""Practice on invented cases, one step a page; the machine is that of `trubshoot drill`."""

from __future__ import annotations

import secrets
from typing import Any

from starlette.requests import Request
from starlette.responses import Response

from trubshoot.learning.drill import Drill, DrillPrompt
from trubshoot.learning.drill_debrief import Debrief, debrief
from trubshoot.learning.drill_draw import LEVELS
from trubshoot.learning.drill_progress import next_level, progress_of, record_of
from trubshoot.report import drill_words, wording
from trubshoot.sentences import in_units
from trubshoot.web.memory import Practice
from trubshoot.web.site import form_of, missing, page, see, session_of, site_of

_GONE = "This case is not kept any more. Begin another one."
_PICKED_FROM = 1_000_000


async def start(request: Request) -> Response:
    """Offer a case, and show what came of those before."""
    site = site_of(request)
    records = await site.kitchen.write(site.records.read)
    labels = {key: cause.label for key, cause in site.kitchen.work.knowledge.causes.items()}
    values = {
        "title": "Practise",
        "levels": range(1, len(LEVELS) + 1),
        "progress": progress_of(records),
        "labels": labels,
        "open": [
            (name, one)
            for name, one in site.practice.of(session_of(request).id)
            if one.state.phase != "end"
        ],
    }
    return page(request, "drill_start.html", values)


async def begin(request: Request) -> Response:
    """Draw a case."""
    site = site_of(request)
    wanted = form_of(request).get("level")
    records = await site.kitchen.write(site.records.read)
    level = int(wanted) if wanted in [str(one) for one in range(1, len(LEVELS) + 1)] else 0
    level = level or next_level(records)
    number = secrets.randbelow(_PICKED_FROM)

    def make() -> Drill:
        kitchen = site.kitchen
        return Drill(kitchen.bench, kitchen.library.index, kitchen.bench.draw(number, 1, level))

    drill = await site.kitchen.think(make)
    name = site.practice.begin(Practice(session_of(request).id, drill))
    return see(f"/drill/{name}")


async def show(request: Request) -> Response:
    """Show what is asked now in a case, or what it taught."""
    site = site_of(request)
    one = site.practice.get(request.path_params["id"], session_of(request).id)
    if one is None:
        return missing(request, _GONE)
    drill, state = one.drill, one.state

    def look() -> tuple[DrillPrompt, Debrief | None]:
        told = debrief(drill, state) if state.phase == "end" else None
        return drill.prompt(state), told

    prompt, told = await site.kitchen.think(look)
    knowledge = site.kitchen.work.knowledge
    message = prompt.message
    case = drill.case
    values: dict[str, Any] = {
        "title": "What it taught" if told else "Practise",
        "address": f"/drill/{request.path_params['id']}",
        "case": case,
        "about": [knowledge.findings[name].label for name in case.told],
        "circumstances": [knowledge.contexts[name].label for name in case.circumstances],
        "words": drill_words,
        "prompt": prompt,
        "asked": [(knowledge.findings[test.finding].label, test.present) for test in state.asked],
        "message": drill_words.message_text(message),
        "step": len(state.turns),
        "told": told,
        "hazards": told.hazards if told else prompt.hazards,
        "BY": wording.BY,
    }
    return page(request, "drill.html", in_units(values, site.units_of("metric")))


async def answer(request: Request) -> Response:
    """Take an answer; a case that ends by it is put down once."""
    site, form = site_of(request), form_of(request)
    one = site.practice.get(request.path_params["id"], session_of(request).id)
    if one is None:
        return missing(request, _GONE)
    said = form.get("answer") or form.get("words")

    def take() -> Debrief | None:
        # a page that was answered already is not answered a second time
        if form.get("step") != str(len(one.state.turns)) or one.state.phase == "end":
            return None
        one.state = one.drill.answer(one.state, said)
        return debrief(one.drill, one.state) if one.state.phase == "end" else None

    told = await site.kitchen.think(take)
    if told is not None:
        record = record_of(one.drill.case, told, site.kitchen.clock().date().isoformat())
        await site.kitchen.write(lambda: site.records.add(record))
    return see(request.url.path.removesuffix("/answer"))
