"""What a figure shows is what was worked out: its tables and its drawing are read back."""

from __future__ import annotations

import re

import pytest
from tests.report.page.support import ASKED, Node, example, page, parsed, seen, table_of

from trubshoot.diagnosis.overview import Overview
from trubshoot.report.page.document import report_html
from trubshoot.report.page.svg import Scale, cut_off, ticks, weight_bar
from trubshoot.units import UnitSystem

FITTED = ["all_well", "all_well_bottled", "flat_and_cold"]
SEALED = ["all_well_bottled", "bottled_too_early", "flat_and_cold", "plaster_taste"]
BAR_PER_PSI = 0.0689476  # NIST SP 811 (from memory)


def figure(name: str, key: str, units: UnitSystem = "metric") -> Node:
    """Return a figure of an example."""
    return page(name, units).by_id(key)


def numbers(text: str) -> list[float]:
    """Return the numbers of a cell."""
    return [float(part) for part in re.findall(r"-?\d+(?:\.\d+)?", text.replace("\u2212", "-"))]


def axis(figure: Node, anchor: str, coordinate: str) -> Scale:
    """Return the scale of an axis, worked out from two of its printed ticks."""
    found = []
    for node in figure.all("text"):
        if node.attributes["text-anchor"] == anchor and numbers(node.text[:6]):
            found.append((numbers(node.text)[0], float(node.attributes[coordinate])))
    (low, start), (high, end) = found[0], found[-1]
    shift = 4.0 if coordinate == "y" else 0.0  # words stand a little below their line
    return Scale(low, high, start - shift, end - shift)


def value_at(scale: Scale, place: float) -> float:
    """Return the value that a coordinate stands for."""
    share = (place - scale.start) / (scale.end - scale.start)
    return scale.low + share * (scale.high - scale.low)


@pytest.mark.parametrize("name", sorted(ASKED))
def test_readings_in_the_table_are_those_of_the_result(name: str) -> None:
    """Day, gravity, spread and corrections of every reading can be read back from the page."""
    readings = example(name).diagnosis.evidence.readings
    rows = table_of(figure(name, "gravity"), "Readings")[1:]
    assert len(rows) == len(readings)
    for row, reading in zip(rows, readings, strict=True):
        assert float(row[0]) == pytest.approx(max(reading.day or 0.0, 0.0), abs=0.051)
        assert float(row[2]) == pytest.approx(1 + reading.points / 1000, abs=0.00051)
        assert float(row[3]) == pytest.approx(reading.sigma_points, abs=0.051)
        assert row[4] == ("; ".join(reading.corrections) or "-")


@pytest.mark.parametrize("name", FITTED)
def test_curve_in_the_table_is_the_fitted_one(name: str) -> None:
    """The band is that of the fit which the bottling check uses, day by day."""
    fit = example(name).bottling.fit.fit
    assert fit is not None
    rows = table_of(figure(name, "gravity"), "Fitted curve")[1:]
    assert len(rows) == len(fit.curve) > 20
    for row, (day, q) in zip(rows, fit.curve, strict=True):
        shown = [float(cell) for cell in row]
        assert shown == pytest.approx([day, q.low, q.median, q.high], abs=0.051)
        assert shown[1:] == pytest.approx([q.low, q.median, q.high], abs=0.00051)
        assert shown[1] <= shown[2] <= shown[3]


@pytest.mark.parametrize("name", sorted(ASKED))
def test_dots_stand_where_the_readings_are(name: str) -> None:
    """Read off against the printed ticks, every dot and its bar give the reading and its spread."""
    drawn = figure(name, "gravity")
    across, up = axis(drawn, "middle", "x"), axis(drawn, "end", "y")
    readings = example(name).diagnosis.evidence.readings
    dots = [node for node in drawn.all("circle") if "dot" in node.classes]
    bars = [node for node in drawn.all("path") if "ink" in node.classes]
    assert len(dots) == len(bars) == len(readings)
    for dot, bar, reading in zip(dots, bars, readings, strict=True):
        points = 1000 * (value_at(up, float(dot.attributes["cy"])) - 1)
        assert points == pytest.approx(reading.points, abs=0.25)
        day = value_at(across, float(dot.attributes["cx"]))
        assert day == pytest.approx(max(reading.day or 0.0, 0.0), abs=0.1)
        top, bottom = re.match(r"M\S+ (\S+?)V(\S+?)M", bar.attributes["d"]).groups()  # type: ignore[union-attr]
        length = 1000 * (value_at(up, float(top)) - value_at(up, float(bottom)))
        assert length == pytest.approx(2 * reading.sigma_points, abs=0.3)


@pytest.mark.parametrize(("name", "word"), [("all_well", "asked"), ("all_well_bottled", "bottled")])
def test_the_end_of_the_course_is_marked(name: str, word: str) -> None:
    """A dotted line with its word stands at the day of asking, or of bottling once it is."""
    drawn = figure(name, "gravity")
    close = example(name).temperature.end_day
    assert close is not None
    (line,) = [node for node in drawn.all("path") if "now" in node.classes]
    place = float(re.match(r"M(\S+) \S+V\S+$", line.attributes["d"])[1])  # type: ignore[index]
    assert value_at(axis(drawn, "middle", "x"), place) == pytest.approx(close, abs=0.1)
    (mark,) = [node for node in drawn.all("text") if node.text in ("asked", "bottled")]
    assert mark.text == word
    assert float(mark.attributes["x"]) == pytest.approx(place, abs=0.2)


def test_the_last_temperature_is_held_to_the_end() -> None:
    """The line of the beer goes on level from its last reading to the bottling, and no further."""
    course = example("bottled_too_early").temperature
    drawn = figure("bottled_too_early", "temperature")
    (line,) = [node for node in drawn.all("path") if "blue" in node.classes]
    points = [
        tuple(float(part) for part in pair.split())
        for pair in line.attributes["d"].removeprefix("M").split("L")
    ]
    across, up = axis(drawn, "middle", "x"), axis(drawn, "end", "y")
    assert course.end_day is not None
    assert course.end_day > course.beer[-1][0] + 0.5
    assert value_at(across, points[-1][0]) == pytest.approx(course.end_day, abs=0.1)
    assert points[-1][1] == points[-2][1]
    assert value_at(up, points[-1][1]) == pytest.approx(course.beer[-1][1], abs=0.2)
    assert value_at(across, points[-2][0]) == pytest.approx(course.beer[-1][0], abs=0.1)


def test_corrections_say_us_units() -> None:
    """The table of readings says in US units at what temperature a gravity was read."""
    rows = table_of(figure("bottled_too_early", "gravity", "us"), "Readings")[1:]
    told = [row[4] for row in rows if " C" in row[4]]
    assert told
    assert all(re.search(r"\d C \(\d+ F\)", text) for text in told)


def test_expected_end_is_drawn_at_its_gravity() -> None:
    """The dashed line and the shaded strip lie at the expected end and its spread."""
    drawn = figure("bottled_too_early", "gravity")
    end = example("bottled_too_early").diagnosis.evidence.expected_end
    assert end is not None
    up = axis(drawn, "end", "y")
    (line,) = [node for node in drawn.all("path") if "edge" in node.classes]
    height = float(re.match(r"M\S+ (\S+?)L", line.attributes["d"])[1])  # type: ignore[index]
    assert 1000 * (value_at(up, height) - 1) == pytest.approx(end.points, abs=0.25)
    (strip,) = [node for node in drawn.all("rect") if "window" in node.classes]
    top = float(strip.attributes["y"])
    low = 1000 * (value_at(up, top + float(strip.attributes["height"])) - 1)
    assert low == pytest.approx(end.points - end.sigma_points, abs=0.3)
    assert f"expected end {1 + end.points / 1000:.3f}" in drawn.text


@pytest.mark.parametrize("units", ["metric", "us"])
def test_temperatures_are_those_of_the_log(units: UnitSystem) -> None:
    """Every logged temperature is in the table, placed against the window of the yeast."""
    course = example("stuck_after_cold_night").temperature
    rows = table_of(figure("stuck_after_cold_night", "temperature", units), "Temperatures")[1:]
    logged = sorted([(0.0, course.pitch_c), *course.beer, *course.room], key=lambda it: it[0])
    assert len(rows) == len(logged)
    for row, (day, temp_c) in zip(rows, logged, strict=True):
        shown = numbers(row[3])[0]
        temp_c = float(temp_c or 0.0)
        assert shown == pytest.approx(temp_c * 1.8 + 32 if units == "us" else temp_c, abs=0.51)
        assert float(row[0]) == pytest.approx(max(day, 0.0), abs=0.051)
        place = (
            "below" if temp_c < course.low_c else "above" if temp_c > course.high_c else "within"
        )
        assert row[4] == place
    assert {row[4] for row in rows} == {"below", "within"}  # the cold night


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("name", SEALED)
def test_pressures_are_those_of_the_outlook(name: str, units: UnitSystem) -> None:
    """Today's and the hottest day's pressures are those that the hazards were decided on."""
    look = example(name).diagnosis.evidence.outlook
    assert look is not None
    rows = table_of(figure(name, "pressure", units), "Today")[1:]
    places = {point.place: point for point in look.pressures}
    expected = [places.get("storage", places["reference"]), places["hottest"]]
    for row, point in zip(rows, expected, strict=True):
        for cell, bar in ((row[2], point.middle_bar), (row[3], point.upper_bar)):
            factor, step = (BAR_PER_PSI, 0.6) if units == "us" else (1.0, 0.051)
            assert numbers(cell)[0] == pytest.approx(min(bar, 15.0) / factor, abs=step)


@pytest.mark.parametrize("name", SEALED)
def test_curve_of_pressure_passes_through_its_points(name: str) -> None:
    """The curve rises with temperature and meets the outlook where both are known."""
    curve = example(name).pressure
    assert curve is not None
    for column in ("middle_bar", "upper_bar"):
        values = [getattr(row, column) for row in curve.rows]
        assert values == sorted(values)
    for point in (curve.today, curve.hottest):
        below = [row for row in curve.rows if row.temp_c <= point.temp_c][-1]
        above = next(row for row in curve.rows if row.temp_c >= point.temp_c)
        assert below.middle_bar <= point.middle_bar + 1e-9
        assert point.middle_bar <= above.middle_bar + 1e-9
        assert below.upper_bar <= point.upper_bar + 1e-9
        assert point.upper_bar <= above.upper_bar + 1e-9
    assert all(row.upper_bar >= row.middle_bar for row in curve.rows)


def test_pressure_above_the_figure_is_said_and_not_flattened() -> None:
    """Where the pressure leaves the figure, the line ends there, and the table goes on."""
    drawn = figure("bottled_too_early", "pressure")
    (upper,) = [node for node in drawn.all("path") if "plum" in node.classes]
    heights = [float(y) for y in re.findall(r"[ML]\S+ ([\d.]+)", upper.attributes["d"])]
    assert heights == sorted(heights, reverse=True)
    assert heights.count(min(heights)) == 1
    rows = table_of(drawn, "Pressure and danger")[1:]
    assert len(rows) == 21
    assert "over" in rows[-1][2]


def test_where_pressure_is_not_known_the_page_says_so() -> None:
    """Bottled without a word on sugar or volume: no figure, and the sentence that says why."""
    overview = seen(
        "batch: x\nlog:\n  - {day: 0, did: pitched}\n  - {day: 9, did: bottled}\ntoday: 12",
        "2026-11-25",
    )
    root = parsed(report_html(overview, "metric"))
    assert overview.pressure is None
    assert "count as under too much pressure" in root.text
    assert not [node for node in root.all("figure") if node.attributes["id"] == "pressure"]


@pytest.mark.parametrize("name", sorted(ASKED))
def test_units_are_those_asked_for(name: str) -> None:
    """Figures and head speak in the units asked for, and in no others."""
    wanted = {"metric": ("°C", "bar"), "us": ("°F", "psi")}
    for units, others in (("metric", wanted["us"]), ("us", wanted["metric"])):
        root = page(name, units)  # type: ignore[arg-type]
        parts = [*root.all("figure"), *root.all("header")]
        text = " ".join(part.text for part in parts)
        assert wanted[units][0] in text
        for other in others:
            assert not re.search(rf"\d {other}\b", text), other


@pytest.mark.parametrize("name", sorted(ASKED))
def test_words_keep_off_the_edges(name: str) -> None:
    """No word of a drawing begins or ends outside it, at the size a phone shows."""
    for svg in page(name, "us").all("svg"):
        for words in svg.all("text"):
            width = 6.4 * len(words.text)
            x = float(words.attributes["x"])
            anchor = words.attributes["text-anchor"]
            left = {"start": x, "middle": x - width / 2, "end": x - width}[anchor]
            assert left > -2, words.text
            assert left + width < 384, words.text


def weights_of(overview: Overview) -> dict[str, float]:
    """Return the weights of the leading cause by their label."""
    cause = overview.diagnosis.named_causes[0]
    return {weight.label: weight.decibans for weight in cause.weights if weight.what != "prior"}


@pytest.mark.parametrize("name", ["bottled_too_early", "stuck_after_cold_night", "silent_airlock"])
def test_bars_are_as_long_as_their_weights(name: str) -> None:
    """Each bar goes to its side of the middle, as long as its weight, which stands beside it."""
    known = weights_of(example(name))
    article = page(name).all("article")[0]
    rows = article.all("tbody")[0].all("tr")
    assert rows
    most = max(10.0, *(abs(value) for value in known.values()))
    for row in rows:
        label, _, said = (cell.text for cell in row.all("td"))
        decibans = known[label.replace("`", "")]
        assert numbers(said)[-1] == pytest.approx(decibans, abs=0.051)
        assert said.startswith("for," if decibans > 0 else "against,")
        (bar,) = row.all("rect")
        x, width = float(bar.attributes["x"]), float(bar.attributes["width"])
        assert width == pytest.approx(49 * abs(decibans) / most, abs=0.06)
        assert (x == 50.0) if decibans > 0 else (x + width == pytest.approx(50.0, abs=0.11))
        assert bar.classes == ["for" if decibans > 0 else "against"]


def test_chances_are_as_long_as_said() -> None:
    """The bar of a chance is filled to its share."""
    causes = example("stuck_after_cold_night").diagnosis.named_causes
    for row, cause in zip(
        page("stuck_after_cold_night").all("tbody")[0].all("tr"), causes, strict=False
    ):
        track, fill = row.all("rect")
        share = float(fill.attributes["width"]) / float(track.attributes["width"])
        if row.all("td")[0].text.startswith("None"):
            continue
        assert share == pytest.approx(cause.responsibility, abs=0.001)


@pytest.mark.parametrize(
    ("low", "high", "most", "wanted"),
    [
        (0, 15, 6, [0, 5, 10, 15]),
        (9.5, 53, 6, [10, 20, 30, 40, 50]),
        (0, 1, 5, [0, 0.2, 0.4, 0.6, 0.8, 1.0]),
        (-3, 3, 6, [-3, -2, -1, 0, 1, 2, 3]),
    ],
)
def test_ticks_are_round(low: float, high: float, most: int, wanted: list[float]) -> None:
    """Ticks are round, inside the range, and hardly more than asked for."""
    assert ticks(low, high, most) == pytest.approx(wanted)


def test_a_line_is_cut_where_it_leaves() -> None:
    """A rising line ends on the edge, at the place where it crosses it."""
    assert cut_off([(0, 0), (2, 1), (4, 3), (6, 9)], 2) == [(0, 0), (2, 1), (3.0, 2)]
    assert cut_off([(0, 0), (2, 1)], 2) == [(0, 0), (2, 1)]
    assert cut_off([(0, 5), (2, 6)], 2) == []


@pytest.mark.parametrize(
    ("decibans", "kind", "left", "right"),
    [(10.0, "for", 50.0, 99.0), (-10.0, "against", 1.0, 50.0), (-5.0, "against", 25.5, 50.0)],
)
def test_bars_go_to_their_side(decibans: float, kind: str, left: float, right: float) -> None:
    """What speaks against goes to the left of the middle, what speaks for to the right."""
    (bar,) = parsed(str(weight_bar(decibans, 10.0, "words"))).all("rect")
    x, width = float(bar.attributes["x"]), float(bar.attributes["width"])
    assert bar.classes == [kind]
    assert (x, x + width) == pytest.approx((left, right), abs=0.11)
