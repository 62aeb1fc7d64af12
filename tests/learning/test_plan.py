"""The brew plan: likely faults, the cheapest change for each, and the card on one page."""

from __future__ import annotations

import copy
import json
from datetime import datetime
from functools import cache

import pytest
from tests.cli.support import EXAMPLES, run

from trubshoot.diagnosis import Diagnostician
from trubshoot.knowledge_base import load_knowledge
from trubshoot.learning.draft import Draft
from trubshoot.learning.forward import forecast
from trubshoot.learning.plan import BrewPlan, _practices, brew_plan, made_by_faults
from trubshoot.learning.sides import side_of

PLAN = EXAMPLES / "before_brew_day.yaml"
DAY = datetime(2026, 6, 20, 12)
CONTROLLED = """
batch: all in hand
wort: {kind: extract kit, volume: 20 l, boiled: 20 l, water: bottled, expected_og: 1.044,
  expected_fg: 1.011}
yeast: {class: clean american ale, form: dry, amount: 11 g, age: 2 months, stored: fridge}
log:
  - {day: 0, did: pitched, beer: 19 C}
  - {day: 0.5, beer: 19 C}
  - {day: 3, beer: 19 C}
  - {day: 6, beer: 19 C}
"""


@cache
def work() -> Diagnostician:
    """The shipped knowledge, made ready once."""
    return Diagnostician(load_knowledge())


@cache
def plan_of(text: str) -> BrewPlan:
    """Return the plan of a text; "" stands for the shipped example."""
    draft = Draft.of_text(text) if text else Draft.of_file(PLAN)
    return brew_plan(work(), draft, DAY, DAY)


def test_the_faults_belong_to_this_process() -> None:
    """A warm room and an old small sachet lead; with both mended other faults do."""
    warm, held = plan_of(""), plan_of(CONTROLLED)
    assert "hot_alcohol" in [fault.finding for fault in warm.faults]
    assert "hot_alcohol" not in [fault.finding for fault in held.faults]
    assert "fermented_too_warm" in [cause for fault in warm.faults for cause, *_ in fault.made_by]


def test_a_proposal_lowers_its_fault_and_none_cheaper_does() -> None:
    """The change named cheapest lowers the chance, and the one that helps most lowers it more."""
    for fault in (*plan_of("").faults, *plan_of("batch: x").faults):
        assert fault.cheapest is not None
        assert fault.cheapest.after < 0.91 * fault.cheapest.before
        assert fault.cheapest.before == pytest.approx(fault.chance)
        if fault.best is not None:
            assert fault.best.after < fault.cheapest.after


@pytest.mark.parametrize("text", ["", "batch: x"])
def test_no_other_change_that_helps_is_cheaper(text: str) -> None:
    """Of all changes that lower a fault enough, none costs less money, or as much and less time."""
    plan = plan_of(text)
    draft = Draft.of_text(text) if text else Draft.of_file(PLAN)
    side = side_of(work(), draft.read(), DAY, with_age=False)
    practices = _practices(work(), draft, DAY, side, plan.card.numbers)
    money = ("nothing", "little", "some", "much")
    changes = work().knowledge.changes
    for fault in plan.faults:
        assert fault.cheapest is not None
        mine = (money.index(fault.cheapest.money), fault.cheapest.minutes)
        for key, practice in practices.items():
            shown = forecast(work().knowledge, work().base, practice, (fault.finding,))
            if made_by_faults(work(), shown)[0] <= 0.9 * fault.chance:
                row = changes[key]
                assert (money.index(row.money), row.minutes) >= mine, (fault.finding, key)


def test_suspect_bottles_are_not_to_be_warmed_or_moved() -> None:
    """Under DANGER of a burst no change is proposed that a hand or warmth at bottles needs."""
    text = (EXAMPLES / "flat_and_cold.yaml").read_text(encoding="utf-8")
    told = f"{text}  - {{at: 2026-02-20, saw: a bottle burst}}\n"
    when = datetime(2026, 2, 21, 23)
    calm = brew_plan(work(), Draft.of_text(text), when, when)
    alarmed = brew_plan(work(), Draft.of_text(told), when, when)
    assert alarmed.level > calm.level
    actions = {
        work().knowledge.changes[one.id].action
        for fault in alarmed.faults
        for one in (fault.cheapest, fault.best)
        if one is not None
    }
    assert not actions & {"warm", "handle_bottles", "open_bottle", "wait"}
    named = {one.id for fault in calm.faults for one in (fault.cheapest, fault.best) if one}
    assert "warm_three_weeks" in named


def test_an_empty_plan_is_the_beginners_batch_and_says_what_is_missing() -> None:
    """Nothing known is no failure: the priors speak, and the card names what it lacks."""
    plan = plan_of("batch: x")
    assert len(plan.faults) == 5
    assert not plan.likelier
    assert plan.card.numbers.yeast_g is None
    assert plan.card.numbers.sugar_g is None


def test_the_age_at_judging_and_not_being_bottled_are_no_practice_of_a_plan() -> None:
    """A plan is asked about young beer: that neither adds green beer nor rules bottling out."""
    bare, begun = plan_of("batch: x"), plan_of("batch: x\nlog:\n  - {day: 0, did: pitched}\n")
    assert [(f.finding, f.chance) for f in bare.faults] == [
        (f.finding, pytest.approx(f.chance)) for f in begun.faults
    ]


def test_numbers_of_the_card() -> None:
    """Yeast by the norm, dates by strength and class, sugar as the bottling table has it."""
    numbers = plan_of("").card.numbers
    # 0.75 million cells per ml and degree Plato (S49): 20 l at 10.95 P want 164 billion, that is
    # 16.4 g of dry yeast at 10 billion a gram; this one is old, so that more of it is dead
    fresh = plan_of(CONTROLLED).card.numbers
    assert fresh.yeast_g == pytest.approx(16.6, abs=0.6)
    assert numbers.yeast_g is not None
    assert numbers.yeast_g > 1.2 * fresh.yeast_g
    assert numbers.days_to_first_check < numbers.days_to_bottling
    assert numbers.days_to_bottling >= 10
    assert numbers.pitch_c == (18.0, 21.0)
    # a strong beer is checked later, and three equal days (gate_min_hours) follow that check
    strong = plan_of(CONTROLLED.replace("1.044", "1.062").replace("1.011", "1.015")).card.numbers
    assert strong.days_to_bottling >= strong.days_to_first_check + 3 > 10
    # 2.4 volumes less 0.85 left at 20 C, in 19 l: 1.977 x 1.55 x 19 / 0.51 = 114 g of table sugar
    assert numbers.sugar_g == pytest.approx(116, abs=6)


@pytest.mark.parametrize("text", ["", "batch: x", CONTROLLED])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_card_fits_on_one_page(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: pytest.TempPathFactory,
    text: str,
    units: str,
) -> None:
    """At most 60 lines of 80 columns, whatever is known."""
    monkeypatch.setenv("COLUMNS", "80")
    path = PLAN
    if text:
        path = tmp_path / "batch.yaml"  # type: ignore[operator]
        path.write_text(text)
    done = run(capsys, "plan", path, "--card", "--at", "2026-06-20", "--units", units)
    lines = done.out.splitlines()
    assert lines[0].startswith("Brew-day card")
    assert len(lines) <= 60
    assert max(len(line) for line in lines) <= 80
    assert "{" not in done.out
    assert "None" not in done.out


def test_every_caution_of_the_knowledge_reaches_a_card() -> None:
    """With kettle and glass every caution is on the card; a bucket leaves the one of glass out."""
    everything = plan_of("batch: x\nvessel: glass carboy\n")
    listed = work().knowledge.checklists["brew_day_cautions"].items
    assert [item.id for item in everything.card.cautions] == [item.id for item in listed]
    bucket = plan_of("batch: x\nvessel: bucket\n")
    assert "glass" not in [item.id for item in bucket.card.cautions]


def test_text_markdown_and_json_hold_the_same_card(capsys: pytest.CaptureFixture[str]) -> None:
    """The three forms are made of the same lines."""
    words = ("plan", PLAN, "--at", "2026-06-20")
    told = json.loads(run(capsys, *words, "--format", "json").out)
    text = " ".join(run(capsys, *words).out.replace("[ ]", "").split())
    marked = run(capsys, *words, "--format", "markdown").out.replace("\\", "")
    assert list(told)[:2] == ["format_version", "hazards"]
    assert len(told["faults"]) == 5
    for line in (*(line["do"] for line in told["card"]["lines"]), *told["card"]["cautions"]):
        assert line in marked
        assert line in text
    assert marked.count("- [ ] ") == len(told["card"]["lines"])


def test_hazards_come_first_in_every_form(capsys: pytest.CaptureFixture[str]) -> None:
    """A plan of a batch in danger opens with its block, and ends with code 3."""
    early = EXAMPLES / "bottled_too_early.yaml"
    for form, start in (("text", "WARNING: "), ("markdown", "**WARNING: ")):
        done = run(capsys, "plan", early, "--at", "2026-04-05", "--format", form)
        assert done.code == 3
        assert done.out.startswith(start)


def test_a_plan_leaves_its_draft_alone() -> None:
    """Changes are tried on copies."""
    draft = Draft.of_file(PLAN)
    before = copy.deepcopy((draft.head, draft.log))
    brew_plan(work(), draft, DAY, DAY)
    assert (draft.head, draft.log) == before


def test_every_proposal_can_be_made() -> None:
    """Every row of changes.yaml that is tried alters a practice or lies outside this plan."""
    from trubshoot.learning.plan import _practices
    from trubshoot.learning.sides import side_of

    draft = Draft.of_file(PLAN)
    side = side_of(work(), draft.read(), DAY, with_age=False)
    tried = _practices(work(), draft, DAY, side, plan_of("").card.numbers)
    assert {"hold_in_range", "pitch_in_range", "aerate_well", "enough_yeast"} <= set(tried)
    assert "starter" not in tried


def test_bad_format_ends_with_two(capsys: pytest.CaptureFixture[str]) -> None:
    """An unknown form is refused with those that exist."""
    done = run(capsys, "plan", PLAN, "--format", "pdf")
    assert done.code == 2
    assert "text, markdown, json" in done.err
