import math

import pytest
from tests.safety.knowledge_files import After, Gate, Hazard, hazards

from trubshoot.errors import KnowledgeError
from trubshoot.safety import (
    FiredHazard,
    Level,
    Step,
    food_line_allowed,
    hazard_blocks,
    overall_level,
    safer,
    suppress_tasting,
)
from trubshoot.safety.hazards import is_known


def hazard(**changes):
    """Return a small hazard, changed where a test needs it."""
    base = {
        "id": "first",
        "level": "warning",
        "topic": "bottles",
        "hazard": "Bottles.",
        "consequence": "Cuts.",
        "avoid": (Step("Wear goggles.", "protect"), Step("Leave.", "people")),
        "unknown_if_missing": {"bottle_class": "kind of bottle"},
        "sources": (),
        "basis": "judgement",
    }
    return Hazard(**{**base, **changes})


def specs(*items):
    """Return hazards by id."""
    return {item.id: item for item in items}


GATE = Gate(
    why="Withheld.",
    needs=("said.protection_ready",),
    closed_by=("said.cracked_bottle",),
    steps=(Step("Ask for help.", "other"),),
    after=After(any=("said.bottle_burst",), hours="hours_since_burst", at_least=24),
)
GATED = hazard(
    avoid=(Step("Carry.", "handle"), Step("Goggles.", "protect"), Step("Leave.", "people")),
    gate=GATE,
)


def test_one_block_for_a_hazard_fired_twice():
    """Two rules with the same hazard make one block with both reasons, each once."""
    fired = [FiredHazard("first", "a"), FiredHazard("first", "b"), FiredHazard("first", "a")]
    (block,) = hazard_blocks(specs(hazard()), fired, {})
    assert block.because == ("a", "b")


def test_nothing_fired_is_no_block():
    """Without a fired hazard there is neither block nor level."""
    assert hazard_blocks(specs(hazard()), [], {}) == ()
    assert overall_level([]) is Level.NONE


@pytest.mark.parametrize("value", [None, "unknown", math.nan, math.inf])
def test_unusable_values_are_gaps(value):
    """A value that says nothing is listed as not known, like a missing one."""
    assert not is_known(value)
    (block,) = hazard_blocks(specs(hazard()), [FiredHazard("first", "a")], {"bottle_class": value})
    assert block.unknown == ("kind of bottle",)


def test_known_facts_are_no_gaps_but_the_unknowable_stays():
    """What is known is not listed; what no log tells always is."""
    spec = hazard(never_known=("wear",))
    (block,) = hazard_blocks(specs(spec), [FiredHazard("first", "a")], {"bottle_class": "pet_csd"})
    assert block.unknown == ("wear",)


def test_steps_are_put_in_the_order_of_protection():
    """People come before protection, whatever the order in the file."""
    (block,) = hazard_blocks(specs(hazard()), [FiredHazard("first", "a")], {})
    assert [step.tag for step in block.avoid] == ["people", "protect"]


@pytest.mark.parametrize(
    ("facts", "is_open"),
    [
        ({}, False),
        ({"said.protection_ready": "unknown"}, False),
        ({"said.protection_ready": "absent"}, False),
        ({"said.protection_ready": "present"}, True),
        ({"said.protection_ready": "present", "said.cracked_bottle": "present"}, False),
        ({"said.protection_ready": "present", "said.cracked_bottle": "absent"}, True),
        ({"said.protection_ready": "present", "said.bottle_burst": "present"}, False),
        *(
            (
                {
                    "said.protection_ready": "present",
                    "said.bottle_burst": "present",
                    "hours_since_burst": hours,
                },
                is_open,
            )
            for hours, is_open in [
                (0, False),
                (23.9, False),
                (24, True),
                (100.0, True),
                (-1, False),
                (math.nan, False),
                (math.inf, False),
                (True, False),
                ("unknown", False),
                ("24", False),
                (None, False),
            ]
        ),
    ],
)
def test_gate(facts, is_open):
    """Handling steps need protection, no failing bottle, and a day since the last burst."""
    (block,) = hazard_blocks(specs(GATED), [FiredHazard("first", "a")], facts)
    shown = [step.do for step in block.avoid]
    if is_open:
        assert shown == ["Leave.", "Goggles.", "Carry."]
        assert block.gate_why == ""
    else:
        assert shown == ["Leave.", "Ask for help."]
        assert block.gate_why == "Withheld."


def test_unknown_kind_of_step_does_not_pass_a_closed_gate():
    """A step with a tag that is not known is treated as handling."""
    spec = hazard(avoid=(Step("Juggle.", "play"), Step("Leave.", "people")), gate=GATE)
    (block,) = hazard_blocks(specs(spec), [FiredHazard("first", "a")], {})
    assert "Juggle." not in [step.do for step in block.avoid]


def test_blocks_injury_first_then_level_then_topic():
    """An injury stands above everything, then the worst level."""
    items = specs(
        hazard(id="low", level="notice"),
        hazard(id="high", level="danger", topic="gas"),
        hazard(id="hurt", level="warning", topic="injury"),
        hazard(id="mid", level="warning"),
    )
    blocks = hazard_blocks(items, [FiredHazard(name, "x") for name in items], {})
    assert [block.id for block in blocks] == ["hurt", "high", "mid", "low"]


def test_covered_hazard_leaves_nothing_behind():
    """Reasons, gaps, tasting ban and the higher level move into the covering block."""
    items = specs(
        hazard(id="top", covers=("below",)),
        hazard(id="below", level="danger", no_tasting=True, unknown_if_missing={"ph": "the pH"}),
    )
    fired = [FiredHazard("below", "b"), FiredHazard("top", "a")]
    (block,) = hazard_blocks(items, fired, {})
    assert (block.id, block.level, block.because) == ("top", Level.DANGER, ("a", "b"))
    assert block.unknown == ("kind of bottle", "the pH")
    assert block.no_tasting
    assert block.covers == ("below",)


def test_cover_acts_only_when_it_fired():
    """A hazard whose cover did not fire is shown itself."""
    items = specs(hazard(id="top", covers=("below",)), hazard(id="below"))
    assert [b.id for b in hazard_blocks(items, [FiredHazard("below", "b")], {})] == ["below"]


def test_circular_covers_lose_no_hazard():
    """Two hazards that cover each other are both still there."""
    items = specs(hazard(id="one", covers=("two",)), hazard(id="two", covers=("one",)))
    blocks = hazard_blocks(items, [FiredHazard("one", "a"), FiredHazard("two", "b")], {})
    assert {name for b in blocks for name in (b.id, *b.covers)} == {"one", "two"}


def test_unknown_hazard_is_shown_through_the_stand_in():
    """A concluded hazard without a file is never dropped."""
    (block,) = hazard_blocks(hazards(), [FiredHazard("no_such_hazard", "x")], {})
    assert block.id == "could_not_assess"
    assert "no_such_hazard" in block.because[0]


def test_unknown_hazard_without_stand_in_is_an_error():
    """With no way to show it, the layer refuses rather than stay silent."""
    with pytest.raises(KnowledgeError, match="no hazard file for 'first'"):
        hazard_blocks({}, [FiredHazard("first", "a")], {})


LATCH = specs(hazard(latches=True, cleared_by="disposed_all"), hazard(id="passing"))


@pytest.mark.parametrize(
    ("facts", "stays"),
    [
        ({}, True),
        ({"disposed_all": "absent"}, True),
        ({"disposed_all": "unknown"}, True),
        ({"disposed_all": "present"}, False),
    ],
)
def test_latched_hazard_stays_until_disposed(facts, stays):
    """Only the recorded disposal of all bottles ends a latched hazard."""
    blocks = hazard_blocks(LATCH, [], facts, earlier=[FiredHazard("first", "a")])
    assert bool(blocks) is stays


def test_hazard_that_does_not_latch_passes():
    """A hazard that does not latch ends with its reason."""
    assert hazard_blocks(LATCH, [], {}, earlier=[FiredHazard("passing", "a")]) == ()


def test_earlier_hazard_without_file_is_kept():
    """An older hazard whose file is gone is shown through the stand-in."""
    (block,) = hazard_blocks(hazards(), [], {}, earlier=[FiredHazard("gone", "a")])
    assert block.id == "could_not_assess"


def test_two_engines_that_agree():
    """Equal answers are taken as they are, without a fault."""
    one = [FiredHazard("a", "x")]
    assert safer(one, list(one)).fault == ""
    assert safer(one, one).fired == (FiredHazard("a", "x"),)


def test_two_engines_that_differ():
    """The union is taken and the difference told."""
    opinion = safer([FiredHazard("a", "x")], [FiredHazard("b", "y")])
    assert {item.hazard_id for item in opinion.fired} == {"a", "b"}
    assert "Only the first: a. Only the second: b." in opinion.fault


@pytest.mark.parametrize("failed", ["first", "second", "both"])
def test_engine_without_answer_is_no_good_news(failed):
    """A failed engine adds the stand-in for an assessment that failed (I32)."""
    good = [FiredHazard("bottle_burst", "x")]
    first = None if failed in ("first", "both") else good
    second = None if failed in ("second", "both") else good
    opinion = safer(first, second)
    level = overall_level(hazard_blocks(hazards(), opinion.fired, {}))
    assert "could_not_assess" in {item.hazard_id for item in opinion.fired}
    assert opinion.fault
    assert level is (Level.WARNING if failed == "both" else Level.DANGER)


def test_tasting_is_suppressed_by_any_block():
    """One block that forbids tasting forbids it for the whole answer."""
    items = specs(hazard(), hazard(id="second", no_tasting=True))
    assert not suppress_tasting(hazard_blocks(items, [FiredHazard("first", "a")], {}))
    both = [FiredHazard("first", "a"), FiredHazard("second", "b")]
    assert suppress_tasting(hazard_blocks(items, both, {}))


def test_food_line_needs_marker_and_no_tasting_ban():
    """The food line stands only on a concluded marker and without a tasting ban."""
    banned = hazard_blocks(specs(hazard(no_tasting=True)), [FiredHazard("first", "a")], {})
    allowed = {"marker.food_line_allowed": "present"}
    assert food_line_allowed([], allowed)
    assert not food_line_allowed([], {})
    assert not food_line_allowed(banned, allowed)
