"""Processes of their own in which faults are made: the real command line in bad surroundings."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
SECONDS = 120
# what no answer may show, however it came about
NOISE = ("Traceback", "Exception ignored", "Fatal Python error", "Segmentation", "Error: Error")
# the clock of the command line is set to the variable CLOCK, in seconds since 1970
WITH_CLOCK = """
import datetime, importlib, os, pkgutil, sys
import trubshoot.cli

class Clock(datetime.datetime):
    @classmethod
    def now(cls, tz=None):
        return datetime.datetime.fromtimestamp(float(os.environ["CLOCK"]), tz)

for found in pkgutil.iter_modules(trubshoot.cli.__path__, "trubshoot.cli."):
    module = importlib.import_module(found.name)
    if hasattr(module, "datetime"):
        module.datetime = Clock
from trubshoot.__main__ import main
main()
"""
# the language settings of the surroundings take hold, as in a program that has a window
WITH_LOCALE = """
import locale
locale.setlocale(locale.LC_ALL, "")
from trubshoot.__main__ import main
main()
"""


@dataclass(frozen=True)
class Run:
    """What a process left behind."""

    code: int
    out: bytes
    err: bytes

    @property
    def said(self) -> str:
        """Return everything that it wrote, whatever its letters are."""
        return (self.out + self.err).decode("utf-8", "replace")


def surroundings(**extra: str | None) -> dict[str, str]:
    """Return an environment in which the program is found; a variable that is None is taken out."""
    merged = {**os.environ, "PYTHONPATH": str(ROOT / "src"), **extra}
    return {key: value for key, value in merged.items() if value is not None}


def program(code: str = "") -> list[str]:
    """Return the beginning of the program's command line, or of one that runs `code` before it."""
    return [sys.executable, "-c", code] if code else [sys.executable, "-m", "trubshoot"]


def call(
    words: Sequence[str | bytes | Path],
    folder: Path,
    *,
    code: str = "",
    env: dict[str, str | None] | None = None,
    **options: Any,
) -> Run:
    """Run the program in a folder and return what it left behind."""
    options.setdefault("stdin", subprocess.DEVNULL)
    options.setdefault("stdout", subprocess.PIPE)
    options.setdefault("stderr", subprocess.PIPE)
    done = subprocess.run(
        [*program(code), *words],
        cwd=folder,
        env=surroundings(**(env or {})),
        timeout=SECONDS,
        check=False,
        **options,
    )
    return Run(done.returncode, done.stdout or b"", done.stderr or b"")


def sound(run: Run, codes: Sequence[int], what: object) -> Run:
    """Fail unless a process ended with one of these codes and without noise."""
    assert run.code in codes, (
        what,
        run.code,
        run.err[-700:].decode("utf-8", "replace"),
        run.said[-700:],
    )
    for noise in NOISE:
        assert noise not in run.said, (
            what,
            run.err[-700:].decode("utf-8", "replace"),
            run.said[-700:],
        )
    return run


def files_in(folder: Path) -> dict[str, bytes]:
    """Return the files below a folder with what is in them."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
