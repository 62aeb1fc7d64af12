"""From fired hazard rules to the blocks that stand above every diagnosis.

The texts, their order, the conditions and the waiting times come from ``knowledge/hazards``; this
module only merges, gates, fills in what is not known, and sorts. It never sees the ranking.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from trubshoot.errors import KnowledgeError, Problem
from trubshoot.safety.levels import Level
from trubshoot.safety.specs import GateSpec, HazardSpec

# The order is the protection: injuries happen while bottles are handled (invariant I16).
TAG_ORDER: Mapping[str, int] = {
    "people": 0,
    "leave": 1,
    "cool": 1,
    "protect": 2,
    "handle": 3,
    "dispose": 4,
    "save": 5,
    "other": 6,
}
# Steps that need no hand near the hazard; only these pass a closed gate.
HANDS_OFF_TAGS = frozenset({"people", "leave", "cool"})
INJURY_TOPIC = "injury"
FAILED_ID = "could_not_assess"
FOOD_MARKER = "marker.food_line_allowed"


@dataclass(frozen=True)
class Step:
    """One action of a block: what to do, and which kind of step it is."""

    do: str
    tag: str


@dataclass(frozen=True)
class FiredHazard:
    """A hazard that a rule concluded: its id, the reason in words, the facts it rests on."""

    hazard_id: str
    because: str
    facts: tuple[str, ...] = ()


@dataclass(frozen=True)
class HazardBlock:
    """What is printed for one hazard; ``level.name`` is its one signal word.

    ``gate_why`` is empty unless handling steps were withheld. ``covers`` names the hazards that
    fired too and are part of this block. ``gated`` tells that it leads to handling bottles.
    """

    id: str
    level: Level
    topic: str
    hazard: str
    consequence: str
    avoid: tuple[Step, ...]
    if_hurt: str
    because: tuple[str, ...]
    unknown: tuple[str, ...]
    no_tasting: bool
    gate_why: str = ""
    covers: tuple[str, ...] = ()
    gated: bool = False


@dataclass(frozen=True)
class SecondOpinion:
    """Two engines' fired hazards taken together; ``fault`` tells where they differ, else empty."""

    fired: tuple[FiredHazard, ...]
    fault: str


def is_known(value: object) -> bool:
    """Return whether a fact's value says anything: not None, "unknown", nan or infinite."""
    if value is None or value == "unknown":
        return False
    return not (isinstance(value, float) and not math.isfinite(value))


def hazard_blocks(
    hazard_specs: Mapping[str, HazardSpec],
    fired: Sequence[FiredHazard],
    known_facts: Mapping[str, object],
    earlier: Sequence[FiredHazard] = (),
) -> tuple[HazardBlock, ...]:
    """Return the blocks to print, injuries first, then the worst level.

    Args:
        hazard_specs: hazard id -> hazard file.
        fired: what the rules concluded now; several rules may name the same hazard.
        known_facts: every stated or derived fact with its value.
        earlier: what was concluded for this batch before. Hazards that latch stay until the
            fact that clears them is present; later good news does not end them.

    Raises:
        KnowledgeError: a fired hazard has no file, and neither has the stand-in for a failed
            assessment. With the stand-in, the unknown hazard is shown through it, never dropped.
    """
    merged: dict[str, list[str]] = {}
    for item in (*fired, *_still_latched(hazard_specs, earlier, known_facts)):
        hazard_id, because = _resolve(hazard_specs, item)
        reasons = merged.setdefault(hazard_id, [])
        if because not in reasons:
            reasons.append(because)
    blocks = {
        hazard_id: _block(hazard_specs[hazard_id], reasons, known_facts)
        for hazard_id, reasons in merged.items()
    }
    return tuple(sorted(_covered(hazard_specs, blocks), key=_urgency))


def overall_level(blocks: Iterable[HazardBlock]) -> Level:
    """Return the worst level among the blocks; never an average (invariant I3)."""
    return max((block.level for block in blocks), default=Level.NONE)


def suppress_tasting(blocks: Iterable[HazardBlock]) -> bool:
    """Return whether questions and checks that ask for tasting must be left out (I26)."""
    return any(block.no_tasting for block in blocks)


def food_line_allowed(blocks: Iterable[HazardBlock], known_facts: Mapping[str, object]) -> bool:
    """Return whether the line "nothing in your data triggers a food-safety warning" may stand.

    It may only where the knowledge's rule on alcohol, pH and kind of wort has concluded it from
    stated facts, and no block forbids tasting (I25).
    """
    return known_facts.get(FOOD_MARKER) == "present" and not suppress_tasting(blocks)


def safer(
    first: Sequence[FiredHazard] | None, second: Sequence[FiredHazard] | None
) -> SecondOpinion:
    """Return the union of what two engines concluded, and in words where they differ.

    Args:
        first: the rule engine's hazards, None when it failed.
        second: the second opinion's hazards, None when it failed.

    When both failed, the stand-in for a failed assessment is returned: no answer is not good news.
    """
    fired = tuple(dict.fromkeys((*(first or ()), *(second or ()))))
    if first is None or second is None:
        which = "both engines" if first is second else "one engine"
        fault = f"Hazard rules: {which} gave no answer; what is known was kept."
        return SecondOpinion((*fired, FiredHazard(FAILED_ID, fault)), fault)
    only_first = sorted({f.hazard_id for f in first} - {f.hazard_id for f in second})
    only_second = sorted({f.hazard_id for f in second} - {f.hazard_id for f in first})
    if not only_first and not only_second:
        return SecondOpinion(fired, "")
    fault = (
        "Hazard rules: the two engines differ; both answers were kept. "
        f"Only the first: {', '.join(only_first) or 'none'}. "
        f"Only the second: {', '.join(only_second) or 'none'}."
    )
    return SecondOpinion(fired, fault)


def _still_latched(
    specs: Mapping[str, HazardSpec],
    earlier: Sequence[FiredHazard],
    known: Mapping[str, object],
) -> list[FiredHazard]:
    kept = []
    for item in earlier:
        spec = specs.get(item.hazard_id)
        if spec is None or (spec.latches and not _cleared(spec, known)):
            kept.append(item)
    return kept


def _cleared(spec: HazardSpec, known: Mapping[str, object]) -> bool:
    return spec.cleared_by is not None and known.get(spec.cleared_by) == "present"


def _resolve(specs: Mapping[str, HazardSpec], item: FiredHazard) -> tuple[str, str]:
    if item.hazard_id in specs:
        return item.hazard_id, item.because
    if FAILED_ID in specs:
        return FAILED_ID, f"A rule concluded {item.hazard_id!r}, which no hazard file describes."
    raise KnowledgeError(
        [Problem("knowledge/hazards", 0, f"no hazard file for {item.hazard_id!r}.", "Add it.")]
    )


def _block(spec: HazardSpec, reasons: Sequence[str], known: Mapping[str, object]) -> HazardBlock:
    steps = [Step(step.do, step.tag) for step in spec.avoid]
    gate_why = ""
    if spec.gate is not None and not _gate_open(spec.gate, known):
        gate_why = spec.gate.why
        steps = [step for step in steps if step.tag in HANDS_OFF_TAGS]
        steps += [Step(step.do, step.tag) for step in spec.gate.steps]
    gaps = [
        words for fact, words in spec.unknown_if_missing.items() if not is_known(known.get(fact))
    ]
    return HazardBlock(
        id=spec.id,
        level=Level.from_word(spec.level),
        topic=spec.topic,
        hazard=spec.hazard,
        consequence=spec.consequence,
        avoid=tuple(sorted(steps, key=_tag_rank)),
        if_hurt=spec.if_hurt or "",
        because=tuple(reasons),
        unknown=tuple(dict.fromkeys((*gaps, *spec.never_known))),
        no_tasting=spec.no_tasting,
        gate_why=gate_why,
        gated=spec.gate is not None,
    )


def _gate_open(gate: GateSpec, known: Mapping[str, object]) -> bool:
    """Return whether handling steps may be shown; whatever is not known keeps them back."""
    if any(known.get(fact) == "present" for fact in gate.closed_by):
        return False
    after = gate.after
    if after is not None and any(known.get(fact) == "present" for fact in after.any):
        hours = known.get(after.hours)
        if isinstance(hours, bool) or not isinstance(hours, int | float) or not is_known(hours):
            return False
        if hours < after.at_least:
            return False
    return all(known.get(fact) == "present" for fact in gate.needs)


def _covered(
    specs: Mapping[str, HazardSpec], blocks: Mapping[str, HazardBlock]
) -> list[HazardBlock]:
    """Fold each covered block into the first block that covers it and is not covered itself."""
    covering = {
        hazard_id: [top for top in blocks if hazard_id in specs[top].covers] for hazard_id in blocks
    }
    tops = {hazard_id: block for hazard_id, block in blocks.items() if not covering[hazard_id]}
    for hazard_id in sorted(blocks.keys() - tops.keys(), key=lambda i: _urgency(blocks[i])):
        holders = [top for top in covering[hazard_id] if top in tops]
        if not holders:  # covered only by a covered one: keep it visible rather than lose it
            tops[hazard_id] = blocks[hazard_id]
            continue
        top, below = tops[holders[0]], blocks[hazard_id]
        tops[holders[0]] = replace(
            top,
            level=max(top.level, below.level),
            because=tuple(dict.fromkeys((*top.because, *below.because))),
            unknown=tuple(dict.fromkeys((*top.unknown, *below.unknown))),
            no_tasting=top.no_tasting or below.no_tasting,
            covers=(*top.covers, hazard_id),
        )
    return list(tops.values())


def _tag_rank(step: Step) -> int:
    return TAG_ORDER.get(step.tag, len(TAG_ORDER))


def _urgency(block: HazardBlock) -> tuple[bool, int, str, str]:
    return (block.topic != INJURY_TOPIC, -block.level, block.topic, block.id)
