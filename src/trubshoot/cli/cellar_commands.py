"""The commands about one's own cellar, as the command line takes them: `cellar` and `confirm`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from trubshoot.cli.options import At, UnitsWithoutFile


def add_to(app: typer.Typer) -> None:
    """Give the program its commands about the cellar."""
    app.command("confirm")(confirm)
    app.command("cellar")(cellar)


def _cause_ids(incomplete: str) -> list[str]:
    """Return the ids of the causes that begin so: for the shell's completion."""
    from trubshoot.knowledge_base.files import knowledge_folder, yaml_files

    names = [
        path.removeprefix("causes/").removesuffix(".yaml")
        for path, _ in yaml_files(knowledge_folder(None))
        if path.startswith("causes/")
    ]
    return [name for name in sorted(names) if name.startswith(incomplete)]


def confirm(
    batch: Annotated[Path, typer.Argument(help="The batch file.", show_default=False)],
    cause: Annotated[
        list[str],
        typer.Argument(
            help='Id or label of a cause, or "none of these".',
            show_default=False,
            autocompletion=_cause_ids,
        ),
    ],
    words: Annotated[
        str | None,
        typer.Option("--words", help="What showed it; or what it was, when none of these."),
    ] = None,
    sure: Annotated[
        str | None, typer.Option("--sure", help="certain, or guess: shown, but not counted.")
    ] = None,
    at: Annotated[
        str | None, typer.Option("--at", help="When it was found out. Now if not said.")
    ] = None,
    day: Annotated[
        str | None, typer.Option("--day", help="Days since pitching, instead of --at.")
    ] = None,
    units: Annotated[
        str | None, typer.Option("--units", help="us or metric; the file's own by default.")
    ] = None,
) -> None:
    """Record what a batch turned out to be. `trubshoot log BATCH --undo` takes it back."""
    from trubshoot.cli.confirm import run_confirm

    raise typer.Exit(run_confirm(batch, cause, words=words, sure=sure, when=(at, day), units=units))


def cellar(
    folder: Annotated[
        Path, typer.Argument(help="The folder with your batch files; this one if left out.")
    ] = Path(),
    everything: Annotated[
        bool, typer.Option("--all", help="Show all batches and files, however many.")
    ] = False,
    form: Annotated[str, typer.Option("--format", help="text, json, or csv: the table.")] = "text",
    at: At = None,
    units: UnitsWithoutFile = None,
    jobs: Annotated[
        int | None,
        typer.Option("--jobs", min=1, help="Processes at work; one for each processor."),
    ] = None,
) -> None:
    """Show all batches of a folder: hazards, table, what recurs, what to change first."""
    from trubshoot.cli.cellar import run_cellar

    raise typer.Exit(
        run_cellar(folder, form=form, everything=everything, at=at, units=units, jobs=jobs)
    )
