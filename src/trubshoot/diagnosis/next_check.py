"""The next check worth doing: the most expected information for the effort, never a dangerous one.

Gain is the expected drop of the summed entropy of all causes, one step ahead, divided by the cost
of the check. A check that opens or handles a bottle is never offered while a bottle hazard stands,
nor tasting while a hazard forbids it.
"""

from __future__ import annotations

from collections.abc import Collection

from trubshoot.diagnosis.advice import bottles_suspect
from trubshoot.diagnosis.network import Case
from trubshoot.diagnosis.noisy_or import Ranking, value_of_asking
from trubshoot.diagnosis.result import NextCheck
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.schema import Finding
from trubshoot.safety import HazardBlock, suppress_tasting

STAGES = {
    "brewing": ("boil", "lag"),
    "fermenting": ("boil", "lag", "active", "late_fermentation", "packaging"),
    "bottled": ("packaging", "conditioning", "tasting"),
}
MAX_CANDIDATES_AT = 10  # findings told, above which only the best candidates are worked out


def allowed(finding: Finding, hazards: Collection[HazardBlock]) -> bool:
    """Tell whether a check may be offered at all under the hazards that stand."""
    if suppress_tasting(hazards) and finding.check.by in ("taste", "open_bottle"):
        return False
    if not bottles_suspect(hazards):
        return True
    # nothing that needs beer from a bottle, or a hand near one: only what can be remembered
    return finding.check.by == "ask" and "tasting" not in finding.stages


def cost(knowledge: KnowledgeBase, finding: Finding) -> float:
    """Return what a check costs, in units of one question."""
    minutes = finding.check.minutes / knowledge.constant("check_minutes_per_cost")
    return knowledge.constant(f"check_cost_{finding.check.by}") + minutes


def next_checks(
    knowledge: KnowledgeBase,
    case: Case,
    ranking: Ranking,
    known: Collection[str],
    stage: str,
    hazards: Collection[HazardBlock],
    count: int = 3,
) -> tuple[NextCheck, ...]:
    """Return the checks with the most information for their cost, best first."""
    stages = set(STAGES[stage])
    likely = ranking.posterior > 0.01
    candidates = [
        column
        for column, name in enumerate(case.findings)
        if name not in known
        and stages.intersection(knowledge.findings[name].stages)
        and allowed(knowledge.findings[name], hazards)
        and bool((case.network.strength[likely, column] > 0.02).any())
    ]
    if len(case.told.findings) > MAX_CANDIDATES_AT:
        weight = case.network.strength.T @ (ranking.posterior * (1 - ranking.posterior))
        candidates = sorted(candidates, key=lambda column: -weight[column])[:12]
    questions = value_of_asking(case.network, case.told, ranking, candidates)
    ranked = sorted(
        questions,
        key=lambda item: (
            -item.gain_bits / cost(knowledge, knowledge.findings[case.findings[item.finding]])
        ),
    )
    out: list[NextCheck] = []
    least = knowledge.constant("check_least_gain_bits")
    for question in ranked:
        if question.gain_bits < least or len(out) == count:
            break
        finding = knowledge.findings[case.findings[question.finding]]
        out.append(
            NextCheck(
                finding.id,
                finding.label,
                finding.check.how,
                finding.check.by,
                finding.check.minutes,
                question.gain_bits,
                question.chance_yes,
            )
        )
    return tuple(out)


def unexplained(case: Case, cause: int, told_up: Collection[int]) -> tuple[str, ...]:
    """Return the findings told as present that a cause has no link to."""
    row = case.network.strength[cause]
    return tuple(case.findings[int(column)] for column in told_up if row[column] == 0)
