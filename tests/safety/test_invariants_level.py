"""Invariants of the safety dossier, section 7: the level (I1 to I9, I35)."""

import itertools
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.safety.healthy import BOTTLE_SIGNS, BOTTLE_SIGNS_DANGER, CALM, HEALTHY, level
from tests.safety.knowledge_files import blocks_for, fired_by, hazards, named, rules

from trubshoot.safety import (
    Level,
    hazard_blocks,
    overall_level,
)


@pytest.mark.parametrize("case", [{}, CALM, HEALTHY, {**HEALTHY, "pressure_over_danger_bar": -9}])
def test_i01_burst_latches(case):
    """I1: a reported burst is DANGER whatever the computed pressure (S1, S2, R6, H4)."""
    blocks = blocks_for({**case, "said.bottle_burst": "present"})
    assert overall_level(blocks) is Level.DANGER
    assert "bottle_burst" in named(blocks)


def test_i01_burst_denied_is_no_burst():
    """I1: "no bottle burst" raises nothing by itself."""
    assert "bottle_burst" not in named(blocks_for({"said.bottle_burst": "absent"}))


FIELDS = {  # what goes missing together when one thing is not written in the log
    "sugar": [
        "priming_known",
        "sugar_g_per_l",
        "pressure_over_danger_bar",
        "pressure_median_hot_over_danger_bar",
        "pressure_over_rating_bar",
    ],
    "readings": [
        "points_above_expected_end_at_bottling",
        "z_above_expected_end_at_bottling",
        "points_above_expected_end",
        "z_above_expected_end",
        "days_unchanged_at_bottling",
        "readings_before_bottling",
        "last_reading_age_days",
        "slope_points_per_day",
        "slope_significant",
    ],
    "expected end": [
        "points_above_expected_end_at_bottling",
        "z_above_expected_end_at_bottling",
        "points_above_expected_end",
        "z_above_expected_end",
    ],
    "pressure": [
        "pressure_over_danger_bar",
        "pressure_median_hot_over_danger_bar",
        "pressure_over_rating_bar",
    ],
    "bottle kind": ["bottle_class", "bottle_kind_known", "bottles_unrated"],
    "yeast": ["yeast_is_diastatic"],
    "storage": ["storage_temp_max_c"],
    "beer temperature": ["beer_temp_max_c"],
    "sugar and readings": [
        "priming_known",
        "sugar_g_per_l",
        "readings_before_bottling",
        "pressure_over_danger_bar",
        "pressure_median_hot_over_danger_bar",
        "pressure_over_rating_bar",
    ],
    "sigma": ["z_above_expected_end_at_bottling"],
    "vessel": ["vessel_kind"],
}
BATCHES = st.fixed_dictionaries(
    {},
    optional={
        "pressure_over_danger_bar": st.floats(-5, 10),
        "pressure_median_hot_over_danger_bar": st.floats(-6, 5),
        "pressure_over_rating_bar": st.floats(-3, 5),
        "points_above_expected_end_at_bottling": st.floats(-8, 20),
        "z_above_expected_end_at_bottling": st.floats(-4, 10),
        "days_unchanged_at_bottling": st.floats(0, 20),
        "slope_points_per_day": st.floats(0, 8),
        "slope_significant": st.sampled_from(["present", "absent"]),
        "dry_hopped": st.just("present"),
        "bottles_unrated": st.just("present"),
        "said.bottle_burst": st.just("present"),
        "said.gusher_some": st.just("present"),
    },
)


@settings(max_examples=1000)
@given(BATCHES, st.sets(st.sampled_from(sorted(FIELDS))))
def test_i02_no_loss_by_silence(changes, left_out):
    """I2: leaving fields out of a bottled log never lowers the level.

    No number raises DANGER, which is kept for what was seen (6.1: over-pressure predicted is a
    WARNING), and every number that is missing is a WARNING of its own (6.4).
    """
    facts = {**HEALTHY, **changes}
    gone = {name for field in left_out for name in FIELDS[field]}
    less = {name: value for name, value in facts.items() if name not in gone}
    assert level(less) >= level(facts)


def test_i02_danger_is_kept_for_what_was_seen():
    """I2 and 6.1: rules that raise DANGER of bottles read reports alone, never a number."""
    read_by = {
        condition.fact
        for rule in rules().values()
        if rule.then.kind == "hazard"
        and (hazards()[rule.then.target].topic, hazards()[rule.then.target].level)
        == ("bottles", "danger")
        for condition in (*rule.when.all, *rule.when.any)
    }
    assert {f"said.{name}" for name in ("bottle_burst", *BOTTLE_SIGNS_DANGER)} <= read_by
    assert all(name.startswith("said.") for name in read_by), read_by


@pytest.mark.parametrize("field", ["sugar", "readings", "expected end", "pressure", "bottle kind"])
def test_i02_bottled_with_a_gap_is_a_warning(field):
    """I2 and 6.4: a bottled batch without sugar, readings, end, kind or pressure is a WARNING."""
    less = {name: value for name, value in HEALTHY.items() if name not in FIELDS[field]}
    assert level(HEALTHY) < Level.WARNING
    assert level(less) is Level.WARNING


def test_i03_level_is_the_worst():
    """I3: one DANGER among many lesser hazards is DANGER."""
    facts = {**HEALTHY, "dry_hopped": "present", "said.cracked_bottle": "present"}
    blocks = blocks_for(facts)
    assert overall_level(blocks) is Level.DANGER
    assert overall_level(blocks) == max(block.level for block in blocks)


GOOD_NEWS = {
    "days_unchanged_at_bottling": 30.0,
    "said.flat_all_bottles": "present",
    "said.gusher_all": "absent",
    "months_in_bottle": 9.0,
    "hours_since_burst": 5000.0,
}


@pytest.mark.parametrize("start", ["bottle_burst", *BOTTLE_SIGNS_DANGER])
def test_i04_danger_is_sticky(start):
    """I4: later good data never lowers DANGER; the recorded disposal of all bottles does."""
    facts = {**HEALTHY, f"said.{start}": "present"}
    assert level({**facts, **GOOD_NEWS}) is Level.DANGER
    assert level({**facts, "disposed_all": "unknown"}) is Level.DANGER
    assert level({**facts, "disposed_all": "present"}) < Level.WARNING


def test_i04_every_bottle_danger_latches_over_later_logs():
    """I4: a bottle DANGER concluded before is kept without its facts until all are disposed of."""
    dangers = [h for h in hazards().values() if (h.topic, h.level) == ("bottles", "danger")]
    assert len(dangers) == 2
    for spec in dangers:
        fired, known = fired_by(HEALTHY)
        earlier = [type(fired[0])(spec.id, "earlier")]
        kept = hazard_blocks(hazards(), fired, known, earlier)
        assert overall_level(kept) is Level.DANGER
        gone = hazard_blocks(hazards(), [], {**known, "disposed_all": "present"}, earlier)
        assert overall_level(gone) is Level.NONE


@pytest.mark.parametrize("where", ["one_bottle", "only_some_bottles_affected"])
def test_i05_one_bottle_speaks_for_the_batch(where):
    """I5: telling that only one or some bottles are concerned clears nothing."""
    facts = {**HEALTHY, "said.gusher_some": "present"}
    assert level({**facts, f"said.{where}": "present"}) >= level(facts) >= Level.WARNING
    every = [s.do for s in blocks_for(facts)[0].avoid]
    assert any("every bottle of this batch" in text for text in every)


def test_i06_middle_estimate_never_exceeds_what_the_upper_bound_raises():
    """I6: whatever the middle estimate raises, the upper bound (never below it) keeps raised."""
    for middle, spread in itertools.product([-2.0, -0.1, 0.0, 2.0], [0.0, 0.5, 4.0]):
        low = {**HEALTHY, "pressure_over_danger_bar": middle}
        high = {**HEALTHY, "pressure_over_danger_bar": middle + spread}
        assert level(high) >= level(low)


@pytest.mark.parametrize(
    ("fact", "limit", "hazard"),
    [
        ("pressure_over_danger_bar", 0.0, "pressure_bound_over"),
        ("pressure_median_hot_over_danger_bar", 0.0, "bottles_may_burst_now"),
    ],
)
def test_i06_at_the_limit_counts_as_over(fact, limit, hazard):
    """I6: exactly at a pressure limit is over it; a tenth of a bar below is not."""
    assert hazard in named(blocks_for({**HEALTHY, fact: limit}))
    assert hazard not in named(blocks_for({**HEALTHY, fact: limit - 0.1}))


@pytest.mark.parametrize("sugar", [{}, {"no_sugar_added": "absent"}, {"no_sugar_added": "unknown"}])
def test_i07_unrated_glass_may_burst_unless_no_sugar_is_stated(sugar):
    """I7: glass not made for pressure may burst with sugar, and missing sugar is no excuse."""
    blocks = blocks_for({**HEALTHY, "bottles_unrated": "present", **sugar})
    assert overall_level(blocks) is Level.WARNING
    assert "bottles_may_burst_now" in named(blocks)


def test_i07_unrated_glass_without_sugar_or_unfilled_is_a_warning():
    """I7: it stays a WARNING without sugar, and is refused before bottling."""
    unrated = {**HEALTHY, "bottles_unrated": "present"}
    assert level({**unrated, "no_sugar_added": "present"}) is Level.WARNING
    assert level({"bottles_unrated": "present"}) is Level.WARNING


@pytest.mark.parametrize("sign", BOTTLE_SIGNS)
@pytest.mark.parametrize("case", [{}, HEALTHY])
def test_i08_gusher_is_a_sign(sign, case):
    """I8: gushing, leaking or a rock-hard test bottle is at least a WARNING for the rest."""
    assert level({**case, f"said.{sign}": "present"}) >= Level.WARNING


EXTRA = [
    "dry_hopped",
    "fruit_or_sugar_added_late",
    "enzyme_added",
    "yeast_is_diastatic",
    "said.ropy_slimy",
    "said.ring_in_bottle_neck",
    "said.white_film_on_surface",
    "said.sour_tart",
    "said.vinegar",
    "said.gravity_stuck_high",
]


@pytest.mark.parametrize("event", EXTRA)
@pytest.mark.parametrize("days", [None, 0.0, 2.9, 3.0, 5.0, 20.0])
def test_i09_extra_sugar_never_lowers(event, days):
    """I9: adding an event that can feed the yeast never lowers the level, and always shows."""
    facts = {name: value for name, value in HEALTHY.items()}
    if days is None:
        del facts["days_unchanged_at_bottling"]
    else:
        facts["days_unchanged_at_bottling"] = days
    with_event = blocks_for({**facts, event: "present"})
    assert overall_level(with_event) >= max(level(facts), Level.CAUTION)


def test_i09_dry_hopping_without_a_standing_gravity_is_a_warning():
    """I9: dry hopping raises to WARNING below three days of equal gravity (P3: hop creep)."""
    hopped = {**HEALTHY, "dry_hopped": "present"}
    assert level({**hopped, "days_unchanged_at_bottling": 2.9}) is Level.WARNING
    assert level({**hopped, "days_unchanged_at_bottling": 3.0}) is Level.CAUTION


def test_i09_bottled_while_falling_may_burst():
    """I9: bottled while the gravity fell a point a day, far from its end, may burst."""
    falling = {
        **HEALTHY,
        "slope_significant": "present",
        "slope_points_per_day": 2.0,
        "days_unchanged_at_bottling": 0.0,
        "points_above_expected_end_at_bottling": 6.0,
        "z_above_expected_end_at_bottling": 2.5,
    }
    assert "bottles_may_burst_now" in named(blocks_for(falling))
    unknown_end = {k: v for k, v in falling.items() if "expected_end" not in k}
    assert "bottles_may_burst_now" in named(blocks_for(unknown_end))


def healthy_logs(count):
    """Draw complete healthy bottled logs, as facts, from a fixed random state."""
    draw = random.Random(20261125)
    for _ in range(count):
        median = draw.gauss(-2.0, 0.5)
        facts = {
            **HEALTHY,
            "pressure_median_hot_over_danger_bar": min(median, -0.3),
            "pressure_over_danger_bar": min(median + abs(draw.gauss(0.7, 0.2)), -0.1),
            "pressure_over_rating_bar": min(draw.gauss(-0.6, 0.3), 0.0),
            "points_above_expected_end_at_bottling": draw.gauss(0, 1.2),
            "z_above_expected_end_at_bottling": draw.gauss(0, 0.6),
            "days_unchanged_at_bottling": draw.uniform(3.0, 14.0),
            "vessel_kind": draw.choice(["bucket", "bucket", "plastic_carboy", "glass_carboy"]),
        }
        for event, share in [
            ("dry_hopped", 0.3),
            ("fruit_or_sugar_added_late", 0.05),
            ("yeast_is_diastatic", 0.04),
            ("said.foam_through_airlock", 0.1),
        ]:
            if draw.random() < share:
                facts[event] = "present"
        yield facts


def test_i35_calibrated_use():
    """I35: complete healthy logs never reach DANGER, and WARNING in under 5 %."""
    levels = [level(facts) for facts in healthy_logs(1000)]
    assert Level.DANGER not in levels
    assert sum(found >= Level.WARNING for found in levels) < 50
