"""People who answer an interview truthfully: drawn from the model, or taken from real cases."""

from __future__ import annotations

import random
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from tests.accuracy.scoring import RealCase

from trubshoot.diagnosis import Diagnosis, Diagnostician
from trubshoot.diagnosis.next_check import STAGES
from trubshoot.interview import Interview, Prompt, State

NOW = datetime(2026, 1, 20, 18)
_SINCE = {"fermenting": "Pitched", "bottled": "Bottled"}
MOST_PROMPTS = 60  # an interview that goes on longer does not end


@dataclass(frozen=True)
class User:
    """What somebody says first, and knows; a finding that is not in `truth` is not known."""

    name: str
    stage: str
    days: float | None  # since bottling, or since pitching; None: not known
    told: tuple[str, ...]
    contexts: tuple[str, ...]
    truth: Mapping[str, bool]
    accept: tuple[str, ...]  # what counts as right: what made the complaint
    there: tuple[str, ...] = ()  # everything that is there and made something, harmless or not


@dataclass(frozen=True)
class Outcome:
    """What came of one interview: the causes best first, and the questions put."""

    order: tuple[str, ...]
    asked: tuple[str, ...]
    steps: tuple[tuple[str, ...], ...] = ()  # the causes after 0, 1, 2 ... questions

    @property
    def findings_asked(self) -> int:
        """Return how many questions were about findings."""
        return sum(prompt.startswith(("finding:", "group:")) for prompt in self.asked)


def drawn(work: Diagnostician, chance: random.Random, known: float = 1.0) -> User:
    """Return a user of a batch drawn from the model: causes by their priors, findings from them.

    Told at first are two findings that faults (or else anything) made. Right is a cause that is
    there and made one of these two. known: chance that the user can answer a question at all.
    """
    knowledge = work.knowledge
    while True:
        stage = chance.choice(("fermenting", "bottled"))
        truth = {
            key: chance.random() < finding.leak
            for key, finding in knowledge.findings.items()
            if set(STAGES[stage]).intersection(finding.stages)
        }
        made: dict[str, list[str]] = {}
        for cause in knowledge.causes.values():
            if chance.random() < cause.prior:
                for link in cause.links:
                    if link.finding in truth and chance.random() < link.strength:
                        truth[link.finding] = True
                        made.setdefault(cause.id, []).append(link.finding)
        faults = [key for key in made if knowledge.causes[key].kind != "normal"]
        own = sorted({finding for key in faults or made for finding in made[key]})
        if not own:
            continue
        told = tuple(chance.sample(own, min(2, len(own))))
        days = 28.0 if stage == "bottled" else 10.0
        for key in told:
            window = knowledge.findings[key].days
            if window is not None:
                days = min(max(days, window.first), window.last)
        answers = {key: so for key, so in truth.items() if chance.random() < known}
        name = ", ".join(told)
        guilty = tuple(key for key, findings in made.items() if set(told).intersection(findings))
        return User(name, stage, days, told, (), answers, guilty, tuple(made))


def of_case(case: RealCase, told: int | None = None) -> User:
    """Return the brewer of a real case, who tells so many findings at first (None: all noticed).

    The rest, and what was looked for and not there, is told only when it is asked about.
    """
    encoded = case.encoded
    truth = {**dict.fromkeys(encoded["present"], True), **dict.fromkeys(encoded["absent"], False)}
    key = "days_in_bottle" if case.stage == "bottled" else "days_since_pitch"
    days = case.facts.get(key)
    return User(
        case.id,
        case.stage,
        float(days) if isinstance(days, (int, float)) else None,
        tuple(encoded["present"][:told]),
        tuple(encoded["contexts"]),
        truth,
        case.accept,
    )


def first_words(interview: Interview, user: User) -> str:
    """Return what the user says at first, in phrases of the knowledge."""
    items = [interview.hearing.item("finding", key, "present", user.stage) for key in user.told]
    items += [
        interview.hearing.item("context", key, "present", user.stage) for key in user.contexts
    ]
    said = [item.value for item in items if item is not None]
    # the opening asks for the place and the time as well
    if user.days is not None and user.stage in _SINCE:
        said.append(f"{_SINCE[user.stage]} {user.days:g} days ago")
    return ". ".join(said)


def reply(interview: Interview, user: User, prompt: Prompt) -> str:
    """Return what the user answers."""
    kind, _, key = prompt.id.partition(":")
    if kind == "opening":
        return first_words(interview, user)
    if kind == "repeat":
        return "yes"
    if kind == "detail":
        if key == "stage":
            number = [option.says for option in prompt.options].index(user.stage) + 1
            return f"{number}" if user.days is None else f"{number}, {user.days:g} days"
        return "don't know" if user.days is None else f"{user.days:g} days"
    if kind == "safety":
        so = [str(n) for n, one in enumerate(prompt.options, 1) if user.truth.get(one.says)]
        known = any(one.says in user.truth for one in prompt.options)
        return " ".join(so) or ("none" if known else "don't know")
    if kind == "group":
        known = {n: user.truth.get(one.says) for n, one in enumerate(prompt.options, 1)}
        here = " ".join(str(n) for n, so in known.items() if so)
        away = " ".join(str(n) for n, so in known.items() if so is False)
        if None not in known.values():
            return here or "none"
        return (
            f"{here} not {away}".strip()
            if away
            else f"{here} rest unknown"
            if here
            else "don't know"
        )
    if kind == "finding" and key in user.truth:
        return "yes" if user.truth[key] else "no"
    return "don't know"


def hold(work: Diagnostician, user: User) -> tuple[Interview, State, Outcome]:
    """Hold the interview to its end."""
    interview = Interview(work, NOW)
    state = State()
    steps: list[tuple[str, ...]] = []
    for _ in range(MOST_PROMPTS):
        prompt = interview.prompt(state)
        order = _order(interview.diagnosis(state))
        steps = [*steps[: len(state.asked)], order]
        if prompt.form == "end":
            return interview, state, Outcome(order, state.asked, tuple(steps))
        state = interview.answer(state, reply(interview, user, prompt))
    raise AssertionError(f"the interview of {user.name} does not end")


def told_everything(work: Diagnostician, user: User, *, all_of_it: bool) -> Outcome:
    """Return the outcome without any question: from the first words, or from all that is known."""
    interview = Interview(work, NOW)
    state = interview.answer(State(), first_words(interview, user), "opening")
    state = interview.answer(state, "yes", "repeat")
    if user.stage != interview.stage(state):
        place = {"fermenting": "1", "bottled": "2"}[user.stage]
        state = interview.answer(state, place, "detail:stage")
    if user.days is not None:
        key = "bottled_days" if user.stage == "bottled" else "pitched_days"
        state = interview.answer(state, f"{user.days:g} days", f"detail:{key}")
    if all_of_it:
        more = [
            interview.hearing.item("finding", key, "present" if so else "absent", user.stage)
            for key, so in user.truth.items()
            if key not in user.told
        ]
        asked = [replace(item, asked=True) for item in more if item is not None]
        state = replace(state, items=(*state.items, *asked))
    return Outcome(_order(interview.diagnosis(state)), ())


def _order(diagnosis: Diagnosis) -> tuple[str, ...]:
    return tuple(cause.id for cause in diagnosis.causes)
