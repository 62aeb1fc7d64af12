"""Checks of the gravity formulas against tables, standards and reference libraries."""

import math

import CoolProp.CoolProp as coolprop
import pytest
from hypothesis import given
from hypothesis import strategies as st
from iapws import IAPWS95
from tests.shared_tables import rows

from trubshoot.errors import OutOfRangeError
from trubshoot.physics import gravity

GLASS_NOTE = "glass"


@pytest.mark.parametrize("row", rows("plato_sg_pairs.csv"), ids=lambda r: r["plato_wt_percent"])
def test_plato_pairs(row):
    """Every published or computed pair of the sucrose table comes out within the stated error."""
    plato, sg = float(row["plato_wt_percent"]), float(row["sg"])
    if sg <= 1.120:
        assert gravity.plato_from_sg(sg) == pytest.approx(plato, abs=0.02)
    assert gravity.sg_from_plato(plato) == pytest.approx(sg, abs=5e-5 if plato <= 20 else 6.5e-5)


def test_plato_cubic_matches_the_grid():
    """The cubic is the one whose values stand in the grid of formulas."""
    for row in rows("plato_formula_grid.csv"):
        sg = float(row["sg"])
        if sg <= 1.120:
            assert gravity.plato_from_sg(sg) == pytest.approx(float(row["asbc_cubic"]), abs=2e-4)


def sucrose_sg(share):
    """Return the SG in air from the density polynomial of sucrose solutions at 20 C."""
    coefficients = (385.1761, 135.3705, 40.9299, -3.9643, 13.4853, -17.289)
    density = 998.2012 + sum(c * share ** (i + 1) for i, c in enumerate(coefficients))
    return (density - 1.2) / (998.20 - 1.2)


@given(st.floats(0.0, 25.0))
def test_plato_against_sucrose_density(plato):
    """The cubic agrees with the density of sucrose solutions between the rows of the table too."""
    assert gravity.plato_from_sg(max(sucrose_sg(plato / 100), 1.0)) == pytest.approx(
        plato, abs=0.025
    )


@given(st.floats(0.0, 20.0))
def test_plato_round_trip(plato):
    """Plato to SG and back moves the value by less than the error of the formulas."""
    sg = gravity.sg_from_plato(plato)
    assert gravity.plato_from_sg(sg) == pytest.approx(plato, abs=0.03)


@given(st.floats(0.990, 1.0))
def test_apparent_extract_below_water(sg):
    """Below 1.000 three published forms agree, so the extension is a convention, not a guess."""
    value = gravity.apparent_extract_plato(sg)
    assert value == pytest.approx(-463.37 + 668.72 * sg - 205.35 * sg**2, abs=0.02)
    assert value == pytest.approx(259 - 259 / sg, abs=0.02)


@pytest.mark.parametrize("row", rows("water_density.csv"), ids=lambda r: r["t_C"])
def test_water_density_table(row):
    """The density of water matches the table of IAPWS-95 values, and above 50 C it is refused."""
    if float(row["t_C"]) > 50:
        with pytest.raises(OutOfRangeError):
            gravity.water_density_kg_m3(float(row["t_C"]))
        return
    density = gravity.water_density_kg_m3(float(row["t_C"]))
    assert density == pytest.approx(float(row["rho_Tanaka2001_kg_m3"]), abs=6e-4)
    assert density == pytest.approx(float(row["rho_IAPWS95_kg_m3"]), abs=0.01)


@pytest.mark.parametrize("temp_c", [0.01, 2, 4, 10, 15, 15.5556, 20, 25, 30, 35, 40])
def test_water_density_against_libraries(temp_c):
    """Two reference libraries give the same density of water within 0.003 kg/m3."""
    density = gravity.water_density_kg_m3(temp_c)
    kelvin = temp_c + 273.15
    assert density == pytest.approx(IAPWS95(T=kelvin, P=0.101325).rho, abs=0.003)
    by_coolprop = coolprop.PropsSI("D", "T", kelvin, "P", 101325, "Water")
    assert density == pytest.approx(by_coolprop, abs=0.003)


@pytest.mark.parametrize("temp_c", [42, 45, 48, 50])
def test_water_density_to_50(temp_c):
    """From 40 to 50 C, beyond its stated range, the form stays within 0.01 kg/m3 of IAPWS-95."""
    expected = IAPWS95(T=temp_c + 273.15, P=0.101325).rho
    assert gravity.water_density_kg_m3(temp_c) == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize(
    "row",
    rows("hydrometer_temp_correction.csv"),
    ids=lambda r: f"{r['hydrometer_ref_C']}-{r['sample_C']}-{r['basis']}",
)
def test_hydrometer_correction_table(row):
    """All published and computed temperature corrections come out, with and without the glass."""
    scale, sample = float(row["hydrometer_ref_C"]), float(row["sample_C"])
    published = float(row["add_to_reading_SG"])
    glass = gravity.GLASS_EXPANSION_PER_K if GLASS_NOTE in row["source"] else 0.0
    value = gravity.hydrometer_corrected_sg(1.0, sample, scale, glass) - 1.0
    if row["basis"] == "computed":
        tolerance = 2e-6
    elif row["hydrometer_ref_C"] == "15":
        tolerance = 1.5e-4  # printed to 0.0001
    else:
        tolerance = 6e-4  # printed to 0.001
    assert value == pytest.approx(published, abs=tolerance)


@pytest.mark.parametrize(
    ("reading", "sample", "scale", "with_glass", "without"),
    [
        (1.012, 30, 20, 1.0143, 1.0146),
        (1.012, 4, 20, 1.0106, 1.0102),
        (1.040, 35, 15, 1.0448, 1.0453),
    ],
)
def test_hydrometer_worked_examples(reading, sample, scale, with_glass, without):
    """The worked examples of the chapter come out to the last printed digit."""
    got = gravity.hydrometer_corrected_sg(reading, sample, scale)
    assert got == pytest.approx(with_glass, abs=6e-5)
    got = gravity.hydrometer_corrected_sg(reading, sample, scale, glass_per_k=0.0)
    assert got == pytest.approx(without, abs=6e-5)


def test_hydrometer_published_example_by_addition():
    """A published example, 1.040 at 35 C on a 15 C instrument, prints 1.0451 by addition."""
    got = gravity.hydrometer_corrected_sg(1.040, 35, 15, glass_per_k=0.0)
    assert got == pytest.approx(1.0451, abs=2.5e-4)


@given(st.floats(0.99, 1.12), st.floats(4.0, 49.0), st.sampled_from([15.0, 15.556, 20.0]))
def test_warmer_sample_needs_more_correction(reading, sample, scale):
    """Above 4 C a warmer sample always means a higher corrected gravity."""
    cooler = gravity.hydrometer_corrected_sg(reading, sample, scale, 0.0)
    warmer = gravity.hydrometer_corrected_sg(reading, sample + 1.0, scale, 0.0)
    assert warmer > cooler


@pytest.mark.parametrize(
    "row", rows("refractometer_fg.csv"), ids=lambda r: r["brix_initial_corrected"]
)
def test_refractometer_table(row):
    """Both regressions reproduce the table."""
    first, present = float(row["brix_initial_corrected"]), float(row["brix_final_corrected"])
    for fit in ("linear", "cubic"):
        got = gravity.refractometer_final_sg(first, present, fit)
        assert got == pytest.approx(float(row[f"fg_{fit}"]), abs=1e-5)


@pytest.mark.parametrize(("first", "present"), [(12, 9), (12, 8.5), (15, 11)])
def test_refractometer_refuses_a_stuck_beer(first, present):
    """Below 61 % attenuation the regression is not valid and says so."""
    with pytest.raises(OutOfRangeError, match="attenuation"):
        gravity.refractometer_final_sg(first, present)


def test_refractometer_edge_of_validity():
    """Just above 61 % the regression answers, just below it does not."""
    og = gravity.sg_from_plato(12.0)
    edge = (og - 0.61 * (og - 1) - 1.0 + 0.00085683 * 12) / 0.0034941
    assert gravity.refractometer_final_sg(12.0, edge - 0.01) > 1.0
    with pytest.raises(OutOfRangeError):
        gravity.refractometer_final_sg(12.0, edge + 0.01)


def test_wort_correction_factor():
    """The reading is divided by the factor, never multiplied."""
    assert gravity.wort_corrected_brix(12.48, 1.04) == pytest.approx(12.0)
    assert gravity.wort_corrected_brix(12.0) == pytest.approx(12.0 / 1.04)


@pytest.mark.parametrize("row", rows("abv_attenuation.csv"), ids=lambda r: f"{r['og']}-{r['fg']}")
def test_attenuation_and_alcohol_table(row):
    """Extract, attenuation and alcohol reproduce the table; simple rules agree as far as stated."""
    og, fg = float(row["og"]), float(row["fg"])
    assert gravity.plato_from_sg(og) == pytest.approx(float(row["oe_plato"]), abs=1e-4)
    assert gravity.apparent_extract_plato(fg) == pytest.approx(float(row["ae_plato"]), abs=1e-4)
    assert gravity.real_extract_plato(og, fg) == pytest.approx(float(row["re_plato"]), abs=1e-4)
    got = gravity.apparent_degree_of_fermentation(og, fg)
    assert got == pytest.approx(float(row["adf"]), abs=1e-5)
    got = gravity.real_degree_of_fermentation(og, fg)
    assert got == pytest.approx(float(row["rdf"]), abs=1e-5)
    mass = gravity.alcohol_by_mass_pct(og, fg)
    assert mass == pytest.approx(float(row["abw_pct_balling"]), abs=1e-4)
    volume = gravity.alcohol_by_volume_pct(og, fg)
    assert volume == pytest.approx(float(row["abv_pct_balling"]), abs=1e-4)
    assert volume == pytest.approx(131.25 * (og - fg), abs=0.02 + 0.004 * volume**2)


def test_balling_balance_of_a_brewery():
    """A brewery example, 14.3 P measured, comes back from alcohol and real extract."""
    og, fg = 1.0586, 1.0127
    alcohol, extract = gravity.alcohol_by_mass_pct(og, fg), gravity.real_extract_plato(og, fg)
    balling = 100 * (2.0665 * alcohol + extract) / (100 + 1.0665 * alcohol)
    assert balling == pytest.approx(gravity.plato_from_sg(og), abs=1e-6)
    assert balling == pytest.approx(14.4, abs=0.15)


def test_balling_constants_keep_the_mass():
    """What extract gives, alcohol, gas and yeast, adds up to the extract."""
    parts = 1.0 + gravity.BALLING_CO2_G + gravity.BALLING_YEAST_G
    assert parts == pytest.approx(gravity.BALLING_EXTRACT_G, abs=1e-9)


def test_sugar_attenuates_beyond_100_percent():
    """Sugar that ends at 0.9915 from 10 P has an apparent attenuation above one."""
    og = gravity.sg_from_plato(10.0)
    assert gravity.apparent_attenuation(og, 0.9915) == pytest.approx(1.21, abs=0.01)


@given(st.floats(1.02, 1.11), st.floats(0.0, 1.0))
def test_real_is_081_of_apparent(og, share):
    """Real attenuation is 0.81 to 0.82 of the apparent one, as published."""
    fg = 0.995 + share * (og - 0.005 - 0.995)
    real = gravity.real_degree_of_fermentation(og, fg)
    apparent = gravity.apparent_degree_of_fermentation(og, fg)
    assert real / apparent == pytest.approx(0.8192, abs=1e-6)


NAN = math.nan


@pytest.mark.parametrize(
    ("function", "arguments"),
    [
        (gravity.plato_from_sg, (0.9999,)),
        (gravity.plato_from_sg, (1.1201,)),
        (gravity.plato_from_sg, (NAN,)),
        (gravity.apparent_extract_plato, (0.9899,)),
        (gravity.apparent_extract_plato, (1.1201,)),
        (gravity.sg_from_plato, (-0.01,)),
        (gravity.sg_from_plato, (30.01,)),
        (gravity.sg_from_plato, (NAN,)),
        (gravity.water_density_kg_m3, (-0.01,)),
        (gravity.water_density_kg_m3, (50.01,)),
        (gravity.hydrometer_corrected_sg, (1.01, -0.1, 20)),
        (gravity.hydrometer_corrected_sg, (1.01, 50.1, 20)),
        (gravity.hydrometer_corrected_sg, (1.01, 20, 9.9)),
        (gravity.hydrometer_corrected_sg, (1.01, 20, 30.1)),
        (gravity.hydrometer_corrected_sg, (0.979, 20, 20)),
        (gravity.hydrometer_corrected_sg, (1.171, 20, 20)),
        (gravity.hydrometer_corrected_sg, (1.01, 20, 20, 4e-5)),
        (gravity.hydrometer_corrected_sg, (1.01, NAN, 20)),
        (gravity.wort_corrected_brix, (-0.1,)),
        (gravity.wort_corrected_brix, (12, 0.99)),
        (gravity.wort_corrected_brix, (12, 1.07)),
        (gravity.refractometer_final_sg, (4.9, 2)),
        (gravity.refractometer_final_sg, (27.1, 10)),
        (gravity.refractometer_final_sg, (12, 0.9)),
        (gravity.apparent_attenuation, (1.009, 1.0)),
        (gravity.apparent_attenuation, (1.121, 1.0)),
        (gravity.apparent_attenuation, (1.05, 1.051)),
        (gravity.apparent_attenuation, (1.05, 0.989)),
        (gravity.alcohol_by_volume_pct, (1.05, NAN)),
        (gravity.real_extract_per_point_g_l, (1.019, 1.01)),
        (gravity.real_extract_per_point_g_l, (1.111, 1.01)),
        (gravity.real_extract_per_point_g_l, (1.05, 0.990)),
        (gravity.real_extract_per_point_g_l, (1.05, 1.05)),
    ],
)
def test_out_of_range_is_refused(function, arguments):
    """Outside its range, and for a value that is no number, a formula refuses to answer."""
    with pytest.raises(OutOfRangeError):
        function(*arguments)


@pytest.mark.parametrize(
    ("function", "arguments"),
    [
        (gravity.plato_from_sg, (1.000,)),
        (gravity.plato_from_sg, (1.120,)),
        (gravity.apparent_extract_plato, (0.990,)),
        (gravity.sg_from_plato, (0.0,)),
        (gravity.sg_from_plato, (30.0,)),
        (gravity.water_density_kg_m3, (0.0,)),
        (gravity.water_density_kg_m3, (50.0,)),
        (gravity.hydrometer_corrected_sg, (1.01, 0.0, 20)),
        (gravity.hydrometer_corrected_sg, (1.01, 50.0, 20)),
        (gravity.apparent_attenuation, (1.05, 0.990)),
        (gravity.real_extract_per_point_g_l, (1.110, 0.991)),
    ],
)
def test_the_edges_of_the_range_are_answered(function, arguments):
    """The ends of each range belong to it."""
    assert math.isfinite(function(*arguments))
