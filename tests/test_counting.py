"""Numbers beside a word: one is singular, and there is no minus before a zero."""

from __future__ import annotations

import pytest

from trubshoot.counting import counted, tidy, whole


@pytest.mark.parametrize(
    ("value", "words"),
    [(1.0, "1 day"), (1.4, "1 day"), (0.0, "0 days"), (-0.3, "0 days"), (21, "21 days")],
)
def test_how_many(value: float, words: str) -> None:
    """One day is no days, and a little less than none is none."""
    assert counted(value, "day") == words


def test_a_number_without_decimals() -> None:
    """A day a little before pitching is day 0."""
    assert whole(-0.2) == "0"
    assert whole(-1.2) == "-1"


@pytest.mark.parametrize(
    ("filled_in", "words"),
    [
        ("The batch is 1 days old.", "The batch is 1 day old."),
        ("1.0 hours without yeast", "1 hour without yeast"),
        ("11 days, 1.1 days, 21 days", "11 days, 1.1 days, 21 days"),
        ("-0.0 sigma below, day -0 and -0", "0.0 sigma below, day 0 and 0"),
        ("-0.5 points, 1.012, 0-1 days", "-0.5 points, 1.012, 0-1 days"),
        ("on 2026-01 days passed", "on 2026-01 days passed"),
    ],
)
def test_sentences_filled_in(filled_in: str, words: str) -> None:
    """Only a lone one and a lone minus zero are mended."""
    assert tidy(filled_in) == words
