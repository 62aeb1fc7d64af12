"""The pages of one batch: what is known of it, and the forms that add to its log."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from datetime import datetime
from typing import Any
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response

from trubshoot.batch import Batch
from trubshoot.batch.model import GravityReading
from trubshoot.batch.store import Written, append_lines, remove_last
from trubshoot.batch.verbs import DETAILS, VERBS
from trubshoot.diagnosis import Diagnosis
from trubshoot.diagnosis.after_log import after_log, asked_for
from trubshoot.diagnosis.not_assessed import failure_blocks
from trubshoot.diagnosis.plan_next import NextStep, day_text
from trubshoot.diagnosis.what_changed import leading_cause
from trubshoot.errors import BatchError, UnitError
from trubshoot.report import wording
from trubshoot.safety import HazardBlock, Level
from trubshoot.sentences import in_units
from trubshoot.units import format_temp
from trubshoot.web import log_forms
from trubshoot.web.guard import Form
from trubshoot.web.kitchen import Known, digest
from trubshoot.web.memory import Told
from trubshoot.web.pages_list import age_days
from trubshoot.web.site import (
    about,
    batch_file,
    form_of,
    mark_of,
    missing,
    page,
    problem_lines,
    see,
    session_of,
    site_of,
)
from trubshoot.web.words import (
    CHOICES,
    DEEDS,
    DETAIL_WORDS,
    EXAMPLES,
    INSTRUMENTS,
    OF_WHATS,
    PLACES,
    SAMPLES,
    SENSES,
)

SHOWN_LINES = 12


async def batch(request: Request) -> Response:
    """Show one batch: hazards, forms for the log, what comes next, the log."""
    file = batch_file(request)
    if file is None:
        return missing(request, "The cellar has no batch file of that name.")
    site = site_of(request)
    known = await site.kitchen.known(file)
    if known.diagnosis is not None:
        site.kitchen.ahead(file)
    told = site.told.get(f"{session_of(request).id}:{request.query_params.get('told', '')}")
    return _batch_page(request, known, told)


def _batch_page(
    request: Request,
    known: Known,
    told: Told | None = None,
    complaints: Sequence[str] = (),
    hazards: Sequence[HazardBlock] = (),
) -> Response:
    known = in_units(known, site_of(request).units_of(known.units))
    rows = known.rows
    filled = request.state.form if complaints else Form()
    values: dict[str, Any] = {
        **_about(request, known),
        "told": told,
        "fresh": told.fresh if told is not None else frozenset(),
        "complaints": complaints,
        "filled": filled,
        "wrong": log_forms.wrong_fields(complaints),
        "more": bool(complaints),
        "hazards": _joined(hazards, known.hazards),
        "diagnosis": known.diagnosis,
        "problems": known.problems,
        "fault": known.fault,
        "writable": known.batch is not None,
        "facts": _facts(request, known),
        "pitched": known.batch is not None and known.batch.timeline(known.asked_at).pitched,
        "steps": [_step(step, known.asked_at) for step in known.next_steps],
        "leading": _leading(known.diagnosis),
        "log": rows[::-1][:SHOWN_LINES],
        "older": max(len(rows) - SHOWN_LINES, 0),
        "digest": digest(known.file.raw),
        "of_whats": OF_WHATS,
        "instruments": INSTRUMENTS,
        "samples": SAMPLES,
        "instrument": _instrument(known.batch),
        "hands_off": _hands_off(known),
        "asks_fizz": known.diagnosis is not None and known.diagnosis.evidence.stage != "brewing",
    }
    chosen = dict(INSTRUMENTS)[values["instrument"]].lower()
    values["measured"] = f"beer and sample, {chosen}, now"
    return page(request, "batch.html", values, 422 if complaints else 200)


def _joined(first: Sequence[HazardBlock], second: Sequence[HazardBlock]) -> tuple[HazardBlock, ...]:
    """Return the blocks of words just said, then those that stand, each once."""
    seen = {block.id for block in first}
    return (*first, *(block for block in second if block.id not in seen))


def _about(request: Request, known: Known) -> dict[str, Any]:
    """Return what every page about one batch needs."""
    batch = known.batch
    name = batch.name if batch is not None else known.file.name
    days = batch is not None and log_forms.by_days(batch)
    last = batch.log[-1].day if batch is not None and days else None
    return {
        "title": name,
        **about(known.file, name),
        "file": known.file.name,
        "units": site_of(request).units_of(known.units),
        "degree": "°F" if batch is not None and batch.units == "us" else "°C",
        "by_days": days,
        "day": "" if last is None else f"{last:g}",
        "complaints": (),
        "filled": Form(),
    }


def _facts(request: Request, known: Known) -> list[tuple[str, str]]:
    diagnosis, batch = known.diagnosis, known.batch
    if diagnosis is None or batch is None:
        return [("File", known.file.name)]
    units = site_of(request).units_of(batch.units)
    evidence = diagnosis.evidence
    age = age_days(diagnosis)
    shown = [("Day", "not known" if age is None else str(age))]
    if evidence.readings:
        last = evidence.readings[-1]
        shown.append(("Latest gravity", wording.points_text(last.points)))
    if evidence.expected_end is not None:
        shown.append(("Expected end", wording.points_text(evidence.expected_end.points)))
    mean = evidence.facts.get("beer_temp_mean_c")
    if isinstance(mean, float):
        shown.append(("Beer, about", format_temp(mean, units)))
    return shown


def _step(step: NextStep, now: datetime) -> dict[str, str]:
    when = "Now"
    if step.due is not None:
        when = "Later today" if step.due.date() == now.date() else day_text(step.due)
    took = f", about {wording.minutes_text(step.minutes)}" if step.minutes else ""
    return {"when": f"{when}{took}:", "do": step.do, "why": step.why}


def _leading(diagnosis: Diagnosis | None) -> str:
    cause = leading_cause(diagnosis) if diagnosis is not None else None
    if cause is None:
        return "No cause stands out"
    return f"{cause.label}, {wording.percent(cause.responsibility)}"


def _hands_off(known: Known) -> bool:
    """Tell whether nobody is to be led to the beer: a hazard stands that says to leave it."""
    bottled = known.diagnosis is not None and known.diagnosis.evidence.stage == "bottled"
    return any(
        block.level >= Level.WARNING
        or (bottled and block.topic == "bottles" and block.level >= Level.CAUTION)
        for block in known.hazards
    )


def _instrument(batch: Batch | None) -> str:
    """Return the instrument of the latest gravity, which is offered for the next."""
    readings = [entry for entry in batch.log if isinstance(entry, GravityReading)] if batch else []
    return (readings[-1].instrument or "") if readings else ""


# --- forms


async def reading(request: Request) -> Response:
    """Take a gravity, a temperature, or both."""
    return await _log(request, log_forms.reading)


async def noticed(request: Request) -> Response:
    """Show the form for what was noticed, or take it."""
    if request.method == "POST":
        return await _log(request, log_forms.words)
    filled = Form({"sense": (request.query_params.get("sense", ""),)})
    return await _form_page(request, "noticed.html", {"filled": filled})


async def did(request: Request) -> Response:
    """Show the list of deeds, the form of one, or take it."""
    if request.method == "POST":
        return await _log(request, log_forms.deed)
    return await _form_page(request, "did.html", {"verb": request.query_params.get("verb", "")})


def details_of(verb: str) -> list[dict[str, Any]]:
    """Return the fields of a deed: name, words, an example, and choices where it is chosen."""
    return [
        {
            "name": name,
            "words": DETAIL_WORDS.get((verb, name)) or DETAIL_WORDS["", name],
            "example": EXAMPLES.get(name, ""),
            "choices": CHOICES.get((verb, name)) or CHOICES.get(("", name), ()),
        }
        for name in DETAILS.get(verb, ())
    ]


def _stage(known: Known) -> str:
    return known.diagnosis.evidence.stage if known.diagnosis is not None else ""


async def _form_page(
    request: Request,
    template: str,
    values: dict[str, Any],
    hazards: Sequence[HazardBlock] = (),
) -> Response:
    file = batch_file(request)
    if file is None:
        return missing(request, "The cellar has no batch file of that name.")
    known = await site_of(request).kitchen.known(file)
    if known.batch is None:
        return _batch_page(request, known)
    verb = values.get("verb", "")
    if verb and verb not in VERBS:
        return missing(request, "There is no such deed.")
    known = in_units(known, site_of(request).units_of(known.units))
    shown = {
        **_about(request, known),
        "hazards": _joined(hazards, known.hazards),
        "senses": SENSES,
        "places": PLACES,
        "groups": sorted(DEEDS, key=lambda group: group[1] != _stage(known)),
        "details": details_of(verb),
        **values,
    }
    return page(request, template, shown, 422 if shown["complaints"] else 200)


async def _log(request: Request, read: Any) -> Response:
    """Write what a form says into the log and lead on to what it changed."""
    site, form = site_of(request), form_of(request)
    file = batch_file(request)
    if file is None:
        return missing(request, "The cellar has no batch file of that name.")
    now = site.kitchen.clock()

    async def run() -> str:
        make = read(form, now)
        written = await site.kitchen.write(lambda: append_lines(file.path, make, now))
        dated = bool(form.get("at") or form.get("day"))
        asked = asked_for(written, now) if dated else now
        return await _told(request, written, asked, "Logged")

    try:
        mark = await site.once.do(mark_of(request), run)
    except (BatchError, UnitError) as error:
        return await _refused(request, error)
    return see(f"/batch/{quote(file.name, safe='')}?told={mark}")


async def undo(request: Request) -> Response:
    """Take the last line of the log back, if the log still is the one that was shown."""
    site, form = site_of(request), form_of(request)
    file = batch_file(request)
    if file is None:
        return missing(request, "The cellar has no batch file of that name.")
    now = site.kitchen.clock()

    def meant(text: str) -> bool:
        return digest(text.encode("utf-8")) == form.get("of_file")

    async def run() -> str:
        written = await site.kitchen.write(lambda: remove_last(file.path, now, meant))
        return await _told(request, written, now, "Taken back")

    try:
        mark = await site.once.do(mark_of(request), run)
    except BatchError as error:
        return await _refused(request, error)
    return see(f"/batch/{quote(file.name, safe='')}?told={mark}")


async def _told(request: Request, written: Written, asked: datetime, title: str) -> str:
    """Work out what a change changed, keep it for the page that comes, and return its mark."""
    site = site_of(request)
    units = site.units_of(written.after.units)
    lines = tuple(line.removeprefix("- ").strip("{}") for line in written.lines)
    try:
        after = await site.kitchen.think(
            lambda: in_units(after_log(site.kitchen.work, written, asked, units), units)
        )
    except Exception as error:  # noqa: BLE001 - the line is written; the page shows the hazard block
        blocks = failure_blocks(f"{type(error).__name__}: {error}")
        told = Told(title, lines, (), (), 0, frozenset(block.id for block in blocks))
    else:
        fresh = frozenset(block.id for block in after.hazards)
        twin = after.twin if title == "Logged" else 0
        told = Told(title, lines, after.sentences, after.warnings, twin, fresh)
    mark = secrets.token_urlsafe(9)
    site.told.put(f"{session_of(request).id}:{mark}", told)
    return mark


async def _refused(request: Request, error: BatchError | UnitError) -> Response:
    """Say why a form was not taken; a hazard that its words name comes before that."""
    site, form = site_of(request), form_of(request)
    lines = log_forms.said_once(problem_lines(error))
    said = log_forms.said(form)
    blocks: tuple[HazardBlock, ...] = ()
    if said:
        name = request.path_params["name"]
        now = site.kitchen.clock()
        blocks = await site.kitchen.think(
            lambda: site.kitchen.work.hazards_in_words(Batch(name=name), now, said)
        )
    last = request.url.path.rsplit("/", 1)[1]
    if last in ("noticed", "did"):
        values = {"complaints": lines, "filled": form, "verb": form.get("verb")}
        return await _form_page(request, f"{last}.html", values, blocks)
    file = batch_file(request)
    if file is None:
        return missing(request, "The cellar has no batch file of that name.")
    known = await site.kitchen.known(file)
    return _batch_page(request, known, None, lines, blocks)
