"""The hazard blocks that hang on something noticed, worked out by the same rules as everywhere."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.states import fired_hazards
from trubshoot.rules import Conclusions, Fact
from trubshoot.safety import FiredHazard, HazardBlock, Level, hazard_blocks


def hazards_of(work: Diagnostician, findings: Iterable[str]) -> tuple[HazardBlock, ...]:
    """Return the blocks for a batch of which nothing is known but that these findings are so."""
    facts = {f"said.{name}": Fact.of("present") for name in findings}
    if not facts:
        return ()
    return blocks_of(work, work.reasoner.run(facts).conclusions)


def blocks_of(work: Diagnostician, conclusions: Conclusions) -> tuple[HazardBlock, ...]:
    """Return the blocks for what rules concluded."""
    fired = [
        FiredHazard(hazard, sentence, ())
        for hazard, sentence, _ in fired_hazards(work.knowledge, conclusions, work.show)
    ]
    known = {name: fact.plain for name, fact in conclusions.facts.items()}
    return hazard_blocks(work.knowledge.hazards, fired, known)


def hazards_to_learn(work: Diagnostician, findings: Iterable[str]) -> tuple[HazardBlock, ...]:
    """Return the blocks at WARNING or above for a page about findings.

    Nothing is known of any batch here, so what a block says about its own batch (why it is shown,
    what is not known) is left out; the face says why.
    """
    return tuple(
        replace(block, because=(), unknown=())
        for block in hazards_of(work, findings)
        if block.level >= Level.WARNING
    )


def grave(blocks: Iterable[HazardBlock]) -> tuple[HazardBlock, ...]:
    """Return the blocks at WARNING or above, and those that forbid tasting."""
    return tuple(block for block in blocks if block.level >= Level.WARNING or block.no_tasting)
