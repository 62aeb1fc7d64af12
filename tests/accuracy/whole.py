"""Accuracy of the whole product on the real cases: log and words in, diagnosis out.

Run: python -m tests.accuracy.whole [--misses]
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import yaml
from tests.accuracy.scoring import NOT_THERE, SCORED, Score, place_of, wilson

from trubshoot.batch import read_batch
from trubshoot.diagnosis import Diagnosis, Diagnostician
from trubshoot.diagnosis.network import make_case
from trubshoot.knowledge_base import load_knowledge
from trubshoot.safety import Level

FOLDER = Path(__file__).resolve().parents[1] / "real_cases"
ASKED = datetime(2026, 1, 1, 12)  # the files count days; no date matters
CONFIDENT = 0.8


@dataclass(frozen=True)
class Run:
    """One case run through the product."""

    id: str
    answer: dict[str, Any]
    diagnosis: Diagnosis
    orders: dict[str, list[str]]

    @property
    def scored(self) -> bool:
        """Tell whether the case counts."""
        return self.answer["strength"] in SCORED and bool(self.answer["accept"])

    @property
    def pressure(self) -> bool:
        """Tell whether pressure was at stake."""
        return str(self.answer["hazard"]) == "pressure"


@cache
def diagnostician() -> Diagnostician:
    """Return the product, built once."""
    return Diagnostician(load_knowledge())


def answers() -> dict[str, dict[str, Any]]:
    """Return the expected answers by case id."""
    text = (FOLDER / "answers.yaml").read_text(encoding="utf-8")
    loaded: dict[str, dict[str, Any]] = yaml.safe_load(text)
    return loaded


def run_case(case_id: str, answer: dict[str, Any]) -> Run:
    """Run one case through the product; the other two methods see the same evidence."""
    work = diagnostician()
    batch = read_batch(FOLDER / f"{case_id.lower()}.yaml")
    diagnosis = work.diagnose(batch, ASKED)
    problem = make_case(
        work.base,
        diagnosis.findings,
        [item.id for item in diagnosis.contexts],
        {item.id for item in diagnosis.ruled_out},
    )
    up = [problem.told.findings[position] for position in problem.told.up]
    chart = problem.network.strength[:, up].sum(axis=1)
    rows = sorted(
        range(len(problem.causes)), key=lambda row: (-chart[row], -problem.network.prior[row])
    )
    return Run(
        case_id,
        answer,
        diagnosis,
        {
            "look-up chart": [problem.causes[row] for row in rows],
            "posterior": [
                cause.id for cause in sorted(diagnosis.causes, key=lambda item: -item.posterior)
            ],
            "responsibility": [cause.id for cause in diagnosis.causes],
        },
    )


def run_all() -> list[Run]:
    """Run every case."""
    return [run_case(case_id, answer) for case_id, answer in sorted(answers().items())]


def scores(runs: list[Run]) -> dict[str, Score]:
    """Return the places of the right cause by method, over the scored cases."""
    found: dict[str, Score] = {}
    for run in runs:
        for method, order in run.orders.items():
            score = found.setdefault(method, Score(method))
            score.places[run.id] = place(run, order)
    return found


def place(run: Run, order: list[str]) -> int:
    """Return the place of the right cause; a case from which nothing was made out is a miss."""
    return place_of(order, run.answer["accept"])


def hazards_missed(runs: list[Run]) -> list[str]:
    """Return the pressure cases without WARNING or DANGER."""
    return [run.id for run in runs if run.pressure and run.diagnosis.level < Level.WARNING]


def hazards_for_nothing(runs: list[Run]) -> list[str]:
    """Return the cases without any hazard that raise WARNING or DANGER all the same."""
    return [
        run.id
        for run in runs
        if str(run.answer["hazard"]) == "none" and run.diagnosis.level >= Level.WARNING
    ]


def calibration(runs: list[Run]) -> list[tuple[str, int, float, float]]:
    """Return (bin, count, mean said, share true) of the five leading causes of each case."""
    said: list[tuple[float, bool]] = []
    for run in runs:
        for cause in run.diagnosis.causes[:5]:
            said.append((cause.responsibility, cause.id in run.answer["accept"]))
    table = []
    for low in (0.0, 0.1, 0.2, 0.4, 0.6, 0.8):
        high = {0.0: 0.1, 0.1: 0.2, 0.2: 0.4, 0.4: 0.6, 0.6: 0.8, 0.8: 1.01}[low]
        inside = [item for item in said if low <= item[0] < high]
        if inside:
            mean = sum(chance for chance, _ in inside) / len(inside)
            true = sum(right for _, right in inside) / len(inside)
            table.append((f"{low:.1f}-{min(high, 1.0):.1f}", len(inside), mean, true))
    return table


def brier(runs: list[Run]) -> float:
    """Return the mean squared error of what is said of the five leading causes."""
    errors = [
        (cause.responsibility - float(cause.id in run.answer["accept"])) ** 2
        for run in runs
        for cause in run.diagnosis.causes[:5]
    ]
    return sum(errors) / len(errors)


def main() -> None:
    """Print all figures."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--misses", action="store_true", help="show every miss with its findings")
    shown = parser.parse_args()
    runs = run_all()
    scored = [run for run in runs if run.scored]
    print(f"{len(runs)} cases, {len(scored)} scored")
    for method in scores(scored).values():
        print("  " + method.line())
    for stage in ("brewing", "fermenting", "bottled"):
        group = [run for run in scored if run.diagnosis.evidence.stage == stage]
        if group:
            print(f"  {stage}: {scores(group)['responsibility'].line()}")
    fifths = [scored[start::5] for start in range(5)]
    parts = [scores(fifth)["responsibility"].share(1) for fifth in fifths]
    # nothing was fitted, so that no fifth was left out of anything: a spread, not a validation
    print("  top-1 by fifth: " + ", ".join(f"{hits}/{count}" for hits, count in parts))
    print(f"calibration (five leading causes of each case): Brier {brier(scored):.3f}")
    for name, count, mean, true in calibration(scored):
        print(f"  said {name}: n={count:>3}, mean said {mean:.2f}, came true {true:.2f}")
    confident = [
        (cause.id in run.answer["accept"])
        for run in scored
        for cause in run.diagnosis.causes[:5]
        if cause.responsibility >= CONFIDENT
    ]
    low, high = wilson(sum(confident), len(confident))
    share = sum(confident) / len(confident) if confident else 0.0
    print(f"  said >= {CONFIDENT}: {len(confident)}, came true {share:.2f} ({low:.2f}-{high:.2f})")
    print(f"pressure cases without WARNING or DANGER: {hazards_missed(runs) or 'none'}")
    print(f"WARNING or DANGER where the answer names no hazard: {hazards_for_nothing(runs)}")
    for run in scored:
        order = run.orders["responsibility"]
        found = place(run, order)
        if found >= 3 or (shown.misses and found >= 1):
            _miss(run, order, found)


def _miss(run: Run, order: list[str], found: int) -> None:
    where = "ruled out" if found == NOT_THERE else str(found + 1)
    print(f"{run.id}: wanted {', '.join(run.answer['accept'])} at {where}; said {order[:3]}")
    states = [f"{item.id}={item.state}" for item in run.diagnosis.findings if item.origin != ""]
    print(f"    findings: {', '.join(states) or 'none'}")
    print(f"    contexts: {', '.join(item.id for item in run.diagnosis.contexts) or 'none'}")
    lost = [item.words for item in run.diagnosis.evidence.not_understood]
    print(f"    not understood: {lost}")


if __name__ == "__main__":
    main()
