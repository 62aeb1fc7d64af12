"""Every command of every page really runs, in order, in a folder that holds what it speaks of."""

from __future__ import annotations

import importlib
import io
import pkgutil
import re
import shlex
import shutil
import sys
from datetime import datetime, tzinfo
from pathlib import Path

import pytest
from tests.cli.support import run
from tests.proof.commands import COMMANDS
from tests.test_docs import FENCED, NAMES, ROOT, _text

from trubshoot import cli

# folders that pages speak of without making them
FOLDERS = ("beer", "brewing")
TUTORIAL = "docs/tutorial/"  # tests/test_tutorial.py runs these from the first line on
RUN = ("sh", "bash", "console")
PLACEHOLDER = re.compile(r"\b[A-Z]{3,}\b|[<>|]")
# before a block whose commands are not run: <!-- not run: why -->
NOT_RUN = re.compile(r"<!-- not run: [^>]+ -->\n\Z")
# batch files that the reader has when the page begins: <!-- at hand: amber.yaml stout.yaml -->
AT_HAND = re.compile(r"^<!-- at hand: ([^>]+) -->$", re.MULTILINE)
# a batch file that the page has its reader write: its name, and the block right after it
WRITTEN = re.compile(r"`(\w+\.yaml)`[^`\n]*:\n\n```yaml\n(.*?)```", re.DOTALL)


class Evening(datetime):
    """A clock that stands: the pages log at hours of a day that must have come."""

    @classmethod
    def now(cls, tz: tzinfo | None = None) -> datetime:  # type: ignore[override]
        """Return an evening in October 2026."""
        return datetime(2026, 10, 20, 20, 0, tzinfo=tz)


def lines(name: str) -> list[tuple[str, str, bool]]:
    """Return (language, line, marked as not run) of every line that calls the program."""
    text, found = _text(name), []
    for match in FENCED.finditer(text):
        marked = NOT_RUN.search(text[: match.start()]) is not None
        for line in match[2].replace("\\\n", " ").splitlines():
            for part in line.removeprefix("$ ").split(" && "):
                bare = part.strip().removeprefix(".venv/bin/")
                if bare.startswith("trubshoot ") and not (match[1] == "console" and line[0] != "$"):
                    found.append((match[1], bare, marked))
    return found


def commands(name: str) -> list[list[str]]:
    """Return the arguments of the commands of a page that are to run, in order."""
    found = []
    for _, line, marked in lines(name):
        words = shlex.split(line, comments=True)[1:]
        row = COMMANDS.get(words[0]) or COMMANDS.get(" ".join(words[:2]))
        endless = row is None or row.endless
        if not marked and not PLACEHOLDER.search(line) and not (endless and words[0][0] != "-"):
            found.append(words)
    return found


def at_hand(text: str) -> list[str]:
    """Return the batch files that a page says the reader has when it begins."""
    return [file for match in AT_HAND.finditer(text) for file in match[1].split()]


@pytest.mark.parametrize("name", [name for name in NAMES if at_hand(_text(name))])
def test_what_is_at_hand_is_used(name: str) -> None:
    """A page names no batch file as being at hand that none of its commands asks for."""
    used = {word for words in commands(name) for word in words}
    assert set(at_hand(_text(name))) <= used


@pytest.mark.parametrize("name", [name for name in NAMES if lines(name)])
def test_lines_that_call_the_program_can_be_run(name: str) -> None:
    """A line that begins with the program's name stands in a block of commands, or is marked."""
    wrong = [line for language, line, marked in lines(name) if language not in RUN and not marked]
    assert wrong == [], "fence it as sh or console, or put <!-- not run: why --> before it"


@pytest.mark.parametrize(
    "name", [name for name in NAMES if commands(name) and not name.startswith(TUTORIAL)]
)
def test_the_commands_of_a_page_run_in_order(
    name: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Every command that a page shows ends with 0 or 3 when typed in the order of the page."""
    shutil.copytree(ROOT / "docs" / "examples", tmp_path / "docs" / "examples")
    (tmp_path / "knowledge").symlink_to(ROOT / "knowledge")
    for folder in FOLDERS:
        (tmp_path / folder).mkdir()
    rows = [f"2026-10-{day} 12:00,1.0{40 - day},19.{day % 10}" for day in range(12, 20)]
    (tmp_path / "readings.csv").write_text("\n".join(("Time,SG,Temp", *rows)) + "\n")
    monkeypatch.chdir(tmp_path)
    for module in pkgutil.iter_modules(cli.__path__, "trubshoot.cli."):
        if hasattr(importlib.import_module(module.name), "datetime"):
            monkeypatch.setattr(f"{module.name}.datetime", Evening)
    for file in at_hand(_text(name)):
        shutil.copyfile(ROOT / "docs" / "examples" / "silent_airlock.yaml", tmp_path / file)
    for match in WRITTEN.finditer(_text(name)):
        (tmp_path / match[1]).write_text(match[2], "utf-8")
    for words in commands(name):
        monkeypatch.setattr(sys, "stdin", io.StringIO(""))
        told = run(capsys, *words)
        assert told.code in (0, 3), (words, told.out[-500:], told.err)


def test_the_pages_hold_commands_to_run() -> None:
    """The tests above look at something."""
    assert sum(len(commands(name)) for name in NAMES) > 20
    assert any(words[0] == "new" for words in commands("docs/how_to/log_from_the_kitchen.md"))
