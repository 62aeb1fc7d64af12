"""Readings from a table of comma-separated values, thinned to the rows that carry the curve.

No format of any device is known here: the brewer names the columns. The table itself is never
changed. Thinning keeps, of gravity and of temperature apart: the first and the last row, at least
one row a day, and every row needed so that the straight line between two rows kept misses no row
between them by more than a step: what a hydrometer or a household thermometer tells apart, or six
times the scatter of the column where that is more, since rows chosen closer than the scatter would
be its outliers. Of temperatures the lowest and the highest are always kept.
"""

from __future__ import annotations

import csv
import heapq
import io
import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from statistics import median

from trubshoot.batch.append import LogLine
from trubshoot.batch.csv_dates import read_moments
from trubshoot.batch.fields import LOG
from trubshoot.batch.kinds import nearest
from trubshoot.batch.model import Batch, Note
from trubshoot.batch.moments import is_to_come
from trubshoot.errors import BatchError, Problem, UnitError
from trubshoot.units import UnitSystem, UnreadableQuantity, c_to_f, shown

MOST_ROWS = 500_000
MOST_BYTES = 64 * 1024 * 1024
MOST_KEPT = 300  # rows kept of one column, days apart
# how far a left-out row may lie from the line between its kept neighbours: SG, deg C (judgement)
STEP = {"gravity": 0.001, "beer": 0.3}
_SCATTERS = 6.0
_A_DAY = 86400.0
_MISSING = frozenset(("", "-", "--", "nan", "na", "n/a", "null", "none", "?", "missing"))
_DELIMITERS = (",", ";", "\t", "|")
_THOUSANDS = re.compile(r"[0-9]{1,3}(?:\.[0-9]{3})+,[0-9]+")
_UNIT = re.compile(r"\s*(?:°|º|deg)?\s*([cf])$", re.IGNORECASE)


@dataclass(frozen=True)
class Columns:
    """Which columns to read, by name or by number from 1; and how."""

    time: str
    gravity: str | None = None
    temperature: str | None = None
    units: UnitSystem = "metric"
    day_first: bool | None = None


@dataclass(frozen=True)
class Point:
    """One value of one row."""

    at: datetime
    value: float


@dataclass(frozen=True)
class Readings:
    """What a table holds: the values in order of time, the rows that cannot be used, remarks."""

    gravity: tuple[Point, ...]
    beer: tuple[Point, ...]
    rows: int
    bad: tuple[Problem, ...]
    notes: tuple[str, ...]

    @property
    def last(self) -> datetime | None:
        """Return the time of the last row."""
        ends = [points[-1].at for points in (self.gravity, self.beer) if points]
        return max(ends, default=None)


def read_readings(raw: bytes, columns: Columns, name: str, now: datetime) -> Readings:
    """Return the readings of a table.

    Args:
        raw: the file.
        columns: which columns hold what.
        name: how messages call the file.
        now: the clock; rows after it cannot be used.

    Raises:
        UnitError: no such column, or the order of day and month is open.
        BatchError: this is no table.
    """
    table = _table(_text(raw, name), columns, name)
    head, rows = table[0][1], table[1:]
    if columns.gravity is None and columns.temperature is None:
        raise UnitError("neither --gravity nor --temperature names a column. Name one or both.")
    place = {
        what: _column(head, wanted, what)
        for what, wanted in (
            ("time", columns.time),
            ("gravity", columns.gravity),
            ("temperature", columns.temperature),
        )
        if wanted is not None
    }
    if _is_data(head, place):
        rows = table  # columns by number, and no line with names
    rows = [(line, row) for line, row in rows if any(cell.strip() for cell in row)]
    if len(rows) > MOST_ROWS:
        raise BatchError([Problem(name, 0, "the table is too long.", "Split it into parts.")])
    moments = read_moments([_cell(row, place["time"]) for _, row in rows], columns.day_first)
    bad: list[Problem] = []
    found: dict[str, list[Point]] = {"gravity": [], "beer": []}
    readers = {
        "gravity": ("gravity", "sg"),
        "temperature": ("beer", "temp_c"),
    }
    for (line, row), at, why in zip(rows, moments.times, moments.why, strict=True):
        if at is None or is_to_come(at, now):
            message = why or f"{at} has not come yet (it is {now:%Y-%m-%d %H:%M})."
            bad.append(Problem(name, line, message))
            continue
        for what, (key, attribute) in readers.items():
            text = _cell(row, place[what]) if what in place else ""
            if text.lower() in _MISSING:
                continue
            try:
                value = LOG[key][0].read(_number_text(text), columns.units)[attribute]
            except UnreadableQuantity as error:
                message = f"{what}: {error.message} {error.mend}"
                bad.append(Problem(name, line, message))
                continue
            found[key].append(Point(at, value))
    notes = (moments.note,) if moments.note else ()
    points = {key: _in_order(values) for key, values in found.items()}
    return Readings(points["gravity"], points["beer"], len(rows), tuple(bad), notes)


def _text(raw: bytes, name: str) -> str:
    if len(raw) > MOST_BYTES:
        raise BatchError([Problem(name, 0, "the table is larger than 64 MiB.", "Split it.")])
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return raw.decode("utf-16", errors="replace")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")  # what spreadsheets write otherwise


def _table(text: str, columns: Columns, name: str) -> list[tuple[int, list[str]]]:
    """Return (line, cells) pairs, cut at the sign that gives the columns asked for."""
    if not text.strip() or "\x00" in text:
        raise BatchError([Problem(name, 0, "this is no table.", "Export the readings as CSV.")])
    wanted = [w for w in (columns.time, columns.gravity, columns.temperature) if w is not None]
    best: tuple[tuple[int, int], str] | None = None
    for sign in _DELIMITERS:
        try:
            head = next(
                row for row in csv.reader(io.StringIO(text[:20_000]), delimiter=sign) if row
            )
        except (csv.Error, StopIteration):
            continue
        names = [cell.strip().lower() for cell in head]
        hits = sum(w.strip().lower() in names or _number(w, len(head)) is not None for w in wanted)
        if best is None or (hits, len(head)) > best[0]:
            best = (hits, len(head)), sign
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=best[1] if best else ",")
    rows: list[tuple[int, list[str]]] = []
    try:
        for row in reader:
            if row:
                rows.append((reader.line_num, row))
    except csv.Error as error:
        mend = "Export the readings as CSV again."
        raise BatchError([Problem(name, reader.line_num, f"{error}.", mend)]) from None
    return rows


def _number(text: str, most: int) -> int | None:
    """Return the place of a column given by number from 1."""
    return int(text) - 1 if text.strip().isdecimal() and 1 <= int(text) <= most else None


def _column(head: Sequence[str], wanted: str, what: str) -> int:
    names = [cell.strip() for cell in head]
    for same in (names, [name.lower() for name in names]):
        word = wanted.strip() if same is names else wanted.strip().lower()
        if same.count(word) > 1:
            raise UnitError(f"two columns are called {shown(wanted)}. Give --{what} by number.")
        if word in same:
            return same.index(word)
    place = _number(wanted, len(head))
    if place is None:
        raise UnitError(
            f"there is no column {shown(wanted)} for --{what}. {nearest(wanted, names)}"
        )
    return place


def _is_data(head: Sequence[str], place: dict[str, int]) -> bool:
    """Tell whether the first line holds a time already, and no names."""
    try:
        return read_moments([_cell(head, place["time"])], True).times[0] is not None
    except UnitError:
        return False


def _cell(row: Sequence[str], place: int) -> str:
    return row[place].strip() if place < len(row) else ""


def _number_text(text: str) -> str:
    """Return a number with a decimal point; 1.012,5 and 1,012.5 lose their thousands sign."""
    if _THOUSANDS.match(text):
        text = text.replace(".", "")
    elif "," in text and "." in text:
        text = text.replace(",", "")
    return _UNIT.sub(r" \1", text.replace(",", "."))


def _in_order(points: list[Point]) -> tuple[Point, ...]:
    """Return the points by time, one for each minute (the last written of it)."""
    return tuple(Point(at, value) for at, value in sorted({p.at: p.value for p in points}.items()))


def thinned(
    points: Sequence[Point], step: float, *, extremes: bool = False, most: int = MOST_KEPT
) -> tuple[Point, ...]:
    """Return the points that carry the curve.

    Args:
        points: in order of time.
        step: greatest distance from the line between two kept points that is still left out,
            unless the values scatter more.
        extremes: whether the lowest and the highest are kept in any case.
        most: points kept for their distance; the first, the last, extremes and one a day
            (or one in `most` of the whole time, when that is longer) come on top.
    """
    if len(points) <= 2:
        return tuple(points)
    seconds = [(point.at - points[0].at).total_seconds() for point in points]
    values = [point.value for point in points]
    step = max(step, _SCATTERS * scatter(values))
    last = len(points) - 1
    kept = {0, last}
    if extremes:
        kept |= {values.index(min(values)), values.index(max(values))}
    kept |= _one_a_day(seconds, max(_A_DAY, seconds[-1] / most))
    edges = sorted(kept)
    heap = [_farthest(seconds, values, a, b) for a, b in pairwise(edges)]
    heap = [item for item in heap if -item[0] > step]
    heapq.heapify(heap)
    room = most
    while heap and room:
        _, middle, start, end = heapq.heappop(heap)
        kept.add(middle)
        room -= 1
        for a, b in ((start, middle), (middle, end)):
            item = _farthest(seconds, values, a, b)
            if -item[0] > step:
                heapq.heappush(heap, item)
    return tuple(points[index] for index in sorted(kept))


def scatter(values: Sequence[float]) -> float:
    """Return the standard deviation of values from a smooth course, by their second differences.

    In the unit of the values. The median of their sizes leaves real jumps out of account; for
    normal scatter s it is 0.6745 sqrt(6) s, since 1, -2, 1 have the squares' sum 6.
    """
    bends = [abs(a - 2 * b + c) for a, b, c in zip(values, values[1:], values[2:], strict=False)]
    return median(bends) / (0.6745 * math.sqrt(6)) if bends else 0.0


def farthest_left_out(points: Sequence[Point], kept: Sequence[Point]) -> float:
    """Return the greatest distance of a point from the line between the kept ones around it."""
    seconds = [(point.at - points[0].at).total_seconds() for point in points]
    values = [point.value for point in points]
    place = {point.at: index for index, point in enumerate(points)}
    edges = [place[point.at] for point in kept]
    return max((-_farthest(seconds, values, a, b)[0] for a, b in pairwise(edges)), default=0.0)


def _one_a_day(seconds: Sequence[float], gap: float) -> set[int]:
    kept, since = set(), 0.0
    for index, second in enumerate(seconds):
        if second - since >= gap:
            kept.add(index)
            since = second
    return kept


def _farthest(
    seconds: Sequence[float], values: Sequence[float], start: int, end: int
) -> tuple[float, int, int, int]:
    """Return (minus the distance, place) of the point farthest from the line, and the line."""
    slope = (values[end] - values[start]) / ((seconds[end] - seconds[start]) or 1.0)
    base = values[start] - slope * seconds[start]
    far, place = 0.0, start
    for index in range(start + 1, end):
        distance = abs(values[index] - base - slope * seconds[index])
        if distance > far:
            far, place = distance, index
    return -far, place, start, end


def lines_of(
    readings: Readings, name: str, batch: Batch, extra: Sequence[tuple[str, str]], units: UnitSystem
) -> list[LogLine]:
    """Return the log lines for a table: the rows kept, and a note that names file and count.

    Args:
        readings: what the table holds.
        name: name of the file, without its folder.
        batch: the log so far; rows up to those taken earlier from a file of this name are left.
        extra: details for every gravity line, such as ("with", "hydrometer").
        units: units to write temperatures in.
    """
    since = _taken_until(batch, name)
    gravity = [point for point in readings.gravity if since is None or point.at > since]
    beer = [point for point in readings.beer if since is None or point.at > since]
    kept_gravity = thinned(gravity, STEP["gravity"])
    kept_beer = thinned(beer, STEP["beer"], extremes=True)
    kept = [
        *(("gravity", point, f"{point.value:.4f}") for point in kept_gravity),
        *(("beer", point, _temperature(point.value, units)) for point in kept_beer),
    ]
    if not kept:
        return []
    kept.sort(key=lambda item: (item[1].at, item[0]))
    lines = [
        LogLine((("at", _minute(point.at)), (key, text), *(extra if key == "gravity" else ())))
        for key, point, text in kept
    ]
    seen = len({point.at for point in (*gravity, *beer)})
    used = len({item[1].at for item in kept})
    off = [f"{1000 * farthest_left_out(gravity, kept_gravity):.1f} points"] if gravity else []
    off += [f"{farthest_left_out(beer, kept_beer):.1f} C"] if beer else []
    note = f"{_mark(name)}: {used} of {seen} rows kept"
    if used < seen:
        note += f", the others lie within {' and '.join(off)} of the lines between these"
    return [*lines, LogLine((("at", _minute(kept[-1][1].at)), ("note", note)))]


def _temperature(temp_c: float, units: UnitSystem) -> str:
    return f"{c_to_f(temp_c):.1f} F" if units == "us" else f"{temp_c:.1f} C"


def _minute(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M}"


def _mark(name: str) -> str:
    return f"readings of {' '.join(name.split())}"


def _taken_until(batch: Batch, name: str) -> datetime | None:
    """Return the time up to which a file of this name has been taken in, by its notes."""
    start = f"{_mark(name)}:"
    notes = [e.at for e in batch.log if isinstance(e, Note) and e.text.startswith(start)]
    return max((at for at in notes if at is not None), default=None)
