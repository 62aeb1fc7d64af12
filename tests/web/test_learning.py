"""The pages for learning and practice: they show what the library makes, in full."""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass
from html import unescape

import pytest
from tests.web.support import Served

from trubshoot.diagnosis import Diagnostician
from trubshoot.learning.browse import Library
from trubshoot.learning.heat import heat
from trubshoot.learning.lookup import KINDS, Named
from trubshoot.web import pages_drill


def _named(thing: object) -> set[str]:
    """Return the labels of everything that a page of the library leads to."""
    if isinstance(thing, Named):
        return {thing.label}
    if isinstance(thing, tuple):
        return {label for one in thing for label in _named(one)}
    if is_dataclass(thing):
        return {label for one in fields(thing) for label in _named(getattr(thing, one.name))}
    return set()


@pytest.mark.parametrize("kind", KINDS)
def test_a_page_leads_wherever_the_library_does(
    kind: str, served: Served, diagnostician: Diagnostician
) -> None:
    """Every eighth thing of a kind (every step): each name that its page holds is shown."""
    library = Library(diagnostician)
    keys = sorted(key for of, key in library.index.things if of == kind)
    visitor = served.visitor()
    visitor.get("/")
    for key in keys if kind == "step" else keys[::8]:
        thing = library.index.thing(kind, key)
        shown = unescape(visitor.get(f"/learn/{kind}/{key}").text)
        assert "<h1>" in shown, key
        page = library.page(thing)
        wanted = _named(page)
        if kind == "step":  # the strengths of its causes stand on the pages of those
            wanted -= {item.finding.label for one in page.causes for item in one.makes}  # type: ignore[union-attr]
            wanted |= {made.finding.label for made in page.makes}  # type: ignore[union-attr]
            wanted -= {part.cause.label for made in page.makes for part in made.by[2:]}  # type: ignore[union-attr]
            wanted |= {one.cause.label for one in page.causes}  # type: ignore[union-attr]
        assert [label for label in wanted if label not in shown] == [], key
        for block in getattr(page, "hazards", ()):
            assert shown.index(block.level.name) < shown.index("<h1>")


def test_the_map_shows_the_numbers_of_the_model(
    served: Served, diagnostician: Diagnostician
) -> None:
    """Every cell of the whole map is the chance of the model in hundredths."""
    library = Library(diagnostician)
    made = heat(library.knowledge, library.beginner)
    shown = unescape(served.visitor().get("/learn/map?all").text)
    rows = re.findall(r"<tr><th scope=\"row\">.*?</tr>", shown, re.DOTALL)
    assert len(rows) == len(made.rows)
    for text, row in zip(rows, made.rows, strict=True):
        assert row.fault.label in text
        cells = re.findall(r"<td class=\"number[^>]*>(.*?)</td>", text)
        wanted = [
            "" if one <= 0 else str(min(round(100 * one), 99)) if round(100 * one) else "\u00b7"
            for one in row.by_step
        ]
        assert cells == wanted


def test_words_lead_to_their_thing(served: Served, diagnostician: Diagnostician) -> None:
    """A name leads to its page, a word of several meanings to their list, others to the nearest."""
    visitor = served.visitor()
    one = visitor.get("/learn?q=cause+acetic_contamination")
    assert one.headers["location"] == "/learn/cause/acetic_contamination"
    assert "Nothing known is called that" in visitor.get("/learn?q=qqqqzzzz").text
    several = Library(diagnostician).index.find("cloudy")
    assert len(several.meant) > 1
    shown = unescape(visitor.get("/learn?q=cloudy").text)
    for thing in several.meant:
        assert f'href="/learn/{thing.kind}/{thing.id}"><strong>{thing.label}' in shown


def test_a_case_is_played_like_in_the_terminal(
    served: Served, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A step that a hazard forbids ends the case with no points, and it is put down once."""
    monkeypatch.setattr(pages_drill.secrets, "randbelow", lambda most: 3)
    visitor = served.visitor()
    before = len(served.site.records.read())
    case = visitor.post("/drill/begin", {"level": "1"}).headers["location"]
    shown = visitor.get(case).text
    assert "bulging or blown off" in shown
    assert 'class="hazard' not in shown  # the danger is to be seen before it is named
    number = re.search(r'value="(\d)">I bend over it and lift the lid', shown)
    assert number is not None
    for _ in range(3):  # sent again from an older page
        visitor.post(f"{case}/answer", {"step": "0", "answer": number[1]})
    told = visitor.get(case).text
    assert told.index('class="hazard') < told.index("<h1>")
    assert "0 of 100 points" in told
    records = served.site.records.read()[before:]
    assert [(one.stopped, one.points, one.level) for one in records] == [(True, 0, 1)]
    assert served.visitor().get(case).status == 404
