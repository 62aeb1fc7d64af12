"""A server over a cellar of its own, spoken to by the plainest client there is."""

from __future__ import annotations

import asyncio
import http.client
import re
import shutil
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlencode

from trubshoot.diagnosis import Diagnostician
from trubshoot.web.serve import Wanted, build, listen, server_for
from trubshoot.web.site import Site

if TYPE_CHECKING:
    from playwright.sync_api import Page

PHONE, DESK = (360, 740), (1280, 800)
Open = Callable[..., AbstractContextManager["Page"]]
ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "docs" / "examples"
NOW = datetime(2026, 9, 20, 18)  # the evening of the last reading of all_well.yaml
# the examples that had happened by then
THERE = (
    "all_well",
    "bottled_too_early",
    "flat_and_cold",
    "plaster_taste",
    "stuck_after_cold_night",
)
_TOKEN = re.compile(r'name="token" value="([0-9a-f]{64})"')
_ONCE = re.compile(r'name="once" value="([^"]+)"')


@dataclass(frozen=True)
class Answer:
    """What came back."""

    status: int
    headers: Mapping[str, str]
    text: str

    @property
    def token(self) -> str:
        """Return the token of the first form."""
        found = _TOKEN.search(self.text)
        assert found, self.text[:2000]
        return found[1]

    @property
    def once(self) -> str:
        """Return the mark of the first form."""
        found = _ONCE.search(self.text)
        assert found
        return found[1]


@dataclass
class Served:
    """A running server."""

    port: int
    folder: Path
    site: Site
    codes: list[str]

    @property
    def url(self) -> str:
        """Return the address of the first page, without a slash at its end."""
        return f"http://127.0.0.1:{self.port}"

    def visitor(self) -> Visitor:
        """Return a new browser without any cookie."""
        return Visitor(self)


@dataclass
class Visitor:
    """A client that keeps its cookie."""

    served: Served
    cookie: str = ""
    extra: dict[str, str] = field(default_factory=dict)

    def send(
        self, method: str, path: str, body: bytes | None = None, headers: Mapping[str, str] = {}
    ) -> Answer:
        """Send one request on a connection of its own."""
        connection = http.client.HTTPConnection("127.0.0.1", self.served.port, timeout=60)
        given = {"Cookie": self.cookie} if self.cookie else {}
        connection.request(method, path, body, {**given, **self.extra, **headers})
        answer = connection.getresponse()
        text = answer.read().decode("utf-8", "replace")
        plain = {key.lower(): value for key, value in answer.getheaders()}
        connection.close()
        if "set-cookie" in plain:
            self.cookie = plain["set-cookie"].split(";")[0]
        return Answer(answer.status, plain, text)

    def get(self, path: str) -> Answer:
        """Ask for a page."""
        return self.send("GET", path)

    def post(
        self,
        path: str,
        fields: Mapping[str, str] | Sequence[tuple[str, str]],
        headers: Mapping[str, str] = {},
    ) -> Answer:
        """Send a form as a browser would, its token included unless `fields` has another."""
        if "token" not in dict(fields):
            fields = {"token": self.get("/interview").token, **dict(fields)}
        kind = "application/x-www-form-urlencoded"
        own = {"Content-Type": kind, "Origin": self.served.url, **headers}
        return self.send("POST", path, urlencode(fields).encode(), own)

    def follow(self, answer: Answer) -> Answer:
        """Ask for the page that an answer leads on to."""
        assert answer.status == 303, (answer.status, answer.text[:500])
        return self.get(answer.headers["location"].split("#")[0])


def fill(folder: Path) -> None:
    """Put the examples into a cellar."""
    for name in THERE:
        shutil.copy(EXAMPLES / f"{name}.yaml", folder)


@contextmanager
def serving(work: Diagnostician, folder: Path, *, pairing: bool = False) -> Iterator[Served]:
    """Give a server in a thread of its own, which ends with the block."""
    sockets = listen(Wanted(0, None))
    site, app = build(work, folder, sockets, pairing=pairing, now=lambda: NOW)
    codes: list[str] = []
    site.pairing._show = codes.append  # in place of the terminal
    server = server_for(app)
    thread = threading.Thread(target=lambda: asyncio.run(server.serve(sockets=sockets)))
    thread.start()
    try:
        yield Served(sockets[0].getsockname()[1], folder, site, codes)
    finally:
        server.should_exit = True
        thread.join(30)
        assert not thread.is_alive()


def serious(page: Page, axe: str, rules: str = "{}") -> list[str]:
    """Return what axe calls serious or worse on a page, by all its rules or by those named."""
    page.evaluate(axe)
    found = page.evaluate(f"() => axe.run(document, {rules})")
    assert found["passes"]
    return [
        f"{one['id']}: {node['html'][:200]} {node['failureSummary'][:300]}"
        for one in found["violations"]
        if one["impact"] in ("serious", "critical")
        for node in one["nodes"]
    ]


TOO_SMALL = """() => [...document.querySelectorAll('a, button, input, select, textarea, summary')]
  .filter(one => one.type !== 'hidden' && one.checkVisibility() && !one.closest('.skip'))
  .filter(one => getComputedStyle(one).display !== 'inline' || !one.matches('a')) // in a text
  .map(one => one.closest('label.choice') || one)
  .map(one => [one.outerHTML.slice(0, 90), one.getBoundingClientRect()])
  .filter(([, box]) => box.height < 44 || box.width < 44)
  .map(([html, box]) => `${html} ${box.width} x ${box.height}`)"""


def click(page: Page, name: str) -> None:
    """Press a button and wait for the page that its form leads to."""
    with page.expect_navigation():
        page.get_by_role("button", name=name, exact=True).click()
