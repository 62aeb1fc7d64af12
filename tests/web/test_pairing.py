"""Who may come in: signed sessions, codes that work once, limits on rates, the right addresses."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest
from tests.web.support import serving

from trubshoot.diagnosis import Diagnostician
from trubshoot.errors import UnitError
from trubshoot.web import guard
from trubshoot.web.serve import HERE, Wanted, home_address, hosts, listen
from trubshoot.web.sessions import (
    CODE_LIVES_S,
    CODE_PAUSE_S,
    CODE_TRIES,
    SESSION_LIVES_S,
    Pairing,
    Rate,
    Session,
    Sessions,
)


class Watch:
    """A clock that a test moves."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        """Return the seconds."""
        return self.now


def test_a_cookie_is_ours_or_nobodys() -> None:
    """A changed, foreign, cut or old cookie stands for no session; a whole one for its own."""
    watch = Watch()
    sessions = Sessions(watch)
    session = sessions.begin()
    cookie = sessions.cookie(session)
    assert sessions.read(cookie) == session
    paired = cookie.replace(".0.", ".1.", 1)
    for wrong in (paired, cookie[:-1], cookie + "0", "", "a.b.c.d", "é", None, "x" * 5000, "...."):
        assert sessions.read(wrong) is None
    assert Sessions(watch).read(cookie) is None
    watch.now += SESSION_LIVES_S + 1
    assert sessions.read(cookie) is None


def test_a_token_belongs_to_one_session() -> None:
    """The token of a form is right for its own session only, and is not the cookie's signature."""
    sessions = Sessions(Watch())
    one, other = sessions.begin(), sessions.begin()
    assert sessions.is_token(one, sessions.token(one))
    assert not sessions.is_token(one, sessions.token(other))
    assert not sessions.is_token(one, "")
    assert not sessions.is_token(one, "é")
    assert not sessions.is_token(one, sessions.cookie(one).rpartition(".")[2])


def _pairing(watch: Watch) -> tuple[Pairing, list[str]]:
    shown: list[str] = []
    return Pairing(watch, shown.append), shown


def test_a_code_works_once() -> None:
    """A code of eight figures is taken with or without its space, and never again."""
    pairing, shown = _pairing(Watch())
    assert not pairing.use("")
    assert pairing.new_code()
    assert len(shown[0].replace(" ", "")) == 8
    assert pairing.use(shown[0])
    assert not pairing.use(shown[0])


def test_a_code_grows_old() -> None:
    """Five minutes later a code is worth nothing; just before it is."""
    watch = Watch()
    pairing, shown = _pairing(watch)
    pairing.new_code()
    watch.now += CODE_LIVES_S + 1
    assert not pairing.use(shown[-1])
    pairing.new_code()
    watch.now += CODE_LIVES_S - 1
    assert pairing.use(shown[-1].replace(" ", ""))


def test_wrong_codes_void_the_right_one() -> None:
    """After five wrong codes the right one is refused too; after four it still works."""
    watch = Watch()
    for wrong, works in ((CODE_TRIES - 1, True), (CODE_TRIES, False)):
        pairing, shown = _pairing(watch)
        pairing.new_code()
        other = f"{(int(shown[0].replace(' ', '')) + 1) % 10**8:08d}"
        for _ in range(wrong):
            assert not pairing.use(other)
        assert pairing.use(shown[0]) is works


def test_codes_are_not_made_quickly() -> None:
    """A second code comes only after a pause, and voids the first."""
    watch = Watch()
    pairing, shown = _pairing(watch)
    assert pairing.new_code()
    assert not pairing.new_code()
    watch.now += CODE_PAUSE_S
    assert pairing.new_code()
    assert len(shown) == 2
    assert not pairing.use(shown[0])


def test_rates_run_out_and_come_back() -> None:
    """Three at once, then one a second, for each key apart."""
    watch = Watch()
    rate = Rate(watch, burst=3, per_s=1)
    assert [rate.allows("a") for _ in range(4)] == [True, True, True, False]
    assert rate.allows("b")
    watch.now += 1
    assert rate.allows("a")
    assert not rate.allows("a")


@pytest.mark.parametrize(
    ("client", "here"),
    [("127.0.0.1", True), ("127.8.9.1", True), ("::1", True), ("192.168.1.7", False), ("", False)],
)
def test_only_this_machine_is_here(client: str, here: bool) -> None:
    """Loopback addresses are this machine; others, and none at all, are not."""
    assert guard._is_here({"client": (client, 1)}) is here
    assert guard._is_here({}) is False


def test_a_device_must_be_paired(
    diagnostician: Diagnostician, cellar: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another device sees only the pairing page until it has typed the code from the terminal."""
    monkeypatch.setattr(guard, "_is_here", lambda scope: False)
    before = (cellar / "all_well.yaml").read_bytes()
    with serving(diagnostician, cellar, pairing=True) as served:
        phone = served.visitor()
        for path in ("/", "/batch/all_well.yaml", "/interview", "/nothing"):
            told = phone.get(path)
            assert (told.status, told.headers["location"]) == (303, "/pair")
            assert "Lantern" not in told.text
        page = phone.get("/pair")
        assert page.status == 200
        assert "Lantern" not in page.text
        assert "Batches" not in page.text
        fields = {"token": page.token, "gravity": "1.011"}
        assert phone.post("/batch/all_well.yaml/reading", fields).status == 403
        assert phone.post("/pair", {"token": page.token, "code": "1234 5678"}).status == 403
        assert phone.post("/pair/code", {"token": page.token}).status == 303
        assert phone.post("/pair/code", {"token": page.token}).status == 429
        (code,) = served.codes
        told = phone.post("/pair", {"token": page.token, "code": code})
        assert told.status == 303
        assert phone.get("/").status == 200
        thief = served.visitor()
        page = thief.get("/pair")
        assert thief.post("/pair", {"token": page.token, "code": code}).status == 403
        assert thief.get("/").status == 303
        thief.cookie = thief.cookie.replace(".0.", ".1.", 1)
        assert thief.get("/").status == 303
        assert phone.get("/pair").headers["location"] == "/"
    assert (cellar / "all_well.yaml").read_bytes() == before


def test_pairing_makes_a_new_session(
    diagnostician: Diagnostician, cellar: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A cookie planted before pairing is worth nothing after it (session fixation)."""
    monkeypatch.setattr(guard, "_is_here", lambda scope: False)
    with serving(diagnostician, cellar, pairing=True) as served:
        phone = served.visitor()
        token = phone.get("/pair").token
        planted = phone.cookie
        phone.post("/pair/code", {"token": token})
        phone.post("/pair", {"token": token, "code": served.codes[0]})
        assert phone.cookie.split(".")[0] != planted.split(".")[0]  # the id itself is new
        other = served.visitor()
        other.cookie = planted
        assert other.get("/").status == 303


@pytest.mark.parametrize(
    "address", ["8.8.8.8", "0.0.0.0", "127.0.0.1", "::", "not one", "2001:4860:4860::8888"]
)
def test_no_port_is_opened_to_the_world(address: str) -> None:
    """An address that is not inside a home network is refused with a message, nothing is opened."""
    with pytest.raises(UnitError):
        home_address(address)


def test_addresses_of_home_networks_are_taken() -> None:
    """The usual private addresses are taken as they are."""
    for address in ("192.168.1.20", "10.0.0.7", "172.16.3.4", "fd12:3456::1"):
        assert home_address(address) == address


def test_by_default_only_this_machine_is_listened_to() -> None:
    """Without the option there is one socket, on the loopback address, under its names only."""
    sockets = listen(Wanted(0, None))
    try:
        (one,) = sockets
        address, port = one.getsockname()
        assert address == HERE == "127.0.0.1"
        assert hosts(sockets) == {f"127.0.0.1:{port}", f"localhost:{port}"}
    finally:
        for each in sockets:
            each.close()


def test_a_taken_port_is_named() -> None:
    """A port in use is a message with what to do, and leaves nothing open."""
    with socket.socket() as other:
        other.bind((HERE, 0))
        other.listen()
        with pytest.raises(UnitError, match="--port"):
            listen(Wanted(other.getsockname()[1], None))


def test_sessions_are_not_alike() -> None:
    """Two sessions never share an id; whether a session is paired is part of it."""
    sessions = Sessions(Watch())
    assert sessions.begin().id != sessions.begin().id
    assert Session("a", True) != Session("a", False)
