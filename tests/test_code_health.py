"""Style, formatting and types of the whole checkout, as part of the tests."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]


@pytest.mark.parametrize(
    "arguments",
    [
        ("ruff", "check", "--no-cache", "."),
        ("ruff", "format", "--check", "--no-cache", "."),
        ("mypy", "--no-incremental"),
    ],
    ids=lambda arguments: " ".join(arguments[:2]),
)
def test_checker_finds_nothing(arguments: tuple[str, ...]) -> None:
    """The checker ends without a finding on the whole checkout."""
    ended = subprocess.run(
        [sys.executable, "-m", *arguments], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert ended.returncode == 0, ended.stdout + ended.stderr
