"""Which finding to ask about next, and when to stop: most expected information for the effort.

The gain is the expected drop of the summed entropy of the responsibilities, one step ahead, over
the cost of finding out. Asking ends when no question tells enough, or when the leading cause is
likely and the best question would hardly ever change it. Limits: judgement, after published
practice of myopic test selection; `python -m tests.interview.measure` shows what they do.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from trubshoot.diagnosis import Diagnosis, Diagnostician
from trubshoot.diagnosis.network import make_case
from trubshoot.diagnosis.next_check import COST, STAGES, STOP_BELOW_BITS, allowed, cost
from trubshoot.diagnosis.noisy_or import rank, value_of_asking
from trubshoot.diagnosis.sampling import MAX_EXACT
from trubshoot.knowledge_base.schema import Finding
from trubshoot.safety import HazardBlock, suppress_tasting

LEADER_FROM = 0.8  # responsibility from which the leader may be left alone ...
SAME_FROM = 0.95  # ... when the best question keeps it in front this often
MOST_QUESTIONS = 10
MOST_UNKNOWN = 3  # "don't know" in a row: the brewer has told what there is to tell
_MAX_WIDE = 10  # findings told, above which only the likeliest candidates are worked out
_FEW = 12
_NO_TEST_MINUTES = 5.0
_REMEMBERED = ("ask", "look", "smell", "taste")


def from_memory(finding: Finding, hazards: Collection[HazardBlock]) -> bool:
    """Tell whether a finding may be asked of memory only, since its check may not be made now.

    That is so under a hazard of bottles, for what was perhaps noticed before. What would have to be
    measured or waited for nobody remembers; and where a hazard forbids tasting, taste is left out.
    """
    if allowed(finding, hazards) or finding.check.by not in _REMEMBERED:
        return False
    if finding.check.minutes > _NO_TEST_MINUTES:
        return False  # a test of its own, which nobody makes by chance
    return finding.check.by != "taste" or not suppress_tasting(hazards)


def may_ask(finding: Finding, hazards: Collection[HazardBlock]) -> bool:
    """Tell whether a finding may be asked about at all under the hazards that stand."""
    return allowed(finding, hazards) or from_memory(finding, hazards)


@dataclass(frozen=True)
class Worth:
    """What asking about a finding is worth."""

    finding: str
    gain_bits: float
    gain_per_cost: float
    same_leader: float


def worth_asking(
    work: Diagnostician, diagnosis: Diagnosis, closed: Collection[str]
) -> tuple[Worth, ...]:
    """Return the questions worth asking, best first; none when asking should stop."""
    case = make_case(
        work.base,
        diagnosis.findings,
        [item.id for item in diagnosis.contexts],
        {item.id for item in diagnosis.ruled_out},
    )
    if not case.told.up or len(case.told.findings) >= MAX_EXACT:
        return ()
    ranking = rank(case.network, case.told)
    known = {state.id for state in diagnosis.findings}
    stages = set(STAGES[diagnosis.evidence.stage])
    if diagnosis.evidence.stage == "fermenting":
        stages -= {"packaging"}  # nothing is bottled yet: only memory of racking is in between
    likely = ranking.responsibility > 0.01
    candidates = [
        column
        for column, name in enumerate(case.findings)
        if name not in known
        and name not in closed
        and stages.intersection(work.knowledge.findings[name].stages)
        and may_ask(work.knowledge.findings[name], diagnosis.hazards)
        and bool((case.network.strength[likely, column] > 0.02).any())
    ]
    if len(case.told.findings) > _MAX_WIDE:
        spread = ranking.responsibility * (1 - ranking.responsibility)
        weight = case.network.strength.T @ spread
        candidates = sorted(candidates, key=lambda column: -weight[column])[:_FEW]
    found = []
    for question in value_of_asking(case.network, case.told, ranking, candidates, ranking.share):
        name = case.findings[question.finding]
        finding = work.knowledge.findings[name]
        remembered = from_memory(finding, diagnosis.hazards)
        per_cost = question.gain_bits / (COST["ask"] if remembered else cost(finding))
        found.append(Worth(name, question.gain_bits, per_cost, question.same_leader))
    found.sort(key=lambda item: -item.gain_per_cost)
    worth = [item for item in found if item.gain_bits >= STOP_BELOW_BITS]
    leader = float(ranking.responsibility.max())
    if not worth or (leader > LEADER_FROM and worth[0].same_leader > SAME_FROM):
        return ()
    return tuple(worth)
