"""Words and rules merged: what goes before what, and what contradicts."""

from __future__ import annotations

import math

from tests.diagnosis.support import said, show, spec, with_rules

from trubshoot.diagnosis.states import fired_hazards, gather, reason
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.rules import Fact

SOUR, BUTTER = "sour_tart", "butter_popcorn"


def test_words_alone(knowledge: KnowledgeBase) -> None:
    """What was said counts as said: present, or looked for and absent."""
    base, nothing = with_rules(knowledge)
    known = gather(base, [said(SOUR), said(BUTTER, "absent")], nothing, show)
    states = {state.id: (state.state, state.origin) for state in known.findings}
    assert states == {SOUR: ("present", "said"), BUTTER: ("absent", "said")}
    assert known.contradictions == ()
    assert known.findings[0].because == (f'you said "words for {known.findings[0].id}"',)


def test_log_goes_before_words(knowledge: KnowledgeBase) -> None:
    """Where log and words disagree, the log's number is taken and the contradiction is told."""
    base, concluded = with_rules(
        knowledge, spec("aa", {"finding": SOUR}), spec("bb", {"no_finding": BUTTER})
    )
    known = gather(base, [said(SOUR, "absent"), said(BUTTER)], concluded, show)
    states = {state.id: (state.state, state.origin) for state in known.findings}
    assert states == {SOUR: ("present", "log"), BUTTER: ("absent", "log")}
    assert {(one.finding, one.said, one.logged) for one in known.contradictions} == {
        (SOUR, f"words for {SOUR}", "so it is"),
        (BUTTER, f"words for {BUTTER}", "so it is"),
    }


def test_log_and_words_agree(knowledge: KnowledgeBase) -> None:
    """Where they agree the finding is told once, from both."""
    base, concluded = with_rules(knowledge, spec("aa", {"finding": SOUR}))
    known = gather(base, [said(SOUR)], concluded, show)
    assert [(state.id, state.state, state.origin) for state in known.findings] == [
        (SOUR, "present", "said and log")
    ]
    assert known.contradictions == ()


def test_strongest_hint_once(knowledge: KnowledgeBase) -> None:
    """Of several hints about one finding only the strongest counts, and only once."""
    base, concluded = with_rules(
        knowledge,
        spec("aa", {"finding": SOUR, "told": {"so": 0.6, "not_so": 0.3}}, "weak"),
        spec("bb", {"finding": SOUR, "told": {"so": 0.1, "not_so": 0.9}}, "strong against"),
        spec("cc", {"finding": SOUR, "told": {"so": 0.8, "not_so": 0.2}}, "middling"),
    )
    (state,) = gather(base, [], concluded, show).findings
    assert (state.if_so, state.if_not_so) == (0.1, 0.9)
    assert state.because == ("strong against",)
    assert state.state == "unlikely"
    assert math.log(0.9 / 0.1) > math.log(0.8 / 0.2)


def test_hints_yield_to_words_and_to_the_log(knowledge: KnowledgeBase) -> None:
    """A hint counts only where neither words nor a sure rule speak."""
    hint = spec("aa", {"finding": SOUR, "told": {"so": 0.9, "not_so": 0.1}})
    base, concluded = with_rules(knowledge, hint)
    (state,) = gather(base, [said(SOUR, "absent")], concluded, show).findings
    assert state.state == "absent"
    base, concluded = with_rules(knowledge, hint, spec("bb", {"no_finding": SOUR}))
    (state,) = gather(base, [], concluded, show).findings
    assert (state.state, state.origin) == ("absent", "log")


def test_contexts_and_ruled_out_causes_keep_their_reasons(knowledge: KnowledgeBase) -> None:
    """Circumstances come from words and rules, causes are ruled out by rules; with reasons."""
    context, cause = next(iter(knowledge.contexts)), next(iter(knowledge.causes))
    base, concluded = with_rules(
        knowledge,
        spec("aa", {"context": context}, "the log says so"),
        spec("bb", {"rules_out": cause}, "it cannot be"),
        spec("cc", {"marker": "only_a_marker"}),
    )
    words = [said(context, kind="context"), said("other", "absent", kind="context")]
    known = gather(base, words, concluded, show)
    assert known.contexts == {context: (f'you said "words for {context}"', "the log says so")}
    assert known.ruled_out == {cause: ("it cannot be",)}
    assert known.findings == ()


def test_the_first_words_about_a_finding_count(knowledge: KnowledgeBase) -> None:
    """Said twice, a finding is told once."""
    base, nothing = with_rules(knowledge)
    known = gather(base, [said(SOUR), said(SOUR)], nothing, show)
    assert len(known.findings) == 1


def test_reasons_carry_the_numbers(knowledge: KnowledgeBase) -> None:
    """A rule's sentence is filled with the values of its facts; what is not known says so."""
    one = spec("aa", {"finding": SOUR}, "{n} points, {s} and {t}, {missing}")
    base, _ = with_rules(knowledge, one)
    facts = {"n": Fact(number=3.5), "s": Fact("absent"), "t": Fact(text="ale")}
    assert reason(base, facts, "aa", show) == "<n=3.5> points, absent and ale, unknown"


def test_hazards_are_told_with_reason_and_rule(knowledge: KnowledgeBase) -> None:
    """Every hazard rule that fired is passed on, each with its reason."""
    base, concluded = with_rules(
        knowledge,
        spec("aa", {"hazard": "bottle_burst"}, "one burst"),
        spec("bb", {"hazard": "bottle_burst"}, "another too"),
        spec("cc", {"finding": SOUR}),
    )
    fired = fired_hazards(base, concluded, show)
    assert [(hazard, because, firing.rule) for hazard, because, firing in fired] == [
        ("bottle_burst", "one burst", "aa"),
        ("bottle_burst", "another too", "bb"),
    ]
