"""The site: what every page needs, and how a page is made from a template."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache, partial
from pathlib import Path
from typing import Any, cast
from urllib.parse import quote

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from trubshoot.errors import BatchError, UnitError
from trubshoot.report import wording
from trubshoot.report.page.fragments import hazard_fragment
from trubshoot.report.page.templating import ticked
from trubshoot.safety import Level
from trubshoot.units import UnitSystem
from trubshoot.web.cellar import BatchFile, Cellar
from trubshoot.web.guard import Doors, Form
from trubshoot.web.kitchen import Kitchen
from trubshoot.web.memory import InMemory, Kept, Once, Practice, Records, Store, Talk, Told
from trubshoot.web.sessions import Pairing, Session, Sessions

FOLDER = Path(__file__).parent
# (address, words) of the places that every page leads to
NAVIGATION: tuple[tuple[str, str], ...] = (
    ("/", "Batches"),
    ("/interview", "Ask"),
    ("/learn", "Learn"),
    ("/drill", "Practise"),
)


@dataclass
class Site:
    """What every page needs."""

    cellar: Cellar
    kitchen: Kitchen
    sessions: Sessions
    pairing: Pairing
    doors: Doors
    units: UnitSystem | None  # as chosen on the command line or in the settings; None: the file's
    once: Once = field(default_factory=Once)
    told: Kept[Told] = field(default_factory=lambda: Kept(1000))
    talks: Store[Talk] = field(default_factory=Store)
    practice: Store[Practice] = field(default_factory=Store)
    records: Records = field(default_factory=InMemory)

    def units_of(self, own: UnitSystem) -> UnitSystem:
        """Return the units to show."""
        return self.units or own


@cache
def environment(units: UnitSystem) -> Environment:
    """Return what makes pages that are read in these units."""
    made = Environment(
        loader=FileSystemLoader(FOLDER / "templates"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=StrictUndefined,
        auto_reload=False,
    )
    made.filters.update(
        date=wording.date_text,
        clock=_clock_text,
        percent=wording.percent,
        sg=wording.points_text,
        minutes=wording.minutes_text,
        ticked=partial(ticked, units=units),
    )
    made.globals.update(
        hazards_html=hazard_fragment, Level=Level, how_much_read=wording.how_much_read
    )
    return made


def _clock_text(moment: datetime) -> str:
    return f"{wording.date_text(moment)}, {moment:%H:%M}"


def site_of(request: Request) -> Site:
    """Return the site that a request belongs to."""
    return cast(Site, request.app.state.site)


def session_of(request: Request) -> Session:
    """Return the browser's session."""
    return cast(Session, request.state.session)


def form_of(request: Request) -> Form:
    """Return the posted form, as the guard let it through."""
    return cast(Form, request.state.form)


def page(
    request: Request, template: str, values: Mapping[str, Any], status: int = 200
) -> HTMLResponse:
    """Return a page made from a template."""
    site = site_of(request)
    shown = {
        "navigation": NAVIGATION,
        "here": request.url.path,
        "token": request.state.token,
        "once": secrets.token_urlsafe(9),
        "hazards": (),
        "fresh": frozenset(),
        "home": site.doors.pairing,
        "trusted": request.state.trusted,
        "units": site.units or "metric",
        **values,
    }
    made = environment(shown["units"]).get_template(template).render(shown)
    return HTMLResponse(made, status)


def missing(request: Request, what: str = "There is no such page here.") -> Response:
    """Return the answer for an address that leads nowhere."""
    return page(request, "missing.html", {"title": "Not here", "what": what}, 404)


def see(path: str) -> Response:
    """Return the answer that leads a browser on after a form."""
    return RedirectResponse(path, 303)


def mark_of(request: Request) -> str:
    """Return what marks a posted form, so that it is done once; "" when it carries no mark."""
    once = form_of(request).get("once")
    return f"{session_of(request).id}:{request.url.path}:{once}" if once else ""


def problem_lines(error: BatchError | UnitError) -> list[str]:
    """Return what is wrong and what to write instead, a line for each problem."""
    lines = [str(error)]
    if isinstance(error, BatchError):
        lines = [f"{item.message} {item.mend}".strip() for item in error.problems]
    return [line[:1].upper() + line[1:] for line in lines]


def about(file: BatchFile, name: str = "") -> dict[str, Any]:
    """Return what every page about one batch needs: its address and its name."""
    return {"address": f"/batch/{quote(file.name, safe='')}", "name": name or file.name}


def batch_file(request: Request) -> BatchFile | None:
    """Return the batch file that an address names; None when the cellar has none of that name."""
    return site_of(request).cellar.file(request.path_params["name"])
