"""What was to blame, and whether the log could have told.

A dangerous batch goes in one of four drawers:

`hidden`   nothing in the log could have shown it: take away every cause that no entry, and no
           reading before bottling, could show, and the batch is not dangerous;
`lacks`    not hidden, and the log lacks something that one must have to judge;
`scatter`  the log is complete and true values would give it away, but it is the fall to come that
           makes the danger, and the readings as they were written, with their scatter and their
           rounding, look ended by the same limits (written.py): no reader of that log can tell;
`shown`    not hidden, the log is complete, and what is written shows it.

A further fall counts as hidden only for a complete log whose *noise-free* values still look
finished: three good readings over six days or more, the last within a day, that truly fall by
less than 1.6 points; the true gravity no more than 1.5 sigma above the end which that log lets one
expect; no cooling, no dry hops, no diastatic class, no sign of an intruder; nothing left out.
So scatter of the readings is no excuse for `hidden`; what it alone hides is counted apart.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from tests.simulation.draws import BOTTLE_NAMES, Array, Draws, Flags, of_yeast
from tests.simulation.kinetics import HORIZON_DAYS, gravity, intruder_fall
from tests.simulation.logbook import LogDict
from tests.simulation.notes import GOOD_SPAN_DAYS, Notes, expected_end
from tests.simulation.truth import Plan, Removed, Truth, limits_of, ratings_of, truth_of
from tests.simulation.written import looks_ended

# P 6.3 tests the 95 % upper volumes, not the median: a plan that suits leaves that room
PLAN_MARGIN = 0.8
RATING_MARGIN = 0.9  # and for the estimate of the middle
GOOD_READING_SD = 0.7  # points: one reader, degassed, near 20 C (F 7.2)
LOW_HYDROMETER = -1.5  # points
# What readings can tell, judgement after F 7.2: three readings over six days with a spread of 0.5
# to 0.7 points exclude a fall of 1.1 to 1.6 points, and F 7.3 calls a beer near its end up to 1.5
# sigma. Narrower limits (1 point, 1 sigma) would call some of what no reader can tell "shown".
RESOLVED_POINTS, RESOLVED_SIGMAS = 1.6, 1.5
# these make a log misleading, but add no gas
MISLEADING = (
    *("wrong_label", "unfermentable", "low_hydrometer", "unmixed_top_up"),
    *("refractometer_raw", "refractometer_new", "refractometer_old"),
)
TESTS = {
    "cold_stall": "forced ferment test; or keep it warm and read again",
    "floc_stall": "forced ferment test; or rouse, keep warm and read again",
    "crash_early": "warm it for two days, then read again",
    "too_early": "readings further apart; forced ferment test",
    "saison_pause": "forced ferment test, warm; wait",
    "hop_creep": "forced ferment test with the hops in it",
    "intruder_fermenter": "sample kept warm for weeks beside the batch; microbiological plating",
    "intruder_packaging": "none before bottling: a test bottle of plastic, felt every week",
    "low_hydrometer": "hydrometer in water at its temperature",
    "refractometer_old": "hydrometer instead",
    "wrong_label": "forced ferment test",
    "misweighed": "second scale; a first test bottle",
    "double_dose": "check list on the day; a first test bottle",
    "unit_slip": "check list on the day; a first test bottle",
    "heaped_unsaid": "weigh the spoonful",
    "volume_gross": "measure the bucket with a jug; count the bottles",
    "uneven": "stir the sugar in; a first test bottle tells little",
    "overfill": "look at the filling height",
    "hot_place": "thermometer where they stand; keep to the place",
    "misnamed_bottles": "weigh an empty bottle",
}


@dataclass
class Labels:
    """Drawers and causes of a set of batches."""

    dangerous: Flags
    drawer: list[str]  # "", "shown", "lacks", "hidden"; scattered() tells "scatter" apart
    causes: dict[str, Flags]  # active ones
    cause_drawer: dict[str, list[str]]  # could the log show that cause
    lacks: Flags
    finished: Flags  # truly: at most 1 point to fall, and not dangerous
    logged_well: Flags
    logged_fully: Flags  # and everything that the batch file asks for
    read_at_end: Flags  # three or more of the readings, over six days, are of the ended beer
    falls_unmarked: Flags  # dangerous by its fall alone, and nothing but readings could tell
    end: Array  # where the log lets one expect the end [points], and its sigma
    end_sigma: Array
    plan_fits: Flags  # sugar, bottles and place suit each other (P 6.3, by the median bottle)


def label(drawn: Draws, notes: Notes, plan: Plan, truth: Truth, bottle_noise: Array) -> Labels:
    """Return the drawers of a set of batches."""
    flags, has = drawn.flags, notes.has
    n = len(drawn.day)
    readings = (notes.span >= GOOD_SPAN_DAYS) & notes.fresh
    end, sigma = expected_end(drawn, notes)
    klass = has["yeast_class"] & has["yeast_vague"]
    plan_known = has["sugar"] & has["volume"] & has["bottle_kind"]
    plan_known &= has["place"] | has["store_temp"]
    logged_well = readings & (sigma > 0) & klass & plan_known & has["pitched"] & has["today"]
    logged_well &= has["units"] & (~flags["dry_hopped"] | has["hop_line"])
    fully = logged_well & np.where(flags["dry_hopped"], has["hop_line"], has["hops_denied"])
    for name in (
        "beer_temp",
        "sample_temp",
        "degassed",
        "water_check",
        "vessel",
        "headspace",
        "sugar_kind",
        "store_temp",
        "scale",
    ):
        fully &= has[name]
    fully &= has["forced"] | (has["expected_fg"] & has["fermentables"] & has["og"])
    fully &= ~flags["crash"] | notes.cold_said
    fully &= ~flags["topped_up"] | has["top_up"]
    bulk = drawn.choice["way"] == 0
    fully &= bulk | has["bottle_size"]  # so much a bottle: of which size?
    lacks = ~fully
    # sugar for the whole batch: by the scale, and stirred in; else the check reckons with worse.
    # It says nothing of the fall, so that a log without it is not called lacking
    stirred = has["stirred"] & ~(flags["uneven"] & flags["uneven_said"])
    sugar_told = ~bulk | (has["weighed"] & stirred)

    hidden_error = np.where(flags["refractometer_old"], -drawn.number["old_formula"], 0.0)
    looks_ended = truth.gravity + hidden_error <= end + RESOLVED_SIGMAS * sigma
    diastatic = of_yeast(drawn.yeast, "diastatic") > 0
    marked = notes.cold_said | notes.sign | flags["dry_hopped"] | diastatic
    fall_hidden = ~lacks & looks_ended & (notes.flat < RESOLVED_POINTS) & ~marked

    said = flags["sugar_error_said"] & (drawn.choice["way"] == 0)
    slip = flags["misweighed"] | flags["double_dose"] | flags["unit_slip"]
    sugar_hidden = ((slip & ~said) | flags["heaped_unsaid"]) & has["sugar"]
    volume_hidden = flags["volume_gross"] & has["volume"]
    removed = Removed(
        intruder=flags["intruder_packaging"] | (flags["intruder_fermenter"] & fall_hidden),
        fall=fall_hidden,
        sugar=sugar_hidden,
        volume=volume_hidden,
        mixing=flags["uneven"] & ~(flags["uneven_said"] & bulk),  # of single doses no log tells it
        hot_place=flags["hot_place"] & (has["place"] | has["store_temp"]),
        bottles=flags["misnamed_bottles"] & has["bottle_kind"],
        overfill=flags["overfill"] & ~flags["overfill_said"],
    )
    dangerous = truth.dangerous()
    everything = np.ones(n, dtype=bool)
    without_fall = replace(removed, fall=everything, intruder=everything)
    by_fall = ~truth_of(drawn, plan, bottle_noise, without_fall).dangerous()
    seen = truth_of(drawn, plan, bottle_noise, removed).dangerous()
    drawer = np.where(~dangerous, "", np.where(~seen, "hidden", np.where(lacks, "lacks", "shown")))
    gravity_drawer = np.where(fall_hidden, "hidden", np.where(lacks, "lacks", "shown"))
    causes = _causes(drawn, truth)
    cause_drawer = {name: [str(item) for item in gravity_drawer] for name in causes}
    for name, hidden, absent in (
        ("intruder_packaging", np.ones(n, dtype=bool), None),
        ("misweighed", sugar_hidden, has["sugar"]),
        ("double_dose", sugar_hidden, has["sugar"]),
        ("unit_slip", sugar_hidden, has["sugar"]),
        ("heaped_unsaid", sugar_hidden, has["sugar"]),
        ("volume_gross", volume_hidden, has["volume"]),
        ("uneven", removed.mixing, None),
        ("overfill", removed.overfill, None),
        ("hot_place", removed.hot_place, has["place"] | has["store_temp"]),
        ("misnamed_bottles", removed.bottles, has["bottle_kind"]),
        ("weak_bottles", np.zeros(n, dtype=bool), has["bottle_kind"]),
        ("strong_plan", np.zeros(n, dtype=bool), plan_known),
        ("low_hydrometer", np.zeros(n, dtype=bool), has["water_check"]),
        ("refractometer_old", flags["refractometer_old"], None),
    ):
        there = np.ones(n, dtype=bool) if absent is None else absent
        drawers = np.where(hidden, "hidden", np.where(there, "shown", "lacks"))
        cause_drawer[name] = [str(item) for item in drawers]
    return Labels(
        dangerous=dangerous,
        drawer=[str(item) for item in drawer],
        causes=causes,
        cause_drawer=cause_drawer,
        lacks=lacks,
        finished=~dangerous & (truth.further_fall <= 1.0),
        logged_well=logged_well,
        logged_fully=fully & sugar_told,
        read_at_end=(notes.span >= GOOD_SPAN_DAYS)
        & (notes.flat <= 1.0)
        & ~marked
        & (drawn.choice["refractometer"] == 0)
        & (drawn.number["reading_sd"] <= GOOD_READING_SD)
        & ~flags["two_point_marks"],
        falls_unmarked=dangerous & by_fall & ~marked & readings,
        end=end,
        end_sigma=sigma,
        plan_fits=(truth.chart_20c <= RATING_MARGIN * ratings_of(drawn.choice["bottle_said"]))
        & (
            truth.planned_hot_bar
            <= PLAN_MARGIN * limits_of(drawn.choice["bottle_said"], drawn.number["plan_hot_c"])
        ),
    )


def scattered(labels: Labels, i: int, log: LogDict) -> bool:
    """Tell whether only the scatter of the written readings hid a danger that log would show."""
    return (
        labels.drawer[i] == "shown"
        and bool(labels.falls_unmarked[i])
        and looks_ended(
            log,
            float(labels.end[i]),
            RESOLVED_SIGMAS * float(labels.end_sigma[i]),
            RESOLVED_POINTS,
        )
    )


def _causes(drawn: Draws, truth: Truth) -> dict[str, Flags]:
    """Return which causes are at work: in the fall to come, in the readings, in the bottling."""
    flags, course, day = drawn.flags, drawn.course, drawn.day
    later = np.stack([day, day + HORIZON_DAYS], axis=1)
    taken = intruder_fall(course, later)
    wild = (taken[:, 1] - taken[:, 0]) >= 1.0
    unhopped = replace(course, hop_points=np.zeros(len(day)))
    plain = gravity(unhopped, later, intruder=False)
    hopped = gravity(course, later, intruder=False)
    own = plain[:, 0] - plain[:, 1]
    main = own >= 1.0
    stall = flags["cold_stall"] | flags["floc_stall"]
    paused = flags["saison_pause"] & main & (day <= drawn.course.edges[:, 2] + 0.01)
    crashed = flags["crash"] & main & ~stall
    creep = hopped[:, 0] - hopped[:, 1] - own >= 1.0
    weak = np.isin(
        drawn.choice["bottle_said"],
        [BOTTLE_NAMES.index(k) for k in ("growler", "non_beer_glass", "swing_top_decorative")],
    )
    causes = {
        "cold_stall": flags["cold_stall"] & main,
        "floc_stall": flags["floc_stall"] & main,
        "crash_early": crashed,
        "saison_pause": paused,
        "hop_creep": creep,
        "intruder_fermenter": flags["intruder_fermenter"] & wild,
        "intruder_packaging": flags["intruder_packaging"] & wild,
        "too_early": main & ~stall & ~crashed & ~paused,
        "wrong_label": flags["wrong_label"],
        "unfermentable": flags["unfermentable"],
        "low_hydrometer": drawn.number["bias"] <= LOW_HYDROMETER,
        "refractometer_raw": flags["refractometer_raw"],
        "refractometer_new": flags["refractometer_new"],
        "refractometer_old": flags["refractometer_old"],
        "unmixed_top_up": flags["unmixed_top_up"],
    }
    for name in (
        "misweighed",
        "double_dose",
        "unit_slip",
        "heaped_unsaid",
        "volume_gross",
        "uneven",
        "overfill",
        "hot_place",
        "misnamed_bottles",
    ):
        causes[name] = flags[name]
    causes["weak_bottles"] = weak
    # nothing went wrong, and still too much: the plan itself is too strong for bottles and place
    blamed = np.any([causes[name] for name in causes if name not in MISLEADING], axis=0)
    causes["strong_plan"] = ~blamed & truth.dangerous()
    return causes
