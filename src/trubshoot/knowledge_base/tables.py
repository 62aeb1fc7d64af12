"""The shape of the small tables: yeast classes, sugars, fermentables, bottles, constants."""

# no `from __future__ import annotations` here: pydantic would compile every annotation again
from typing import Annotated, Literal

from pydantic import Field

from trubshoot.knowledge_base.schema import Entry


class Row(Entry):
    """Base of a table row: a label, the words people write for it, where it comes from."""

    label: str
    aliases: tuple[str, ...] = ()
    sources: tuple[str, ...]
    basis: str


class YeastClass(Row):
    """A class of brewing yeast: window [C], attenuation [%], usual days, pitching norm."""

    temp_min_c: float
    temp_low_c: float
    temp_high_c: float
    temp_hot_c: float
    attenuation_low: float
    attenuation_mid: float
    attenuation_high: float
    sigma_percent: float
    flocculation: Literal["low", "medium", "high"]
    maltotriose: bool
    diastatic: bool
    days_low: float
    days_high: float
    lag_normal_h: float
    lag_failed_h: float
    pitch_norm: float  # million cells per millilitre and degree Plato
    sometimes_diastatic: bool = False
    spice_or_fruit: bool
    lager: bool
    hot_farm: bool = False
    stall: str

    @property
    def pace(self) -> Literal["ale", "lager", "kveik"]:
        """Return whose times it keeps: usual days and least age are known for these three."""
        return "lager" if self.lager else "kveik" if self.hot_farm else "ale"


class Sugar(Row):
    """A sugar for bottling: CO2 yield [g/g] low, central, high; level spoon density [g/mL]."""

    yield_low: float
    yield_central: float
    yield_high: float
    spoon_g_per_ml: float | None = None
    points_l_per_kg: float
    piece_g: float | None = None  # one drop or tablet
    piece_g_low: float | None = None
    piece_g_high: float | None = None
    ordinary: bool = False  # shown in the table of doses
    note: str = ""


class Fermentable(Row):
    """An ingredient of the wort: points per kg and litre, real degree of fermentation [%]."""

    points_l_per_kg: float
    rdf_percent: float
    attenuation_low: float
    attenuation_mid: float
    attenuation_high: float
    sigma_percent: float
    nutrient_poor: bool = False
    note: str = ""
    kind: Literal["extract", "grain", "sugar", "unfermentable", "fruit"]


class Bottle(Row):
    """A class of bottles: how to tell it, and what it is trusted with [bar gauge]."""

    how_to_tell: str
    planning_eta_bar: float
    planning_eta_low_bar: float
    planning_eta_high_bar: float
    planning_k: float
    expected_eta_bar: float
    expected_k: float
    rating_bar: float
    danger_bar: float
    hot_factor: float = 1.0  # share of the strength left at 40 C
    pressure_rated: bool


class Sanitizer(Row):
    """A chemistry for cleaning or sanitizing."""

    chlorine: bool
    acid: bool
    cleaner: bool
    no_rinse_at_label: bool
    notes: tuple[str, ...]


class Constant(Entry):
    """A number of the trade with its range and source."""

    value: float
    unit: str
    low: float | None = None
    high: float | None = None
    sources: tuple[str, ...]
    basis: str
    note: Annotated[str, Field(default="")] = ""
