"""A healthy batch as facts, and the level that rules and verdict give to plain facts."""

from tests.safety.knowledge_files import blocks_for

from trubshoot.safety import overall_level

# A batch bottled properly: every fact that a hazard rule asks for, all of them good.
HEALTHY = {
    "stage": "bottled",
    "bottled": "present",
    "pitched": "present",
    "priming_known": "present",
    "sugar_g_per_l": 6.0,
    "bottle_class": "single_use_longneck_reused",
    "bottle_kind_known": "present",
    "bottle_headspace_percent": 4.0,
    "yeast_is_diastatic": "absent",
    "storage_temp_max_c": 22.0,
    "beer_temp_max_c": 20.0,
    "pressure_over_danger_bar": -1.2,
    "pressure_median_hot_over_danger_bar": -2.0,
    "pressure_over_rating_bar": -0.5,
    "points_above_expected_end_at_bottling": 0.5,
    "z_above_expected_end_at_bottling": 0.2,
    "points_above_expected_end": 0.5,
    "z_above_expected_end": 0.2,
    "days_unchanged_at_bottling": 4.0,
    "readings_before_bottling": 4,
    "last_reading_age_days": 0.5,
    "slope_points_per_day": 0.0,
    "vessel_kind": "bucket",
}
CALM = {"bottled": "present", "sugar_g_per_l": 3.0}
BOTTLE_SIGNS_DANGER = ["cracked_bottle", "hissing_bottle", "domed_cap", "strained_swing_top"]
BOTTLE_SIGNS = [
    "gusher_all",
    "gusher_some",
    "pours_all_foam",
    "cap_leaks",
    "test_bottle_rock_hard",
    "fizz_rises_for_months",
    "leaking_bottle",
]


def level(facts):
    """Return the overall level for plain facts."""
    return overall_level(blocks_for(facts))
