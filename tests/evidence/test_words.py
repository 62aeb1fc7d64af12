"""Words understood: phrases, denial, stages, and honesty about what leads nowhere."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.evidence.support import evidence_of, real_knowledge, real_lexicon

from trubshoot.evidence.words import resolve, resolve_all, stem, tokens, understand

PACKAGE = Path(__file__).resolve().parents[2] / "src" / "trubshoot" / "evidence"


def said(text: str, **options: str) -> dict[str, str]:
    """Return {id: state} of what a text says."""
    known, _ = understand(real_lexicon(), text, **options)  # type: ignore[arg-type]
    return {item.id: item.state for item in known}


@pytest.mark.parametrize(
    ("text", "state"),
    [
        ("it tastes sour", "present"),
        ("sour", "present"),
        ("not sour", "absent"),
        ("it does not taste sour", "absent"),
        ("never sour", "absent"),
        ("no butter, but sour", "present"),
    ],
)
def test_denial(text: str, state: str) -> None:
    """A denial shortly before a phrase denies it; one in another clause does not."""
    assert said(text, sense="tasted", stage="bottled").get("sour_tart") == state


def test_no_sign_of_turns_it_round() -> None:
    """What was looked for and not found is absent."""
    assert said("sour", sense="no_sign_of", stage="bottled")["sour_tart"] == "absent"


def test_what_leads_nowhere_is_returned() -> None:
    """Unknown words are handed back with the nearest things known, and nothing is guessed."""
    known, lost = understand(real_lexicon(), "zzqx wibble", 7)
    assert known == []
    assert (lost[0].words, lost[0].line) == ("zzqx wibble", 7)
    _, lost = understand(real_lexicon(), "buttry popcorm", 3)
    assert lost == [] or lost[0].nearest


def test_words_of_log_and_command_meet() -> None:
    """Presence outweighs absence when both were said; the lines are kept."""
    text = "batch: x\nlog:\n  - {at: 2026-03-07, no_sign_of: sour}\n"
    evidence = evidence_of(text, words=[("tasted", "sour")])
    assert evidence.facts["said.sour_tart"] == "present"
    assert [item.line for item in evidence.understood] == [3, 0]


@pytest.mark.parametrize(
    ("word", "stemmed"),
    [
        ("bottles", "bottl"),
        ("tasting", "tast"),
        ("cherries", "cherry"),
        ("yes", "yes"),
        ("gas", "gas"),
    ],
)
def test_stem(word: str, stemmed: str) -> None:
    """Common endings go, short words stay."""
    assert stem(word) == stemmed


def test_tokens_keep_clauses_apart() -> None:
    """Ends of clauses stand as ';', hyphens split, numbers with points stay whole."""
    assert tokens("Read 1.012, semi-sweet. Don\u2019t know") == [
        "read",
        "1.012",
        ";",
        "semi",
        "sweet",
        ";",
        "don't",
        "know",
    ]


def test_resolve_takes_the_longest_phrase() -> None:
    """The row whose longest phrase stands in the text is meant; no text, no row."""
    sugars = real_knowledge().sugars
    assert resolve("100 g of white table sugar", sugars) == "sucrose"
    assert resolve("corn sugar", sugars) == "glucose_monohydrate"
    assert resolve("sugar", sugars) == "unknown_sugar"
    assert resolve(None, sugars) is None
    assert resolve("gravel", sugars) is None
    assert resolve_all("gravel", sugars) == []


def _texts(node: ast.expr) -> Iterator[str]:
    """Yield the texts that an argument may be: a text, or one of two."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from _texts(node.body)
        yield from _texts(node.orelse)


def _literals(attribute: str) -> set[str]:
    """Return the names given as first argument to bench.<attribute>(...), all modules."""
    return {
        text
        for path in PACKAGE.glob("*.py")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and node.func.attr == attribute
        and node.args
        for text in _texts(node.args[0])
    }


def test_every_constant_asked_for_exists() -> None:
    """No name of a constant in the code is missing from constants.yaml."""
    names = _literals("constant")
    assert len(names) > 40
    assert names - set(real_knowledge().constants) == set()


def test_every_fact_set_exists() -> None:
    """No fact set in the code is missing from facts.yaml."""
    facts = real_knowledge().facts
    for attribute, kind in (("number", "number"), ("state", "state"), ("text", "text")):
        names = _literals(attribute)
        assert names
        for name in names:
            assert facts[name].type == kind, name
