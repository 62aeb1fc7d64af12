"""US values behind metric ones in sentences: no difference is taken for a temperature."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml

from trubshoot.sentences import _VALUE, is_difference, with_us_units, worded

KNOWLEDGE = Path(__file__).resolve().parents[1] / "knowledge"
NOT_SHOWN = {"basis", "aliases", "examples", "words", "tests", "facts", "name", "sources"}
# every difference of temperatures in what the knowledge says: read by a person, one by one
DIFFERENCES = {
    "Wort 3 C",
    "runs 3 to 4 C",
    "runs about 3 C",
    "runs some 2-8 C",
    "it: 2-4 C",
    "usual, 5-8 C",
    "warmed by 3 C",
    "warming by 3-5 C",
    "slowly by 3-5 C",
    "beer 2-3 C",
    "it 2-3 C",
    "by more than 4 C",
    "more than about 4 C",
    "fell 3 to 4 C",
    "within 2 C",
    "within 1 C",
    "within 20 C",
    "than 20 C",
    "by over 8 C",
    "per 10 C",
    "of 1.5 C",
    "than 5.5 C",
    "by 5.5 C",
    "to 5.5 C",
    "stood 5.5 C",
    "within 5.5 C",
}
# and every temperature below 15 C that is none
SMALL = {"above 0 C", "at 0 C", "near 0 C", "read 0 C", "reads 0 C", "about -2 C", "below 8 C"}


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        ("Keep it at 20 C.", "Keep it at 20 C (68 F)."),
        ("Keep it at 20-22 C for long.", "Keep it at 20-22 C (68-72 F) for long."),
        ("at 65 to 70 C, in", "at 65 to 70 C (149 to 158 F), in"),
        ("It never fell below -2 C.", "It never fell below -2 C (28 F)."),
        ("Warm the beer 2-3 C within range.", "Warm the beer 2-3 C (4-5 F) within range."),
        ("fell by 7.8 C before", "fell by 7.8 C (14 F) before"),
        ("fell by no more than 5.5 C over 3 days", "fell by no more than 5.5 C (10 F) over 3 days"),
        ("agree within 1 C in both", "agree within 1 C (1.8 F) in both"),
        ("Cooled to near 0 C under a lid", "Cooled to near 0 C (32 F) under a lid"),
        ("3.77 bar over the limit", "3.77 bar (55 psi) over the limit"),
        ("above 10 C (50 F).", "above 10 C (50 F)."),
        ("vitamin C, step C, 5 CO2, 2 Cans", "vitamin C, step C, 5 CO2, 2 Cans"),
        ("read 1.047 at 24 C", "read 1.047 at 24 C (75 F)"),
    ],
)
def test_the_value_stands_behind(said: str, wanted: str) -> None:
    """Worked by hand: F = 1.8 C + 32, a difference 1.8 C, a bar 14.504 psi."""
    assert with_us_units(said, "us") == wanted
    assert with_us_units(said, "metric") == said
    assert with_us_units(wanted, "us") == wanted


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        ("Keep it at 20-22 C for long.", "Keep it at 68-72 °F for long."),
        (
            "A working beer runs 3 to 4 C above the room.",
            "A working beer runs 5 to 7 °F above the room.",
        ),
        ("fell by 7.8 C before", "fell by 14 °F before"),
        ("above 10 C (50 F).", "above 50 °F."),
        ("3.77 bar over the limit", "55 psi over the limit"),
    ],
)
def test_our_own_words_are_told_in_us_units(said: str, wanted: str) -> None:
    """The same values, told instead of the metric ones."""
    assert worded(said).in_us() == wanted
    assert worded(said) == said


def _texts(value: object) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for key, item in value.items():
            if key not in NOT_SHOWN:
                yield from _texts(item)
    elif isinstance(value, list):
        for item in value:
            yield from _texts(item)


def test_every_difference_of_the_knowledge_is_known_as_one() -> None:
    """All temperatures of the knowledge are sorted as a person sorted them.

    A new text that is a difference has to be added to the list above; small numbers are listed
    too, since those are where a difference is mistaken for a temperature.
    """
    found: set[str] = set()
    small: set[str] = set()
    skipped = {"sources.yaml", "facts.yaml", "constants.yaml"}
    for path in KNOWLEDGE.rglob("*.yaml"):
        if path.name in skipped:
            continue
        for text in _texts(yaml.load(path.read_text("utf-8"), yaml.CSafeLoader)):
            filled = " ".join(re.sub(r"\{[^{}]*\}", "5.5", text).split())
            for value in _VALUE.finditer(filled):
                if value["unit"] == "bar" or value["twin"]:
                    continue
                around = filled[: value.end()]
                if is_difference(filled, value.start(), value.end()):
                    assert any(around.endswith(known) for known in DIFFERENCES), around[-60:]
                    found |= {known for known in DIFFERENCES if around.endswith(known)}
                elif float(value["low"]) < 15 and value["low"] != "5.5":
                    small.add(f"{filled[: value.start()].split()[-1]} {value[0]}")
    assert found == DIFFERENCES
    assert small == SMALL
