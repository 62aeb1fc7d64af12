"""Free words -> items: findings, signs and circumstances by the phrases, numbers as details."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date

from trubshoot.evidence.confusions import vague_word
from trubshoot.evidence.own_time import own_time
from trubshoot.evidence.words import Lexicon, understand
from trubshoot.interview.numbers import BOTTLED, clauses, read_details
from trubshoot.interview.state import Item
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.units import UnitSystem

MOST_CHARACTERS = 2000  # more is cut, and said so
_SENSES = {"smell": "smelled", "taste": "tasted"}
_IMPERIAL = re.compile(
    r"[0-9]\s*(?:\u00b0|degrees?\s*)?(?:f\b|oz\b|ounces?\b|gal|lbs?\b|pounds?\b|quarts?\b)",
    re.IGNORECASE,
)
_AT_BOTTLING = ("bottled_days", "bottled_on", "sugar")
_FERMENTER = {"lag", "active", "late_fermentation"}
_LIVES = "stage"  # the row of interview.yaml that says where the beer is


def plain(text: str) -> str:
    """Return text without control characters and repeated blanks, of a bearable length."""
    shown = "".join(char if char.isprintable() else " " for char in text[: 4 * MOST_CHARACTERS])
    return " ".join(shown.encode("utf-8", "replace").decode("utf-8").split())[:MOST_CHARACTERS]


def units_told(text: str) -> UnitSystem | None:
    """Return the system of units that words are said in; None when they hold no sign of it."""
    return "us" if _IMPERIAL.search(text) else None


class Hearing:
    """The phrases and cues of the knowledge, ready to listen."""

    def __init__(self, knowledge: KnowledgeBase, lexicon: Lexicon) -> None:
        self.knowledge = knowledge
        self.lexicon = lexicon

    def items(
        self, text: str, stage: str, units: UnitSystem | None, today: date
    ) -> tuple[Item, ...]:
        """Return everything that a text tells, and what of it was not understood."""
        details = read_details(self.knowledge, text, units, today, bottled=stage == BOTTLED)
        lives: list[Item] = []
        if not stage and self._says_bottled(text, [item.id for item in details]):
            stage = BOTTLED
            details = read_details(self.knowledge, text, units, today, bottled=True)
            lives = [self.stage_item(BOTTLED)]
        told = {item.said for item in details}
        words = self._all_words(text, stage, told)
        if not stage and (self._cued("fermenting", text.lower()) or self._seen_fermenting(words)):
            stage = "fermenting"
            lives = [self.stage_item(stage)]
            words = self._all_words(text, stage, told)
        rows = self.knowledge.interview
        found = [
            Item("detail", item.id, rows[item.id].label, "", item.value, item.said)
            for item in details
        ]
        return (*dict.fromkeys(words), *lives, *found)

    def _says_bottled(self, text: str, details: list[str]) -> bool:
        lower = text.lower()
        if any(item.id == "bottling_near" for item in understand(self.lexicon, text)[0]):
            return False
        if re.search(r"\b(?:not|never|before|un)[ -]?(?:yet )?bottl", lower):
            return False
        return any(key in details for key in _AT_BOTTLING) or self._cued(BOTTLED, lower)

    def _cued(self, stage: str, lower: str) -> bool:
        """Tell whether a text holds words that say where the beer is."""
        return any(
            re.search(rf"(?<![a-z]){re.escape(cue)}(?![a-z])", lower)
            for option in self.knowledge.interview[_LIVES].options
            if option.says == stage
            for cue in option.cues
        )

    def _all_words(self, text: str, stage: str, told: set[str]) -> list[Item]:
        return [
            item
            for clause in clauses(text)
            for item in self._words(clause, stage, told=clause in told)
        ]

    def _seen_fermenting(self, items: list[Item]) -> bool:
        """Tell whether something was noticed that can be noticed in a fermenter only."""
        return any(
            item.kind == "finding"
            and item.state == "present"
            and set(self.knowledge.findings[item.id].stages) <= _FERMENTER
            for item in items
        )

    def stage_item(self, stage: str) -> Item:
        """Return the item that says where the beer is."""
        row = self.knowledge.interview[_LIVES]
        label = next(option.label for option in row.options if option.says == stage)
        return Item("detail", _LIVES, row.label, "", stage, label)

    def _words(self, clause: str, stage: str, *, told: bool) -> list[Item]:
        known, lost = understand(self.lexicon, clause, stage=stage)
        items: list[Item] = []
        time = own_time(clause)
        for found in known:
            own = (clause, *([f"{found.words} {time[1]}"] if time else []), found.words)
            item = self.item(found.kind, found.id, found.state, stage, own)
            if item is not None:
                items.append(item)
        if lost and not told:
            vague = vague_word(self.knowledge, self.lexicon, clause)
            item = Item(
                "lost", "", clause, "", clause, clause, vague=vague, nearest=lost[0].nearest
            )
            items.append(item)
        return items

    def item(
        self, kind: str, key: str, state: str, stage: str, said: Iterable[str] = ()
    ) -> Item | None:
        """Return the item of a finding, sign or circumstance with words that are read back as it.

        None when there are no such words, or when something is denied that only counts when it is
        there (a circumstance).
        """
        if kind == "context":
            context = self.knowledge.contexts[key]
            label, phrases, by = context.label, (context.label, *context.aliases), "ask"
            if state == "absent":
                return None
        elif kind == "sign":
            sign = self.knowledge.signs[key]
            label, phrases, by = sign.label, (sign.label, *sign.aliases), "look"
        else:
            finding = self.knowledge.findings[key]
            label = finding.label
            phrases, by = (label, finding.term, *finding.aliases), finding.check.by
        sense = "no_sign_of" if state == "absent" else _SENSES.get(by, "saw")
        own = tuple(said)
        first = own[0] if own else label
        for words in (*(() if state == "absent" else own), *phrases):
            if not words or not self._reads_as(words, sense, stage, (key, state)):
                continue
            vague = vague_word(self.knowledge, self.lexicon, words) if state == "present" else ""
            if vague and words not in own:
                continue  # an answer is sure: it is not written in words that people mix up
            return Item(kind, key, label, state, words, first, sense, vague)  # type: ignore[arg-type]  # kinds of the evidence are kinds of items
        return None

    def _reads_as(self, words: str, sense: str, stage: str, wanted: tuple[str, str]) -> bool:
        found, _ = understand(self.lexicon, words, sense=sense, stage=stage)
        return [(item.id, item.state) for item in found] == [wanted]
