"""The direction of every what-if of the table agrees with the source that the row cites."""

from __future__ import annotations

from typing import Any

import pytest
from tests.learning.figures import ask, changes, work

LEAST = 0.002  # a smaller move of a chance is no direction
SAME = 0.02
WITHOUT_PUBLICATION = ("common practice", "from memory", "judgement")
ROWS: list[dict[str, Any]] = changes()["rows"]


def test_the_table_is_long_enough_and_says_each_thing_once() -> None:
    """At least forty changes, most of them with a publication that was read."""
    assert len({row["id"] for row in ROWS}) == len(ROWS) >= 40
    read = [row for row in ROWS if row["basis"] == "read"]
    assert len(read) >= 40


@pytest.mark.parametrize("row", ROWS, ids=lambda row: str(row["id"]))
def test_direction_agrees_with_its_source(row: dict[str, Any]) -> None:
    """Every named finding moves the way the source says, and the mark of the source is kept."""
    source = work().knowledge.sources.get(row["source"])
    if source is None:
        assert row["source"] in WITHOUT_PUBLICATION
        assert row["basis"] == row["source"]
    else:
        assert row["basis"] == source.basis
    answer = ask(row["base"], row["change"])
    assert all(change.alters for change in answer.changes), answer.changes
    faults = {fault.finding: fault for fault in answer.faults}
    for name in row.get("up", ()):
        assert faults[name].after >= faults[name].before + LEAST, name
    for name in row.get("down", ()):
        assert faults[name].after <= faults[name].before - LEAST, name
    for name in row.get("steady", ()):
        assert abs(faults[name].after - faults[name].before) < SAME, name
    if "pressure" in row:
        (before, after) = next(
            pair for pair in answer.pressures if pair[0] and pair[0].place == "hottest"
        )
        assert before is not None
        assert after is not None
        assert (after.upper_bar > before.upper_bar) == (row["pressure"] == "up")
        assert abs(after.upper_bar - before.upper_bar) > 0.01
