"""What the interview finds out, on a few drawn users and on the real cases: bounds, not figures."""

from __future__ import annotations

import random

from tests.interview.measure import RANDOM_STATE, Measured, measured, real_users
from tests.interview.users import drawn, hold

from trubshoot.diagnosis import Diagnostician


def test_drawn_users_are_asked_little_and_it_helps(diagnostician: Diagnostician) -> None:
    """About five questions of all kinds on average, and the answer gets better by them."""
    chance = random.Random(RANDOM_STATE)
    found = measured(diagnostician, [drawn(diagnostician, chance) for _ in range(30)])
    assert sum(found.all_asked) / 30 <= 5.5  # 30 users; the page has the whole figure
    assert max(found.findings_asked) <= diagnostician.knowledge.constant("interview_most_questions")
    # thirty are too few for first places alone; the page has those of 150
    assert sum(found.interview.places.values()) < sum(found.first.places.values())
    assert found.interview.share(3)[0] >= found.first.share(3)[0]
    # and not much worse than by everything that could be told: of a hundred, seven are right only
    # then, so of thirty it may be six by chance
    assert found.interview.share(1)[0] >= found.everything.share(1)[0] - 6


def test_real_brewers_are_asked_little_and_lose_nothing(diagnostician: Diagnostician) -> None:
    """On real cases told in full, the interview asks at most five questions of all kinds."""
    found = Measured()
    for number, user in enumerate(real_users(None)):
        outcome = hold(diagnostician, user)[2]
        found.add(str(number), user, (outcome, outcome, outcome))
    assert sum(found.all_asked) / len(found.all_asked) <= 5
    assert found.interview.share(1)[0] / len(found.all_asked) >= 0.55


def test_safety_is_the_first_question_after_the_place(diagnostician: Diagnostician) -> None:
    """Whatever the complaint, nothing but where the beer is comes before safety."""
    chance = random.Random(RANDOM_STATE + 1)
    held = [hold(diagnostician, drawn(diagnostician, chance))[2].asked for _ in range(15)]
    orders = [[prompt for prompt in asked if prompt != "detail:stage"] for asked in held]
    assert all(order[0].startswith("safety:") for order in orders if order)
    assert any(orders)
