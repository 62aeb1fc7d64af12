"""What the interview asks is checked like all other knowledge: every name leads somewhere."""

from __future__ import annotations

from dataclasses import replace

import pytest
from pydantic import ValidationError

from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.asking import InterviewItem
from trubshoot.knowledge_base.asking_checks import check_interview
from trubshoot.knowledge_base.loader import Raw

RAW = Raw({})


def messages(knowledge: KnowledgeBase) -> list[str]:
    """Return the messages of all problems."""
    return [problem.message for problem in check_interview(knowledge, RAW)]


def test_the_shipped_rows_have_no_problem(knowledge: KnowledgeBase) -> None:
    """The rows that are shipped lead somewhere."""
    assert messages(knowledge) == []


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"words": ("sour", "bitter")}, "stands in"),
        ({"told": {"so": 0.1, "not_so": 0.2}}, "speaks against"),
        ({"options": ()}, "fewer than two"),
    ],
)
def test_wrong_confusions_are_named(
    knowledge: KnowledgeBase, changes: dict[str, object], message: str
) -> None:
    """A word in two rows, a word against its own finding, a question without a choice: named."""
    row = knowledge.confusions["sour"]
    plain = {**row.model_dump(), **changes}
    rows = {**knowledge.confusions, "sour": type(row).model_validate(plain)}
    assert any(message in text for text in messages(replace(knowledge, confusions=rows)))


def test_unknown_findings_are_named(knowledge: KnowledgeBase) -> None:
    """A meaning or a safety answer that leads to nothing known is named."""
    plain = knowledge.confusions["sour"].model_dump()
    plain["options"][0]["finding"] = "vinegary"
    confusion = type(knowledge.confusions["sour"]).model_validate(plain)
    wrong = replace(knowledge, confusions={**knowledge.confusions, "sour": confusion})
    assert any("unknown finding 'vinegary'" in text for text in messages(wrong))
    plain = knowledge.interview["safety_bottles"].model_dump()
    plain["options"][0]["says"] = "bottle_brust"
    row = InterviewItem.model_validate(plain)
    wrong = replace(knowledge, interview={**knowledge.interview, "safety_bottles": row})
    assert any("'bottle_brust'" in text for text in messages(wrong))


@pytest.mark.parametrize("gone", ["opening", "stage", "og", "safety_bottles", "from_memory"])
def test_rows_that_the_program_asks_for_must_be_there(knowledge: KnowledgeBase, gone: str) -> None:
    """Without a row that is asked for by name, or without any safety question, it is refused."""
    rows = {key: row for key, row in knowledge.interview.items() if key != gone}
    assert messages(replace(knowledge, interview=rows))


def test_detail_without_a_place_is_named(knowledge: KnowledgeBase) -> None:
    """A number that would go nowhere is named."""
    row = knowledge.interview["volume"].model_copy(update={"place": ""})
    wrong = replace(knowledge, interview={**knowledge.interview, "volume": row})
    assert any("'volume' goes nowhere" in text for text in messages(wrong))


@pytest.mark.parametrize(
    "plain",
    [
        {"kind": "safety", "ask": "x", "basis": "judgement"},
        {"kind": "detail", "label": "x", "basis": "judgement"},
        {"kind": "wording", "basis": "judgement"},
    ],
)
def test_incomplete_rows_are_refused(plain: dict[str, str]) -> None:
    """Each kind of row needs its own keys."""
    with pytest.raises(ValidationError):
        InterviewItem.model_validate(plain)


def test_every_choice_and_meaning_can_be_written_down(knowledge: KnowledgeBase) -> None:
    """Whatever is chosen has words that are read back as it, in every stage it is offered."""
    from trubshoot.evidence.words import Lexicon
    from trubshoot.interview.hearing import Hearing

    hearing = Hearing(knowledge, Lexicon.of(knowledge))
    for confusion in knowledge.confusions.values():
        for meaning in confusion.options:
            for key in (meaning.finding, meaning.fermenting):
                assert key is None or hearing.item("finding", key, "present", "bottled")
    for row in knowledge.interview.values():
        for choice in row.options if row.kind == "safety" else ():
            kind = "finding" if choice.says in knowledge.findings else "sign"
            for told in ("present", "absent"):
                assert hearing.item(kind, str(choice.says), told, row.stages[0]), choice.says


def test_findings_confused_with_a_meaning_are_asked_together(knowledge: KnowledgeBase) -> None:
    """A finding that a confusable word names is never the only thing that the word may mean."""
    for key, confusion in knowledge.confusions.items():
        findings = {meaning.finding for meaning in confusion.options if meaning.finding}
        others = {
            other for finding in findings for other in knowledge.findings[finding].confused_with
        }
        assert len(findings) == 1 or findings & others, key
