"""The commands that run the model forward, as the command line knows them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from trubshoot.cli.options import At, Units


def add_to(app: typer.Typer) -> None:
    """Add the commands to the command line."""

    @app.command()
    def whatif(
        batch: Annotated[Path, typer.Argument(help="The batch file.", show_default=False)],
        change: Annotated[
            list[str] | None,
            typer.Option("--change", help='What would have been done: "pitched at 20 C".'),
        ] = None,
        all_: Annotated[
            bool, typer.Option("--all", help="Every fault, not only what changed noticeably.")
        ] = False,
        form: Annotated[str, typer.Option("--format", help="text or json.")] = "text",
        at: At = None,
        units: Units = None,
    ) -> None:
        """Say what another way of brewing would have changed: faults, causes and pressure."""
        from trubshoot.cli.whatif import run_whatif

        raise typer.Exit(run_whatif(batch, change or (), all_=all_, form=form, at=at, units=units))

    @app.command()
    def plan(
        batch: Annotated[Path, typer.Argument(help="The batch file.", show_default=False)],
        card: Annotated[
            bool, typer.Option("--card", help="Only the brew-day card, for one printed page.")
        ] = False,
        form: Annotated[str, typer.Option("--format", help="text, markdown or json.")] = "text",
        at: Annotated[
            str | None, typer.Option("--at", help='The brew day, such as "2026-04-12".')
        ] = None,
        units: Units = None,
    ) -> None:
        """Before brew day: the likeliest faults of this process, what lowers them, and a card."""
        from trubshoot.cli.plan import run_plan

        raise typer.Exit(run_plan(batch, card=card, form=form, at=at, units=units))
