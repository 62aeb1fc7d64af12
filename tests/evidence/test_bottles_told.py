"""Of how many bottles a fault is told, what the head of the file names, and where day 0 lies."""

from __future__ import annotations

import pytest
from tests.evidence.support import evidence_of, facts_of, real_knowledge

BOTTLED = "batch: told\nlog:\n  - {day: 0, did: pitched}\n  - {day: 21, did: bottled}\n"


def told(text: str, where: str = "") -> str:
    """Return a bottled batch with one observation."""
    place = f", in: {where}" if where else ""
    return f"{BOTTLED}  - {{day: 40, saw: {text}{place}}}\n"


def known(text: str, kind: str) -> set[str]:
    """Return the ids of one kind that were understood as present."""
    return {
        item.id
        for item in evidence_of(text).understood
        if item.kind == kind and item.state == "present"
    }


@pytest.mark.parametrize(
    ("words", "everywhere", "somewhere"),
    [
        ("foams over when opened, gushing", "gusher_all", "gusher_some"),
        ("completely flat", "flat_all_bottles", "mixed_fizz"),
        ("hardly any carbonation", "weak_fizz_all_bottles", "mixed_fizz"),
    ],
)
def test_words_about_all_mean_another_finding_of_some(
    words: str, everywhere: str, somewhere: str
) -> None:
    """What means every bottle means a few when the log says that it was seen in some bottles."""
    assert everywhere in known(told(f"'{words}'", "all bottles"), "finding")
    some = known(told(f"'{words}'", "some bottles"), "finding")
    assert somewhere in some
    assert everywhere not in some


def test_a_denied_gusher_stays_denied() -> None:
    """Not gushing in some bottles is not one bottle gushing."""
    text = f"{BOTTLED}  - {{day: 40, no_sign_of: gushing, in: some bottles}}\n"
    assert "said.gusher_some" not in facts_of(text)


@pytest.mark.parametrize(
    ("where", "some", "every"),
    [
        ("some bottles", "present", None),
        ("all bottles", None, "present"),
        ("one bottle", None, None),
        ("", None, None),
    ],
)
def test_of_how_many_bottles_a_taste_is_told(
    where: str, some: str | None, every: str | None
) -> None:
    """A taste told of some or of all bottles is noted so; one bottle opened says neither."""
    facts = facts_of(told("tastes sour", where))
    assert facts.get("told_of_some_bottles") == some
    assert facts.get("told_of_all_bottles") == every


def test_a_burst_tells_nothing_of_the_taste_of_the_others() -> None:
    """A burst is always of some bottles; it does not make a fault of some bottles."""
    assert "told_of_some_bottles" not in facts_of(told("two bottles exploded", "some bottles"))


def test_seen_in_the_glass() -> None:
    """What was seen in the glass shows that the beer was packaged."""
    assert facts_of(told("kept a good head", "glass"))["seen_in_glass"] == "present"
    assert "seen_in_glass" not in facts_of(told("kept a good head"))


@pytest.mark.parametrize(
    ("head", "context"),
    [
        ("bottles: {kind: old swing-top bottles}", "thin_or_damaged_glass"),
        ("storage: {where: a hot garage}", "stored_over_25c"),
        ("style: saison with brettanomyces", "mixed_culture_history"),
    ],
)
def test_the_head_names_circumstances(head: str, context: str) -> None:
    """Words of the head set circumstances, as the same words under `circumstances` would."""
    assert context in known(BOTTLED.replace("log:", f"{head}\nlog:"), "context")


def test_the_head_names_no_findings() -> None:
    """A style called sour is no report of sourness."""
    text = BOTTLED.replace("log:", "style: sour ale\nlog:")
    assert not known(text, "finding")
    assert "said.sour_tart" not in facts_of(text)


def test_a_log_that_opens_with_bottling_counts_from_it() -> None:
    """Day 0 is the pitching only when it can be: bottling on day 0 is not pitching."""
    opening = "batch: told\ntoday: 30\nlog:\n  - {day: 0, did: bottled}\n"
    facts = facts_of(opening)
    assert "days_since_pitch" not in facts
    assert facts["conditioning_days"] == pytest.approx(30.0)
    limit = real_knowledge().constant("least_days_to_bottling")
    later = facts_of(opening.replace("day: 0", f"day: {limit:g}"))
    assert later["days_since_pitch"] == pytest.approx(30.0)


@pytest.mark.parametrize(
    "words",
    [
        "only the swing-tops exploded",
        "one bottle burst, the others held",
        "no other bottle failed after two of them burst",
        "the bases of three bottles blew out",
    ],
)
def test_a_burst_is_heard_beside_the_bottles_that_held(words: str) -> None:
    """Telling which bottles held never hides that one burst."""
    assert "bottle_burst" in known(told(f"'{words}'"), "finding")
