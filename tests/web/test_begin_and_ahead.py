"""Beginning a batch, what-if and plan on pages, by the same calls as the terminal."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from playwright.sync_api import expect as seen
from tests.web.support import (
    DESK,
    NOW,
    PHONE,
    TOO_SMALL,
    Open,
    Served,
    click,
    serious,
    serving,
)

from trubshoot.batch import new_sheet, read_batch
from trubshoot.diagnosis import Diagnostician
from trubshoot.learning.draft import Draft
from trubshoot.learning.plan import brew_plan
from trubshoot.learning.whatif import whatif
from trubshoot.report import plan_words
from trubshoot.web import cellar as cellars
from trubshoot.web.guard import Form
from trubshoot.web.pages_new import read

pytestmark = pytest.mark.usefixtures("as_it_was")


@pytest.mark.parametrize("script", [True, False])
def test_a_batch_is_begun(open_page: Open, served: Served, axe: str, script: bool) -> None:
    """From the list to a new file, with and without JavaScript; what is unreadable comes twice."""
    with open_page(PHONE, script=script) as page:
        page.goto("/")
        page.get_by_role("link", name="Begin a batch").click()
        page.get_by_label("Name of the batch").fill("Porch Bitter: No. 1")
        page.get_by_label("Units").select_option("us")
        page.get_by_label("How much wort in the fermenter").fill("5")
        page.get_by_label("Malt, extract and sugar").fill("3 lb light malt extract\n1 lb sugar")
        page.get_by_label("How much yeast").fill("a handful")
        page.get_by_label("Yeast dry, liquid or slurry").select_option("dry")
        click(page, "Begin the batch")
        alert = page.get_by_role("alert")
        assert "Nothing was written yet" in alert.inner_text()
        assert "How much yeast" in alert.inner_text()
        wrong = page.get_by_label("How much yeast")
        assert wrong.get_attribute("aria-invalid") == "true"
        assert (wrong.input_value(), page.get_by_label("Units").input_value()) == (
            "a handful",
            "us",
        )
        assert not (served.folder / "porch_bitter_no_1.yaml").exists()
        if script:
            assert serious(page, axe) == []
            assert page.evaluate(TOO_SMALL) == []
        click(page, "Begin the batch")
        seen(page.get_by_role("heading", level=1)).to_have_text("Porch Bitter: No. 1")
        seen(page.locator("#told")).to_contain_text("Wrote porch_bitter_no_1.yaml")
        seen(page.locator("#told")).to_contain_text("Style of beer")
    text = (served.folder / "porch_bitter_no_1.yaml").read_text("utf-8")
    batch = read_batch(served.folder / "porch_bitter_no_1.yaml")
    assert batch.units == "us"
    assert batch.wort.volume_l == pytest.approx(18.927, abs=0.01)
    assert [item.what for item in batch.fermentables] == ["light malt extract", "sugar"]
    assert "# answered: a handful" in text


def test_the_page_and_the_terminal_write_the_same_file(served: Served) -> None:
    """The page writes, byte for byte, what the sheet of the command `new` is."""
    visitor = served.visitor()
    fields = {"batch": "Twin", "wort.volume": "19 l", "storage.where": "cellar", "style": "?"}
    told = visitor.post("/new", {**fields, "style": "pale ale"})
    assert told.status == 303
    answers = {key: [value] for key, value in {**fields, "style": "pale ale"}.items()}
    sheet = new_sheet.sheet("twin.yaml", answers, {})
    assert (served.folder / "twin.yaml").read_text("utf-8") == sheet
    assert {place for _, heads in _groups() for place in heads} == {
        question.place.partition(".")[0] for question in new_sheet.QUESTIONS
    }


def _groups() -> tuple[tuple[str, tuple[str, ...]], ...]:
    from trubshoot.web.words import NEW_GROUPS

    return NEW_GROUPS


def test_what_is_asked_again_is_kept_as_a_remark_only_then() -> None:
    """A field that was not asked again is not kept as a remark; "don't know" is no answer."""
    fields = {"wort.volume": ("a bucket full",), "yeast.amount": ("furlongs",)}
    filled = read(Form({**fields, "again": ("wort.volume",), "style": ("Don't know",)}))
    assert filled.remarks == {"wort.volume": "a bucket full"}
    assert set(filled.wrong) == {"yeast.amount"}
    assert "style" not in filled.answers
    listed = read(Form({"fermentables": ("1 kg malt\r\nyes\r\n",), "again": ("fermentables",)}))
    assert listed.answers["fermentables"] == ["1 kg malt"]
    text = new_sheet.sheet("x.yaml", {**listed.answers, "batch": ["x"]}, listed.remarks)
    assert listed.remarks == {"fermentables": "yes"}
    assert "  # answered: yes\n" in text


SCRIPT = "<script>alert(1)</script>'\"{{7*7}}"


def test_attacks_on_a_new_batch(
    diagnostician: Diagnostician, cellar: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Paths, taken names, script, YAML, a stranger's form, a full folder: none gets through."""
    outside = cellar.parent / "outside.yaml"
    (cellar / "linked.yaml").symlink_to(outside)
    before = {path.name: path.read_bytes() for path in cellar.glob("[a-k]*.yaml")}
    with serving(diagnostician, cellar) as served:
        visitor = served.visitor()
        told = visitor.post("/new", {"batch": "All well"})
        assert told.status == 422
        assert "is there already" in told.text
        assert 'value="All well"' in told.text
        assert visitor.post("/new", {"batch": "linked"}).status == 422
        assert not outside.exists()
        told = visitor.post("/new", {"batch": "../../evil.yaml"})
        assert told.headers["location"].startswith("/batch/evil_yaml.yaml")
        told = visitor.post("/new", {"batch": "\u5564\u9152"})
        assert told.headers["location"].startswith("/batch/my_batch.yaml")
        texts = {question.place: SCRIPT for question in new_sheet.QUESTIONS}
        shown = visitor.post("/new", texts)
        assert shown.status == 422
        asked = re.findall(r'name="again" value="([^"]+)"', shown.text)
        assert "wort.volume" in asked
        fields = [("token", shown.token), *texts.items(), *(("again", one) for one in asked)]
        pages = [shown, visitor.follow(visitor.post("/new", fields))]
        tricks = {"batch": "trick", "style": "x, beer: 90 C}", "storage.where": "a\n- {b: c}"}
        tricks |= {"wort.water": "&a *a !!python/object:x", "sanitizing.with": "'\"\\ # c"}
        pages.append(visitor.follow(visitor.post("/new", tricks)))
        for one in pages:
            assert "<script>alert" not in one.text
            assert ">49" not in one.text
            assert "Traceback" not in one.text
        batch = read_batch(cellar / "trick.yaml")
        assert (batch.style, batch.storage.where) == ("x, beer: 90 C}", "a - {b: c}")
        assert batch.wort.water == "&a *a !!python/object:x"
        assert batch.sanitizing.agent == "'\"\\ # c"
        assert visitor.post("/new", {"batch": "x"}, {"Origin": "http://evil.example"}).status == 403
        assert visitor.post("/new", {"batch": "x", "token": "0" * 64}).status == 403
        page = visitor.get("/new")
        fields = {"token": page.token, "once": page.once, "batch": "Once only"}
        with ThreadPoolExecutor(6) as pool:
            sent = list(pool.map(lambda _: visitor.post("/new", fields), range(6)))
        assert {one.status for one in sent} == {303}
        monkeypatch.setattr(cellars, "MOST_FILES", 3)
        told = visitor.post("/new", {"batch": "One too many"})
        assert told.status == 422
        assert "another folder" in told.text
    assert not (cellar / "one_too_many.yaml").exists()
    assert not (cellar.parent / "evil.yaml").exists()
    assert {path.name: path.read_bytes() for path in cellar.glob("[a-k]*.yaml")}.items() >= (
        before.items()
    )


def test_a_hazard_in_refused_answers_stands_first(served: Served) -> None:
    """Answers that are shown again and name a hazard bring its block before the questions."""
    fields = {"batch": "Boom", "storage.where": "a bottle exploded there", "wort.volume": "much"}
    told = served.visitor().post("/new", fields)
    assert told.status == 422
    assert 0 < told.text.index('class="hazard') < told.text.index("<h1>")


# --- looking ahead


def test_a_what_if_by_hand_and_by_button(open_page: Open, served: Served, axe: str) -> None:
    """A change is written, a proposed one is tapped, a wrong one is answered; the file stays."""
    before = (served.folder / "all_well.yaml").read_bytes()
    with open_page(PHONE) as page:
        page.goto("/batch/all_well.yaml")
        page.get_by_role("link", name="What if?").click()
        page.get_by_label("Changes, one a line").fill("pitched at 28 C\nbeer 27 C")
        click(page, "Show what it changes")
        seen(page.get_by_role("heading", name="Changed", exact=True)).to_be_visible()
        seen(page.locator("main")).to_contain_text("Hot, burning alcohol")
        assert page.locator("dl.numbers dt").count() > 1
        assert page.evaluate("document.documentElement.scrollWidth") == PHONE[0]
        page.locator("section", has_text="Or try what costs least").get_by_role(
            "link"
        ).first.click()
        seen(page.get_by_role("heading", name="Changed", exact=True)).to_be_visible()
        page.get_by_label("Changes, one a line").fill("furlongs 5")
        click(page, "Show what it changes")
        alert = page.get_by_role("alert").inner_text()
        assert "furlongs 5" in alert
        assert "pitched at 20 C" in alert
        assert page.get_by_label("Changes, one a line").input_value() == "furlongs 5"
        assert serious(page, axe) == []
    assert (served.folder / "all_well.yaml").read_bytes() == before


def test_a_what_if_says_what_the_library_says(diagnostician: Diagnostician, served: Served) -> None:
    """Hazards of the real batch come first; every number is that of the same call."""
    path = served.folder / "bottled_too_early.yaml"
    text = "waited until day 14"
    answer = whatif(diagnostician, Draft.of_file(path), [text], NOW)
    told = served.visitor().get("/batch/bottled_too_early.yaml/whatif?change=waited+until+day+14")
    assert told.status == 200
    assert 0 < told.text.index('class="hazard warning') < told.text.index("<h1>")
    for block in answer.hazards:
        assert block.hazard in told.text
    shown = [fault for fault in answer.faults if fault.noticeable][:8]
    assert shown
    for fault in shown:
        first, last = (round(100 * chance) for chance in (fault.before, fault.after))
        assert (
            f"{first}\u00a0%\u00a0\u2192 {last}\u00a0%</dt><dd><strong>{fault.label}" in told.text
        )
    assert "Pressure, as logged and changed" in told.text


def test_a_plan_by_keyboard_with_its_card(
    open_page: Open, served: Served, diagnostician: Diagnostician
) -> None:
    """A batch without yeast leads to its plan: faults in order, proposals, the card; it prints."""
    (served.folder / "planned.yaml").write_text(
        "batch: Planned\nwort: {kind: extract kit, volume: 19 l, expected_og: 1.048}\n"
        "fermentables: [3 kg light malt extract]\nyeast: {class: english ale, form: dry}\n",
        "utf-8",
    )
    path = served.folder / "planned.yaml"
    answer = brew_plan(diagnostician, Draft.of_file(path), NOW, NOW)
    with open_page(DESK) as page:
        page.goto("/batch/planned.yaml")
        page.get_by_role("link", name="Before brew day").focus()
        page.keyboard.press("Enter")
        seen(page.get_by_role("heading", level=1)).to_have_text("Before brew day")
        heads = page.locator("#faults ~ h3").all_inner_texts()
        assert heads == [f"{n}. {fault.label}" for n, fault in enumerate(answer.faults, 1)]
        card = plan_words.card(answer, "metric")
        lines = page.locator("ul.boxes li").all_inner_texts()
        assert len(lines) == len(card.lines) > 5
        page.get_by_role("link", name="What else it would change").first.click()
        seen(page.get_by_role("heading", name="Changed", exact=True)).to_be_visible()
        page.go_back()
        page.emulate_media(media="print")
        assert not page.locator("nav.places").is_visible()
        assert not page.get_by_role("link", name="What else it would change").first.is_visible()
        assert page.locator("ul.boxes li").first.is_visible()


def test_looking_ahead_cannot_be_misused(
    diagnostician: Diagnostician, cellar: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Script, floods of changes, broken files and faults inside: words, refusals, hazard blocks."""
    (cellar / "broken.yaml").write_text("batch: x\nlog: 5\n", "utf-8")
    with serving(diagnostician, cellar) as served:
        visitor = served.visitor()
        one = "/batch/all_well.yaml"
        told = visitor.get(f"{one}/whatif?change=%3Cscript%3Ealert(1)%3C/script%3E")
        assert told.status == 422
        assert "<script>alert" not in told.text
        assert "&lt;script&gt;" in told.text
        told = visitor.get(f"{one}/whatif?{'&'.join(['change=beer+20+C'] * 13)}")
        assert told.status == 422
        assert "at most 12" in told.text.lower()
        for name in ("whatif", "plan"):
            assert visitor.get(f"/batch/nothing.yaml/{name}").status == 404
            assert visitor.get(f"/batch/broken.yaml/{name}").status == 303
            assert visitor.post(f"{one}/{name}", {}).status == 405
        monkeypatch.setattr(
            "trubshoot.web.kitchen.brew_plan", lambda *_: (_ for _ in ()).throw(ValueError("broke"))
        )
        for name in ("whatif", "plan"):
            told = visitor.get(f"/batch/flat_and_cold.yaml/{name}")
            assert told.status == 500
            assert told.text.index('class="hazard') < told.text.index("<h1>")
            assert "broke" in told.text
        # a fault inside takes no hazard off the page that was known before it
        burst = "batch: x\nlog:\n  - {at: 2026-01-02, saw: a bottle burst}\n"
        (cellar / "burst.yaml").write_text(burst, "utf-8")
        for name in ("whatif", "plan"):
            told = visitor.get(f"/batch/burst.yaml/{name}")
            assert told.status == 500, name
            assert "A bottle of this batch has burst" in told.text, name


def test_the_gravest_row_of_the_list_is_not_squeezed(open_page: Open) -> None:
    """What a hazard of the list says stands under the name, not in the narrow column of the day."""
    with open_page(PHONE) as page:
        page.goto("/")
        row = page.locator(".shelf .alarmed").first
        name, last = row.locator(".name").bounding_box(), row.locator(".state").last.bounding_box()
        assert name is not None
        assert last is not None
        assert abs(name["x"] - last["x"]) < 2
        assert last["width"] > 200
