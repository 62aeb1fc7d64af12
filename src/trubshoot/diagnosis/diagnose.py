"""From a batch and words to a Diagnosis: evidence, rules, hazards, ranking, next check."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import datetime
from functools import cached_property

import numpy as np

from trubshoot.batch import Batch
from trubshoot.counting import tidy
from trubshoot.diagnosis.advice import advise
from trubshoot.diagnosis.network import Base, Case, make_case
from trubshoot.diagnosis.next_check import next_checks, unexplained
from trubshoot.diagnosis.noisy_or import DECIBANS, Ranking, Vector, Weights, explain, rank
from trubshoot.diagnosis.own_history import OwnHistory, with_history
from trubshoot.diagnosis.result import (
    Diagnosis,
    KnownContext,
    RankedCause,
    RuledOut,
    RuleTrace,
    Weight,
)
from trubshoot.diagnosis.sampling import MAX_EXACT, sample
from trubshoot.diagnosis.states import Known, fired_hazards, gather, reason
from trubshoot.evidence import Evidence, collect
from trubshoot.evidence.words import Lexicon
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.rules import Conclusions, Fact, Opinion, Reasoner, compile_specs
from trubshoot.safety import (
    FiredHazard,
    FiredHold,
    HazardBlock,
    Verdict,
    decide,
    hazard_blocks,
    overall_level,
)

RAISES_FROM = 1.5  # odds from which a circumstance is said to make a cause likelier
_Concluded = tuple[Evidence, Opinion, tuple[HazardBlock, ...]]
EXPLAINED = 6  # causes whose weights are worked out one finding at a time


class Diagnostician:
    """The knowledge made ready for work: compiled rules, network, phrases. Build once."""

    def __init__(self, knowledge: KnowledgeBase) -> None:
        self.knowledge = knowledge
        self.base = Base.of(knowledge)
        self.reasoner = Reasoner(compile_specs(knowledge.rules.values()))
        # the latest question and its answer: a page asks the same one several times
        self._latest: tuple[Batch, tuple[object, ...], _Concluded] | None = None

    @cached_property
    def lexicon(self) -> Lexicon:
        """Return the phrases of the knowledge, built when words are first read."""
        return Lexicon.of(self.knowledge)

    def diagnose(
        self,
        batch: Batch,
        now: datetime,
        words: Sequence[tuple[str, str]] = (),
        *,
        own: OwnHistory | None = None,
        brief: bool = False,
    ) -> Diagnosis:
        """Return everything that can be said about a batch.

        Args:
            batch: the batch as logged.
            now: the moment the question is asked.
            words: (sense, text) pairs said beside the log; sense is saw, smelled, tasted or
                no_sign_of.
            own: what the cellar's own batches make of the priors; only the ranking sees it.
            brief: leave out the weights of the evidence and the next checks, for many batches.
        """
        evidence, opinion, blocks = self._conclude(batch, now, words)
        conclusions = opinion.conclusions
        verdict = self._verdict(opinion, blocks) if evidence.stage != "bottled" else None
        known = gather(self.knowledge, evidence.understood, conclusions, self.show)
        base = self.base if own is None else with_history(self.base, own)
        case = make_case(base, known.findings, known.contexts, known.ruled_out)
        approximate = len(case.told.findings) > MAX_EXACT
        work_out = sample if approximate else rank
        ranking = work_out(case.network, case.told, case.about)
        beside = () if case.about is None else case.asked
        # the same for what was told only when asked: another fault may have come to light
        second = work_out(case.network, case.told, beside) if beside else None
        checks = (
            ()
            if approximate or brief or not case.told.up  # nothing to explain or to look into
            else next_checks(
                self.knowledge,
                case,
                ranking,
                {state.id for state in known.findings},
                evidence.stage,
                blocks,
            )
        )
        return Diagnosis(
            batch=batch.name,
            asked_at=now,
            hazards=blocks,
            level=overall_level(blocks),
            bottling=verdict,
            evidence=evidence,
            findings=known.findings,
            contexts=self._contexts(known),
            contradictions=known.contradictions,
            causes=self._causes(
                case,
                (ranking, second),
                evidence.stage,
                blocks,
                own,
                explained=not (approximate or brief),
            ),
            doubts={
                state.id: self.knowledge.findings[state.id].doubt
                for state in known.findings
                if state.up and self.knowledge.findings[state.id].doubt
            },
            none_of_these=ranking.none_of_these,
            approximate=approximate,
            ruled_out=tuple(
                RuledOut(name, self.knowledge.causes[name].label, because)
                for name, because in known.ruled_out.items()
            ),
            next_checks=checks,
            traces=self._traces(conclusions),
            engine=opinion.engine,
            engine_notice=self.reasoner.notice,
            faults=opinion.faults,
            knowledge_version=self.knowledge.version,
            own=own,
        )

    def bottling_check(self, batch: Batch, now: datetime) -> Verdict | None:
        """Return only whether it may be bottled, without any ranking; None once it is bottled."""
        return self.bottling(batch, now)[3]

    def bottling(
        self, batch: Batch, now: datetime, *, one_engine: bool = False
    ) -> tuple[Evidence, Opinion, tuple[HazardBlock, ...], Verdict | None]:
        """Return evidence, conclusions, hazards and verdict of a bottling; no ranking.

        Args:
            batch: the batch as logged.
            now: the moment of asking.
            one_engine: without the second opinion; for no verdict that anybody is shown.
        """
        evidence, opinion, blocks = self._conclude(batch, now, (), one_engine=one_engine)
        verdict = None if evidence.stage == "bottled" else self._verdict(opinion, blocks)
        return evidence, opinion, blocks, verdict

    def _conclude(
        self,
        batch: Batch,
        now: datetime,
        words: Sequence[tuple[str, str]],
        *,
        one_engine: bool = False,
    ) -> _Concluded:
        asked = (now, tuple(words))
        if self._latest is not None and self._latest[0] is batch and self._latest[1] == asked:
            return self._latest[2]
        evidence = collect(batch, self.knowledge, lambda: self.lexicon, now, words)
        concluded = (evidence, *self.conclude(evidence.facts, one_engine=one_engine))
        if not one_engine:
            self._latest = (batch, asked, concluded)
        return concluded

    def conclude(
        self, facts: Mapping[str, float | str], *, one_engine: bool = False
    ) -> tuple[Opinion, tuple[HazardBlock, ...]]:
        """Return what the rules make of facts [units of facts.yaml], and the hazards among it."""
        given = {name: Fact.of(value) for name, value in facts.items()}
        opinion = self.reasoner.run(given, one_engine=one_engine)
        return opinion, self._blocks(opinion.conclusions)

    def hazards_in_words(
        self, batch: Batch, now: datetime, words: Sequence[tuple[str, str]]
    ) -> tuple[HazardBlock, ...]:
        """Return only the hazards that words name: for input that cannot be read any further."""
        evidence = collect(batch, self.knowledge, lambda: self.lexicon, now, words)
        facts = {
            name: Fact.of(value)
            for name, value in evidence.facts.items()
            if name.startswith("said.")
        }
        return self._blocks(self.reasoner.run(facts).conclusions)

    def _verdict(self, opinion: Opinion, blocks: tuple[HazardBlock, ...]) -> Verdict:
        conclusions = opinion.conclusions
        sentences: dict[str, list[tuple[str, str]]] = {"hold": [], "permit": []}
        for firing in conclusions.firings:
            then = self.knowledge.rules[firing.rule].then
            if then.kind in sentences:
                text = reason(self.knowledge, conclusions.facts, firing.rule, self.show)
                sentences[then.kind].append((then.target, text))
        return decide(
            self.knowledge.holds,
            opinion.by_engine,
            [FiredHold(hold, text) for hold, text in sentences["hold"]],
            [text for _, text in sentences["permit"]],
            {name: fact.plain for name, fact in conclusions.facts.items()},
            blocks,
            opinion.faults,
        )

    def _blocks(self, conclusions: Conclusions) -> tuple[HazardBlock, ...]:
        return hazard_blocks(
            self.knowledge.hazards,
            [
                FiredHazard(hazard, sentence, support_of(firing.supports))
                for hazard, sentence, firing in fired_hazards(
                    self.knowledge, conclusions, self.show
                )
            ],
            {name: fact.plain for name, fact in conclusions.facts.items()},
        )

    def show(self, fact: str, value: float) -> str:
        """Return a fact's number with its unit, as the report shows it."""
        spec = self.knowledge.facts.get(fact)
        unit = spec.unit if spec is not None else ""
        if abs(value) >= 100:
            return f"{value:.0f}"
        if unit in ("sigma", "C", "K", "h", "%"):
            return tidy(f"{value:.1f}")
        return tidy(f"{value:.2f}".rstrip("0").rstrip(".") if abs(value) < 10 else f"{value:.1f}")

    def _contexts(self, known: Known) -> tuple[KnownContext, ...]:
        return tuple(
            KnownContext(
                name,
                self.knowledge.contexts[name].label,
                because,
                tuple(
                    self.base.causes[row]
                    for row, odds in self.base.modifiers.get(name, ())
                    if odds >= RAISES_FROM
                ),
            )
            for name, because in known.contexts.items()
        )

    def _causes(
        self,
        case: Case,
        rankings: tuple[Ranking, Ranking | None],
        stage: str,
        blocks: tuple[HazardBlock, ...],
        own: OwnHistory | None,
        *,
        explained: bool,
    ) -> tuple[RankedCause, ...]:
        ranking, second = rankings
        order = best_first(ranking, case.base_prior)
        made = [(case.causes[row], float(ranking.responsibility[row])) for row in order]
        advice = advise(self.knowledge, made, stage, blocks)
        about = case.told.up if case.about is None else case.about
        up = [case.told.findings[position] for position in about]
        asked = [case.told.findings[position] for position in case.asked]
        shown = order[:EXPLAINED] if explained else []
        told_why = dict(zip(shown, explain(case.network, case.told, shown), strict=True))
        causes = []
        for row in order:
            cause = self.knowledge.causes[case.causes[row]]
            weights = self._weights(case, row, told_why[row], own) if row in told_why else ()
            causes.append(
                RankedCause(
                    id=cause.id,
                    label=cause.label,
                    kind=cause.kind,
                    step=cause.step,
                    step_label=self.knowledge.steps[cause.step].label,
                    responsibility=float(ranking.responsibility[row]),
                    posterior=float(ranking.posterior[row]),
                    prior=float(case.network.prior[row]),
                    weights=weights,
                    unexplained=unexplained(case, row, up),
                    beside=float(second.responsibility[row]) if second is not None else 0.0,
                    beside_findings=tuple(
                        case.findings[column]
                        for column in asked
                        if second is not None and case.network.strength[row, column] > 0
                    ),
                    advice=advice[cause.id],
                    next_time=cause.next_time,
                    rule_out=cause.rule_out,
                    mechanism=cause.mechanism,
                    doubt=cause.doubt,
                    caution=cause.caution,
                    sources=cause.sources,
                )
            )
        return tuple(causes)

    def _weights(
        self, case: Case, row: int, explained: Weights, own: OwnHistory | None
    ) -> tuple[Weight, ...]:
        cause = self.knowledge.causes[case.causes[row]]
        odds = case.odds.get(cause.id, {})
        start = DECIBANS * math.log(cause.prior / (1 - cause.prior))
        weights = [Weight("prior", "how common it is", start)]
        before = float(case.base_prior[row])
        shift = DECIBANS * math.log(before / (1 - before)) - start
        if own is not None:
            weights.append(Weight("own_history", "your own confirmed batches", shift))
        applied = explained.prior - start - shift
        total = sum(math.log(value) for value in odds.values())
        for name, value in odds.items():
            # a capped product is shared out, so that the parts still add up
            share = applied * math.log(value) / total if total else 0.0
            weights.append(Weight(name, self.knowledge.contexts[name].label, share))
        if case.told.absent:
            weights.append(Weight("absent", "what is not there", explained.absent))
        for column, decibans in explained.shares.items():
            name = case.findings[column]
            weights.append(Weight(name, self.knowledge.findings[name].label, decibans))
        return tuple(weights)

    def _traces(self, conclusions: Conclusions) -> tuple[RuleTrace, ...]:
        traces = []
        for firing in conclusions.firings:
            spec = self.knowledge.rules[firing.rule]
            traces.append(
                RuleTrace(
                    spec.id,
                    spec.title,
                    firing.conclusion,
                    reason(self.knowledge, conclusions.facts, firing.rule, self.show),
                    self._support(firing.supports, conclusions.facts),
                    spec.sources,
                )
            )
        return tuple(traces)

    def _support(
        self, supports: tuple[tuple[str, ...], ...], facts: Mapping[str, Fact]
    ) -> tuple[tuple[str, str], ...]:
        shown: dict[str, str] = {}
        for name in support_of(supports):
            fact = facts.get(name)
            if name.startswith("~"):
                tested, operator, argument = name[1:].rsplit("|", 2)
                shown[tested] = f"not known to be {argument if operator == 'is' else operator}"
            elif fact is not None:
                plain = fact.plain
                shown[name] = self.show(name, plain) if isinstance(plain, float) else str(plain)
        return tuple(shown.items())


def best_first(ranking: Ranking, before: Vector | None = None) -> list[int]:
    """Return the rows of the causes by responsibility, best first.

    Ties, as when nothing was reported that a cause could have made, go by how much the odds of the
    cause rose over `before` (its chance without any circumstance), else by the posterior.
    """
    shift = ranking.posterior
    if before is not None:
        chance = np.clip(ranking.posterior, 1e-12, 1 - 1e-12)
        shift = np.log(chance / (1 - chance)) - np.log(before / (1 - before))
    keys = [
        (-round(float(made), 9), -float(rise))
        for made, rise in zip(ranking.responsibility, shift, strict=True)
    ]
    return sorted(range(len(keys)), key=lambda row: keys[row])


def support_of(supports: tuple[tuple[str, ...], ...]) -> tuple[str, ...]:
    """Return the names a firing rests on, each once."""
    return tuple(dict.fromkeys(name for support in supports for name in support))
