"""The report, one file on a disk, in a real browser: eyes, hands, paper, and nothing fetched."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from tests.report.page.support import html
from tests.web.support import DESK, PHONE

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

ALARMED, CALM = "bottled_too_early", "all_well"


@contextmanager
def shown(
    browser: Browser, folder: Path, name: str, size: tuple[int, int] = PHONE, **more: Any
) -> Iterator[Page]:
    """Give a report as somebody has it who was sent it; at its end nothing was asked for."""
    path = folder / f"{name}.html"
    path.write_text(html(name, "us"), "utf-8")
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, **more)
    asked: list[str] = []
    context.on("request", lambda request: asked.append(request.url))
    page = context.new_page()
    try:
        page.goto(path.as_uri())
        yield page
        assert asked == [path.as_uri()]
    finally:
        context.close()


@pytest.mark.parametrize(
    ("name", "size", "scheme"),
    [(ALARMED, PHONE, "light"), (ALARMED, PHONE, "dark"), (CALM, DESK, "light")],
)
def test_nothing_is_found_against_a_report(
    browser: Browser, tmp_path: Path, axe: str, name: str, size: tuple[int, int], scheme: str
) -> None:
    """With all tables unfolded axe finds nothing at all, and no page scrolls sideways."""
    with shown(browser, tmp_path, name, size, color_scheme=scheme) as page:
        page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
        page.evaluate(axe)
        found = page.evaluate("() => axe.run(document)")
        assert len(found["passes"]) > 10
        assert [(one["id"], one["nodes"][0]["html"]) for one in found["violations"]] == []
        assert page.evaluate("document.documentElement.scrollWidth") == size[0]


def test_hazards_fill_the_first_screen(browser: Browser, tmp_path: Path) -> None:
    """Without a script, the block comes first and nothing in it can be put away."""
    with shown(browser, tmp_path, ALARMED, java_script_enabled=False) as page:
        block = page.locator(".hazard").first
        box = block.bounding_box()
        assert box is not None
        assert box["y"] < 40
        assert block.locator("button, a, input, summary, details").count() == 0
        assert block.locator("ol li").last.is_visible()


def test_tables_open_by_keyboard(browser: Browser, tmp_path: Path) -> None:
    """Tab reaches the numbers of every figure in their order, Enter opens them."""
    with shown(browser, tmp_path, ALARMED, DESK) as page:
        there = page.locator("summary").all_inner_texts()
        reached = []
        for _ in range(30):
            page.keyboard.press("Tab")
            here = page.evaluate(
                "(() => { const e = document.activeElement; return [e.tagName, e.innerText,"
                " getComputedStyle(e).outlineStyle]; })()"
            )
            if here[0] == "SUMMARY":
                assert here[2] != "none"
                reached.append(here[1])
                page.keyboard.press("Enter")
            if len(reached) == len(there):
                break
        assert reached == there
        assert len(there) == 3
        assert page.locator("figure table").last.is_visible()


def test_paper_is_white_whatever_the_screen_is(browser: Browser, tmp_path: Path) -> None:
    """Printed from a dark screen: dark letters, figures and their words, no folded tables."""
    with shown(browser, tmp_path, ALARMED, color_scheme="dark") as page:
        page.emulate_media(media="print", color_scheme="dark")
        colour = page.evaluate("getComputedStyle(document.body).color")
        assert sum(int(part) for part in re.findall(r"\d+", colour)[:3]) < 200
        fill = page.evaluate("getComputedStyle(document.querySelector('figure text')).fill")
        assert sum(int(part) for part in re.findall(r"\d+", fill)[:3]) < 300
        assert page.locator("figure svg").first.is_visible()
        assert page.locator("figure .text").first.is_visible()
        assert not page.locator("details").first.is_visible()
        assert page.locator(".hazard ol li").first.is_visible()
