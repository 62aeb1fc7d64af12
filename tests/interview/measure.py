"""How much an interview finds out, with how many questions: drawn users and real cases.

Run: python -m tests.interview.measure [--users 150] [--tuning 777] [--to-the-end]

The figures of the page are of RANDOM_STATE. Nothing was chosen by its users: whoever tunes the
interview draws others with --tuning.
"""

from __future__ import annotations

import argparse
import random
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from tests.accuracy.scoring import Score, place_of, real_cases
from tests.interview.users import Outcome, User, drawn, hold, of_case, told_everything

from trubshoot.diagnosis import Diagnostician
from trubshoot.knowledge_base import KnowledgeBase, load_knowledge

RANDOM_STATE = 20261125


@dataclass
class Measured:
    """Places of the right cause after the first words, the interview, and everything told."""

    first: Score = field(default_factory=lambda: Score("first words only"))
    interview: Score = field(default_factory=lambda: Score("after the interview"))
    everything: Score = field(default_factory=lambda: Score("everything told, nothing left to ask"))
    findings_asked: list[int] = field(default_factory=list)
    all_asked: list[int] = field(default_factory=list)
    any_there: list[tuple[bool, ...]] = field(default_factory=list)
    first_after: list[list[bool]] = field(default_factory=list)  # right after 0, 1, 2 ... questions

    def add(self, name: str, user: User, outcomes: tuple[Outcome, Outcome, Outcome]) -> None:
        """Add one user."""
        for score, outcome in zip(
            (self.first, self.interview, self.everything), outcomes, strict=True
        ):
            score.places[name] = place_of(outcome.order, user.accept)
        if user.there:
            self.any_there.append(
                tuple(place_of(outcome.order, user.there) == 0 for outcome in outcomes)
            )
        self.findings_asked.append(outcomes[1].findings_asked)
        self.all_asked.append(len(outcomes[1].asked))
        self.first_after.append([place_of(order, user.accept) == 0 for order in outcomes[1].steps])

    def curve(self) -> str:
        """Return top-1 after so many questions; who was done before keeps the answer."""
        longest = max(len(steps) for steps in self.first_after)
        shares = [
            sum(steps[min(count, len(steps) - 1)] for steps in self.first_after)
            / len(self.first_after)
            for count in range(longest)
        ]
        return ", ".join(f"{count}: {share:.0%}" for count, share in enumerate(shares))

    def lines(self) -> list[str]:
        """Return what to print."""
        count = len(self.all_asked)
        asked = self.findings_asked
        return [
            *(score.line() for score in (self.first, self.interview, self.everything)),
            f"questions about findings: {sum(asked) / count:.1f} on average, {max(asked)} at most; "
            f"with those on place, age and safety {sum(self.all_asked) / count:.1f}",
            f"top-1 after so many questions of all kinds: {self.curve()}",
            *self._paired(),
        ]

    def _paired(self) -> list[str]:
        """Return what the interview loses and wins, and how often anything that is there leads."""
        asked, told = self.interview.places, self.everything.places
        lost = sum(told[name] == 0 != place for name, place in asked.items())
        won = sum(place == 0 != told[name] for name, place in asked.items())
        lines = [f"right only when everything is told: {lost}; right only by the interview: {won}"]
        if self.any_there:
            shares = [
                sum(column) / len(self.any_there) for column in zip(*self.any_there, strict=True)
            ]
            words = ", ".join(f"{share:.0%}" for share in shares)
            lines.append(f"first is anything that is there, harmless or not: {words}")
        return lines


def measured(work: Diagnostician, users: Iterable[User]) -> Measured:
    """Hold the interviews of all users."""
    found = Measured()
    for number, user in enumerate(users):
        outcomes = (
            told_everything(work, user, all_of_it=False),
            hold(work, user)[2],
            told_everything(work, user, all_of_it=True),
        )
        found.add(f"{number}", user, outcomes)
    return found


def real_users(told: int | None) -> list[User]:
    """Return the brewers of the scored real cases that state a finding."""
    cases = [case for case in real_cases() if case.scored and case.encoded["present"]]
    return [of_case(case, told) for case in cases]


def without_an_end(knowledge: KnowledgeBase) -> KnowledgeBase:
    """Return the knowledge with numbers that let an interview ask until nothing is left."""
    endless = {
        "interview_most_questions": 100.0,
        "interview_most_unknown": 100.0,
        "interview_leader_from": 1.1,
        "check_least_gain_bits": 0.001,
    }
    constants = {
        key: row.model_copy(update={"value": endless[key]}) if key in endless else row
        for key, row in knowledge.constants.items()
    }
    return replace(knowledge, constants=constants)


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--users", type=int, default=150)
    parser.add_argument("--tuning", type=int, help="another fixed random state, to choose by")
    parser.add_argument("--to-the-end", action="store_true", help="ask until no question is left")
    given = parser.parse_args()
    count = given.users
    knowledge = load_knowledge()
    work = Diagnostician(without_an_end(knowledge) if given.to_the_end else knowledge)
    chance = random.Random(RANDOM_STATE if given.tuning is None else given.tuning)
    groups = (
        (
            "drawn from the model, two findings told, every answer known",
            [drawn(work, chance) for _ in range(count)],
        ),
        (
            "drawn from the model, three answers in ten not known",
            [drawn(work, chance, known=0.7) for _ in range(count)],
        ),
        ("real cases, two findings told, all else only if asked", real_users(2)),
        ("real cases, all findings noticed are told at first", real_users(None)),
    )
    for title, users in groups:
        print(f"{title} (n={len(users)})")
        for line in measured(work, users).lines():
            print(f"  {line}")


if __name__ == "__main__":
    main()
