"""Which question comes next, and when to stop: most expected information for the trouble.

A question is about one finding, or about several of a sense that a person answers in one go (the
group rows of interview.yaml). The gain of a finding is the expected drop of the summed entropy of
the responsibilities, one step ahead; that of a group adds up its members', each as likely as the
ones before it are answered no. Asking ends when no question tells enough, or when the leading cause
is likely and the best question would hardly ever change it. All numbers are constants of the
knowledge; `python -m tests.interview.measure` shows what they do.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from trubshoot.diagnosis import Diagnosis, Diagnostician
from trubshoot.diagnosis.network import make_case
from trubshoot.diagnosis.next_check import STAGES, allowed
from trubshoot.diagnosis.noisy_or import Question, rank, value_of_asking
from trubshoot.diagnosis.sampling import MAX_EXACT
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.schema import Finding
from trubshoot.safety import HazardBlock, suppress_tasting

_MAX_WIDE = 10  # findings told, above which only the likeliest candidates are worked out
_FEW = 24
_NO_TEST_MINUTES = 5.0
_REMEMBERED = ("ask", "look", "smell", "taste")
_FREE = ("ask", "look", "smell", "taste")  # of one trouble: the answer is a word


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


def trouble(knowledge: KnowledgeBase, finding: Finding, hazards: Collection[HazardBlock]) -> float:
    """Return what an answer costs the brewer, in units of one question."""
    if finding.check.by in _FREE or from_memory(finding, hazards):
        return 1.0
    return knowledge.constant(f"interview_cost_{finding.check.by}")


@dataclass(frozen=True)
class Worth:
    """What a question is worth: about one finding, or about several of a group."""

    findings: tuple[str, ...]
    gain_bits: float
    gain_per_cost: float
    same_leader: float
    group: str = ""

    @property
    def prompt(self) -> str:
        """Return the id of the question; it names what is asked, and can be asked again by it."""
        names = ",".join(self.findings)
        return f"group:{self.group}:{names}" if self.group else f"finding:{names}"


def worth_asking(
    work: Diagnostician, diagnosis: Diagnosis, closed: Collection[str]
) -> tuple[Worth, ...]:
    """Return the questions worth asking, best first; none when asking should stop."""
    knowledge = work.knowledge
    case = make_case(
        work.base,
        diagnosis.findings,
        [item.id for item in diagnosis.contexts],
        {item.id for item in diagnosis.ruled_out},
    )
    if not case.told.up or len(case.told.findings) >= MAX_EXACT:
        return ()
    ranking = rank(case.network, case.told, case.about)
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
        and stages.intersection(knowledge.findings[name].stages)
        and may_ask(knowledge.findings[name], diagnosis.hazards)
        and bool((case.network.strength[likely, column] > 0.02).any())
    ]
    if len(case.told.findings) > _MAX_WIDE:
        spread = ranking.responsibility * (1 - ranking.responsibility)
        weight = case.network.strength.T @ spread
        candidates = sorted(candidates, key=lambda column: -weight[column])[:_FEW]
    told = {
        case.findings[question.finding]: question
        for question in value_of_asking(case.network, case.told, ranking, candidates, ranking.share)
    }
    found = [_single(knowledge, name, told[name], diagnosis.hazards) for name in told]
    found += _groups(knowledge, told, diagnosis)
    found.sort(key=lambda item: -item.gain_per_cost)
    least = knowledge.constant("check_least_gain_bits")
    worth = [item for item in found if item.gain_bits >= least]
    leader = float(ranking.responsibility.max())
    sure = leader > knowledge.constant("interview_leader_from")
    if not worth or (sure and worth[0].same_leader > knowledge.constant("interview_same_from")):
        return ()
    return tuple(worth)


def labels_of(knowledge: KnowledgeBase, group: str) -> dict[str, str]:
    """Return the findings that a group can ask for, with the words that it asks in.

    A group made of others says of which each is, since its own question cannot.
    """
    row = knowledge.interview[group]
    own = {str(option.says): option.label for option in row.options}
    parts = [knowledge.interview[name] for name in row.of]
    for part in parts:
        for option in part.options:
            words = option.label[0].lower() + option.label[1:]
            own.setdefault(str(option.says), f"{part.label}: {words}")
    return own


def _single(
    knowledge: KnowledgeBase, name: str, asked: Question, hazards: Collection[HazardBlock]
) -> Worth:
    cost = trouble(knowledge, knowledge.findings[name], hazards)
    return Worth((name,), asked.gain_bits, asked.gain_bits / cost, asked.same_leader)


def _groups(
    knowledge: KnowledgeBase, told: Mapping[str, Question], diagnosis: Diagnosis
) -> list[Worth]:
    """Return the questions that name several findings, each with its most telling members."""
    out = []
    size = int(knowledge.constant("interview_group_size"))
    least = knowledge.constant("check_least_gain_bits")
    hazards = diagnosis.hazards
    for key, row in knowledge.interview.items():
        if row.kind != "group" or diagnosis.evidence.stage not in row.stages:
            continue
        members = [name for name in labels_of(knowledge, key) if name in told]
        if row.of:  # nothing but what a person can say at once
            members = [name for name in members if knowledge.findings[name].check.by in _FREE]
        remembered = [name for name in members if from_memory(knowledge.findings[name], hazards)]
        now = [name for name in members if name not in remembered]
        # one question is asked either of now or of memory
        for kept in (now, remembered):
            kept.sort(key=lambda name: -told[name].gain_bits)
            chosen = kept[:size]
            gain, none_yet, other = 0.0, 1.0, 0.0
            for name in chosen:
                gain += none_yet * told[name].gain_bits
                none_yet *= 1 - told[name].chance_yes
                other += 1 - told[name].same_leader
            if len(chosen) < 2 or gain < least:
                continue
            checks = [knowledge.findings[name] for name in chosen]
            # what takes weeks is told of the weeks that have gone by
            cost = max(
                1.0 if one.check.by == "wait" else trouble(knowledge, one, hazards)
                for one in checks
            )
            cost *= knowledge.constant("interview_cost_mixed") if row.of else 1.0
            # members are shown in the order of the row, which is that of a person's looking
            shown = tuple(name for name in members if name in chosen)
            out.append(Worth(shown, gain, gain / cost, max(0.0, 1 - other), key))
    return out
