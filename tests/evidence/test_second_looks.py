"""Remedies and instruments: what readings before and after tell, worked out by hand."""

from __future__ import annotations

import pytest
from tests.evidence.support import evidence_of, facts_of, number

HEAD = "batch: a\nunits: metric\nyeast: {class: clean American ale, form: dry}\ntoday: 30\nlog:\n"
PITCHED = "  - {day: 0, gravity: 1.060, with: hydrometer}\n  - {day: 0, did: pitched}\n"


def _log(*lines: str) -> str:
    return HEAD + PITCHED + "".join(f"  - {{{line}}}\n" for line in lines)


def test_fall_after_a_remedy_is_counted_from_the_reading_before_it() -> None:
    """1.024 before, 1.016 four days after: 8 points."""
    facts = facts_of(
        _log(
            "day: 14, gravity: 1.024, with: hydrometer",
            "day: 15, did: roused",
            "day: 19, gravity: 1.016, with: hydrometer",
        )
    )
    assert number(facts, "fall_after_remedy_points") == pytest.approx(8.0, abs=0.1)
    assert number(facts, "days_after_remedy") == pytest.approx(4.0)
    assert "fall_after_repitch_points" not in facts


def test_no_reading_after_the_remedy_says_nothing() -> None:
    """A remedy without a later reading sets no fact."""
    facts = facts_of(_log("day: 14, gravity: 1.024, with: hydrometer", "day: 15, did: repitched"))
    assert "fall_after_remedy_points" not in facts


def test_raw_refractometer_number_stands_above_the_gravity() -> None:
    """Alcohol lifts the raw number, so raw minus gravity is clearly above 0."""
    facts = facts_of(_log("day: 14, gravity: 1.028, with: refractometer"))
    assert number(facts, "refractometer_raw_over_gravity_points") > 6


def test_readings_before_pitching_are_compared() -> None:
    """1.043 and 1.052 of one wort lie 9 points apart."""
    text = (
        "batch: a\ntoday: 0\nlog:\n  - {day: 0, gravity: 1.043, with: hydrometer}\n"
        "  - {day: 0, gravity: 1.052, with: hydrometer}\n"
    )
    assert number(facts_of(text), "gap_before_pitching_points") == pytest.approx(9.0, abs=0.1)


def _said(text: str, day: float, verb: str = "saw") -> set[tuple[str, str]]:
    evidence = evidence_of(HEAD + PITCHED + f"  - {{day: {day}, {verb}: {text}}}\n")
    return {(item.id, item.state) for item in evidence.understood}


def test_numbers_in_words_count_by_their_kind() -> None:
    """A phrase taught with one gravity is found with another."""
    assert ("gravity_stuck_high", "present") in _said("stuck at 1.027", 20)


def test_silence_means_another_finding_in_the_first_two_days() -> None:
    """No bubbles at twelve hours is not the finding of 48 hours."""
    assert ("no_bubbles_yet", "present") in _said("no bubbles in the airlock", 0.5)
    assert ("no_airlock_bubbles_day_2", "present") in _said("no bubbles in the airlock", 3)


def test_no_sign_of_foam_is_the_finding_no_foam() -> None:
    """What was looked for and not found is read as the finding of its lack."""
    assert ("no_foam_day_2", "present") in _said("foam", 3, "no_sign_of")


def test_a_clause_about_another_batch_is_silent_but_for_hazards() -> None:
    """An earlier batch's banana is not this beer's; its burst bottle is heard all the same."""
    told = _said("an earlier batch was full of banana", 9)
    assert "banana_fruity" not in {name for name, _ in told}
    heard = _said("in an earlier batch a bottle exploded", 9)
    assert ("bottle_burst", "present") in heard


@pytest.mark.parametrize("what", ["amylase", "glucoamylase enzyme", "saison yeast"])
def test_what_eats_dextrins_is_known_by_the_names_of_its_class(what: str) -> None:
    """An enzyme or a diastatic yeast poured in late makes the whole batch diastatic."""
    facts = facts_of(_log(f"day: 5, did: added, what: {what}"))
    assert facts["yeast_is_diastatic"] == "present"
    assert facts["enzyme_added"] == "present"


@pytest.mark.parametrize("what", ["raspberries", "dry hops", "finings"])
def test_other_additions_leave_an_ordinary_yeast_ordinary(what: str) -> None:
    """A named addition that eats no dextrin leaves the class of the sachet standing."""
    facts = facts_of(_log(f"day: 5, did: added, what: {what}"))
    assert facts["yeast_is_diastatic"] == "absent"
    assert "enzyme_added" not in facts


def test_a_circumstance_in_words_can_be_read_by_rules() -> None:
    """What the brewer says of the gravity counts where the numbers are not logged."""
    facts = facts_of(_log("day: 9, saw: gravity has reached the target"))
    assert facts["context.ended_as_expected"] == "present"
    assert "context.ended_as_expected" not in facts_of(_log("day: 9, saw: foam ring"))
