"""Tables of readings: every common form is read, bad rows are named, the curve survives."""

from __future__ import annotations

import math
import random
import time
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np
import pytest

from trubshoot.batch import read_batch
from trubshoot.batch.append import with_lines
from trubshoot.batch.csv_dates import read_moments
from trubshoot.batch.csv_readings import (
    STEP,
    Columns,
    Point,
    Readings,
    farthest_left_out,
    lines_of,
    read_readings,
    scatter,
    thinned,
)
from trubshoot.errors import BatchError, UnitError

NOW = datetime(2026, 11, 25, 18, 0)
START = datetime(2026, 10, 1, 15, 0)
COLUMNS = Columns("time", "sg", "temp")


def read(text: str | bytes, columns: Columns = COLUMNS) -> Readings:
    """Return the readings of a table."""
    raw = text.encode("utf-8") if isinstance(text, str) else text
    return read_readings(raw, columns, "t.csv", NOW)


@pytest.mark.parametrize(
    "text",
    [
        "time,sg,temp\n2026-10-01 15:00,1.050,20.5\n",
        "time;sg;temp\n2026-10-01 15:00;1,050;20,5\n",
        "time\tsg\ttemp\r\n2026-10-01 15:00\t1,050\t20,5\r\n",
        '\ufeffx,Time,SG,Temp\n1,2026-10-01T15:00:30.5,"1,050","20,5"\n',
        "time|sg|temp\n2026/10/01 03:00 PM|1050|20.5 C\n",
        "time,sg,temp\n\n2026-10-01 15:00,1.050,68.9 F\n\n",
        "time;sg;temp\n2026-10-01 15:00;1.050,0;20,5\n",
    ],
)
def test_separators_and_decimals(text: str) -> None:
    """Comma, semicolon, tab and bar, with decimal points and commas, give the same reading."""
    found = read(text)
    assert found.bad == ()
    assert found.gravity == (Point(START, pytest.approx(1.050, abs=1e-9)),)
    assert found.beer == (Point(START, pytest.approx(20.5, abs=0.01)),)


def test_other_letters_than_utf_8() -> None:
    """A table written by an older spreadsheet is read with its degree sign."""
    columns = Columns("time", None, "temp °C")
    assert read("time,temp °C\n2026-10-01,20\n".encode("cp1252"), columns).beer[0].value == 20
    assert read("time,temp °C\n2026-10-01,20\n".encode("utf-16"), columns).beer[0].value == 20


def test_columns_by_number() -> None:
    """Columns may be given by number, also in a table without names."""
    found = read("2026-10-01 15:00,1.050\n2026-10-02 15:00,1.040\n", Columns("1", "2"))
    assert [round(point.value, 3) for point in found.gravity] == [1.05, 1.04]


@pytest.mark.parametrize(
    ("text", "day_first", "wanted"),
    [
        ("2026-04-03", None, datetime(2026, 4, 3)),
        ("2026-04-03T18:30:59Z", None, datetime(2026, 4, 3, 18, 30)),
        ("2026-04-03 18:30:00.123 +02:00", None, datetime(2026, 4, 3, 18, 30)),
        ("03.04.2026 18:30", True, datetime(2026, 4, 3, 18, 30)),
        ("04/03/26 6:30 pm", False, datetime(2026, 4, 3, 18, 30)),
        ("13/04/2026", None, datetime(2026, 4, 13)),
        ("04/13/2026 12:05 AM", None, datetime(2026, 4, 13, 0, 5)),
        ("3-Apr-2026 12:05 p.m.", None, datetime(2026, 4, 3, 12, 5)),
        ("April 3, 2026 18:30", None, datetime(2026, 4, 3, 18, 30)),
        ("3. April 2026", None, datetime(2026, 4, 3)),
    ],
)
def test_forms_of_dates(text: str, day_first: bool | None, wanted: datetime) -> None:
    """Dates are read in every form listed in the guide."""
    assert read_moments([text], day_first).times == (wanted,)


def test_order_of_day_and_month_is_never_guessed() -> None:
    """One date that shows the order settles it; else it is asked for, also when two clash."""
    assert read_moments(["03/04/2026", "13/04/2026"], None).times[0] == datetime(2026, 4, 3)
    for texts in (["03/04/2026", "04/04/2026"], ["13/04/2026", "04/13/2026"]):
        with pytest.raises(UnitError, match="--dayfirst or --monthfirst"):
            read_moments(texts, None)


def test_zones_are_dropped_or_made_one() -> None:
    """One zone leaves the written time; mixed zones keep the true time between readings."""
    same = read_moments(["2026-10-24T12:00+02:00", "2026-10-25T12:00+02:00"], None)
    assert same.times == (datetime(2026, 10, 24, 12), datetime(2026, 10, 25, 12))
    assert "UTC+02:00" in same.note
    mixed = read_moments(["2026-10-24T12:00+02:00", "2026-10-25T12:00+01:00"], None)
    assert mixed.times == (datetime(2026, 10, 24, 12), datetime(2026, 10, 25, 13))
    assert read_moments(["2026-10-24T12:00"], None).note == ""


def test_missing_values_are_no_fault_and_bad_ones_are_named() -> None:
    """Blank cells are left out; what cannot be read is listed with its line."""
    table = (
        "time,sg,temp\n2026-10-01,,20\n2026-10-02,n/a,-\n2026-10-03,0,20\nyesterday,1.040,20\n"
        "2026-10-05,1.030,-127\n2027-01-01,1.020,20\n2026-10-07\n2026-10-08,12,20\n"
    )
    found = read(table)
    assert [problem.line for problem in found.bad] == [4, 5, 6, 7, 9]
    assert "degrees Plato" in found.bad[-1].message
    assert "not come yet" in found.bad[3].message
    assert [round(point.value, 3) for point in found.gravity] == [1.03]
    assert len(found.beer) == 3


def test_fahrenheit_is_read_by_units_and_never_taken_for_celsius() -> None:
    """Bare numbers follow the units; numbers that fit only the other unit are refused."""
    table = "time,temp\n2026-10-01,68\n"
    assert read(table, Columns("time", None, "temp", "us")).beer[0].value == pytest.approx(20)
    assert "Did you mean 68 F" in read(table, Columns("time", None, "temp")).bad[0].message


@pytest.mark.parametrize(
    ("columns", "message"),
    [
        (Columns("when", "sg"), "no column"),
        (Columns("time", "gravty"), "no column"),
        (Columns("time"), "neither"),
        (Columns("time", "x"), "two columns"),
    ],
)
def test_columns_that_are_not_there(columns: Columns, message: str) -> None:
    """Wrong names of columns are refused in words."""
    with pytest.raises(UnitError, match=message):
        read("time,sg,x,x\n2026-10-01,1.05,1,2\n", columns)


def test_what_is_no_table() -> None:
    """An empty file and one that holds no text are refused."""
    for raw in (b"", b"a\x00b\n"):
        with pytest.raises(BatchError):
            read(raw)


def course(day: float) -> float:
    """Return the gravity of an invented beer."""
    return 1.010 + 0.040 / (1 + math.exp((day - 3) * 1.6))


def points(count: int, noise: float = 0.0) -> list[Point]:
    """Return an invented curve over 21 days."""
    chance = random.Random(11)
    step = 21 / count
    return [
        Point(START + timedelta(days=n * step), course(n * step) + chance.gauss(0, noise))
        for n in range(count)
    ]


def test_thinning_keeps_the_curve() -> None:
    """Straight lines between the kept rows follow every row within the step (checked by numpy)."""
    full = points(10_000)
    kept = thinned(full, STEP["gravity"])
    assert len(kept) < 60
    at = [(point.at - START).total_seconds() for point in full]
    line = np.interp(at, [(p.at - START).total_seconds() for p in kept], [p.value for p in kept])
    worst = float(np.max(np.abs(line - [point.value for point in full])))
    assert worst <= STEP["gravity"] + 1e-9
    assert worst == pytest.approx(farthest_left_out(full, kept), abs=1e-9)
    assert kept[0] == full[0]
    assert kept[-1] == full[-1]
    gaps = [b.at - a.at for a, b in pairwise(kept)]
    assert max(gaps) < timedelta(days=1, hours=1)


def test_thinning_keeps_jumps_and_extremes() -> None:
    """A short cold spell and the one hottest minute survive thinning."""
    flat = [Point(START + timedelta(minutes=5 * n), 20.0) for n in range(5000)]
    flat[1700] = Point(flat[1700].at, 20.2)
    for n in range(3000, 3010):
        flat[n] = Point(flat[n].at, 12.0)
    kept = thinned(flat, STEP["beer"], extremes=True)
    values = [point.value for point in kept]
    assert max(values) == 20.2
    assert values.count(12.0) >= 2
    assert flat[2999] in kept
    assert flat[3010] in kept


def test_scatter_is_that_put_in() -> None:
    """The scatter found is the standard deviation of the noise added, within a tenth."""
    assert scatter([point.value for point in points(5000, 0.0004)]) == pytest.approx(
        0.0004, rel=0.1
    )
    assert scatter([1.0, 1.0, 1.0, 9.0, 9.0, 9.0, 9.0]) == 0


def test_noise_is_not_picked_out() -> None:
    """From a noisy table not the outliers are kept: the rows kept scatter as all rows do."""
    full = points(10_000, 0.0004)
    kept = thinned(full, STEP["gravity"])
    off = [point.value - course((point.at - START) / timedelta(days=1)) for point in kept]
    assert len(kept) < 80
    assert float(np.std(off)) < 2 * 0.0004


def test_lines_name_the_file_and_nothing_is_taken_twice() -> None:
    """The lines fit the log, end with the note, and a longer table adds only its new rows."""
    batch = read_batch("batch: x\nlog:\n  - {at: 2026-10-01, did: pitched}\n")
    head = "time,sg,temp\n"
    rows = [f"2026-10-{n:02d} 12:00,{course(n - 1):.4f},{19 + n % 3}\n" for n in range(1, 21)]
    first = lines_of(
        read(head + "".join(rows[:10])), "t.csv", batch, [("with", "hydrometer")], "us"
    )
    assert "of 10 rows kept" in first[-1].flow
    assert first[-1].flow.startswith('{at: 2026-10-10 12:00, note: "readings of t.csv: ')
    text = with_lines("batch: x\nlog:\n  - {at: 2026-10-01, did: pitched}\n", first, "f")
    after = read_batch(text, NOW)
    gravities = [entry for entry in after.log if entry.entry == "gravity"]
    assert {entry.instrument for entry in gravities} == {"hydrometer"}
    beers = [entry.temp_c for entry in after.log if entry.entry == "beer"]
    assert min(beers) == pytest.approx(19, abs=0.05)
    assert max(beers) == pytest.approx(21, abs=0.05)
    assert lines_of(read(head + "".join(rows[:10])), "t.csv", after, [], "us") == []
    more = lines_of(read(head + "".join(rows)), "t.csv", after, [], "us")
    assert more[0].data["at"] == "2026-10-11 12:00"


def test_ten_thousand_rows_are_quick() -> None:
    """Reading and thinning ten thousand rows takes far less than three seconds."""
    rows = [
        f"{point.at:%d.%m.%Y %H:%M};{point.value:.4f};{20 + n % 7 / 10:.1f}".replace(".", ",", 0)
        for n, point in enumerate(points(10_000, 0.0004))
    ]
    batch = read_batch("batch: x\n")
    began = time.process_time()
    found = read("time;sg;temp\n" + "\n".join(rows))
    assert found.bad == ()
    lines = lines_of(found, "t.csv", batch, [], "metric")
    assert time.process_time() - began < 3
    assert len(lines) < 1000
