"""Published figures: the forward model stands within the stated factor, or the page says why."""

from __future__ import annotations

from typing import Any

import pytest
from tests.learning.figures import BEGIN, PAGE, Beside, beside, rows, table, with_table, work


@pytest.mark.parametrize("item", beside(), ids=lambda item: str(item.row["id"]))
def test_within_the_stated_factor(item: Beside) -> None:
    """No further off than the row allows; what lies outside the range has an explanation."""
    assert item.factor <= item.row["factor"], (item.model, item.row)
    if item.factor > 1.02:
        assert item.row.get("why"), item.row["id"]


def test_every_figure_cites_a_source_that_is_known() -> None:
    """The sources stand in the knowledge, where their mark says how much was read."""
    assert len(rows()) >= 12
    for row in rows():
        assert row["source"] in work().knowledge.sources, row["id"]
        assert 0 <= row["low"] <= row["high"] <= 1


def test_the_page_shows_the_table_as_it_is() -> None:
    """`python -m tests.learning.figures --write` was run after the last change."""
    page = PAGE.read_text(encoding="utf-8")
    assert page.count(BEGIN) == 1
    assert table() in page
    assert with_table(page) == page


@pytest.mark.parametrize(
    "row", [row for row in rows() if "count" in row], ids=lambda row: row["id"]
)
def test_intervals_of_counts(row: dict[str, Any]) -> None:
    """Where counts were published the range is their Clopper-Pearson interval, by scipy's beta."""
    from scipy.stats import beta

    least, most, of = row["count"]
    low = beta.ppf(0.025, least, of - least + 1) if least else 0.0
    assert row["low"] == pytest.approx(low, abs=0.001)
    assert row["high"] == pytest.approx(beta.ppf(0.975, most + 1, of - most), abs=0.001)
