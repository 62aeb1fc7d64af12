"""Numbers in free words: which are read, as what, and what is left alone."""

from __future__ import annotations

from datetime import date

import pytest

from trubshoot.interview.numbers import clauses, is_readable, read_details
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.units import UnitSystem

TODAY = date(2026, 11, 25)


def told(
    knowledge: KnowledgeBase, text: str, units: UnitSystem | None = None, *, bottled: bool = False
) -> dict[str, str]:
    """Return the details of a text by their id."""
    return {item.id: item.value for item in read_details(knowledge, text, units, TODAY, bottled)}


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("OG 1.053", {"og": "1.053"}),
        ("started at 1050 and it is now 1.020", {"og": "1.050", "gravity_now": "1.020"}),
        ("it went from 1.050 to 1.014", {"og": "1.050", "gravity_now": "1.014"}),
        ("1.050, then 1.014", {"og": "1.050", "gravity_now": "1.014"}),
        ("stuck at 1.020 but it should be 1.012", {"gravity_now": "1.020", "expected_fg": "1.012"}),
        ("expected FG 1.012", {"expected_fg": "1.012"}),
        ("the OG was 12 plato", {"og": "12 plato"}),
        ("3 weeks at 68F", {"pitched_days": "3 weeks", "beer_temp": "68 F"}),
        ("pitched at 24 C, the room is 20\u00b0C", {"pitch_temp": "24 C", "room_temp": "20 C"}),
        ("pitched three days ago", {"pitched_days": "3 days"}),
        ("a couple of weeks in primary", {"pitched_days": "2 weeks"}),
        ("bottled two weeks ago", {"bottled_days": "2 weeks"}),
        ("it is day 5", {"pitched_days": "5 days"}),
        ("no bubbles after 48 hours", {"pitched_days": "48 hours"}),
        (
            "5 oz corn sugar in 5 gallons",
            {"sugar": "5 oz corn sugar", "bottled_volume": "5 gallons"},
        ),
        ("primed with 3/4 cup of dextrose", {"sugar": "3/4 cup dextrose"}),
        ("110 g table sugar for 19 litres", {"sugar": "110 g table sugar", "volume": "19 litres"}),
        ("a 5 gallon batch", {"volume": "5 gallon"}),
        ("bottled on 7 November", {"bottled_on": "2026-11-07"}),
        ("pitched on December 20th", {"pitched_on": "2025-12-20"}),
        ("brewed 2026-10-03", {"pitched_on": "2026-10-03"}),
        ("reused 12 oz bottles", {}),
        ("boiled 60 minutes", {}),
        ("6.6 lb of malt extract", {}),
        ("room at 68 degrees", {}),
    ],
)
def test_numbers_become_details(
    knowledge: KnowledgeBase, text: str, wanted: dict[str, str]
) -> None:
    """Form and neighbouring words say what a number is; what they do not say is left alone."""
    found = told(knowledge, text)
    if "volume" in wanted and "sugar" in wanted:  # volume beside sugar: the beer that was bottled
        wanted = {**wanted, "bottled_volume": wanted["volume"]}
        del wanted["volume"]
    assert found == wanted


def test_degrees_without_a_letter_take_the_units_named(knowledge: KnowledgeBase) -> None:
    """68 degrees is Fahrenheit only where somebody said that US units are spoken."""
    assert told(knowledge, "room at 68 degrees", "us") == {"room_temp": "68 F"}
    assert told(knowledge, "room at 18 degrees", "metric") == {"room_temp": "18 C"}


def test_a_bare_time_counts_from_the_bottling_of_bottled_beer(knowledge: KnowledgeBase) -> None:
    """Flat after three weeks: of bottled beer that is since bottling, beside warmth it is not."""
    assert told(knowledge, "flat after 3 weeks", bottled=True) == {"bottled_days": "3 weeks"}
    found = told(knowledge, "3 weeks at 68F", bottled=True)
    assert found == {"fermenter_days": "3 weeks", "beer_temp": "68 F"}


def test_points_in_numbers_part_no_clauses() -> None:
    """A full stop and a comma end a clause only before a blank."""
    assert clauses("OG 1.053, no film. Sour! but clear") == ["OG 1.053", "no film", "Sour", "clear"]


@pytest.mark.parametrize(
    ("key", "value", "fits"),
    [
        ("beer_temp", "68 F", True),
        ("beer_temp", "70 C", False),
        ("og", "1.053", True),
        ("sugar", "5 oz corn sugar", True),
        ("pitched_days", "900 years", False),
        ("pitched_on", "2027-01-01", False),
        ("pitched_on", "2026-01-01", True),
        ("expected_fg", "1.012", True),
        ("bottled_volume", "5 gal", True),
    ],
)
def test_only_what_a_batch_file_takes_is_kept(
    knowledge: KnowledgeBase, key: str, value: str, fits: bool
) -> None:
    """A number that the batch file would refuse is never written into it."""
    assert is_readable(knowledge, key, value, TODAY) is fits
