"""Practice as a machine of states: an invented case, what a learner does, what comes of it.

Nothing here prints, waits, looks at a clock or draws: the case is drawn beforehand, and a state
follows from its turns alone, so that a practice is kept and resumed by keeping turns. What a
hazard forbids is decided by the same blocks and the same gate as the next check of a diagnosis.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from trubshoot.diagnosis.advice import forbidden_by
from trubshoot.diagnosis.next_check import allowed
from trubshoot.knowledge_base.asking import Choice
from trubshoot.learning.drill_draw import Asked, Bench, DrillCase
from trubshoot.learning.lookup import Index, Named
from trubshoot.safety import HazardBlock, suppress_tasting

Phase = Literal["first", "ask", "name", "sure", "end"]
LEAVE = "leave"  # the right first action where a hazard stands
GIVEN_UP = "none"
OFFERED = 12  # tests listed; any other may be named
MOST_PRESENT = 14  # findings so, above which the exact ranking is not asked any longer
# what may stand before the word of an action
_LEAD = (
    r"(?:i|i'd|i'll|we|let me|lets|let's|would|will|shall|please|just|then|first|try|go|now"
    r"|carefully|gently|slowly|quickly|only)"
)
_CLAUSES = re.compile(r"[,;.]|\b(?:and|then|but|before|after|to)\b")
_GIVE_UP = frozenset(("give up", "i give up", "no idea", "don't know", "dont know"))


@dataclass(frozen=True)
class DrillState:
    """Everything that was done in a case; `turns` lead to the rest."""

    turns: tuple[str, ...] = ()
    phase: Phase = "first"
    first: str = ""  # kind of the first action
    asked: tuple[Asked, ...] = ()
    named: str = ""  # id of the cause named, or "none" for given up
    sure: float | None = None  # how sure the learner said to be, 0 to 1
    stopped: str = ""  # what was done that no hazard leaves room for, in words
    message: tuple[str, ...] = ()  # kind of message, then what it speaks of


@dataclass(frozen=True)
class Offer:
    """One thing that may be chosen: an action, a test or a cause."""

    id: str
    label: str
    how: str = ""
    by: str = ""
    minutes: float = 0.0
    done: bool = False


@dataclass(frozen=True)
class DrillPrompt:
    """What is asked now; hazards that stand and may be shown come first."""

    phase: Phase
    hazards: tuple[HazardBlock, ...]
    ask: str  # of the first action only; the faces word the rest
    how: str
    offers: tuple[Offer, ...]
    minutes: float  # spent so far
    message: tuple[str, ...]


class Drill:
    """One invented case, played by a learner."""

    def __init__(self, bench: Bench, index: Index, case: DrillCase) -> None:
        self.bench, self.index, self.case = bench, index, case
        self.knowledge = bench.knowledge
        self._offered: tuple[str, ...] | None = None

    # --- what is known and allowed

    def present(self, state: DrillState) -> frozenset[str]:
        """Return the findings that the learner knows to be so."""
        found = {one.finding for one in state.asked if one.present}
        return frozenset({*self.case.told, *found})

    def hazards(self, state: DrillState) -> tuple[HazardBlock, ...]:
        """Return the hazards that stand, by what the learner knows."""
        return self.bench.hazards(self.present(state))

    def forbidden(self, state: DrillState) -> frozenset[str]:
        """Return the kinds of action that the hazards that stand leave no room for."""
        return forbidden_by(self.knowledge, self.hazards(state), at_bottles=True)

    def minutes(self, state: DrillState) -> float:
        """Return the minutes that the tests made so far would take."""
        return sum(self.knowledge.findings[one.finding].check.minutes for one in state.asked)

    def may_ask(self, finding: str, state: DrillState) -> bool:
        """Tell whether a finding may be looked into now."""
        return self.bench.at_stage(finding, self.case.stage) and allowed(
            self.knowledge.findings[finding], self.hazards(state)
        )

    # --- what is asked

    def prompt(self, state: DrillState) -> DrillPrompt:
        """Return what is asked now."""
        offers: tuple[Offer, ...] = ()
        ask = how = ""
        if state.phase == "first":
            row = self._actions
            ask, how = row.ask, row.how
            offers = tuple(Offer(str(one.says), one.label) for one in row.options)
        elif state.phase == "ask":
            done = {one.finding for one in state.asked}
            offers = tuple(
                self._test(name, done=name in done)
                for name in self.offered()
                if name in done or self.may_ask(name, state)
            )
        elif state.phase == "name":
            offers = tuple(Offer(one.id, one.label) for one in self.choices())
        # before the first action the learner is to see the danger, so the block comes after it
        blocks = () if state.phase == "first" else self.hazards(state)
        return DrillPrompt(
            state.phase, blocks, ask, how, offers, self.minutes(state), state.message
        )

    def _test(self, name: str, *, done: bool) -> Offer:
        finding = self.knowledge.findings[name]
        check = finding.check
        return Offer(name, finding.label, check.how, check.by, check.minutes, done)

    def offered(self) -> tuple[str, ...]:
        """Return the tests listed: those that tell most at the start, the quickest first."""
        if self._offered is None:
            found = sorted(self.bench.questions(self.case), key=lambda one: -one.gain_bits)
            names = [self.bench.base.findings[one.finding] for one in found[:OFFERED]]
            minutes = {name: self.knowledge.findings[name].check.minutes for name in names}
            self._offered = tuple(sorted(names, key=lambda name: (minutes[name], name)))
        return self._offered

    def choices(self) -> tuple[Named, ...]:
        """Return the causes that may have made what is to be explained, in brewing order."""
        steps = list(self.knowledge.steps)
        linked = [
            cause
            for cause in self.knowledge.causes.values()
            if cause.id not in self.case.ruled_out
            and any(link.finding == self.case.told[0] for link in cause.links)
        ]
        linked.sort(key=lambda cause: (steps.index(cause.step), cause.label))
        return tuple(Named("cause", cause.id, cause.label) for cause in linked)

    # --- what an answer does

    def answer(self, state: DrillState, text: str) -> DrillState:
        """Return the state after an answer; one that cannot be used leaves a message."""
        said = " ".join(text.split())[:500]
        plain = said.lower().rstrip(".!?")
        state = replace(state, message=())
        if state.phase == "end":
            return state
        if not plain and state.phase != "sure":
            return replace(state, message=("empty",))
        take = {
            "first": self._first,
            "ask": self._ask,
            "name": self._name,
            "sure": self._sure,
        }[state.phase]
        after = take(state, plain)
        kept = replace(after, message=()) != state
        return replace(after, turns=(*state.turns, said)) if kept else after

    def replay(self, turns: Iterable[str]) -> DrillState:
        """Return the state that kept turns lead to."""
        state = DrillState()
        for turn in turns:
            state = self.answer(state, turn)
        return replace(state, message=())

    def _first(self, state: DrillState, plain: str) -> DrillState:
        barred = self.forbidden(state)
        action = _chosen(plain, self._actions.options) or self._action(plain, barred)
        if action is None:
            return replace(state, message=("no_action",))
        state = replace(state, first=str(action.says), phase="ask")
        return self._stop(state, action.label) if action.says in barred else state

    def _stop(self, state: DrillState, what: str) -> DrillState:
        return replace(state, stopped=what, phase="end")

    def _ask(self, state: DrillState, plain: str) -> DrillState:
        if plain in _GIVE_UP:
            return replace(state, named=GIVEN_UP, phase="end")
        if re.match(r"(?:name|answer|it is|it's|its|because of|i say)\b", plain):
            rest = re.sub(r"^(?:name|answer|it is|it's|its|because of|i say)\b:?\s*", "", plain)
            return self._name(state, rest) if rest else replace(state, phase="name")
        barred = self.forbidden(state)
        action = self._action(plain, barred)
        if action is not None and action.says in barred:
            return self._stop(state, action.label)
        offers = [one.id for one in self.prompt(state).offers]
        if plain.isdigit():
            if not 1 <= int(plain) <= len(offers):
                return replace(state, message=("no_number", str(len(offers))))
            return self._look(state, offers[int(plain) - 1])
        found = self.index.find(plain, ("finding", "cause"))
        findings = [thing for thing in found.meant if thing.kind == "finding"]
        if len(findings) == 1:
            return self._look(state, findings[0].id)
        if findings:
            return replace(state, message=("several", *(thing.label for thing in findings)))
        if found.meant:
            return replace(state, message=("a_cause", found.meant[0].label))
        if action is not None:
            return replace(state, message=("an_action", action.label))
        return replace(state, message=("unknown", *found.nearest))

    def _look(self, state: DrillState, name: str) -> DrillState:
        finding = self.knowledge.findings[name]
        if name in self.case.told or any(one.finding == name for one in state.asked):
            return replace(state, message=("known", finding.label))
        if not self.bench.at_stage(name, self.case.stage):
            return replace(state, message=("not_now", finding.label))
        if not self.may_ask(name, state):
            tasting = finding.check.by == "taste" and suppress_tasting(self.hazards(state))
            at_bottle = finding.check.by == "open_bottle" or (
                finding.check.by in self.knowledge.forbidden_actions["at_suspect_bottles"].checks
                and not {"tasting", "conditioning"}.isdisjoint(finding.stages)
            )
            if tasting or at_bottle:
                return self._stop(state, finding.label)
            return replace(state, message=("barred", finding.label))
        if len(self.present(state)) >= MOST_PRESENT:
            return replace(state, message=("enough",))
        asked = Asked(name, name in self.case.so)
        after = replace(state, asked=(*state.asked, asked))
        return replace(after, message=("so" if asked.present else "not_so", finding.label))

    def _name(self, state: DrillState, plain: str) -> DrillState:
        if plain in ("back", "more", "ask"):
            return replace(state, phase="ask")
        if plain in _GIVE_UP:
            return replace(state, named=GIVEN_UP, phase="end")
        choices = self.choices()
        if plain.isdigit():
            if not 1 <= int(plain) <= len(choices):
                return replace(state, phase="name", message=("no_number", str(len(choices))))
            return replace(state, named=choices[int(plain) - 1].id, phase="sure")
        found = self.index.find(plain, ("cause",))
        likely = [thing for thing in found.meant if thing in choices] or list(found.meant)
        if len(likely) == 1:
            return replace(state, named=likely[0].id, phase="sure")
        if likely:
            labels = tuple(thing.label for thing in likely)
            return replace(state, phase="name", message=("several", *labels))
        return replace(state, phase="name", message=("unknown", *found.nearest))

    def _sure(self, state: DrillState, plain: str) -> DrillState:
        if plain in ("", "skip", "-", "don't know", "dont know"):
            return replace(state, phase="end")
        number = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(?:%|percent|per cent)?", plain)
        if number is None or not 0 <= float(number[1]) <= 100:
            return replace(state, message=("no_percent",))
        return replace(state, sure=float(number[1]) / 100, phase="end")

    # --- words

    def right_first(self) -> str:
        """Return the right first action where a hazard stands, as the list words it."""
        return next(one.label for one in self._actions.options if one.says == LEAVE)

    @property
    def _actions(self) -> _Row:
        row = self.knowledge.interview[f"drill_first_{self.case.stage}"]
        return _Row(row.ask, row.how, row.options)

    def _action(self, plain: str, barred: frozenset[str] = frozenset()) -> Choice | None:
        """Return the action that words tell of, such as "I would open one".

        Of several ("wait a day and then open one") the one that is barred, else the first.
        """
        found = [self._begins(clause.strip()) for clause in _CLAUSES.split(plain)]
        told = [option for option in found if option is not None]
        return next((one for one in told if one.says in barred), told[0] if told else None)

    def _begins(self, clause: str) -> Choice | None:
        """Return the action that a clause begins with, by its longest cue."""
        bare = re.sub(rf"^(?:{_LEAD}\s+)+", "", clause)
        found: tuple[int, Choice] | None = None
        for option in self._actions.options:
            for cue in option.cues:
                if re.match(rf"{re.escape(cue)}(?![a-z])", bare) and (
                    found is None or len(cue) > found[0]
                ):
                    found = len(cue), option
        return found[1] if found else None


@dataclass(frozen=True)
class _Row:
    ask: str
    how: str
    options: tuple[Choice, ...]


def _chosen(plain: str, options: Sequence[Choice]) -> Choice | None:
    """Return the option that a number names."""
    if plain.isdigit() and 1 <= int(plain) <= len(options):
        return options[int(plain) - 1]
    return None
