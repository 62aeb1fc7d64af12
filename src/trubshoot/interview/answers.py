"""How an answer is read: yes, no, don't know, numbers, a value, or free words in their place."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime

from trubshoot.interview.hearing import Hearing
from trubshoot.interview.numbers import is_readable
from trubshoot.interview.state import Item, Prompt, State
from trubshoot.units import UnitSystem

YES = frozenset("yes y yeah yep yup right correct ok okay true sure".split())
NO = frozenset(("no", "n", "nope", "none", "none of these", "none of them", "nothing", "false"))
UNKNOWN = frozenset(
    (
        *("don't know", "dont know", "do not know", "unknown", "not sure", "unsure", "no idea"),
        *("can't say", "cannot say", "dk", "d", "i don't know", "i dont know", "skip", "-"),
    )
)
_WITH_TIME = re.compile(r"([0-9])\s*[,;:]\s*(\S.*)")  # the place, and since when
_NUMBERS = re.compile(r"[0-9]{1,3}(?:(?:\s*[,;&]\s*|\s+(?:and\s+)?)[0-9]{1,3})*")


def simple(text: str) -> str:
    """Return an answer in lower case, without what stands around it."""
    return text.lower().replace("\u2019", "'").strip(" .!,")


@dataclass(frozen=True)
class Reading:
    """Reads answers for one moment of an interview."""

    hearing: Hearing
    now: datetime
    units: UnitSystem | None
    stage: str

    def take(self, state: State, prompt: Prompt, said: str) -> State:
        """Return the state after an answer; with a message, and otherwise as before, if useless."""
        state = replace(state, message="")
        forms = {
            "words": self._words,
            "repeat": self._repeat,
            "yes_no": self._yes_no,
            "one": self._one,
            "several": self._several,
            "which": self._which,
            "value": self._value,
        }
        return forms[prompt.form](state, prompt, said) if prompt.form in forms else state

    # --- the forms

    def _words(self, state: State, prompt: Prompt, said: str) -> State:
        kind = prompt.id
        if not said or simple(said) in (UNKNOWN | NO):
            if kind == "more" or simple(said) in UNKNOWN or simple(said) in NO:
                return _closed(state, kind)
            return replace(state, message="Nothing was written. A few words are enough.")
        heard = self._heard(said)
        return replace(_closed(_merged(state, heard), kind), unchecked=bool(heard))

    def _repeat(self, state: State, prompt: Prompt, said: str) -> State:
        answer = simple(said)
        if not answer or answer in YES or answer in UNKNOWN:
            return replace(state, unchecked=False)
        chosen = _chosen(answer, len(prompt.about))
        if chosen:
            gone = {prompt.about[place] for place in chosen}
            kept = tuple(item for item in state.items if item not in gone)
            return replace(state, items=kept, unchecked=True)
        if answer in NO or _NUMBERS.fullmatch(answer):
            message = "Say the numbers of what is wrong, or say in other words what it was."
            return replace(state, message=message)
        return self._free(state, said)

    def _yes_no(self, state: State, prompt: Prompt, said: str) -> State:
        answer = simple(said)
        kind, _, key = prompt.id.partition(":")
        if answer in UNKNOWN:
            if kind == "both":
                state = replace(state, items=_without(state.items, key))
            return replace(_closed(state, prompt.id), unknown_run=state.unknown_run + 1)
        if answer not in YES and answer not in NO:
            return self._free(state, said, "Answer yes, no or don't know.")
        told = "present" if answer in YES else "absent"
        state = replace(_closed(state, prompt.id), unknown_run=0)
        if kind == "both":
            kept = [item for item in state.items if item.id != key or item.state == told]
            return replace(state, items=tuple(kept))
        item = self._item(key, told)
        return _merged(state, [replace(item, asked=True)] if item else [])

    def _one(self, state: State, prompt: Prompt, said: str) -> State:
        answer = simple(said)
        kind, _, key = prompt.id.partition(":")
        if answer in UNKNOWN:
            return _closed(state, prompt.id)
        since = _WITH_TIME.fullmatch(answer) if prompt.id == "detail:stage" else None
        place = _place(since[1] if since else answer, prompt)
        if place is None:
            numbers = f"Answer with a number from 1 to {len(prompt.options)}, or don't know."
            return self._free(state, said, numbers)
        state = _closed(state, prompt.id)
        if kind == "confusion":
            return self._meant(state, key, place)
        if kind == "log":
            return replace(state, items=_without(state.items, key)) if place == 0 else state
        lives = prompt.options[place].says
        state = _merged(state, [self.hearing.stage_item(lives)])
        key = {"bottled": "bottled_days", "fermenting": "pitched_days"}.get(lives, "")
        told = self._time(key, since[2]) if since and key else None
        return _merged(state, [told]) if told else state

    def _several(self, state: State, prompt: Prompt, said: str) -> State:
        answer = simple(said)
        if answer in UNKNOWN:
            return _closed(state, prompt.id)
        chosen = _chosen(answer, len(prompt.options))
        if not chosen and answer in YES and len(prompt.options) > 1:
            return replace(state, message="Which? Answer with its number, or several.")
        if not chosen and answer not in NO:
            numbers = "Answer with numbers such as: 1 3. Or no, or don't know."
            return self._free(state, said, numbers)
        row = self.hearing.knowledge.interview[prompt.id.partition(":")[2]]
        items = []
        for place, option in enumerate(row.options):
            if option.says and (place in chosen or (option.deny and not chosen)):
                item = self._item(option.says, "present" if place in chosen else "absent")
                items += [item] if item else []
        # what nobody saw of opened bottles is not denied, and not asked a second time either
        asked = {f"finding:{option.says}" for option in row.options if option.says}
        closed = replace(state, closed=state.closed | asked | {prompt.id})
        return _merged(closed, items)

    def _which(self, state: State, prompt: Prompt, said: str) -> State:
        """Take what is there of several findings; what is left out is not there, unless told so.

        "2 4": these are there, the others not. "2 not 3", "2 rest unknown": others are not known.
        """
        answer = simple(said)
        members = [option.says for option in prompt.options]
        asked = frozenset(f"finding:{name}" for name in members) | {prompt.id}
        if answer in UNKNOWN:
            closed = replace(state, closed=state.closed | asked)
            return replace(closed, unknown_run=state.unknown_run + 1)
        told, rest, _ = answer.partition("rest ")
        answer = told.removesuffix("the ").strip(" ,;") if rest else answer
        there, _, denied = answer.rpartition("not ") if "not " in answer else (answer, "", "")
        there = there.strip(" ,;")
        here, away = _chosen(there, len(members)), _chosen(denied, len(members))
        if answer in YES:
            return replace(state, message="Which? Answer with its number, or several.")
        none = there in NO
        unread = not answer or (there and not here and not none) or (denied and not away)
        if unread or here & away or (none and (denied or rest)):
            numbers = "Answer with numbers such as: 1 3. Or none, or don't know."
            return self._free(state, said, numbers)
        if not denied and not rest:
            away = set(range(len(members))) - here
        items = [self._item(members[place], "present") for place in sorted(here)]
        items += [self._item(members[place], "absent") for place in sorted(away)]
        state = replace(state, closed=state.closed | asked, unknown_run=0)
        return _merged(state, [replace(item, asked=True) for item in items if item is not None])

    def _value(self, state: State, prompt: Prompt, said: str) -> State:
        answer = simple(said)
        kind, _, key = prompt.id.partition(":")
        if answer in UNKNOWN:
            if kind == "odd":
                state = replace(state, items=_without(state.items, "pitched_days", "pitched_on"))
            return _closed(state, prompt.id)
        detail = self._time(key, said)
        if detail is None:
            how = "Write it like 3 weeks, 5 days or a date, or don't know."
            return self._free(state, said, how)
        if kind == "odd":
            state = replace(state, items=_without(state.items, "pitched_days", "pitched_on"))
        return _merged(_closed(state, prompt.id), [detail])

    def _time(self, key: str, said: str) -> Item | None:
        """Return the time (or date) that words tell for a detail; None when they tell none."""
        row = self.hearing.knowledge.interview[key]
        told = self.hearing.items(f"{said} {row.cues[0]}", self.stage, self.units, self.now.date())
        for item in told:
            own = self.hearing.knowledge.interview.get(item.id) if item.kind == "detail" else None
            if own is None or own.dimension not in (row.dimension, "date"):
                continue
            meant = key
            if own.dimension == "date":
                meant = "bottled_on" if key.startswith("bottled") else "pitched_on"
            if self._readable(meant, item.value):
                label = self.hearing.knowledge.interview[meant].label
                return Item("detail", meant, label, "", item.value, said)
        return None

    # --- free words in the place of another answer

    def _free(self, state: State, said: str, otherwise: str = "") -> State:
        heard = self._heard(said)
        if any(item.kind != "lost" for item in heard) or (heard and not otherwise):
            return replace(_merged(state, heard), unchecked=True)
        message = f"This was not understood. {otherwise}".strip()
        return replace(state, message=message)

    def _heard(self, said: str) -> list[Item]:
        heard = self.hearing.items(said, self.stage, self.units, self.now.date())
        good = []
        for item in heard:
            told = item.kind == "detail" and item.id != "stage"
            if told and not self._readable(item.id, item.value):
                good.append(Item("lost", "", item.said, "", item.said, item.said))
            else:
                good.append(item)
        return good

    def _readable(self, key: str, value: str) -> bool:
        return is_readable(self.hearing.knowledge, key, value, self.now.date())

    def _item(self, key: str, told: str) -> Item | None:
        kind = "finding" if key in self.hearing.knowledge.findings else "sign"
        return self.hearing.item(kind, key, told, self.stage)

    def _meant(self, state: State, confusion: str, place: int) -> State:
        """Put what was meant in the place of the word that people mix up."""
        option = self.hearing.knowledge.confusions[confusion].options[place]
        key = option.finding
        if option.fermenting and self.stage not in ("", "bottled"):
            key = option.fermenting
        kept = tuple(item for item in state.items if item.vague != confusion)
        item = self._item(key, "present") if key else None
        return _merged(replace(state, items=kept), [item] if item else [])


def _closed(state: State, prompt: str) -> State:
    return replace(state, closed=state.closed | {prompt})


def _without(items: Iterable[Item], *keys: str) -> tuple[Item, ...]:
    return tuple(item for item in items if item.id not in keys)


def _merged(state: State, heard: Iterable[Item]) -> State:
    """Return the state with items added; a new number of a detail goes before the old one."""
    items = list(state.items)
    for new in heard:
        if new.kind == "detail":
            items = [item for item in items if item.key != new.key]
        elif any(item.key == new.key and item.state == new.state for item in items):
            clearer = [
                item for item in items if item.key == new.key and item.vague and not new.vague
            ]
            if not clearer:
                continue
            items = [item for item in items if item not in clearer]
        items.append(new)
    return replace(state, items=tuple(items))


def _chosen(answer: str, count: int) -> set[int]:
    """Return the places of the numbers in an answer; none when one of them is out of range."""
    if not _NUMBERS.fullmatch(answer):
        return set()
    places = {int(number) - 1 for number in re.findall("[0-9]+", answer)}
    return places if all(0 <= place < count for place in places) else set()


def _place(answer: str, prompt: Prompt) -> int | None:
    """Return which option an answer chooses: by number, or by words that only one holds."""
    chosen = _chosen(answer, len(prompt.options))
    if len(chosen) == 1:
        return chosen.pop()
    fits = [place for place, one in enumerate(prompt.options) if answer in one.label.lower()]
    return fits[0] if len(answer) > 2 and len(fits) == 1 else None
