"""The report as Markdown: the same words as the page, and no text of a batch becomes mark-up."""

from __future__ import annotations

import re

import pytest
from tests.report.page.support import ASKED, example, page, seen
from tests.report.page.test_document import evil_batch

from trubshoot.report.page.markdown import failure_markdown, plain, report_markdown
from trubshoot.report.page.seal import UNSEALED, is_untouched, sealed

NAMES = sorted(ASKED)


def bare(text: str) -> str:
    """Return Markdown as plain words: escapes and marks taken away."""
    text = re.sub(r"^<!--.*?-->", "", text)
    text = re.sub(r"\\([^A-Za-z0-9\s])", "\\1", text.replace("**", ""))
    return " ".join(text.split())


@pytest.mark.parametrize("name", NAMES)
def test_markdown_says_what_the_page_says(name: str) -> None:
    """Every item, paragraph, heading and cell of the page stands in the Markdown as well."""
    text = bare(report_markdown(example(name), "metric"))
    skipped = ("in numbers", "against | for", "What would turn", "Only within", "Do now:")
    for node in page(name).all("li", "p", "h3", "td", "dd"):
        inner = node.all("li", "p")
        if node.up("footer") or inner or node.text in skipped:
            continue
        for part in re.split(
            r" Why: | Stricter than | points here: |\u25c4|Not if it is ", node.text
        ):
            words = part.replace("`", "").strip()
            assert words in text.replace("`", ""), words


@pytest.mark.parametrize("name", NAMES)
def test_hazards_come_first_in_markdown(name: str) -> None:
    """Behind the seal the first line is the worst hazard, and every step is numbered in order."""
    text = report_markdown(example(name), "metric")
    lines = [line for line in text.splitlines() if line]
    assert lines[0] == f"<!-- {UNSEALED} -->"
    blocks = example(name).diagnosis.hazards
    if not blocks:
        assert lines[1] == f"# {example(name).diagnosis.batch}"
        return
    assert lines[1] == f"# {blocks[0].level.name}: {plain(blocks[0].hazard)}"
    for number, step in enumerate(blocks[0].avoid, 1):
        assert f"{number}. {plain(step.do)}" in lines


@pytest.mark.parametrize("name", NAMES)
def test_tables_are_even(name: str) -> None:
    """All rows of a table have as many cells as its head."""
    table: list[int] = []
    for line in [*report_markdown(example(name), "us").splitlines(), ""]:
        if line.startswith("|"):
            table.append(len(re.findall(r"(?<!\\)\|", line)))
        elif table:
            assert len(set(table)) == 1
            table = []


@pytest.mark.parametrize(
    ("words", "shown"),
    [
        ("a <b> & *c*", r"a \<b\> \& \*c\*"),
        ("# head", r"\# head"),
        ("- item", r"\- item"),
        ("12. item", r"12\. item"),
        ("1.012 it is", "1.012 it is"),
        ("two\nlines\n\n# three", r"two lines \# three"),
        ("[x](http://y)", r"\[x\](http://y)"),
        ("a|b`c`", r"a\|b\`c\`"),
    ],
)
def test_words_are_shown_as_they_are(words: str, shown: str) -> None:
    """Signs that Markdown reads as mark-up are escaped, at the start of a line too."""
    assert plain(words) == shown


def test_text_of_a_batch_stays_text() -> None:
    """No tag written into a batch is one in the Markdown; only the seal is a comment."""
    text = report_markdown(seen(evil_batch(), "2026-11-25"), "metric")
    assert len(re.findall(r"(?<!\\)<", text)) == 1
    assert r"\<script\>" in text


def test_unreadable_file_in_markdown() -> None:
    """The hazards of a file that cannot be read stand before what is wrong with it."""
    block = example("bottled_too_early").diagnosis.hazards[0]
    text = failure_markdown("<x>.yaml", [block], ["line 3: no"])
    assert text.index("# WARNING") < text.index(r"# \<x\>.yaml") < text.index("- line 3: no")


def test_a_seal_holds_until_a_byte_changes() -> None:
    """A sealed text is known again; with any byte changed, added or taken away it is not."""
    raw = sealed(report_markdown(example("all_well"), "us"))
    assert is_untouched(raw)
    assert not is_untouched(raw + b"\n")
    assert not is_untouched(raw.replace(b"1.050", b"1.051", 1))
    assert not is_untouched(raw[:-10])
    assert not is_untouched(b"")
    assert not is_untouched(b"batch: a file that speaks of a trubshoot report")
    assert not is_untouched(UNSEALED.encode())
