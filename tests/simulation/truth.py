"""What truly happens: gravity in the bottle, CO2, and the highest pressure, batch by batch."""

from __future__ import annotations

from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import yaml
from numpy.typing import NDArray
from tests.simulation.draws import BOTTLE_NAMES, SUGAR_NAMES, Draws, Flags, Index
from tests.simulation.kinetics import (
    CONDITIONING_DAYS,
    HORIZON_DAYS,
    gravity,
    intruder_fall,
)
from tests.simulation.priors import MIXING_SD, SUGARS
from tests.simulation.sealed_bottle import (
    G_PER_L_PER_VOL,
    chart_bar,
    gauge_bar,
    residual_vols,
)

Array = NDArray[np.float64]

MOST_BOTTLES = 96
BOTTLES_YAML = Path(__file__).resolve().parents[2] / "knowledge" / "bottles.yaml"
# grams in one level teaspoon of table sugar: P 3 gives 6-8 g heaped; about 4.2 level (judgement)
SPOON_G, DROP_SAID_G = 4.2, 3.0


@dataclass
class Plan:
    """The sugar as the log says it and as it truly goes in, in grams for the whole batch."""

    said_g: Array
    true_g: Array
    pieces: Array  # spoons or drops a bottle
    yield_true: Array


@dataclass
class Truth:
    """The truth of a set of batches; gravity in points, pressure in bar gauge at the hottest."""

    gravity: Array  # when asked
    gravity_3_weeks: Array
    gravity_9_months: Array  # most bottles
    gravity_9_months_worst: Array
    further_fall: Array  # worst bottle, nine months
    residual: Array
    co2_3_weeks: Array  # most bottles
    co2_median: Array
    co2_worst: Array
    chart_20c: Array  # median CO2 at 20 C, no neck, no air: the design test (P 6.3)
    planned_hot_bar: Array  # median bottle where it was meant to stand, on its hottest day (P 5.3)
    peak_median_bar: Array
    peak_worst_bar: Array
    hottest_c: Array
    limit_bar: Array

    def row(self, index: int) -> dict[str, float]:
        """Return the truth of one batch."""
        return {item.name: float(getattr(self, item.name)[index]) for item in fields(self)}

    def dangerous(self) -> Flags:
        """Return whether the worst bottle passes its planning limit or falls over 3 points."""
        return (self.peak_worst_bar > self.limit_bar) | (self.further_fall > 3.0)


@dataclass
class Removed:
    """Hidden causes to leave out of the truth, for telling what the log could have shown."""

    intruder: Flags
    fall: Flags
    sugar: Flags
    volume: Flags
    mixing: Flags
    hot_place: Flags
    bottles: Flags
    overfill: Flags


@cache
def bottle_limits() -> dict[str, tuple[float, float, float]]:
    """Return (danger_bar, rating_bar, hot_factor) of each class of bottle."""
    table = yaml.safe_load(BOTTLES_YAML.read_text(encoding="utf-8"))
    return {
        name: (row["danger_bar"], row["rating_bar"], row["hot_factor"])
        for name, row in table.items()
    }


def limits_of(bottle: Index, temp_c: Array) -> Array:
    """Return the planning limit of each class at a temperature (plastic weakens when hot)."""
    rows = np.array([bottle_limits()[name] for name in BOTTLE_NAMES])[bottle]
    share = np.clip((temp_c - 20.0) / 20.0, 0.0, 1.0)
    return np.asarray(rows[:, 0] * (1 - share * (1 - rows[:, 2])))


def ratings_of(bottle: Index) -> Array:
    """Return the pressure that each class of bottle is rated for at 20 C."""
    return np.array([bottle_limits()[name][1] for name in BOTTLE_NAMES])[bottle]


def plan_of(drawn: Draws) -> Plan:
    """Return the sugar meant and the sugar truly used."""
    number, flags, choice = drawn.number, drawn.flags, drawn.choice
    kind = choice["sugar"]
    stoich = np.array([row[1] for row in SUGARS.values()])[kind]
    table = np.array([0.5143, 0.4442, 0.4886, 0.36])[kind]  # as brewers reckon (P 3)
    volume = number["volume_said_l"]
    need = np.clip(number["target"] - residual_vols(drawn.temp_main), 0.6, None)
    grams = G_PER_L_PER_VOL * volume * need / table
    step = np.where(flags["us"], 28.3495 / 4, 5.0)
    grams = np.round(grams / step) * step
    size = number["size_ml"]
    spoons = np.maximum(np.round(size / 1000 * 6.5 / SPOON_G * 2) / 2, 0.5)
    drops = np.maximum(np.round(size / 375), 1)
    pieces = np.where(choice["way"] == 1, spoons, np.where(choice["way"] == 2, drops, 0.0))
    bottles = volume * 1000 / size
    said = np.where(choice["way"] == 1, pieces * SPOON_G * bottles, grams)
    said = np.where(choice["way"] == 2, pieces * DROP_SAID_G * bottles, said)
    wrong = np.where(flags["misweighed"], number["misweigh_factor"], 1.0)
    wrong = np.where(flags["double_dose"], 2.0, wrong)
    wrong = np.where(flags["unit_slip"], 100 / 28.3495, wrong)
    shown = flags["sugar_error_said"] & (choice["way"] == 0)
    said = np.where(shown & (wrong != 1) & ~flags["double_dose"], said * wrong, said)
    once = np.where(shown & ~flags["double_dose"], 1.0, wrong)
    noise = np.where(choice["way"] == 1, number["spoon_noise"], 1.0)
    noise = np.where(choice["way"] == 2, number["drop_g"] / DROP_SAID_G, noise)
    noise = noise * np.where(flags["heaped_unsaid"], 1.7, 1.0)
    scale = np.where(choice["way"] == 0, number["scale_noise_g"], 0.0)
    true = said * once * noise + scale
    dme = kind == SUGAR_NAMES.index("dry_malt_extract")
    yields = np.where(dme, number["dme_yield"], stoich * (1 - number["yield_loss"]))
    return Plan(said, true, pieces, yields)


def truth_of(
    drawn: Draws, plan: Plan, bottle_noise: Array, removed: Removed | None = None
) -> Truth:
    """Return the truth, or what it would be without the removed causes.

    `bottle_noise` (n, bottles) is standard normal: how uneven each bottle is.
    """
    number, flags, course = drawn.number, drawn.flags, drawn.course
    none = np.zeros(len(drawn.day), dtype=bool)
    cut = removed or Removed(none, none, none, none, none, none, none, none)
    times = np.stack([drawn.day, drawn.day + CONDITIONING_DAYS, drawn.day + HORIZON_DAYS], axis=1)
    plain = gravity(course, times, intruder=False)
    taken = intruder_fall(course, times)
    own_fall = np.where(cut.fall[:, None], 0.0, plain[:, :1] - plain)
    intruder = np.where(cut.intruder[:, None], 0.0, taken - taken[:, :1])
    count = np.minimum(number["count"], MOST_BOTTLES)
    present = np.arange(bottle_noise.shape[1])[None, :] < count[:, None]
    packaging = flags["intruder_packaging"]
    share = np.where(packaging, number["intruder_share"], 1.0)
    infected = np.arange(bottle_noise.shape[1])[None, :] < np.ceil(share * count)[:, None]
    per_point = number["vols_per_point"]

    still = np.where(flags["crash"] | flags["cold_stall"], _cold_end(drawn), drawn.temp_late)
    residual = np.maximum(residual_vols(still) + number["super"] + number["residual_noise"], 0.5)
    spread = np.where(cut.mixing, np.minimum(number["mixing_sd"], MIXING_SD), number["mixing_sd"])
    spread = np.where(drawn.choice["way"] == 1, np.maximum(spread, 0.10), spread)
    mix = np.exp(spread[:, None] * bottle_noise - 0.5 * spread[:, None] ** 2)
    grams = np.where(cut.sugar, plan.said_g, plan.true_g)
    litres = np.where(cut.volume, number["volume_said_l"], number["volume_true_l"])
    each = drawn.choice["way"] > 0  # dosed by the bottle: the volume of the batch does not matter
    litres = np.where(each, number["volume_said_l"], litres)
    sugar = plan.yield_true * grams / (G_PER_L_PER_VOL * litres)
    extra = per_point * own_fall[:, 2]
    wild = per_point * intruder[:, 2]
    vols = (residual + extra)[:, None] + sugar[:, None] * mix + wild[:, None] * infected
    vols = np.where(present, vols, np.nan)
    most = np.nanmax(vols, axis=1)
    middle = np.nanmedian(vols, axis=1)
    hottest = np.where(cut.hot_place, number["hottest_planned_c"], number["hottest_c"])
    hottest = np.clip(hottest, 5.0, 45.0)
    neck = np.where(cut.overfill, np.maximum(number["headspace"], 0.04), number["headspace"])
    fill = np.clip(drawn.temp_late, 1, 30)
    common: dict[str, Any] = {
        "air_bar": number["air_bar"],
        "fill_c": fill,
        "residual": residual,
        "solubility_factor": number["solubility_factor"],
    }
    bottle = np.where(cut.bottles, drawn.choice["bottle_said"], drawn.choice["bottle_true"])
    most_infected = share >= 0.5
    return Truth(
        gravity=plain[:, 0] - taken[:, 0],
        gravity_3_weeks=plain[:, 1] - taken[:, 0] - intruder[:, 1] * most_infected,
        gravity_9_months=plain[:, 2] - taken[:, 0] - intruder[:, 2] * most_infected,
        gravity_9_months_worst=plain[:, 2] - taken[:, 0] - intruder[:, 2],
        further_fall=own_fall[:, 2] + intruder[:, 2],
        residual=residual,
        co2_3_weeks=residual
        + sugar * 0.99
        + per_point * (own_fall[:, 1] + intruder[:, 1] * most_infected),
        co2_median=middle,
        co2_worst=most,
        chart_20c=chart_bar(middle, 20.0),
        planned_hot_bar=gauge_bar(middle, number["plan_hot_c"], np.maximum(neck, 0.03), **common),
        peak_median_bar=gauge_bar(middle, hottest, neck, **common),
        peak_worst_bar=gauge_bar(most, hottest, np.maximum(neck - 0.006, 0.0), **common),
        hottest_c=hottest,
        limit_bar=limits_of(bottle, hottest),
    )


def _cold_end(drawn: Draws) -> Array:
    """Return the temperature that set the CO2 of a chilled beer (P 2.4).

    Chilling finished beer makes no CO2; a beer that still worked while it cooled keeps the more
    of it the further it was from its end.
    """
    course = drawn.course
    left = gravity(course, drawn.event_day[:, None], intruder=False)[:, 0] - (
        course.fg - course.hop_points
    )
    share = np.clip((left - 0.5) / 4.0, 0.0, 1.0)
    return np.asarray(drawn.temp_main + share * (drawn.temp_late - drawn.temp_main))
