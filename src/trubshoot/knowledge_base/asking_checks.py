"""Checks of what the interview asks: every name must lead somewhere, every word to one question."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from trubshoot.errors import Problem
from trubshoot.knowledge_base.wrong_value import nearest

if TYPE_CHECKING:
    from trubshoot.knowledge_base.asking import InterviewItem
    from trubshoot.knowledge_base.loader import KnowledgeBase, Raw

# Rows of interview.yaml that the program asks for by name.
NEEDED = (
    *("opening", "more", "odd", "repeat", "finding", "from_memory", "both_ways", "against_log"),
    *("group", "group_from_memory", "gaps"),
)
NEEDED_STAGES = ("fermenting", "bottled")
_HANDS = frozenset(("handle_bottles", "open_bottle", "taste"))
# what each row of the forbidden actions must hold at the least
FORBIDDEN_LEAST = {
    "at_suspect_bottles": _HANDS,
    "hands_on": _HANDS,
    "at_blocked_fermenter": frozenset(("open_lid",)),
}
DETAILS = (
    *("pitched_days", "pitched_on", "bottled_on", "og", "gravity_now", "room_temp", "pitch_temp"),
    *("beer_temp", "sugar", "bottled_volume", "stage", "bottled_days", "fermenter_days"),
)


def check_interview(knowledge: KnowledgeBase, raw: Raw) -> Iterator[Problem]:
    """Give every problem of confusions.yaml and interview.yaml."""
    yield from _confusions(knowledge, raw)
    yield from _questions(knowledge, raw)
    yield from _forbidden(knowledge, raw)


def _confusions(knowledge: KnowledgeBase, raw: Raw) -> Iterator[Problem]:
    path, owner = "confusions.yaml", dict[str, str]()
    for key, confusion in knowledge.confusions.items():
        line = raw.line(path, key)
        if len(confusion.options) < 2:
            yield Problem(path, line, f"'{key}' has fewer than two options.", "Add what it may be.")
        if confusion.told.so <= confusion.told.not_so:
            mend = "Make told.so the larger one."
            yield Problem(path, line, f"'{key}' speaks against what it names.", mend)
        for word in confusion.words:
            other = owner.setdefault(word.lower(), key)
            if other != key:
                yield Problem(path, line, f"'{word}' stands in {other} too.", "Keep it in one.")
        for option in confusion.options:
            for name in (option.finding, option.fermenting):
                if name is not None and name not in knowledge.findings:
                    mend = nearest(name, knowledge.findings, "findings/")
                    yield Problem(path, line, f"unknown finding '{name}'.", mend)


def _questions(knowledge: KnowledgeBase, raw: Raw) -> Iterator[Problem]:
    path = "interview.yaml"
    for name in (*NEEDED, *DETAILS):
        if name not in knowledge.interview:
            yield Problem(path, 0, f"'{name}' is missing.", "The program needs it.")
    safe = {
        stage
        for item in knowledge.interview.values()
        if item.kind == "safety"
        for stage in item.stages
    }
    for stage in NEEDED_STAGES:
        if stage not in safe:
            yield Problem(path, 0, f"no safety question for {stage}.", "Add one.")
    for key, item in knowledge.interview.items():
        line = raw.line(path, key)
        if item.kind == "detail" and not item.place and key not in DETAILS:
            yield Problem(path, line, f"'{key}' goes nowhere.", "Add place: such as wort.volume.")
        if item.kind == "group":
            yield from _members(knowledge, path, line, key, item)
        known = {*knowledge.findings, *knowledge.signs}
        for option in item.options if item.kind == "safety" else ():
            if option.says not in known:
                mend = nearest(str(option.says), known)
                yield Problem(path, line, f"unknown finding or sign '{option.says}'.", mend)


def _members(
    knowledge: KnowledgeBase, path: str, line: int, key: str, item: InterviewItem
) -> Iterator[Problem]:
    """Give what is wrong with a question on several findings."""
    if item.of:
        for name in item.of:
            row = knowledge.interview.get(name)
            if row is None or row.kind != "group" or not (row.options and row.label):
                mend = "Name groups that have options and a label."
                yield Problem(path, line, f"'{key}' names '{name}', which is none.", mend)
        return
    said = [str(option.says) for option in item.options]
    if len(set(said)) < max(2, len(said)):
        yield Problem(path, line, f"'{key}' needs two findings or more, each once.", "Mend it.")
    for name in said:
        finding = knowledge.findings.get(name)
        if finding is None:
            mend = nearest(name, knowledge.findings, "findings/")
            yield Problem(path, line, f"unknown finding '{name}'.", mend)


def _forbidden(knowledge: KnowledgeBase, raw: Raw) -> Iterator[Problem]:
    """Give rows that are missing or thin: without them advice would touch what may burst."""
    path = "forbidden_actions.yaml"
    for name, least in FORBIDDEN_LEAST.items():
        row = knowledge.forbidden_actions.get(name)
        if row is None:
            yield Problem(path, 0, f"'{name}' is missing.", "The program needs it.")
            continue
        for action in least.difference(row.actions):
            message = f"'{name}' leaves '{action}' allowed."
            yield Problem(path, raw.line(path, name), message, f"Add {action} to its actions.")
