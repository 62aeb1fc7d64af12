"""The page that begins a batch: the questions of `trubshoot new`, and the same file from them."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response

from trubshoot.batch import Batch, new_sheet
from trubshoot.batch.new_sheet import QUESTIONS
from trubshoot.batch.store import create
from trubshoot.errors import BatchError, UnitError
from trubshoot.safety import HazardBlock
from trubshoot.units import UnreadableQuantity
from trubshoot.web.guard import Form
from trubshoot.web.memory import Told
from trubshoot.web.site import form_of, mark_of, page, problem_lines, see, session_of, site_of
from trubshoot.web.words import NEW_CHOICES, NEW_GROUPS


@dataclass(frozen=True)
class Filled:
    """A form as it was filled in: answers, remarks, and what cannot be read, all by place."""

    answers: Mapping[str, Sequence[str]]
    remarks: Mapping[str, str]
    wrong: Mapping[str, str]


def read(form: Form) -> Filled:
    """Return what a form says.

    An answer that cannot be read is asked for once more, as in the terminal; when it comes again it
    is kept as a remark.
    """
    asked_again = form.all("again")
    answers: dict[str, Sequence[str]] = {}
    remarks: dict[str, str] = {}
    wrong: dict[str, str] = {}
    for question in QUESTIONS:
        given = form.get(question.place)
        texts = [new_sheet.tidy(line) for line in given.splitlines() or [""]]
        good: list[str] = []
        bad: list[str] = []
        for text in texts if question.several else [" ".join(texts)]:
            if not text:
                continue
            try:
                question.read(text, new_sheet.units_of(answers))
            except UnreadableQuantity as error:
                bad.append(text)
                wrong.setdefault(question.place, str(error))
            else:
                good.append(text)
        if good:
            answers[question.place] = good
        if bad and question.place in asked_again:
            remarks[question.place] = "; ".join(bad)
            del wrong[question.place]
    return Filled(answers, remarks, wrong)


async def new(request: Request) -> Response:
    """Show the questions, or write the file that the answers make and lead on to its page."""
    if request.method != "POST":
        return _page(request, Form({"units": (site_of(request).units or "",)}))
    site, form = site_of(request), form_of(request)
    filled = read(form)
    if filled.wrong:
        return _page(request, form, filled.wrong, hazards=await _hazards(request, form))
    now = site.kitchen.clock()
    name = filled.answers.get("batch", [new_sheet.NO_NAME])[0]

    async def run() -> str:
        path = site.cellar.new_path(name)
        text = new_sheet.sheet(path.name, {**filled.answers, "batch": [name]}, filled.remarks)
        await site.kitchen.write(lambda: create(path, text, now))
        return path.name

    try:
        file = await site.once.do(mark_of(request), run)
    except (BatchError, UnitError) as error:
        lines = problem_lines(error)
        return _page(request, form, {}, lines, await _hazards(request, form))
    mark = secrets.token_urlsafe(9)
    left = new_sheet.still_open(filled.answers)
    said = [f"Left open, to be filled in any time in the file: {'; '.join(left)}."] if left else []
    told = Told("Begun", (f"Wrote {file}",), tuple(said), (), 0, frozenset())
    site.told.put(f"{session_of(request).id}:{mark}", told)
    return see(f"/batch/{quote(file, safe='')}?told={mark}")


async def _hazards(request: Request, form: Form) -> tuple[HazardBlock, ...]:
    """Return the hazards that answers name which are shown again and not written."""
    kitchen = site_of(request).kitchen
    said = [("saw", text) for item in QUESTIONS if (text := form.get(item.place))]
    if not said:
        return ()
    batch = Batch(name=new_sheet.NO_NAME)
    return await kitchen.think(lambda: kitchen.work.hazards_in_words(batch, kitchen.clock(), said))


def _page(
    request: Request,
    form: Form,
    wrong: Mapping[str, str] = {},
    complaints: Sequence[str] = (),
    hazards: Sequence[HazardBlock] = (),
) -> Response:
    groups: list[tuple[str, list[dict[str, Any]]]] = []
    for heading, heads in NEW_GROUPS:
        fields = [
            {
                "place": question.place,
                "ask": question.ask.partition(":")[0],  # what may be chosen is seen
                "example": question.example,
                "help": question.help,
                "several": question.several,
                "choices": NEW_CHOICES.get(question.place, ()),
                "value": form.get(question.place),
                "wrong": wrong.get(question.place, ""),
            }
            for question in QUESTIONS
            if question.place.partition(".")[0] in heads
        ]
        groups.append((heading, fields))
    values = {
        "title": "Begin a batch",
        "groups": groups,
        "wrong": wrong,
        "asks": {question.place: question.ask for question in QUESTIONS},
        "complaints": complaints,
        "hazards": hazards,
    }
    return page(request, "new.html", values, 422 if wrong or complaints else 200)
