"""Pressure in filled bottles over time: fast bound, middle, and what contamination would do."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from trubshoot.errors import OutOfRangeError
from trubshoot.evidence.model import BottleOutlook, Evidence
from trubshoot.evidence.outlook import danger_bar_at, sealed_bars
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.physics import kinetics
from trubshoot.physics.sugar import VOLS_PER_POINT_UPPER
from trubshoot.sentences import worded

DAYS = (0.0, 3.0, 7.0, 14.0, 21.0, 42.0, 90.0, 270.0)  # since bottling
_ROOM_C = 20.0
_SEARCH_DAYS = 300.0
_SAME_DAY = 0.5  # nearer than this the row of a fixed day is left out


@dataclass(frozen=True)
class CourseRow:
    """What the bottles may hold on one day; pressures in bar gauge, None when not known."""

    days: float  # since bottling
    now: bool
    fast_bar: float  # unfavourable bound at the hottest temperature
    middle_bar: float | None  # at the storage temperature
    contaminated_bar: float | None  # if wild or diastatic yeast had got in; None while too early


@dataclass(frozen=True)
class BottleCourse:
    """Pressure over time, when the danger limit may be reached, and what had to be assumed."""

    rows: tuple[CourseRow, ...]
    danger_bar: float
    fast_c: float
    middle_c: float | None
    danger_after_days: float | None  # by sugar and remaining extract; None: not reached
    contaminated_after_days: float | None  # by contamination; None: not reached
    assumed: tuple[str, ...]


@dataclass(frozen=True)
class _Parts:
    """The upper bound taken apart [vol], and how fast each part can come."""

    base: float
    sugar: float
    rest: float
    rest_per_day: float
    floor: float  # what contamination could still add

    def fast(self, days: float, temp_c: float) -> float:
        done = kinetics.priming_done(days, temp_c).fast
        return self.base + done * self.sugar + min(self.rest_per_day * days, self.rest)


def bottle_course(evidence: Evidence, knowledge: KnowledgeBase) -> BottleCourse | None:
    """Return the pressure over time; None when sugar, volume or end are not known: no numbers then.

    Fast bound: all bottling sugar turned to gas in 1.5 days at 20 C or more, the rest at the
    highest rate seen in the log (physics chapter, section 7).
    """
    look = evidence.outlook
    if look is None or evidence.facts.get("bottled") != "present":
        return None
    basis = look.basis
    row = knowledge.bottles[basis.bottle_class]
    fast_c = min(max(basis.hottest_c, 0.0), kinetics.TEMP_HIGH_C)
    middle_c = None if basis.storage_c is None else min(max(basis.storage_c, 0.0), 45.0)
    assumed: list[str] = []
    if middle_c is None:
        assumed.append(
            worded(
                f"storage temperature not known: no middle value; {fast_c:.0f} C for the fast bound"
            )
        )
    parts = _parts(evidence, look, knowledge, fast_c, assumed)
    now = evidence.facts.get("days_since_bottling")
    days = list(DAYS)
    if isinstance(now, float):
        days = sorted([now, *(day for day in DAYS if abs(day - now) >= _SAME_DAY)])
    else:
        assumed.append("the day of bottling or of asking is not known")
    try:
        rows = tuple(
            _row(look, parts, knowledge, day, day == now, fast_c, middle_c) for day in days
        )
        reached = _first_day(
            lambda day: _fast_bar(look, parts, knowledge, day, fast_c) >= danger_bar_at(row, fast_c)
        )
        wild = _first_day(
            lambda day: (
                (_wild_bar(look, parts, knowledge, day, fast_c) or 0.0)
                >= danger_bar_at(row, fast_c)
            )
        )
    except OutOfRangeError:
        return None
    return BottleCourse(
        rows, danger_bar_at(row, fast_c), fast_c, middle_c, reached, wild, tuple(assumed)
    )


def _parts(
    evidence: Evidence,
    look: BottleOutlook,
    knowledge: KnowledgeBase,
    temp_c: float,
    assumed: list[str],
) -> _Parts:
    basis = look.basis
    base = min(basis.residual_most_vols, look.upper_vols)
    richest = look.sugar_most_vols * (1 + kinetics.ONE_SIDED_95 * look.sugar_share_sigma)
    sugar = min(richest, look.upper_vols - base)
    rest = max(look.upper_vols - base - sugar, 0.0)
    seen = evidence.facts.get("peak_rate_points_per_day")
    if isinstance(seen, float) and seen > 0:
        rate = min(seen, 60.0)
    else:
        rate = knowledge.constants["healthy_peak_ale_points_per_day"].high or 20.0
        assumed.append(
            f"how fast it fermented is not in the log: {rate:.0f} points a day, a fast ale"
        )
    mean = evidence.facts.get("beer_temp_mean_c")
    log_c = min(max(mean, 0.0), 45.0) if isinstance(mean, float) else _ROOM_C
    per_day = kinetics.vols_rise_per_day(rate, log_c, max(temp_c, log_c))
    gravity = basis.gravity_points
    lowest = knowledge.constant("end_diastatic_points")
    if gravity is None:
        gravity = evidence.og_points or 0.0
        assumed.append("no gravity before bottling: all extract of the wort counted as left")
    left = max(gravity - lowest, 0.0)
    floor = max(VOLS_PER_POINT_UPPER * left - rest, 0.0)
    return _Parts(base, sugar, rest, per_day, floor)


def _fast_bar(
    look: BottleOutlook, parts: _Parts, knowledge: KnowledgeBase, days: float, temp_c: float
) -> float:
    vols = parts.fast(days, temp_c)
    usual = knowledge.constant("headspace_share")
    return sealed_bars(look.basis, vols, vols, temp_c, usual)[1]


def _wild_bar(
    look: BottleOutlook, parts: _Parts, knowledge: KnowledgeBase, days: float, temp_c: float
) -> float | None:
    """Return the bound with wild or diastatic yeast in it; None before it can show."""
    first = knowledge.constant("contamination_first_days")
    full = knowledge.constant("contamination_full_days")
    if days < first:
        return None
    share = min((days - first) / (full - first), 1.0)
    vols = parts.fast(days, temp_c) + share * parts.floor
    usual = knowledge.constant("headspace_share")
    return sealed_bars(look.basis, vols, vols, temp_c, usual)[1]


def _row(
    look: BottleOutlook,
    parts: _Parts,
    knowledge: KnowledgeBase,
    days: float,
    now: bool,
    fast_c: float,
    middle_c: float | None,
) -> CourseRow:
    middle = None
    if middle_c is not None:
        share = kinetics.priming_done(days, middle_c).central
        residual = min(look.basis.residual_vols, look.expected_vols)
        vols = residual + share * (look.expected_vols - residual)
        usual = knowledge.constant("headspace_share")
        middle = sealed_bars(look.basis, vols, vols, middle_c, usual)[0]
    return CourseRow(
        days,
        now,
        _fast_bar(look, parts, knowledge, days, fast_c),
        middle,
        _wild_bar(look, parts, knowledge, days, fast_c),
    )


def _first_day(reached: Callable[[float], bool]) -> float | None:
    """Return the first day on which a rising pressure reaches a limit; None if it never does."""
    if reached(0.0):
        return 0.0
    if not reached(_SEARCH_DAYS):
        return None
    low, high = 0.0, _SEARCH_DAYS
    for _ in range(24):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if reached(middle) else (middle, high)
    return high
