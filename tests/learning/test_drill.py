"""Practice: exact numbers, cases that repeat, and nothing let through that a hazard forbids."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
from tests.learning.small import BESIDE, FAULT, PRIOR, enumerated, small, small_case
from tests.learning.support import library

from trubshoot.diagnosis.advice import bottles_suspect
from trubshoot.diagnosis.next_check import allowed
from trubshoot.learning.drill import LEAVE, Drill, DrillState
from trubshoot.learning.drill_debrief import debrief, expected_bits, score, uncertainty
from trubshoot.learning.drill_draw import LEVELS, Asked, Bench, DrillCase
from trubshoot.learning.drill_progress import Record, next_level, progress_of, record_of


@cache
def bench() -> Bench:
    """Return the bench of the shipped knowledge."""
    return Bench(library().work)


def drill_of(case: DrillCase) -> Drill:
    """Return a drill of a case of the shipped knowledge."""
    return Drill(bench(), library().index, case)


@cache
def drawn() -> tuple[DrillCase, ...]:
    """Return some cases as `draw` gives them, of every level."""
    return tuple(bench().draw(100 + level, 1, level) for level in range(1, len(LEVELS) + 1))


@cache
def as_they_come(hazard: bool, count: int = 12) -> tuple[DrillCase, ...]:
    """Return cases as they come, without regard to their level."""
    random = np.random.default_rng([8, hazard])
    out: list[DrillCase] = []
    while len(out) < count:
        case = bench()._one(random, "bottled", hazard=hazard)
        if case is not None:
            out.append(case)
    return tuple(out)


# --- exactness


ASKED = (
    (),
    (Asked("heated_sample_buttery", True),),
    (Asked("heated_sample_buttery", False), Asked("hot_alcohol", True)),
    (Asked("hot_alcohol", True), Asked("cardboard_stale", False), Asked("banana_fruity", True)),
)


@pytest.mark.parametrize("asked", ASKED, ids=range(len(ASKED)))
def test_chances_equal_enumeration(asked: tuple[Asked, ...]) -> None:
    """The chance that each cause made the fault equals the sum over every state of the network."""
    case = small_case(frozenset({FAULT, BESIDE}), ("off_yeast_too_early",))
    view = Bench(small().work).view(case, asked)
    by_hand, _ = enumerated(asked)
    for name in PRIOR:
        assert view.chance(name) == pytest.approx(by_hand[name], rel=1e-9)


@pytest.mark.parametrize("finding", ["heated_sample_buttery", "hot_alcohol", "cardboard_stale"])
def test_bits_equal_enumeration(finding: str) -> None:
    """What a question told, and what it could be expected to tell, equal the sums over states."""
    case = small_case(frozenset({FAULT, BESIDE, finding}), ("off_yeast_too_early",))
    drill = Drill(Bench(small().work), small().index, case)
    before, before_total = enumerated(())
    yes, yes_total = enumerated((Asked(finding, True),))
    no, no_total = enumerated((Asked(finding, False),))
    assert yes_total + no_total == pytest.approx(before_total)

    def open_bits(chances: dict[str, float]) -> float:
        return -sum(p * math.log2(p) + (1 - p) * math.log2(1 - p) for p in chances.values())

    state = DrillState(phase="end", asked=(Asked(finding, True),), named="off_yeast_too_early")
    (look,) = debrief(drill, state).looks
    assert look.bits == pytest.approx(open_bits(before) - open_bits(yes), abs=1e-9)
    after = (yes_total * open_bits(yes) + no_total * open_bits(no)) / before_total
    assert look.expected_bits == pytest.approx(open_bits(before) - after, abs=1e-9)
    truth = "off_yeast_too_early"
    assert look.doublings == pytest.approx(math.log2(yes[truth] / before[truth]), abs=1e-9)
    view = drill.bench.view(case)
    assert uncertainty(view) == pytest.approx(open_bits(before), abs=1e-9)
    assert expected_bits(drill, (), view, finding) == look.expected_bits


def test_chances_hold_among_drawn_cases() -> None:
    """Of the cases drawn, about as many have the leading cause as its chance says."""
    random = np.random.default_rng(11)
    said, right = [], []
    while len(said) < 300:
        case = bench()._one(random, "bottled", hazard=False)
        if case is None:
            continue
        name, chance = bench().view(case).leading(1)[0]
        said.append(chance)
        right.append(name in case.true_causes)
    spread = math.sqrt(sum(p * (1 - p) for p in said)) / len(said)
    assert abs(np.mean(said) - np.mean(right)) < 3 * spread


# --- drawing


def test_same_numbers_give_the_same_case() -> None:
    """A case is repeated by its numbers; another random state gives another."""
    assert bench().draw(101, 1, 1) == drawn()[0]
    assert Bench(library().work).draw(101, 1, 1) == drawn()[0]
    others = {bench().draw(101 + place, 1, 1).so for place in range(3)}
    assert len(others) == 3


def test_difficulty_is_measured() -> None:
    """The chance told of a case is that of an ideal asker, and harder levels have lower ones."""
    for case in drawn():
        view = bench().view(case)
        assert case.free_chance == view.chance(case.true_causes[0])
        assert case.free_chance == max(view.chance(name) for name in case.true_causes)
    chances = [case.free_chance for case in drawn()]
    assert chances == sorted(chances, reverse=True)


def test_every_case_can_be_found_out() -> None:
    """The course of the ideal asker ends with a true cause in front."""
    for case in drawn():
        assert case.course == bench().course(case)
        leader, chance = bench().view(case, case.course).leading(1)[0]
        assert leader in case.true_causes
        assert chance >= 0.5


def test_what_is_told_is_so_and_can_be_noticed() -> None:
    """Only findings that are so, at their stage, are told; all that is alarming is."""
    for case in (*drawn(), *as_they_come(False), *as_they_come(True)):
        assert set(case.told) <= case.so
        for name in case.told:
            assert bench().at_stage(name, case.stage)
        alarm = {name for name in case.so & bench().alarming if bench().at_stage(name, case.stage)}
        assert alarm <= set(case.told)
        for cause in case.true_causes:
            links = {link.finding for link in library().knowledge.causes[cause].links}
            assert case.told[0] in links
            assert cause not in case.ruled_out
        for one in case.circumstances:
            for other in case.circumstances:
                assert one == other or not bench().circumstances.exclude(one, other)


def test_exclusive_circumstances() -> None:
    """Two yeasts, and two readings against none, exclude each other; others do not."""
    exclude = bench().circumstances.exclude
    assert exclude("no_hydrometer", "gravity_same_two_readings")
    assert not exclude("no_hydrometer", "no_hydrometer")


# --- hazards


def test_hazard_cases_are_suspect_and_others_are_not() -> None:
    """A case drawn as a hazard has suspect bottles from the start; no other comes to have any."""
    for case in as_they_come(True):
        assert bottles_suspect(bench().hazards(case.told))
    for case in as_they_come(False):
        here = {name for name in case.so if bench().at_stage(name, case.stage)}
        assert not bottles_suspect(bench().hazards(here))


def test_no_opening_test_is_let_through() -> None:
    """In no hazard case is any finding looked into that the gate of the diagnosis bars."""
    knowledge = library().knowledge
    seen_stop = 0
    for case in as_they_come(True):
        drill = drill_of(case)
        blocks = bench().hazards(case.told)
        start = drill.answer(DrillState(), "1")
        for name, finding in knowledge.findings.items():
            after = drill.answer(start, name)
            asked = {one.finding for one in after.asked}
            if not allowed(finding, blocks):
                assert asked == set(), name
                if finding.check.by in ("open_bottle", "taste") and bench().at_stage(
                    name, case.stage
                ):
                    assert after.phase == "end" or name in case.told, name
                    seen_stop += after.phase == "end"
            assert after.phase != "end" or after.stopped
        for offer in drill.prompt(start).offers:
            assert allowed(knowledge.findings[offer.id], blocks)
    assert seen_stop > 0


DANGEROUS = [
    "open one",
    "I would open a bottle",
    "let me shake them a little",
    "put them in the fridge",
    "move the bottles outside",
    "warm them up",
    "taste it",
    "let the gas out",
    "uncap one slowly",
    "vent them",
    "I'd carry them to the garden",
    "freeze them",
    "squeeze one",
    "keep away for a day and then carefully open one",
    "go to the cellar, shake one",
]


@pytest.mark.parametrize("words", DANGEROUS)
def test_doing_what_a_hazard_forbids_ends_the_case(words: str) -> None:
    """Opening, moving, shaking, warming and tasting end a hazard case, first or later, at 0."""
    case = as_they_come(True)[0]
    drill = drill_of(case)
    for state in (DrillState(), drill.answer(DrillState(), "leave them alone")):
        after = drill.answer(state, words)
        assert after.phase == "end", words
        assert after.stopped
        told = debrief(drill, after)
        assert told.score.points == 0
        assert told.score.stopped
        assert told.hazards == bench().hazards(case.told)


@pytest.mark.parametrize(
    "words", ["don't open any", "leave them alone", "do not touch them", "keep everybody away"]
)
def test_leaving_in_words_is_the_right_first_action(words: str) -> None:
    """What keeps everybody away is understood, and ends nothing."""
    after = drill_of(as_they_come(True)[0]).answer(DrillState(), words)
    assert (after.first, after.stopped) == (LEAVE, "")


def test_every_listed_action_but_two_is_forbidden_there() -> None:
    """Of the actions listed for bottles only leaving and thinking leave everybody whole."""
    case = as_they_come(True)[0]
    drill = drill_of(case)
    prompt = drill.prompt(DrillState())
    assert prompt.hazards == ()
    barred = library().knowledge.forbidden_actions["at_suspect_bottles"].actions
    for number, offer in enumerate(prompt.offers, 1):
        after = drill.answer(DrillState(), str(number))
        assert (after.phase == "end") == (offer.id in barred) == (offer.id not in (LEAVE, "think"))
        if after.phase != "end":
            assert drill.prompt(after).hazards == bench().hazards(case.told)


def test_the_first_action_counts_first() -> None:
    """With the same answers, leaving the bottles earns 40 points that thinking does not."""
    case = replace(as_they_come(True)[1], course=())
    drill = drill_of(case)

    def points(first: str) -> tuple[int, bool | None]:
        state = drill.answer(DrillState(), first)
        state = drill.answer(state, f"name {case.true_causes[0]}")
        score = debrief(drill, drill.answer(state, "")).score
        return score.points, score.first_right

    assert points("1") == (100, True)
    assert points("2") == (60, False)


@pytest.mark.parametrize(
    ("hazard", "first", "named", "sound", "spent", "points"),
    [
        (False, "think", "true", False, 5.0, 100),  # as quick as the ideal asker
        (False, "think", "true", False, 0.0, 100),  # quicker earns no more
        (False, "think", "true", False, 45.0, 76),  # 70 + 30 x (5 + 5) / (45 + 5)
        (False, "think", "other", True, 45.0, 38),  # half of it
        (False, "think", "other", False, 5.0, 0),
        (True, LEAVE, "true", False, 45.0, 84),  # 40 + 40 + 20 x 10 / 50
        (True, "think", "true", False, 45.0, 44),
        (True, LEAVE, "other", True, 5.0, 70),  # 40 + (40 + 20) / 2
        (True, LEAVE, "other", False, 5.0, 40),
    ],
)
def test_points_by_hand(
    hazard: bool, first: str, named: str, sound: bool, spent: float, points: int
) -> None:
    """What keeps people whole, the cause and the time earn what the page on practice says.

    The ideal asker takes 5 minutes here; 5 more are free.
    """
    check = SimpleNamespace(check=SimpleNamespace(minutes=5.0))
    case = SimpleNamespace(told=(), true_causes=("true",), course=(Asked("quick", True),))
    drill = SimpleNamespace(
        case=case,
        bench=SimpleNamespace(hazards=lambda _: (object(),) if hazard else ()),
        knowledge=SimpleNamespace(findings={"quick": check}),
        minutes=lambda _: spent,
        right_first=lambda: "leave it",
    )
    state = DrillState(phase="end", first=first, named=named)
    found = score(cast(Drill, drill), state, sound=sound)
    assert found.points == points
    assert (found.minutes, found.sensible_minutes) == (spent, 5.0)
    assert found.right_first == ("leave it" if hazard else "")


def test_tasting_is_barred_where_a_hazard_forbids_it() -> None:
    """With mould on the beer, a taste ends the case, in the fermenter too."""
    case = DrillCase(
        1,
        1,
        1,
        "fermenting",
        ("fuzzy_coloured_growth",),
        (),
        (),
        frozenset({"fuzzy_coloured_growth"}),
        ("mould_growth",),
        0.9,
        (),
    )
    drill = drill_of(case)
    assert drill.answer(DrillState(), "taste it").stopped
    state = drill.answer(DrillState(), "step back")
    assert state.first == LEAVE
    assert drill.answer(state, "sip a little").stopped
    harmless = replace(case, told=("green_apple",), so=frozenset({"green_apple"}))
    assert not drill_of(harmless).answer(DrillState(), "taste it").stopped


# --- playing


def test_a_whole_case() -> None:
    """Asking, naming with a slip of the pen and saying how sure leads to the end."""
    case = small_case(frozenset({FAULT, BESIDE, "heated_sample_buttery"}), ("off_yeast_too_early",))
    drill = Drill(Bench(small().work), small().index, case)
    state = DrillState()
    for words in ("think", "heated and cooled sample smells of buter", "hot alcohol"):
        state = drill.answer(state, words)
    assert state.asked == (Asked("heated_sample_buttery", True), Asked("hot_alcohol", False))
    assert state.message == ("not_so", small().knowledge.findings["hot_alcohol"].label)
    state = drill.answer(state, "name of yeast too erly")
    assert (state.named, state.phase) == ("off_yeast_too_early", "sure")
    assert drill.answer(state, "140").message == ("no_percent",)
    state = drill.answer(state, "80 %")
    assert (state.sure, state.phase) == (0.8, "end")
    told = debrief(drill, state)
    assert told.score.correct
    assert told.score.first_right is None
    assert told.score.brier == pytest.approx(0.04)
    assert told.mixed is None
    assert drill.replay(state.turns) == replace(state, message=())


def test_what_was_mixed_up_is_told_with_what_separates() -> None:
    """A wrong cause is set beside the true one, with the finding that differs most."""
    case = small_case(frozenset({FAULT, BESIDE}), ("off_yeast_too_early",))
    drill = Drill(Bench(small().work), small().index, case)
    state = drill.replay(["think", "name late_aeration", ""])
    mixed = debrief(drill, state).mixed
    assert mixed is not None
    assert mixed.finding is not None
    assert (mixed.named.id, mixed.true.id) == ("late_aeration", "off_yeast_too_early")
    assert mixed.finding.id == "heated_sample_buttery"  # 0.8 against 0; cardboard 0.7 against 0
    assert mixed.known == ""


def test_words_that_lead_nowhere_cost_nothing() -> None:
    """What is not understood, known already, or not of this stage leaves the case as it was."""
    case = small_case(frozenset({FAULT, BESIDE}), ("off_yeast_too_early",))
    drill = Drill(Bench(small().work), small().index, case)
    assert drill.answer(DrillState(), "hum").message == ("no_action",)
    state = drill.answer(DrillState(), "2")
    for words, kind in (
        ("xyzzy", "unknown"),
        (FAULT, "known"),
        ("no_foam_day_2", "not_now"),
        ("sulphur", "several"),
        ("late_aeration", "a_cause"),
        ("open one", "an_action"),
        ("99", "no_number"),
        ("", "empty"),
    ):
        after = drill.answer(state, words)
        assert after.message[0] == kind, words
        assert replace(after, message=()) == replace(state, message=())


def test_giving_up_ends_without_a_name() -> None:
    """Who gives up is told, and has named nothing."""
    case = small_case(frozenset({FAULT, BESIDE}), ("off_yeast_too_early",))
    drill = Drill(Bench(small().work), small().index, case)
    told = debrief(drill, drill.replay(["2", "give up"]))
    assert told.named is None
    assert told.score.points == 0


def test_the_likeliest_by_what_was_known_earns_half() -> None:
    """A sound answer that chance made wrong is worth half the points of a right one."""
    so = frozenset({FAULT, BESIDE, "heated_sample_buttery"})
    case = small_case(so, ("pitched_too_hot",))
    drill = Drill(Bench(small().work), small().index, case)
    state = drill.replay(["2", "heated_sample_buttery", "name off_yeast_too_early", ""])
    score = debrief(drill, state).score
    assert (score.correct, score.sound) == (False, True)
    right = small_case(so, ("off_yeast_too_early",))
    full = debrief(Drill(Bench(small().work), small().index, right), state).score
    assert score.points == round(full.points / 2)


# --- progress


def _record(**change: object) -> Record:
    base = Record(
        "2026-04-01",
        1,
        1,
        2,
        0.5,
        FAULT,
        "late_aeration",
        "late_aeration",
        90,
        None,
        False,
        True,
        10.0,
        8.0,
        0.7,
    )
    return replace(base, **change)  # type: ignore[arg-type]  # fields of a record


def test_level_follows_what_was_done() -> None:
    """Two right in a row go one up, one wrong goes one down, never past the ends."""
    assert next_level([]) == 1
    assert next_level([_record()]) == 2
    assert next_level([_record(), _record()]) == 3
    assert next_level([_record(), _record(first_right=False)]) == 1
    assert next_level([_record(level=5), _record(level=5)]) == 5
    assert next_level([_record(level=1, correct=False)]) == 1
    assert next_level([_record(level=3, stopped=True)]) == 2


def test_progress_counts_what_happened() -> None:
    """Counts, calibration and mix-ups are those of the records."""
    records = [
        _record(first_right=True),
        _record(first_right=True, stopped=True, correct=False, named="", points=0, sure=None),
        _record(correct=False, named="pitched_too_hot", sure=0.9),
        _record(sure=0.9),
    ]
    shown = progress_of(records)
    assert (shown.cases, shown.hazard_cases, shown.hazards_right, shown.correct) == (4, 2, 1, 2)
    assert shown.mixed == (("pitched_too_hot", "late_aeration", 1),)
    assert shown.brier == pytest.approx((0.09 + 0.81 + 0.01) / 3)
    top = next(band for band in shown.bands if band.low == 0.8)
    assert (top.cases, top.right, top.mean_sure) == (2, 1, pytest.approx(0.9))
    assert progress_of([]).mean_points == 0.0


def test_a_record_holds_the_score() -> None:
    """What is kept of a case is what its debrief says."""
    case = small_case(frozenset({FAULT, BESIDE}), ("off_yeast_too_early",))
    drill = Drill(Bench(small().work), small().index, case)
    told = debrief(drill, drill.replay(["2", "name off_yeast_too_early", "60"]))
    record = record_of(case, told, "2026-04-01")
    assert (record.points, record.correct, record.sure) == (told.score.points, True, 0.6)
    assert record.true_cause == record.named == "off_yeast_too_early"
