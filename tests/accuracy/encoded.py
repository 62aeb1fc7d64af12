"""Accuracy on the blind encodings of the real cases, symptoms and circumstances only.

Run: python -m tests.accuracy.encoded
"""

from __future__ import annotations

from tests.accuracy.scoring import RealCase, Score, place_of, real_cases

from trubshoot.diagnosis.diagnose import best_first
from trubshoot.diagnosis.network import Base, FindingState, make_case
from trubshoot.diagnosis.noisy_or import rank
from trubshoot.knowledge_base import load_knowledge


def states(case: RealCase) -> list[FindingState]:
    """Return the findings as the encoder stated them."""
    return [
        *(FindingState(name, 0.0, 1.0, "said") for name in case.encoded["present"]),
        *(FindingState(name, 1.0, 0.0, "said") for name in case.encoded["absent"]),
    ]


def orders(base: Base, case: RealCase) -> dict[str, list[str]]:
    """Return the causes best first by three methods: look-up chart, posterior, responsibility."""
    problem = make_case(base, states(case), case.encoded["contexts"])
    ranking = rank(problem.network, problem.told)
    rows = range(len(problem.causes))
    up = [problem.told.findings[position] for position in problem.told.up]
    chart = problem.network.strength[:, up].sum(axis=1)
    by_chart = sorted(rows, key=lambda row: (-chart[row], -problem.network.prior[row]))
    by_posterior = sorted(rows, key=lambda row: -ranking.posterior[row])
    return {
        "look-up chart": [problem.causes[row] for row in by_chart],
        "posterior": [problem.causes[row] for row in by_posterior],
        "responsibility": [problem.causes[row] for row in best_first(ranking)],
    }


def score(cases: list[RealCase], base: Base) -> dict[str, Score]:
    """Return the scores of the three methods over the cases."""
    scores: dict[str, Score] = {}
    for case in cases:
        for method, order in orders(base, case).items():
            kept = scores.setdefault(method, Score(method))
            kept.places[case.id] = place_of(order, case.accept)
    return scores


def main() -> None:
    """Print the scores and the misses."""
    base = Base.of(load_knowledge())
    cases = [case for case in real_cases() if case.scored]
    told = [case for case in cases if case.encoded["present"]]
    for title, group in (
        ("scored cases that state a finding", told),
        ("all scored cases", cases),
        ("  fermenting", [case for case in told if case.stage == "fermenting"]),
        ("  bottled", [case for case in told if case.stage == "bottled"]),
    ):
        print(title)
        for kept in score(group, base).values():
            print("  " + kept.line())
    print("misses (responsibility, not among the first three)")
    for case in told:
        order = orders(base, case)["responsibility"]
        place = place_of(order, case.accept)
        if place >= 3:
            print(f"  {case.id}: wanted {', '.join(case.accept)} at {place + 1}; {order[:3]}")


if __name__ == "__main__":
    main()
