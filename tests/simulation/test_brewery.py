"""The simulated brewery checked against sums, published tables, and the batch-file reader."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import yaml
from tests.shared_tables import rows
from tests.simulation import priors
from tests.simulation.brewery import SimulatedBatch, brew, brew_chunk
from tests.simulation.campaign import report, run, wilson
from tests.simulation.draws import YEAST_NAMES, draw, shape
from tests.simulation.kinetics import gravity, intruder_fall
from tests.simulation.labels import TESTS
from tests.simulation.notes import expected_end, take_notes
from tests.simulation.rules_of_thumb import (
    GO,
    HOLD,
    RULES,
    airlock_silent,
    three_equal_in_a_row,
    two_equal_two_days_apart,
)
from tests.simulation.sealed_bottle import chart_bar, gauge_bar, residual_vols
from tests.simulation.truth import BOTTLES_YAML, bottle_limits, plan_of, truth_of

from trubshoot.batch import read_batch

MANY = 6000


@pytest.fixture(scope="module")
def batches() -> list[SimulatedBatch]:
    """Give a few thousand batches, drawn once."""
    return list(brew(MANY, random_state=11))


# --- pressure, against the computed tables of the dossier (physics.md 5, second coding)


@pytest.mark.parametrize("air", [0.0, 0.8])
def test_pressure_table(air):
    """Sealed pressure agrees with sealed_bottle_pressure.csv within 0.05 bar, 4 to 50 C."""
    column = "sealed_with_0.8bar_N2_bar" if air else "sealed_noair_bar"
    table = rows("sealed_bottle_pressure.csv")
    vols = np.array([float(row["total_volumes"]) for row in table])
    temp = np.array([float(row["t_C"]) for row in table])
    said = np.array([float(row[column]) for row in table])
    found = gauge_bar(vols, temp, 0.04, air_bar=air, swelling=False)
    assert len(table) >= 60
    assert np.abs(found - said).max() <= 0.05


def test_overfilled_table():
    """Overfilled bottles agree with overfill_headspace.csv, liquid-full ones within 1 %.

    The table starts from 0.86 vol left in the beer (the polynomial of physics.md 2.4 at 20 C).
    """
    table = rows("overfill_headspace.csv")
    found = gauge_bar(
        [float(row["total_volumes"]) for row in table],
        [float(row["t_C"]) for row in table],
        [float(row["headspace_pct_at_fill_20C"]) / 100 for row in table],
        residual=0.86,
    )
    said = np.array([float(row["gauge_bar"]) for row in table])
    assert (np.abs(found - said) <= np.maximum(0.05, 0.01 * said)).all()


def test_chart_and_residual_points():
    """3 vol at 20 C is 2.619 bar; beer ended at 20 C holds 0.84 vol (physics.md 11, 2.4)."""
    assert chart_bar(3.0, 20.0) == pytest.approx(2.619, abs=0.005)
    assert residual_vols(20.0) == pytest.approx(0.84, abs=0.01)


# --- kinetics


def test_gravity_is_conserved():
    """It starts at the OG, never rises, and ends at the terminal gravity after any time."""
    drawn = draw(np.random.default_rng(3), 800)
    days = np.concatenate([np.linspace(0, 60, 121), [200.0, 1e6]])
    path = gravity(drawn.course, np.broadcast_to(days, (800, days.size)))
    assert path[:, 0] == pytest.approx(drawn.course.og)
    assert (np.diff(path, axis=1) <= 1e-9).all()
    assert (path[:, -1] >= drawn.course.terminal() - 1e-6).all()
    awake = drawn.course.yeast_rate[:, 5] > 0.05
    assert np.abs(path[:, -1] - drawn.course.terminal())[awake].max() < 0.05


# (series, yeast, deg C, attenuation %, hours, SG read): fermentation_series_points.csv
SERIES = [
    ("A", "kit_sachet", 23, 48, 1.049),
    ("B", "dry_neutral_ale", 20, 48, 1.058),
    ("C", "dry_neutral_ale", 20, 72, 1.050),
    ("E", "clean_american_ale", 21, 48, 1.051),
    ("G", "dry_neutral_ale", 24, 24, 1.065),
    ("I", "english_ale", 25.5, 336, 1.052),
    ("I", "english_ale", 25.5, 720, 1.052),
    ("L", "clean_american_ale", 19, 96, 1.040),
    ("M", "lager", 11, 168, 1.041),
    ("R", "saison_diastatic", 22, 336, 1.076),
]


@pytest.mark.parametrize(("series", "yeast", "temp_c", "hours", "og"), SERIES)
def test_kinetics_against_published_readings(series, yeast, temp_c, hours, og):
    """Published readings lie in the middle 99.6 % of simulated courses, within 1 point."""
    said = [
        (float(row["SG"]) - 1) * 1000
        for row in rows("fermentation_series_points.csv")
        if row["series"] == series and float(row["hours"]) == hours
    ]
    n = 4000
    rng = np.random.default_rng(17)
    kind = priors.YEASTS[yeast]
    start = np.full(n, (og - 1) * 1000)
    end = start * (1 - (kind.attenuation + rng.normal(0, 4.5, n)) / 100)
    course = shape(rng, np.full(n, YEAST_NAMES.index(yeast)), start, end)
    course.edges[:, 1:] = 1e6
    course.yeast_rate[:] = 2.3 ** ((temp_c - kind.ideal_c) / 10)
    found = gravity(course, np.full((n, 1), hours / 24))[:, 0]
    low, high = np.quantile(found, [0.002, 0.998])
    assert len(said) == 1
    assert low - 1 <= said[0] <= high + 1


def test_intruder_is_slow():
    """Yeast that enters at bottling takes under a fifth of its points in ten days."""
    drawn = draw(np.random.default_rng(4), 20_000)
    late = drawn.flags["intruder_packaging"] & (drawn.course.intruder_points > 2)
    soon = intruder_fall(drawn.course, drawn.day[:, None] + 10)[:, 0]
    end = intruder_fall(drawn.course, drawn.day[:, None] + 270)[:, 0]
    assert late.sum() > 50
    assert np.median((soon / np.maximum(end, 1e-9))[late]) < 0.2
    assert np.median((end / np.maximum(drawn.course.intruder_points, 1e-9))[late]) > 0.8


# --- truth


def test_carbon_balance():
    """CO2 in the median bottle is what was left, plus sugar, plus the fall (physics.md 3, 4)."""
    rng = np.random.default_rng(5)
    drawn = draw(rng, 500)
    plan = plan_of(drawn)
    truth = truth_of(drawn, plan, np.zeros((500, 96)))
    added = plan.yield_true * plan.true_g / 1.977
    litres = np.where(
        drawn.choice["way"] > 0, drawn.number["volume_said_l"], drawn.number["volume_true_l"]
    )
    mixed = np.exp(
        -0.5
        * np.where(
            drawn.choice["way"] == 1,
            np.maximum(drawn.number["mixing_sd"], 0.10),
            drawn.number["mixing_sd"],
        )
        ** 2
    )
    fall = drawn.number["vols_per_point"] * truth.further_fall
    total = truth.residual + added / litres * mixed + fall
    assert truth.co2_worst == pytest.approx(total, abs=1e-6)


def test_worst_is_never_below_the_median(batches):
    """The worst bottle holds at least the median's CO2, and pressures follow."""
    for batch in batches:
        truth = batch.truth
        assert truth["co2_worst"] >= truth["co2_median"] - 1e-9
        assert truth["peak_worst_bar"] >= truth["peak_median_bar"] - 0.02
        assert truth["gravity_9_months"] <= truth["gravity_3_weeks"] + 1e-9
        assert truth["gravity_3_weeks"] <= truth["gravity"] + 1e-9


def test_limits_come_from_the_knowledge():
    """Every class of bottle drawn has its limit in knowledge/bottles.yaml."""
    table = yaml.safe_load(BOTTLES_YAML.read_text(encoding="utf-8"))
    assert set(priors.BOTTLES) <= set(table)
    assert bottle_limits()["single_use_longneck_reused"][0] == 4.5


def test_distributions_are_sane(batches):
    """Shares of outcomes, and typical figures, lie where they were meant to lie."""
    n = len(batches)
    truths = [batch.truth for batch in batches]
    assert 0.55 <= sum(batch.finished for batch in batches) / n <= 0.68
    assert 0.15 <= sum(batch.dangerous for batch in batches) / n <= 0.32
    assert 2.2 <= np.median([truth["co2_median"] for truth in truths]) <= 3.0
    assert 1.3 <= np.median([truth["peak_median_bar"] for truth in truths]) <= 3.5
    assert 5 <= np.median([truth["gravity"] for truth in truths]) <= 15
    readings = [sum("gravity" in entry for entry in batch.log["log"]) for batch in batches]
    assert min(readings) >= 2
    assert max(readings) <= 9  # eight of the beer and a forced test
    assert 0.3 <= sum(batch.log.get("units") == "us" for batch in batches) / n <= 0.5


def test_every_hidden_cause_occurs(batches):
    """Each cause appears, does harm at times, and the hidden ones name the test that would tell."""
    seen: dict[str, set[str]] = {}
    for batch in batches:
        for cause, drawer in batch.causes.items():
            seen.setdefault(cause, set()).add(drawer)
    harmful = {cause for batch in batches if batch.dangerous for cause in batch.causes}
    assert set(TESTS) <= set(seen)
    assert set(TESTS) <= harmful
    assert seen["intruder_packaging"] == {"hidden"}
    assert "hidden" not in seen["weak_bottles"]
    assert {batch.drawer for batch in batches} - {"scatter"} == {"", "shown", "lacks", "hidden"}


def test_the_end_a_log_lets_one_expect_is_calibrated():
    """Truth lies about that end with the spread claimed, save for wrong sheets and odd extract."""
    rng = np.random.default_rng(5)
    drawn = draw(rng, 20000)
    end, sigma = expected_end(drawn, take_notes(rng, drawn))
    plain = (sigma > 0) & ~drawn.flags["wrong_label"] & ~drawn.flags["unfermentable"]
    z = (drawn.course.fg - end)[plain] / sigma[plain]
    assert plain.sum() > 10000
    assert abs(z.mean()) < 0.15
    assert z.std() == pytest.approx(1.0, abs=0.08)
    assert np.quantile(z, 0.95) == pytest.approx(1.645, abs=0.15)


def test_drawers_belong_to_dangerous_batches(batches):
    """Only dangerous batches are put in a drawer; an incomplete log is never called complete."""
    for batch in batches:
        assert bool(batch.drawer) == batch.dangerous
        if batch.drawer == "shown":
            # all but how the sugar was handled, of which the fall does not hang
            told = [batch.log["plan"].get(name) is True for name in ("weighed", "stirred")]
            assert batch.logged_fully or not all(told)
        if batch.drawer == "lacks":
            assert not batch.logged_fully
        assert not (batch.finished and batch.dangerous)


def test_missing_fields_occur(batches):
    """Every group of the batch file is missing from some logs and there in others."""
    for key in (
        "units",
        "today",
        "yeast",
        "bottles",
        "storage",
        "instruments",
        "vessel",
        "fermentables",
        "circumstances",
    ):
        have = sum(key in batch.log for batch in batches)
        assert 0 < have < len(batches), key
    for key in ("sugar", "volume", "stirred", "headspace", "dosing"):
        have = sum(key in batch.log["plan"] for batch in batches)
        assert 0 < have < len(batches), key


def test_same_random_state_same_batches():
    """A random state gives the same batches again, whole or chunk by chunk; another does not."""
    first = list(brew(1200, random_state=7))
    assert first == list(brew(1200, random_state=7))
    assert first[500:1000] == brew_chunk(500, (7, 1), 500)
    assert first[:3] != list(brew(3, random_state=8))


def test_every_log_is_a_batch_file(batches):
    """Three hundred logs written as YAML are read by the product without a problem."""
    for batch in batches[:300]:
        read = read_batch(yaml.safe_dump(batch.log, sort_keys=False))
        assert read.name == batch.log["batch"]
        assert read.plan is not None
        assert len(read.log) == len(batch.log["log"])


def test_the_truth_does_not_know_the_product():
    """Only the adapter imports the product; gravity, gas and pressure are the folder's own."""
    folder = Path(__file__).parent
    users = {
        path.name
        for path in folder.glob("*.py")
        if "import trubshoot" in (text := path.read_text(encoding="utf-8"))
        or "from trubshoot" in text
    }
    assert users - {"test_brewery.py"} == {"product.py"}


# --- rules of thumb and campaign


def _log(*readings: tuple[int, float], saw: str | None = None) -> dict:
    entries = [{"day": day, "gravity": sg} for day, sg in readings]
    if saw:
        entries.append({"day": 20, "saw": saw})
    return {"log": entries}


@pytest.mark.parametrize(
    ("log", "two", "three"),
    [
        (_log((10, 1.012), (12, 1.012)), GO, HOLD),
        (_log((10, 1.012), (11, 1.012)), HOLD, HOLD),
        (_log((10, 1.012), (12, 1.011)), HOLD, HOLD),
        (_log((10, 1.012), (11, 1.012), (12, 1.012)), GO, GO),
        (_log((10, 1.012), (11, 1.013), (12, 1.012)), HOLD, HOLD),
        (_log((9, 1.014), (10, 1.012), (13, 1.012)), GO, HOLD),
        (_log((10, 1.012)), HOLD, HOLD),
        (_log(), HOLD, HOLD),
    ],
)
def test_equal_readings(log, two, three):
    """Two equal readings need two days between them; three need to be the last three."""
    assert two_equal_two_days_apart(log) == two
    assert three_equal_in_a_row(log) == three


def test_forced_test_is_no_reading_of_the_batch():
    """The end of a forced ferment test does not count as a reading that day."""
    log = _log((10, 1.012), (12, 1.012))
    log["log"].append({"day": 12, "gravity": 1.009, "of": "forced test"})
    assert two_equal_two_days_apart(log) == GO


def test_airlock():
    """A silent airlock is GO, a bubbling or unseen one is not."""
    assert airlock_silent(_log(saw="airlock silent")) == GO
    assert airlock_silent(_log(saw="airlock bubbling")) == HOLD
    assert airlock_silent(_log((3, 1.012))) == HOLD


def test_wilson_interval():
    """The interval of 0 in 10 and of 5 in 10 (computed by hand from the closed form)."""
    assert wilson(0, 10) == pytest.approx((0.0, 0.2775), abs=2e-4)
    assert wilson(5, 10) == pytest.approx((0.2366, 0.7634), abs=2e-4)
    assert wilson(0, 0) == (0.0, 1.0)


def test_small_campaign_of_the_rules():
    """400 batches: every rule is judged, errs at times, and the tables name all drawers."""
    total = run(400, random_state=2, only="rules")
    assert total.batches == 400
    for name in RULES:
        assert 0 < total.go[name, "dangerous"] < total.groups["dangerous"]
        assert 0 < total.go[name, "all"] < 400
    text = report(total, "rules")
    assert text.count("| two equal readings two days apart") >= 4
    assert "nothing in the log could have shown it" in text
    assert "false GO among dangerous batches" in text
