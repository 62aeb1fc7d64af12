"""One case of practice played with given answers, as it looks on a terminal of 80 columns.

The first question is the one an ideal asker puts, and the cause named is the true one, whatever
case the knowledge of the day draws.

Run: python -m tests.learning.session
"""

from __future__ import annotations

import io
import os
import sys
import tempfile
from collections.abc import Sequence
from unittest import mock

import pytest
from tests.learning.support import library

from trubshoot.cli.app import main
from trubshoot.learning.drill_draw import Bench

RANDOM_STATE, LEVEL = 4711, 3
ARGUMENTS = ("--random-state", str(RANDOM_STATE), "--level", str(LEVEL))


def answers() -> tuple[str, ...]:
    """Return what is typed."""
    case = Bench(library().work).draw(RANDOM_STATE, 1, LEVEL)
    knowledge = library().knowledge
    asked = [knowledge.findings[one.finding].label for one in case.course[:1]]
    named = knowledge.causes[case.true_causes[0]].label
    return ("leave them and keep everybody away", *asked, f"name {named}", "60")


def play(lines: Sequence[str], *arguments: str) -> str:
    """Return what is shown in a practice, with the answers as they are typed."""
    shown = io.StringIO()
    with (
        tempfile.TemporaryDirectory() as folder,
        mock.patch.dict(os.environ, {"XDG_DATA_HOME": folder, "COLUMNS": "80", "NO_COLOR": "1"}),
        mock.patch.object(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines))),
        mock.patch.object(sys, "stdout", shown),
        pytest.raises(SystemExit) as ended,
    ):
        main(["drill", *arguments])
    assert ended.value.code == 0, ended.value.code
    return shown.getvalue()


if __name__ == "__main__":
    sys.stdout.write(play(answers(), *ARGUMENTS))
