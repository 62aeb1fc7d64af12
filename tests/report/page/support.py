"""A report taken apart again: what a browser would make of it, with the parser of the library."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

from trubshoot.batch import read_batch
from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.overview import Overview, overview
from trubshoot.knowledge_base import load_knowledge
from trubshoot.report.page.document import report_html
from trubshoot.units import UnitSystem

ROOT = Path(__file__).resolve().parents[3]
EXAMPLES = ROOT / "docs" / "examples"
# example -> the day it is asked about
ASKED = {
    "all_well": "2026-09-20",
    "all_well_bottled": "2026-10-05",
    "bottled_too_early": "2026-04-05",
    "flat_and_cold": "2026-11-25",
    "plaster_taste": "2026-11-25",
    "silent_airlock": "2026-11-25",
    "stuck_after_cold_night": "2026-02-26",
}
VOID = {"meta", "br", "input", "hr", "img", "link"}


@dataclass
class Node:
    """One element, with its text and what stands in it."""

    tag: str
    attributes: dict[str, str]
    parent: Node | None = None
    children: list[Node] = field(default_factory=list)
    own: list[str] = field(default_factory=list)  # text and children's text, in order

    @property
    def text(self) -> str:
        """Return all text in the element, with single blanks."""
        return " ".join("".join(self.own).split())

    @property
    def classes(self) -> list[str]:
        """Return the classes of the element."""
        return self.attributes.get("class", "").split()

    def all(self, *tags: str) -> list[Node]:
        """Return the elements below of these tags, or all of them, in order."""
        found = []
        for child in self.children:
            if not tags or child.tag in tags:
                found.append(child)
            found += child.all(*tags)
        return found

    def by_id(self, key: str) -> Node:
        """Return the one element of an id."""
        (found,) = [node for node in self.all() if node.attributes.get("id") == key]
        return found

    def up(self, tag: str) -> Node | None:
        """Return the nearest element of a tag around this one."""
        node = self.parent
        while node is not None and node.tag != tag:
            node = node.parent
        return node


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Node("", {})
        self.open = [self.root]
        self.comments: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert len({name for name, _ in attrs}) == len(attrs), (tag, attrs)
        node = Node(tag, {name: value or "" for name, value in attrs}, self.open[-1])
        self.open[-1].children.append(node)
        if tag == "br":
            self.handle_data(" ")
        if tag not in VOID:
            self.open.append(node)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self.open[-1].tag == tag, f"</{tag}> ends <{self.open[-1].tag}>"
        self.open.pop()
        if tag in ("td", "th", "dt", "dd", "li", "p"):
            self.handle_data(" ")

    def handle_data(self, data: str) -> None:
        for node in self.open:
            node.own.append(data)

    def handle_comment(self, data: str) -> None:
        self.comments.append(data)


def parsed(text: str) -> Node:
    """Return a page as elements; every element must be closed where it was opened."""
    reader = _Reader()
    reader.feed(text)
    reader.close()
    assert [node.tag for node in reader.open] == [""]
    assert not reader.comments
    return reader.root


@cache
def work() -> Diagnostician:
    """Return the knowledge made ready."""
    return Diagnostician(load_knowledge())


def seen(text: str | Path, at: str) -> Overview:
    """Return the overview of a batch given as text or file."""
    now = datetime.fromisoformat(at).replace(hour=23)
    return overview(work(), read_batch(text, now), now)


@cache
def example(name: str) -> Overview:
    """Return the overview of a shipped example."""
    return seen(EXAMPLES / f"{name}.yaml", ASKED[name])


@cache
def html(name: str, units: UnitSystem = "metric") -> str:
    """Return the report of a shipped example."""
    return report_html(example(name), units)


@cache
def page(name: str, units: UnitSystem = "metric") -> Node:
    """Return the report of a shipped example, taken apart."""
    return parsed(html(name, units))


def table_of(figure: Node, caption: str) -> list[list[str]]:
    """Return the rows of a table in a figure, its head first."""
    (table,) = [
        table for table in figure.all("table") if table.all("caption")[0].text.startswith(caption)
    ]
    return [[cell.text for cell in row.all("th", "td")] for row in table.all("tr")]


def long_log(readings: int) -> str:
    """Return a batch logged by a machine, one reading of gravity and beer every two hours."""
    lines = [
        "batch: Lantern Street Long Log No. 9",
        "units: metric",
        "wort: {kind: extract kit, volume: 20 l, expected_og: 1.050, expected_fg: 1.011}",
        "yeast: {class: clean american ale, form: dry, amount: 11 g}",
        "log:",
        "  - {day: 0, gravity: 1.050, sample: 20 C, with: hydrometer}",
        "  - {day: 0, did: pitched, beer: 20 C}",
    ]
    for number in range(1, readings + 1):
        day = number / 12
        gravity = 1.011 + 0.039 / (1 + (day / 2.5) ** 4)
        lines.append(f"  - {{day: {day:.3f}, gravity: {gravity:.4f}, sample: 20 C}}")
        lines.append(f"  - {{day: {day:.3f}, beer: {31 if number == 80 else 20} C}}")
    lines.append(f"today: {readings / 12 + 1:.0f}")
    return "\n".join(lines)
