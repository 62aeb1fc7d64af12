"""Advice: by stage, never what a hazard forbids, and never silently against a near cause."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest
from pydantic import ValidationError
from rich.console import Console
from tests.diagnosis.support import block

from trubshoot.batch import read_batch
from trubshoot.diagnosis.advice import NEAR, advise, bottles_suspect
from trubshoot.diagnosis.diagnose import Diagnostician
from trubshoot.diagnosis.plan_next import _of_leading_cause
from trubshoot.diagnosis.result import NAMED_FROM, Conflict
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.advice_schema import Advice, AdviceStep, Avoid, ByStage
from trubshoot.knowledge_base.asking_checks import check_interview
from trubshoot.knowledge_base.loader import Raw
from trubshoot.report.terminal import print_diagnosis
from trubshoot.report.wording import HAZARD_BLOCK
from trubshoot.safety import Level

STAGES = ("brewing", "fermenting", "bottled")
REAL = Path(__file__).parents[1] / "real_cases"
NOON = datetime(2026, 11, 25, 12)

# Pairs of advice that brewers give each other and that contradict: (kind of action, stage,
# a cause it is advised for, a cause it harms). Judgement, after the dossier on faults.
CONTRADICTIONS = [
    ("rouse", "fermenting", "temperature_drop", "lactic_contamination"),
    ("rouse", "fermenting", "underpitched", "wild_yeast_contamination"),
    ("rouse", "fermenting", "early_flocculating_yeast", "acetic_contamination"),
    ("wait", "fermenting", "normal_lag", "yeast_dead_or_old"),
    ("wait", "fermenting", "normal_lag", "yeast_forgotten"),
    ("wait", "bottled", "conditioned_too_short", "packaged_too_early"),
    ("wait", "bottled", "beer_too_young", "lactic_contamination"),
    ("bottle", "fermenting", "long_on_yeast", "diastatic_contamination"),
    ("warm", "fermenting", "fermented_too_cool", "fermented_too_warm"),
    ("warm", "fermenting", "off_yeast_too_early", "lactic_contamination"),
    ("cool", "fermenting", "fermented_too_warm", "temperature_drop"),
    ("handle_bottles", "bottled", "conditioned_too_cold", "priming_not_mixed"),
    ("add_sugar", "bottled", "priming_forgotten", "conditioned_too_cold"),
    ("add_sugar", "bottled", "priming_forgotten", "packaged_too_early"),
    ("add_yeast", "fermenting", "yeast_dead_or_old", "leaky_fermenter_seal"),
    ("add_yeast", "fermenting", "underpitched", "low_fermentability_wort"),
    ("add_yeast", "fermenting", "underpitched", "refractometer_uncorrected"),
    ("open_bottle", "bottled", "served_warm_or_shaken", "packaged_too_early"),
]

# what may never be advised at suspect bottles, written down here a second time on purpose
AT_BOTTLES = frozenset(
    {"warm", "rouse", "add_yeast", "add_sugar", "add_other", "handle_bottles", "open_bottle"}
) | {"taste", "wait"}
HANDS_ON = frozenset({"handle_bottles", "open_bottle", "taste"})
# what can only be done with beer that has been poured, or with a bottle in the hand
POURED = re.compile(r"\b(?:[Pp]our (?:slowly|gently)|in the glass|[Ss]erve (?:it|with)|[Ee]njoy)\b")
# ... and while a fermenter may be under pressure
AT_FERMENTER = frozenset({"open_lid", "rouse", "warm"})


@pytest.mark.parametrize(("action", "stage", "advised_for", "harms"), CONTRADICTIONS)
def test_contradiction_is_said_beside_the_step(
    knowledge: KnowledgeBase, action: str, stage: str, advised_for: str, harms: str
) -> None:
    """Two causes of equal chance, one step that helps the one and harms the other: it is said."""
    advice = advise(knowledge, [(advised_for, 0.4), (harms, 0.4)], stage, [])
    clashes = advice[advised_for].conflicts
    steps = {
        step.do
        for step in knowledge.causes[advised_for].now.for_stage(stage)
        if step.action == action
    }
    assert steps
    assert {(clash.step, clash.cause) for clash in clashes} >= {(step, harms) for step in steps}
    assert all(clash.why and clash.label == knowledge.causes[harms].label for clash in clashes)


def test_only_causes_that_are_near_object(knowledge: KnowledgeBase) -> None:
    """A cause far less likely than the one advised for, or not worth naming, is not brought up."""

    def objectors(chance: float, its_chance: float) -> set[str]:
        made = [("normal_lag", chance), ("yeast_forgotten", its_chance)]
        found = advise(knowledge, made, "fermenting", [])["normal_lag"].conflicts
        return {clash.cause for clash in found}

    assert objectors(0.8, 0.8 * NEAR) == {"yeast_forgotten"}
    assert objectors(0.8, 0.8 * NEAR - 0.01) == set()
    assert objectors(0.06, NAMED_FROM) == {"yeast_forgotten"}
    assert objectors(0.06, NAMED_FROM - 0.001) == set()


def test_stage_decides_whether_it_harms(knowledge: KnowledgeBase) -> None:
    """Warming a fermenter is no harm to a cause that forbids the warming of bottles only."""
    made = [("off_yeast_too_early", 0.4), ("packaged_too_early", 0.4)]
    clashes = advise(knowledge, made, "fermenting", [])["off_yeast_too_early"].conflicts
    assert "warm" in {
        step.action for step in knowledge.causes["off_yeast_too_early"].now.fermenting
    }
    assert not [clash for clash in clashes if "arm" in clash.step]


def test_no_hand_near_suspect_bottles(knowledge: KnowledgeBase) -> None:
    """I15, I17: while bottles are suspect, no step opens, warms, doses, moves, tastes or waits."""
    made = [(name, 0.2) for name in knowledge.causes]
    free = advise(knowledge, made, "bottled", [])
    held = advise(knowledge, made, "bottled", [block("bottles", Level.WARNING)])
    left_out = 0
    for name, cause in knowledge.causes.items():
        risky = {step.do for step in cause.now.for_stage("bottled") if step.action in AT_BOTTLES}
        assert risky.isdisjoint(held[name].steps)
        assert held[name].withheld == len(risky)
        assert not (risky and (held[name].stop or held[name].cost))
        assert free[name].stop == cause.stop.for_stage("bottled")
        assert free[name].withheld == 0
        left_out += len(risky)
    assert left_out >= 10
    assert not bottles_suspect([block("bottles", Level.CAUTION), block("gas", Level.DANGER)])


def test_trial_that_a_hazard_forbids_is_left_out(knowledge: KnowledgeBase) -> None:
    """What would settle a cause is not offered when it opens, moves or tastes what is suspect."""
    made = [(name, 0.2) for name in knowledge.causes]
    free = advise(knowledge, made, "bottled", [])
    held = advise(knowledge, made, "bottled", [block("bottles", Level.WARNING)])
    silent = {name for name, advice in held.items() if not advice.confirm}
    assert silent == {name for name, one in knowledge.causes.items() if one.confirm.action}
    assert {"conditioned_too_cold", "conditioned_too_short", "taster_expectation"} <= silent
    assert all(advice.confirm for advice in free.values())


def test_the_place_may_always_be_cooled(knowledge: KnowledgeBase) -> None:
    """Cooling the room needs no hand near a bottle; it stays while bottles are suspect."""
    steps = advise(knowledge, [("warm_storage", 0.9)], "bottled", [block("bottles", Level.DANGER)])[
        "warm_storage"
    ].steps
    assert any(step.startswith("Cool the place") for step in steps)


def test_no_tasting_where_a_hazard_forbids_it(knowledge: KnowledgeBase) -> None:
    """I26: no step tells anybody to taste while mould, cleaner or old wort is in question."""
    made = [(name, 0.2) for name in knowledge.causes]
    no_tasting = [block("food", Level.CAUTION, no_tasting=True)]
    for stage in STAGES:
        held = advise(knowledge, made, stage, no_tasting)
        for name, cause in knowledge.causes.items():
            tasting = {step.do for step in cause.now.for_stage(stage) if step.action == "taste"}
            assert tasting.isdisjoint(held[name].steps)
    assert advise(knowledge, made, "bottled", no_tasting)["taster_expectation"].withheld


def test_every_step_that_tastes_or_opens_is_tagged(knowledge: KnowledgeBase) -> None:
    """A step that begins with tasting, opening, warming, swirling or pitching names its kind."""
    starts = {
        "taste": {"Taste", "Try it blind", "Compare it with", "Ask a second taster"},
        "open_bottle": {
            *("Open it", "Open them", "Open one", "Pour ", "Serve "),
            *("Enjoy ", "Try it again", "Stand the bottle", "Use a stale bottle"),
        },
        "handle_bottles": {"Keep the rest cold", "Keep the beer cold"},
        "warm": {"Warm"},
        "wait": {"Wait", "Give it", "Otherwise wait", "Otherwise leave", "Leave them"},
        "rouse": {"Swirl", "Rouse"},
        "add_yeast": {"Pitch", "Repitch", "Add plenty", "Add live yeast", "Add fresh yeast"},
    }
    for cause in knowledge.causes.values():
        for stage in STAGES:
            for step in cause.now.for_stage(stage):
                for action, words in starts.items():
                    if step.do.startswith(tuple(words)):
                        assert step.action == action, (cause.id, step.do)
        for step in (*cause.now.bottled, *cause.now.serving, *cause.now.any):
            if POURED.search(step.do):
                assert step.action in AT_BOTTLES, (cause.id, step.do)


def test_every_cause_says_all_of_it(knowledge: KnowledgeBase) -> None:
    """Each cause says what to do, what not and why, when to stop, and what it costs.

    It does so for every stage for which it has steps of its own.
    """
    for cause in knowledge.causes.values():
        assert cause.avoid, cause.id
        for item in cause.avoid:
            assert item.dont.startswith(("Do not", "Never", "After the first day add no")), cause.id
            assert item.why.endswith("."), cause.id
        for stage in STAGES:
            if getattr(cause.now, stage) or (stage == "bottled" and cause.now.serving):
                assert cause.stop.for_stage(stage), (cause.id, stage)
                assert cause.cost.for_stage(stage), (cause.id, stage)


def test_texts_are_short(knowledge: KnowledgeBase) -> None:
    """Nothing that stands under a cause is longer than a beginner reads: 32 words, 25 for a why."""
    for cause in knowledge.causes.values():
        for item in cause.avoid:
            assert len(item.dont.split()) <= 15, (cause.id, item.dont)
            assert len(item.why.split()) <= 25, (cause.id, item.why)
        for stage in STAGES:
            for text in (cause.stop.for_stage(stage), cause.cost.for_stage(stage)):
                assert len(text.split()) <= 25, (cause.id, text)
            for step in cause.now.for_stage(stage):
                assert len(step.do.split()) <= 32, (cause.id, step.do)


def test_a_cause_may_not_contradict_itself(knowledge: KnowledgeBase) -> None:
    """What a cause advises at a stage it cannot forbid at that stage."""
    cause = knowledge.causes["temperature_drop"]
    plain = cause.model_dump()
    plain["avoid"] = [{"dont": "Do not warm it.", "why": "so", "action": "warm", "at": ["bottled"]}]
    type(cause).model_validate(plain)
    plain["avoid"][0]["at"] = ["fermenting"]
    with pytest.raises(ValidationError, match="now advises 'warm'"):
        type(cause).model_validate(plain)


def test_forms() -> None:
    """A step may be a mere text; a text by stage says something; what serves is at the bottle."""
    advice = Advice.model_validate({"bottled": ["one"], "any": [{"do": "two", "action": "wait"}]})
    assert advice.for_stage("bottled") == (
        AdviceStep(do="one"),
        AdviceStep(do="two", action="wait"),
    )
    assert ByStage(any="x", bottled="y").for_stage("bottled") == "y"
    assert ByStage(any="x", bottled="y").for_stage("fermenting") == "x"
    assert ByStage(bottled="y").for_stage("fermenting") == ""
    with pytest.raises(ValidationError):
        ByStage()
    assert Avoid(dont="a", why="b", at=("serving",)).holds_at("bottled")
    assert not Avoid(dont="a", why="b", at=("serving",)).holds_at("fermenting")
    assert Avoid(dont="a", why="b").holds_at("brewing")


def page(diagnostician: Diagnostician, words: list[str], *, why: bool = False) -> str:
    """Return the page for an old bottled batch of which these words are said."""
    batch = read_batch(REAL.parents[1] / "docs" / "examples" / "flat_and_cold.yaml")
    diagnosis = diagnostician.diagnose(batch, NOON, [("saw", text) for text in words])
    out = io.StringIO()
    labels = {name: entry.label for name, entry in diagnostician.knowledge.findings.items()}
    console = Console(file=out, width=200)
    print_diagnosis(console, diagnosis, labels, "metric", why=why)
    return out.getvalue()


def test_printed(diagnostician: Diagnostician) -> None:
    """The page shows steps, what not to do, when to stop and what it costs."""
    shown = page(diagnostician, [])
    first = shown[shown.index("1. ") : shown.index("2. ")]
    top = diagnostician.knowledge.causes["conditioned_too_cold"]
    assert top.label in first
    for text in (top.now.bottled[0].do, top.avoid[0].dont, top.avoid[0].why):
        assert text in first
    assert f"Stop trying: {top.stop.bottled}" in first
    assert f"What it costs: {top.cost.bottled}" in first


def test_hazard_block_is_explained_when_none_stands(diagnostician: Diagnostician) -> None:
    """Advice that names a hazard block says what that is, unless one stands on the page."""
    assert HAZARD_BLOCK in page(diagnostician, [])
    assert HAZARD_BLOCK not in page(diagnostician, ["one bottle burst"])


def test_printed_while_bottles_are_suspect(diagnostician: Diagnostician) -> None:
    """With a burst among the words the steps at bottles are gone, and the page says so."""
    shown = page(diagnostician, ["one bottle burst", "all bottles are flat"])
    causes = shown[shown.index("LIKELY CAUSES") :]
    assert "DANGER" in shown
    for cause in diagnostician.knowledge.causes.values():
        for step in cause.now.for_stage("bottled"):
            assert step.action not in AT_BOTTLES or f"- {step.do}" not in causes


def test_next_step_is_none_that_harms_a_near_cause(diagnostician: Diagnostician) -> None:
    """`next` gives the first step of the leading cause, but not if a near cause objects."""
    batch = read_batch(REAL.parents[1] / "docs" / "examples" / "flat_and_cold.yaml")
    diagnosis = diagnostician.diagnose(batch, NOON)
    steps = [step.id for step in _of_leading_cause(diagnosis)]
    leading = diagnosis.causes[0]
    assert steps == [f"cause.{leading.id}"]
    clash = Conflict(leading.advice.steps[0], "x", "x", "x")
    harmful = replace(leading, advice=replace(leading.advice, conflicts=(clash,)))
    changed = replace(diagnosis, causes=(harmful, *diagnosis.causes[1:]))
    assert list(_of_leading_cause(changed)) == []


def test_bottling_that_was_not_logged_frees_no_bottle(diagnostician: Diagnostician) -> None:
    """A burst told of a log without bottling: no step and no trial needs a hand on a bottle."""
    batch = read_batch("batch: bare\nlog:\n  - {day: 0, did: pitched}\n")
    known = diagnostician.diagnose(
        batch, datetime(2026, 11, 25), [("saw", "a bottle burst"), ("tasted", "flat")]
    )
    assert known.evidence.stage == "fermenting"
    assert bottles_suspect(known.hazards)
    held = 0
    for ranked in known.causes:
        cause = diagnostician.knowledge.causes[ranked.id]
        own = cause.now.fermenting or cause.now.any
        for step in cause.now.for_stage("fermenting"):
            if step.action in (HANDS_ON if own else AT_BOTTLES):
                held += 1
                assert step.do not in ranked.advice.steps, ranked.id
        if cause.confirm.action in HANDS_ON:
            assert ranked.advice.confirm == "", ranked.id
    assert held > 5


def test_nothing_is_advised_at_a_blocked_fermenter(knowledge: KnowledgeBase) -> None:
    """Opening, stirring up and warming it are held back; without that hazard they are advised."""
    made = [(name, 0.5) for name in knowledge.causes]
    under = advise(knowledge, made, "fermenting", (block("fermenter", Level.WARNING),))
    plain = advise(knowledge, made, "fermenting", ())
    held = 0
    for name, cause in knowledge.causes.items():
        for step in cause.now.for_stage("fermenting"):
            if step.action in AT_FERMENTER:
                held += 1
                assert step.do in plain[name].steps, name
                assert step.do not in under[name].steps, name
    assert held > 5


def test_what_is_forbidden_at_bottles_cannot_be_thinned_out(knowledge: KnowledgeBase) -> None:
    """The shipped rows hold what is written here, and a knowledge without them is refused."""
    assert set(knowledge.forbidden_actions["at_suspect_bottles"].actions) == AT_BOTTLES
    assert set(knowledge.forbidden_actions["hands_on"].actions) == HANDS_ON
    assert set(knowledge.forbidden_actions["at_blocked_fermenter"].actions) == AT_FERMENTER
    for name in ("at_suspect_bottles", "hands_on", "at_blocked_fermenter"):
        row = knowledge.forbidden_actions[name]
        least = "open_lid" if name == "at_blocked_fermenter" else "open_bottle"
        rest = tuple(action for action in row.actions if action != least)
        thin = {**knowledge.forbidden_actions, name: row.model_copy(update={"actions": rest})}
        for rows in (thin, {}):
            wrong = replace(knowledge, forbidden_actions=rows)
            assert any(name in problem.message for problem in check_interview(wrong, Raw({})))
