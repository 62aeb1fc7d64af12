"""One interview held with given answers, printed as it looks on a terminal of 80 columns.

Run: python -m tests.interview.session
"""

from __future__ import annotations

import builtins
import contextlib
import io
import os
import sys
import tempfile
from collections.abc import Sequence
from unittest import mock

import pytest

from trubshoot.cli.app import main

AT = ("--at", "2026-11-20 18:00")
ANSWERS = (
    "smells of sulphur, no film, no bubbles now. OG 1.053, pitched 9 days ago at 68F",
    "3",
    "yes",
    "no",
    "1",
    "?",
    "no",
    "none",
    "sulphur_ale",
)


class _Keyboard(io.StringIO):
    """Standard input that says it is a terminal."""

    def isatty(self) -> bool:
        """Return that somebody sits here."""
        return True


def hold_session(answers: Sequence[str], *arguments: str) -> str:
    """Return what is shown in an interview, with the answers as they are typed."""
    left = list(answers)
    shown = io.StringIO()

    def typed(mark: str = "") -> str:
        if not left:
            shown.write(mark)
            raise EOFError
        shown.write(f"{mark}{left[0]}\n")
        return left.pop(0)

    with (
        tempfile.TemporaryDirectory() as folder,
        mock.patch.dict(os.environ, {"XDG_STATE_HOME": folder, "COLUMNS": "80", "NO_COLOR": "1"}),
        mock.patch.object(builtins, "input", typed),
        mock.patch.object(sys, "stdin", _Keyboard()),
        mock.patch.object(sys, "stdout", shown),
        pytest.raises(SystemExit) as ended,
    ):
        main(["diagnose", *arguments])
    assert ended.value.code in (0, 3), ended.value.code
    return shown.getvalue()


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as here, contextlib.chdir(here):
        print(hold_session(ANSWERS, *AT))
