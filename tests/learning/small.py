"""A small network of our own, made of four causes and six findings, that can be enumerated."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import product

import numpy as np
from tests.learning.support import library

from trubshoot.diagnosis import Diagnostician
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.schema import Link
from trubshoot.learning.browse import Library
from trubshoot.learning.drill_draw import Asked, Bench, DrillCase

FAULT, BESIDE = "butter_popcorn", "green_apple"
PRIOR = {
    "off_yeast_too_early": 0.2,
    "fermented_too_warm": 0.3,
    "pitched_too_hot": 0.1,
    "late_aeration": 0.15,
}
LINKS = {
    "off_yeast_too_early": {FAULT: 0.6, BESIDE: 0.4, "heated_sample_buttery": 0.8},
    "fermented_too_warm": {FAULT: 0.2, "hot_alcohol": 0.6, "banana_fruity": 0.5},
    "pitched_too_hot": {FAULT: 0.3, BESIDE: 0.2, "hot_alcohol": 0.4},
    "late_aeration": {FAULT: 0.25, "cardboard_stale": 0.7, BESIDE: 0.3},
}


@cache
def small() -> Library:
    """Return pages over the small network; all else is as shipped."""
    whole = library().knowledge
    causes = {
        name: whole.causes[name].model_copy(
            update={
                "prior": prior,
                "links": tuple(
                    Link(finding=finding, strength=value) for finding, value in LINKS[name].items()
                ),
                "modifiers": (),
            }
        )
        for name, prior in PRIOR.items()
    }
    knowledge: KnowledgeBase = replace(whole, causes=causes)
    return Library(Diagnostician(knowledge))


def small_case(so: frozenset[str], true: tuple[str, ...]) -> DrillCase:
    """Return a case over the small network."""
    bench = Bench(small().work)
    case = DrillCase(1, 1, 1, "bottled", (FAULT, BESIDE), (), (), so, true, 0.0, ())
    view = bench.view(case)
    return replace(case, free_chance=view.chance(true[0]), course=bench.course(case))


def enumerated(asked: tuple[Asked, ...]) -> tuple[dict[str, float], float]:
    """Return by summing over all states the chance that each cause made the fault, and P(told).

    Both are among batches in which some known cause made the fault.
    """
    knowledge = small().knowledge
    told = {FAULT: True, BESIDE: True} | {one.finding: one.present for one in asked}
    names = list(PRIOR)
    made = dict.fromkeys(names, 0.0)
    total = 0.0
    for there in product((False, True), repeat=len(names)):
        weight = float(
            np.prod([PRIOR[n] if h else 1 - PRIOR[n] for n, h in zip(names, there, strict=True)])
        )
        present = [name for name, here in zip(names, there, strict=True) if here]
        for finding, so in told.items():
            if finding == FAULT:
                continue
            silent = 1 - knowledge.findings[finding].leak
            for name in present:
                silent *= 1 - LINKS[name].get(finding, 0.0)
            weight *= (1 - silent) if so else silent
        # every pattern of the links to the fault, the leak beside them
        for fired in product((False, True), repeat=len(present)):
            chance = weight
            for name, on in zip(present, fired, strict=True):
                strength = LINKS[name].get(FAULT, 0.0)
                chance *= strength if on else 1 - strength
            if not any(fired):
                continue  # only by itself: such a case is never drawn
            total += chance
            for name, on in zip(present, fired, strict=True):
                made[name] += chance * on
    return {name: value / total for name, value in made.items()}, total
