"""Everything a request must pass before a page sees it, in one place that no page can forget.

Host header, method, size, time, rate, session, pairing; for a form also where it comes from, its
token and its shape. What is refused is answered here, in plain text, without looking further.
"""

from __future__ import annotations

import asyncio
from collections.abc import Mapping
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from ipaddress import ip_address
from typing import Any
from urllib.parse import parse_qsl

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from trubshoot.web.sessions import Clock, Rate, Session, Sessions

MAX_BODY = 64 * 1024
MAX_FIELDS = 60
MAX_FIELD = 4000  # characters
MAX_HEAD = 16 * 1024
MAX_PATH = 1000
MAX_QUERY = 4000
BODY_WITHIN_S = 10.0
ANSWER_WITHIN_S = 30.0
FORM = "application/x-www-form-urlencoded"
# what a device may see before it is paired
OPEN_TO_ALL = ("/pair", "/pair/code", "/static/")

HEADERS: Mapping[str, str] = {
    "content-security-policy": (
        "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; "
        "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    # same-origin and not no-referrer: with the latter a browser hides where a form comes from
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), geolocation=(), microphone=()",
    "cache-control": "no-store",
}


@dataclass(frozen=True)
class Form:
    """The fields of a posted form, each with all its values."""

    fields: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def get(self, name: str) -> str:
        """Return a field without spaces around it; "" when it was not filled in."""
        return self.fields.get(name, ("",))[0].strip()

    def all(self, name: str) -> tuple[str, ...]:
        """Return every value of a field."""
        return self.fields.get(name, ())


@dataclass(frozen=True)
class Doors:
    """Where the server may be spoken to.

    hosts: values of the Host header that name this server. pairing: whether devices other than
    this machine must have typed a code.
    """

    hosts: frozenset[str]
    pairing: bool
    cookie: str


class Refused(Exception):
    """A request that goes no further; carries the answer."""

    def __init__(self, status: int, why: str, **headers: str) -> None:
        super().__init__(why)
        # what may still come on this connection is not waited for
        self.answer = PlainTextResponse(f"{why}\n", status, {"Connection": "close", **headers})


class Guard:
    """The pages behind their guard, as one ASGI application."""

    def __init__(self, app: ASGIApp, doors: Doors, sessions: Sessions, clock: Clock) -> None:
        self.app, self.doors, self.sessions = app, doors, sessions
        self.reads = Rate(clock, burst=300, per_s=30)
        self.writes = Rate(clock, burst=40, per_s=2)
        self.strangers = Rate(clock, burst=400, per_s=40)  # by address: no cookie, or not paired

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # no web sockets here
        begun = False

        async def send_guarded(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    if name not in headers:
                        headers[name] = value
            await send(message)

        try:
            await self._checked(scope, receive, send_guarded)
        except Refused as refused:
            await refused.answer(scope, receive, send_guarded)
        except TimeoutError:
            if begun:
                raise
            late = PlainTextResponse("This took too long. Try again.\n", 503)
            await late(scope, receive, send_guarded)
        except Exception:
            if not begun:  # otherwise it was reported and answered where it happened
                raise

    async def _checked(self, scope: Scope, receive: Receive, send: Send) -> None:
        headers = Headers(scope=scope)
        self._check_head(scope, headers)
        found = self.sessions.read(_cookie(headers, self.doors.cookie))
        session = found or self.sessions.begin()
        trusted = not self.doors.pairing or session.paired or _is_here(scope)
        path = scope["path"]
        self._check_rate(scope, session if found and trusted else None)
        if not trusted and not path.startswith(OPEN_TO_ALL):
            if scope["method"] == "POST":
                raise Refused(403, "This device is not paired. Open the first page and pair it.")
            await RedirectResponse("/pair", 303)(scope, receive, send)
            return
        state = scope.setdefault("state", {})
        state.update(session=session, trusted=trusted, token=self.sessions.token(session))
        if scope["method"] == "POST":
            state["form"] = await self._form(scope, headers, session, receive)
            receive = _nothing_more
        if found is None and not path.startswith("/static/"):
            send = self._with_cookie(send, session)
        await asyncio.wait_for(self.app(scope, receive, send), ANSWER_WITHIN_S)

    def _check_head(self, scope: Scope, headers: Headers) -> None:
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0].lower() not in self.doors.hosts:
            raise Refused(421, "This server does not go by that name.")
        if scope["method"] not in ("GET", "HEAD", "POST"):
            raise Refused(405, "Only GET, HEAD and POST are known here.", Allow="GET, HEAD, POST")
        if sum(len(name) + len(value) for name, value in scope["headers"]) > MAX_HEAD:
            raise Refused(431, "The head of this request is too large.")
        if len(scope["path"]) > MAX_PATH or len(scope["query_string"]) > MAX_QUERY:
            raise Refused(414, "This address is too long.")
        if "transfer-encoding" in headers and scope["method"] != "POST":
            raise Refused(400, "No body is expected here.")

    def _check_rate(self, scope: Scope, session: Session | None) -> None:
        if session is None:
            allowed = self.strangers.allows(_address(scope))
        elif scope["method"] == "POST":
            allowed = self.writes.allows(session.id)
        else:
            allowed = self.reads.allows(session.id)
        if not allowed:
            raise Refused(429, "Too many requests. Wait a few seconds.", **{"Retry-After": "5"})

    async def _form(
        self, scope: Scope, headers: Headers, session: Session, receive: Receive
    ) -> Form:
        """Return the posted fields. Raises Refused for a form that is not one of our own."""
        if headers.get("origin", "").lower() != f"http://{headers['host'].lower()}":
            raise Refused(403, "This form was sent from another place.")
        if headers.get("sec-fetch-site", "same-origin") != "same-origin":
            raise Refused(403, "This form was sent from another place.")
        kind, _, parameters = headers.get("content-type", "").partition(";")
        charset = parameters.strip().lower().replace('"', "")
        if kind.strip().lower() != FORM or charset not in ("", "charset=utf-8"):
            raise Refused(415, f"Forms are read as {FORM} in UTF-8 only.")
        if "content-encoding" in headers:
            raise Refused(415, "Packed bodies are not read.")
        length = headers.get("content-length", "0")
        if not (length.isascii() and length.isdecimal()) or int(length) > MAX_BODY:
            raise Refused(413, "This form is too large.")
        try:
            raw = await asyncio.wait_for(_body(receive), BODY_WITHIN_S)
        except TimeoutError:
            raise Refused(408, "The form did not arrive in time.") from None
        form = _parsed(raw)
        if not self.sessions.is_token(session, form.get("token")):
            raise Refused(403, "This form is too old, or not from here. Load the page again.")
        return form

    def _with_cookie(self, send: Send, session: Session) -> Send:
        async def send_cookie(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                if "set-cookie" not in headers:
                    headers["set-cookie"] = cookie_line(self.doors.cookie, self.sessions, session)
            await send(message)

        return send_cookie


def cookie_line(name: str, sessions: Sessions, session: Session) -> str:
    """Return the header that gives a browser its session."""
    value = sessions.cookie(session)
    return f"{name}={value}; Path=/; HttpOnly; SameSite=Strict; Max-Age={30 * 24 * 3600}"


def give_session(answer: Response, name: str, sessions: Sessions, session: Session) -> Response:
    """Return an answer that also replaces the session of the browser."""
    answer.headers["set-cookie"] = cookie_line(name, sessions, session)
    return answer


def _cookie(headers: Headers, name: str) -> str | None:
    try:
        jar: SimpleCookie = SimpleCookie(headers.get("cookie", ""))
    except CookieError:
        return None
    return jar[name].value if name in jar else None


def _address(scope: Scope) -> str:
    client = scope.get("client")
    return str(client[0]) if client else ""


def _is_here(scope: Scope) -> bool:
    """Tell whether a request comes from this machine itself."""
    try:
        return ip_address(_address(scope)).is_loopback
    except ValueError:
        return False


async def _body(receive: Receive) -> bytes:
    parts: list[bytes] = []
    size = 0
    while True:
        message: Mapping[str, Any] = await receive()
        if message["type"] == "http.disconnect":
            raise Refused(400, "The form broke off.")
        parts.append(message.get("body", b""))
        size += len(parts[-1])
        if size > MAX_BODY:
            raise Refused(413, "This form is too large.")
        if not message.get("more_body", False):
            return b"".join(parts)


def _parsed(raw: bytes) -> Form:
    try:
        pairs = parse_qsl(
            raw.decode("ascii"),
            keep_blank_values=True,
            strict_parsing=bool(raw),
            errors="strict",
            max_num_fields=MAX_FIELDS,
        )
    except ValueError:
        raise Refused(400, "This form cannot be read.") from None
    fields: dict[str, tuple[str, ...]] = {}
    for name, value in pairs:
        if len(value) > MAX_FIELD or len(name) > 100:
            raise Refused(413, "A field of this form is too long.")
        fields[name] = (*fields.get(name, ()), value)
    return Form(fields)


async def _nothing_more() -> Message:
    """Stand in for what is still to be received: the form was read to its end."""
    return {"type": "http.request", "body": b"", "more_body": False}
