"""What the server keeps and takes has an end: the oldest goes, the longest is refused."""

from __future__ import annotations

import asyncio
import socket
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import cast

import pytest
from tests.web.support import Served, serving

from trubshoot.diagnosis import Diagnostician
from trubshoot.learning.drill_progress import Record
from trubshoot.web import cellar as cellar_files
from trubshoot.web import guard, memory, serve, sessions
from trubshoot.web.cellar import Cellar
from trubshoot.web.memory import (
    MOST_TALKS,
    MOST_TALKS_EACH,
    MOST_TOLD,
    InMemory,
    Kept,
    Once,
    Store,
)
from trubshoot.web.sessions import Rate


@dataclass
class Thing:
    """Something that belongs to a browser."""

    session: str
    number: int


# --- memory


def test_the_oldest_that_nobody_asked_for_is_forgotten() -> None:
    """At its bound a store forgets what was longest not asked for, and nothing else."""
    kept: Kept[int] = Kept(3)
    for number in range(3):
        kept.put(str(number), number)
    assert kept.get("0") == 0  # young again, so that 1 is the oldest
    kept.put("3", 3)
    assert [key for key, _ in kept.items()] == ["2", "0", "3"]
    kept.put("2", 22)  # known already: nothing has to go
    assert kept.items() == [("0", 0), ("3", 3), ("2", 22)]


def test_a_browser_has_so_many_talks() -> None:
    """The ninth interview of one browser takes the place of its oldest; others keep theirs."""
    store: Store[Thing] = Store()
    other = store.begin(Thing("other", 0))
    names = [store.begin(Thing("mine", number)) for number in range(MOST_TALKS_EACH + 1)]
    assert store.get(names[0], "mine") is None
    assert [thing.number for _, thing in store.of("mine")] == list(range(1, MOST_TALKS_EACH + 1))
    assert store.get(other, "other") == Thing("other", 0)


def test_all_browsers_together_have_so_many_talks() -> None:
    """However many browsers come, so many talks are kept, and the newest is among them."""
    store: Store[Thing] = Store()
    names = [store.begin(Thing(f"browser {number}", number)) for number in range(MOST_TALKS + 5)]
    alive = [number for number, name in enumerate(names) if store.get(name, f"browser {number}")]
    assert alive == list(range(5, MOST_TALKS + 5))


def test_so_many_played_cases_are_kept() -> None:
    """Records without a folder of their own end somewhere too: the latest are kept."""
    records = InMemory()
    for number in range(MOST_TOLD + 2):
        records.add(cast(Record, number))
    assert list(records.read()) == list(range(2, MOST_TOLD + 2))


def test_so_many_answers_to_forms_are_kept() -> None:
    """A form's mark is forgotten after a thousand others, so marks made up fill no memory."""
    done: list[str] = []

    async def forms() -> None:
        once = Once()

        async def run(mark: str) -> str:
            done.append(mark)
            return mark

        for number in range(MOST_TOLD + 1):
            assert await once.do(str(number), lambda number=number: run(str(number))) == str(number)
        await once.do(str(MOST_TOLD), lambda: run("again"))  # kept: not done a second time
        await once.do("0", lambda: run("forgotten"))

    with ThreadPoolExecutor(1) as thread:  # a browser's tests may have a loop in this one
        thread.submit(asyncio.run, forms()).result()
    assert len(done) == MOST_TOLD + 2
    assert done[-1] == "forgotten"


def test_so_many_keys_of_a_rate_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Addresses without end fill no memory: the one longest away is forgotten."""
    monkeypatch.setattr(sessions, "_MOST_KEYS", 3)
    rate = Rate(lambda: 0.0, burst=1, per_s=1)
    assert all(rate.allows(key) for key in "abcd")  # `a` has to go for `d`
    assert rate.allows("a")
    assert not rate.allows("d")
    assert len(rate._left) == 3


def test_talks_of_a_running_server_end(
    diagnostician: Diagnostician, cellar: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the pages too, an interview beyond the bound ends the oldest one of its browser."""
    monkeypatch.setattr(memory, "MOST_TALKS_EACH", 2)
    with serving(diagnostician, cellar) as served:
        visitor = served.visitor()
        talks = [visitor.post("/interview/begin", {}).headers["location"] for _ in range(3)]
        assert [visitor.get(talk).status for talk in talks] == [404, 200, 200]


# --- requests


def _raw(served: Served, head: str, body: bytes = b"") -> bytes:
    """Return the answer to a request written by hand."""
    host = f"Host: 127.0.0.1:{served.port}\r\nConnection: close\r\n"
    first, _, rest = head.partition("\n")
    with socket.create_connection(("127.0.0.1", served.port), timeout=10) as line:
        line.sendall(f"{first}\r\n{host}{rest}\r\n".encode() + body)
        answer = b""
        while part := line.recv(65536):
            answer += part
    return answer


@pytest.mark.parametrize("method", ["GET", "HEAD"])
def test_a_body_where_none_belongs_is_refused(served: Served, method: str) -> None:
    """A page asked for with a body of unknown length behind it is refused and the line closed."""
    sent = b"0\r\n\r\nGET / HTTP/1.1\r\n\r\n"
    told = _raw(served, f"{method} / HTTP/1.1\nTransfer-Encoding: chunked\r\n", sent)
    assert told.split()[1] == b"400"
    assert told.count(b"HTTP/1.1 ") == 1  # what stood in the body is no second request
    assert b"connection: close" in told.lower()


def test_two_lengths_of_one_body_are_refused(served: Served) -> None:
    """A form with both a length and chunks, or with two lengths, is not guessed at."""
    for lines in (
        "Content-Length: 3\r\nTransfer-Encoding: chunked, gzip\r\n",
        "Content-Length: 3\r\nContent-Length: 4\r\n",
    ):
        assert _raw(served, f"POST /pair HTTP/1.1\n{lines}", b"a=1").split()[1] in (b"400", b"501")


def test_a_long_address_is_refused(served: Served) -> None:
    """Paths and queries have a bound; up to it they are answered."""
    path, query = guard.MAX_PATH, guard.MAX_QUERY
    assert served.visitor().get("/" + "a" * (path - 1)).status == 404
    assert served.visitor().get("/" + "a" * path).status == 414
    assert served.visitor().get("/?" + "a" * query).status == 200
    assert served.visitor().get("/?" + "a" * (query + 1)).status == 414


def test_an_answer_that_takes_too_long_is_given_up(
    diagnostician: Diagnostician, cellar: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever waits longer than the bound is told so, and the next page still comes."""
    with serving(diagnostician, cellar) as served:
        kitchen = served.site.kitchen
        known = kitchen.known

        async def slow(*arguments: object) -> object:
            await asyncio.sleep(20)
            return arguments

        monkeypatch.setattr(guard, "ANSWER_WITHIN_S", 0.3)
        monkeypatch.setattr(kitchen, "known", slow)
        begun = time.monotonic()
        told = served.visitor().get("/batch/all_well.yaml")
        assert (told.status, time.monotonic() - begun < 15) == (503, True)
        assert "Try again" in told.text
        monkeypatch.setattr(guard, "ANSWER_WITHIN_S", 30.0)
        monkeypatch.setattr(kitchen, "known", known)
        assert served.visitor().get("/batch/all_well.yaml").status == 200


def comes_to(served: Served, status: int) -> bool:
    """Tell whether a small page is answered like that, once the server has seen all lines."""
    end = time.monotonic() + 15
    while served.visitor().get("/static/app.css").status != status:
        if time.monotonic() > end:
            return False
        time.sleep(0.05)
    return True


def test_connections_have_a_bound(
    diagnostician: Diagnostician, cellar: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Beyond so many open connections a request is answered with "busy" and costs nothing."""
    monkeypatch.setattr(serve, "MOST_CONNECTIONS", 5)
    with serving(diagnostician, cellar) as served:
        lines = [socket.create_connection(("127.0.0.1", served.port)) for _ in range(8)]
        try:
            assert comes_to(served, 503)
        finally:
            for line in lines:
                line.close()
        assert comes_to(served, 200)


# --- files


def test_so_many_files_of_a_folder_are_listed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of a folder with very many files the first by name are listed, and no other is opened."""
    monkeypatch.setattr(cellar_files, "MOST_FILES", 3)
    for number in range(5):
        (tmp_path / f"{number}.yaml").write_text("batch: x\n", "utf-8")
    files = Cellar(tmp_path)
    assert files.names() == ["0.yaml", "1.yaml", "2.yaml"]
    assert files.file("4.yaml") is None
