"""What is worked out from a batch before any rule runs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from trubshoot.physics.gas import PointsLeft

Value = float | str  # a number, a text, or one of the states present, absent, unknown


@dataclass(frozen=True)
class Understood:
    """Words of the brewer that were understood as a finding, sign or circumstance."""

    words: str
    kind: str  # finding, sign or context
    id: str
    label: str
    state: str  # present or absent
    line: int = 0
    vague: str = ""  # id of the confusion, when nothing but a confusable word was said
    asked: bool = False  # told when asked, not as the complaint


@dataclass(frozen=True)
class NotUnderstood:
    """Words of the brewer that lead to nothing, with the nearest things known."""

    words: str
    nearest: tuple[str, ...]
    line: int = 0


FAR_TOO_MUCH = "far too much"  # assumed where a number lies beyond every formula


@dataclass(frozen=True)
class Missing:
    """Something the log does not say, what is assumed instead, and what it would tell."""

    what: str
    assumed: str = ""
    matters: str = ""


@dataclass(frozen=True)
class Reading:
    """One gravity reading made comparable: corrected for temperature and instrument."""

    day: float | None  # days since pitching
    raw_sg: float
    points: float
    sigma_points: float
    instrument: str
    corrections: tuple[str, ...] = ()
    line: int = 0
    sample_known: bool = False
    degassed: bool = False  # said to be
    gassy: bool = False  # said to be full of gas
    instrument_named: bool = False


@dataclass(frozen=True)
class ExpectedEnd:
    """The gravity at which this wort and yeast usually end."""

    points: float
    sigma_points: float
    how: str


@dataclass(frozen=True)
class BottleBasis:
    """What the gas in the bottles is worked out from, sugar apart; gaps stand at the worse end."""

    target_vols: float
    residual_vols: float  # in the beer when bottled
    residual_most_vols: float
    residual_sigma_vols: float
    left: PointsLeft  # still to ferment, middle
    left_most: PointsLeft
    bottle_class: str
    bottle_label: str
    rating_bar: float
    danger_bar: float  # at the hottest day
    hottest_c: float
    storage_c: float | None  # as written down
    headspace_share: float | None  # as written down
    volume_l: float | None  # that goes or went into bottles
    size_ml: float | None
    gravity_points: float | None  # at bottling


@dataclass(frozen=True)
class PressureAt:
    """Pressure in the sealed bottle at one temperature [bar gauge], and how the bottles bear it."""

    place: str  # reference, storage or hottest
    temp_c: float
    middle_bar: float
    upper_bar: float  # 95 %
    middle_band: str  # carried, strained, over or failing
    upper_band: str


@dataclass(frozen=True)
class BottleOutlook:
    """Gas in the bottles, done or planned, and what they are trusted with."""

    basis: BottleBasis
    sugar_g: float | None  # in the whole batch
    sugar_g_per_l: float
    sugar_vols: float
    sugar_most_vols: float  # full yield, heaviest pieces, least volume
    sugar_share_sigma: float
    expected_vols: float  # middle
    upper_vols: float  # 95 %
    alone_20c_bar: float  # CO2 alone at 20 C, what the rating speaks of
    pressures: tuple[PressureAt, ...]


@dataclass(frozen=True)
class Evidence:
    """Facts for the rules, and the numbers behind them for the report."""

    facts: Mapping[str, Value]
    stage: str
    readings: tuple[Reading, ...] = ()
    og_points: float | None = None
    og_how: str = ""
    expected_end: ExpectedEnd | None = None
    basis: BottleBasis | None = None
    outlook: BottleOutlook | None = None
    understood: tuple[Understood, ...] = ()
    not_understood: tuple[NotUnderstood, ...] = ()
    missing: tuple[Missing, ...] = ()
    notes: tuple[str, ...] = ()
    details: Mapping[str, str] = field(default_factory=dict)  # fact -> how it was worked out
