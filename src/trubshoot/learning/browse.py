"""The pages of what is known, made from the knowledge, the network and the model run forward."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cached_property

from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.advice import forbidden
from trubshoot.diagnosis.network import FindingState, make_case
from trubshoot.diagnosis.next_check import allowed
from trubshoot.diagnosis.noisy_or import rank
from trubshoot.knowledge_base.schema import Cause
from trubshoot.learning import pages
from trubshoot.learning.apart import Telling, likeness, telling_apart
from trubshoot.learning.forward import Forecast, fault_names, forecast
from trubshoot.learning.hazards import hazards_to_learn
from trubshoot.learning.lookup import Index, Named
from trubshoot.safety import HazardBlock
from trubshoot.safety.hazards import FiredHazard, hazard_blocks

COMPARED = 4  # causes told apart on the page of a finding ...
COMPARED_FROM = 0.05  # ... each of which made it at least this often
SHOWN_APART = 6
APART_FROM_BITS = 0.02
HAZARD_FROM = 0.1  # strength from which a finding's hazard stands on the page of its cause
ALIKE = 3
ALIKE_FROM = 0.4  # cosine of the strengths; judgement
_STAGES = ("brewing", "fermenting", "bottled", "serving", "any")


class Library:
    """Makes pages; keeps the forecast of a beginner's batch, on which their chances rest."""

    def __init__(self, work: Diagnostician) -> None:
        self.work = work
        self.knowledge = work.knowledge

    @cached_property
    def index(self) -> Index:
        """Return the names of everything, ready to be looked in."""
        return Index.of(self.knowledge, self.work.lexicon)

    @cached_property
    def beginner(self) -> Forecast:
        """Return the chances of every finding in a beginner's batch."""
        return forecast(self.knowledge, self.work.base, None, tuple(self.knowledge.findings))

    # --- names

    def step(self, key: str) -> Named:
        """Return a step by its id."""
        return Named("step", key, self.knowledge.steps[key].label)

    def cause(self, key: str) -> Named:
        """Return a cause by its id."""
        return Named("cause", key, self.knowledge.causes[key].label)

    def finding(self, key: str) -> Named:
        """Return a finding by its id."""
        return Named("finding", key, self.knowledge.findings[key].label)

    def page(self, thing: Named) -> pages.Page:
        """Return the page of a thing. Raises KeyError for an id that is not there."""
        makers: dict[str, Callable[[str], pages.Page]] = {
            "step": self.step_page,
            "cause": self.cause_page,
            "finding": self.finding_page,
            "circumstance": self.circumstance_page,
            "hazard": self.hazard_page,
            "source": self.source_page,
        }
        return makers[thing.kind](thing.id)

    # --- steps

    def overview(self, each: int = 3) -> pages.Overview:
        """Return all steps in brewing order, each with its commonest faults."""
        return pages.Overview(
            tuple(
                pages.StepRow(
                    self.step(key),
                    step.what,
                    sum(cause.step == key for cause in self.knowledge.causes.values()),
                    self._made_by(key)[:each],
                )
                for key, step in self.knowledge.steps.items()
            )
        )

    def _made_by(self, step: str) -> tuple[pages.Made, ...]:
        shown = self.beginner
        row = shown.steps.index(step)
        mine = [
            number
            for number, cause in enumerate(shown.causes)
            if self.knowledge.causes[cause].step == step
        ]
        made = []
        for name in fault_names(self.knowledge):
            column = shown.findings.index(name)
            chance = float(shown.made_by_step[row, column])
            if chance <= 0:
                continue
            parts = [
                pages.Part(self.cause(shown.causes[one]), float(shown.made_by_cause[one, column]))
                for one in mine
                if shown.made_by_cause[one, column] > 0
            ]
            parts.sort(key=lambda part: -part.chance)
            term = self.knowledge.findings[name].term
            made.append(pages.Made(self.finding(name), term, chance, tuple(parts)))
        return tuple(sorted(made, key=lambda item: -item.chance))

    def step_page(self, key: str) -> pages.StepPage:
        """Return the page of a step."""
        mine = [cause for cause in self.knowledge.causes.values() if cause.step == key]
        mine.sort(key=lambda cause: -cause.prior)
        causes = tuple(
            pages.CauseBrief(
                self.cause(cause.id),
                cause.kind,
                cause.doubt,
                cause.prior,
                cause.mechanism,
                cause.next_time,
                self._strengths(cause),
            )
            for cause in mine
        )
        what = self.knowledge.steps[key].what
        return pages.StepPage(self.step(key), what, self._made_by(key), causes)

    def _strengths(self, cause: Cause) -> tuple[pages.Strength, ...]:
        links = sorted(cause.links, key=lambda link: -link.strength)
        return tuple(
            pages.Strength(self.finding(link.finding), link.strength, link.basis) for link in links
        )

    # --- findings

    def finding_page(self, key: str) -> pages.FindingPage:
        """Return the page of a fault or any other finding."""
        finding = self.knowledge.findings[key]
        blocks = hazards_to_learn(self.work, [key])
        case = make_case(self.work.base, [FindingState(key, 0.0, 1.0, "said")])
        ranking = rank(case.network, case.told)
        made = {
            name: float(chance)
            for name, chance in zip(case.causes, ranking.responsibility, strict=True)
            if chance > 0
        }
        likely = sorted(made, key=lambda name: -made[name])[:COMPARED]
        leading = [name for name in likely if made[name] >= COMPARED_FROM]
        telling = self._apart(leading, [made[name] for name in leading], blocks, {key})
        confused = {
            other: self.knowledge.findings[other]
            for other in finding.confused_with
            if other in self.knowledge.findings
        }
        column = self.beginner.findings.index(key)
        return pages.FindingPage(
            hazards=blocks,
            finding=self.finding(key),
            term=finding.term,
            tells=finding.tells,
            doubt=finding.doubt,
            threshold=finding.threshold,
            aliases=finding.aliases,
            how=finding.check.how,
            by=finding.check.by,
            minutes=finding.check.minutes,
            may_check=allowed(finding, blocks),
            chance=float(self.beginner.finding_chance[column]),
            leak=finding.leak,
            none_of_these=ranking.none_of_these,
            steps=self._by_step(key, made, blocks),
            leading=tuple(self.cause(name) for name in leading),
            apart=telling,
            confused=tuple(
                pages.Confused(self.finding(other), entry.term, entry.check.how)
                for other, entry in confused.items()
            ),
            words=self._words(key),
            sources=self._sources(finding.sources),
            basis=finding.basis,
        )

    def _by_step(
        self, key: str, made: dict[str, float], blocks: tuple[HazardBlock, ...]
    ) -> tuple[pages.StepShare, ...]:
        shown = self.beginner
        column = shown.findings.index(key)
        out = []
        for row, step in enumerate(shown.steps):
            mine = [name for name in made if self.knowledge.causes[name].step == step]
            mine.sort(key=lambda name: -made[name])
            causes = tuple(self._share(name, made[name], column, blocks) for name in mine)
            if causes:
                chance = float(shown.made_by_step[row, column])
                out.append(pages.StepShare(self.step(step), chance, causes))
        return tuple(out)

    def _share(
        self, name: str, share: float, column: int, blocks: tuple[HazardBlock, ...]
    ) -> pages.CauseShare:
        cause = self.knowledge.causes[name]
        banned = forbidden(self.knowledge, cause, "bottled", blocks)
        return pages.CauseShare(
            self.cause(name),
            cause.kind,
            cause.doubt,
            float(self.beginner.made_by_cause[self.beginner.causes.index(name), column]),
            share,
            "" if cause.confirm.action in banned else cause.confirm.do,
            cause.rule_out,
        )

    def _apart(
        self,
        causes: list[str],
        weights: list[float] | None,
        blocks: tuple[HazardBlock, ...],
        known: Iterable[str] = (),
    ) -> tuple[pages.Apart, ...]:
        out = [
            self._apart_row(item, blocks)
            for item in telling_apart(self.work.base, causes, weights, set(known))
            if item.bits >= APART_FROM_BITS
        ]
        return tuple(out[:SHOWN_APART])

    def _apart_row(self, item: Telling, blocks: tuple[HazardBlock, ...]) -> pages.Apart:
        finding = self.knowledge.findings[item.finding]
        may = allowed(finding, blocks)
        how = finding.check.how if may else ""
        named = self.finding(item.finding)
        by, minutes = finding.check.by, finding.check.minutes
        return pages.Apart(named, item.bits, item.chances, how, by, minutes, may)

    def _words(self, key: str) -> tuple[pages.Word, ...]:
        return tuple(
            pages.Word(
                word.words,
                word.ask,
                word.how,
                tuple((option.label, option.finding or "") for option in word.options),
            )
            for word in self.knowledge.confusions.values()
            if any(key in (option.finding, option.fermenting) for option in word.options)
        )

    # --- causes

    def cause_page(self, key: str) -> pages.CausePage:
        """Return the page of a cause."""
        cause = self.knowledge.causes[key]
        makes = [link.finding for link in cause.links if link.strength >= HAZARD_FROM]
        blocks = hazards_to_learn(self.work, makes)
        modifiers = [
            pages.Modifies(
                Named("circumstance", item.when, self.knowledge.contexts[item.when].label),
                item.odds,
                item.basis,
            )
            for item in cause.modifiers
        ]
        return pages.CausePage(
            hazards=blocks,
            cause=self.cause(key),
            step=self.step(cause.step),
            kind=cause.kind,
            doubt=cause.doubt,
            mechanism=cause.mechanism,
            prior=cause.prior,
            makes=self._strengths(cause),
            modifiers=tuple(sorted(modifiers, key=_pull)),
            confirm=""
            if cause.confirm.action in forbidden(self.knowledge, cause, "bottled", blocks)
            else cause.confirm.do,
            rule_out=cause.rule_out,
            now=tuple(self._now(cause, blocks)),
            avoid=tuple((item.dont, item.why) for item in cause.avoid),
            next_time=cause.next_time,
            caution=cause.caution,
            alike=self._alike(key, blocks),
            sources=self._sources(cause.sources),
            basis=cause.basis,
        )

    def _now(self, cause: Cause, blocks: tuple[HazardBlock, ...]) -> Iterable[pages.AtStage]:
        for stage in _STAGES:
            steps = getattr(cause.now, stage)
            banned = forbidden(
                self.knowledge, cause, "bottled" if stage == "serving" else stage, blocks
            )
            kept = tuple(step.do for step in steps if step.action not in banned)
            if steps:
                yield pages.AtStage(stage, kept, len(steps) - len(kept))

    def _alike(self, key: str, blocks: tuple[HazardBlock, ...]) -> tuple[pages.Alike, ...]:
        out = []
        for other, alike in likeness(self.work.base, key)[:ALIKE]:
            if alike >= ALIKE_FROM:
                best = self._apart([key, other], None, blocks)
                out.append(pages.Alike(self.cause(other), alike, best[0] if best else None))
        return tuple(out)

    # --- the rest

    def circumstance_page(self, key: str) -> pages.CircumstancePage:
        """Return the page of a circumstance."""
        context = self.knowledge.contexts[key]
        changes = [
            pages.Modifies(self.cause(cause.id), item.odds, item.basis)
            for cause in self.knowledge.causes.values()
            for item in cause.modifiers
            if item.when == key
        ]
        thing = Named("circumstance", key, context.label)
        changes.sort(key=_pull)
        return pages.CircumstancePage(thing, context.tells, context.aliases, tuple(changes))

    def hazard_page(self, key: str) -> pages.HazardPage:
        """Return the page of a hazard, with its gate closed since nothing is known."""
        spec = self.knowledge.hazards[key]
        blocks = hazard_blocks(self.knowledge.hazards, [FiredHazard(key, "", ())], {})
        thing = Named("hazard", key, spec.hazard)
        return pages.HazardPage(blocks, thing, self._sources(spec.sources), spec.basis)

    def source_page(self, key: str) -> pages.SourcePage:
        """Return the page of a source, with the causes, findings and hazards that name it."""
        users = [self.cause(one.id) for one in self.knowledge.causes.values() if key in one.sources]
        users += [
            self.finding(one.id) for one in self.knowledge.findings.values() if key in one.sources
        ]
        users += [
            Named("hazard", one.id, one.hazard)
            for one in self.knowledge.hazards.values()
            if key in one.sources
        ]
        source = self.knowledge.sources[key]
        thing = Named("source", key, source.citation)
        return pages.SourcePage(thing, self._sources([key])[0], tuple(users))

    def _sources(self, keys: Iterable[str]) -> tuple[pages.SourceLine, ...]:
        lines = []
        for key in keys:
            source = self.knowledge.sources.get(key)
            lines.append(
                pages.SourceLine(key, source.citation, source.basis, source.extent)
                if source
                else pages.SourceLine(key, "", "", "")
            )
        return tuple(lines)


def _pull(item: pages.Modifies) -> float:
    """Order circumstances by how far they move the odds, either way."""
    return -max(item.odds, 1 / item.odds)
