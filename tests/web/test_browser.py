"""The pages in a real browser: a whole interview, logging, bottling, hazards, hands and eyes."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from playwright.sync_api import expect as seen
from tests.web.support import DESK, PHONE, TOO_SMALL, Open, Served, click, serious

from trubshoot.batch import read_batch
from trubshoot.batch.model import BeerTemperature, GravityReading
from trubshoot.web import pages_drill

PAGES = (
    "/",
    "/batch/all_well.yaml",
    "/batch/bottled_too_early.yaml",
    "/batch/stuck_after_cold_night.yaml/page",
    "/batch/all_well.yaml/bottling",
    "/batch/flat_and_cold.yaml/bottles",
    "/batch/all_well.yaml/did",
    "/batch/all_well.yaml/did?verb=bottled",
    "/batch/all_well.yaml/noticed",
    "/batch/all_well.yaml/whatif?change=pitched+at+25+C",
    "/batch/all_well.yaml/plan",
    "/new",
    "/interview",
    "/learn",
    "/learn?q=buttr+and+glue",
    "/learn/map",
    "/learn/step/timing",
    "/learn/finding/astringent_drying",
    "/learn/cause/acetic_contamination",
    "/drill",
    "/pair",
    "/nothing",
)
pytestmark = pytest.mark.usefixtures("as_it_was")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_every_page_on_a_phone(open_page: Open, axe: str, scheme: str) -> None:
    """At 360 px nothing scrolls sideways, targets are 44 px, and axe finds nothing serious."""
    # what is not a matter of colour is the same in both themes
    rules = "{runOnly: ['color-contrast', 'link-in-text-block']}" if scheme == "dark" else "{}"
    with open_page(PHONE, scheme) as page:
        grounds = set()
        for path in PAGES:
            page.goto(path)
            assert page.evaluate("document.documentElement.scrollWidth") == PHONE[0], path
            assert page.evaluate(TOO_SMALL) == [], path
            assert serious(page, axe, rules) == [], path
            assert page.locator("html[lang=en]").count() == 1
            assert page.locator("h1").count() == 1, path
            colour = page.evaluate("getComputedStyle(document.body).backgroundColor")
            grounds.add(sum(int(part) for part in re.findall(r"\d+", colour)[:3]))
        (ground,) = grounds
        assert ground < 150 if scheme == "dark" else ground > 600


def test_every_page_on_a_desk(open_page: Open) -> None:
    """At 1280 px nothing scrolls sideways, and the places stand beside the page, not on it."""
    with open_page(DESK) as page:
        for path in PAGES:
            page.goto(path)
            assert page.evaluate("document.documentElement.scrollWidth") == DESK[0], path
            nav = page.locator("nav.places").bounding_box()
            main = page.locator("main").bounding_box()
            assert nav is not None
            assert main is not None
            assert nav["x"] + nav["width"] <= main["x"], path


def test_a_reading_in_two_taps(open_page: Open, served: Served) -> None:
    """Gravity and temperature by numeric keyboard, one button: two lines, and what they changed."""
    path = served.folder / "all_well.yaml"
    before = read_batch(path)
    with open_page() as page:
        page.goto("/batch/all_well.yaml")
        for field in ("Gravity", "Temperature"):
            assert page.get_by_role("textbox", name=field).get_attribute("inputmode") == "decimal"
        box = page.get_by_role("button", name="Log it").bounding_box()
        assert box is not None
        assert box["y"] + box["height"] < PHONE[1] - 56  # without scrolling, above the places
        page.get_by_label("Gravity").fill("1.011")
        page.get_by_role("textbox", name="Temperature").fill("67")
        page.get_by_role("button", name="Log it").click()
        told = page.locator("#told")
        told.wait_for()
        assert "Gravity" in told.inner_text()
        new = read_batch(path).log[len(before.log) :]
        assert isinstance(new[0], GravityReading)
        assert isinstance(new[1], BeerTemperature)
        assert (new[0].sg, new[0].instrument) == (1.011, "hydrometer")
        assert new[0].sample_c == pytest.approx(new[1].temp_c)
        assert new[1].temp_c == pytest.approx(19.44, abs=0.01)
        page.get_by_role("button", name="Take the last line back").click()
        page.get_by_text("Taken back").wait_for()
        assert read_batch(path).log == (*before.log, new[0])


def test_a_wrong_number_is_answered_beside_the_form(open_page: Open, served: Served) -> None:
    """What cannot be read is not written; the message says so, the fields stay filled."""
    path = served.folder / "all_well.yaml"
    before = path.read_bytes()
    with open_page() as page:
        page.goto("/batch/all_well.yaml")
        page.get_by_label("Gravity").fill("1.0111x")
        page.get_by_role("button", name="Log it").click()
        assert "Nothing was written" in page.get_by_role("alert").inner_text()
        assert page.get_by_label("Gravity").input_value() == "1.0111x"
        assert page.get_by_label("Gravity").get_attribute("aria-invalid") == "true"
        temperature = page.get_by_role("textbox", name="Temperature")
        assert temperature.get_attribute("aria-invalid") is None
        page.get_by_label("Gravity").fill("1.011")
        temperature.fill("500")
        page.get_by_role("button", name="Log it").click()
        told = page.get_by_role("alert").inner_text()
        assert told.count("500 F, which is not likely") == 1  # one number, said once
        assert "Write the unit" in told
        assert temperature.get_attribute("aria-invalid") == "true"
        assert temperature.get_attribute("aria-describedby") == "complaint"
        assert (page.get_by_label("Gravity").input_value(), temperature.input_value()) == (
            "1.011",
            "500",
        )
    assert path.read_bytes() == before


_OUTSIDE = """() => [...document.querySelectorAll('figure svg')].flatMap(svg => {
  const [, , width, height] = svg.getAttribute('viewBox').split(' ').map(Number);
  return [...svg.querySelectorAll('text')].map(one => [one.textContent, one.getBBox()])
    .filter(([, box]) => box.x < 0 || box.y < 0 || box.x + box.width > width
      || box.y + box.height > height)
    .map(([words, box]) => `${words} ${box.x} ${box.x + box.width}`);
})"""


@pytest.mark.parametrize("size", [PHONE, DESK])
def test_no_word_of_a_figure_is_cut_off(open_page: Open, size: tuple[int, int]) -> None:
    """In US units, whose numbers are long, every word of a drawing lies inside it."""
    with open_page(size) as page:
        for name in ("bottled_too_early", "flat_and_cold", "stuck_after_cold_night"):
            page.goto(f"/batch/{name}.yaml/page")
            assert page.locator("figure svg text").count() > 10
            assert page.evaluate(_OUTSIDE) == [], name


def test_the_hazard_block_is_first_and_stays(open_page: Open) -> None:
    """Words that name a hazard bring its block: first on every page, with no way to hide it."""
    with open_page() as page:
        page.goto("/batch/all_well.yaml")
        assert page.locator(".hazard").count() == 0
        page.get_by_role("link", name="I noticed something").click()
        page.get_by_label("What, in your own words").fill("the lid bulges and hisses")
        page.get_by_role("button", name="Log it").click()
        for path in ("", "?", "/page", "/bottling", "/noticed", "/did"):
            page.goto(f"/batch/all_well.yaml{path}")
            block = page.locator(".hazard").first
            box = block.bounding_box()
            assert box is not None
            assert box["y"] < 40, path
            first = page.evaluate("document.body.innerText.trim().split('\\n')[1]")
            assert first in ("WARNING", "DANGER", "CAUTION"), (path, first)
            assert block.locator("ol li").count() > 1
            assert block.locator("ol li").last.is_visible()
            inside = block.locator("button, a, input, summary, details, [hidden]")
            assert inside.count() == 0
            page.keyboard.press("Escape")
            assert block.is_visible()
        page.goto("/")
        assert page.locator(".shelf .signal").first.is_visible()


def test_the_bottling_check_holds_and_goes(open_page: Open) -> None:
    """HOLD with what would end it; with the plan filled in GO WITH LIMITS; too much sugar holds."""
    with open_page() as page:
        page.goto("/batch/all_well.yaml")
        page.get_by_role("link", name="May it be bottled?").click()
        page.wait_for_url("**/bottling")
        verdict = page.locator(".verdict")
        seen(verdict.locator(".word")).to_have_text("HOLD")
        assert "What would turn HOLD into GO" in verdict.inner_text()
        plan = {
            "Sugar": "100 g table sugar",
            "Volume that goes into bottles": "18 l",
            "Will it be stirred in?": "yes",
            "Where they will stand": "cellar 18 C",
            "Empty part of each bottle": "4 %",
        }
        for label, text in plan.items():
            page.get_by_role("textbox", name=label).fill(text)
        click(page, "Ask again with this plan")
        seen(verdict.locator(".word")).to_have_text("GO WITH LIMITS")
        assert verdict.locator("ol li").count() > 2
        page.get_by_role("textbox", name="Sugar").fill("400 g table sugar")
        click(page, "Ask again with this plan")
        seen(verdict.locator(".word")).to_have_text("HOLD")
        page.get_by_role("textbox", name="Sugar").fill("a lot")
        click(page, "Ask again with this plan")
        seen(verdict.locator(".word")).to_have_text("HOLD")
        assert "a lot" in page.get_by_role("alert").inner_text()


def test_a_whole_interview(open_page: Open, served: Served, axe: str) -> None:
    """From free words through every kind of question, back and help, to a batch file."""
    with open_page() as page:
        page.goto("/interview")
        click(page, "Begin")
        page.get_by_label("In your own words").fill("my beer smells of butter and tastes of apple")
        click(page, "Go on")
        seen(page.get_by_role("heading", level=1)).to_have_text("This is what I understood")
        assert serious(page, axe) == []
        before = page.locator("label.choice").count()
        page.locator("label.choice").last.click()
        click(page, "Take out what I ticked")
        seen(page.locator("label.choice")).to_have_count(before - 1)
        click(page, "Is that right: yes")
        click(page, "In the fermenter, yeast added")
        forms = set()
        for number in range(40):
            if page.get_by_role("heading", name="The answer", level=1).count():
                break
            assert page.evaluate("document.documentElement.scrollWidth") == PHONE[0]
            if page.get_by_text("What do you mean?").count():
                page.get_by_text("What do you mean?").click()
                assert page.locator("details.meaning p").is_visible()
            question = page.get_by_role("heading", level=1).inner_text()
            names = [one.inner_text() for one in page.get_by_role("button").all()]
            if "Is that right: yes" in names:
                click(page, "Is that right: yes")
            elif "None of these" in names:
                forms.add("several")
                click(page, "None of these")
            elif "Yes" in names:
                forms.add("yes_no")
                click(page, ("No", "Don\u2019t know", "Yes")[number % 3])
            elif "Go on" in names:
                forms.add("value")
                page.get_by_label("Your answer").fill("2 weeks")
                click(page, "Go on")
            else:
                forms.add("one")
                click(page, "Don\u2019t know")
            if number == 2:  # back shows the same question again
                click(page, "Back")
                assert page.get_by_role("heading", level=1).inner_text() == question
        assert {"several", "yes_no"} <= forms
        assert page.get_by_role("heading", name="Likely causes").is_visible()
        assert serious(page, axe) == []
        page.get_by_label("Name of the batch").fill("Invented apple ale")
        click(page, "Keep as a batch file")
        page.get_by_role("heading", name="Invented apple ale").wait_for()
        assert read_batch(served.folder / "invented_apple_ale.yaml").name == "Invented apple ale"


def test_a_hazard_interrupts_the_interview(open_page: Open) -> None:
    """Injury ends the questions at once: the block stands first, then what is known."""
    with open_page() as page:
        page.goto("/interview")
        click(page, "Begin")
        page.get_by_label("In your own words").fill("a bottle exploded and my hand is bleeding")
        click(page, "Go on")
        seen(page.locator(".hazard .signal").first).to_have_text("DANGER")
        box = page.locator(".hazard").first.bounding_box()
        assert box is not None
        assert box["y"] < 40
        click(page, "Is that right: yes")
        seen(page.get_by_role("heading", name="The answer", level=1)).to_be_visible()
        seen(page.locator(".hazard .signal").first).to_have_text("DANGER")


def test_without_javascript(open_page: Open, served: Served) -> None:
    """Without any script a reading is logged, an interview begun, a bottling asked for."""
    before = len(read_batch(served.folder / "all_well.yaml").log)
    with open_page(script=False) as page:
        page.goto("/")
        page.get_by_role("link", name="Lantern Street Pale No. 7").click()
        page.get_by_label("Gravity").fill("1.011")
        page.get_by_role("button", name="Log it").click()
        page.locator("#told").wait_for()
        page.get_by_text("How it was measured").click()
        assert page.get_by_label("Measured with").is_visible()
        page.get_by_role("link", name="May it be bottled?").click()
        seen(page.locator(".verdict .word")).to_have_text("HOLD")
        page.get_by_role("link", name="Ask", exact=True).click()
        click(page, "Begin")
        page.get_by_label("In your own words").fill("no bubbles")
        click(page, "Go on")
        seen(page.get_by_role("heading", name="This is what I understood")).to_be_visible()
    assert len(read_batch(served.folder / "all_well.yaml").log) == before + 1


def test_by_keyboard_only(open_page: Open, served: Served) -> None:
    """From the list to a logged reading by Tab and Enter, with the focus always to be seen."""
    with open_page(DESK) as page:

        def tab_to(wanted: str) -> None:
            for _ in range(40):
                page.keyboard.press("Tab")
                here = page.evaluate(
                    "(() => { const e = document.activeElement; const s = getComputedStyle(e);"
                    " return [e.innerText || e.name || '', s.outlineStyle, s.outlineWidth]; })()"
                )
                assert here[1] != "none", here
                assert here[2] != "0px", here
                if wanted in here[0]:
                    return
            raise AssertionError(f"{wanted} is not reached by keyboard")

        page.goto("/")
        tab_to("To the page itself")
        page.keyboard.press("Enter")
        tab_to("Lantern Street Pale No. 7")
        page.keyboard.press("Enter")
        page.wait_for_url("**/batch/all_well.yaml")
        tab_to("gravity")
        page.keyboard.type("1.011")
        tab_to("Log it")
        page.keyboard.press("Enter")
        page.locator("#told").wait_for()
        tab_to("I noticed something")
        page.keyboard.press("Enter")
        page.wait_for_url("**/noticed")
        tab_to("sense")
        page.keyboard.press("ArrowDown")
        assert page.get_by_label("Smelled it").is_checked()


def test_two_taps_on_one_button_log_once(open_page: Open, served: Served) -> None:
    """An impatient double tap sends one form."""
    path: Path = served.folder / "all_well.yaml"
    before = len(read_batch(path).log)
    with open_page() as page:
        page.goto("/batch/all_well.yaml")
        page.get_by_label("Gravity").fill("1.011")
        page.get_by_role("button", name="Log it").dblclick()
        page.locator("#told").wait_for()
    assert len(read_batch(path).log) == before + 1


def test_a_whole_case_of_practice(
    open_page: Open, axe: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A case from the first action over tests to what it taught, with the record kept."""
    monkeypatch.setattr(pages_drill.secrets, "randbelow", lambda most: 3)
    with open_page() as page:
        page.goto("/drill")
        page.get_by_label("How hard").select_option("1")
        click(page, "A new case")
        seen(page.get_by_role("heading", name="What do you do first?")).to_be_visible()
        assert serious(page, axe) == []
        assert page.evaluate(TOO_SMALL) == []
        page.locator(".answers button").first.click()
        seen(page.get_by_role("heading", name="Ask for a test")).to_be_visible()
        page.locator(".answers button").first.click()
        seen(page.get_by_role("heading", name=re.compile("What you found out"))).to_be_visible()
        assert serious(page, axe) == []
        click(page, "I know what it is")
        with page.expect_navigation():
            page.locator(".answers button").first.click()
        page.get_by_label("From 0 to 100").fill("60")
        click(page, "Done")
        seen(page.get_by_role("heading", level=1)).to_have_text("What it was")
        assert "of 100 points" in page.locator("main").inner_text()
        assert serious(page, axe) == []
        page.get_by_role("link", name="On to another case").click()
        seen(page.get_by_role("heading", name="So far")).to_be_visible()
