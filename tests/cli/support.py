"""Run the command line inside the tests' own process, or once in a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from trubshoot.cli.app import main

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "docs" / "examples"


@dataclass(frozen=True)
class Run:
    """What a run of the command left behind."""

    code: int
    out: str
    err: str


def run(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> Run:
    """Run the command line in this process; anything but a clean exit fails the test."""
    capsys.readouterr()
    with pytest.raises(SystemExit) as ended:
        main([str(argument) for argument in arguments])
    told = capsys.readouterr()
    code = ended.value.code
    assert isinstance(code, int)
    assert "Traceback" not in told.out + told.err
    return Run(code, told.out, told.err)


def command(*arguments: str | Path) -> list[str]:
    """Return the command line for a process of its own."""
    return [sys.executable, "-m", "trubshoot", *(str(argument) for argument in arguments)]


def surroundings(**extra: str) -> dict[str, str]:
    """Return an environment in which a process of its own finds the program."""
    return {**os.environ, "PYTHONPATH": str(ROOT / "src"), **extra}


def run_alone(*arguments: str | Path, **extra: str) -> Run:
    """Run the command line in a process of its own, its output piped."""
    done = subprocess.run(
        command(*arguments), capture_output=True, env=surroundings(**extra), timeout=60
    )
    return Run(done.returncode, done.stdout.decode("utf-8"), done.stderr.decode("utf-8"))
