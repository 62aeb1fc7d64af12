"""Checks of the CO2 formulas against published charts, tables and reference libraries."""

import math

import CoolProp.CoolProp as coolprop
import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws._iapws import _Henry
from tests.shared_tables import rows

from trubshoot.errors import OutOfRangeError
from trubshoot.physics import carbonation
from trubshoot.physics.gravity import water_density_kg_m3

UNITS = pint.UnitRegistry()
PSI_BAR = (1 * UNITS.psi).to("bar").magnitude
CHART = rows("co2_chart_points.csv")
TRADE_CHART = [row for row in CHART if "Miller" in row["source"]]
POLYNOMIAL_CHART = [row for row in CHART if "Miller" not in row["source"]]


def quadratic_chart_bar(vols, temp_c):
    """Return the widespread chart polynomial, kept here only to show that it is not used."""
    f = temp_c * 9 / 5 + 32
    psi = -16.6999 - 0.0101059 * f + 0.00116512 * f**2
    psi += 0.173354 * f * vols + 4.24267 * vols - 0.0684226 * vols**2
    return psi * PSI_BAR


def test_the_chart_is_complete():
    """All 292 published points and the 39 of the polynomial are read."""
    assert (len(TRADE_CHART), len(POLYNOMIAL_CHART)) == (292, 39)


@pytest.mark.parametrize("row", TRADE_CHART, ids=lambda r: f"{r['t_F']}F-{r['psi_gauge']}psi")
def test_trade_chart_point(row):
    """Each published point of the trade chart comes out within 0.05 volumes."""
    temp_c = UNITS.Quantity(float(row["t_F"]), "degF").to("degC").magnitude
    gauge = float(row["psi_gauge"]) * PSI_BAR
    vols = carbonation.equilibrium_vols(gauge, temp_c)
    assert vols == pytest.approx(float(row["volumes_published"]), abs=0.05)
    assert vols == pytest.approx(float(row["volumes_H_best(computed)"]), abs=5e-4)


def test_trade_chart_mean_difference():
    """Over the whole chart the mean distance is 0.011 volumes and there is no tilt."""
    off = np.array(
        [
            carbonation.equilibrium_vols(float(r["psi_gauge"]) * PSI_BAR, float(r["t_C"]))
            - float(r["volumes_published"])
            for r in TRADE_CHART
        ]
    )
    assert np.abs(off).mean() < 0.013
    assert abs(off.mean()) < 0.01


def test_quadratic_polynomial_reads_low_where_it_hurts():
    """The widespread polynomial under-reads warm and strong cases by bars and is not used."""
    for vols, temp_c, least in ((3, 26.667, 0.15), (4, 40, 1.0), (6, 40, 2.0)):
        gap = carbonation.chart_gauge_bar(vols, temp_c) - quadratic_chart_bar(vols, temp_c)
        assert gap > least
    assert quadratic_chart_bar(4, 40) / PSI_BAR == pytest.approx(82.8, abs=0.1)
    assert carbonation.chart_gauge_bar(4, 40) / PSI_BAR == pytest.approx(99.6, abs=0.1)
    # inside its own range (32-60 F, 1.5-3.5 volumes) it agrees, so the comparison is a fair one
    assert quadratic_chart_bar(2.5, 5) == pytest.approx(
        carbonation.chart_gauge_bar(2.5, 5), abs=0.05
    )


def test_quadratic_is_the_polynomial_of_the_published_table():
    """The polynomial in this file is the one behind the table that must not be used."""
    for row in rows("sealed_bottle_pressure.csv"):
        got = quadratic_chart_bar(float(row["total_volumes"]), float(row["t_C"]))
        expected = float(row["quadratic_chart_polynomial_bar(do_not_use)"])
        assert got == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("row", POLYNOMIAL_CHART, ids=lambda r: f"{r['t_F']}F-{r['psi_gauge']}")
def test_polynomial_chart_inside_its_range(row):
    """Where the polynomial is valid, its published points agree too; warm ones read low."""
    vols = float(row["volumes_published"])
    gauge = carbonation.chart_gauge_bar(vols, float(row["t_C"]))
    if 32 <= float(row["t_F"]) <= 60 and 1.5 <= vols <= 3.5:
        assert gauge == pytest.approx(float(row["bar_gauge"]), abs=0.12)
    else:
        assert gauge > float(row["bar_gauge"]) - 0.03


@pytest.mark.parametrize(
    "row", rows("co2_g_per_L_table.csv"), ids=lambda r: f"{r['t_C']}C-{r['bar_gauge']}"
)
def test_g_per_litre_table(row):
    """A published table in g/L agrees within its rounding and the spread of solubility figures."""
    temp_c, gauge = float(row["t_C"]), float(row["bar_gauge"])
    got = carbonation.co2_g_l_from_vols(carbonation.equilibrium_vols(gauge, temp_c))
    assert got == pytest.approx(float(row["g_per_L_H_best(computed)"]), abs=2e-3)
    assert got == pytest.approx(float(row["g_per_L_published"]), abs=0.15)
    van_t_hoff = carbonation.equilibrium_vols(gauge, temp_c, "low") * 1.977 / 0.97
    assert van_t_hoff == pytest.approx(float(row["g_per_L_vanthoff(computed)"]), abs=3e-3)


@pytest.mark.parametrize("row", rows("henry_co2.csv"), ids=lambda r: r["t_C"])
def test_solubility_table(row):
    """Both solubilities reproduce the table and keep to the published beer figures."""
    temp_c = float(row["t_C"])
    best = carbonation.co2_solubility_g_l_bar(temp_c)
    low = carbonation.co2_solubility_g_l_bar(temp_c, "low")
    assert best == pytest.approx(float(row["beer_H_best"]), rel=2e-5)
    assert low == pytest.approx(float(row["beer_H_cons"]), rel=2e-5)
    assert best == pytest.approx(0.97 * float(row["water_IAPWS_g_L_bar"]), rel=8e-4)
    assert low < best


@pytest.mark.parametrize("temp_c", [2, 5, 10, 15, 20, 25, 30, 40, 50, 60])
def test_solubility_against_iapws(temp_c):
    """The fit stays within 0.08 % of the IAPWS guideline for CO2 in water."""
    henry_mpa = _Henry(temp_c + 273.15, "CO2")
    density = 983.196 if temp_c == 60 else water_density_kg_m3(temp_c)
    water = density / 18.01528e-3 / (10 * henry_mpa) * 0.0440095
    assert carbonation.co2_solubility_g_l_bar(temp_c) / 0.97 == pytest.approx(water, rel=8e-4)


def test_solubility_against_measured_beer_and_champagne():
    """Measured lager and champagne figures lie below, within the stated share of water."""
    lager = carbonation.co2_solubility_g_l_bar(6)
    assert pytest.approx(lager, rel=0.06) == 2.4
    champagne = carbonation.co2_solubility_g_l_bar(10, strong_beer=True)
    assert pytest.approx(champagne, rel=0.03) == 2.1
    assert champagne < carbonation.co2_solubility_g_l_bar(10)


def test_one_volume_is_the_real_gas():
    """One volume is the density of real CO2 at 0 C and one atmosphere, not of an ideal gas."""
    real = coolprop.PropsSI("D", "T", 273.15, "P", 101325, "CO2")
    assert pytest.approx(real, abs=3e-4) == carbonation.CO2_G_L_PER_VOLUME
    assert abs(carbonation.CO2_G_L_PER_VOLUME - 1.96349) > 0.01


@pytest.mark.parametrize(
    "row",
    [row for row in rows("co2_misc_points.csv") if row["volumes"] and row["published"]],
    ids=lambda r: r["case"],
)
def test_scattered_published_points(row):
    """Scattered published points agree as far as the chapter says they do."""
    got = carbonation.chart_gauge_bar(float(row["volumes"]), float(row["t_C"]))
    name = "this_dossier_H_best_bar_gauge_or_g_L_bar(computed)"
    assert got == pytest.approx(float(row[name]), abs=0.007)


def test_published_pressures_from_instrumented_bottles():
    """4.6 g/L at 18 C is reported as 1.62 bar gauge."""
    vols = carbonation.co2_vols_from_g_l(4.6)
    assert carbonation.chart_gauge_bar(vols, 18) == pytest.approx(1.62, abs=0.04)
    assert carbonation.chart_gauge_bar(3, 0) == pytest.approx(0.883, abs=0.01)


@pytest.mark.parametrize(
    "row",
    rows("residual_co2.csv"),
    ids=lambda r: f"{r['t_C_highest_after_fermentation']}-{r['basis']}",
)
def test_residual_table(row):
    """The residual agrees with the sources and its upper value lies above every one of them."""
    temp_c = float(row["t_C_highest_after_fermentation"])
    value = float(row["residual_volumes"])
    got = carbonation.residual_vols(temp_c)
    assert got == pytest.approx(value, abs=1e-5 if row["basis"] == "computed" else 0.12)
    assert carbonation.residual_vols_upper(temp_c, supersaturation_vols=0.0) >= value


def test_residual_under_pressure():
    """Beer fermented under one bar holds what a balance with two bar of CO2 gives."""
    got = carbonation.residual_vols(20, 1.0)
    assert got == pytest.approx(carbonation.equilibrium_vols(1.0, 20), rel=1e-9)


TEMPS = st.floats(-1.5, 59.0)
VOLS = st.floats(0.0, 20.0)


@given(st.floats(0.0, 12.0), TEMPS, st.sampled_from(["best", "low"]))
def test_chart_round_trip(gauge, temp_c, kind):
    """Pressure to volumes and back gives the pressure."""
    vols = carbonation.equilibrium_vols(gauge, temp_c, kind)
    if vols <= 20:
        assert carbonation.chart_gauge_bar(vols, temp_c, kind) == pytest.approx(gauge, abs=1e-9)


@given(VOLS)
def test_volumes_round_trip(vols):
    """Volumes to grams per litre and back gives the volumes."""
    back = carbonation.co2_vols_from_g_l(carbonation.co2_g_l_from_vols(vols))
    assert back == pytest.approx(vols, abs=1e-12)


@given(TEMPS, st.floats(0.1, 19.0))
def test_pressure_rises_with_gas_and_warmth(temp_c, vols):
    """The chart pressure rises with the volumes and with the temperature."""
    here = carbonation.chart_gauge_bar(vols, temp_c)
    assert carbonation.chart_gauge_bar(vols + 0.5, temp_c) > here
    assert carbonation.chart_gauge_bar(vols, temp_c + 1.0) > here
    assert carbonation.chart_gauge_bar(vols, temp_c, "low") > here


def test_many_equals_one():
    """The array functions give what the single functions give."""
    temps = np.linspace(-1.5, 60, 40)
    vols = np.linspace(0, 20, 40)
    for kind in ("best", "low"):
        one = [carbonation.co2_solubility_g_l_bar(t, kind) for t in temps]
        np.testing.assert_allclose(carbonation.co2_solubility_many(temps, kind), one, rtol=1e-12)
        one = [carbonation.chart_gauge_bar(v, t, kind) for v, t in zip(vols, temps, strict=True)]
        got = carbonation.chart_gauge_bar_many(vols, temps, kind)
        np.testing.assert_allclose(got, one, rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize(
    ("function", "arguments"),
    [
        (carbonation.co2_solubility_g_l_bar, (-1.51,)),
        (carbonation.co2_solubility_g_l_bar, (60.1,)),
        (carbonation.co2_solubility_g_l_bar, (math.nan,)),
        (carbonation.co2_solubility_many, ([20, 61],)),
        (carbonation.co2_solubility_many, ([20, math.nan],)),
        (carbonation.co2_g_l_from_vols, (-0.01,)),
        (carbonation.co2_g_l_from_vols, (20.01,)),
        (carbonation.co2_vols_from_g_l, (-0.01,)),
        (carbonation.co2_vols_from_g_l, (40.0,)),
        (carbonation.chart_gauge_bar, (-0.1, 20)),
        (carbonation.chart_gauge_bar, (20.1, 20)),
        (carbonation.chart_gauge_bar, (3, 61)),
        (carbonation.chart_gauge_bar_many, ([3, -1], 20)),
        (carbonation.equilibrium_vols, (-1.02, 20)),
        (carbonation.equilibrium_vols, (12.1, 20)),
        (carbonation.residual_vols, (45.1,)),
        (carbonation.residual_vols, (-1.6,)),
        (carbonation.residual_vols, (20, -0.1)),
        (carbonation.residual_vols, (20, 3.1)),
        (carbonation.residual_vols_upper, (20, 0.0, 0.31)),
        (carbonation.residual_vols_upper, (20, 0.0, -0.01)),
    ],
)
def test_out_of_range_is_refused(function, arguments):
    """Outside its range, and for a value that is no number, a formula refuses to answer."""
    with pytest.raises(OutOfRangeError):
        function(*arguments)
