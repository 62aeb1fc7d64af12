"""How well free words are understood: floors under the figures, and sentences that mislead."""

from __future__ import annotations

from collections import Counter

import pytest
from tests.accuracy.words import counted, verdicts
from tests.words.measure import heard_in, kinds, lexicon, measured, paraphrases, wrong_in

from trubshoot.evidence.words import read_text

KINDS = kinds()
SOLVED = [(kind, row) for kind, row in KINDS if "open" not in row]


@pytest.mark.parametrize(("kind", "row"), SOLVED, ids=[row["words"][:50] for _, row in SOLVED])
def test_sentences_that_mislead(kind: str, row: dict[str, object]) -> None:
    """What is denied, asked, feared, passed on or said of another batch is read as that."""
    assert wrong_in(row) == [], kind


def test_every_kind_has_sentences_enough() -> None:
    """Eight sentences or more of every kind, of both sorts, and few that are still read wrong."""
    count = Counter(kind for kind, _ in KINDS)
    assert min(count.values()) >= 8
    for kind in count:
        rows = [row for name, row in KINDS if name == kind]
        assert any("not_here" in row or "absent" in row for row in rows), kind
    assert sum("open" in row for _, row in KINDS) <= 3


def test_what_is_still_read_wrong_is_so() -> None:
    """A sentence noted as still wrong is wrong: once it is mended its note has to go."""
    assert all(wrong_in(row) for _, row in KINDS if "open" in row)


def test_three_hundred_paraphrases_of_every_finding() -> None:
    """The paraphrases are as many as said, and each finding has two or more."""
    told = paraphrases()
    assert len(told) >= 300
    count = Counter(one.finding for one in told)
    assert set(count) == set(lexicon().findings)
    assert min(count.values()) >= 2
    assert len({one.words for one in told}) == len(told)


@pytest.mark.parametrize("looked_at", [True, False])
def test_paraphrases_are_understood(looked_at: bool) -> None:
    """Floors under the figures of `python -m tests.words.measure`, both halves."""
    found = measured(looked_at=looked_at)
    assert found.precision >= 0.82
    assert found.recall >= 0.68


def test_real_cases_raw_and_after_the_audit() -> None:
    """Floors under the figures of `python -m tests.accuracy.words`, the raw ones too."""
    whole, words, audited, unjudged = counted()
    assert whole.precision >= 0.62
    assert whole.recall >= 0.7
    assert words.recall >= 0.6
    assert words.precision >= 0.66
    assert audited.precision >= 0.82
    assert len(unjudged) <= 5


def test_audit_is_of_known_findings() -> None:
    """Every row of the audit names a finding that exists, once, with one of three verdicts."""
    assert {finding for _, finding in verdicts()} <= set(lexicon().findings)
    assert set(verdicts().values()) == {"said", "not_said", "rule"}


def test_grave_things_are_heard_of_another_batch_and_in_a_question() -> None:
    """A burst bottle counts wherever it is spoken of, unless it has not happened."""
    assert "bottle_burst" in heard_in("a bottle of my last batch exploded", "bottled")
    assert "bottle_burst" in heard_in("did a bottle burst here?", "bottled")
    assert "bottle_burst" not in heard_in("I hope that no bottle will burst", "bottled")
    assert "bottle_burst" not in heard_in("if one bottle bursts I shall cry", "bottled")


def test_what_is_wrong_gives_way_to_what_it_is() -> None:
    """An off taste not said how is left out where the taste is named, and kept where it is not."""
    assert heard_in("it has an off taste, like vinegar", "bottled") == {"vinegar"}
    assert heard_in("it has an off taste", "bottled") == {"off_taste_unspecified"}


def test_words_of_some_bottles() -> None:
    """What a few bottles do is not what all of them do."""
    assert "gusher_some" in heard_in("two of my bottles gushed", "bottled")
    assert "gusher_all" in heard_in("all of my bottles gushed", "bottled")
    assert "gusher_all" in heard_in("each and every bottle gushed", "bottled")


# what has happened, however it is told: a grave thing among it is heard
HAPPENED = (
    "all fine except for one bottle that burst",
    "apart from two burst bottles it went well",
    "great beer apart from every bottle gushing",
    "everything ok except for the lid bulging",
    "all fine apart from the lid which blew off",
    "all ok apart from the mould on the surface",
    "good beer apart from a ring in the bottle neck",
    "I think a bottle may have exploded in the night",
    "someone said that a bottle burst in the cellar",
    "they say a bottle burst while I was away",
    "according to my wife a bottle burst",
    "might be mould",
    "looks like it could be mould",
    "it was supposed to be flat and a bottle burst",
    "I used to be calm about it until a bottle burst",
    "hope you can help a bottle burst",
    "in case it matters a bottle burst",
    "to prevent another: a bottle burst yesterday",
    "I was afraid they would explode and one did",
    "he said they might explode and they did, two of them",
    "every few days a bottle will burst",
    "one is about to burst",
    "Should I throw away the rest after one bottle exploded",
    "I was looking for one and found a bottle burst",
    "a bottle burst none were hurt",
    "two bottles burst and none hurt",
    "a bottle exploded none of us was near",
    "not sour, bottles burst or leaking",
    "no smell, two bottles burst or cracked",
    "without warning, bottle burst or cap blew",
    "my wife says a bottle exploded",
    "a bottle went off in the cupboard, I think",
    "two have burst so far",
    "if the bottles warmed up and one burst",
    # the denial is of something else, and a hurried apostrophe changes nothing
    "I wasn't there when the bottle exploded",
    "didnt wear glasses when a bottle burst",
    "the bottle isnt just cracked it burst",
    "couldnt stop the bottle from gushing",
    "I didnt look and a bottle burst",
    "bottle no 7 burst",
    "never had a bottle burst until now",
    "no sign of bursting until one exploded",
    # other words in this order mean something else, but these may be grave
    "went off a bottle",
)
# a condition or a denial: nothing grave has happened
NOT_HAPPENED = (
    "if another bottle bursts",
    "I keep them in a box in case one bursts",
    "no gushing, burst bottles or leaking caps",
    "no bottle burst",
    "none of the bottles burst",
    "bottle bursts: none",
    "burst bottles none",
    "what do I do if a bottle should explode",
    "no bottles have burst, cracked or leaked",
    "no film, mould or smell of vinegar",
    "bottles havent burst when warm",
    "no bottles exploded when I was away",
    "no burst and gushing bottles",
)
GRAVE = {
    *("bottle_burst", "gusher_all", "gusher_some", "lid_bulging_or_blown"),
    *("fuzzy_coloured_growth", "ring_in_bottle_neck"),
}


@pytest.mark.parametrize("words", HAPPENED)
def test_what_has_happened_is_heard(words: str) -> None:
    """A burst told as likely, by others, in passing or as the exception counts as one."""
    assert GRAVE & heard_in(words, "bottled")


@pytest.mark.parametrize("words", NOT_HAPPENED)
def test_what_is_denied_or_a_condition_is_not_heard(words: str) -> None:
    """Conditions and denied lists raise nothing."""
    assert not GRAVE & heard_in(words, "bottled")


def test_signs_are_denied_only_where_the_denial_reaches() -> None:
    """Somebody who did not know what it was has drunk it; who did not drink it has not."""
    for words, sign in (
        ("she didnt know and drank the cleaner", "swallowed_chemical"),
        ("he didn't see it was sanitizer and drank it", "swallowed_chemical"),
        ("wasnt careful and cut my hand on the broken glass", "bleeding_cut"),
        ("the airlock is clogged", "stopper_blown"),
        ("smell of propane", "cylinder_leak"),
    ):
        found = {(target.id, state) for target, _, state in read_text(lexicon(), words)}
        assert (sign, "present") in found, words
    denied = {(item.id, state) for item, _, state in read_text(lexicon(), "nobody drank cleaner")}
    assert denied == {("swallowed_chemical", "absent")}
