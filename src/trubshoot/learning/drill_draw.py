"""An invented case for practice, drawn from the model: causes, what they make, what is told.

Causes are drawn by their priors, links and leaks by their chances, circumstances so that their odds
hold: one that multiplies the odds of a cause by 3 is told about three times as often where that
cause is there. Of the faults present some are told, whatever made them. What cannot be noticed at
the stage of the case is never told, and what is alarming always is. How hard it is, is measured:
the chance that an ideal asker gives the true cause from what is told.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.advice import bottles_suspect
from trubshoot.diagnosis.network import Case, FindingState, make_case
from trubshoot.diagnosis.next_check import STAGES, allowed, cost
from trubshoot.diagnosis.noisy_or import Question, Ranking, Vector, rank, value_of_asking
from trubshoot.learning.drill_circumstances import Circumstances
from trubshoot.learning.hazards import blocks_of, grave, hazards_of
from trubshoot.rules import Fact, compile_specs
from trubshoot.rules.oracle import OracleEngine
from trubshoot.safety import HazardBlock

# Chance that an ideal asker gives the truth from what is told, by level; judgement.
LEVELS = ((0.6, 1.0), (0.45, 0.6), (0.32, 0.45), (0.2, 0.32), (0.03, 0.2))
HAZARD_SHARE = 0.25  # cases drawn with suspect bottles
BOTTLED_SHARE = 0.65  # of the others, cases with the beer in bottles
ALSO_TOLD = 0.5  # how often a second fault is told beside the one that is to be explained
MOST_TOLD = 3  # findings
MOST_DRAWS = 600
MOST_COURSES = 12  # ideal courses worked out for one draw
FOUND_FROM = 0.5  # what the ideal asker must reach, so that a case can be found out
MOST_QUESTIONS = 8  # of the ideal asker
_WIDE = 9  # findings told as present, above which only the likeliest questions are worked out
_FEW = 12


@dataclass(frozen=True)
class Asked:
    """A finding looked into, and what came out."""

    finding: str
    present: bool


@dataclass(frozen=True)
class DrillCase:
    """An invented case; what is so is known to the program alone until the end."""

    random_state: int
    number: int
    level: int
    stage: str  # fermenting or bottled
    told: tuple[str, ...]  # findings present, told at once; the first is to be explained
    circumstances: tuple[str, ...]
    ruled_out: tuple[str, ...]  # causes that cannot be at this stage
    so: frozenset[str]  # all findings that are so
    true_causes: tuple[str, ...]  # that made the first finding told, the likeliest first
    free_chance: float  # an ideal asker gives the first true cause this, from what is told
    course: tuple[Asked, ...]  # what the ideal asker would look into


@dataclass(frozen=True)
class View:
    """What follows from what is known at one moment of a case."""

    case: Case
    ranking: Ranking

    @property
    def made(self) -> Vector:
        """Return the chance of every cause that it made what is to be explained.

        Some known cause made it: a case without one is never drawn.
        """
        known = 1 - self.ranking.none_of_these
        return np.asarray(np.clip(self.ranking.responsibility / known, 0.0, 1.0))

    def chance(self, cause: str) -> float:
        """Return the chance that a cause made what is to be explained."""
        return float(self.made[self.case.causes.index(cause)])

    def leading(self, count: int = 4) -> list[tuple[str, float]]:
        """Return the likeliest causes with their chances."""
        made = self.made
        order = np.argsort(-made, kind="stable")[:count]
        return [(self.case.causes[row], float(made[row])) for row in order]


class Bench:
    """Draws cases and works out what is known in them."""

    def __init__(self, work: Diagnostician) -> None:
        self.work = work
        self.knowledge = work.knowledge
        self.base = work.base
        self.circumstances = Circumstances(self.knowledge, self.base)
        self._hazards: dict[frozenset[str], tuple[HazardBlock, ...]] = {}

    # --- what is known

    def hazards(self, present: Iterable[str]) -> tuple[HazardBlock, ...]:
        """Return the hazards at WARNING or above, or against tasting, of findings that are so."""
        key = frozenset(present)
        if key not in self._hazards:
            self._hazards[key] = grave(hazards_of(self.work, sorted(key)))
        return self._hazards[key]

    def view(self, case: DrillCase, asked: Iterable[Asked] = ()) -> View:
        """Return what follows from what is told and what was asked."""
        states = [FindingState(name, 0.0, 1.0, "said") for name in case.told]
        states += [
            FindingState(one.finding, *((0.0, 1.0) if one.present else (1.0, 0.0)), "said")
            for one in asked
        ]
        made = make_case(self.base, states, case.circumstances, case.ruled_out)
        return View(made, rank(made.network, made.told, (0,)))

    def questions(
        self, case: DrillCase, asked: Iterable[Asked] = (), view: View | None = None
    ) -> list[Question]:
        """Return what looking into each finding would tell, most for its cost first.

        Only what can be noticed at the stage and what the hazards that stand allow is counted.
        """
        asked = tuple(asked)
        view = view or self.view(case, asked)
        present = {*case.told, *(one.finding for one in asked if one.present)}
        blocks = self.hazards(present)
        known = {*case.told, *(one.finding for one in asked)}
        likely = view.ranking.responsibility > 0.01
        columns = [
            column
            for column, name in enumerate(view.case.findings)
            if name not in known
            and self.at_stage(name, case.stage)
            and allowed(self.knowledge.findings[name], blocks)
            and bool((view.case.network.strength[likely, column] > 0.02).any())
        ]
        if len(view.case.told.findings) > _WIDE:
            spread = view.ranking.responsibility * (1 - view.ranking.responsibility)
            weight = view.case.network.strength.T @ spread
            columns = sorted(columns, key=lambda column: -weight[column])[:_FEW]
        return sorted(self.worth(view, columns), key=lambda one: -self.per_cost(one))

    def worth(self, view: View, columns: list[int]) -> list[Question]:
        """Return what looking into findings would tell about what made the fault."""
        return value_of_asking(
            view.case.network, view.case.told, view.ranking, columns, view.ranking.share
        )

    def per_cost(self, question: Question) -> float:
        """Return the bits that a question tells for each unit of its cost."""
        finding = self.knowledge.findings[self.base.findings[question.finding]]
        return question.gain_bits / cost(self.knowledge, finding)

    def at_stage(self, finding: str, stage: str) -> bool:
        """Tell whether a finding can be noticed, or thought back to, at a stage of the batch."""
        stages = set(STAGES[stage])
        if stage == "fermenting":
            stages -= {"packaging"}
        return bool(stages.intersection(self.knowledge.findings[finding].stages))

    def course(self, case: DrillCase) -> tuple[Asked, ...]:
        """Return what an ideal asker looks into: each time what tells most for its cost.

        It stops when nothing tells enough, or when the leading cause is likely and stays so.
        """
        asked: tuple[Asked, ...] = ()
        least = self.knowledge.constant("check_least_gain_bits")
        leads_from = self.knowledge.constant("interview_leader_from")
        same_from = self.knowledge.constant("interview_same_from")
        while len(asked) < MOST_QUESTIONS:
            view = self.view(case, asked)
            found = [one for one in self.questions(case, asked, view) if one.gain_bits >= least]
            if not found:
                break
            leader = view.leading(1)[0][1]
            if leader > leads_from and found[0].same_leader > same_from:
                break
            name = self.base.findings[found[0].finding]
            asked = (*asked, Asked(name, name in case.so))
        return asked

    # --- drawing

    @cached_property
    def alarming(self) -> frozenset[str]:
        """Return the findings that raise a hazard at WARNING or above, or against tasting."""
        return self._raising[0]

    @cached_property
    def suspect(self) -> frozenset[str]:
        """Return the findings that put the bottles of a batch under suspicion."""
        return self._raising[1]

    @cached_property
    def _raising(self) -> tuple[frozenset[str], frozenset[str]]:
        rules = self.knowledge.rules.values()
        read = {item.fact for rule in rules for item in (*rule.when.all, *rule.when.any)}
        engine = OracleEngine(compile_specs(rules))  # only sorts cases: one engine is enough here
        alarming, suspect = set(), set()
        for name in self.knowledge.findings:
            if f"said.{name}" not in read:
                continue
            conclusions = engine.run({f"said.{name}": Fact.of("present")})
            blocks = grave(blocks_of(self.work, conclusions))
            if blocks:
                alarming.add(name)
            if bottles_suspect(blocks):
                suspect.add(name)
        return frozenset(alarming), frozenset(suspect)

    @cached_property
    def not_yet(self) -> frozenset[str]:
        """Return the causes that cannot be while nothing is bottled."""
        facts = {"stage": Fact.of("fermenting"), "not_bottled": Fact.of("present")}
        firings = self.work.reasoner.run(facts).conclusions.firings
        rules = self.knowledge.rules
        return frozenset(
            rules[firing.rule].then.target
            for firing in firings
            if rules[firing.rule].then.kind == "rules_out"
        )

    def draw(self, random_state: int, number: int, level: int) -> DrillCase:
        """Return an invented case; the same numbers give the same case.

        Args:
            random_state: fixed random state of the whole practice.
            number: which case of it, from 1.
            level: 1 (plain) to 5 (hard); see LEVELS.
        """
        random = np.random.default_rng([random_state, number, level])
        hazard = bool(random.random() < HAZARD_SHARE)
        stage = "bottled" if hazard or random.random() < BOTTLED_SHARE else "fermenting"
        low, high = LEVELS[level - 1]
        beside: list[tuple[float, int, DrillCase]] = []  # off the level, the nearest first
        courses = 0
        for place in range(MOST_DRAWS):
            drawn = self._one(random, stage, hazard=hazard)
            if drawn is None:
                continue
            case = replace(drawn, random_state=random_state, number=number, level=level)
            off = max(low - case.free_chance, case.free_chance - high, 0.0)
            if off > 0:
                beside.append((off, place, case))
                continue
            found = self._can_be_found(case)
            if found is not None:
                return found
            courses += 1
            if courses >= MOST_COURSES:
                break
        for _, _, case in sorted(beside)[:MOST_COURSES]:
            found = self._can_be_found(case)
            if found is not None:
                return found
        # a practice never ends for want of a case: another number gives another
        return replace(self.draw(random_state, number + 1_000_000, level), number=number)

    def _can_be_found(self, case: DrillCase) -> DrillCase | None:
        """Return the case with the ideal course, if that finds the cause; a lesson must teach."""
        course = self.course(case)
        leader, chance = self.view(case, course).leading(1)[0]
        if leader in case.true_causes and chance >= FOUND_FROM:
            return replace(case, course=course)
        return None

    def _one(self, random: np.random.Generator, stage: str, *, hazard: bool) -> DrillCase | None:
        """Return one case as it comes; None when it tells nothing, or not what is wanted."""
        ruled_out = tuple(sorted(self.not_yet)) if stage == "fermenting" else ()
        network = self.base.network
        there = random.random(len(self.base.causes)) < network.prior
        for name in ruled_out:
            there[self.base.causes.index(name)] = False
        fired = (random.random(network.strength.shape) < network.strength) & there[:, None]
        by_itself = random.random(len(self.base.findings)) < network.leak
        so = frozenset(
            name
            for column, name in enumerate(self.base.findings)
            if by_itself[column] or fired[:, column].any()
        )
        told = self._told(random, stage, so, fired, hazard=hazard)
        if told is None:
            return None
        column = self.base.findings.index(told[0])
        makers = [self.base.causes[row] for row in np.flatnonzero(fired[:, column])]
        bears = np.flatnonzero(network.strength[:, column] > 0)
        never = {self.base.causes.index(name) for name in ruled_out}
        circumstances = self.circumstances.draw(
            random, set(bears.tolist()) - never, set(np.flatnonzero(there).tolist()), never
        )
        case = DrillCase(0, 0, 0, stage, told, circumstances, ruled_out, so, (), 0.0, ())
        view = self.view(case)
        makers.sort(key=lambda name: -view.chance(name))
        return replace(case, true_causes=tuple(makers), free_chance=view.chance(makers[0]))

    def _told(
        self,
        random: np.random.Generator,
        stage: str,
        so: frozenset[str],
        fired: np.ndarray[tuple[int, ...], np.dtype[np.bool_]],
        *,
        hazard: bool,
    ) -> tuple[str, ...] | None:
        """Return what is told: what is to be explained first, then all that is alarming."""
        seen = [name for name in self.base.findings if name in so and self.at_stage(name, stage)]
        alarm = [name for name in seen if name in self.alarming]
        if hazard != any(name in self.suspect for name in alarm) or len(alarm) > MOST_TOLD:
            return None
        faults = [
            name
            for name in seen
            if self.knowledge.findings[name].tells == "fault"
            and name != _UNSAID
            and fired[:, self.base.findings.index(name)].any()
        ]
        first = [name for name in faults if name in self.suspect or (not hazard and alarm == [])]
        first = first or [name for name in faults if name in alarm]
        if not first:
            return None
        main = first[int(random.integers(len(first)))]
        told = [main, *(name for name in alarm if name != main)]
        others = [name for name in faults if name not in told and not self._alike(name, main)]
        if others and len(told) < MOST_TOLD and random.random() < ALSO_TOLD:
            told.append(others[int(random.integers(len(others)))])
        return tuple(told)

    def _alike(self, one: str, other: str) -> bool:
        """Tell whether people take one finding for the other: told together they would clash."""
        findings = self.knowledge.findings
        return other in findings[one].confused_with or one in findings[other].confused_with


_UNSAID = "off_taste_unspecified"  # no complaint to start from: it says that nothing is said
