"""What is known of each finding: words of the brewer and conclusions of the rules, merged."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from trubshoot.diagnosis.network import FindingState
from trubshoot.evidence.model import Understood
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.rules import Conclusions, Fact, Firing
from trubshoot.rules.conditions import HINT
from trubshoot.sentences import Told, filled, listed


@dataclass(frozen=True)
class Contradiction:
    """Words and log that say opposite things of one finding; the log's number is taken."""

    finding: str
    said: str
    logged: str


@dataclass(frozen=True)
class Known:
    """Everything the ranking needs to know of a batch, and why."""

    findings: tuple[FindingState, ...]
    contexts: Mapping[str, tuple[str, ...]]  # context -> reasons
    ruled_out: Mapping[str, tuple[str, ...]]  # cause -> reasons
    contradictions: tuple[Contradiction, ...]


def reason(
    knowledge: KnowledgeBase,
    facts: Mapping[str, Fact],
    rule: str,
    show: Callable[[str, float], str],
) -> Told:
    """Return a rule's sentence with the values of its facts filled in."""

    def value(name: str) -> tuple[str, float | None, str]:
        fact = facts.get(name)
        if fact is None:
            return "unknown", None, ""
        if fact.number is None:
            return str(fact.plain), None, ""
        spec = knowledge.facts.get(name)
        return show(name, fact.number), fact.number, spec.unit if spec is not None else ""

    return filled(knowledge.rules[rule].because, value)


def gather(
    knowledge: KnowledgeBase,
    understood: Sequence[Understood],
    conclusions: Conclusions,
    show: Callable[[str, float], str],
) -> Known:
    """Merge what the brewer said with what the rules concluded."""
    said: dict[str, Understood] = {}
    contexts: dict[str, list[str]] = {}
    for item in understood:
        if item.kind == "finding":
            before = said.setdefault(item.id, item)
            if before.vague and not item.vague:
                said[item.id] = item  # clearer words go before a word that people mix up
            elif before.asked and not item.asked and before.state == item.state:
                said[item.id] = replace(before, asked=False)
        elif item.kind == "context" and item.state == "present":
            contexts.setdefault(item.id, []).append(f'you said "{item.words}"')
    sure: dict[str, list[str]] = {}
    absent: dict[str, list[str]] = {}
    hints: dict[str, list[tuple[float, float, Told]]] = {}
    ruled_out: dict[str, list[str]] = {}
    for firing in conclusions.firings:
        sentence = reason(knowledge, conclusions.facts, firing.rule, show)
        spec = knowledge.rules[firing.rule]
        then = spec.then
        if firing.conclusion.startswith(HINT) and then.finding and then.told:
            hints.setdefault(then.finding, []).append((then.told.not_so, then.told.so, sentence))
        elif then.kind == "finding":
            sure.setdefault(then.target, []).append(sentence)
        elif then.kind == "no_finding":
            absent.setdefault(then.target, []).append(sentence)
        elif then.kind == "context":
            contexts.setdefault(then.target, []).append(sentence)
        elif then.kind == "rules_out":
            ruled_out.setdefault(then.target, []).append(sentence)
    states: list[FindingState] = []
    contradictions: list[Contradiction] = []
    for name in knowledge.findings:
        word = said.get(name)
        logged = "present" if name in sure else "absent" if name in absent else ""
        reasons = tuple(sure.get(name, ()) or absent.get(name, ()))
        if logged:
            if word is not None and word.state != logged:
                contradictions.append(Contradiction(name, word.words, listed("; ", reasons)))
            weights = (0.0, 1.0) if logged == "present" else (1.0, 0.0)
            agrees = word is not None and word.state == logged
            origin = "said and log" if agrees else "log"
            asked = agrees and word is not None and word.asked
            states.append(FindingState(name, *weights, origin, reasons, asked))
        elif word is not None:
            weights = (0.0, 1.0) if word.state == "present" else (1.0, 0.0)
            if word.vague:
                told = knowledge.confusions[word.vague].told
                weights = (told.not_so, told.so)
            quote = f'you said "{word.words}"'
            states.append(FindingState(name, *weights, "said", (quote,), word.asked))
        elif name in hints:
            # hints from one log are not independent: the strongest counts, once
            low, high, sentence = max(
                hints[name], key=lambda hint: abs(math.log(hint[1] / hint[0]))
            )
            states.append(FindingState(name, low, high, "log", (sentence,)))
    return Known(
        tuple(states),
        {name: tuple(reasons) for name, reasons in contexts.items()},
        {name: tuple(reasons) for name, reasons in ruled_out.items()},
        tuple(contradictions),
    )


def fired_hazards(
    knowledge: KnowledgeBase, conclusions: Conclusions, show: Callable[[str, float], str]
) -> list[tuple[str, str, Firing]]:
    """Return (hazard, reason, firing) for every hazard rule that fired."""
    return [
        (
            knowledge.rules[firing.rule].then.target,
            reason(knowledge, conclusions.facts, firing.rule, show),
            firing,
        )
        for firing in conclusions.firings
        if knowledge.rules[firing.rule].then.kind == "hazard"
    ]
