"""The two commands of the README are what CI runs and what the examples answer."""

from __future__ import annotations

import re
import shlex
import subprocess
from pathlib import Path

import pytest

from trubshoot.cli.app import main

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text("utf-8")
SETUP = "python3 -m venv .venv && .venv/bin/pip install --quiet"


def _commands() -> list[str]:
    """Return the fenced shell commands of the section with the two commands."""
    section = README.split("## Two commands", 1)[1].split("\n## ", 1)[0]
    return re.findall(r"```sh\n(.*?)```", section, flags=re.DOTALL)


def test_readme_opens_with_the_job() -> None:
    """One paragraph says who, what they must get done and what it serves; then the commands."""
    title, job, then = README.split("\n\n", 2)
    assert title == "# trubshoot"
    assert "people who brew beer at home from kits" in " ".join(job.split())
    assert "\n\n" not in job
    assert then.startswith("## Two commands")


def test_there_are_exactly_two_commands_that_set_up_everything() -> None:
    """Each of the two is one line and begins with all of its set-up."""
    commands = _commands()
    assert len(commands) == 2
    for command in commands:
        assert command.count("\n") == 1
        assert command.startswith(SETUP)


def test_first_command_ends_as_the_readme_says(capsys: pytest.CaptureFixture[str]) -> None:
    """The diagnosis in the first command shows the hazard first and ends with exit code 3."""
    arguments = shlex.split(_commands()[0].rsplit(" && ", 1)[1])
    assert arguments[0] == ".venv/bin/trubshoot"
    paths = [str(ROOT / word) if word.startswith("docs/") else word for word in arguments[1:]]
    with pytest.raises(SystemExit) as ended:
        main(paths)
    assert ended.value.code == 3
    assert "ends with exit code 3" in README
    assert capsys.readouterr().out.startswith("WARNING: ")


def test_ci_runs_the_second_command() -> None:
    """The script of CI takes its command from the README."""
    asked = subprocess.run(
        ["bash", str(ROOT / ".ci" / "run"), "--show"], capture_output=True, text=True, check=True
    )
    assert asked.stdout == _commands()[1]
    assert "pip install" not in (ROOT / ".ci" / "run").read_text("utf-8")


def test_environment_of_the_commands_is_ignored_by_git() -> None:
    """The folder that the commands make does not turn up in git."""
    assert ".venv/" in (ROOT / ".gitignore").read_text("utf-8").splitlines()
