"""The command `web`: the pages for a browser, on this machine or on the home network."""

from __future__ import annotations

import threading
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from trubshoot.cli.exits import FINE
from trubshoot.cli.session import chosen_units, diagnostician, unit_system
from trubshoot.errors import UnitError

if TYPE_CHECKING:
    from trubshoot.learning.drill_progress import Record

_WRITING = threading.Lock()
_NEEDED = ("starlette", "uvicorn", "jinja2")


def run_web(
    folder: Path, *, port: int, home_network: bool, address: str | None, units: str | None
) -> int:
    """Serve the pages until it is interrupted; returns the exit code.

    Raises: UnitError: an option that cannot be, or the packages of the extra `web` are missing.
    """
    lacking = [name for name in _NEEDED if find_spec(name) is None]
    if lacking:
        raise UnitError(
            f"the pages need what is not installed here: {', '.join(lacking)}. "
            "Install it, in the folder that trubshoot came in, with: .venv/bin/pip install '.[web]'"
        )
    if address is not None and not home_network:
        raise UnitError("--address goes with --home-network only, which opens a port to others.")
    if not 0 <= port <= 65535:
        raise UnitError(f"{port} is no port. Write a number from 1024 to 65535.")
    chosen = chosen_units(units)
    from trubshoot.web.cellar import Cellar
    from trubshoot.web.serve import Wanted, home_address, run

    Cellar(folder)  # refused before anything is opened
    home = home_address(address) if home_network else None
    system = None if chosen is None else unit_system(chosen, "metric")
    run(diagnostician(), folder, Wanted(port, home), system, _OnDisk())
    return FINE


class _OnDisk:
    """Records of practice in the learner's own file, the one of `trubshoot drill`."""

    def read(self) -> tuple[Record, ...]:
        """Return all of them, the oldest first."""
        from trubshoot.cli.drill_store import Store

        return Store().read()[0].records

    def add(self, record: Record) -> None:
        """Keep one more; what cannot be written is only not kept."""
        from trubshoot.cli.drill_store import Store

        with _WRITING:
            store = Store()
            kept, _ = store.read()
            store.write(replace(kept, records=(*kept.records, record)))
