"""The pages without a browser: what they say is what the library says, and nothing else."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from html import unescape
from pathlib import Path
from urllib.parse import urlencode

import pytest
from tests.web.support import NOW, ROOT, Served, serving

from trubshoot.batch import read_batch
from trubshoot.batch.append import LogLine
from trubshoot.batch.plan_options import with_options
from trubshoot.batch.store import append_lines
from trubshoot.batch.verbs import DETAILS, VERBS
from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.after_log import after_log
from trubshoot.diagnosis.bottling_report import bottling_report
from trubshoot.diagnosis.plan_next import plan_next
from trubshoot.report import bottling_parts as parts
from trubshoot.report.bottling_words import verdict_line, way_lines
from trubshoot.safety import Level
from trubshoot.sentences import with_us_units
from trubshoot.web.log_forms import by_days
from trubshoot.web.log_rows import log_rows
from trubshoot.web.pages_batch import details_of
from trubshoot.web.words import DEEDS, EXAMPLES

WELL = "/batch/all_well.yaml"
# an example of each detail that is written in words
SAID = {
    **EXAMPLES,
    "temp": "20 C",
    "beer": "20 C",
    "to": "20 C",
    "volume": "19 l",
    "size": "330 ml",
    "sugar": "110 g table sugar",
    "bottles": "reused brown longneck 330 ml",
    "amount": "11 g",
}
SAID |= {"water": "tap", "grain": "500 g", "what": "bottles", "with": "boiled water"}
SAID |= {"rinsed": "yes", "where": "cellar", "count": "40", "caps": "new crown caps"}
HOT = {"steeped": "68 C", "mashed": "66 C"}


def test_a_batch_page_says_what_the_library_says(
    served: Served, diagnostician: Diagnostician
) -> None:
    """Hazards in full, next steps and verdict are those of the library for that moment."""
    for path in sorted(served.folder.glob("*.yaml")):
        batch = read_batch(path, NOW)
        diagnosis = diagnostician.diagnose(batch, NOW)
        shown = unescape(served.visitor().get(f"/batch/{path.name}").text)
        for block in diagnosis.hazards:
            for text in (block.hazard, block.consequence, *(step.do for step in block.avoid)):
                assert text.replace("`", "") in shown.replace("<code>", "").replace("</code>", "")
        for step in plan_next(diagnostician.knowledge, batch, diagnosis):
            assert step.do in shown or "`" in step.do
        if diagnosis.bottling is not None:
            assert diagnosis.bottling.word in shown


def test_every_page_of_a_batch_shows_its_hazards(
    served: Served, diagnostician: Diagnostician
) -> None:
    """Causes, filled bottles and the forms show every block in full, as the batch does."""
    path = served.folder / "bottled_too_early.yaml"
    blocks = diagnostician.diagnose(read_batch(path, NOW), NOW).hazards
    assert max(block.level for block in blocks) >= Level.WARNING
    for page in ("", "/page", "/bottles", "/noticed", "/did"):
        shown = unescape(served.visitor().get(f"/batch/{path.name}{page}").text)
        for block in blocks:
            for text in (block.hazard, *(step.do for step in block.avoid)):
                assert text.replace("`", "") in shown.replace("<code>", "").replace(
                    "</code>", ""
                ), (page, text)


def test_the_list_names_hazards_and_begins_with_the_gravest(
    diagnostician: Diagnostician, cellar: Path
) -> None:
    """The hazard itself stands in the list; what is graver stands higher, whatever its name."""
    early = (cellar / "bottled_too_early.yaml").read_text(encoding="utf-8")
    named = early.replace("batch: Lantern Street Amber", "batch: Zwickel")
    (cellar / "bottled_too_early.yaml").write_text(named, encoding="utf-8")
    with serving(diagnostician, cellar) as served:
        shown = unescape(served.visitor().get("/").text)
    levels = {}
    for path in cellar.glob("*.yaml"):
        diagnosis = diagnostician.diagnose(read_batch(path, NOW), NOW)
        place = shown.index(f"/batch/{path.name}")
        levels[place] = max(diagnosis.level, Level.NOTICE)
        grave = [one.hazard for one in diagnosis.hazards if one.level >= Level.WARNING]
        assert all(text in shown[place:] for text in grave[:1])
    order = [levels[place] for place in sorted(levels)]
    assert order == sorted(order, reverse=True)
    assert order[0] > order[-1]


def test_an_answer_is_worked_out_again_when_time_passes(
    diagnostician: Diagnostician, cellar: Path
) -> None:
    """A verdict that was kept does not stand for days: the last reading grows too old."""
    with serving(diagnostician, cellar) as served:
        batch = read_batch(cellar / "all_well.yaml", NOW)
        first = unescape(served.visitor().get(f"{WELL}/bottling").text)
        assert verdict_line(bottling_report(diagnostician, batch, NOW)).split(":")[0] in first
        later = NOW + timedelta(days=3)
        served.site.kitchen.clock = lambda: later
        report = bottling_report(diagnostician, read_batch(cellar / "all_well.yaml", later), later)
        assert report.verdict is not None
        assert "reading_too_old" in [reason.id for reason in report.verdict.reasons]
        again = unescape(served.visitor().get(f"{WELL}/bottling").text)
        for reason in report.verdict.reasons:
            assert reason.label in again


def test_the_first_link_leads_to_the_hazards(served: Served) -> None:
    """Whoever goes by the keyboard is led to the hazards, and past nothing."""
    alarmed = served.visitor().get("/batch/bottled_too_early.yaml").text
    assert alarmed.index('class="skip" href="#alarm"') < alarmed.index('id="alarm"')
    assert 'class="skip" href="#main"' in served.visitor().get("/learn").text


def test_the_bottling_page_says_what_the_library_says(
    served: Served, diagnostician: Diagnostician
) -> None:
    """The verdict and every way to GO are the lines that the terminal prints."""
    report = bottling_report(diagnostician, read_batch(served.folder / "all_well.yaml", NOW), NOW)
    shown = unescape(served.visitor().get(f"{WELL}/bottling").text)
    assert verdict_line(report).removeprefix("HOLD") in shown
    for line in way_lines(report, "us"):
        assert line in shown
    assert report.verdict is not None
    for reason in report.verdict.reasons:
        assert reason.label in shown
        assert reason.mend in shown or "`" in reason.mend


def test_the_sections_of_the_bottling_page(served: Served, diagnostician: Diagnostician) -> None:
    """Readings, gas, pressure, sugar and gaps stand on the page as the library works them out."""
    plan = {"sugar": "4 oz table sugar", "volume": "4.8 gal", "storage": "cellar 64 F"}
    plan |= {"bottles": "new longneck 12 oz", "headspace": "4 %"}
    path = served.folder / "all_well.yaml"
    text = path.read_text("utf-8")
    batch = with_options(read_batch(path, NOW), text, path.name, plan)
    report = bottling_report(diagnostician, batch, NOW)
    shown = unescape(served.visitor().get(f"{WELL}/bottling?{urlencode(plan)}").text)
    look, sugar = report.evidence.outlook, report.sugar
    assert look is not None
    assert sugar is not None
    tables = [parts.reading_rows(report), parts.pressure_rows(look, "us")]
    tables += parts.sugar_rows(sugar, "us")
    for rows in tables:
        assert len(rows) > 1
        for row in rows[1:]:
            cells = "".join(rf"<td[^>]*>{re.escape(cell)}</td>" for cell in row)
            assert re.search(cells, shown), row
    for line in (*parts.finished_lines(report), *parts.gas_lines(report, look, "us")):
        assert with_us_units(line, "us") in shown
    for heading in ("Is it finished?", "Gas and pressure, with this plan", "Missing or assumed"):
        assert f">{heading}</h2>" in shown
    assert f">Sugar for {sugar.target_vols:.1f} volumes</h2>" in shown
    for line in parts.assumed_lines(report, "us"):
        assert with_us_units(line, "us") in shown.replace("<code>", "`").replace("</code>", "`")


def test_sentences_speak_the_units_of_the_batch(served: Served) -> None:
    """A batch in US units has psi in its hazard block too; a metric one has none."""
    path = served.folder / "bottled_too_early.yaml"
    shown = served.visitor().get(f"/batch/{path.name}").text
    assert re.search(r"\d psi over the danger limit", shown)
    assert not re.search(r"\d bar over", shown)
    metric = served.folder / "metric.yaml"
    text = path.read_text("utf-8").replace("units: us", "units: metric")
    metric.write_text(re.sub(r"(?m)^(\s*batch: ).*", r"\1Metric", text), "utf-8")
    try:
        again = served.visitor().get("/batch/metric.yaml").text
        assert "psi" not in again.split("<main")[0]
    finally:
        metric.unlink()


def test_a_logged_line_and_its_answer_are_those_of_the_command(
    diagnostician: Diagnostician, cellar: Path
) -> None:
    """A form writes the very bytes that the appender writes, and tells the same changes."""
    twin = cellar.parent / "twin.yaml"
    twin.write_bytes((cellar / "all_well.yaml").read_bytes())
    line = LogLine((("at", f"{NOW:%Y-%m-%d %H:%M}"), ("saw", "a white film"), ("in", "fermenter")))
    written = append_lines(twin, lambda _: [line], NOW)
    told = after_log(diagnostician, written, NOW, "us")
    with serving(diagnostician, cellar) as served:
        visitor = served.visitor()
        fields = {"sense": "saw", "text": "a white film", "in": "fermenter"}
        shown = unescape(visitor.follow(visitor.post(f"{WELL}/noticed", fields)).text)
    assert (cellar / "all_well.yaml").read_bytes() == twin.read_bytes()
    assert len(told.sentences) > 1
    for sentence in told.sentences:
        assert sentence.removeprefix("- ") in shown


@pytest.mark.parametrize(
    ("fields", "lines"),
    [
        ({"gravity": "1.011"}, ["gravity: 1.011"]),
        ({"temp": "67"}, ["beer: 67"]),
        ({"temp": "67 F", "of_what": "room"}, ["room: 67 F"]),
        ({"gravity": "1011", "temp": "67"}, ["gravity: 1011, sample: 67", "beer: 67"]),
        ({"gravity": "1.011", "temp": "67", "of_what": "sample"}, ["gravity: 1.011, sample: 67"]),
        ({"gravity": "1.011", "temp": "67", "of_what": "beer"}, ["gravity: 1.011", "beer: 67"]),
        (
            {"gravity": "1.011", "with": "hydrometer", "degassed": "yes", "of": "forced test"},
            ["gravity: 1.011, with: hydrometer, of: forced test, degassed: yes"],
        ),
        ({"gravity": "1.011", "at": "yesterday 20:00"}, ["gravity: 1.011"]),
    ],
)
def test_what_a_reading_writes(served: Served, fields: dict[str, str], lines: list[str]) -> None:
    """Each way of filling in the form gives just its lines, at the right time."""
    path = served.folder / "all_well.yaml"
    before = path.read_bytes()
    try:
        assert served.visitor().post(f"{WELL}/reading", fields).status == 303
        added = path.read_text("utf-8").removeprefix(before.decode("utf-8")).splitlines()
        at = NOW - timedelta(hours=22) if "at" in fields else NOW
        assert added == [f"  - {{at: {at:%Y-%m-%d %H:%M}, {line}}}" for line in lines]
    finally:
        path.write_bytes(before)


@pytest.mark.parametrize(
    "fields",
    [
        {},
        {"gravity": "beer"},
        {"gravity": "1.5"},
        {"temp": "20"},  # in a file in US units: asked whether Celsius was meant
        {"temp": "67", "of_what": "sample"},
        {"temp": "67", "of_what": "elsewhere"},
        {"gravity": "1.011", "at": "tomorrow"},
        {"gravity": "1.011", "at": "2026-12-24"},
        {"gravity": "1.011", "with": "a spoon"},
        {"gravity": "1.011", "at": "2026-09-01", "day": "3"},
    ],
)
def test_what_cannot_be_a_reading_is_refused(served: Served, fields: dict[str, str]) -> None:
    """Nothing is written, and the page says why."""
    before = (served.folder / "all_well.yaml").read_bytes()
    told = served.visitor().post(f"{WELL}/reading", fields)
    assert told.status == 422
    assert "Nothing was written" in told.text
    assert (served.folder / "all_well.yaml").read_bytes() == before


def test_a_log_by_days_asks_for_the_day(diagnostician: Diagnostician, cellar: Path) -> None:
    """Where the log counts days the form asks for the day, and refuses a line without one."""
    (cellar / "days.yaml").write_text("batch: By days\nlog:\n  - {day: 0, did: pitched}\n", "utf-8")
    assert by_days(read_batch(cellar / "days.yaml"))
    with serving(diagnostician, cellar) as served:
        visitor = served.visitor()
        assert 'name="day"' in visitor.get("/batch/days.yaml").text
        assert 'name="day"' not in visitor.get(WELL).text
        told = visitor.post("/batch/days.yaml/reading", {"gravity": "1.011"})
        assert told.status == 422
        assert "which day" in told.text
        assert "--day" not in told.text
        fields = {"gravity": "1.011", "day": "12"}
        assert visitor.post("/batch/days.yaml/reading", fields).status == 303
    assert read_batch(cellar / "days.yaml").log[-1].day == 12


@pytest.mark.parametrize("verb", VERBS)
def test_every_deed_has_its_form(verb: str, served: Served) -> None:
    """Each deed stands in one group; its form, filled in with its own examples, can be read."""
    assert [verb in verbs for _, _, verbs in DEEDS].count(True) == 1
    page = served.visitor().get(f"{WELL}/did?verb={verb.replace(' ', '+')}").text
    details = details_of(verb)
    assert [one["name"] for one in details] == list(DETAILS[verb])
    log = [f"did: {verb}"]
    for one in details:
        assert f'name="{one["name"]}"' in page
        for value, _ in one["choices"]:
            text = (
                f"batch: x\nlog: [{{day: 1, did: {verb}, {one['name']}: {value or 'unknown'}}}]\n"
            )
            assert read_batch(text).log[0]
        if not one["choices"]:
            said = HOT.get(verb, SAID[one["name"]]) if one["name"] == "temp" else SAID[one["name"]]
            if (verb, one["name"]) in (("steeped", "water"), ("mashed", "water")):
                said = "2 l"
            log.append(f'{one["name"]}: "{said.split(" or ")[0]}"')
    assert read_batch(f"batch: x\nlog: [{{day: 1, {', '.join(log)}}}]\n").log[0]


def test_a_file_that_cannot_be_read_still_warns(diagnostician: Diagnostician, cellar: Path) -> None:
    """Its page shows the hazards that its words name and every problem, and offers no form."""
    (cellar / "bad.yaml").write_text(
        "batch: x\nlog:\n  - {day: 3, saww: one bottle exploded}\n", "utf-8"
    )
    with serving(diagnostician, cellar) as served:
        visitor = served.visitor()
        page = visitor.get("/batch/bad.yaml").text
        assert page.index("DANGER") < page.index("<h1")
        assert "saww" in page
        assert "Treat sealed bottles as suspect" in page
        assert 'name="gravity"' not in page
        told = visitor.get("/batch/bad.yaml/bottling")
        assert told.status == 422
        assert "HOLD" in told.text
        assert "DANGER" in told.text
        assert "DANGER" in visitor.get("/").text


def test_a_fault_inside_ends_as_hold(
    diagnostician: Diagnostician, cellar: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the assessment breaks off, the page shows its hazard block and HOLD, never nothing."""

    def broken(*_: object) -> None:
        raise ZeroDivisionError("on purpose")

    with serving(diagnostician, cellar) as served:
        monkeypatch.setattr(diagnostician, "diagnose", broken)
        monkeypatch.setattr(diagnostician, "bottling", broken)
        visitor = served.visitor()
        page = visitor.get(WELL)
        assert 'class="hazard' in page.text
        assert "on purpose" in page.text
        assert "Treat sealed bottles as suspect" in page.text
        told = visitor.get(f"{WELL}/bottling")
        assert told.status == 500
        assert "HOLD" in told.text
        assert 'class="hazard' in told.text
        assert visitor.get("/batch/flat_and_cold.yaml/bottles").status == 500
        assert "Traceback" not in page.text + told.text


def test_words_of_a_refused_line_still_warn(served: Served) -> None:
    """A line that is not taken brings the hazard that its words name, before the complaint."""
    fields = {"sense": "saw", "text": "my hand is bleeding", "at": "never"}
    told = served.visitor().post(f"{WELL}/noticed", fields)
    assert told.status == 422
    assert told.text.index("DANGER") < told.text.index("Nothing was written")
    assert "my hand is bleeding" in told.text


def test_an_older_page_of_an_interview_goes_on_from_its_place(served: Served) -> None:
    """The browser's own way back works: what is sent from an older page is answered there."""
    visitor = served.visitor()
    talk = visitor.post("/interview/begin", {}).headers["location"]

    def say(step: int, **fields: str) -> str:
        sent = visitor.post(f"{talk}/answer", {"step": str(step), **fields})
        return unescape(visitor.follow(sent).text)

    say(0, answer="words", words="smells of butter")
    first = say(1, answer="yes")
    say(2, answer="1")
    again = say(1, answer="yes")
    cut = "<h1>"
    assert first.split(cut)[1].split("</h1>")[0] == again.split(cut)[1].split("</h1>")[0]
    assert 'name="step" value="2"' in again


def test_an_interview_about_a_file_adds_to_its_log(
    diagnostician: Diagnostician, cellar: Path
) -> None:
    """Answers about a batch of the cellar are offered to its log, and written once."""
    path = cellar / "all_well.yaml"
    before = len(read_batch(path).log)
    with serving(diagnostician, cellar) as served:
        visitor = served.visitor()
        talk = visitor.post("/interview/begin", {"file": "all_well.yaml"}).headers["location"]
        said = {"step": "0", "answer": "words", "words": "a white film on top"}
        visitor.post(f"{talk}/answer", said)
        visitor.post(f"{talk}/answer", {"step": "1", "answer": "yes"})
        visitor.post(f"{talk}/enough", {})
        assert "Add 1 line to the log" in visitor.get(talk).text
        for _ in range(2):
            assert visitor.post(f"{talk}/save", {}).headers["location"] == WELL
    assert len(read_batch(path).log) == before + 1


def test_every_gone_page_says_so(served: Served) -> None:
    """Interviews, batches and deeds that are not there are answered with a page, not a fault."""
    visitor = served.visitor()
    for path in (
        "/interview/gone",
        "/batch/gone.yaml",
        "/batch/gone.yaml/page",
        f"{WELL}/did?verb=x",
    ):
        told = visitor.get(path)
        assert told.status == 404
        assert "To the batches" in told.text
    assert visitor.post("/interview/gone/answer", {}).status == 404
    assert visitor.post("/interview/begin", {"file": "gone.yaml"}).status == 404
    assert visitor.post("/batch/gone.yaml/undo", {}).status == 404


def test_log_rows_are_as_written() -> None:
    """Lines of a log are shown with their own words, whatever form they are written in."""
    raw = b"batch: x\nlog:\n  - at: 2026-03-07\n    saw: [a, b]\n"
    raw += b"  - {day: 2, did: pitched, beer: 20 C}\n"
    rows = [(row.when, row.verb, row.words) for row in log_rows(raw)]
    assert rows == [("2026-03-07", "saw", "a; b"), ("day 2", "", "pitched, beer 20 C")]
    assert log_rows(b"log: 5") == log_rows(b"\t- broken") == log_rows(b"\xff\xfe") == []


def test_caution_at_bottles_folds_the_reading_away(
    diagnostician: Diagnostician, cellar: Path
) -> None:
    """A bottled batch with no more than CAUTION leads nobody to a bottle either."""
    example = ROOT / "docs" / "examples" / "all_well_bottled.yaml"
    (cellar / "watched.yaml").write_bytes(example.read_bytes())
    with serving(diagnostician, cellar) as served:
        when = datetime(2026, 10, 20, 18)
        served.site.kitchen.clock = lambda: when
        batch = read_batch(cellar / "watched.yaml", when)
        assert diagnostician.diagnose(batch, when).level == Level.CAUTION
        shown = served.visitor().get("/batch/watched.yaml").text
        assert shown.index("I noticed something") < shown.index('name="gravity"')


def test_nobody_is_led_to_suspect_bottles(served: Served) -> None:
    """Where a hazard says to leave the bottles, a reading is not asked for; it is folded away."""
    visitor = served.visitor()
    alarmed = visitor.get("/batch/bottled_too_early.yaml").text
    assert "Log what you notice" in alarmed
    assert alarmed.index("I noticed something") < alarmed.index('name="gravity"')
    assert "<details><summary>A reading that was taken before" in alarmed
    calm = visitor.get(WELL).text
    assert "Log a reading" in calm
    assert calm.index('name="gravity"') < calm.index("I noticed something")
