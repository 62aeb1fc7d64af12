"""Listen: sockets, time limits of connections, and the lines in the terminal."""

from __future__ import annotations

import asyncio
import contextlib
import errno
import gc
import ipaddress
import socket
import sys
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from trubshoot.diagnosis import Diagnostician
from trubshoot.errors import UnitError
from trubshoot.units import UnitSystem
from trubshoot.web.app import make_app
from trubshoot.web.cellar import Cellar
from trubshoot.web.guard import Doors, Guard
from trubshoot.web.kitchen import FRESH_IN_LIST, Kitchen
from trubshoot.web.memory import Records
from trubshoot.web.sessions import CODE_LIVES_S, Pairing, Sessions
from trubshoot.web.site import Site

HERE = "127.0.0.1"
HEAD_WITHIN_S = 10.0  # for the first lines of a request
MOST_CONNECTIONS = 200


@dataclass(frozen=True)
class Wanted:
    """How the server is wanted: port, and the address on the home network, None for none."""

    port: int
    home: str | None


class ImpatientProtocol(H11Protocol):
    """HTTP/1.1 that closes a connection on which no request has begun within its time.

    Without this somebody could hold every connection by sending a letter now and then.
    """

    _watch: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """Begin to wait for the first request."""
        super().connection_made(transport)
        self._watch = self.loop.call_later(HEAD_WITHIN_S, self._look)

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop waiting."""
        if self._watch is not None:
            self._watch.cancel()
        super().connection_lost(exc)

    def _look(self) -> None:
        if self.cycle is None:
            self.transport.close()
            return
        # requests come on one connection one after the other; a head that lags is found here
        idle = self.cycle.response_complete and self.timeout_keep_alive_task is None
        if idle:
            self.transport.close()
            return
        self._watch = self.loop.call_later(HEAD_WITHIN_S, self._look)


def home_address(named: str | None) -> str:
    """Return the address of this machine on the home network.

    Raises: UnitError: there is none, or the one named is no private address of a network.
    """
    text = named or _own_address()
    try:
        address = ipaddress.ip_address(text)
    except ValueError as error:
        raise UnitError(
            f'"{text}" is not an address. Write it like 192.168.1.20; the settings of the network '
            "show it."
        ) from error
    if address.is_loopback or address.is_unspecified or not address.is_private:
        raise UnitError(
            f"{text} is not an address inside a home network (such as 192.168.1.20), so nothing is "
            "opened there. Name the right one with --address."
        )
    return str(address)


def _own_address() -> str:
    """Return the address from which this machine would speak to others; nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address kept for documentation (RFC 5737)
            return str(probe.getsockname()[0])
        except OSError as error:
            raise UnitError(
                "this machine has no network now. Connect it, or leave --home-network out."
            ) from error


def listen(wanted: Wanted) -> list[socket.socket]:
    """Return listening sockets: on this machine, and on the home network when wanted.

    Raises: UnitError: a port that is taken, or an address that is not this machine's.
    """
    opened: list[socket.socket] = []
    port = wanted.port
    for address in [HERE, *([wanted.home] if wanted.home else [])]:
        family = socket.AF_INET6 if ":" in address else socket.AF_INET
        one = socket.socket(family, socket.SOCK_STREAM)
        if sys.platform != "win32":  # there it would let two programs share a port
            one.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            one.bind((address, port))
            one.listen(128)
        except OSError as error:
            for other in (one, *opened):
                other.close()
            taken = error.errno == errno.EADDRINUSE
            mend = "Choose another with --port." if taken else "Name another with --address."
            what = "is taken already" if taken else f"cannot be opened: {error.strerror}"
            raise UnitError(f"port {port} of {address} {what}. {mend}") from error
        port = one.getsockname()[1]
        opened.append(one)
    return opened


def hosts(sockets: Iterable[socket.socket]) -> frozenset[str]:
    """Return the values of the Host header that name this server."""
    found = set()
    for one in sockets:
        address, port = one.getsockname()[:2]
        names = [address, "localhost"] if address == HERE else [address]
        for name in names:
            shown = f"[{name}]" if ":" in name else name
            found |= {f"{shown}:{port}", *([shown] if port == 80 else [])}
    return frozenset(found)


def build(
    work: Diagnostician,
    folder: Path,
    sockets: list[socket.socket],
    *,
    pairing: bool,
    units: UnitSystem | None = None,
    now: Callable[[], datetime] = datetime.now,
) -> tuple[Site, Guard]:
    """Return the site and the application for sockets that listen already.

    Args:
        work: the knowledge made ready.
        folder: the cellar.
        sockets: what the server listens on.
        pairing: whether other devices must type a code.
        units: units to show; None: those of each file.
        now: what tells the moment of asking.
    """
    clock = time.monotonic
    port = sockets[0].getsockname()[1]
    doors = Doors(hosts(sockets), pairing, f"trubshoot_{port}")
    site = Site(
        cellar=Cellar(folder),
        kitchen=Kitchen(work, now),
        sessions=Sessions(clock),
        pairing=Pairing(clock, _show_code),
        doors=doors,
        units=units,
    )
    return site, make_app(site, clock)


def server_for(app: Guard) -> uvicorn.Server:
    """Return the server: quiet, with limits, believing no header about where a request is from."""
    config = uvicorn.Config(
        app,
        http=ImpatientProtocol,
        ws="none",
        lifespan="on",
        log_level="warning",
        access_log=False,
        proxy_headers=False,
        server_header=False,
        date_header=False,
        limit_concurrency=MOST_CONNECTIONS,
        timeout_keep_alive=5,
        timeout_graceful_shutdown=5,
        h11_max_incomplete_event_size=16 * 1024,
    )
    return uvicorn.Server(config)


def _show_code(code: str) -> None:
    minutes = CODE_LIVES_S / 60
    sys.stdout.write(f"Pairing code: {code}   (one device, within {minutes:.0f} minutes)\n")
    sys.stdout.flush()


def run(
    work: Diagnostician,
    folder: Path,
    wanted: Wanted,
    units: UnitSystem | None,
    records: Records,
) -> None:
    """Serve the pages until the program is interrupted.

    Args:
        work: the knowledge made ready.
        folder: the cellar.
        wanted: port and address.
        units: units to show; None: those of each file.
        records: where the records of practice are kept.
    """
    sockets = listen(wanted)
    site, app = build(work, folder, sockets, pairing=wanted.home is not None, units=units)
    site.records = records
    port = sockets[0].getsockname()[1]
    sys.stdout.write(f"Batches of {site.cellar.folder}\n")
    sys.stdout.write(f"On this machine: http://{HERE}:{port}/\n")
    if wanted.home:
        shown = f"[{wanted.home}]" if ":" in wanted.home else wanted.home
        sys.stdout.write(
            f"On the home network: http://{shown}:{port}/\n"
            "Whoever is on this network can see what goes over it: only where you trust it.\n"
        )
        site.pairing.new_code()
    else:
        sys.stdout.write("Nobody else can reach it.\n")
    sys.stdout.write("Stop with Ctrl-C.\n")
    sys.stdout.flush()
    gc.enable()  # the command line switches it off for commands that live half a second
    gc.freeze()

    async def main() -> None:
        warming = asyncio.create_task(_warm(site))
        await server_for(app).serve(sockets=sockets)
        warming.cancel()

    with contextlib.suppress(KeyboardInterrupt):  # the way to end it
        asyncio.run(main())


async def _warm(site: Site) -> None:
    """Work out every batch once, so that the first page need not wait for it."""
    for file in await site.kitchen.write(site.cellar.files):
        await site.kitchen.known(file, FRESH_IN_LIST)
    await site.kitchen.think(lambda: site.kitchen.library.index)
