"""What `bottling` and `bottles` print on twelve invented logs, and what they promise."""

from __future__ import annotations

import json
import re
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from tests.cli.support import Run, run
from tests.safety.gate import changed, good, is_go, read, reading, verdict, work

from trubshoot.batch import read_batch
from trubshoot.diagnosis.bottling_report import BottlingReport, bottling_report, relevant

LOGS = Path(__file__).resolve().parents[1] / "safety" / "logs"
NOW = datetime(2026, 3, 22, 18)
AT = ("--at", "2026-03-22 18:00")
GO = ["pale_ready"]
HOLD = [
    "bitter_two_days",
    "first_batch_little_written",
    "ipa_dry_hopped",
    "lager_cold",
    "saison_too_soon",
    "stout_stuck",
    "wheat_weak_bottles",
]
BOTTLED = {
    "bottled_well": "NOTICE",
    "bottled_by_spoon": "WARNING",
    "bottled_burst": "DANGER",
    "bottled_nothing_known": "WARNING",
}
ALL = [*GO, *HOLD, *BOTTLED]


def command(name: str) -> str:
    return "bottles" if name in BOTTLED else "bottling"


def ask(capsys: pytest.CaptureFixture[str], name: str, *more: str) -> Run:
    return run(capsys, command(name), LOGS / f"{name}.yaml", *AT, *more)


def report_of(name: str) -> BottlingReport:
    return bottling_report(work(), read_batch(LOGS / f"{name}.yaml", NOW), NOW)


@pytest.mark.parametrize("name", GO)
def test_go_with_all_limits_in_every_form(
    name: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """I13: GO is 0 and names every limit: bottles, sugar, fill, box, cool, first bottle."""
    monkeypatch.setenv("COLUMNS", "80")
    for units in ("us", "metric"):
        for why in ([], ["--why"]):
            told = ask(capsys, name, "--units", units, *why)
            assert told.code == 0
            text = " ".join(told.out.split())
            assert text.startswith("GO WITH LIMITS: ")
            _limits_are_in(text)
    told = ask(capsys, name, "--format", "json")
    plain = json.loads(told.out)
    assert told.code == 0
    assert plain["verdict"] == "GO WITH LIMITS"
    _limits_are_in(" ".join(item["do"] for item in plain["limits"]))


def _limits_are_in(text: str) -> None:
    for words in (
        "Sound bottles made for pressure: single-use longneck, washed and used again",
        r"Sugar: at most (?:95 g|3\.4 oz \(95 g\)) of table sugar in (?:18\.0 L|4\.8 gal)",
        r"leave 4 % of each bottle empty",
        r"lidded box in a cool place, never warmer than (?:30 °C|86 °F)",
        r"first bottle cold, outdoors, under a soaked towel, cap away from faces, with goggles",
        r"within a day of the latest reading",
    ):
        assert re.search(words, text), words


@pytest.mark.parametrize("name", HOLD)
def test_hold_says_why_and_what_ends_it(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """HOLD is 3, says so in the first line, and what would end it before the reasons."""
    told = ask(capsys, name)
    assert told.code == 3
    assert told.out.startswith("HOLD: ")
    assert told.out.index("WHAT WOULD TURN HOLD INTO GO") < told.out.index("WHY NOT YET")
    assert "GO WITH LIMITS" not in told.out
    plain = json.loads(ask(capsys, name, "--format", "json").out)
    assert plain["verdict"] == "HOLD"
    assert plain["reasons"]
    assert plain["limits"] == []
    assert plain["way_to_go"]["lines"]


@pytest.mark.parametrize(("name", "level"), BOTTLED.items())
def test_filled_bottles(name: str, level: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The hazard block comes first, with its level in text and JSON and the exit code to match."""
    told = ask(capsys, name)
    assert told.out.startswith(f"{level}: ")
    assert told.code == (3 if level in ("WARNING", "DANGER") else 0)
    plain = json.loads(ask(capsys, name, "--format", "json").out)
    assert plain["level"] == level
    opens = any("Open it cold" in item["do"] for item in plain["opened_bottle"])
    assert opens is (level == "NOTICE")


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("width", ["60", "80", "100"])
def test_pages_fit_and_end_cleanly(
    name: str, width: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """No line is wider than the page or ends in a blank; no colour, no word of safety."""
    monkeypatch.setenv("COLUMNS", width)
    for more in ([], ["--why"], ["--units", "us"]):
        out = ask(capsys, name, *more).out
        assert all(len(line) <= int(width) for line in out.splitlines())
        assert all(line == line.rstrip() for line in out.splitlines())
        assert "\x1b" not in out
        assert not re.search(r"\b(?:safe|safely|harmless)\b", out, re.IGNORECASE)


@pytest.mark.parametrize("name", ALL)
def test_tables_are_not_wrapped_at_80(
    name: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """At 80 columns each row of a table stands on one line."""
    monkeypatch.setenv("COLUMNS", "80")
    for more in ([], ["--units", "us"]):
        lines = ask(capsys, name, *more).out.splitlines()
        assert not [line for line in lines if re.fullmatch(r"  (?:g|ml|psi|bar|oz|limit)", line)]


def _with_readings(report: BottlingReport, document: dict[str, Any]) -> dict[str, Any]:
    way = report.way
    assert way is not None
    assert way.days is not None
    assert way.points is not None
    new = json.loads(json.dumps(document))
    for number in range(1, way.readings + 1):
        at = NOW + timedelta(days=way.days * number / way.readings)
        entry = reading(at.strftime("%Y-%m-%d %H:%M"), round(1 + way.points / 1000, 5))
        entry["sample"] = f"{way.sample_c:.2f} C"
        new["log"].append(entry)
        new["log"].append({"at": entry["at"], "beer": "20 C"})
    return {key: value for key, value in new.items() if key != "today"}


@pytest.mark.parametrize(
    ("doc", "go_then"),
    [
        (changed(good(), log=good()["log"][:4] + good()["log"][5:]), True),
        (changed(good(), log=good()["log"][:7]), True),
        (changed(good(), log__7__gravity=1.014), False),
    ],
)
def test_the_promised_reading_turns_hold_into_go(doc: dict[str, Any], go_then: bool) -> None:
    """With the readings of the promise in the log it is GO on that day, and not on the day before.

    Where something is left besides, that is all that is left.
    """
    batch = read(doc)
    assert batch is not None
    report = bottling_report(work(), batch, NOW)
    way = report.way
    assert way is not None
    assert way.days is not None
    on = NOW + timedelta(days=way.days)
    later = _with_readings(report, doc)
    found = verdict(later, on)
    assert found is not None
    assert found.go is go_then
    assert {reason.id for reason in found.reasons} == {reason.id for reason in way.left}


def test_a_dose_that_is_promised_passes() -> None:
    """Every dose of the sugar table, put into the plan, passes both tests of the bottles."""
    report = report_of("wheat_weak_bottles")
    assert report.sugar is not None
    assert report.sugar.capped
    names = {
        "sucrose": "table sugar",
        "glucose_monohydrate": "corn sugar",
        "glucose_anhydrous": "anhydrous dextrose",
        "dry_malt_extract": "dry malt extract",
        "honey": "honey",
        "brown_sugar": "brown sugar",
    }
    path = LOGS / "wheat_weak_bottles.yaml"
    assert {row.kind for row in report.sugar.rows} == set(names)
    for row in report.sugar.rows:
        text = path.read_text("utf-8").replace(
            "8 oz corn sugar", f"{row.batch_g} g {names[row.kind]}"
        )
        found = work().bottling_check(read_batch(text, NOW), NOW)
        assert found is not None
        assert found.go, (row.kind, [reason.id for reason in found.reasons])


def test_only_relevant_lines_are_listed() -> None:
    """A line with a condition stands there only for a log that meets it."""
    lists = work().knowledge.checklists["bottling"]
    plain = {item.id for item in relevant(lists, {"stage": "fermenting"})}
    assert {"label", "clean_first", "box"} <= plain
    for fact, value, item in [
        ("chlorine_used", "present", "rinse_chlorine"),
        ("acid_used", "present", "chlorine_apart"),
        ("dry_hopped", "present", "hops_behind"),
        ("dosing", "bulk", "stir"),
        ("dosing", "per_bottle", "each_bottle"),
        ("sugar_by_spoon", "present", "sugar_by_spoon"),
        ("bottle_class", "pet_csd", "sound_plastic"),
        ("caps_reused_or_doubtful", "present", "new_caps"),
        ("conditioning_temp_c", 12.0, "warm_weeks"),
        ("clear_or_green_glass", "present", "dark"),
        ("vessel_kind", "bucket", "spigot"),
    ]:
        assert item not in plain
        shown = {line.id for line in relevant(lists, {"stage": "fermenting", fact: value})}
        assert item in shown
    glass = {
        line.id for line in relevant(lists, {"stage": "fermenting", "bottle_class": "pet_csd"})
    }
    assert not {"sound_bottles", "plastic_test_bottle"} & glass


def test_bottling_of_a_bottled_batch_points_to_bottles(capsys: pytest.CaptureFixture[str]) -> None:
    """Asked about a batch that is bottled, `bottling` names the other command and is not 0."""
    told = run(capsys, "bottling", LOGS / "bottled_well.yaml", *AT)
    assert told.code == 3
    assert "trubshoot bottles" in told.out
    plain = json.loads(
        run(capsys, "bottling", LOGS / "bottled_well.yaml", *AT, "--format", "json").out
    )
    assert plain["verdict"] is None


@pytest.mark.parametrize(
    ("options", "go"),
    [
        (["--sugar", "95 g table sugar"], True),
        (["--sugar", "400 g table sugar"], False),
        (["--volume", "6 l"], False),
        (["--bottles", "champagne bottles 750 ml"], True),
        (["--bottles", "wine bottles"], False),
        (["--storage", "cellar 14 C"], True),
        (["--storage", "garage 14 C"], False),
        (["--storage", "45 C"], False),
        (["--headspace", "0.3 %"], False),
        (["--target", "2.1"], True),
        (["--sugar", "none", "--volume", "17 l"], True),
    ],
)
def test_options_change_the_plan(
    options: list[str], go: bool, capsys: pytest.CaptureFixture[str]
) -> None:
    """Sugar, volume, bottles, storage, target, headspace given by options count for this run."""
    told = run(capsys, "bottling", LOGS / "pale_ready.yaml", *AT, *options)
    assert (told.code == 0) is go


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--sugar", "12 parsecs sugar"], "--sugar"),
        (["--volume", "lots"], "--volume"),
        (["--storage", "999 C"], "--storage"),
        (["--target", "70"], "--target"),
        (["--headspace", "4"], "--headspace"),
    ],
)
def test_options_that_cannot_be_read(
    options: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A bad option is exit 2 and named; nothing is judged."""
    told = run(capsys, "bottling", LOGS / "pale_ready.yaml", *AT, *options)
    assert told.code == 2
    assert words in told.err
    assert "GO WITH LIMITS" not in told.out


def test_the_table_of_bottles(capsys: pytest.CaptureFixture[str]) -> None:
    """`bottles --table` needs no batch and gives every class, in text and JSON."""
    told = run(capsys, "bottles", "--table")
    assert told.code == 0
    for row in work().knowledge.bottles.values():
        assert row.label in told.out
    plain = json.loads(run(capsys, "bottles", "--table", "--format", "json").out)
    assert [row["id"] for row in plain["bottle_classes"]] == list(work().knowledge.bottles)
    assert run(capsys, "bottles").code == 2


def test_both_words_on_the_logs() -> None:
    """The logs hold both answers, or this file would test one side only."""
    assert is_go(good())
    assert [name for name in GO if report_of(name).verdict is None] == []


def test_the_steps_of_a_block_have_their_reasons() -> None:
    """1.4: each kind of step that is shown has its reason, in the same order, and no other has."""
    for name, tags in (
        ("bottled_by_spoon", ["people", "leave", "cool", "protect"]),  # handling is withheld
        ("bottled_well", []),
        ("bottled_nothing_known", []),
    ):
        assert [item.tag for item in report_of(name).reasons] == tags, name
    text = (LOGS / "bottled_by_spoon.yaml").read_text("utf-8")
    ready = f"{text}  - {{at: 2026-03-22 12:00, saw: protection ready}}\n"
    found = bottling_report(work(), read_batch(ready, NOW), NOW)
    shown = [step.tag for step in found.hazards[0].avoid]
    order = [item.tag for item in found.reasons]
    assert order == ["people", "leave", "cool", "protect", "handle", "dispose"]
    assert [tag for tag in dict.fromkeys(shown) if tag in order] == order


def test_what_was_seen_outweighs_the_figures(capsys: pytest.CaptureFixture[str]) -> None:
    """Beside figures of bottles that burst the page says that they know nothing of it."""
    assert "outweighs these figures" in " ".join(ask(capsys, "bottled_burst").out.split())
    assert "outweighs" not in ask(capsys, "bottled_well").out


def test_no_table_of_doses_that_nobody_can_measure(capsys: pytest.CaptureFixture[str]) -> None:
    """Where next to no sugar is missing no table of tenths of a gram is shown."""
    assert not re.search(r"\b0\.[0-4] g\b", ask(capsys, "lager_cold").out)


def test_readings_say_what_they_do_not_end(capsys: pytest.CaptureFixture[str]) -> None:
    """Where a wait remains, the line on further readings says what alone they would end."""
    text = " ".join(ask(capsys, "saison_too_soon").out.split())
    way = text[: text.index("WHY NOT YET")]
    assert ("They end only this" in way) is ("equal reading" in way and "Wait until" in way)
    assert "Nothing else is missing" in " ".join(ask(capsys, "ipa_dry_hopped").out.split())
