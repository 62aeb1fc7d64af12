"""Conversions against an independent unit library, and quantities as people write them."""

from __future__ import annotations

import math
from collections.abc import Callable

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from tests.shared_tables import rows

from trubshoot import units
from trubshoot.errors import UnitError
from trubshoot.units import Dimension, UnitSystem, parse_gravity, parse_quantity

PINT = pint.UnitRegistry()

# our name, the name in pint, dimension, pint's name of the unit used inside
PAIRS: list[tuple[str, str, Dimension, str]] = [
    ("l", "liter", "volume", "liter"),
    ("ml", "milliliter", "volume", "liter"),
    ("cl", "centiliter", "volume", "liter"),
    ("gal", "gallon", "volume", "liter"),
    ("us gal", "gallon", "volume", "liter"),
    ("imp gal", "imperial_gallon", "volume", "liter"),
    ("fl oz", "fluid_ounce", "volume", "liter"),
    ("imp fl oz", "imperial_fluid_ounce", "volume", "liter"),
    ("quart", "quart", "volume", "liter"),
    ("pint", "pint", "volume", "liter"),
    ("imp pint", "imperial_pint", "volume", "liter"),
    ("tsp", "teaspoon", "volume", "liter"),
    ("tbsp", "tablespoon", "volume", "liter"),
    ("cup", "cup", "volume", "liter"),
    ("g", "gram", "mass", "gram"),
    ("mg", "milligram", "mass", "gram"),
    ("kg", "kilogram", "mass", "gram"),
    ("oz", "ounce", "mass", "gram"),
    ("lb", "pound", "mass", "gram"),
    ("bar", "bar", "pressure", "bar"),
    ("mbar", "millibar", "pressure", "bar"),
    ("psi", "psi", "pressure", "bar"),
    ("kPa", "kilopascal", "pressure", "bar"),
    ("atm", "atmosphere", "pressure", "bar"),
    ("s", "second", "duration", "day"),
    ("min", "minute", "duration", "day"),
    ("hours", "hour", "duration", "day"),
    ("days", "day", "duration", "day"),
    ("weeks", "week", "duration", "day"),
    ("months", "month", "duration", "day"),
    ("years", "year", "duration", "day"),
    ("cm", "centimeter", "length", "centimeter"),
    ("mm", "millimeter", "length", "centimeter"),
    ("in", "inch", "length", "centimeter"),
]


@pytest.mark.parametrize(("ours", "theirs", "dimension", "inside"), PAIRS)
@given(number=st.floats(0, 1e6))
def test_every_unit_agrees_with_pint(
    ours: str, theirs: str, dimension: Dimension, inside: str, number: float
) -> None:
    """A quantity written in any unit is what pint makes of it."""
    expected = PINT.Quantity(number, theirs).to(inside).magnitude
    assert parse_quantity(f"{number:.9f} {ours}", dimension) == pytest.approx(
        expected, rel=1e-9, abs=1e-6
    )
    assert parse_quantity(number, dimension, ours.lower()) == pytest.approx(expected, rel=1e-12)


@given(st.floats(-80, 250))
def test_temperatures_agree_with_pint_both_ways(temp: float) -> None:
    """Fahrenheit and Celsius agree with pint and come back unchanged."""
    celsius = PINT.Quantity(temp, "degF").to("degC").magnitude
    assert units.f_to_c(temp) == pytest.approx(celsius, abs=1e-9)
    assert parse_quantity(temp, "temperature", "f") == pytest.approx(celsius, abs=1e-9)
    assert units.c_to_f(units.f_to_c(temp)) == pytest.approx(temp, abs=1e-9)


def test_every_spelling_belongs_to_a_pair_checked() -> None:
    """No unit has a factor that none of the pairs above checks."""
    checked = {(dimension, units.UNITS[dimension][ours.lower()]) for ours, _, dimension, _ in PAIRS}
    for dimension in ("volume", "mass", "pressure", "duration", "length"):
        for name, factor in units.UNITS[dimension].items():
            assert (dimension, factor) in checked or name == "dl"


@pytest.mark.parametrize(
    ("written", "dimension", "default", "expected"),
    [
        (20, "temperature", "c", 20.0),
        ("20 C", "temperature", None, 20.0),
        ("68F", "temperature", "c", 20.0),
        ("68 °F", "temperature", "c", 20.0),
        ("68 degrees F", "temperature", "c", 20.0),
        ("\u22121.5 °C", "temperature", "f", -1.5),
        ("5 gal", "volume", "l", 18.92705892),
        ("5 imp gal", "volume", None, 22.73045),
        ("19 l", "volume", "gal", 19.0),
        ("12 fl oz", "volume", None, 0.35488235475),
        ("12 fl. oz.", "volume", None, 0.35488235475),
        ("12 oz", "volume", None, 0.35488235475),
        ("5 oz", "mass", None, 141.747615625),
        ("1.5 lb", "mass", None, 680.388555),
        ("1 lb 4 oz", "mass", None, 566.9904625),
        ("1,5 kg", "mass", None, 1500.0),
        ("3/4 cup", "volume", None, 0.177441177375),
        ("1½ cups", "volume", None, 0.35488235475),
        ("about 5 gal", "volume", None, 18.92705892),
        ("~20 C", "temperature", None, 20.0),
        ("35 min", "duration", None, 35 / 1440),
        ("1 h 30 min", "duration", None, 1.5 / 24),
        ("3 weeks", "duration", None, 21.0),
        ("8 months", "duration", None, 243.5),
        ("29 psi", "pressure", None, 1.999479615),
        ("10 %", "percent", None, 10.0),
        (10, "percent", None, 10.0),
    ],
)
def test_quantities_as_people_write_them(
    written: object, dimension: Dimension, default: str | None, expected: float
) -> None:
    """Each way of writing gives the quantity that the writer meant."""
    assert parse_quantity(written, dimension, default) == pytest.approx(expected, rel=1e-8)


MASS = "Write it like 120 g, 1.5 kg, 5 oz or 1 lb 4 oz."
VOLUME = "Write it like 19 l, 330 ml, 5 gal or 12 fl oz."
TEMP = "Write it like 20 C or 68 F."
DURATION = "Write it like 35 min, 12 hours, 3 weeks or 8 months."


@pytest.mark.parametrize(
    ("written", "dimension", "message"),
    [
        (5, "mass", f'"5" has no unit. {MASS}'),
        ("5", "volume", f'"5" has no unit. {VOLUME}'),
        ("5 lb", "volume", f'"5 lb" is a mass; a volume is needed. {VOLUME}'),
        ("5 zz", "volume", f'"5 zz" has the unit "zz", which is not known. {VOLUME}'),
        ("2 m", "duration", f'"2 m" has the unit "m", which is not known. {DURATION}'),
        ("18-20 C", "temperature", f'"18-20 C" is a range; one number is needed. {TEMP}'),
        ("18 to 20 C", "temperature", f'"18 to 20 C" is a range; one number is needed. {TEMP}'),
        ("20 C 5 C", "temperature", f'"20 C 5 C" cannot be read as one quantity. {TEMP}'),
        ("4 oz 1 lb", "mass", f'"4 oz 1 lb" cannot be read as one quantity. {MASS}'),
        ("-3 g", "mass", f'"-3 g" is below zero. {MASS}'),
        ("1/0 g", "mass", f'"1/0 g" is not a mass. {MASS}'),
        ("warm", "temperature", f'"warm" is not a temperature. {TEMP}'),
        ("", "mass", f"nothing is written here. {MASS}"),
        (True, "mass", f'"True" is not a quantity. {MASS}'),
        (None, "mass", f'"None" is not a quantity. {MASS}'),
        (math.inf, "mass", f'"inf" is not a number that can be used. {MASS}'),
        (math.nan, "mass", f'"nan" is not a number that can be used. {MASS}'),
        pytest.param(
            10**5000,
            "mass",
            f"a very long number is not a number that can be used. {MASS}",
            id="5000 digits",
        ),
        (
            "1,500 g",
            "mass",
            '"1,500 g" can be read in two ways because of its comma. '
            "Write 1500 or 1.500 with its unit.",
        ),
    ],
)
def test_unreadable_quantities_say_what_to_write(
    written: object, dimension: Dimension, message: str
) -> None:
    """What cannot be read is refused with what was written and what to write."""
    with pytest.raises(UnitError) as caught:
        parse_quantity(written, dimension)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        (1.012, 1.012),
        (1012, 1.012),
        ("1.012", 1.012),
        ("1,012", 1.012),
        ("1012", 1.012),
        (0.996, 0.996),
        (996, 0.996),
        ("SG 1.050", 1.050),
        ("12 P", 1.04838),
        ("12P", 1.04838),
        ("12 °P", 1.04838),
        ("12,0 plato", 1.04838),
        ("12 brix", 1.04838),
    ],
)
def test_gravities_as_people_write_them(written: object, expected: float) -> None:
    """Each way of writing a gravity gives its SG (12 P is 1.04838 in sugar tables)."""
    assert parse_gravity(written) == pytest.approx(expected, abs=1e-4)


GRAVITY = 'Write it like 1.012, 1012 or "12 P".'


@pytest.mark.parametrize(
    ("written", "message"),
    [
        (
            12,
            '"12" may be degrees Plato or gravity points. '
            'Write "12 P" for Plato, 1.012 or 1012 for points.',
        ),
        (48, '"48" may be degrees Plato or gravity points. Write 1.048 or 1048 for points.'),
        (1.9, f'"1.9" is no gravity of wort or beer; those lie between 0.980 and 1.200. {GRAVITY}'),
        (0.9, f'"0.9" is no gravity of wort or beer; those lie between 0.980 and 1.200. {GRAVITY}'),
        (-3, f'"-3" may be degrees Plato or gravity points. {GRAVITY}'),
        ("80 P", f'"80 P" is outside 0 to 40 degrees Plato. {GRAVITY}'),
        ("high", f'"high" is not a gravity. {GRAVITY}'),
        (None, f'"None" is not a quantity. {GRAVITY}'),
        ("20 C", f'"20 C" is not a gravity. {GRAVITY}'),
    ],
)
def test_unreadable_gravities_say_what_to_write(written: object, message: str) -> None:
    """A bare 12 is not guessed at, and no gravity is taken that no beer has."""
    with pytest.raises(UnitError) as caught:
        parse_gravity(written)
    assert str(caught.value) == message


def test_plato_agrees_with_printed_sugar_tables() -> None:
    """The Plato relation keeps within 0.0002 SG of the table rows that were read, to 20 P."""
    checked = 0
    for row in rows("plato_sg_pairs.csv"):
        plato = float(row["plato_wt_percent"])
        if row["basis"] == "read" and plato <= 20:
            assert units.plato_to_sg(plato) == pytest.approx(float(row["sg"]), abs=2e-4)
            checked += 1
    assert checked >= 20


@given(st.text(max_size=40) | st.integers() | st.floats() | st.booleans() | st.none())
def test_any_input_gives_a_finite_number_or_a_unit_error(value: object) -> None:
    """No text or number makes the parser fail in another way."""
    dimensions: tuple[Dimension, ...] = ("temperature", "volume", "mass", "duration", "percent")
    for dimension in dimensions:
        found = outcome(lambda d=dimension: parse_quantity(value, d))
        assert "Write" in found if isinstance(found, str) else math.isfinite(found)
    found = outcome(lambda: parse_gravity(value))
    assert "Write" in found if isinstance(found, str) else -0.1 < found - 1 < 0.25


def outcome(read: Callable[[], float]) -> float | str:
    """Return what a parser makes of something, or the message with which it refuses it."""
    try:
        return read()
    except UnitError as error:
        return str(error)


@pytest.mark.parametrize(
    ("written", "us", "metric"),
    [
        (units.format_temp, "68 °F", "20 °C"),
        (units.format_temp_difference, "36 °F", "20 °C"),
        (units.format_volume, "5.3 gal", "20.0 L"),
        (units.format_mass, "0.7 oz", "20 g"),
        (units.format_pressure, "290 psi", "20.0 bar"),
    ],
)
def test_twenty_of_everything_in_both_systems(written: object, us: str, metric: str) -> None:
    """Each helper writes 20 of its quantity in both systems."""
    assert callable(written)
    systems: tuple[UnitSystem, UnitSystem] = ("us", "metric")
    assert [written(20.0, system) for system in systems] == [us, metric]


def test_small_and_large_amounts_take_fitting_units() -> None:
    """Bottles are shown in ml or fl oz, sacks in pounds or kilograms, months as months."""
    assert units.format_volume(0.33, "metric") == "330 ml"
    assert units.format_volume(0.33, "us") == "11.2 fl oz"
    assert units.format_mass(2993.7, "us") == "6 lb 9.6 oz"
    assert units.format_mass(453.5, "us") == "1 lb 0.0 oz"
    assert units.format_mass(2993.7, "metric") == "2.99 kg"
    assert units.format_gravity(1.0124) == "1.012"
    assert [units.format_duration(d) for d in (35 / 1440, 0.5, 9, 35, 243.5)] == [
        "35 min",
        "12 hours",
        "9 days",
        "5 weeks",
        "8 months",
    ]
