"""One case of practice played with given answers, as it looks on a terminal of 80 columns.

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

from trubshoot.cli.app import main

ARGUMENTS = ("--random-state", "4711", "--level", "3")
ANSWERS = ("leave them and keep everybody away", "far more bottling sugar", "name", "8", "80")


def play(answers: Sequence[str], *arguments: str) -> str:
    """Return what is shown in a practice, with the answers as they are typed."""
    shown = io.StringIO()
    with (
        tempfile.TemporaryDirectory() as folder,
        mock.patch.dict(os.environ, {"XDG_DATA_HOME": folder, "COLUMNS": "80", "NO_COLOR": "1"}),
        mock.patch.object(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in answers))),
        mock.patch.object(sys, "stdout", shown),
        pytest.raises(SystemExit) as ended,
    ):
        main(["drill", *arguments])
    assert ended.value.code == 0, ended.value.code
    return shown.getvalue()


if __name__ == "__main__":
    sys.stdout.write(play(ANSWERS, *ARGUMENTS))
