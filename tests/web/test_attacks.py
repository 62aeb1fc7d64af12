"""What must not get through: each attack is made on a running server, as an attacker would."""

from __future__ import annotations

import http.client
import socket
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from tests.web.support import Served, Visitor, serving

from trubshoot.batch import read_batch
from trubshoot.diagnosis import Diagnostician
from trubshoot.web import guard, serve

SCRIPT = "<script>alert(1)</script>\"'><img src=x onerror=alert(1)>{{7*7}}"
FORM = "application/x-www-form-urlencoded"


def _raw(port: int, data: bytes, wait_s: float = 10) -> bytes:
    with socket.create_connection(("127.0.0.1", port), timeout=wait_s) as line:
        line.sendall(data)
        answer = b""
        while part := line.recv(65536):
            answer += part
    return answer


# --- files


ELSEWHERE = (
    "/batch/../../etc/passwd",
    "/batch/..%2f..%2f..%2f..%2fetc%2fpasswd",
    "/batch/..%252f..%252fetc%252fpasswd",
    "/batch/%2e%2e/secret.yaml",
    "/batch/..%2Fsecret.yaml",
    "/batch/..%5csecret.yaml",
    "/batch/%2fetc%2fpasswd",
    "/batch/all_well.yaml%00.html",
    "/batch/.hidden.yaml",
    "/batch/linked.yaml",
    "/batch/inside%2fdeep.yaml",
    "/batch/config.yaml",
    "/batch/notes.txt",
    "/static/../guard.py",
    "/static/..%2fguard.py",
    "/static/%2e%2e%2f%2e%2e%2ferrors.py",
    "/batch/ALL_WELL.YAML",
)


def test_no_other_file_is_read(diagnostician: Diagnostician, cellar: Path) -> None:
    """Traversal, links, hidden files, other folders and files that are no batch lead nowhere."""
    secret = "batch: top secret\nlog: [{day: 1, note: the hidden hoard}]\n"
    (cellar.parent / "secret.yaml").write_text(secret, "utf-8")
    (cellar / ".hidden.yaml").write_text(secret, "utf-8")
    (cellar / "linked.yaml").symlink_to(cellar.parent / "secret.yaml")
    (cellar / "inside").symlink_to(cellar.parent)
    (cellar / "config.yaml").write_text("password: the hidden hoard\n", "utf-8")
    (cellar / "notes.txt").write_text(secret, "utf-8")
    with serving(diagnostician, cellar) as served:
        for path in ELSEWHERE:
            head = f"Host: 127.0.0.1:{served.port}\r\nConnection: close\r\n\r\n"
            told = _raw(served.port, f"GET {path} HTTP/1.1\r\n{head}".encode())
            assert told.split()[1] == b"404", (path, told[:300])
            assert b"root:" not in told
            assert b"hoard" not in told
        listed = served.visitor().get("/").text
        assert "top secret" not in listed
        assert "config.yaml" not in listed
        assert "Lantern Street Pale" in listed


def test_a_link_put_in_the_place_of_a_file_is_not_written_through(
    diagnostician: Diagnostician, cellar: Path
) -> None:
    """A batch file replaced by a link to a file outside can be neither read nor written."""
    outside = cellar.parent / "outside.yaml"
    outside.write_bytes((cellar / "all_well.yaml").read_bytes())
    before = outside.read_bytes()
    with serving(diagnostician, cellar) as served:
        visitor = served.visitor()
        token = visitor.get("/batch/all_well.yaml").token
        (cellar / "all_well.yaml").unlink()
        (cellar / "all_well.yaml").symlink_to(outside)
        told = visitor.post("/batch/all_well.yaml/reading", {"token": token, "gravity": "1.011"})
        assert told.status == 404
        assert visitor.get("/batch/all_well.yaml").status == 404
    assert outside.read_bytes() == before


def test_a_new_file_never_replaces_another(diagnostician: Diagnostician, cellar: Path) -> None:
    """Keeping an interview under a taken name, or one with a path in it, overwrites nothing."""
    before = {path.name: path.read_bytes() for path in cellar.iterdir()}
    with serving(diagnostician, cellar) as served:
        visitor = served.visitor()
        talk = visitor.post("/interview/begin", {"file": ""}).headers["location"]
        visitor.post(f"{talk}/answer", {"step": "0", "answer": "words", "words": "no bubbles"})
        visitor.post(f"{talk}/answer", {"step": "1", "answer": "yes"})
        visitor.post(f"{talk}/enough", {})
        told = visitor.post(f"{talk}/save", {"name": "All well"})
        assert told.status == 422
        assert "is there already" in told.text
        told = visitor.post(f"{talk}/save", {"name": "../../evil.yaml"})
        assert told.headers["location"] == "/batch/evil_yaml.yaml"
    after = {path.name: path.read_bytes() for path in cellar.iterdir()}
    assert after.pop("evil_yaml.yaml")
    assert after == before
    assert not (cellar.parent / "evil.yaml").exists()


# --- words


def test_script_in_every_text_field_stays_text(diagnostician: Diagnostician, cellar: Path) -> None:
    """Words with markup in them are shown as words on every page, and stored as they were."""
    (cellar / f"x'{'&'}<b>.yaml").write_text(f"batch: '{SCRIPT.replace(chr(39), '')}'\n", "utf-8")
    (cellar / "broken.yaml").write_text(f"batch: x\n{SCRIPT}: 1\nlog: 5\n", "utf-8")
    with serving(diagnostician, cellar) as served:
        visitor = served.visitor()
        one = "/batch/all_well.yaml"
        pages = [visitor.get("/"), visitor.get("/batch/broken.yaml")]
        pages.append(visitor.get("/batch/x'%26%3Cb%3E.yaml"))
        for sense in ("saw", "smelled", "tasted", "no_sign_of", "note"):
            told = visitor.post(f"{one}/noticed", {"sense": sense, "text": SCRIPT, "in": "glass"})
        pages.append(visitor.follow(told))
        deed = {"verb": "added", "what": SCRIPT}
        pages.append(visitor.follow(visitor.post(f"{one}/did", deed)))
        for fields in (
            {"gravity": SCRIPT},
            {"temp": SCRIPT},
            {"gravity": "1.011", "with": SCRIPT},
            {"gravity": "1.011", "at": SCRIPT},
            {"gravity": "1.011", "of_what": SCRIPT},
        ):
            told = visitor.post(f"{one}/reading", fields)
            assert told.status == 422
            pages.append(told)
        query = "?sugar=%3Cscript%3Ealert(1)%3C/script%3E&bottles=%22%3E%3Cimg%20src=x%3E"
        pages.append(visitor.get(f"{one}/bottling{query}"))
        pages.append(visitor.get(f"{one}/did?verb=%3Cscript%3E"))
        pages.append(visitor.get(f"{one}?told=%3Cscript%3E"))
        talk = visitor.post("/interview/begin", {"file": ""}).headers["location"]
        told = visitor.post(f"{talk}/answer", {"step": "0", "answer": "words", "words": SCRIPT})
        pages.append(visitor.follow(told))
        pages.append(visitor.get(f"{one}/page"))
        for told in pages:
            assert "<script>alert" not in told.text
            assert "<img" not in told.text
            assert "<b>" not in told.text
            assert ">49" not in told.text
            assert "Traceback" not in told.text
        assert sum("&lt;script&gt;" in told.text for told in pages) > 5
    log = read_batch(cellar / "all_well.yaml").log
    assert [entry.texts for entry in log if getattr(entry, "texts", None) == (SCRIPT,)]


def test_words_cannot_become_keys_of_the_file(diagnostician: Diagnostician, cellar: Path) -> None:
    """YAML in a text field stays one text, whatever brackets, colons and line ends it holds."""
    tricks = [
        "x, beer: 90 C}",
        "a\n  - {day: 1, note: b}",
        "&a *a !!python/object:x",
        "# c",
        "'\"\\",
    ]
    with serving(diagnostician, cellar) as served:
        visitor = served.visitor()
        before = read_batch(cellar / "all_well.yaml")
        for text in tricks:
            told = visitor.post("/batch/all_well.yaml/noticed", {"sense": "note", "text": text})
            assert told.status == 303, told.text
    after = read_batch(cellar / "all_well.yaml")
    assert len(after.log) == len(before.log) + len(tricks)
    wanted = [" ".join(text.split()) for text in tricks]
    own = {"log": (), "warnings": (), "lines": {}}
    assert [getattr(entry, "text", "") for entry in after.log[-len(tricks) :]] == wanted
    assert after.model_copy(update=own) == before.model_copy(update=own)


# --- requests from elsewhere


@pytest.mark.parametrize(
    "change",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": ""},
        {"Origin": "http://127.0.0.1:1"},
        {"Origin": "http://localhost:{port}"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_form_of_another_place_is_refused(served: Served, change: dict[str, str]) -> None:
    """A form sent by another site is refused even with the right token."""
    before = (served.folder / "all_well.yaml").read_bytes()
    change = {name: value.format(port=served.port) for name, value in change.items()}
    told = served.visitor().post("/batch/all_well.yaml/reading", {"gravity": "1.011"}, change)
    assert told.status == 403
    assert (served.folder / "all_well.yaml").read_bytes() == before


def test_a_form_without_its_token_is_refused(served: Served) -> None:
    """No token, a made-up one, and the token of somebody else's session are all refused."""
    before = (served.folder / "all_well.yaml").read_bytes()
    stranger = served.visitor()
    other = stranger.get("/interview").token
    visitor = served.visitor()
    visitor.get("/")
    for token in ("", "0" * 64, other, "é"):
        told = visitor.post("/batch/all_well.yaml/reading", {"token": token, "gravity": "1.011"})
        assert told.status == 403
    visitor.cookie = ""
    told = visitor.post("/batch/all_well.yaml/reading", {"token": other, "gravity": "1.011"})
    assert told.status == 403
    assert (served.folder / "all_well.yaml").read_bytes() == before


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        "evil.example:{port}",
        "127.0.0.1",
        "127.0.0.1.evil.example:{port}",
        "0.0.0.0:{port}",
        "127.0.0.1:1",
        "",
        "localhost:{port}@evil.example",
    ],
)
def test_another_host_name_is_refused(served: Served, host: str) -> None:
    """A name that an attacker's name server points here (DNS rebinding) gets nothing at all."""
    named = host.format(port=served.port)
    request = f"GET / HTTP/1.1\r\nHost: {named}\r\nConnection: close\r\n\r\n"
    told = _raw(served.port, request.encode())
    assert told.split()[1] in (b"421", b"400")
    assert b"Lantern" not in told
    assert b"set-cookie" not in told.lower()


def test_two_or_no_host_names_are_refused(served: Served) -> None:
    """A request must name its host exactly once."""
    own = f"Host: 127.0.0.1:{served.port}\r\n"
    for lines in ("", own + "Host: evil.example\r\n", own + own):
        told = _raw(served.port, f"GET / HTTP/1.1\r\n{lines}Connection: close\r\n\r\n".encode())
        assert told.split()[1] in (b"400", b"421")


# --- bodies


@pytest.mark.parametrize(
    ("kind", "body", "status"),
    [
        ("multipart/form-data; boundary=x", b"--x\r\nbroken", 415),
        ("multipart/form-data", b"", 415),
        ("application/json", b"{}", 415),
        ("text/plain", b"gravity=1.011", 415),
        ("", b"gravity=1.011", 415),
        (f"{FORM}; charset=utf-16", b"gravity=1.011", 415),
        (FORM, b"%ff%fe=1", 400),
        (FORM, b"\xff\xfe", 400),
        (FORM, b"&&&==&;;", 400),
        (FORM, b"&".join(b"a=1" for _ in range(200)), 400),
        (FORM, b"gravity=" + b"1" * 5000, 413),
        (FORM, b"a" * 70_000, 413),
        (FORM, b"", 403),
    ],
)
def test_a_malformed_body_is_refused(served: Served, kind: str, body: bytes, status: int) -> None:
    """Multipart, other kinds, broken escapes, too many or too long fields are refused."""
    visitor = served.visitor()
    visitor.get("/")
    headers = {"Origin": served.url, **({"Content-Type": kind} if kind else {})}
    told = visitor.send("POST", "/batch/all_well.yaml/reading", body, headers)
    assert told.status == status, told.text
    assert visitor.get("/").status == 200


def test_an_oversized_body_is_cut_off(served: Served) -> None:
    """A huge body is refused by its announced length, and one without length by its size."""
    visitor = served.visitor()
    visitor.get("/")
    head = (
        f"POST /pair HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\nOrigin: {served.url}\r\n"
        f"Cookie: {visitor.cookie}\r\nContent-Type: {FORM}\r\n"
    )
    told = _raw(served.port, f"{head}Content-Length: 1000000000\r\n\r\n".encode())
    assert told.split()[1] == b"413"
    chunk = b"2000\r\n" + b"a" * 0x2000 + b"\r\n"
    told = _raw(served.port, f"{head}Transfer-Encoding: chunked\r\n\r\n".encode() + chunk * 9)
    assert told.split()[1] == b"413"


def test_slow_and_endless_requests_are_ended(
    diagnostician: Diagnostician, cellar: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A head or a body that never comes does not hold its connection."""
    monkeypatch.setattr(serve, "HEAD_WITHIN_S", 0.4)
    monkeypatch.setattr(guard, "BODY_WITHIN_S", 0.4)
    with serving(diagnostician, cellar) as served:
        visitor = served.visitor()
        visitor.get("/")
        begun = time.monotonic()
        assert _raw(served.port, b"GET / HTTP/1.1\r\nX-Slow: ") == b""
        head = (
            f"POST /pair HTTP/1.1\r\nHost: 127.0.0.1:{served.port}\r\nOrigin: {served.url}\r\n"
            f"Cookie: {visitor.cookie}\r\nContent-Type: {FORM}\r\nContent-Length: 50\r\n\r\na=1"
        )
        assert _raw(served.port, head.encode()).split()[1] == b"408"
        assert time.monotonic() - begun < 8


def test_too_many_requests_are_slowed(diagnostician: Diagnostician, cellar: Path) -> None:
    """One browser cannot write without end: it is told to wait, and others are still served."""
    with serving(diagnostician, cellar) as served:
        visitor = served.visitor()
        token = visitor.get("/interview").token
        codes = {visitor.post("/interview/begin", {"token": token}).status for _ in range(60)}
        assert codes == {303, 429}
        other = served.visitor()
        assert other.post("/interview/begin", {}).status == 303


def test_only_known_methods(served: Served) -> None:
    """Anything but GET, HEAD and POST is refused, as are forms sent to pages that take none."""
    for method in ("PUT", "DELETE", "OPTIONS", "TRACE", "PATCH"):
        assert served.visitor().send(method, "/").status == 405
    assert served.visitor().post("/batch/all_well.yaml", {}).status == 405
    assert served.visitor().get("/batch/all_well.yaml/undo").status == 405


def test_every_answer_carries_the_headers(served: Served) -> None:
    """Pages, files, refusals and faults carry the policy; no page may be framed or kept."""
    visitor = served.visitor()
    answers = [
        visitor.get("/"),
        visitor.get("/static/app.css"),
        visitor.get("/nothing"),
        visitor.send("PUT", "/"),
        visitor.send("GET", "/", headers={"Host": "evil.example"}),
        visitor.post("/interview/begin", {"token": "x"}),
    ]
    for told in answers:
        policy = told.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy
        assert told.headers["x-content-type-options"] == "nosniff"
        assert told.headers["x-frame-options"] == "DENY"
        assert told.headers["referrer-policy"] == "same-origin"
        assert "server" not in told.headers
    assert answers[0].headers["cache-control"] == "no-store"
    cookie = served.visitor().get("/").headers["set-cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie


# --- many at once


def test_parallel_writes_lose_nothing(diagnostician: Diagnostician, cellar: Path) -> None:
    """Two dozen lines sent at once by eight browsers: every one of them is in the log."""
    path = cellar / "all_well.yaml"
    before = len(read_batch(path).log)
    with serving(diagnostician, cellar) as served:
        visitors = [served.visitor() for _ in range(8)]
        tokens = [visitor.get("/interview").token for visitor in visitors]

        def one(number: int) -> int:
            fields = {"token": tokens[number % 8], "sense": "note", "text": f"line {number}"}
            return visitors[number % 8].post("/batch/all_well.yaml/noticed", fields).status

        with ThreadPoolExecutor(12) as pool:
            assert set(pool.map(one, range(24))) == {303}
    notes = {getattr(entry, "text", "") for entry in read_batch(path).log[before:]}
    assert notes == {f"line {number}" for number in range(24)}
    assert all(left.suffix == ".yaml" for left in cellar.iterdir())


def test_one_form_sent_many_times_is_done_once(diagnostician: Diagnostician, cellar: Path) -> None:
    """Ten sendings of one form, as by an impatient thumb, write one line and all succeed."""
    path = cellar / "all_well.yaml"
    before = len(read_batch(path).log)
    with serving(diagnostician, cellar) as served:
        visitor = served.visitor()
        page = visitor.get("/batch/all_well.yaml")
        fields = {"token": page.token, "once": page.once, "gravity": "1.011"}
        with ThreadPoolExecutor(10) as pool:
            sent = list(
                pool.map(lambda _: visitor.post("/batch/all_well.yaml/reading", fields), range(10))
            )
    assert {told.status for told in sent} == {303}
    assert len({told.headers["location"] for told in sent}) == 1
    assert len(read_batch(path).log) == before + 1


def test_undo_takes_only_the_line_that_was_shown(
    diagnostician: Diagnostician, cellar: Path
) -> None:
    """When somebody else has logged since, undo takes nothing and says so."""
    path = cellar / "all_well.yaml"
    with serving(diagnostician, cellar) as served:
        first, second = served.visitor(), served.visitor()
        shown = first.get("/batch/all_well.yaml")
        digest = shown.text.split('name="of_file" value="')[1].split('"')[0]
        second.post("/batch/all_well.yaml/noticed", {"sense": "note", "text": "mine"})
        before = path.read_bytes()
        told = first.post("/batch/all_well.yaml/undo", {"of_file": digest})
        assert told.status == 422
        assert "changed since" in told.text
        assert path.read_bytes() == before


def test_an_interview_belongs_to_its_browser(served: Served) -> None:
    """Another browser that knows the address of an interview sees nothing of it."""
    mine: Visitor = served.visitor()
    talk = mine.post("/interview/begin", {}).headers["location"]
    assert mine.get(talk).status == 200
    assert served.visitor().get(talk).status == 404


def test_many_connections_do_not_stop_the_server(served: Served) -> None:
    """A hundred idle connections leave room for a page."""
    lines = [socket.create_connection(("127.0.0.1", served.port)) for _ in range(100)]
    try:
        assert served.visitor().get("/").status == 200
    finally:
        for line in lines:
            line.close()


def test_a_head_without_end_is_refused(served: Served) -> None:
    """Headers beyond their limit end the connection with a refusal."""
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=10)
    connection.putrequest("GET", "/")
    for number in range(60):
        connection.putheader(f"X-{number}", "a" * 1000)
    try:
        connection.endheaders()
        assert connection.getresponse().status in (400, 431)
    except (BrokenPipeError, ConnectionResetError):
        pass  # closed while still being sent
    finally:
        connection.close()
