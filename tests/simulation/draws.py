"""Draw the hidden state of batches: what is in the fermenter, and what will be done with it."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from tests.simulation import priors
from tests.simulation.kinetics import (
    CONDITIONING_DAYS,
    Course,
    clock_at_share,
    clock_when_done,
)

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Index = NDArray[np.int64]

YEAST_NAMES = tuple(priors.YEASTS)
BOTTLE_NAMES = tuple(priors.BOTTLES)
PLACE_NAMES = tuple(priors.PLACES)
SUGAR_NAMES = tuple(priors.SUGARS)


@dataclass
class Draws:
    """The hidden state of a set of batches; one row a batch."""

    course: Course
    day: Array  # days since pitching on which the brewer asks and, if let, bottles
    yeast: Index
    temp_main: Array
    temp_late: Array
    event_day: Array  # when temp_late begins; the day of asking when nothing happened
    flags: dict[str, Flags]
    label_fg: Array
    label_og: Array
    number: dict[str, Array] = field(default_factory=dict)
    choice: dict[str, Index] = field(default_factory=dict)


def draw(rng: np.random.Generator, n: int) -> Draws:
    """Draw `n` batches."""
    brewer = rng.choice(len(priors.BREWERS), n, p=priors.BREWERS)
    flags: dict[str, Flags] = {}
    yeast = _pick(rng, n, [kind.share for kind in priors.YEASTS.values()])
    drawn = _beer(rng, n, yeast, flags)
    drawn.choice["brewer"] = brewer
    drawn.flags["us"] = rng.random(n) < 0.45
    _instruments(rng, n, drawn)
    _bottling(rng, n, drawn)
    return drawn


def _pick(rng: np.random.Generator, n: int, shares: list[float]) -> Index:
    weights = np.asarray(shares) / sum(shares)
    return rng.choice(len(weights), n, p=weights)


def of_yeast(yeast: Index, name: str) -> Array:
    """Return one figure of the class of yeast of each batch."""
    return np.array([getattr(kind, name) for kind in priors.YEASTS.values()], dtype=float)[yeast]


def shape(rng: np.random.Generator, yeast: Index, og: Array, fg: Array) -> Course:
    """Draw the shape of the main fermentation: no pause, no event, no late fall, no temperature.

    Spreads in the logarithm: fermentation.md 2.5 (half time 0.4, steepness 0.35, asymmetry 0.5);
    tail: judgement, rates after F 7.2.
    """
    n = len(og)
    return Course(
        og=og,
        fg=fg,
        half_days=of_yeast(yeast, "half_days") * rng.lognormal(0, 0.4, n),
        steepness=3.0 * rng.lognormal(0, 0.35, n),
        asymmetry=rng.lognormal(0, 0.5, n),
        tail_share=np.clip(rng.lognormal(np.log(0.05), 0.6, n), 0.005, 0.25),
        tail_rate=of_yeast(yeast, "tail_rate") * rng.lognormal(0, 0.4, n),
        edges=np.zeros((n, 7)),
        yeast_rate=np.ones((n, 6)),
        warmth=np.ones((n, 6)),
        hop_day=np.full(n, 1e6),
        hop_points=np.zeros(n),
        intruder_day=np.full(n, 1e6),
        intruder_points=np.zeros(n),
        intruder_mid=np.full(n, 40.0),
    )


def _activity(temp: Array, low: Array) -> Array:
    return np.asarray(1 / (1 + np.exp(np.clip((low - 3.0 - temp) / 1.2, -50, 50))))


def _beer(rng: np.random.Generator, n: int, yeast: Index, flags: dict[str, Flags]) -> Draws:
    ideal, low = of_yeast(yeast, "ideal_c"), of_yeast(yeast, "low_c")
    flocculent = of_yeast(yeast, "flocculent") > 0
    saison = of_yeast(yeast, "diastatic") > 0
    og = np.clip(rng.normal(50, 8, n), 32, 90)
    wort = _pick(rng, n, [0.30, 0.40, 0.30])  # kit, extract, all grain
    flags["unfermentable"] = (rng.random(n) < priors.UNFERMENTABLE) & (wort != 2) & ~saison
    short = np.where(flags["unfermentable"], rng.uniform(8, 20, n), 0.0)
    spread = np.array(priors.WORT_SPREAD)[wort]
    attenuation = of_yeast(yeast, "attenuation") + np.array(priors.WORT_SHIFT)[wort]
    attenuation = np.clip(attenuation + rng.normal(0, spread) - short, 45, 104)
    fg = og * (1 - attenuation / 100)
    flags["wrong_label"] = rng.random(n) < priors.WRONG_LABEL
    label = og * (1 - of_yeast(yeast, "typical") / 100) * 0.5 + (fg - og * short / 100) * 0.5
    label = label + rng.normal(0, 1.5, n) + flags["wrong_label"] * rng.normal(0, 5, n)

    main = ideal + rng.normal(0, 1.6, n)
    q10 = rng.normal(2.3, 0.15, n)
    temp_late, act = main.copy(), np.ones(n)
    course = shape(rng, yeast, og, fg)
    rate_main = q10 ** ((main - ideal) / 10) * _activity(main, low)
    flags["saison_pause"] = saison & (rng.random(n) < priors.SAISON_PAUSES)
    at = np.clip(rng.uniform(25, 35, n), None, og - 8)
    share = np.clip((at - fg) / (og - fg), 0.05, 0.95)
    pause_at = np.where(flags["saison_pause"], clock_at_share(course, share) / rate_main, 0.0)
    pause = np.where(flags["saison_pause"], rng.uniform(6, 35, n), 0.0)
    done = clock_when_done(course) / rate_main + pause

    when = rng.random(n)
    patient = done + rng.uniform(*priors.PATIENT_DAYS, n)
    calendar = rng.choice(priors.CALENDAR_DAYS, n) + rng.integers(-1, 2, n)
    hurried = done * rng.uniform(0.4, 0.95, n)
    day = np.where(when < priors.SHARE_PATIENT, np.maximum(patient, 6), hurried)
    late = priors.SHARE_PATIENT + priors.SHARE_CALENDAR
    day = np.where((when >= priors.SHARE_PATIENT) & (when < late), calendar, day)
    in_pause = flags["saison_pause"] & (rng.random(n) < 0.4)
    day = np.where(in_pause, pause_at + pause * rng.uniform(0.3, 0.95, n), day)
    day = np.clip(np.round(day), 3, 120)

    roll = rng.random(n)
    floc = priors.FLOC_STALL * np.where(flocculent, 3.0, 1.0)
    flags["cold_stall"] = roll < priors.COLD_STALL
    flags["floc_stall"] = ~flags["cold_stall"] & (roll < priors.COLD_STALL + floc)
    stalled = flags["cold_stall"] | flags["floc_stall"]
    crash = ~stalled & (rng.random(n) < priors.CRASH_EARLY)
    calm = ~stalled & ~crash & (rng.random(n) < priors.CRASH_DONE)
    stall_share = np.clip(rng.beta(1.3, 5, n), 0.02, 0.6)
    stall_day = clock_at_share(course, stall_share) / rate_main
    crash_day = np.minimum(day - rng.integers(1, 5, n), done * rng.uniform(0.5, 0.95, n))
    event = np.where(stalled, stall_day, np.where(crash, crash_day, 1e5))
    event = np.where(calm, day - rng.integers(1, 5, n), event)
    flags["crash"] = (crash | calm) & (event < day)
    event = np.clip(event, 0.5, day)
    temp_late = np.where(flags["cold_stall"], low - rng.uniform(1, 6, n), temp_late)
    temp_late = np.where(crash | calm, rng.uniform(1, 5, n), temp_late)
    act = np.where(flags["cold_stall"], rng.uniform(0, 0.05, n), act)
    act = np.where(flags["floc_stall"], rng.uniform(0, 0.04, n), act)
    rest = (yeast == YEAST_NAMES.index("lager")) & ~stalled & ~crash & ~calm
    temp_late = np.where(rest, rng.uniform(14, 17, n), temp_late)
    event = np.where(rest, np.minimum(0.8 * done, day), event)
    rate_late = act * q10 ** ((temp_late - ideal) / 10) * _activity(temp_late, low)

    in_bottle = np.maximum(rng.normal(20, 1.5, n), 15)
    place = _pick(rng, n, [row[0] for row in priors.PLACES.values()])
    table = np.array([row[1:4] for row in priors.PLACES.values()])[place]
    stored = table[:, 0] + rng.normal(0, 1.0, n)
    revived = np.where(rng.random(n) < priors.STALL_REVIVES, rng.uniform(0.1, 0.8, n), 0.002)
    wake = np.where(stalled, revived, rng.uniform(0.4, 1.0, n))
    # yeast that slept in the cold goes on in the warm summer at the latest: a mean over months
    later = np.maximum(stored, 0.5 * (stored + table[:, 1]))
    bottle_rates = [
        wake * q10 ** ((temp - ideal) / 10) * _activity(temp, low - 1)
        for temp in (in_bottle, later)
    ]
    ends = [np.minimum(pause_at, day), np.minimum(pause_at + pause, day)]
    third = np.clip(event, ends[1], day)
    course.edges = np.stack(
        [np.zeros(n), *ends, third, day, day + CONDITIONING_DAYS, np.full(n, 1e7)], axis=1
    )
    course.yeast_rate = np.stack(
        [rate_main, 0.01 * rate_main, rate_main, rate_late, *bottle_rates], axis=1
    )
    temps = np.stack([main, main, main, temp_late, in_bottle, later], axis=1)
    course.warmth = 2.2 ** ((temps - 20) / 10)
    number = {
        "hop_g_l": _late_falls(rng, n, course, day, flags),
        "in_bottle_c": in_bottle,
        "stored_c": stored,
        "plan_hot_c": np.array([row[4] for row in priors.PLACES.values()])[place],
        "hottest_c": np.maximum(table[:, 1] + table[:, 2] * rng.normal(0, 1, n), in_bottle),
        "done": done,
    }
    label_og = np.round(og + rng.normal(0, 2.5, n))
    return Draws(
        course,
        day,
        yeast,
        main,
        temp_late,
        third,
        flags,
        label,
        label_og,
        number,
        {"place": place, "wort": wort},
    )


def _late_falls(
    rng: np.random.Generator, n: int, course: Course, day: Array, flags: dict[str, Flags]
) -> Array:
    """Add hop creep and intruders (diastatic or wild yeast); return the dry hops in g/L."""
    flags["dry_hopped"] = (rng.random(n) < priors.DRY_HOPPED) & (day >= 6)
    dose = np.clip(rng.lognormal(np.log(4.0), 0.45, n), 1, 14)
    creep = dose * priors.HOP_POINTS_PER_G_L * rng.lognormal(0, 0.5, n)
    course.hop_points = np.where(flags["dry_hopped"], np.clip(creep, 0.2, 11), 0.0)
    before = np.minimum(np.round(rng.uniform(2, 9, n)), day - 3)
    course.hop_day = np.where(flags["dry_hopped"], day - before, 1e6)
    course.hop_points = np.minimum(course.hop_points, np.maximum(course.fg + 3.0, 0.0))
    roll = rng.random(n)
    early = roll < priors.INTRUDER_IN_FERMENTER
    late = ~early & (roll < priors.INTRUDER_IN_FERMENTER + priors.INTRUDER_AT_PACKAGING)
    flags["intruder_fermenter"], flags["intruder_packaging"] = early, late
    floor = rng.normal(1.5, 2.5, n)
    weak = rng.random(n) < 0.25  # heterofermenters: 1-3 points (F 7.4)
    room = np.maximum(course.fg - course.hop_points - np.maximum(floor, -4), 0.0)
    points = np.where(weak, np.minimum(room, rng.uniform(1, 3, n)), room)
    course.intruder_points = np.where(early | late, points, 0.0)
    course.intruder_day = np.where(early, rng.uniform(0, 3, n), np.where(late, day, 1e6))
    course.intruder_mid = np.where(
        early, rng.lognormal(np.log(35), 0.6, n), rng.lognormal(np.log(60), 0.5, n)
    )
    return dose


def _instruments(rng: np.random.Generator, n: int, drawn: Draws) -> None:
    good = rng.random(n) < priors.BIAS_GOOD_SHARE
    bias = rng.normal(0, np.where(good, priors.BIAS_GOOD_SD, priors.BIAS_BAD_SD))
    drawn.number["bias"] = np.clip(bias, -priors.BIAS_LIMIT, priors.BIAS_LIMIT)
    spread = np.asarray(priors.READING_SD)[drawn.choice["brewer"]]
    drawn.number["reading_sd"] = rng.uniform(spread[:, 0], spread[:, 1])
    drawn.flags["scale_60f"] = drawn.flags["us"] & (rng.random(n) < 0.5)
    drawn.flags["two_point_marks"] = rng.random(n) < priors.TWO_POINT_MARKS
    optical = rng.random(n) < priors.REFRACTOMETER
    kind = _pick(rng, n, list(priors.REFRACTOMETER_KINDS))
    drawn.choice["refractometer"] = np.where(optical, kind + 1, 0)
    drawn.flags["refractometer_raw"] = optical & (kind == 0)
    drawn.flags["refractometer_new"] = optical & (kind == 1)
    drawn.flags["refractometer_old"] = optical & (kind == 2)
    drawn.number["old_formula"] = np.clip(rng.normal(5.1, 2.2, n), 0.5, 8.5)  # P 1.4
    extract = drawn.choice["wort"] != 2
    drawn.flags["topped_up"] = extract & (rng.random(n) < priors.TOPPED_UP)
    drawn.flags["unmixed_top_up"] = drawn.flags["topped_up"] & (rng.random(n) < priors.UNMIXED)
    wrong = np.clip(rng.normal(0, 15, n), -40, 40)
    drawn.number["og_error"] = np.where(drawn.flags["unmixed_top_up"], wrong, 0.0)


def _bottling(rng: np.random.Generator, n: int, drawn: Draws) -> None:
    """Draw what will be done on bottling day: meant, and truly done."""
    flags, number, choice = drawn.flags, drawn.number, drawn.choice
    us = flags["us"]
    shares = np.array([[row[2], row[3]] for row in priors.SUGARS.values()])
    sugar = np.where(us, _pick(rng, n, list(shares[:, 1])), _pick(rng, n, list(shares[:, 0])))
    roll = rng.random(n)
    way = np.where(roll < priors.SPOON_EACH, 1, 0)
    way = np.where(
        (roll >= priors.SPOON_EACH) & (roll < priors.SPOON_EACH + priors.DROPS_EACH), 2, way
    )
    choice["way"] = way  # 0 bulk, 1 spoon in each bottle, 2 drops
    choice["sugar"] = np.where(way > 0, SUGAR_NAMES.index("sucrose"), sugar)
    batch_l = np.where(
        us,
        rng.choice([18.93, 9.46, 20.8], n, p=[0.75, 0.12, 0.13]),
        rng.choice([20.0, 23.0, 10.0, 15.0], n, p=[0.5, 0.3, 0.12, 0.08]),
    )
    number["volume_said_l"] = batch_l * rng.uniform(0.90, 0.99, n)
    flags["volume_gross"] = rng.random(n) < priors.VOLUME_GROSS
    share = rng.normal(1, priors.VOLUME_SD, n)
    share = np.where(flags["volume_gross"], rng.uniform(0.70, 0.85, n), np.clip(share, 0.88, 1.12))
    number["batch_l"] = batch_l
    number["volume_true_l"] = number["volume_said_l"] * share

    bottle = _pick(rng, n, [kind.share for kind in priors.BOTTLES.values()])
    choice["bottle_said"] = bottle
    flags["misnamed_bottles"] = rng.random(n) < priors.MISNAMED_BOTTLES
    weaker = np.where(
        rng.random(n) < 0.7,
        BOTTLE_NAMES.index("swing_top_light"),
        BOTTLE_NAMES.index("swing_top_decorative"),
    )
    choice["bottle_true"] = np.where(flags["misnamed_bottles"], weaker, bottle)
    sizes = [kind.sizes_ml for kind in priors.BOTTLES.values()]
    pick = rng.random(n)
    number["size_ml"] = np.array(
        [sizes[b][int(p * len(sizes[b]))] for b, p in zip(bottle, pick, strict=True)], dtype=float
    )
    number["size_ml"] = np.where(
        us & (bottle <= 2) & (number["size_ml"] < 400), 355.0, number["size_ml"]
    )
    number["count"] = np.maximum(np.floor(number["volume_said_l"] * 1000 / number["size_ml"]), 1)

    number["target"] = of_yeast(drawn.yeast, "target_vols") + rng.normal(0, 0.2, n)
    flags["heaped_unsaid"] = (way == 1) & (rng.random(n) < priors.HEAPED_UNSAID)
    roll = rng.random(n)
    edges = np.cumsum([priors.MISWEIGHED, priors.DOUBLE_DOSE, priors.UNIT_SLIP])
    flags["misweighed"] = roll < edges[0]
    flags["double_dose"] = (roll >= edges[0]) & (roll < edges[1])
    flags["unit_slip"] = (roll >= edges[1]) & (roll < edges[2]) & (way == 0)
    number["misweigh_factor"] = rng.uniform(1.2, 1.9, n)
    flags["sugar_error_said"] = rng.random(n) < 0.35  # the plan itself already shows the slip
    flags["uneven"] = rng.random(n) < priors.UNEVEN
    flags["uneven_said"] = rng.random(n) < 0.4
    number["mixing_sd"] = np.where(
        flags["uneven"], rng.uniform(0.2, 0.4, n), priors.MIXING_SD * rng.lognormal(0, 0.3, n)
    )
    flags["overfill"] = rng.random(n) < priors.OVERFILL
    flags["overfill_said"] = rng.random(n) < 0.3
    number["headspace"] = np.where(
        flags["overfill"],
        rng.uniform(0.0, 0.009, n),
        np.clip(rng.normal(0.042, 0.01, n), 0.02, 0.1),
    )
    number["air_bar"] = rng.uniform(0.3, 0.8, n)
    flags["hot_place"] = rng.random(n) < priors.HOT_PLACE_UNPLANNED
    hot = rng.uniform(32, 42, n)
    number["hottest_planned_c"] = number["hottest_c"]
    number["hottest_c"] = np.where(
        flags["hot_place"], np.maximum(hot, number["hottest_c"]), number["hottest_c"]
    )
    number["spoon_noise"] = rng.lognormal(0, priors.SPOON_SD, n)
    number["scale_noise_g"] = rng.normal(0, priors.SUGAR_SCALE_G, n)
    number["yield_loss"] = np.clip(np.abs(rng.normal(0, 0.03, n)), 0, 0.10)
    number["vols_per_point"] = rng.normal(0.52, 0.012, n)
    number["solubility_factor"] = rng.normal(1.0, 0.02, n)
    number["super"] = np.where(rng.random(n) < 0.25, rng.uniform(0, 0.25, n), 0.0)
    number["residual_noise"] = rng.normal(0, 0.05, n)
    number["intruder_share"] = rng.uniform(0.04, 1.0, n)
    number["drop_g"] = rng.uniform(2.7, 3.5, n)
    number["dme_yield"] = np.clip(rng.normal(0.36, 0.025, n), 0.30, 0.42)
