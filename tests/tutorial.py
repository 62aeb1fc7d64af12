"""Follows the tutorial as a newcomer would: files and commands in order, in one empty folder.

The pages are read in the order in which they are to be followed. What stands in them decides:

- a ```sh block: only `mkdir` and `cd`, which are done;
- `<!-- file: NAME -->` above a block: the block is written into that file;
- `<!-- above LINE in NAME -->`: the block is put directly above that line of the file;
- `<!-- shown: COMMAND | from ... | until ... -->`: the command is run, its output put in.

Any other command in a page is an error, so that nothing shown there stays untried.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import sys
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from trubshoot.cli.app import main

ROOT = Path(__file__).resolve().parents[1]
PAGES = tuple(
    ROOT / "docs" / "tutorial" / f"{name}.md"
    for name in ("first_batch", "first_fault", "first_bottling")
)
# program output shown in a page, whatever stands there now
_SHOWN = r"<!-- shown: (?P<spec>.+?) -->\n.*?<!-- end of what is shown -->"
_FILE = r"<!-- file: (?P<file>\S+) -->\n```yaml\n(?P<body>.*?)^```"
_ABOVE = r"<!-- above (?P<line>\S+) in (?P<into>\S+) -->\n```yaml\n(?P<more>.*?)^```"
_SHELL = r"^```sh\n(?P<shell>.*?)^```"
_PART = re.compile("|".join((_SHOWN, _FILE, _ABOVE, _SHELL)), flags=re.DOTALL | re.MULTILINE)

Show = Callable[[str, str], str]  # (spec, whole output) -> block for the page


def follow(show: Show) -> dict[Path, str]:
    """Return every page with the output that its commands give now.

    Raises: AssertionError: a step cannot be done as it stands in the page.
    """
    texts: dict[Path, str] = {}
    with tempfile.TemporaryDirectory() as name, _as_newcomer(Path(name)):
        for page in PAGES:
            texts[page] = _PART.sub(lambda part: _do(part, show), page.read_text("utf-8"))
    return texts


def _do(part: re.Match[str], show: Show) -> str:
    if part["spec"]:
        return show(part["spec"], output_of(part["spec"].split(" | ")[0]))
    if part["file"]:
        path = _inside(part["file"])
        assert not path.exists(), f"{path} is there already"
        path.write_text(part["body"], "utf-8")
    elif part["into"]:
        path = _inside(part["into"])
        text = path.read_text("utf-8")
        assert text.count(f"\n{part['line']}\n") == 1, f"{part['line']} stands not once in {path}"
        line = f"\n{part['line']}\n"
        path.write_text(text.replace(line, f"\n{part['more']}{line[1:]}"), "utf-8")
    else:
        for line in part["shell"].splitlines():
            verb, folder = line.split()
            assert verb in ("mkdir", "cd"), f"the tutorial does not run {line}"
            if verb == "mkdir":
                _inside(folder).mkdir()
            else:
                os.chdir(_inside(folder))
    return part[0]


def _inside(name: str) -> Path:
    assert "/" not in name, f"{name} leads out of the folder"
    assert ".." not in name, f"{name} leads out of the folder"
    return Path(name)


def output_of(command: str) -> str:
    """Return what a command prints; it ends with 0, or 3 for a hazard or HOLD."""
    program, *arguments = shlex.split(command)
    assert program == "trubshoot", command
    told, complaints = io.StringIO(), io.StringIO()
    with (
        contextlib.redirect_stdout(told),
        contextlib.redirect_stderr(complaints),
        pytest.raises(SystemExit) as ended,
    ):
        main(arguments)
    assert ended.value.code in (0, 3), f"{command}: {complaints.getvalue()}"
    assert complaints.getvalue() == "", f"{command}: {complaints.getvalue()}"
    return told.getvalue()


@contextlib.contextmanager
def _as_newcomer(folder: Path) -> Iterator[None]:
    """Stand in a folder, on an 80-column page, without anybody's settings."""
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        patch.setenv("COLUMNS", "80")
        patch.setenv("NO_COLOR", "1")
        patch.delenv("FORCE_COLOR", raising=False)
        for name in ("XDG_CONFIG_HOME", "APPDATA"):
            patch.setenv(name, os.devnull)
        if sys.platform == "darwin":
            patch.setenv("HOME", str(folder))
        yield
