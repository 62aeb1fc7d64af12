"""Checks of the sealed-bottle model against its tables, published cases and reference libraries."""

import math

import CoolProp.CoolProp as coolprop
import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.shared_tables import rows

from trubshoot.errors import OutOfRangeError
from trubshoot.physics import bottle, bottle_model
from trubshoot.physics.carbonation import chart_gauge_bar, co2_solubility_g_l_bar
from trubshoot.physics.gravity import water_density_kg_m3

PSI_BAR = (1 * pint.UnitRegistry().psi).to("bar").magnitude
SEALED = rows("sealed_bottle_pressure.csv")


@pytest.mark.parametrize("row", SEALED, ids=lambda r: f"{r['total_volumes']}-{r['t_C']}C")
def test_sealed_bottle_table(row):
    """Chart, sealed, sealed with air and upper bound reproduce the table within 0.001 bar."""
    vols, temp_c = float(row["total_volumes"]), float(row["t_C"])
    sealed = bottle.sealed_gauge_bar(vols, temp_c, 0.04, 0.0)
    assert sealed == pytest.approx(float(row["sealed_noair_bar"]), abs=1e-3)
    assert sealed / PSI_BAR == pytest.approx(float(row["sealed_noair_psi"]), abs=0.02)
    aired = bottle.sealed_gauge_bar(vols, temp_c, 0.04, 0.8)
    assert aired == pytest.approx(float(row["sealed_with_0.8bar_N2_bar"]), abs=1e-3)
    upper = bottle.upper_gauge_bar(vols, temp_c, 0.04)
    assert upper == pytest.approx(float(row["upper_bound_bar"]), abs=1e-3)
    chart = chart_gauge_bar(vols, temp_c)
    assert chart == pytest.approx(float(row["chart_H_best_bar"]), abs=2e-4)
    low = chart_gauge_bar(vols, temp_c, "low")
    assert low == pytest.approx(float(row["chart_H_cons_bar"]), abs=2e-4)
    assert sealed < aired < upper
    if 2 <= vols <= 6 and temp_c <= 40:
        assert aired <= chart + 0.6  # the simple rule stays on the safe side


OVERFILL = rows("overfill_headspace.csv")


@pytest.mark.parametrize(
    "row",
    OVERFILL,
    ids=lambda r: f"{r['headspace_pct_at_fill_20C']}%-{r['t_C']}C-{r['total_volumes']}",
)
def test_overfilled_bottle_table(row):
    """The neck left over, the liquid-full case and its pressure reproduce the table."""
    state = bottle.sealed_bottle(
        float(row["total_volumes"]),
        float(row["t_C"]),
        float(row["headspace_pct_at_fill_20C"]) / 100,
        swelling=True,
    )
    full = row["liquid_full"] == "yes"
    assert state.liquid_full is full
    expected = float(row["gauge_bar"])
    assert state.gauge_bar == pytest.approx(expected, abs=0.03 if full else 0.01)
    left = float(row["remaining_headspace_pct"])
    assert 100 * state.headspace_fraction == pytest.approx(left, abs=0.003)
    assert state.beyond_model is (state.gauge_bar > 15)


@pytest.mark.parametrize(("temp_c", "slope"), [(20, 2.1), (30, 3.2), (40, 4.2), (50, 5.3)])
def test_liquid_full_bottle_rises_by_bars_per_degree(temp_c, slope):
    """Without a cushion the pressure climbs by the bars per degree that expansion demands."""
    low = bottle.sealed_gauge_bar(2.5, temp_c - 0.5 - (temp_c == 50) * 0.5, 0.0, fill_temp_c=4)
    high = bottle.sealed_gauge_bar(2.5, min(temp_c + 0.5, 50), 0.0, fill_temp_c=4)
    assert high - low == pytest.approx(slope, abs=0.2)


MAXIMA = rows("max_volumes_by_class.csv")


@pytest.mark.parametrize("row", MAXIMA, ids=lambda r: f"{r['class_id']}-{r['t_C']}C")
def test_volumes_at_the_limits_of_each_class(row):
    """The volumes at which each bottle class reaches its limits reproduce the table."""
    temp_c, rating = float(row["t_C"]), float(row["design_rating_bar"])
    got = bottle.vols_at_gauge_bar(rating, temp_c, 0.04, 0.0)
    assert got == pytest.approx(float(row["max_vol_no_air"]), abs=0.011)
    got = bottle.vols_at_gauge_bar(rating, temp_c, swelling=True)
    assert got == pytest.approx(float(row["max_vol_with_air"]), abs=0.011)
    got = bottle.vols_at_gauge_bar(rating, temp_c, upper=True)
    assert got == pytest.approx(float(row["max_vol_upper_bound_model"]), abs=0.011)
    got = bottle.vols_at_gauge_bar(float(row["danger_bar"]), temp_c, swelling=True)
    assert got == pytest.approx(float(row["vol_at_danger_with_air"]), abs=0.011)


@pytest.mark.parametrize("row", rows("beer_expansion.csv"), ids=lambda r: r["t_C"])
def test_beer_expansion_table(row):
    """The expansion of beer matches the OIML R 22 values; glass and water columns fit too."""
    temp_c = float(row["t_C"])
    got = bottle_model.beer_expansion(temp_c)
    assert got == pytest.approx(float(row["expansion_vs_20C_beer"]), abs=6e-6)
    water = water_density_kg_m3(20) / water_density_kg_m3(temp_c) - 1
    assert water == pytest.approx(float(row["expansion_vs_20C_water"]), abs=1e-6)
    glass = bottle_model.GLASS_EXPANSION_PER_K * (temp_c - 20)
    assert glass == pytest.approx(float(row["glass_expansion_vs_20C"]), abs=1e-9)


@pytest.mark.parametrize(
    "column", ["rho_4C", "rho_10C", "rho_15C", "rho_25C", "rho_30C", "rho_40C"]
)
def test_beer_expansion_against_oiml_r22(column):
    """The expansion comes back from the standard's densities of 4 % ethanol in water."""
    row = next(r for r in rows("oiml_r22_density.csv") if r["ethanol_mass_fraction"] == "0.04")
    expected = float(row["rho_20C"]) / float(row[column]) - 1
    temp_c = float(column[4:-1])
    assert bottle_model.beer_expansion(temp_c) == pytest.approx(expected, abs=6e-6)


@pytest.mark.parametrize("temp_c", [4, 10, 20, 30, 40, 50])
def test_vapour_pressure_against_coolprop(temp_c):
    """The vapour pressure of water agrees with a reference library within 0.6 %."""
    expected = coolprop.PropsSI("P", "T", temp_c + 273.15, "Q", 0, "Water") / 1e5
    assert bottle_model.vapour_pressure_bar(temp_c) == pytest.approx(expected, rel=0.006)


@pytest.mark.parametrize("temp_c", [4, 10, 20, 30, 40, 50])
@pytest.mark.parametrize("co2_bar", [1, 2, 3, 4, 6, 8, 10])
def test_compressibility_and_density_against_coolprop(temp_c, co2_bar):
    """Z and the density of CO2 agree with a reference library up to 10 bar."""
    kelvin = temp_c + 273.15
    z = bottle_model.co2_compressibility(co2_bar, temp_c)
    expected = coolprop.PropsSI("Z", "T", kelvin, "P", co2_bar * 1e5, "CO2")
    assert z == pytest.approx(expected, abs=0.0025)
    density = bottle_model.gas_g_l_bar(temp_c) * co2_bar / z
    expected = coolprop.PropsSI("D", "T", kelvin, "P", co2_bar * 1e5, "CO2")
    assert density == pytest.approx(expected, rel=0.003)


def test_compressibility_against_the_table():
    """The table of reference-library values gives the same Z."""
    found = 0
    for row in rows("reference_libs.csv"):
        words = row["quantity"].split()
        if words[:2] == ["CO2", "Z"]:
            got = bottle_model.co2_compressibility(float(words[4]), float(words[2]))
            assert got == pytest.approx(float(row["value"]), abs=0.0025)
            found += 1
    assert found == 16


def test_parts_of_the_worked_example():
    """The worked example comes out part by part: partial pressure, gas space, sum."""
    state = bottle.sealed_bottle(3.0, 20.0, 0.04, 0.0)
    assert state.co2_bar == pytest.approx(3.469, abs=1e-3)
    assert state.headspace_fraction == pytest.approx(0.0402, abs=1e-4)
    assert state.vapour_bar == pytest.approx(0.0226, abs=1e-3)
    total = state.co2_bar + state.nitrogen_bar + state.vapour_bar - 1.01325
    assert total == pytest.approx(state.gauge_bar, abs=1e-6)


@given(st.floats(0.5, 8), st.floats(0, 50), st.floats(0.02, 0.3), st.floats(0, 1))
def test_mass_of_gas_is_kept(vols, temp_c, headspace, nitrogen):
    """CO2 in the beer and in the neck together is what was put in."""
    state = bottle.sealed_bottle(vols, temp_c, headspace, nitrogen)
    grown = (1 + bottle_model.beer_expansion(temp_c)) / (1 + bottle_model.beer_expansion(20))
    solubility = bottle.co2_solubility_g_l_bar(temp_c)
    in_beer = solubility * state.co2_bar * (1 - headspace) * grown
    z = 1 + bottle_model.virial_per_bar(temp_c) * state.co2_bar
    in_neck = state.co2_bar * 1e5 * state.headspace_fraction * 0.0440095
    in_neck /= 8.314463 * (temp_c + 273.15) * z
    assert in_beer + in_neck == pytest.approx(1.977 * vols * (1 - headspace), rel=1e-6)


def test_published_growler_case():
    """A brewers' association sheet gives 29 psi at 68 F for a jug 99 % full, 2.5 volumes."""
    gauge = bottle.sealed_gauge_bar(2.5, 20, 0.01, 0.0, fill_temp_c=3.33)
    assert gauge / PSI_BAR == pytest.approx(29.0, abs=0.5)
    # at 90 F it prints 52 psi: between the purged model and the upper bound
    purged = bottle.sealed_gauge_bar(2.5, 32.22, 0.01, 0.0, fill_temp_c=3.33)
    assert purged / PSI_BAR < 52 < bottle.upper_gauge_bar(2.5, 32.22, 0.01, 3.33) / PSI_BAR


def test_still_drink_in_an_overfilled_bottle():
    """A still drink near 40 C cracked overfilled bottles: the model shows them liquid-full."""
    assert bottle.sealed_bottle(0.8, 40, 0.0, 0.8, swelling=True).liquid_full
    assert bottle.sealed_gauge_bar(0.8, 40, 0.002) > 4 * bottle.sealed_gauge_bar(0.8, 40, 0.04)


@pytest.mark.parametrize(
    ("vols", "lost", "after"), [(2.5, 0.07, 1.82), (3, 0.095, 2.37), (4, 0.14, 3.47)]
)
def test_one_quick_venting_is_no_repair(vols, lost, after):
    """Opening once at 20 C takes about a tenth of a volume and a tenth of a bar."""
    left = bottle.vols_after_venting(vols, 20)
    assert vols - left == pytest.approx(lost, abs=0.008)
    assert bottle.sealed_gauge_bar(left, 20, 0.04, 0.0) == pytest.approx(after, abs=0.01)
    assert 0.03 <= vols - bottle.vols_after_venting(vols, 4) <= 0.08


VOLS = st.floats(0.5, 8.0)
TEMPS = st.floats(0.0, 49.0)
SPACE = st.floats(0.03, 0.10)


@given(VOLS, TEMPS, SPACE, st.floats(0, 0.9))
def test_pressure_rises_with_gas_warmth_and_air(vols, temp_c, space, nitrogen):
    """More gas, more warmth or more trapped air always means more pressure."""
    here = bottle.sealed_gauge_bar(vols, temp_c, space, nitrogen)
    assert bottle.sealed_gauge_bar(vols + 0.2, temp_c, space, nitrogen) > here
    assert bottle.sealed_gauge_bar(vols, temp_c + 0.5, space, nitrogen) > here
    assert bottle.sealed_gauge_bar(vols, temp_c, space, nitrogen + 0.1) > here


@given(VOLS, TEMPS, SPACE)
def test_upper_bound_lies_above(vols, temp_c, space):
    """The upper bound lies above the even-handed figure, and lower solubility above higher."""
    here = bottle.sealed_gauge_bar(vols, temp_c, space)
    assert bottle.upper_gauge_bar(vols, temp_c, space, residual_vols=0.5) > here
    assert bottle.sealed_bottle(vols, temp_c, space, kind="low").gauge_bar > here


@given(st.floats(1.5, 6.0), TEMPS, st.floats(0.0151, 0.10))
def test_a_larger_neck_lowers_the_pressure_without_air(vols, temp_c, space):
    """Above 1.5 % headspace a larger neck filled with CO2 lowers the pressure."""
    here = bottle.sealed_gauge_bar(vols, temp_c, space, 0.0)
    assert bottle.sealed_gauge_bar(vols, temp_c, space + 0.01, 0.0) < here


@given(st.floats(0.5, 14.5), TEMPS, SPACE, st.booleans())
@settings(max_examples=40)
def test_inverse_round_trip(limit, temp_c, space, upper):
    """The volumes at a pressure give that pressure, and never more."""
    try:
        vols = bottle.vols_at_gauge_bar(limit, temp_c, space, upper=upper)
    except OutOfRangeError:
        highest = bottle.sealed_gauge_bar(20, temp_c, space)
        assert highest < limit
        return
    if vols == 0.0:
        return
    forward = bottle.upper_gauge_bar if upper else bottle.sealed_gauge_bar
    assert forward(vols, temp_c, space) == pytest.approx(limit, abs=1e-6)


@pytest.mark.parametrize("kind", ["best", "low"])
@pytest.mark.parametrize("dissolves", [True, False])
def test_many_equals_one(kind, dissolves):
    """The array function gives what the single function gives, liquid-full cases included."""
    draw = np.random.default_rng(3)
    vols, temps = draw.uniform(0, 12, 120), draw.uniform(0, 50, 120)
    spaces, nitrogen = draw.uniform(0, 0.08, 120), draw.uniform(0, 1, 120)
    options = {"kind": kind, "nitrogen_dissolves": dissolves, "swelling": not dissolves}
    one = [
        bottle.sealed_bottle(v, t, h, n, **options).gauge_bar
        for v, t, h, n in zip(vols, temps, spaces, nitrogen, strict=True)
    ]
    got = bottle.sealed_gauge_bar_many(vols, temps, spaces, nitrogen, **options)
    np.testing.assert_allclose(got, one, atol=1e-6)


def test_many_broadcasts():
    """One temperature serves many volumes and the other way round."""
    assert bottle.sealed_gauge_bar_many([2.0, 3.0], 20.0).shape == (2,)
    assert bottle.sealed_gauge_bar_many(2.0, [4.0, 20.0, 30.0]).shape == (3,)
    assert float(bottle.sealed_gauge_bar_many(3.0, 20.0)) == pytest.approx(3.046, abs=1e-3)


def test_limit_reached_by_flat_beer():
    """An overfilled warm bottle reaches a low limit with no CO2 at all: the answer is none."""
    assert bottle.vols_at_gauge_bar(0.35, 40, 0.0) == 0.0


@pytest.mark.parametrize(
    ("function", "arguments"),
    [
        (bottle.sealed_bottle, (-0.1, 20)),
        (bottle.sealed_bottle, (20.1, 20)),
        (bottle.sealed_bottle, (3, -0.1)),
        (bottle.sealed_bottle, (3, 50.1)),
        (bottle.sealed_bottle, (3, 20, -0.01)),
        (bottle.sealed_bottle, (3, 20, 0.51)),
        (bottle.sealed_bottle, (3, 20, 0.04, -0.1)),
        (bottle.sealed_bottle, (3, 20, 0.04, 1.1)),
        (bottle.sealed_bottle, (math.nan, 20)),
        (bottle.sealed_bottle, (3, math.nan)),
        (bottle.sealed_gauge_bar, (3, 20, 0.04, 0.8, 51)),
        (bottle.upper_gauge_bar, (3, 20, 0.04, -1)),
        (bottle.upper_gauge_bar, (3, 20, 0.04, 20, 3.1)),
        (bottle.sealed_gauge_bar_many, ([3, 21], 20)),
        (bottle.sealed_gauge_bar_many, (3, [20, 51])),
        (bottle.sealed_gauge_bar_many, ([3, math.nan], 20)),
        (bottle.vols_at_gauge_bar, (-0.1, 20)),
        (bottle.vols_at_gauge_bar, (15.1, 20)),
        (bottle.vols_at_gauge_bar, (15, 0, 0.3, 0.0)),
        (bottle.vols_after_venting, (21, 20)),
        (bottle_model.vapour_pressure_bar, (-0.1,)),
        (bottle_model.vapour_pressure_bar, (60.1,)),
        (bottle_model.beer_expansion, (-0.1,)),
        (bottle_model.beer_expansion, (60.1,)),
        (bottle_model.co2_compressibility, (-0.1, 20)),
        (bottle_model.co2_compressibility, (16.1, 20)),
        (bottle_model.co2_compressibility, (5, 50.1)),
    ],
)
def test_out_of_range_is_refused(function, arguments):
    """Outside its range, and for a value that is no number, a formula refuses to answer."""
    with pytest.raises(OutOfRangeError):
        function(*arguments)


@settings(max_examples=300)
@given(
    vols=st.floats(0, 20),
    temp=st.floats(0, 50),
    headspace=st.sampled_from([0.0, 0.0005, 0.002, 0.01, 0.04, 0.1, 0.5]),
    nitrogen=st.sampled_from([0.0, 0.8]),
    swelling=st.booleans(),
)
def test_balance_is_where_plain_halving_finds_it(vols, temp, headspace, nitrogen, swelling):
    """The quick search ends where halving the whole range ends, and not below it."""
    found = bottle.sealed_bottle(vols, temp, headspace, nitrogen, swelling=swelling)
    balance = bottle_model.Balance(
        vols,
        temp,
        headspace,
        nitrogen,
        20.0,
        co2_solubility_g_l_bar(temp),
        bottle_model.vapour_kernel(temp, math.exp),
        bottle_model.nitrogen_kernel(temp, math.exp),
        bottle.SWELLING_PER_VOLUME * max(vols - bottle.RESIDUAL_AT_FILLING_VOLS, 0) * swelling,
    )
    low, high = -1.01325, 1000.0
    for _ in range(80):
        middle = 0.5 * (low + high)
        gas = balance.gas_space(middle)
        if gas <= 0 or balance.pressure_over(gas, math.sqrt) > middle:
            low = middle
        else:
            high = middle
    assert found.gauge_bar == pytest.approx(high, abs=2e-11)
