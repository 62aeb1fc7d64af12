"""The report as a page: one file, hazards first, readable by everybody, nothing slips through."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from dataclasses import replace
from itertools import pairwise

import pytest
from tests.report.page.support import (
    ASKED,
    ROOT,
    Node,
    example,
    html,
    long_log,
    page,
    parsed,
    seen,
)

from trubshoot.report import wording
from trubshoot.report.page.cause_words import WITHHELD
from trubshoot.report.page.document import failure_html, report_html
from trubshoot.report.page.fragments import hazard_fragment
from trubshoot.report.page.markdown import report_markdown
from trubshoot.safety import Level

NAMES = sorted(ASKED)
EVIL = "</style></title><script>alert(1)</script><img src=x onerror=alert(2)>\\\"'><svg onload=a()>"


def own_parts(root: Node) -> list[Node]:
    """Return every element, after checking that none can run, fetch or restyle anything."""
    for node in root.all():
        assert node.tag not in ("script", "iframe", "object", "embed", "link", "img", "form", "a")
        for name, value in node.attributes.items():
            assert not name.startswith("on"), (node.tag, name)
            assert name not in ("style", "href", "src", "srcset", "action", "xlink:href"), name
            assert "//" not in value, (node.tag, name, value)
    return root.all()


@pytest.mark.parametrize("name", NAMES)
def test_page_needs_nothing_and_runs_nothing(name: str) -> None:
    """No script, no handler, no style attribute, no address: a page that only stands there."""
    assert own_parts(page(name))


@pytest.mark.parametrize("name", NAMES)
def test_head_says_language_letters_and_width(name: str) -> None:
    """Language, letters and the width of a phone are said, and a policy forbids the rest."""
    root = page(name)
    (top,) = root.all("html")
    assert top.attributes["lang"] == "en"
    metas = {
        node.attributes.get("name", node.attributes.get("http-equiv", "charset")): node.attributes
        for node in root.all("meta")
    }
    assert metas["charset"]["charset"] == "utf-8"
    assert "width=device-width" in metas["viewport"]["content"]
    assert "default-src 'none'" in metas["Content-Security-Policy"]["content"]
    assert html(name).startswith("<!DOCTYPE html>")
    assert example(name).diagnosis.batch in root.all("title")[0].text


@pytest.mark.parametrize("name", NAMES)
def test_headings_are_in_order(name: str) -> None:
    """One heading of the first rank comes first, and no rank is left out on the way down."""
    ranks = [int(node.tag[1]) for node in page(name).all("h1", "h2", "h3", "h4", "h5", "h6")]
    assert ranks[0] == 1
    assert ranks.count(1) == 1
    for before, after in pairwise(ranks):
        assert after <= before + 1, ranks


@pytest.mark.parametrize("name", NAMES)
def test_hazards_stand_first(name: str) -> None:
    """Nothing can be seen before the first hazard block, and all words of the blocks are there."""
    root = page(name)
    blocks = example(name).diagnosis.hazards
    sections = [node for node in root.all("section") if "hazard" in node.classes]
    assert len(sections) == len(blocks)
    (body,) = root.all("body")
    first = body.children[0].children[0]
    if blocks:
        assert first.classes == ["alarm"]
        assert [node for node in first.children if "hidden" not in node.classes] == sections
    for section, block in zip(sections, blocks, strict=True):
        assert section.classes == ["hazard", block.level.name.lower()]
        assert section.all("h2")[0].text == f"{block.level.name} {block.hazard}".replace("`", "")
        steps = [item.text for item in section.all("ol")[0].all("li")]
        assert steps == [step.do.replace("`", "") for step in block.avoid]
        for words in (block.consequence, block.if_hurt, *block.because, *block.unknown):
            assert " ".join(words.replace("`", "").split()) in section.text


def test_no_chance_stands_in_a_hazard_block() -> None:
    """A hazard block names what to do, never how likely it is."""
    for name in NAMES:
        for section in page(name).all("section"):
            if "hazard" in section.classes:
                assert not re.search(r"\d ?%|likely", section.text), section.text


def test_hazards_cannot_be_put_away() -> None:
    """No hazard block stands in something that folds, and nothing in it can be folded."""
    for section in page("bottled_too_early").all("section"):
        if "hazard" in section.classes:
            assert section.up("details") is None
            assert not section.all("details", "input", "button", "dialog")


def test_level_is_said_by_word_and_shape() -> None:
    """The level of a hazard is a word and a sign of its own, so that colour only repeats it."""
    block = example("bottled_too_early").diagnosis.hazards[0]
    shapes = set()
    for level in (Level.NOTICE, Level.CAUTION, Level.WARNING, Level.DANGER):
        root = parsed(str(hazard_fragment([replace(block, level=level)])))
        assert root.all("h2")[0].text.startswith(level.name)
        shapes.add(root.all("path")[0].attributes["d"])
    assert len(shapes) == 4


@pytest.mark.parametrize("name", NAMES)
def test_every_drawing_has_words_and_numbers(name: str) -> None:
    """A drawing has a title and a description, and beside it its words and its numbers."""
    root = page(name)
    drawn = root.all("svg")
    assert drawn
    for svg in drawn:
        if svg.attributes.get("aria-hidden") == "true":
            assert svg.parent is not None
            assert svg.parent.text  # the word that the sign repeats
            continue
        assert svg.attributes["role"] == "img"
        (title,) = svg.all("title")
        assert title.text
        figure = svg.up("figure")
        if figure is None:  # a bar in a table: its own row says it in words
            row = svg.up("tr")
            assert row is not None
            assert title.text in row.all("td")[-1].text
            continue
        for key in svg.attributes["aria-labelledby"].split():
            assert root.by_id(key).text
        (words,) = svg.all("desc")
        assert len(words.text) > 40
        assert [node for node in figure.all("p") if node.text == words.text]
        (folded,) = figure.all("details")
        assert folded.children[0].tag == "summary"
        assert folded.all("table")


@pytest.mark.parametrize("name", NAMES)
def test_every_table_has_heads_and_even_rows(name: str) -> None:
    """Each table has a caption, heads for its columns, and as many cells in every row."""
    for table in page(name).all("table"):
        assert table.all("caption")[0].text
        rows = [len(row.all("th", "td")) for row in table.all("tr")]
        assert len(set(rows)) == 1
        assert all(head.attributes["scope"] == "col" for head in table.all("th"))
        assert len(table.all("th")) == rows[0]


@pytest.mark.parametrize("name", NAMES)
def test_what_scrolls_can_be_reached_by_the_keyboard(name: str) -> None:
    """A table that may be wider than a phone lies in a named region that takes the focus."""
    regions = [node for node in page(name).all("div") if "wide" in node.classes]
    assert regions
    for region in regions:
        assert region.attributes["tabindex"] == "0"
        assert region.attributes["role"] == "region"
        assert region.attributes["aria-label"] == region.all("caption")[0].text
    order = [node.attributes.get("tabindex", "0") for node in page(name).all()]
    assert set(order) == {"0"}  # the order of the keyboard is the order of the page


@pytest.mark.parametrize("name", NAMES)
def test_ids_are_unique_and_references_lead_somewhere(name: str) -> None:
    """No id stands twice, and every label that is named exists."""
    nodes = page(name).all()
    ids = [node.attributes["id"] for node in nodes if "id" in node.attributes]
    assert len(set(ids)) == len(ids)
    for node in nodes:
        assert set(node.attributes.get("aria-labelledby", "").split()) <= set(ids)


@pytest.mark.parametrize("name", NAMES)
def test_what_was_concluded_is_on_the_page(name: str) -> None:
    """Causes with their chances, next steps, reasons, gaps and sources are those of the result."""
    overview = example(name)
    diagnosis = overview.diagnosis
    text = page(name).text.replace("`", "")

    def said(words: str) -> bool:
        return " ".join(words.replace("`", "").split()) in text

    up = any(state.up for state in diagnosis.findings)
    for cause in diagnosis.named_causes[: wording.SHOWN_CAUSES] if up else ():
        assert said(cause.label)
        assert said(wording.percent(cause.responsibility))
    for step in overview.next_steps:
        assert said(step.do)
    if diagnosis.bottling is not None:
        assert said(diagnosis.bottling.word)
        for reason in diagnosis.bottling.reasons:
            assert said(reason.mend)
    for gap in diagnosis.evidence.missing:
        assert said(gap.what)
    for source in overview.sources if up else ():
        assert said(source.key)


@pytest.mark.parametrize("name", NAMES)
def test_head_of_the_page_says_what_it_is_about(name: str) -> None:
    """Name, day of asking, latest gravity and verdict stand in the head."""
    (head,) = page(name).all("header")
    diagnosis = example(name).diagnosis
    assert diagnosis.batch in head.text
    cells = zip(head.all("dt"), head.all("dd"), strict=True)
    told = {label.text: value.text for label, value in cells}
    assert told["Asked"] == wording.date_text(diagnosis.asked_at)
    last = diagnosis.evidence.readings[-1]
    assert told["Latest gravity"].startswith(f"{1 + last.points / 1000:.3f} on day ")
    assert told.get("Bottling") == (diagnosis.bottling.word if diagnosis.bottling else None)


def test_advice_held_back_by_a_hazard_is_held_back_here() -> None:
    """Every step shown under a cause is one that the result left standing."""
    diagnosis = example("bottled_too_early").diagnosis
    left = {step for cause in diagnosis.causes for step in cause.advice.steps}
    shown = [
        item.text
        for article in page("bottled_too_early").all("article")
        for listed in article.all("ul")
        for item in listed.all("li")
    ]
    assert shown
    assert set(shown) <= left


def test_steps_left_out_are_said_to_be() -> None:
    """Where a hazard leaves steps out the page says so, so that nobody takes the rest for all."""
    whole = example("bottled_too_early")
    assert WITHHELD not in page("bottled_too_early").text
    first, *others = whole.diagnosis.causes
    cut = replace(first, advice=replace(first.advice, withheld=1))
    seen_cut = replace(whole, diagnosis=replace(whole.diagnosis, causes=(cut, *others)))
    shown = parsed(report_html(seen_cut, "metric"))
    assert [item.text for item in shown.all("li")].count(WITHHELD) == 1
    assert f"- {WITHHELD}" in report_markdown(seen_cut, "metric")


@pytest.mark.parametrize("name", NAMES)
def test_steps_that_causes_point_at_are_marked(name: str) -> None:
    """In the process exactly the steps of named causes are marked, by words and not by colour."""
    marked = {
        item.all("span")[0].text
        for item in page(name).by_id("process-head").up("section").all("li")  # type: ignore[union-attr]
        if "pointed" in item.classes
    }
    named = {cause.step_label for cause in example(name).diagnosis.named_causes}
    assert marked == named
    for item in page(name).all("li"):
        if "pointed" in item.classes:
            assert "points here" in item.text


def test_nothing_is_called_fit_to_drink() -> None:
    """No page calls a beer or bottle safe, harmless or fine, whatever the log looks like."""
    for name in NAMES:
        assert not re.search(r"\b(safe|harmless|fine) to drink|\bis safe\b", page(name).text)


def evil_batch() -> str:
    """Return a batch in which every field that takes text tries to break out of the page."""
    word = '"' + EVIL + '"'
    return f"""
batch: {word}
style: {word}
wort: {{kind: {word}, water: {word}, water_treatment: {word}}}
fermentables: [{{what: {word}}}]
hops: [{{what: {word}, use: {word}}}]
yeast: {{class: {word}, stored: {word}}}
vessel: {{kind: {word}}}
bottles: {{kind: {word}, closure: {word}}}
storage: {{where: {word}}}
sanitizing: {{with: {word}, cleaner: {word}}}
room: {{where: {word}}}
circumstances: [{word}]
log:
  - {{day: 0, gravity: 1.050}}
  - {{day: 0, did: pitched}}
  - {{day: 0, did: added, what: {word}}}
  - {{day: 0, did: cleaned, with: {word}, what: {word}}}
  - {{day: 1, did: {word}}}
  - {{day: 2, saw: {word}}}
  - {{day: 2, smelled: {word}}}
  - {{day: 2, tasted: {word}}}
  - {{day: 2, no_sign_of: {word}}}
  - {{day: 2, note: {word}}}
  - {{day: 3, beer: 20 C}}
  - {{day: 7, did: bottled, sugar: 100 g table sugar, volume: 18 l, caps: {word}}}
  - {{day: 8, did: stored, where: {word}}}
today: 9
"""


def test_text_of_a_batch_stays_text() -> None:
    """Mark-up written into every text field of a batch is shown as it was written, and is none."""
    overview = seen(evil_batch(), "2026-11-25")
    text = report_html(overview, "metric")
    root = parsed(text)
    own_parts(root)
    assert "<script" not in text
    assert "<img" not in text
    assert root.text.count("<script>alert(1)</script>") >= 6  # name, style, deeds, words
    plain = parsed(html("bottled_too_early"))
    assert {node.tag for node in root.all()} <= {node.tag for node in plain.all()} | {"h4"}


def test_text_of_an_unreadable_file_stays_text() -> None:
    """The page about a file that cannot be read shows its name and problems as text."""
    block = example("bottled_too_early").diagnosis.hazards[0]
    root = parsed(failure_html(EVIL, [block], [EVIL]))
    own_parts(root)
    assert root.all("h1")[0].classes == ["hidden"]
    assert root.all("h2")[0].text.startswith("WARNING")
    assert EVIL in root.text


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("units", ["us", "metric"])
def test_a_report_is_small(name: str, units: str) -> None:
    """A report is below 150 kB, and most of it is not style."""
    size = len(html(name, units).encode())  # type: ignore[arg-type]
    assert 20_000 < size < 80_000


def test_a_report_of_a_long_log_is_small_too() -> None:
    """A thousand readings thin out in figures and tables, which say so; the extremes stay."""
    overview = seen(long_log(1000), "2026-11-25")
    text = report_html(overview, "metric")
    assert len(text.encode()) < 100_000
    root = parsed(text)
    assert "of 1001, evenly spread" in root.by_id("gravity").text
    assert [row for row in root.by_id("temperature").all("tr") if "31 °C" in row.text]


def test_a_log_of_many_remarks_is_cut_and_says_so() -> None:
    """Hundreds of remarks do not make a page endless."""
    remarks = "".join(f"  - {{day: 1, saw: strange thing {n}}}\n" for n in range(300))
    overview = seen(f"batch: talk\nlog:\n  - {{day: 0, did: pitched}}\n{remarks}", "2026-11-25")
    text = report_html(overview, "metric")
    assert len(text.encode()) < 100_000
    assert "more of the kind" in text


def test_the_same_batch_gives_the_same_bytes() -> None:
    """Two processes, with other hashes of their own, write the same report."""
    code = (
        "import sys; sys.path[:0] = ['src', '.']\n"
        "from tests.report.page.support import ASKED, html\n"
        "import hashlib\n"
        "pages = ''.join(html(name) for name in sorted(ASKED))\n"
        "print(hashlib.sha256(pages.encode()).hexdigest())"
    )
    found = {
        subprocess.run(
            [sys.executable, "-c", code],
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=True,
            env={"PYTHONHASHSEED": number, "PATH": "", **_cache()},
        ).stdout
        for number in ("1", "2")
    }
    assert len(found) == 1


def _cache() -> dict[str, str]:
    return {key: os.environ[key] for key in ("XDG_CACHE_HOME", "HOME") if key in os.environ}


def test_a_bare_batch_has_a_page() -> None:
    """A batch of which only the name is known has a page that says that there is nothing."""
    root = parsed(report_html(seen("batch: bare", "2026-11-25"), "metric"))
    assert "There is nothing to go on" in root.text
    assert not root.all("figure")
