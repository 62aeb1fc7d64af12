"""Times that words name themselves."""

from __future__ import annotations

import pytest
from tests.evidence.support import evidence_of

from trubshoot.evidence.own_time import own_time


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("stopped bubbling after 3 days", 3.0),
        ("went quiet after about two weeks", 14.0),
        ("foam within 12 hours", 0.5),
        ("bubbles ended on day 4", 4.0),
        ("quiet three days after pitching", 3.0),
        ("silent for 3 days", None),  # counts back from when it was told
        ("stopped 3 days ago", None),
        ("after 3 days warm, after 5 days cold", None),  # two times
        ("stopped", None),
    ],
)
def test_time_in_words(text: str, days: float | None) -> None:
    """Only what counts from pitching is taken, and only one time."""
    found = own_time(text)
    assert (None if found is None else found[0]) == pytest.approx(days)


def _said(text: str) -> set[str]:
    log = (
        "batch: a\nunits: metric\nyeast: {class: clean American ale, form: dry}\ntoday: 21\nlog:\n"
        "  - {day: 0, gravity: 1.050}\n  - {day: 0, did: pitched}\n"
        f"  - {{day: 21, saw: {text}}}\n"
    )
    return {item.id for item in evidence_of(log).understood}


def test_words_told_late_of_an_early_time_count_as_early() -> None:
    """Three weeks after pitching somebody says that it stopped after three days."""
    assert "airlock_stopped_early" in _said("airlock stopped bubbling after 3 days")
    assert "airlock_stopped_early" not in _said("airlock stopped bubbling")
    assert "airlock_stopped_early" not in _said("airlock stopped bubbling after 18 days")
