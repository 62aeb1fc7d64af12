"""Sugar table, pressures, course over time and curve: numbers behind the bottling commands."""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import datetime
from types import SimpleNamespace
from typing import cast

import pytest
from tests.evidence.support import facts_of, number
from tests.safety.gate import NOW, Doc, changed, good, read, work
from tests.shared_tables import rows

from trubshoot.diagnosis.bottle_classes import bottle_classes
from trubshoot.evidence import Evidence, collect, outlook
from trubshoot.evidence import sugar_table as table_module
from trubshoot.evidence.bench import Bench
from trubshoot.evidence.bottle_course import DAYS, BottleCourse, bottle_course
from trubshoot.evidence.gravity_fit import gravity_fit
from trubshoot.evidence.outlook import band, storage_below_c, total_vols
from trubshoot.evidence.sugar_table import SugarTable, sugar_table
from trubshoot.physics.gas import PointsLeft

BOTTLED_AT = "2026-03-22 12:00"


def evidence_of(doc: Doc, now: datetime = NOW) -> Evidence:
    batch = read(doc, now)
    assert batch is not None
    return collect(batch, work().knowledge, lambda: work().lexicon, now)


def bottled(**details: object) -> Doc:
    """Return the good log with the planned bottling done."""
    base = good()
    plan = {key: value for key, value in base.pop("plan").items() if key != "target"}
    entry = {"at": BOTTLED_AT, "did": "bottled", **plan, **details}
    entry = {key: value for key, value in entry.items() if value is not None}
    del base["today"]
    return {**base, "log": [*base["log"], entry]}


def table_of(doc: Doc) -> SugarTable:
    basis = evidence_of(doc).basis
    assert basis is not None
    found = sugar_table(basis, work().knowledge, weighed=True)
    assert found is not None
    return found


def course_of(doc: Doc, now: datetime = NOW) -> BottleCourse:
    found = bottle_course(evidence_of(doc, now), work().knowledge)
    assert found is not None
    return found


def test_sugar_reaches_the_target() -> None:
    """The grams of each kind bring the beer to its target, less than a hundredth below it."""
    table = table_of(good())
    basis = evidence_of(good()).basis
    assert basis is not None
    for row in table.rows:
        sugar = work().knowledge.sugars[row.kind]
        vols = sugar.yield_central * row.grams_per_l / 1.977
        assert table.present_vols + vols == pytest.approx(table.target_vols, abs=0.01)
        assert row.batch_g == int(row.grams_per_l * 18.0)


def test_sugar_against_a_published_example() -> None:
    """Source: priming_examples.csv, 4.19 oz cane sugar in 5 US gal for about 2.5 volumes (read).

    It credits 0.86 volumes at 20 C and leaves nothing to ferment.
    """
    (row,) = [row for row in rows("priming_examples.csv") if "4.19" in " ".join(row.values())][:1]
    assert row
    basis = evidence_of(good()).basis
    assert basis is not None
    finished = replace(basis.left, mean=-40.0, sigma=0.1, tail_95=None, stall_share=1.0)
    plain = replace(
        basis,
        residual_vols=0.86,
        left=finished,
        left_most=finished,
        target_vols=2.5,
        volume_l=18.927,
    )
    table = sugar_table(plain, work().knowledge, weighed=True)
    assert table is not None
    (sucrose,) = [item for item in table.rows if item.kind == "sucrose"]
    assert sucrose.batch_g == pytest.approx(4.19 * 28.35, rel=0.02)


@pytest.mark.parametrize("kind", ["reused longneck", "new longneck", "champagne bottles"])
@pytest.mark.parametrize("target", ["2.4", "4.0", "6.0"])
def test_no_dose_above_what_the_bottles_allow(kind: str, target: str) -> None:
    """However high the target, each dose passes both tests of its bottles."""
    doc = changed(
        good(), bottles={"kind": kind, "size": "500 ml", "reused": "no"}, plan__target=target
    )
    knowledge = work().knowledge
    basis = evidence_of(doc).basis
    assert basis is not None
    table = table_of(doc)
    for row in table.rows:
        sugar = knowledge.sugars[row.kind]
        done = changed(doc, plan__sugar=f"{row.grams_per_l * 18:.1f} g {sugar.aliases[0]}")
        facts = evidence_of(done).facts
        assert float(facts["pressure_over_rating_bar"]) <= 0.002
        assert float(facts["pressure_over_danger_bar"]) <= 0.002
    assert table.capped is any(row.capped for row in table.rows)


def test_unrated_bottles_get_no_dose() -> None:
    """For glass not made for pressure every dose is nothing."""
    table = table_of(changed(good(), bottles={"kind": "wine bottles", "size": "750 ml"}))
    assert all(row.grams_per_l == 0 for row in table.rows)


def test_own_size_and_level_spoons() -> None:
    """The batch's own bottle size stands in the table; spoons follow the spoon density."""
    table = table_of(changed(good(), bottles__size="620 ml"))
    sizes = [dose.size_ml for dose in table.rows[0].bottles]
    assert sizes == sorted(sizes)
    assert 620 in sizes
    for row in table.rows:
        density = work().knowledge.sugars[row.kind].spoon_g_per_ml
        assert density is not None
        for dose in row.bottles:
            assert dose.teaspoons is not None
            spare = dose.grams / (density * 5.0) - dose.teaspoons
            assert -1e-6 <= spare < 0.25


def test_pressures_rise_with_warmth_and_bands_follow() -> None:
    """Upper is above middle, warmer above cooler, and the band is that of the pressure."""
    look = evidence_of(changed(good(), storage={"where": "cupboard", "temp": "12 C"})).outlook
    assert look is not None
    row = work().knowledge.bottles[look.basis.bottle_class]
    by_heat = sorted(look.pressures, key=lambda point: point.temp_c)
    assert len(by_heat) == 3
    for cool, warm in itertools.pairwise(by_heat):
        assert warm.middle_bar > cool.middle_bar
        assert warm.upper_bar > cool.upper_bar
    for point in by_heat:
        assert point.upper_bar > point.middle_bar
        assert point.upper_band == band(row, point.upper_bar, point.temp_c)


def test_bands_at_their_edges() -> None:
    """A pressure at the rating is carried; at the danger limit it is over."""
    row = work().knowledge.bottles["single_use_longneck_reused"]
    assert band(row, row.rating_bar, 20) == "carried"
    assert band(row, row.rating_bar + 0.01, 20) == "strained"
    assert band(row, row.danger_bar - 0.01, 20) == "strained"
    assert band(row, row.danger_bar, 20) == "over"
    assert band(row, row.planning_eta_bar, 20) == "failing"


def test_storage_below() -> None:
    """Half a degree under the named temperature the upper pressure is under the limit."""
    knowledge = work().knowledge
    look = evidence_of(good()).outlook
    assert look is not None
    row = knowledge.bottles[look.basis.bottle_class]
    below = storage_below_c(look, row, 0.04)
    for temp, over in ((below - 0.5, False), (below + 0.5, True)):
        place = {"where": "fridge", "temp": f"{temp:.2f} C"}
        facts = evidence_of(changed(good(), storage=place)).facts
        assert (float(facts["pressure_over_danger_bar"]) > 0) is over


def test_total_rises_with_sugar() -> None:
    """More sugar, more gas, middle and upper; the upper is never below the middle."""
    basis = evidence_of(good()).basis
    assert basis is not None
    found = [total_vols(basis, vols, vols, 0.1) for vols in (0.0, 0.5, 1.0, 2.0, 4.0)]
    for (low, low_most), (high, high_most) in itertools.pairwise(found):
        assert high > low
        assert high_most > low_most
    assert all(upper >= middle for middle, upper in found)


def test_course_rises_and_ends_at_the_outlook() -> None:
    """Fast bound and middle rise with the days and end at what the outlook says."""
    evidence = evidence_of(bottled())
    look = evidence.outlook
    assert look is not None
    course = course_of(bottled())
    fast = [row.fast_bar for row in course.rows]
    middle = [row.middle_bar for row in course.rows if row.middle_bar is not None]
    assert fast == sorted(fast)
    assert middle == sorted(middle)
    (hottest,) = [point for point in look.pressures if point.place == "hottest"]
    (stored,) = [point for point in look.pressures if point.place == "storage"]
    assert fast[-1] == pytest.approx(hottest.upper_bar, abs=0.01)
    assert middle[-1] == pytest.approx(stored.middle_bar, abs=0.02)
    assert all(row.fast_bar >= (row.middle_bar or 0.0) for row in course.rows)


def test_priming_is_done_in_a_day_and_a_half_when_warm() -> None:
    """Physics notes, section 7: fast bound, all bottling sugar in 1.5 days at 20 C and above."""
    course = course_of(bottled(), datetime(2026, 3, 24, 12))
    warm = changed(bottled(), storage={"where": "cupboard", "temp": "22 C"})
    at_three = {row.days: row.fast_bar for row in course_of(warm).rows}
    assert at_three[3.0] == pytest.approx(at_three[270.0], abs=0.05)
    assert any(row.now and row.days == pytest.approx(2.0) for row in course.rows)


def test_days_of_the_course() -> None:
    """The fixed days are there, and the day of asking in place of one that is nearer than half."""
    at = datetime(2026, 4, 5, 18)
    days = [row.days for row in course_of(bottled(), at).rows]
    assert days == pytest.approx([0.0, 3.0, 7.0, 14.25, 21.0, 42.0, 90.0, 270.0])
    assert set(DAYS) - set(days) == {14.0}


def test_danger_day_is_the_first_over_the_limit() -> None:
    """Half a day before the named day the fast bound is under the limit, half a day after over."""
    strong = bottled(sugar="210 g table sugar")
    cool = changed(strong, storage={"where": "fridge", "temp": "8 C"})
    sweet = bottled(sugar="260 g table sugar")
    for doc in (strong, sweet, cool):
        course = course_of(doc)
        day = course.danger_after_days
        over = [row for row in course.rows if row.fast_bar >= course.danger_bar]
        assert (day is None) is (not over)
        if day is not None:
            assert all(row.days >= day - 0.01 for row in over)
            assert all(row.fast_bar < course.danger_bar for row in course.rows if row.days < day)


def test_more_sugar_is_never_later() -> None:
    """More sugar, the danger limit not later."""
    days = []
    for grams in (100, 180, 220, 300):
        day = course_of(bottled(sugar=f"{grams} g table sugar")).danger_after_days
        days.append(1e9 if day is None else day)
    assert days == sorted(days, reverse=True)
    assert days[-1] < 2


def test_contamination_takes_weeks_and_ends_high() -> None:
    """Before two weeks nothing of it is shown; after nine months it is the highest of all."""
    rows_ = course_of(bottled()).rows
    assert {row.contaminated_bar for row in rows_ if row.days < 14} == {None}
    later = [row.contaminated_bar for row in rows_ if row.contaminated_bar is not None]
    assert later == sorted(later)
    assert later[-1] > rows_[-1].fast_bar


@pytest.mark.parametrize(
    "doc",
    [bottled(sugar=None), bottled(sugar="table sugar"), bottled(volume=None), good()],
    ids=["no sugar", "no amount", "no volume", "not bottled"],
)
def test_no_numbers_without_sugar_and_volume(doc: Doc) -> None:
    """Where the gas cannot be worked out there is no course, rather than a guess."""
    if "volume" not in doc["log"][-1] and doc["log"][-1].get("did") == "bottled":
        doc = changed(doc, bottles__count=None)
    assert bottle_course(evidence_of(doc), work().knowledge) is None


def test_unknown_storage_names_its_assumption() -> None:
    """Without a storage temperature there is no middle, and the fast bound says what it assumed."""
    course = course_of(changed(bottled(), storage=None))
    assert all(row.middle_bar is None for row in course.rows)
    assert any("storage temperature not known" in text for text in course.assumed)
    assert course.fast_c == work().knowledge.constant("storage_max_unknown_c")


def test_curve_needs_three_readings_with_the_first() -> None:
    """With the reading at pitching and two more there is a curve, its band around the end."""
    batch = read(good())
    assert batch is not None
    found = gravity_fit(batch, evidence_of(good()), work().knowledge)
    assert found.fit is not None
    assert found.readings == 5
    assert found.fit.fg.low < 1.0112 < found.fit.fg.high
    few = changed(good(), log=good()["log"][:4])
    batch = read(few)
    assert batch is not None
    assert gravity_fit(batch, evidence_of(few), work().knowledge).fit is None
    without = changed(good(), log=good()["log"][1:])
    batch = read(without)
    assert batch is not None
    fit = gravity_fit(batch, evidence_of(without), work().knowledge)
    assert fit.fit is None
    assert fit.why_not


_LIMITS = [
    row for row in rows("max_volumes_by_class.csv") if row["t_C"] in ("20", "25", "30", "40")
]


@pytest.mark.parametrize("row", _LIMITS, ids=lambda row: f"{row['class_id']} {row['t_C']}")
def test_limits_of_the_bottle_table(row: dict[str, str]) -> None:
    """Source: max_volumes_by_class.csv (computed); ours are rounded down to a tenth."""
    (item,) = [item for item in bottle_classes(work().knowledge) if item.id == row["class_id"]]
    limits = dict(item.limit_vols)
    gap = float(row["vol_at_danger_with_air"]) - limits[float(row["t_C"])]
    assert -0.02 < gap < 0.13


def test_the_table_is_compared_at_all() -> None:
    """Every class of the check table is compared at four temperatures."""
    assert len(_LIMITS) == 4 * len({row["class_id"] for row in _LIMITS}) > 30


def test_a_spoon_neither_level_nor_heaped_may_be_heaped() -> None:
    """The middle takes it level, the upper bound heaped; a cup and a level spoon stay as told."""
    unsaid = _upper_of("1 tsp table sugar per bottle")
    assert unsaid == pytest.approx(_upper_of("1 heaped tsp table sugar per bottle"))
    assert unsaid > _upper_of("1 level tsp table sugar per bottle") + 1.0


def test_a_scale_errs_only_on_what_lay_on_it() -> None:
    """Three grams of drops are counted, not weighed: 1.5 g of a scale's error is not theirs."""
    drops = _upper_of("1 carbonation drop per bottle")
    assert drops < _upper_of("4 g table sugar per bottle")


def _upper_of(sugar: str) -> float:
    log = (
        "batch: a\nunits: metric\nyeast: {class: clean American ale, form: dry}\ntoday: 21\n"
        "wort: {volume: 20 l, expected_fg: 1.010}\n"
        f"plan: {{sugar: {sugar}, volume: 20 l, size: 500 ml, weighed: true}}\n"
        "log:\n  - {day: 0, gravity: 1.050, with: hydrometer}\n  - {day: 0, did: pitched}\n"
        "  - {day: 21, gravity: 1.010, with: hydrometer, sample: 20 C}\n"
    )
    return number(facts_of(log), "co2_upper_vols")


@pytest.mark.parametrize("kind", ["new longneck", "thin deposit bottle", "champagne bottles", ""])
@pytest.mark.parametrize("target", [1.8, 2.6, 3.4])
def test_dose_is_the_most_that_the_bottles_allow(
    kind: str, target: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is worked out in few steps is what a search through the whole range finds."""
    basis = evidence_of(changed(good(), bottles={"kind": kind} if kind else {})).basis
    assert basis is not None
    basis = replace(basis, target_vols=target, hottest_c=30.0)
    quick = sugar_table(basis, work().knowledge)
    asked = table_module._allowed_of

    def from_the_top(wanted: float, *rest: object) -> float:
        return min(wanted, asked(8.0, *rest))  # type: ignore[arg-type]

    monkeypatch.setattr(table_module, "_allowed_of", from_the_top)
    assert sugar_table(basis, work().knowledge) == quick
    assert quick is not None
    assert quick.rows


def _opened(sg: float) -> dict[str, object]:
    return {"at": "2026-04-20", "gravity": sg, "of": "opened bottle", "sample": "20 C"}


def test_an_opened_bottle_counts_in_the_gas() -> None:
    """What an opened bottle fermented besides its sugar is in the pressure of all the others."""
    later = datetime(2026, 4, 21)
    doc = bottled()
    plain = evidence_of(doc, later).facts
    small, large = (
        evidence_of({**doc, "log": [*doc["log"], _opened(sg)]}, later).facts
        for sg in (1.010, 1.005)
    )
    assert small["co2_expected_vols"] == plain["co2_expected_vols"]  # the sugar's own point
    fermented = number(large, "co2_expected_vols") - number(plain, "co2_expected_vols")
    assert fermented == pytest.approx(6 * 0.52, abs=0.2)
    assert number(large, "pressure_over_danger_bar") > number(plain, "pressure_over_danger_bar") + 3


@pytest.mark.parametrize("tail", [None, 0.5, 3.0, 9.0, 20.0])
@pytest.mark.parametrize("mean", [-2.0, 0.0, 4.0])
def test_an_opened_bottle_never_lowers_the_upper_bound(mean: float, tail: float | None) -> None:
    """A bottle that shows a fall takes a plateau away, but not what the plateau left open."""
    bench = SimpleNamespace(
        get=lambda _: 4.0, constant=lambda name: work().knowledge.constant(name)
    )
    left = PointsLeft(mean, 0.8, tail, 0.04)
    after = outlook._as_opened(cast(Bench, bench), left)
    assert after.mean >= 4.0
    assert after.mean + 1.645 * after.sigma >= max(mean + 1.645 * 0.8, tail or 0.0) - 0.01


@pytest.mark.parametrize(
    ("better", "worse"),
    [
        ({"stirred": "yes"}, {"stirred": None}),
        ({"stirred": None}, {"stirred": "no"}),
        ({"weighed": "yes"}, {"weighed": None}),
    ],
)
def test_what_is_not_said_of_the_sugar_makes_nothing_better(better: Doc, worse: Doc) -> None:
    """What is not said to be stirred or weighed raises the upper bound; what is denied, more."""
    less, more = (evidence_of(bottled(**details)).facts for details in (better, worse))
    assert number(more, "co2_upper_vols") > number(less, "co2_upper_vols") + 0.02
