"""Sentences about temperatures and pressures in the units to show, whatever the command."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tests.cli.support import EXAMPLES, run

HOT = """batch: Hot
units: metric
wort: {kind: extract kit, volume: 19 l, water: tap, expected_og: 1.048, expected_fg: 1.012}
yeast: {class: clean american ale, form: dry, amount: 11 g, age: 5 months}
instruments: {thermometer_checked: yes}
log:
  - {at: 2026-03-07 16:10, gravity: 1.048, sample: 20 C, with: hydrometer}
  - {at: 2026-03-07 16:20, did: pitched, beer: 30 C}
  - {at: 2026-03-08 16:20, beer: 28 C}
"""
# a temperature or pressure in metric words, save where the words give it in F beside
METRIC = re.compile(r"[0-9] (?:C|bar)\b(?! \([0-9-]+ F\))")


@pytest.fixture
def hot(tmp_path: Path) -> Path:
    """A batch in metric units, pitched and fermented too warm."""
    path = tmp_path / "hot.yaml"
    path.write_text(HOT)
    return path


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("diagnose", "HOT", "--units", "us"), "The wort stood at 86 °F when the yeast went in"),
        (("report", "HOT", "-o", "-", "--format", "markdown", "--units", "us"), "stood at 86 °F"),
        (("report", "HOT", "-o", "-", "--format", "html", "--units", "us"), "stood at 86 °F"),
        (("whatif", "HOT", "--change", "pitched at 68 F", "--units", "us"), "stood at 68 °F"),
        (("plan", "HOT", "--units", "us"), "stood at 86 °F when the yeast"),
    ],
)
def test_a_temperature_in_a_reason(
    hot: Path, capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], says: str
) -> None:
    """Asked for US units, the reasons of a metric batch speak of degrees F, in every command."""
    told = run(capsys, *(hot if item == "HOT" else item for item in arguments))
    text = " ".join(told.out.split())
    assert says in text
    assert "stood at 30.0 C" not in text


def test_metric_stays_metric(hot: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without the option the reasons are those of the file's own units, in JSON always metric."""
    assert "stood at 30.0 C" in " ".join(run(capsys, "diagnose", hot).out.split())
    data = run(capsys, "diagnose", hot, "--format", "json", "--units", "us").out
    assert "stood at 30.0 C" in data
    assert "86 °F" not in data


@pytest.mark.parametrize("command", ["diagnose", "bottles", "report"])
def test_pressure_in_the_hazard_block(capsys: pytest.CaptureFixture[str], command: str) -> None:
    """A batch in US units reads psi and F in the reasons of its hazard block, and no bar."""
    more = ("-o", "-", "--format", "markdown") if command == "report" else ()
    batch = EXAMPLES / "bottled_too_early.yaml"
    told = run(capsys, command, batch, "--at", "2026-04-05", *more)
    text = " ".join(told.out.split())
    assert re.search(r"[0-9]+ psi over the danger", text)
    block = text[text.index("Why we say this") : text.index("What we do not know")]
    assert not METRIC.search(block)


def test_log_and_next_speak_the_units_of_the_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A corrected reading of a US batch is told at its temperature in F."""
    path = tmp_path / "us.yaml"
    path.write_text(HOT.replace("metric", "us").replace("20 C", "68 F"))
    told = run(capsys, "log", path, "gravity", "1.020", "--sample", "86F", "--with", "hydrometer",
               "--at", "2026-03-12 12:00")  # fmt: skip
    assert "read 1.020 at 86 °F" in " ".join(told.out.split())


def test_learn_and_the_card_speak_f(hot: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """How to look and the brew-day card are told in F as well; without the option in C."""
    asked = " ".join(run(capsys, "learn", "butter", "--units", "us").out.split())
    assert "10-20 minutes in 140-158 °F water" in asked
    assert "60-70 C water" in " ".join(run(capsys, "learn", "butter").out.split())
    card = " ".join(run(capsys, "plan", hot, "--card", "--units", "us").out.split())
    assert not re.search(r"[0-9] °?C\b", card)
