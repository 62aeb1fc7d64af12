"""The tutorial can be followed word for word: steps in order, nothing untried, nothing guessed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tests import tutorial
from tests.generate_reference import followed, shown


def test_outputs_are_what_the_pages_show() -> None:
    """Every output in the pages is what the program says when one follows them."""
    stale = [page.name for page, text in followed().items() if text != page.read_text("utf-8")]
    assert stale == [], "run python -m tests.generate_reference"


@pytest.mark.parametrize("page", tutorial.PAGES, ids=lambda page: page.stem)
def test_nothing_in_a_page_stays_untried(page: Path) -> None:
    """Every fenced block is a file, a command that is run, or the folder that is made."""
    text = page.read_text("utf-8")
    assert text.count("\n```") % 2 == 0
    assert re.search(r"^```", tutorial._PART.sub("", text), re.MULTILINE) is None
    assert tutorial._PART.search(text) is not None


def test_pages_follow_each_other() -> None:
    """Each page leads to the next, and all are in the folder and in the README."""
    for page, after in zip(tutorial.PAGES, tutorial.PAGES[1:], strict=False):
        assert f"]({after.name})" in page.read_text("utf-8").split("\n## ")[-1]
    folder = tutorial.ROOT / "docs" / "tutorial"
    assert set(folder.glob("*.md")) == set(tutorial.PAGES)
    readme = (tutorial.ROOT / "README.md").read_text("utf-8")
    assert "docs/tutorial/first_batch.md" in readme


def test_the_story_is_invented_and_dated() -> None:
    """Every page says that all is invented, and every command about time says when."""
    for page in tutorial.PAGES:
        text = page.read_text("utf-8")
        assert "invented" in text
        for spec in re.findall(r"<!-- shown: (.+?) -->", text):
            assert "--at " in spec, spec


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("<!-- shown: trubshoot log gone.yaml beer 20C -->\n<!-- end of what is shown -->", "gone"),
        ("```sh\nrm -rf lantern_street\n```", "unpack"),
        ("```sh\nrm lantern_street\n```", "does not run"),
        ("<!-- above log: in pale.yaml -->\n```yaml\na: 1\n```", "pale.yaml"),
        ("<!-- file: ../x.yaml -->\n```yaml\na: 1\n```", "out of the folder"),
    ],
)
def test_a_step_that_cannot_be_done_is_found(
    text: str, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that is not there, a command not run and a path out of the folder are errors."""
    page = tmp_path / "page.md"
    page.write_text(text, "utf-8")
    monkeypatch.setattr(tutorial, "PAGES", (page,))
    with pytest.raises((AssertionError, ValueError, FileNotFoundError), match=said):
        tutorial.follow(shown)
