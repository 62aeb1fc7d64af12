"""Sugar, spoons, drops and bottles as brewers write them."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trubshoot.batch.amounts import parse_amount, parse_bottles, parse_sugar
from trubshoot.errors import UnitError

CUP_ML = 236.5882365  # NIST SP 811: 8 US fluid ounces
OUNCE_G = 28.349523125


@pytest.mark.parametrize(
    ("written", "kind", "amount"),
    [
        ("5 oz corn sugar", "corn sugar", {"mass_g": 5 * OUNCE_G}),
        ("5 oz of corn sugar", "corn sugar", {"mass_g": 5 * OUNCE_G}),
        ("corn sugar 5 oz", "corn sugar", {"mass_g": 5 * OUNCE_G}),
        ("corn sugar, 120 g", "corn sugar", {"mass_g": 120.0}),
        ("120g dextrose", "dextrose", {"mass_g": 120.0}),
        ("120 g", None, {"mass_g": 120.0}),
        ("about 150 g sugar", "sugar", {"mass_g": 150.0}),
        ("1 lb 4 oz honey", "honey", {"mass_g": 20 * OUNCE_G}),
        ("0,15 kg table sugar", "table sugar", {"mass_g": 150.0}),
        ("3/4 cup corn sugar", "corn sugar", {"volume_ml": 0.75 * CUP_ML, "measure": "cup"}),
        ("0.75 cup", None, {"volume_ml": 0.75 * CUP_ML, "measure": "cup"}),
        ("half a cup of sugar", "sugar", {"volume_ml": 0.5 * CUP_ML, "measure": "cup"}),
        ("3 tsp table sugar", "table sugar", {"volume_ml": CUP_ML / 16, "measure": "tsp"}),
        (
            "3 level tsp table sugar",
            "table sugar",
            {"volume_ml": CUP_ML / 16, "measure": "tsp", "heaped": False},
        ),
        (
            "1 heaped tsp sugar per bottle",
            "sugar",
            {"volume_ml": CUP_ML / 48, "measure": "tsp", "heaped": True, "per": "bottle"},
        ),
        ("250 ml honey", "honey", {"volume_ml": 250.0}),
        (
            "2 carbonation drops per bottle",
            "carbonation drops",
            {"pieces": 2.0, "measure": "drop", "per": "bottle"},
        ),
        ("7 g/l table sugar", "table sugar", {"mass_g": 7.0, "per": "litre"}),
        (
            "1 oz per gallon corn sugar",
            "corn sugar",
            {"mass_g": OUNCE_G / 3.785411784, "per": "litre"},
        ),
        ("5 g per bottle sucrose", "sucrose", {"mass_g": 5.0, "per": "bottle"}),
        ("corn sugar", "corn sugar", None),
    ],
)
def test_sugar_as_written(written: str, kind: str | None, amount: dict[str, Any] | None) -> None:
    """Amount, measure and the words for the sugar are told apart."""
    sugar = parse_sugar(written)
    assert sugar is not None
    assert sugar.kind == kind
    if amount is None:
        assert sugar.amount is None
        return
    expected = {"mass_g": None, "volume_ml": None, "pieces": None, "measure": ""}
    expected |= {"heaped": None, "per": "batch"} | amount
    found = {name: getattr(sugar.amount, name) for name in expected}
    assert found == pytest.approx(expected)


@pytest.mark.parametrize("written", ["none", "No sugar", "forgot"])
def test_no_sugar_is_said_in_words(written: str) -> None:
    """Words for no sugar are not taken for a kind of sugar."""
    assert parse_sugar(written) is None


@pytest.mark.parametrize(
    ("written", "message"),
    [
        (
            120,
            '"120" has a number without a unit. '
            'Write "120 g", "120 oz" or the spoon it was measured with.',
        ),
        (
            "120",
            '"120" has a number without a unit. '
            'Write "120 g", "120 oz" or the spoon it was measured with.',
        ),
        (
            "120 sugar",
            '"120 sugar": "sugar" after 120 is not a unit of mass, spoon or piece. '
            'Write it like "120 g", "5 oz", "3 tsp" or "2 drops per bottle".',
        ),
        (
            "sugar x 3",
            '"sugar x 3": the amount cannot be read. '
            'Write it like "5 oz corn sugar", "120 g table sugar" or "none".',
        ),
        ("-5 g sugar", '"-5 g" is below zero. Write it like 120 g, 1.5 kg, 5 oz or 1 lb 4 oz.'),
    ],
)
def test_sugar_that_cannot_be_read(written: object, message: str) -> None:
    """A dose is never guessed: the message says what to write."""
    with pytest.raises(UnitError) as caught:
        parse_sugar(written)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("written", "size_ml", "count", "reused"),
    [
        ("reused brown glass 12 oz", 354.88235475, None, True),
        ("48 reused brown glass 12 oz", 354.88235475, 48, True),
        ("24 x 500 ml swing top", 500.0, 24, None),
        ("12 oz brown", 354.88235475, None, None),
        ("75 cl champagne", 750.0, None, None),
        ("500 ml PET, new", 500.0, None, False),
        ("wine bottles", None, None, None),
        (48, None, 48, None),
    ],
)
def test_bottles_as_written(
    written: object, size_ml: float | None, count: int | None, reused: bool | None
) -> None:
    """Size, count and reuse are read out of the words, which are kept whole."""
    bottles = parse_bottles(written)
    assert bottles.size_ml == (None if size_ml is None else pytest.approx(size_ml))
    assert (bottles.count, bottles.reused) == (count, reused)
    assert bottles.kind == (written if isinstance(written, str) else None)


@given(st.text(max_size=60) | st.integers() | st.floats() | st.none() | st.booleans())
def test_any_words_are_read_or_refused(value: object) -> None:
    """No text or number makes these readers fail in another way."""
    for read in (parse_amount, parse_sugar, parse_bottles):
        message = "Write"
        try:
            read(value)
        except UnitError as error:
            message = str(error)
        assert "Write" in message
