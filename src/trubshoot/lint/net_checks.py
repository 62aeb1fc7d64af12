"""Checks of the ranking's network: N03 to N06. N01 and N02 are part of loading."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from trubshoot.diagnosis.diagnose import best_first
from trubshoot.diagnosis.network import Base, FindingState, make_case
from trubshoot.diagnosis.next_check import STAGES
from trubshoot.diagnosis.noisy_or import DECIBANS, Vector, rank
from trubshoot.evidence.words import Lexicon, understand
from trubshoot.knowledge_base.schema import Cause, Finding
from trubshoot.lint.remarks import Remark, Subject

APART_DB = 3.0  # an answer that doubles the odds between two causes; judgement


def same_rows(subject: Subject) -> Iterator[Remark]:
    """N03: two causes with the same links in the same strengths."""
    owners: dict[frozenset[tuple[str, float]], str] = {}
    for cause in subject.knowledge.causes.values():
        row = frozenset((link.finding, link.strength) for link in cause.links)
        other = owners.setdefault(row, cause.id)
        if other != cause.id:
            yield Remark(
                *subject.at_entry("causes", cause.id, "links"),
                "N03",
                f"has the same links as {other}.",
                "Merge the two, or add a finding that tells them apart.",
            )


def not_told_apart(subject: Subject) -> Iterator[Remark]:
    """N04 (note): pairs of causes between which no answer to any question moves the odds twofold.

    What is compared is the chance of each finding when one or the other cause works alone.
    """
    base = Base.of(subject.knowledge)
    chance = 1 - (1 - base.network.leak) * (1 - base.network.strength)
    yes, no = np.log(chance), np.log(1 - chance)
    odds = _odds(base)
    causes = subject.knowledge.causes
    for first in range(len(base.causes)):
        for second in range(first + 1, len(base.causes)):
            apart = DECIBANS * np.maximum(
                np.abs(yes[first] - yes[second]), np.abs(no[first] - no[second])
            )
            if apart.max(initial=0.0) >= APART_DB:
                continue
            names = base.causes[first], base.causes[second]
            best = base.findings[int(apart.argmax())] if apart.size else "no finding"
            shift = DECIBANS * np.abs(odds[:, first] - odds[:, second])
            helping = [
                context
                for context, size in sorted(
                    zip(base.modifiers, shift, strict=True), key=lambda item: -item[1]
                )
                if size >= APART_DB
            ]
            told = (
                f"only circumstances do: {', '.join(helping[:3])}."
                if helping
                else f'nor does any circumstance. "{causes[names[1]].confirm.do}" would.'
            )
            yield Remark(
                *subject.at_entry("causes", names[1], "links"),
                "N04",
                f"no answer tells {names[1]} from {names[0]} by {APART_DB:g} dB "
                f"(most: {best}, {apart.max(initial=0.0):.1f} dB);",
                told,
                note=True,
            )


def _odds(base: Base) -> Vector:
    """Return the logarithm of the odds factors, by circumstance and cause."""
    table = np.zeros((len(base.modifiers), len(base.causes)))
    for row, pairs in enumerate(base.modifiers.values()):
        for cause, factor in pairs:
            table[row, cause] = np.log(factor)
    return table


def never_on_top(subject: Subject) -> Iterator[Remark]:
    """N05: a cause that leads in none of its own examples; a note for one marked as doubtful."""
    base = Base.of(subject.knowledge)
    for cause in subject.knowledge.causes.values():
        if any(_leads(base, cause, number) for number in range(len(cause.examples))):
            continue
        if cause.doubt:
            yield Remark(
                *subject.at_entry("causes", cause.id, "examples"),
                "N05",
                "leads in none of its own examples, as becomes what is doubted.",
                f"It would need: {cause.confirm.do}",
                note=True,
            )
        else:
            yield Remark(
                *subject.at_entry("causes", cause.id, "examples"),
                "N05",
                "leads in none of its own examples.",
                "Add the picture that shows it best; if it leads there neither, look at its links.",
            )


def _leads(base: Base, cause: Cause, number: int) -> bool:
    example = cause.examples[number]
    states = [FindingState(name, 0.0, 1.0, "said") for name in example.present]
    states += [FindingState(name, 1.0, 0.0, "said") for name in example.absent]
    case = make_case(base, states, example.contexts)
    return case.causes[best_first(rank(case.network, case.told))[0]] == cause.id


def never_set(subject: Subject) -> Iterator[Remark]:
    """N06: a finding that no rule concludes and that its own words do not lead to."""
    lexicon = Lexicon.of(subject.knowledge)
    ruled = {spec.then.finding for spec in subject.knowledge.rules.values() if spec.then.finding}
    for finding in subject.knowledge.findings.values():
        if finding.id not in ruled and not _words_lead_to(lexicon, finding):
            yield Remark(
                *subject.at_entry("findings", finding.id, "aliases"),
                "N06",
                "no rule concludes it, and its own words are not understood as it.",
                "Give it words of its own, or a rule.",
            )


def _words_lead_to(lexicon: Lexicon, finding: Finding) -> bool:
    stages = [stage for stage, seen in STAGES.items() if set(seen) & set(finding.stages)]
    return any(
        item.id == finding.id and item.kind == "finding" and item.state == "present"
        for phrase in (finding.label, *finding.aliases)
        for stage in stages
        for item in understand(lexicon, phrase, stage=stage)[0]
    )
