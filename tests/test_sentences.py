"""Sentences that can be told in US units: the numbers, what stays, and every rule's sentence."""

from __future__ import annotations

import copy
import pickle
import re
from dataclasses import dataclass
from typing import Any

import pytest

from trubshoot.knowledge_base import load_knowledge
from trubshoot.sentences import UNITS, Told, clause, filled, in_units, joined, listed, prose


def _told(template: str, **numbers: tuple[str, float | None, str]) -> Told:
    return filled(template, lambda name: numbers[name])


@pytest.mark.parametrize(
    ("template", "number", "metric", "us"),
    [
        ("It stood at {x} C.", (21.1111, "C"), "It stood at 21.1 C.", "It stood at 70 °F."),
        ("It fell by {x} C.", (5.0, "K"), "It fell by 5.0 C.", "It fell by 9 °F."),
        ("{x} K hotter.", (80.0, "K"), "80.0 K hotter.", "144 °F hotter."),
        ("It is {x} bar over.", (1.0, "bar"), "It is 1.0 bar over.", "It is 15 psi over."),
        ("It is {x} points.", (4.0, "points"), "It is 4.0 points.", "It is 4.0 points."),
        ("It was {x} C.", (-17.777777, "C"), "It was -17.8 C.", "It was 0 °F."),
    ],
)
def test_a_number_is_told_in_both_units(
    template: str, number: tuple[float, str], metric: str, us: str
) -> None:
    """Temperatures, differences and pressures are converted, by the unit of their fact."""
    sentence = _told(template, x=(f"{number[0]:.1f}", number[0], number[1]))
    assert sentence == metric
    assert in_units(sentence, "us") == us
    assert in_units(sentence, "metric") is sentence


def test_one_is_one_and_nothing_has_no_minus() -> None:
    """ "1.0 days" is "1 day" and "-0.0 C" is "0.0 C", around a quantity too."""
    sentence = _told(
        "{d} days at {x} C, {d} days later.", d=("1.0", 1.0, "days"), x=("-0.0", -0.0, "C")
    )
    assert sentence == "1 day at 0.0 C, 1 day later."
    assert in_units(sentence, "us") == "1 day at 32 °F, 1 day later."


def test_a_temperature_in_the_words_is_told_too() -> None:
    """A limit that stands in the sentence itself is converted, its twin in F is not doubled."""
    sentence = _told(
        "It stood at {x} C; about 21 C (70 F) is usual, never above 77 C.", x=("30.0", 30.0, "C")
    )
    told = "It stood at 86 °F; about 70 °F is usual, never above 171 °F."
    assert in_units(sentence, "us") == told


@pytest.mark.parametrize(
    ("metric", "us"),
    [
        ("Keep the bottles at 20-22 C for three weeks.", "at 68-72 °F for"),
        ("Steep the grain at 65 to 70 C.", "at 149 to 158 °F."),
        ("Warm the beer 2-3 C within range.", "beer 4-5 °F within"),
        ("It moves again after warming by 3-5 C.", "by 5-9 °F."),
        ("It reads within 1 C in both.", "within 1.8 °F in"),
        ("Keep it within 20 C of a glass fermenter.", "within 36 °F of"),
        ("The place went below about -2 C.", "below about 28 °F."),
        ("Keep them where it stays above 0 C.", "above 32 °F."),
        ("It can stop below 8 C.", "below 46 °F."),
        ("Wait while the room stays above 10 C (50 F).", "above 50 °F."),
        ("More than 20 C between them can crack it.", "More than 36 °F between"),
    ],
)
def test_a_text_of_the_knowledge_is_told_in_f(metric: str, us: str) -> None:
    """A temperature to read is told in F, a difference by its size, a twin as it is given."""
    assert us in in_units(prose(metric), "us")
    assert in_units(prose(metric), "metric") == metric


def test_a_text_without_a_temperature_stays_as_it_is() -> None:
    """Most texts hold no temperature and are not wrapped."""
    text = "Vitamin C and grade C hops."
    assert prose(text) is text


def test_the_texts_of_causes_and_findings_can_be_told() -> None:
    """Loaded knowledge keeps what is needed to tell them: none is left in C."""
    knowledge = load_knowledge()
    texts = [finding.check.how for finding in knowledge.findings.values()]
    for cause in knowledge.causes.values():
        steps = (*cause.now.brewing, *cause.now.fermenting, *cause.now.bottled, *cause.now.any)
        texts += [cause.mechanism, cause.rule_out, cause.next_time, cause.confirm.do]
        texts += [step.do for step in steps]
    told = [in_units(text, "us") for text in texts if isinstance(text, Told)]
    assert len(told) > 40
    assert not any(re.search(r"[0-9] C\b", text) for text in told)


def test_an_unknown_number_stays_a_word() -> None:
    """A fact that is not known leaves its words as they are."""
    assert in_units(_told("It was {x} C.", x=("unknown", None, "")), "us") == "It was unknown C."


@dataclass(frozen=True)
class _Inner:
    because: tuple[str, ...]
    number: float


@dataclass(frozen=True)
class _Outer:
    inner: _Inner
    table: dict[str, Any]
    same: list[str]


def test_a_whole_result_is_told() -> None:
    """Sentences are found in dataclasses, tuples and tables; what holds none is not copied."""
    sentence = _told("It stood at {x} C.", x=("20.0", 20.0, "C"))
    whole = _Outer(_Inner((sentence,), 1.0), {"a": [sentence]}, ["20 C"])
    told = in_units(whole, "us")
    assert told.inner.because == ("It stood at 68 °F.",)
    assert told.table == {"a": ["It stood at 68 °F."]}
    assert told.same is whole.same
    assert in_units(whole, "metric") is whole


def test_sentences_keep_their_numbers_when_put_together() -> None:
    """Joined, listed, cut, copied and sent to another process they can still be told."""
    one = _told("It stood at {x} C.", x=("20.0", 20.0, "C"))
    two = _told("The room had {x} C.", x=("25.0", 25.0, "C"))
    assert in_units(joined("- ", one), "us") == "- It stood at 68 °F."
    assert in_units(listed("; ", (one, two)), "us") == "It stood at 68 °F.; The room had 77 °F."
    assert in_units(clause(one, small=True), "us") == "it stood at 68 °F"
    assert in_units(copy.deepcopy(one), "us") == "It stood at 68 °F."
    assert in_units(pickle.loads(pickle.dumps(one)), "us") == "It stood at 68 °F."


def test_every_rule_writes_the_unit_of_its_number() -> None:
    """A temperature or pressure is followed by its unit; otherwise it would stay metric."""
    knowledge = load_knowledge()
    wrong, seen = [], 0
    for rule in knowledge.rules.values():
        for found in re.finditer(r"\{([^{}]+)\}", rule.because):
            spec = knowledge.facts.get(found[1])
            unit = UNITS.get(spec.unit) if spec is not None else None
            if unit is None:
                continue
            seen += 1
            if unit.written.match(rule.because, found.end()) is None:
                wrong.append(f"{rule.id}: {found[1]}")
    assert not wrong
    assert seen > 25
