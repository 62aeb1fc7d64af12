"""Small words of every output."""

from __future__ import annotations

import pytest

from trubshoot.report.wording import how_much_read


@pytest.mark.parametrize(
    ("basis", "extent", "told"),
    [
        ("read", "two pages", "read; two pages"),
        ("read", "read: two pages", "read: two pages"),
        ("read", "", "read"),
        ("memory", "", "known from memory only"),
        ("memory", "the table", "known from memory only; the table"),
        ("", "", ""),
    ],
)
def test_how_much_was_read_is_said_once(basis: str, extent: str, told: str) -> None:
    """A basis that its extent repeats is not said twice."""
    assert how_much_read(basis, extent) == told
