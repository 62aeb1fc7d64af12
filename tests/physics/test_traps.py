"""The known traps of the trade and the shortest vectors: one test for each."""

import inspect
import math

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.shared_tables import rows

from trubshoot.errors import OutOfRangeError
from trubshoot.physics import (
    bottle,
    bottle_strength,
    carbonation,
    gravity,
    kinetics,
    sugar,
)

UNITS = pint.UnitRegistry()
SUCROSE = sugar.stoichiometric_yield_g_g(2, sugar.SUCROSE_G_MOL)
GLUCOSE = sugar.stoichiometric_yield_g_g(1, sugar.GLUCOSE_G_MOL)
MONOHYDRATE = sugar.stoichiometric_yield_g_g(1, sugar.GLUCOSE_G_MOL + 18.01528)


def test_trap_01_gauge_and_absolute_pressure():
    """2.5 volumes at 20 C are 2.0 bar gauge, 3.0 absolute, 29 psi gauge: gauge is returned."""
    gauge = UNITS.Quantity(carbonation.chart_gauge_bar(2.5, 20), "bar")
    absolute = gauge + UNITS.Quantity(1, "atm").to("bar")
    assert gauge.magnitude == pytest.approx(2.0, abs=0.02)
    assert absolute.magnitude == pytest.approx(3.0, abs=0.03)
    assert gauge.to("psi").magnitude == pytest.approx(29, abs=0.3)


def test_trap_02_fahrenheit_and_celsius():
    """68 F is 20 C; a temperature above 50 C, such as a figure in F, is refused."""
    celsius = UNITS.Quantity(68, "degF").to("degC").magnitude
    assert bottle.sealed_gauge_bar(3, celsius, 0.04, 0.0) == pytest.approx(2.478, abs=1e-3)
    for mistaken in (68, 80.1, 104):
        with pytest.raises(OutOfRangeError):
            bottle.sealed_gauge_bar(3, mistaken)


def test_trap_03_us_and_imperial_gallon():
    """Five gallons mean 20 % more or less sugar per litre, and the volume is asked in litres."""
    us, imperial = (
        UNITS.Quantity(5, name).to("litre").magnitude
        for name in ("US_liquid_gallon", "imperial_gallon")
    )
    in_us, in_imperial = (sugar.vols_from_sugar(130, v, SUCROSE) for v in (us, imperial))
    assert in_us / in_imperial == pytest.approx(1.20, abs=0.002)


def test_trap_04_grams_per_litre_and_volumes():
    """A volume is 1.977 g/L; a figure in g/L read as volumes would double the pressure."""
    assert carbonation.co2_vols_from_g_l(5.0) == pytest.approx(5.0 / 1.977)
    right = carbonation.chart_gauge_bar(carbonation.co2_vols_from_g_l(5.0), 20)
    assert carbonation.chart_gauge_bar(5.0, 20) > 2 * right


def test_trap_05_added_point_and_falling_point():
    """A point of added sugar gives 0.67 volumes, a point of apparent fall 0.52 to 0.57."""
    assert sugar.vols_from_added_points(1) == 0.67
    per_gram = sugar.vols_from_sugar(1 / gravity.SUCROSE_POINTS_PER_G_L, 1.0, SUCROSE)
    assert per_gram == pytest.approx(0.673, abs=1e-3)
    assert sugar.vols_from_points_left(1) == 0.52
    with pytest.raises(OutOfRangeError):
        sugar.vols_from_points_left(1, sugar.VOLS_PER_ADDED_POINT)


def test_trap_06_quadratic_chart():
    """Beyond 60 F and 3.5 volumes the pressure is the physical one, above the polynomial's."""
    warm = UNITS.Quantity(carbonation.chart_gauge_bar(3, 26.667), "bar").to("psi").magnitude
    assert 46 <= warm <= 49  # the published polynomial prints 43.7
    hot = UNITS.Quantity(carbonation.chart_gauge_bar(6, 40), "bar").to("psi").magnitude
    assert hot == pytest.approx(157, abs=0.5)  # and 126 here


def test_trap_07_misprinted_cubic():
    """The cubic gives zero for water, not the three degrees of the misprinted copy."""
    assert gravity.plato_from_sg(1.0) == pytest.approx(-0.003, abs=1e-6)
    misprint = -616.868 + 1114.14 - 630.272 + 135.977
    assert misprint == pytest.approx(3, abs=0.05)


def test_trap_08_unsigned_temperature_table():
    """Below the temperature of the scale the correction is subtracted, whatever is printed."""
    table = [r for r in rows("hydrometer_temp_correction.csv") if r["hydrometer_ref_C"] == "15"]
    cold = [r for r in table if float(r["sample_C"]) < 14]
    assert len(cold) == 14
    for row in cold:
        assert gravity.hydrometer_corrected_sg(1.040, float(row["sample_C"]), 15) < 1.040
    assert gravity.hydrometer_corrected_sg(1.012, 10, 15) == pytest.approx(1.0115, abs=2e-4)


def test_trap_09_older_refractometer_relation():
    """The regressions used lie above the older relation, which reads points too low."""
    for row in rows("refractometer_fg.csv"):
        first, present = float(row["brix_initial_corrected"]), float(row["brix_final_corrected"])
        older = float(row["fg_older_standard"])
        assert gravity.refractometer_final_sg(first, present) > older + 0.0014
        assert gravity.refractometer_final_sg(first, present, "cubic") > older + 0.002


def test_trap_10_residual_of_a_beer_that_finished_cold():
    """Crediting 20 C for a beer that ended at 4 C hides more than half a volume."""
    hidden = carbonation.residual_vols(4) - carbonation.residual_vols(20)
    assert hidden > 0.5
    assert carbonation.residual_vols_upper(4) > carbonation.residual_vols_upper(20) + 0.5


def test_trap_11_monohydrate_and_anhydrous_glucose():
    """Corn sugar with its water gives 9 % less gas; the unknown kind counts as the stronger."""
    assert pytest.approx(0.909, abs=1e-3) == MONOHYDRATE / GLUCOSE
    table = {r["sugar"]: r for r in rows("sugar_co2_yield.csv")}
    unknown = table["unknown dextrose (treat as anhydrous for safety)"]
    assert float(unknown["g_CO2_per_g_high_use_for_safety"]) == pytest.approx(GLUCOSE, abs=1e-4)


def test_trap_12_volume_actually_bottled():
    """Sugar weighed for 20 L but bottled in 19 L gives 2.66 instead of 2.57 volumes."""
    assert 0.88 + sugar.vols_from_sugar(130, 20, SUCROSE) == pytest.approx(2.57, abs=5e-3)
    assert 0.88 + sugar.vols_from_sugar(130, 19, SUCROSE) == pytest.approx(2.66, abs=5e-3)
    assert sugar.vols_from_sugar(130, 15, SUCROSE) / sugar.vols_from_sugar(
        130, 23, SUCROSE
    ) == pytest.approx(1.53, abs=0.01)


def test_trap_13_final_gravity_below_one():
    """A beer at 0.994 is legal and has an extract, an attenuation and an alcohol."""
    assert gravity.apparent_extract_plato(0.994) == pytest.approx(-1.56, abs=0.03)
    assert gravity.apparent_attenuation(1.050, 0.994) == pytest.approx(1.12)
    assert 7 < gravity.alcohol_by_volume_pct(1.050, 0.994) < 8
    kinetics.gravity_slope([0, 3], [0.998, 0.994])


@pytest.mark.parametrize("wrong", [1012, 12, 1.12 * 1000, 3.1, 0.12])
def test_trap_14_gravity_in_another_notation(wrong):
    """A gravity written as 1012 or as Plato is refused, never computed with."""
    for function in (gravity.plato_from_sg, gravity.apparent_extract_plato):
        with pytest.raises(OutOfRangeError):
            function(wrong)
    with pytest.raises(OutOfRangeError):
        gravity.hydrometer_corrected_sg(wrong, 20, 20)
    with pytest.raises(OutOfRangeError):
        kinetics.gravity_slope([0, 3], [wrong, wrong])


def test_trap_15_readings_less_than_a_day_apart():
    """Two equal readings half a day apart exclude nothing of use; a week apart they do."""
    near = kinetics.gravity_slope([0, 0.5], [1.012, 1.012])
    assert near.span_days < 1
    assert near.fall_not_excluded > 4
    far = kinetics.gravity_slope([0, 7], [1.012, 1.012])
    assert far.fall_not_excluded < 0.4


def test_trap_16_bias_of_the_hydrometer():
    """A bias leaves the slope alone but shifts the points left, downwards in the dangerous case."""
    readings = [1.018, 1.018]
    low = [sg - 0.006 for sg in readings]  # 0.994 in water
    assert kinetics.gravity_slope([0, 5], low).points_per_day == pytest.approx(0, abs=1e-9)
    seen = sugar.vols_from_points_left(1000 * (low[0] - 1.010))
    true = sugar.vols_from_points_left(1000 * (readings[0] - 1.010))
    assert true - seen == pytest.approx(6 * 0.52)  # three volumes hidden


@given(st.floats(1, 7.5), st.floats(0, 49), st.floats(0.016, 0.08), st.floats(0, 0.9))
def test_trap_17_monotony(vols, temp_c, space, nitrogen):
    """Pressure rises with gas, warmth and air; N95 is not below N50; any-of-n is not below p."""
    here = bottle.sealed_gauge_bar(vols, temp_c, space, nitrogen)
    assert bottle.sealed_gauge_bar(vols + 0.3, temp_c, space, nitrogen) > here
    assert bottle.sealed_gauge_bar(vols, temp_c + 0.5, space, nitrogen) > here
    assert bottle.sealed_gauge_bar(vols, temp_c, space, nitrogen + 0.1) > here
    dry = bottle.sealed_gauge_bar(vols, temp_c, space, 0.0)
    assert bottle.sealed_gauge_bar(vols, temp_c, space + 0.01, 0.0) <= dry
    assert sugar.vols_spread(vols, 0.1, 1, 2) >= 0
    chance = bottle_strength.burst_probability(max(here, 0.0), 8, 6)
    assert bottle_strength.any_of(chance, 24) >= chance


@given(st.floats(1, 7), st.floats(0, 40))
def test_trap_18_missing_data_raise_the_upper_bound(vols, temp_c):
    """An unknown neck, or an unknown anything, never lowers the upper bound."""
    unknown = bottle.upper_gauge_bar(vols, temp_c)
    for space in (0.02, 0.03, 0.04, 0.06):
        assert unknown >= bottle.upper_gauge_bar(vols, temp_c, space)
    assert unknown > bottle.sealed_gauge_bar(vols, temp_c)
    assert unknown > carbonation.chart_gauge_bar(vols, temp_c)
    # unknown disturbance of the beer, unknown temperature below the one named
    assert carbonation.residual_vols_upper(temp_c * 0.8) > carbonation.residual_vols(temp_c * 0.8)
    # air in the neck is what is assumed when nothing is said
    default = inspect.signature(bottle.sealed_gauge_bar).parameters["nitrogen_bar"].default
    assert default == bottle.AIR_NITROGEN_BAR == 0.8


def test_vector_plato():
    """SG 1.050 is 12.388 P, and 12 P is 1.0484."""
    assert gravity.plato_from_sg(1.050) == pytest.approx(12.388, abs=0.02)
    assert gravity.sg_from_plato(12) == pytest.approx(1.0484, abs=1e-4)


def test_vector_solubility():
    """The four solubilities of the chapter."""
    assert carbonation.co2_solubility_g_l_bar(20) == pytest.approx(1.6328, abs=5e-5)
    assert carbonation.co2_solubility_g_l_bar(4) == pytest.approx(2.6981, abs=5e-5)
    assert carbonation.co2_solubility_g_l_bar(40) == pytest.approx(1.0039, abs=5e-5)
    assert carbonation.co2_solubility_g_l_bar(30, "low") == pytest.approx(1.1826, abs=6e-5)


def test_vector_three_volumes():
    """3 volumes at 20 C: chart 2.619, sealed 2.478, with air 3.046 bar."""
    assert carbonation.chart_gauge_bar(3, 20) == pytest.approx(2.619, abs=0.01)
    assert bottle.sealed_gauge_bar(3, 20, 0.04, 0.0) == pytest.approx(2.478, abs=0.01)
    assert bottle.sealed_gauge_bar(3, 20, 0.04, 0.8) == pytest.approx(3.046, abs=0.01)


@pytest.mark.parametrize(("temp_c", "gauge"), [(4, 0.819), (20, 2.014), (30, 2.916), (40, 3.910)])
def test_vector_two_and_a_half_volumes(temp_c, gauge):
    """The chart pressure of 2.5 volumes at four temperatures."""
    assert carbonation.chart_gauge_bar(2.5, temp_c) == pytest.approx(gauge, abs=0.01)


def test_vector_sugar_and_points():
    """7 g/L sucrose on 0.88 give 2.70; 1.018 to 1.010 gives 4.16, at most 4.56 volumes."""
    assert 0.88 + sugar.vols_from_sugar(7, 1, SUCROSE) == pytest.approx(2.70, abs=5e-3)
    assert sugar.vols_from_points_left(8) == pytest.approx(4.16)
    assert sugar.vols_from_points_left(8, sugar.VOLS_PER_POINT_UPPER) == pytest.approx(4.56)


def test_vector_burst():
    """5 bar with eta 8 and k 6: 0.0580 for a bottle, 0.76 for any of 24."""
    chance = bottle_strength.burst_probability(5, 8, 6)
    assert chance == pytest.approx(0.0580, abs=2e-4)
    assert bottle_strength.any_of(chance, 24) == pytest.approx(0.76, abs=5e-3)


def test_vector_half_a_percent_of_headspace():
    """0.5 % headspace, 2.5 volumes, air: 3.2 bar at 30 C and liquid-full at 40 C."""
    warm = bottle.sealed_bottle(2.5, 30, 0.005, swelling=True)
    assert warm.gauge_bar == pytest.approx(3.2, abs=0.05)
    assert not warm.liquid_full
    assert bottle.sealed_bottle(2.5, 40, 0.005, swelling=True).liquid_full


def test_worked_stuck_beer():
    """1.018 with limit 1.010 and normal priming: 6.73 volumes, 7.1 bar by chart, 7.4 with air."""
    vols = 0.88 + sugar.vols_from_sugar(130, 20, SUCROSE) + sugar.vols_from_points_left(8)
    assert vols == pytest.approx(6.73, abs=5e-3)
    assert carbonation.chart_gauge_bar(vols, 20) == pytest.approx(7.1, abs=0.06)
    aired = bottle.sealed_bottle(vols, 20, swelling=True).gauge_bar
    assert aired == pytest.approx(7.4, abs=0.06)


def test_no_formula_answers_for_a_value_that_is_no_number():
    """Every public formula with number arguments refuses NaN in each of them."""
    checked = 0
    for module in (gravity, carbonation, sugar, bottle, bottle_strength, kinetics):
        for name, function in inspect.getmembers(module, inspect.isfunction):
            numbers = function.__module__ == module.__name__ and not name.startswith("_")
            parameters = inspect.signature(function).parameters
            if not numbers or name.endswith("_many") or name in ("gravity_slope",):
                continue
            required = [p for p in parameters.values() if p.default is p.empty]
            for position in range(len(required)):
                arguments = [math.nan if i == position else 1.0 for i in range(len(required))]
                with pytest.raises(OutOfRangeError):
                    function(*arguments)
                checked += 1
    assert checked > 60
