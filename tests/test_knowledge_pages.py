"""The pages made from the knowledge name everything in it, in words that a brewer can read."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tests import generate_reference as generator
from tests import knowledge_pages as pages

from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.schema import Condition

TABLES = ("causes", "findings", "rules", "sources")


@pytest.mark.parametrize("name", TABLES)
def test_everything_has_its_heading(name: str, knowledge: KnowledgeBase) -> None:
    """Each entry of the knowledge stands on its page once, under its id."""
    text = getattr(pages, name)(knowledge, generator.NOTICE)
    heads = re.findall(r"^#{2,3} ([a-z0-9_]+)$", text, flags=re.MULTILINE)
    assert sorted(heads) == sorted(getattr(knowledge, name))
    assert generator.NOTICE in text


def test_causes_stand_in_brewing_order(knowledge: KnowledgeBase) -> None:
    """The causes follow the steps of a brew, water first."""
    text = pages.causes(knowledge, generator.NOTICE)
    heads = re.findall(r"^## Step: (.+)$", text, flags=re.MULTILINE)
    used = {cause.step for cause in knowledge.causes.values()}
    assert heads == [step.label for step in knowledge.steps.values() if step.id in used]


@pytest.mark.parametrize(
    ("condition", "words"),
    [
        (
            {"fact": "lid_openings", "gt": 3},
            "times the fermenter was opened (`lid_openings`): above 3",
        ),
        (
            {"fact": "yeast_form", "in": ["dry", "slurry"]},
            "form of the yeast (`yeast_form`): dry or slurry",
        ),
        (
            {"fact": "slope_significant", "is": "absent"},
            "the fall over the latest readings is larger than reading error explains "
            "(`slope_significant`): stated to be absent",
        ),
    ],
)
def test_conditions_in_words(condition: dict[str, object], words: str) -> None:
    """A condition is told by what its fact means."""
    from trubshoot.knowledge_base import load_knowledge

    assert pages.in_words(load_knowledge(), Condition.model_validate(condition)) == words


def test_a_changed_cause_makes_its_page_stale(
    knowledge: KnowledgeBase, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What `--check` compares: another text on disk than the knowledge gives is named."""
    page = tmp_path / "causes.md"
    text = pages.causes(knowledge, generator.NOTICE)
    monkeypatch.setattr(generator, "ROOT", tmp_path)
    monkeypatch.setattr(generator, "generated", lambda: {page: text})
    page.write_text(text, encoding="utf-8")
    assert generator.stale() == []
    page.write_text(text.replace("hop", "hep"), encoding="utf-8")
    assert generator.stale() == ["causes.md"]


@pytest.mark.parametrize(
    ("strength", "word"),
    [
        (0.9, "nearly always"),
        (0.75, "usually"),
        (0.5, "often"),
        (0.25, "sometimes"),
        (0.1, "seldom"),
    ],
)
def test_strength_in_words(strength: float, word: str) -> None:
    """A strength is told as a word."""
    assert pages.how_often(strength) == word
