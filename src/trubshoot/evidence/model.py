"""What is worked out from a batch before any rule runs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

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


@dataclass(frozen=True)
class NotUnderstood:
    """Words of the brewer that lead to nothing, with the nearest things known."""

    words: str
    nearest: tuple[str, ...]
    line: int = 0


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
    instrument_named: bool = False


@dataclass(frozen=True)
class ExpectedEnd:
    """The gravity at which this wort and yeast usually end."""

    points: float
    sigma_points: float
    how: str


@dataclass(frozen=True)
class BottleOutlook:
    """Gas in the bottles, done or planned, and what they are trusted with."""

    target_vols: float
    residual_vols: float  # in the beer when bottled
    sugar_vols: float
    expected_vols: float  # middle
    upper_vols: float  # 95 %
    hottest_c: float
    bottle_label: str
    rating_bar: float
    danger_bar: float  # at the hottest day


@dataclass(frozen=True)
class Evidence:
    """Facts for the rules, and the numbers behind them for the report."""

    facts: Mapping[str, Value]
    stage: str
    readings: tuple[Reading, ...] = ()
    og_points: float | None = None
    og_how: str = ""
    expected_end: ExpectedEnd | None = None
    outlook: BottleOutlook | None = None
    understood: tuple[Understood, ...] = ()
    not_understood: tuple[NotUnderstood, ...] = ()
    missing: tuple[Missing, ...] = ()
    notes: tuple[str, ...] = ()
    details: Mapping[str, str] = field(default_factory=dict)  # fact -> how it was worked out
