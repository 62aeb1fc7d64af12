"""What if: both practices, pressure, hazards, and what must never look better than it is."""

from __future__ import annotations

import json
from datetime import datetime
from functools import cache
from pathlib import Path

import pytest
from tests.cli.support import EXAMPLES, run

from trubshoot.diagnosis import Diagnostician
from trubshoot.knowledge_base import load_knowledge
from trubshoot.learning.draft import Draft
from trubshoot.learning.whatif import WhatIf, whatif
from trubshoot.safety import Level

EARLY = EXAMPLES / "bottled_too_early.yaml"
NOW = datetime(2026, 4, 5, 23)


@cache
def work() -> Diagnostician:
    """The shipped knowledge, made ready once."""
    return Diagnostician(load_knowledge())


@cache
def ask(*changes: str, path: Path = EARLY) -> WhatIf:
    """Run a what-if on a shipped example."""
    return whatif(work(), Draft.of_file(path), changes, NOW)


def upper(answer: WhatIf, place: str = "hottest") -> tuple[float, float]:
    """Return the upper pressure before and after."""
    before, after = next(
        pair for pair in answer.pressures if pair[0] is not None and pair[0].place == place
    )
    assert before is not None
    assert after is not None
    return before.upper_bar, after.upper_bar


def test_waiting_lowers_what_bottling_too_early_makes() -> None:
    """The chance of gushers falls, carried by the step and cause of timing, with its sentence."""
    answer = ask("waited until day 14")
    gush = next(fault for fault in answer.faults if fault.finding == "gusher_all")
    assert gush.after < 0.5 * gush.before
    assert (gush.carried[0].step, gush.carried[0].cause) == ("timing", "packaged_too_early")
    gone = next(turn for turn in answer.turns if turn.what == "bottled_before_10_days")
    assert not gone.came
    assert "6.9 days" in gone.because[0]


def test_a_moved_bottling_is_predicted_with_its_uncertainty() -> None:
    """Without a reading near the new day the gravity comes from the curve, and lowers the gas."""
    answer = ask("waited until day 14")
    assert answer.predicted is not None
    assert 1.0 < answer.predicted.sigma_points < 6.0
    assert 10.0 < answer.predicted.points < 20.0
    before, after = upper(answer)
    assert after < before


def test_a_reading_on_the_new_day_is_taken_before_any_prediction() -> None:
    """Who changes the log so that it holds the reading gets that reading."""
    answer = ask("waited until day 14", "gravity 1.012 on day 14")
    assert answer.predicted is None


def test_the_chances_of_the_old_side_do_not_see_how_the_beer_turned_out() -> None:
    """Leaving out the tasting changes nothing: it belongs to the practice that made it."""
    seen = Draft.of_file(EARLY)
    blind = Draft.of_file(EARLY)
    blind.log = [line for line in blind.log if line.verb != "saw"]
    one, other = (whatif(work(), draft, ["pitched at 66 F"], NOW) for draft in (seen, blind))
    assert {f.finding: f.before for f in one.faults} == {f.finding: f.before for f in other.faults}
    assert any("seen" in item for item in one.left_out)
    assert not any("seen" in item for item in other.left_out)


def test_taking_knowledge_away_lowers_no_chance_and_no_hazard() -> None:
    """Without its readings a log would look better; the answer shows what it is with them."""
    answer = ask("not: gravity")
    assert answer.removed
    for fault in answer.faults:
        assert fault.after >= fault.before - 1e-9, fault.finding
    ids = {block.id for block in answer.after.hazards}
    assert {block.id for block in answer.before.hazards} <= ids


def test_a_change_beside_what_is_taken_away_still_counts() -> None:
    """Less sugar lowers the pressure as it would alone; the reading taken out adds nothing."""
    alone, beside = ask("sugar 1 oz"), ask("sugar 1 oz", "not: gravity")
    assert upper(alone)[1] < upper(alone)[0]
    assert upper(beside)[1] >= upper(alone)[1]
    gush = {fault.finding: fault.after for fault in alone.faults}["gusher_all"]
    assert {fault.finding: fault.after for fault in beside.faults}["gusher_all"] >= gush


def test_an_earlier_bottling_lowers_no_pressure() -> None:
    """The readings that fall away with it are no reason to expect less gas."""
    before, after = upper(ask("bottled on day 4"))
    assert after >= before


@pytest.mark.parametrize(
    "change",
    ["not: gravity", "bottles.kind: unknown", "not: beer", "wort.expected_fg: ?", "not: pitched"],
)
def test_taking_knowledge_away_lowers_no_pressure(change: str) -> None:
    """The upper pressure without a piece of knowledge is never below the one with it."""
    answer = ask(change)
    if answer.after.outlook is None:
        return  # not known, which the report calls too much
    before, after = upper(answer)
    assert after >= before - 1e-9
    assert answer.before.outlook is not None
    assert answer.after.outlook.upper_vols >= answer.before.outlook.upper_vols - 1e-9


def test_what_was_seen_stands_in_both_practices(tmp_path: Path) -> None:
    """A burst stays DANGER whatever would have been done, and is said to have been noticed."""
    path = tmp_path / "burst.yaml"
    text = (EXAMPLES / "flat_and_cold.yaml").read_text(encoding="utf-8")
    path.write_text(f"{text}  - {{at: 2026-02-20, saw: a bottle burst}}\n", encoding="utf-8")
    answer = whatif(work(), Draft.of_file(path), ["stored.temp: 21 C"], datetime(2026, 2, 21, 23))
    assert answer.level == Level.DANGER
    for side in (answer.before, answer.after):
        assert max(block.level for block in side.hazards) == Level.DANGER
    noticed = {fault.finding for fault in answer.faults if fault.noticed}
    assert "bottle_burst" in noticed
    assert "hop_aroma_faded" not in noticed


def test_opened_bottles_do_not_count(tmp_path: Path) -> None:
    """What a bottle was opened to show belongs to the beer that was made, not to a forecast."""
    path = tmp_path / "opened.yaml"
    text = EARLY.read_text(encoding="utf-8")
    line = "  - {at: 2026-04-04 21:00, gravity: 1.004, of: opened bottle}\n"
    path.write_text(text + line, encoding="utf-8")
    with_it = whatif(work(), Draft.of_file(path), ["waited until day 21"], NOW)
    without = ask("waited until day 21")
    assert [(one.finding, one.before, one.after) for one in with_it.faults] == [
        (one.finding, one.before, one.after) for one in without.faults
    ]
    assert with_it.before.outlook == without.before.outlook


def test_another_fermentation_is_reckoned_from_the_expected_end_and_keeps_the_upper_value() -> None:
    """Readings of the old fermentation do not speak for the new one, nor do they free it."""
    answer = ask("pitched at 62 F")
    assert answer.predicted is not None
    assert "expected end" in answer.predicted.how
    assert answer.kept_upper
    before, after = upper(answer)
    assert after >= before - 1e-9
    assert any("another fermentation" in item for item in answer.left_out)


def test_less_sugar_lowers_the_pressure_and_more_raises_it() -> None:
    """A change of the bottling alone keeps the readings and moves the gas."""
    less, more = ask("sugar 2 oz"), ask("sugar 9 oz")
    assert less.predicted is None
    assert upper(less)[1] < upper(less)[0] < upper(more)[1]


def test_leaving_out_the_sanitizing_makes_infections_likelier() -> None:
    """ "not sanitized" is a worse practice, though the line that said so is merely gone."""
    draft = Draft.of_file(EXAMPLES / "all_well_bottled.yaml")
    answer = whatif(work(), draft, ["not sanitized"], datetime(2026, 11, 1))
    sour = next(fault for fault in answer.faults if fault.label == "Sour or tart")
    assert sour.after > 1.5 * sour.before
    assert sour.carried[0].step == "sanitation"


def test_beyond_every_formula_a_change_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """Sugar by the kilogram gives no numbers that only look like an answer, but code 2."""
    told = run(capsys, "whatif", EARLY, "--change", "sugar 3 kg")
    assert told.code == 2
    assert "believable amount of bottling sugar" in told.err
    assert "smaller number" in told.err


def test_a_bottling_added_to_a_plan_is_not_judged_on_its_first_day() -> None:
    """A plan that says when it is bottled does not make flat bottles likelier for being young."""
    draft = Draft.of_file(EXAMPLES / "before_brew_day.yaml")
    answer = whatif(work(), draft, ["waited until day 14"], datetime(2026, 6, 20))
    flat = next(fault for fault in answer.faults if fault.label == "Every bottle flat")
    assert flat.after == pytest.approx(flat.before, abs=0.02)
    assert "beer_too_young" not in {one.cause for one in flat.carried}


def test_hazards_of_the_real_batch_come_first(capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever is changed, the block of the batch as it is opens the page, and the code is 3."""
    done = run(capsys, "whatif", EARLY, "--at", "2026-04-05", "--change", "waited until day 21")
    assert done.code == 3
    assert done.out.startswith("WARNING: Bottles of this batch may burst.")
    block = done.out.split("Lantern Street", 1)[0]
    assert "%" not in block


def test_json_and_text_say_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    """The JSON holds every fault; the noticeable ones stand in the text in the same order."""
    words = ("--at", "2026-04-05", "--change", "waited until day 14")
    told = json.loads(run(capsys, "whatif", EARLY, *words, "--format", "json").out)
    assert list(told)[:2] == ["format_version", "hazards"]
    text = run(capsys, "whatif", EARLY, *words).out
    labels = [fault["label"] for fault in told["faults"] if fault["noticeable"]]
    flat = " ".join(text.split())
    places = [flat.index(f"{label} (") for label in labels[:8]]
    assert places == sorted(places)
    assert len(told["faults"]) == len(ask("waited until day 14").faults)
    assert "predicted, not measured" in flat


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((), "no change is said"),
        (("--change", "ptched at 20"), "Did you mean"),
        (("--change", "yeast.age: soon"), "yeast.age: soon"),
        (("--change", "pitched at 20 C", "--format", "yaml"), "is no format"),
    ],
)
def test_bad_input_ends_with_two(
    capsys: pytest.CaptureFixture[str], arguments: tuple[str, ...], told: str
) -> None:
    """Every refusal is one message that says what to write, and code 2."""
    done = run(capsys, "whatif", EXAMPLES / "all_well.yaml", "--at", "2026-09-20", *arguments)
    assert done.code == 2
    assert told in done.err


def test_a_batch_without_hazard_ends_with_zero(capsys: pytest.CaptureFixture[str]) -> None:
    """A change that raises a hazard only under the change leaves the code of the real batch."""
    done = run(
        capsys, "whatif", EXAMPLES / "all_well.yaml", "--at", "2026-09-20",
        "--change", "bottled on day 16, sugar 20 oz corn sugar, volume 4.8 gal",
    )  # fmt: skip
    assert done.code == 0
    assert "WARNING" in done.out or "DANGER" in done.out
    assert ask("sugar 9 oz").level == Level.WARNING
