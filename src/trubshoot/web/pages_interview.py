"""The interview on pages: one question a page, the state kept by the server, every step a form."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response

from trubshoot.batch import read_batch
from trubshoot.batch.store import append_lines, create
from trubshoot.diagnosis.overview import Overview, overview
from trubshoot.errors import BatchError, UnitError
from trubshoot.interview import Interview, Prompt, State
from trubshoot.interview.sheet import beyond_the_log
from trubshoot.interview.told import told
from trubshoot.report import wording
from trubshoot.sentences import in_units
from trubshoot.units import UnitSystem
from trubshoot.web.guard import Form
from trubshoot.web.memory import Talk
from trubshoot.web.pages_answers import sections
from trubshoot.web.site import (
    form_of,
    mark_of,
    missing,
    page,
    problem_lines,
    see,
    session_of,
    site_of,
)

_GONE = (
    "This interview is not kept any more: it was left for too long, or the server was started "
    "anew. Begin another one."
)
_REMEMBERED = 6  # diagnoses a kept interview holds on to


async def start(request: Request) -> Response:
    """Offer an interview about something new or about a batch of the cellar, and those begun."""
    site = site_of(request)
    files = await site.kitchen.write(site.cellar.files)
    own = [
        {"id": name, "about": talk.file or "a beer without a file", "count": len(talk.state.turns)}
        for name, talk in site.talks.of(session_of(request).id)
        if talk.state.turns and not talk.saved
    ]
    values = {"title": "Ask", "files": [file.name for file in files], "own": own[::-1]}
    return page(request, "interview_start.html", values)


async def begin(request: Request) -> Response:
    """Begin an interview."""
    site, form = site_of(request), form_of(request)
    name = form.get("file")
    file = site.cellar.file(name) if name else None
    if name and file is None:
        return missing(request, "The cellar has no batch file of that name.")
    units: UnitSystem | None = site.units
    if form.get("units") in ("us", "metric"):
        units = "us" if form.get("units") == "us" else "metric"
    now = site.kitchen.clock()

    def make() -> Interview:
        text = None if file is None else file.raw.decode("utf-8-sig")
        path = "<interview>" if file is None else file.name
        return Interview(site.kitchen.work, now, units, text, path, _REMEMBERED)

    try:
        interview = await site.kitchen.think(make)
    except (BatchError, UnicodeDecodeError):
        return see(f"/batch/{quote(name, safe='')}")  # whose page says what is wrong with it
    talk = Talk(session_of(request).id, None if file is None else file.name, interview, now)
    return see(f"/interview/{site.talks.begin(talk)}")


async def show(request: Request) -> Response:
    """Show the question that is asked now, or the answer at the end."""
    talk = _talk(request)
    if talk is None:
        return missing(request, _GONE)
    return await _shown(request, talk)


async def answer(request: Request) -> Response:
    """Take an answer; one to an earlier question goes on from there."""
    site, form = site_of(request), form_of(request)
    talk = _talk(request)
    if talk is None:
        return missing(request, _GONE)
    step = form.get("step")
    at = int(step) if step.isdecimal() and len(step) < 5 else len(talk.history) - 1
    text, prompt_id = _answered(form), form.get("prompt")

    def take() -> None:
        # an older page that is sent again goes on from the place it was shown at
        del talk.history[min(at, len(talk.history) - 1) + 1 :]
        state = talk.state
        if prompt_id and prompt_id != talk.interview.prompt(state).id:
            return
        after = talk.interview.answer(state, text)
        if len(after.turns) > len(state.turns):
            talk.history.append(after)
        else:
            talk.history[-1] = after

    await site.kitchen.think(take)
    return see(request.url.path.removesuffix("/answer"))


async def back(request: Request) -> Response:
    """Go back one question."""
    talk = _talk(request)
    if talk is None:
        return missing(request, _GONE)
    if len(talk.history) > 1:
        talk.history.pop()
    return see(request.url.path.removesuffix("/back"))


async def enough(request: Request) -> Response:
    """Ask no more and show the answer."""
    talk = _talk(request)
    if talk is None:
        return missing(request, _GONE)
    if talk.state.turns:
        talk.history.append(talk.interview.finish(talk.state))
    return see(request.url.path.removesuffix("/enough"))


async def save(request: Request) -> Response:
    """Write the answers into the log they are about, or as a new batch file."""
    site, form = site_of(request), form_of(request)
    talk = _talk(request)
    if talk is None:
        return missing(request, _GONE)
    state, now = talk.state, site.kitchen.clock()
    if (await site.kitchen.think(lambda: talk.interview.prompt(state))).form != "end":
        return see(request.url.path.removesuffix("/save"))

    async def run() -> str:
        if talk.file is not None:
            file = site.cellar.file(talk.file)
            if file is None:
                raise UnitError("The file is not there any more.")
            lines = await site.kitchen.think(lambda: talk.interview.lines(state))
            if lines:
                await site.kitchen.write(lambda: append_lines(file.path, lambda _: lines, now))
            return talk.file
        name = " ".join(form.get("name").split())
        if not re.search("[A-Za-z0-9]", name):
            raise UnitError("Give the batch a name of a few letters or figures.")
        text = await site.kitchen.think(lambda: talk.interview.text(state, name))
        path = site.cellar.new_path(name)
        await site.kitchen.write(lambda: create(path, text, now))
        return path.name

    try:
        if not talk.saved:
            talk.saved = await site.once.do(mark_of(request), run)
    except (BatchError, UnitError) as error:
        return await _shown(request, talk, problem_lines(error))
    return see(f"/batch/{quote(talk.saved, safe='')}")


def _talk(request: Request) -> Talk | None:
    talks = site_of(request).talks
    return talks.get(request.path_params["id"], session_of(request).id)


def _answered(form: Form) -> str:
    """Return what a form says, as it would be typed: a button, ticked numbers, or words."""
    words = " ".join(form.get("words").split())
    if form.get("answer") == "words":
        return words
    if form.get("answer") == "ticked":
        numbers = " ".join(number for number in form.all("tick") if number.isdecimal())
        return words or numbers
    return form.get("answer") or words


async def _shown(request: Request, talk: Talk, complaints: list[str] | None = None) -> Response:
    site = site_of(request)
    state = talk.state

    def look() -> tuple[Prompt, Overview | None]:
        prompt = talk.interview.prompt(state)
        if prompt.form != "end":
            return prompt, None
        interview = talk.interview
        batch = read_batch(interview.text(state), interview.now, interview.path)
        return prompt, overview(interview.work, batch, interview.now)

    prompt, view = await site.kitchen.think(look)
    units = site.units_of(talk.interview.units_of(state))
    prompt, view = in_units(prompt, units), in_units(view, units)
    values: dict[str, Any] = {
        "title": "Ask",
        "talk": talk,
        "address": f"/interview/{request.path_params['id']}",
        "prompt": prompt,
        "step": len(talk.history) - 1,
        "number": len(set(state.asked)) + 1,
        "about": [told(item) for item in prompt.about],
        "hazards": prompt.hazards,
        "fresh": frozenset(),
        "complaints": complaints or [],
        "message": prompt.message,
    }
    if view is not None:
        return _ended(request, talk, state, view, values)
    return page(request, "interview.html", values)


def _ended(
    request: Request, talk: Talk, state: State, view: Overview, values: dict[str, Any]
) -> Response:
    units = site_of(request).units_of(talk.interview.units_of(state))
    beyond = beyond_the_log(talk.interview.work.knowledge, state.items) if talk.file else ()
    values |= {
        "title": "The answer",
        "units": units,
        "sections": sections(view, units),
        "lines": len(talk.interview.lines(state)) if talk.file else 0,
        "beyond": [told(item) for item in beyond if item.id != "stage"],
        "suggested": f"My batch {wording.date_text(talk.began)}",
    }
    return page(request, "interview_end.html", values, 422 if values["complaints"] else 200)
