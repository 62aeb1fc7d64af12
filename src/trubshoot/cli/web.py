"""The command `web`: the pages for a browser, on this machine or on the home network."""

from __future__ import annotations

from importlib.util import find_spec
from pathlib import Path

from trubshoot.cli.exits import FINE
from trubshoot.cli.session import chosen_units, diagnostician, unit_system
from trubshoot.errors import UnitError

_NEEDED = ("starlette", "uvicorn", "jinja2")


def run_web(
    folder: Path, *, port: int, home_network: bool, address: str | None, units: str | None
) -> int:
    """Serve the pages until it is interrupted; returns the exit code."""
    lacking = [name for name in _NEEDED if find_spec(name) is None]
    if lacking:
        raise UnitError(
            f"the pages need what is not installed here: {', '.join(lacking)}. "
            "Install it with: pip install 'trubshoot[web]'"
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
    run(diagnostician(), folder, Wanted(port, home), system)
    return FINE
