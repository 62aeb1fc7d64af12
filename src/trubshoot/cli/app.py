"""The command line: parse, one library call, print; and the one place where errors end."""

from __future__ import annotations

import gc
import os
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from trubshoot.cli import cellar_commands, learning_commands, page_commands, practice_commands
from trubshoot.cli.exits import BAD_INPUT, FAILED, INTERRUPTED
from trubshoot.cli.options import At, Form, Units
from trubshoot.cli.process import as_typed
from trubshoot.errors import TrubshootError, UnitError, printable

app = typer.Typer(
    name="trubshoot",
    help="Find out what went wrong with a home-brewed kit beer, and what to do now.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _version(value: bool) -> None:
    if value:
        from trubshoot import __version__
        from trubshoot.cli.session import diagnostician

        work = diagnostician()
        typer.echo(
            f"trubshoot {__version__}, knowledge {work.knowledge.version}, "
            f"rules run by {work.reasoner.engine}"
        )
        if work.reasoner.notice:
            typer.echo(work.reasoner.notice)
        raise typer.Exit


@app.callback()
def _common(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_version, is_eager=True, help="Show the version."),
    ] = False,
) -> None:
    """Find out what went wrong with a home-brewed kit beer, and what to do now."""


@app.command()
def diagnose(
    batch: Annotated[
        Path | None,
        typer.Argument(help="The batch file; left out: an interview.", show_default=False),
    ] = None,
    ask: Annotated[
        bool, typer.Option("--ask", help="An interview, also about a batch that has a file.")
    ] = False,
    saw: Annotated[
        list[str] | None, typer.Option("--saw", help="Something seen, in your own words.")
    ] = None,
    smelled: Annotated[
        list[str] | None, typer.Option("--smelled", help="Something smelled.")
    ] = None,
    tasted: Annotated[list[str] | None, typer.Option("--tasted", help="Something tasted.")] = None,
    no_sign_of: Annotated[
        list[str] | None,
        typer.Option("--no-sign-of", help="Something looked for and not found."),
    ] = None,
    why: Annotated[
        bool, typer.Option("--why", help="Show the rules that fired and the weights.")
    ] = False,
    form: Annotated[str, typer.Option("--format", help="text or json.")] = "text",
    at: Annotated[
        str | None, typer.Option("--at", help='The day to answer for, such as "2026-04-12".')
    ] = None,
    units: Annotated[
        str | None, typer.Option("--units", help="us or metric; the file's own by default.")
    ] = None,
    own_history: Annotated[
        Path | None,
        typer.Option("--own-history", help="A folder whose confirmed batches shift the chances."),
    ] = None,
    no_own_history: Annotated[
        bool, typer.Option("--no-own-history", help="The textbook's chances, whatever is set.")
    ] = False,
) -> None:
    """Say what is likely wrong with a batch, how sure that is, and what to do now."""
    from trubshoot.cli.diagnose import OwnChoice, run_diagnose

    words = [
        (sense, as_typed(text))
        for sense, texts in (
            ("saw", saw),
            ("smelled", smelled),
            ("tasted", tasted),
            ("no_sign_of", no_sign_of),
        )
        for text in texts or ()
    ]
    if batch is None or ask:
        if own_history is not None:
            raise UnitError("an interview goes by the textbook: leave --own-history out.")
        from trubshoot.cli.interview import run_interview

        raise typer.Exit(run_interview(batch, words, why=why, form=form, at=at, units=units))
    own = OwnChoice(own_history, no_own_history)
    raise typer.Exit(run_diagnose(batch, words, why=why, form=form, at=at, units=units, own=own))


_Why = Annotated[bool, typer.Option("--why", help="Show sources and the engine.")]


@app.command()
def bottling(
    batch: Annotated[Path, typer.Argument(help="The batch file.", show_default=False)],
    sugar: Annotated[
        str | None, typer.Option("--sugar", help='Planned sugar, such as "110 g table sugar".')
    ] = None,
    volume: Annotated[
        str | None, typer.Option("--volume", help='Volume that goes into bottles: "18 l".')
    ] = None,
    stirred: Annotated[
        str | None, typer.Option("--stirred", help="Will the sugar be stirred in: yes or no.")
    ] = None,
    bottles: Annotated[
        str | None, typer.Option("--bottles", help='Bottles: "reused brown longneck 330 ml".')
    ] = None,
    storage: Annotated[
        str | None, typer.Option("--storage", help='Place and warmth of storage: "cellar 18 C".')
    ] = None,
    target: Annotated[
        str | None, typer.Option("--target", help="CO2 aimed at, in volumes: 2.4.")
    ] = None,
    headspace: Annotated[
        str | None, typer.Option("--headspace", help='Empty part of each bottle: "4 %".')
    ] = None,
    why: _Why = False,
    form: Form = "text",
    at: At = None,
    units: Units = None,
) -> None:
    """Say whether a batch may be bottled: HOLD, or GO WITH LIMITS. Options change its plan."""
    from trubshoot.cli.bottling import Asked, run_bottling

    options = {
        "sugar": sugar,
        "volume": volume,
        "stirred": stirred,
        "bottles": bottles,
        "storage": storage,
        "target": target,
        "headspace": headspace,
    }
    raise typer.Exit(run_bottling(batch, options, Asked(form, at, units, why)))


@app.command()
def bottles(
    batch: Annotated[Path | None, typer.Argument(help="The batch file.")] = None,
    table: Annotated[
        bool, typer.Option("--table", help="Show the classes of bottles and how to tell them.")
    ] = False,
    why: _Why = False,
    form: Form = "text",
    at: At = None,
    units: Units = None,
) -> None:
    """Say what pressure filled bottles may hold, and what to do when it is too much."""
    from trubshoot.cli.bottling import Asked, run_bottles

    raise typer.Exit(run_bottles(batch, Asked(form, at, units, why), table=table))


knowledge_app = typer.Typer(help="Look at and check the knowledge.", no_args_is_help=True)
app.add_typer(knowledge_app, name="knowledge")


@knowledge_app.command("check")
def knowledge_check(
    folder: Annotated[
        Path | None, typer.Option("--folder", help="Another folder of knowledge files.")
    ] = None,
) -> None:
    """Check the knowledge files and name every problem with file, line and mend."""
    from trubshoot.cli.knowledge import run_check

    raise typer.Exit(run_check(folder))


@knowledge_app.command("source")
def knowledge_source(
    key: Annotated[str, typer.Argument(help="Key of a source, as shown in a diagnosis.")],
) -> None:
    """Show one source in full, and how much of it was read."""
    from trubshoot.cli.knowledge import run_source

    raise typer.Exit(run_source(key))


@app.command(context_settings={"ignore_unknown_options": True})
def log(
    batch: Annotated[Path, typer.Argument(help="The batch file.", show_default=False)],
    words: Annotated[
        list[str] | None,
        typer.Argument(help='What to log: gravity 1.014, saw "foam ring", did "dry hopped" ...'),
    ] = None,
    sample: Annotated[
        str | None, typer.Option("--sample", help='Temperature of a gravity sample: "20C".')
    ] = None,
    with_: Annotated[
        str | None, typer.Option("--with", help="hydrometer or refractometer.")
    ] = None,
    degassed: Annotated[
        bool | None,
        typer.Option("--degassed/--not-degassed", help="Whether the sample had no fizz left."),
    ] = None,
    of: Annotated[
        str | None,
        typer.Option("--of", help="forced test, opened bottle, water or another jar."),
    ] = None,
    where: Annotated[
        str | None, typer.Option("--in", help='"all bottles", "one bottle", "fermenter" ...')
    ] = None,
    at: Annotated[
        str | None,
        typer.Option("--at", help='When it was: "2026-04-12 18:30", "18:30". Now if not said.'),
    ] = None,
    day: Annotated[
        str | None, typer.Option("--day", help="Days since pitching, instead of --at.")
    ] = None,
    room: Annotated[
        bool, typer.Option("--room", help="The temperature is that of the room, not of the beer.")
    ] = False,
    undo: Annotated[bool, typer.Option("--undo", help="Take the last log line back.")] = False,
    csv: Annotated[
        Path | None, typer.Option("--csv", help="Take readings from a table instead.")
    ] = None,
    time: Annotated[
        str | None, typer.Option("--time", help="Column of the table that holds the time.")
    ] = None,
    gravity: Annotated[
        str | None, typer.Option("--gravity", help="Column that holds the gravity.")
    ] = None,
    temperature: Annotated[
        str | None, typer.Option("--temperature", help="Column that holds the beer temperature.")
    ] = None,
    day_first: Annotated[
        bool | None,
        typer.Option("--dayfirst/--monthfirst", help="Whether 03/04 is in April or in March."),
    ] = None,
    skip_bad: Annotated[
        bool, typer.Option("--skip-bad", help="Leave out rows that cannot be used.")
    ] = False,
    units: Units = None,
) -> None:
    """Add one line to the log of a batch file, and say what it changed."""
    from trubshoot.cli.log import Table, run_command

    details = {
        "sample": sample,
        "with": with_,
        "degassed": None if degassed is None else "yes" if degassed else "no",
        "of": of,
        "in": where,
    }
    table = Table(csv, time, gravity, temperature, day_first, skip_bad)
    given = {key: value for key, value in details.items() if value is not None}
    said = [as_typed(word) for word in words or ()]
    if room:
        from trubshoot.batch.log_words import of_room

        said = of_room(said)
    raise typer.Exit(run_command(batch, said, given, (at, day), table, undo, units))


@app.command()
def new(
    file: Annotated[
        Path | None, typer.Argument(help="The file to write; named after the batch if left out.")
    ] = None,
    defaults: Annotated[
        bool, typer.Option("--defaults", help="Ask nothing: write a file to fill in.")
    ] = False,
) -> None:
    """Begin a batch file with a short interview; every answer may be left empty."""
    from trubshoot.cli.new import run_new

    raise typer.Exit(run_new(file, defaults=defaults))


@app.command("next")
def next_(
    batch: Annotated[Path, typer.Argument(help="The batch file.", show_default=False)],
    ics: Annotated[
        Path | None, typer.Option("--ics", help="Also write the dates as a calendar file.")
    ] = None,
    at: At = None,
) -> None:
    """Say what to do or measure next, and when: one to three things."""
    from trubshoot.cli.next import run_next

    raise typer.Exit(run_next(batch, at=at, ics=ics))


@app.command()
def schema() -> None:
    """Print the JSON Schema of the batch file, so that an editor completes it."""
    import json

    from trubshoot.batch import json_schema

    typer.echo(json.dumps(json_schema(), indent=2))


for module in (learning_commands, practice_commands, cellar_commands, page_commands):
    module.add_to(app)


def main(arguments: list[str] | None = None) -> Any:
    """Run the command line; errors a user can act on are one message and exit code 2."""
    # A command lives for half a second and keeps nearly all it makes: every collection would only
    # walk the whole knowledge again, at loading and once more at the end. What lives on collects.
    gc.disable()
    # small matrices gain nothing from threads, and starting them costs a tenth of the whole run
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # nothing that happens to be installed beside trubshoot is looked for and run inside it
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    try:
        app(arguments, standalone_mode=True)
    except SystemExit as ended:
        if ended.code == BAD_INPUT:
            from trubshoot.cli.hints import hint

            told = hint(sys.argv[1:] if arguments is None else arguments)
            if told:
                print(f"trubshoot: {printable(told)}", file=sys.stderr)  # noqa: T201 - as below
        raise
    except TrubshootError as error:
        print(f"trubshoot: {printable(str(error))}", file=sys.stderr)  # noqa: T201 - the one error boundary
        sys.exit(BAD_INPUT)
    except BrokenPipeError:
        sys.exit(FAILED)
    except KeyboardInterrupt:
        sys.exit(INTERRUPTED)
    except OSError as error:  # the output: files of the user have their own messages
        print(f"trubshoot: the answer cannot be written: {error.strerror}.", file=sys.stderr)  # noqa: T201
        sys.exit(FAILED)
    except Exception as error:  # noqa: BLE001 - whatever it is, it ends in a sentence
        from trubshoot.diagnosis.not_assessed import BARE_LINE

        what = f"{type(error).__name__}: {error}"
        print(  # noqa: T201 - the one error boundary
            f"trubshoot: a fault of trubshoot, please report it: {what}\n{BARE_LINE}",
            file=sys.stderr,
        )
        sys.exit(FAILED)
