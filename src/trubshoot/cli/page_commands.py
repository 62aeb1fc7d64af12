"""The commands that make pages: `report` and `web`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from trubshoot.cli.options import At, Units


def add_to(app: typer.Typer) -> None:
    """Add the commands to the command line."""
    app.command()(report)
    app.command()(web)


def report(
    batch: Annotated[Path, typer.Argument(help="The batch file.", show_default=False)],
    output: Annotated[
        Path | None,
        typer.Option(
            "--output", "-o", help="The file to write; beside the batch if left out, - to show it."
        ),
    ] = None,
    form: Annotated[
        str | None,
        typer.Option("--format", help="html or markdown; by the name of the file if left out."),
    ] = None,
    at: At = None,
    units: Units = None,
    force: Annotated[
        bool, typer.Option("--force", help="Replace a file that is no untouched report.")
    ] = False,
) -> None:
    """Write a report of a batch to keep, print or send: one file, hazards first, with figures."""
    from trubshoot.cli.report import Wanted, run_report

    raise typer.Exit(run_report(batch, Wanted(output, form, at, units, force)))


def web(
    folder: Annotated[
        Path, typer.Argument(help="The folder of the batch files.", show_default=True)
    ] = Path(),
    port: Annotated[int, typer.Option("--port", help="The port; 0 takes a free one.")] = 8410,
    home_network: Annotated[
        bool,
        typer.Option("--home-network", help="Also for paired devices on the home network."),
    ] = False,
    address: Annotated[
        str | None,
        typer.Option("--address", help="Address of this machine there, if it has several."),
    ] = None,
    units: Units = None,
) -> None:
    """Show the batches of a folder in a browser, on this machine only unless told otherwise."""
    from trubshoot.cli.web import run_web

    code = run_web(folder, port=port, home_network=home_network, address=address, units=units)
    raise typer.Exit(code)
