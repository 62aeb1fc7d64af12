"""Invariants of the safety dossier, section 7: what the blocks say (I16 to I34)."""

import itertools

import pytest
from tests.safety.healthy import BOTTLE_SIGNS, BOTTLE_SIGNS_DANGER, CALM, HEALTHY, level
from tests.safety.knowledge_files import blocks_for, fired_by, hazards, named

from trubshoot.safety import (
    Level,
    food_line_allowed,
    hazard_blocks,
    suppress_tasting,
)


def walk(blocks, topic="bottles"):
    """Return the tags of each block of a topic."""
    return [[step.tag for step in block.avoid] for block in blocks if block.topic == topic]


DECISIONS = list(
    itertools.product(
        [None, 0.0, 23.9, 24.0, 500.0],
        [None, *BOTTLE_SIGNS_DANGER, "leaking_bottle", "cap_leaks"],
        [None, "absent", "unknown", "present"],
        [False, True],
    )
)


def test_i18_do_not_touch_gate():
    """I18: the whole decision table of burst time, failing bottles and protection."""
    opened = 0
    for hours, sign, protection, burst in DECISIONS:
        facts = {**HEALTHY, "pressure_over_rating_bar": 1.0}
        facts |= {"said.bottle_burst": "present"} if burst else {}
        facts |= {"hours_since_burst": hours} if hours is not None else {}
        facts |= {f"said.{sign}": "present"} if sign else {}
        facts |= {"said.protection_ready": protection} if protection else {}
        allowed = protection == "present" and sign is None and (not burst or (hours or 0) >= 24)
        for tags in walk(blocks_for(facts)):
            handled = {"handle", "dispose"}.intersection(tags)
            assert bool(handled) is allowed, (hours, sign, protection, burst)
            opened += bool(handled)
    assert opened == 5 + 2  # each time without a burst; 24 h and 500 h after one


@pytest.mark.parametrize("protection", ["absent", "present"])
def test_i16_i17_order_and_protection_before_handling(protection):
    """I16, I17: tags in order; no hand on a bottle before protection and cold in the same block."""
    order = ["people", "leave", "cool", "protect", "handle", "dispose", "save", "other"]
    rank = {tag: max(index, 2) if tag == "leave" else index for index, tag in enumerate(order)}
    signs = ["bottle_burst", *BOTTLE_SIGNS]
    seen_handling = 0
    for sign in signs:
        facts = {**HEALTHY, f"said.{sign}": "present", "hours_since_burst": 48.0}
        for block in blocks_for({**facts, "said.protection_ready": protection}):
            tags = [step.tag for step in block.avoid]
            assert [rank[t] for t in tags] == sorted(rank[t] for t in tags)
            for index, tag in enumerate(tags):
                if tag in ("handle", "dispose"):
                    assert {"protect", "cool"} <= set(tags[:index])
                    seen_handling += 1
    assert (seen_handling > 0) is (protection == "present")


@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        ({"said.lid_bulging_or_blown": "present"}, "fermenter_blocked"),
        ({"said.stopper_blown": "present"}, "fermenter_blocked"),
        (
            {"said.foam_through_airlock": "present", "said.airlock_stopped_early": "present"},
            "fermenter_blocked",
        ),
        (
            {"said.lid_bulging_or_blown": "present", "vessel_kind": "glass_carboy"},
            "fermenter_blocked_glass",
        ),
        (
            {"said.stopper_blown": "present", "vessel_kind": "glass_carboy"},
            "fermenter_blocked_glass",
        ),
    ],
)
def test_i20_blocked_fermenter(facts, expected):
    """I20: a bulging lid, a stopper gone or foam in a silent lock gives a pressure block."""
    first = blocks_for(facts)[0]
    assert first.id == expected
    assert first.level >= Level.WARNING


def test_i20_foam_alone_is_a_caution():
    """I20 and I35: foam through a working lock is common and gives a CAUTION only."""
    assert level({"said.foam_through_airlock": "present", "vessel_kind": "bucket"}) is Level.CAUTION


def test_i20_glass_fermenter_is_not_handled_without_protection():
    """I20: a blocked glass fermenter is treated as a suspect bottle."""
    facts = {"said.stopper_blown": "present", "vessel_kind": "glass_carboy"}
    assert "handle" not in walk(blocks_for(facts), "fermenter")[0]
    ready = {**facts, "said.protection_ready": "present"}
    assert "handle" in walk(blocks_for(ready), "fermenter")[0]


@pytest.mark.parametrize(("step", "expected"), [(20.0, Level.NONE), (20.1, Level.WARNING)])
def test_i21_heat_and_glass(step, expected):
    """I21: liquid more than 20 K hotter or colder than the glass is a WARNING."""
    assert level({"hot_liquid_in_glass_c": step}) is expected


@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        ({"burner_indoors": "present"}, Level.DANGER),
        ({"closed_space": "present"}, Level.WARNING),
        ({"said.cylinder_leak": "present"}, Level.DANGER),
        ({"said.dizzy_or_headache_near_fermenter": "present"}, Level.DANGER),
        ({"said.person_collapsed": "present"}, Level.DANGER),
    ],
)
def test_i22_air(facts, expected):
    """I22: burner indoors, closed space, leaking cylinder and dizziness raise an air block."""
    assert level(facts) is expected


@pytest.mark.parametrize(
    "hazard", ["closed_space_co2", "cylinder_leak", "injury_collapsed", "person_affected_by_gas"]
)
def test_i22_do_not_go_in_after_someone(hazard):
    """I22: every carbon dioxide block says not to go in after a person (C11, C12)."""
    text = " ".join(hazards()[hazard].texts()).lower()
    assert "not go in after" in text or "not after someone" in text


def test_i23_chlorine_and_acid():
    """I23: chlorine with acid is DANGER; both in the log without a rinse is a WARNING."""
    used = {"chlorine_used": "present", "acid_used": "present"}
    assert level({"chlorine_with_acid": "present"}) is Level.DANGER
    assert level({"said.chlorine_gas_smell": "present"}) is Level.DANGER
    assert level(used) is Level.WARNING
    assert level({**used, "chlorine_rinsed": "unknown"}) is Level.WARNING
    assert level({**used, "chlorine_rinsed": "present"}) is Level.NONE


FOOD = {"abv_percent": 4.8, "ph": 4.2, "pitched": "present", "wort_kind": "extract"}


@pytest.mark.parametrize(
    ("change", "allowed"),
    [
        ({}, True),
        ({"abv_percent": 3.5}, True),
        ({"abv_percent": 3.4}, False),
        ({"ph": 4.4}, True),
        ({"ph": 4.5}, False),
        ({"abv_percent": "unknown"}, False),
        ({"ph": "unknown"}, False),
        ({"pitched": "absent"}, False),
        ({"wort_kind": "unknown"}, False),
        ({"said.fuzzy_coloured_growth": "present"}, False),
        ({"said.glass_in_beer": "present"}, False),
        ({"cleaner_left_in": "present"}, False),
        ({"said.swimming_pool_chlorine": "present"}, False),
        ({"hours_wort_unpitched": 30.0}, False),
    ],
)
def test_i25_food_line_gate(change, allowed):
    """I25: the food line is withheld outside the hurdles, with gaps, and under any discard flag."""
    fired, known = fired_by({**FOOD, **change})
    assert food_line_allowed(hazard_blocks(hazards(), fired, known), known) is allowed


@pytest.mark.parametrize(
    "facts",
    [
        {"said.fuzzy_coloured_growth": "present"},
        {"said.glass_in_beer": "present"},
        {"cleaner_left_in": "present"},
        {"chlorine_with_acid": "present"},
        {"said.sanitizer_smell_on_equipment": "present"},
        {"hours_wort_unpitched": 24.1},
        {"hours_wort_unpitched": 72.1},
        {"said.wort_in_sealed_jar": "present"},
        {"hours_without_fall": 72.0},
        {"said.double_vision_or_weakness": "present"},
        {"said.swallowed_chemical": "present"},
        {"said.carboy_cracked": "present"},
    ],
)
def test_i26_no_tasting_as_a_test(facts):
    """I26: mould, glass, chemical and wort flags suppress every tasting question."""
    assert suppress_tasting(blocks_for(facts))


def test_i26_other_hazards_leave_tasting_alone():
    """I26: a hazard without such a flag does not suppress tasting questions."""
    assert not suppress_tasting(blocks_for(HEALTHY))


@pytest.mark.parametrize(
    ("hours", "expected"),
    [(24.0, Level.NONE), (24.1, Level.WARNING), (72.0, Level.WARNING), (72.1, Level.DANGER)],
)
def test_i27_unpitched_wort(hours, expected):
    """I27 and 5.2: wort over 24 h is a WARNING, over 72 h DANGER."""
    assert level({"hours_wort_unpitched": hours}) is expected


def test_i28_dog_and_hops():
    """I28: the dog line appears on its trigger only."""
    assert named(blocks_for({"said.dog_ate_hops": "present"})) == {"dog_ate_hops"}
    assert "dog_ate_hops" not in named(blocks_for({**HEALTHY, "dry_hopped": "present"}))


INJURIES = [
    "eye_injury",
    "bleeding_cut",
    "burn",
    "swallowed_chemical",
    "chemical_in_eye",
    "dizzy_or_headache_near_fermenter",
    "person_collapsed",
    "double_vision_or_weakness",
]


@pytest.mark.parametrize("sign", INJURIES)
def test_i30_injury_first(sign):
    """I30: an injury block stands first, DANGER, and calls for help in its steps."""
    facts = {**HEALTHY, "said.bottle_burst": "present", "chlorine_with_acid": "present"}
    first = blocks_for({**facts, f"said.{sign}": "present"})[0]
    assert first.topic == "injury"
    assert first.level is Level.DANGER
    help_words = ("emergency number", "poison centre", "hospital")
    assert any(word in step.do for step in first.avoid for word in help_words)


def all_single_blocks():
    """Return the block of every hazard, with nothing known."""
    return [
        hazard_blocks(hazards(), [type(f)(h, "reason")], {})[0]
        for h in hazards()
        for f in fired_by(CALM)[0][:1]
    ]


def test_i31_three_parts():
    """I31: every block has hazard, consequence, avoidance and a reason."""
    blocks = all_single_blocks()
    assert len(blocks) == len(hazards())
    for block in blocks:
        assert all([block.hazard, block.consequence, block.avoid, block.because]), block.id
        assert block.level is not Level.NONE


def test_i32_could_not_assess_says_what_to_do():
    """I32: the stand-in for a failed assessment treats closed bottles as suspect."""
    spec = hazards()["could_not_assess"]
    assert spec.level == "warning"
    assert any("closed bottles as suspect" in step.do for step in spec.avoid)


def test_i34_gaps_are_shown():
    """I34: every block, with nothing known, lists what is not known."""
    for block in all_single_blocks():
        assert block.unknown, block.id


def test_i34_all_bottle_blocks_name_bottle_storage_sugar_and_end():
    """I34: blocks on filled bottles ask for bottle kind, storage, sugar and final gravity."""
    for spec in hazards().values():
        if spec.topic == "bottles" and spec.id not in BEFORE_BOTTLING:
            assert {
                "bottle_class",
                "storage_temp_max_c",
                "sugar_g_per_l",
                "points_above_expected_end_at_bottling",
            } <= set(spec.unknown_if_missing), spec.id


BEFORE_BOTTLING = {"bottling_while_working", "unrated_bottles_planned", "not_ready_to_bottle"}


def test_covering_hazards_are_at_least_as_bad():
    """A block never takes in a hazard of a higher level, or one that does not exist."""
    for spec in hazards().values():
        for name in spec.covers:
            assert Level.from_word(hazards()[name].level) <= Level.from_word(spec.level)


def test_bottle_plans_agree():
    """The handling sequence is the same in every file that has one."""
    plans = {
        tuple(s for s in spec.avoid if s.tag in ("cool", "protect", "handle", "dispose"))
        for spec in hazards().values()
        if spec.topic == "bottles" and spec.gate is not None
    }
    assert len(plans) == 1


def test_bottle_handling_is_always_gated():
    """No block on suspect bottles shows handling or disposal without a gate."""
    for spec in hazards().values():
        hands_on = any(step.tag in ("handle", "dispose") for step in spec.avoid)
        if spec.topic == "bottles" and hands_on and spec.level != "notice":
            assert spec.gate is not None, spec.id
