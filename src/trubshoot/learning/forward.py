"""The causal model run forward: from a way of brewing to the chance of each fault.

The ranking asks "what made this?"; here the same network is asked "what will this make?". Only the
practice counts, never how the beer turned out: circumstances and findings that the knowledge marks
as an outcome are left out, else a batch would be forecast from its own result.

Chances are among batches that make somebody ask for help, since that is what the priors of the
causes speak of; compare them with each other rather than with batches at large.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from trubshoot.diagnosis.network import Base, FindingState, make_case
from trubshoot.diagnosis.noisy_or import Vector, rank, value_of_asking
from trubshoot.diagnosis.sampling import MAX_EXACT
from trubshoot.diagnosis.states import Known
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.rules import Firing


@dataclass(frozen=True)
class Practice:
    """A way of brewing as the model sees it; empty is the beginner's batch of the priors."""

    contexts: tuple[str, ...] = ()
    findings: tuple[FindingState, ...] = ()  # of practice only
    ruled_out: tuple[str, ...] = ()  # by what was done

    @classmethod
    def of(
        cls,
        knowledge: KnowledgeBase,
        known: Known,
        firings: Sequence[Firing] = (),
        *,
        with_age: bool = True,
    ) -> Practice:
        """Return what was done, out of all that is known of a batch.

        Args:
            knowledge: which circumstances, findings and rules speak of practice.
            known: what is known of the batch.
            firings: the rules that fired; a cause is left out only by one that speaks of practice,
                never because of how the beer turned out or because it is not bottled yet.
            with_age: count the age at which the beer is judged as practice too.
        """
        told = ("practice", "age") if with_age else ("practice",)
        return cls(
            tuple(name for name in known.contexts if knowledge.contexts[name].tells in told),
            tuple(
                state
                for state in known.findings
                if knowledge.findings[state.id].tells == "practice"
            ),
            tuple(
                dict.fromkeys(
                    knowledge.rules[firing.rule].then.target
                    for firing in firings
                    if knowledge.rules[firing.rule].then.kind == "rules_out"
                    and knowledge.rules[firing.rule].tells == "practice"
                )
            ),
        )


@dataclass(frozen=True)
class Forecast:
    """Chances under one practice; arrays are in the order of `causes`, `findings` and `steps`."""

    causes: tuple[str, ...]
    findings: tuple[str, ...]
    steps: tuple[str, ...]
    cause_chance: Vector  # (causes,) the cause is there
    finding_chance: Vector  # (findings,) it will be noticed, whatever makes it; exact
    made_by_cause: Vector  # (causes, findings) this cause is there and makes it
    made_by_step: Vector  # (steps, findings) some cause of this step makes it

    def of_finding(self, finding: str) -> float:
        """Return the chance of one finding. Raises KeyError for a finding it does not know."""
        if finding not in self.findings:
            raise KeyError(finding)
        return float(self.finding_chance[self.findings.index(finding)])

    def steps_of(self, finding: str) -> list[tuple[str, float]]:
        """Return (step, chance that its causes make the finding), most first, zeros left out."""
        column = self.made_by_step[:, self.findings.index(finding)]
        pairs = [(step, float(chance)) for step, chance in zip(self.steps, column, strict=True)]
        return sorted((pair for pair in pairs if pair[1] > 0), key=lambda pair: -pair[1])


def forecast(
    knowledge: KnowledgeBase,
    base: Base,
    practice: Practice | None = None,
    faults: Collection[str] | None = None,
) -> Forecast:
    """Return the chances of causes and findings under a practice.

    Args:
        knowledge: causes with their steps, findings.
        base: the network of that knowledge.
        practice: what was done; None is the beginner's batch that the priors speak of.
        faults: the findings asked about; by default all that the knowledge marks as faults.

    `finding_chance` is exact. In `made_by_cause` and `made_by_step` the causes are taken as
    independent once the practice is known, so they may differ a little from shares of the exact
    figure where one finding of practice has several explanations.
    """
    practice = practice or Practice()
    told = practice.findings[:MAX_EXACT]
    case = make_case(base, told, practice.contexts, practice.ruled_out)
    ranking = rank(case.network, case.told)
    wanted = tuple(faults) if faults is not None else fault_names(knowledge)
    columns = [case.findings.index(name) for name in wanted]
    questions = value_of_asking(case.network, case.told, ranking, columns)
    made = ranking.posterior[:, None] * case.network.strength[:, columns]
    steps = tuple(knowledge.steps)
    by_step = np.zeros((len(steps), len(wanted)))
    step_of = [steps.index(knowledge.causes[name].step) for name in case.causes]
    for row in range(len(steps)):
        mine = [cause for cause, step in enumerate(step_of) if step == row]
        by_step[row] = 1 - np.prod(1 - made[mine], axis=0)
    return Forecast(
        case.causes,
        wanted,
        steps,
        ranking.posterior,
        np.array([question.chance_yes for question in questions]),
        np.asarray(made),
        by_step,
    )


def fault_names(knowledge: KnowledgeBase) -> tuple[str, ...]:
    """Return the findings that are faults of a beer, in the order of the knowledge."""
    return _telling(knowledge, "fault")


def practice_names(knowledge: KnowledgeBase) -> tuple[str, ...]:
    """Return the findings that say what was done, in the order of the knowledge."""
    return _telling(knowledge, "practice")


def _telling(knowledge: KnowledgeBase, kind: str) -> tuple[str, ...]:
    names: Iterable[str] = knowledge.findings
    return tuple(name for name in names if knowledge.findings[name].tells == kind)
