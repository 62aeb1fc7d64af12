"""Pairing: the one page that a device of the home network sees before it has typed a code."""

from __future__ import annotations

from starlette.requests import Request
from starlette.responses import Response

from trubshoot.web.guard import give_session
from trubshoot.web.site import form_of, page, see, site_of

_WRONG = (
    "This code is wrong, used up or too old. After five wrong ones a code is void: "
    "have a new one shown."
)
_TOO_SOON = "A code was shown a moment ago. Look at the terminal, or wait half a minute."


async def pair(request: Request) -> Response:
    """Show the page, or take a code; a right one makes a new, paired session."""
    site = site_of(request)
    if request.state.trusted:
        return see("/")
    if request.method != "POST":
        return _page(request)
    if not site.pairing.use(form_of(request).get("code")):
        return _page(request, _WRONG, 403)
    session = site.sessions.begin(paired=True)
    return give_session(see("/"), site.doors.cookie, site.sessions, session)


async def code(request: Request) -> Response:
    """Show a new code in the terminal."""
    if request.state.trusted:
        return see("/")
    if not site_of(request).pairing.new_code():
        return _page(request, _TOO_SOON, 429)
    return see("/pair")


def _page(request: Request, complaint: str = "", status: int = 200) -> Response:
    values = {"title": "Pair this device", "complaints": [complaint] if complaint else []}
    return page(request, "pair.html", values, status)
