"""Every command of the program as one row: how it is called on a prepared folder, what it writes.

The fault campaign and the fuzzer of command lines take their commands from here, and a test holds
the table to the program: a new command joins by one row.
"""

from __future__ import annotations

import random
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from tests.proof import choices

ROOT = Path(__file__).resolve().parents[2]
BATCH, DATED, TABLE, BAD = "b.yaml", "dated.yaml", "t.csv", "bad.yaml"
AT = ("--at", "2026-04-05")


@dataclass(frozen=True)
class Row:
    """How a command is called so that it does its whole work, and what it leaves behind.

    arguments: the words after `trubshoot`, in a folder made by `prepared`. writes: the files that
    it makes or changes. codes: the exit codes with which it may end when nothing is wrong.
    reads_batch: whether it reads the batch file. endless: it runs until it is stopped, so that the
    fuzzer leaves it out.
    """

    arguments: tuple[str, ...]
    writes: tuple[str, ...] = ()
    codes: tuple[int, ...] = (0, 3)
    reads_batch: bool = True
    endless: bool = False


COMMANDS: dict[str, Row] = {
    "diagnose": Row(("diagnose", BATCH, *AT, "--saw", "white film", "--why")),
    "bottling": Row(("bottling", BATCH, *AT)),
    "bottles": Row(("bottles", BATCH, *AT)),
    "log": Row(("log", BATCH, "saw", "white film"), writes=(BATCH,)),
    "new": Row(("new", "summer.yaml", "--defaults"), writes=("summer.yaml",), reads_batch=False),
    "next": Row(("next", DATED, "--at", "2026-10-13", "--ics", "dates.ics"), writes=("dates.ics",)),
    "confirm": Row(("confirm", BATCH, "none of these", "--words", "a wasp in it"), writes=(BATCH,)),
    "cellar": Row(("cellar", ".", "--at", "2026-10-13")),
    "whatif": Row(("whatif", BATCH, *AT, "--change", "pitched at 20 C")),
    "plan": Row(("plan", BATCH, "--card", "--at", "2026-04-05")),
    "report": Row(("report", BATCH, *AT, "-o", "report.html"), writes=("report.html",)),
    "learn": Row(("learn", "diacetyl"), reads_batch=False),
    "drill": Row(("drill", "--random-state", "1"), reads_batch=False),
    "web": Row(("web", "."), endless=True),
    "knowledge check": Row(("knowledge", "check"), reads_batch=False),
    "knowledge source": Row(("knowledge", "source", "{source}"), reads_batch=False),
    "schema": Row(("schema",), reads_batch=False),
}
# ways of calling that count as commands of their own in the fault campaign
MORE: dict[str, Row] = {
    "diagnose as JSON": Row(("diagnose", BATCH, *AT, "--format", "json")),
    "log from a table": Row(
        ("log", BATCH, "--csv", TABLE, "--time", "time", "--gravity", "sg"), writes=(BATCH,)
    ),
    "log taken back": Row(("log", BATCH, "--undo"), writes=(BATCH,)),
    "version": Row(("--version",), codes=(0,), reads_batch=False),
    "help": Row(("--help",), codes=(0,), reads_batch=False),
}
# options of the shell's completion, which would change the start-up files of the user
_NEVER = ("--install-completion", "--show-completion", "--help")


def prepared(folder: Path) -> None:
    """Put into a folder what the rows speak of: a batch, a table of readings, a broken batch."""
    examples = ROOT / "docs" / "examples"
    shutil.copyfile(examples / "bottled_too_early.yaml", folder / BATCH)
    shutil.copyfile(examples / "silent_airlock.yaml", folder / DATED)
    rows = [f"2026-03-{day:02} 12:00,1.0{50 - day}" for day in range(10, 20)]
    (folder / TABLE).write_text("\n".join(("time,sg", *rows)) + "\n", encoding="utf-8")
    (folder / BAD).write_text("batch: x\nlog: [oops\n", encoding="utf-8")


def filled(row: Row) -> list[str]:
    """Return the arguments of a row, with a source of the knowledge where one is asked for."""
    return [_a_source() if word == "{source}" else word for word in row.arguments]


@cache
def _a_source() -> str:
    from trubshoot.knowledge_base import load_knowledge

    return min(load_knowledge().sources)


def program_commands() -> dict[str, Any]:
    """Return the commands of the program by their full names, as click objects."""
    import typer.main

    from trubshoot.cli.app import app

    return dict(_walk(typer.main.get_command(app), ""))


def _walk(command: Any, name: str) -> Iterator[tuple[str, Any]]:
    inner = getattr(command, "commands", None)
    if inner is None:
        yield name, command
        return
    for part, below in inner.items():
        yield from _walk(below, f"{name} {part}".strip())


@cache
def _fuzzed() -> tuple[tuple[str, Any], ...]:
    return tuple(
        (name, command)
        for name, command in sorted(program_commands().items())
        if not (name in COMMANDS and COMMANDS[name].endless)
    )


def _value(chance: random.Random, parameter: Any) -> str:
    """Return a value for an argument or option; where files are meant, a name in this folder."""
    described = getattr(parameter, "type_descriptor", None)  # newer typer; older ones have `type`
    if "Path" in repr(described.annotation if described is not None else parameter.type):
        names = (BATCH, BATCH, BATCH, TABLE, BAD, "none.yaml", ".", "n.yaml", "a b.yaml", "ü.yaml")
        return chance.choice(names)
    plain = ("json", "text", "us", "metric", "2026-04-05", "time", "sg", "18 l", "20C", "2.4")
    kind = chance.randrange(3)
    made = chance.choice(plain) if kind else choices.any_text(chance, 3)
    return made.replace("\x00", "")  # no command line can hold it


def any_arguments(chance: random.Random) -> list[str]:
    """Return a command line: a command with arguments and options of its own, or rubbish."""
    name, command = chance.choice(_fuzzed())
    if name in COMMANDS and chance.random() < 0.4:
        words = filled(COMMANDS[name])
        for _ in range(chance.choice((0, 1, 2))):
            words.insert(chance.randint(1, len(words)), choices.any_text(chance, 2))
        return _harmless(words)
    words = name.split(" ")
    for parameter in command.params:
        if parameter.param_type_name == "argument":
            count = chance.choice((0, 1, 1, 1, 2, 3) if parameter.nargs == -1 else (0, 1, 1, 1, 1))
            words += [_value(chance, parameter) for _ in range(count)]
        elif chance.random() < 0.2:
            names = [*parameter.opts, *parameter.secondary_opts]
            option = chance.choice(names)
            if option in _NEVER:
                continue
            words.append(option)
            if not parameter.is_flag:
                words.append(_value(chance, parameter))
    return _harmless(words)


def _harmless(words: list[str]) -> list[str]:
    """Return the words without those that would write outside the folder, or call completion."""
    clean = [word.replace("\x00", "").replace("/", "").replace("..", "") for word in words]
    return [word for word in clean if not word.startswith(_NEVER[:2])]
