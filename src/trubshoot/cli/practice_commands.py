"""The commands to learn and to practise with: `learn` and `drill`."""

from __future__ import annotations

from typing import Annotated

import typer

from trubshoot.cli.options import Form, UnitsWithoutFile


def add_to(app: typer.Typer) -> None:
    """Add the commands to the command line."""
    app.command()(learn)
    app.command()(drill)


def learn(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            help="A step, fault, cause or any other thing, in your own words; or `map`.",
            show_default=False,
        ),
    ] = None,
    form: Annotated[str, typer.Option("--format", help="text or json; csv for the map.")] = "text",
    top: Annotated[
        int | None, typer.Option("--top", help="Of the map: only so many faults, the commonest.")
    ] = None,
    step: Annotated[
        list[str] | None, typer.Option("--step", help="Of the map: only this step; repeatable.")
    ] = None,
    fault: Annotated[
        list[str] | None, typer.Option("--fault", help="Of the map: only this fault; repeatable.")
    ] = None,
    units: UnitsWithoutFile = None,
) -> None:
    """Browse what is known: which step makes which fault, and how to tell causes apart."""
    from trubshoot.cli.learn import run_learn

    raise typer.Exit(run_learn(words or [], form, top, step or [], fault or [], units))


def drill(
    what: Annotated[
        str | None,
        typer.Argument(help="Nothing, or `progress` for what came of it.", show_default=False),
    ] = None,
    cases: Annotated[int, typer.Option("--cases", help="How many cases.")] = 1,
    random_state: Annotated[
        int | None,
        typer.Option("--random-state", help="Draws the same cases again.", show_default=False),
    ] = None,
    level: Annotated[
        int | None,
        typer.Option("--level", help="1 (plain) to 5 (hard); by your progress if not said."),
    ] = None,
    form: Form = "text",
    units: UnitsWithoutFile = None,
) -> None:
    """Practise on an invented case: ask for tests, name the cause, see what each test told."""
    from trubshoot.cli.drill import run_drill

    raise typer.Exit(run_drill(what, cases, random_state, level, form, units))
