"""May it be bottled: HOLD, or GO WITH LIMITS. Never a plain yes, and never from silence.

GO needs three things at once: a rule that grants it from stated facts, no rule that holds, and no
hazard above NOTICE. Both engines must say so; if they differ, or anything fails, it is HOLD. The
conditions, their limits and their words are in `knowledge/rules` and `knowledge/holds`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from trubshoot.safety.hazards import HazardBlock, overall_level
from trubshoot.safety.levels import Level

HOLD = "HOLD"
GO = "GO WITH LIMITS"
PERMIT = "permit.bottling"
HOLD_PREFIX = "hold."
NOT_SHOWN = "not_shown"
# What ends a hold soonest and cheapest comes first; "stop" is not ended by anything said here.
_ORDER = {"stop": 0, "write": 1, "measure": 2, "change": 3, "wait": 4}


class HoldSpec(Protocol):
    """A reason not to bottle, as its file gives it."""

    @property
    def id(self) -> str:
        """Its id."""

    @property
    def label(self) -> str:
        """The reason in a few words."""

    @property
    def mend(self) -> str:
        """What would end it."""

    @property
    def kind(self) -> str:
        """write, measure, change, wait or stop."""

    @property
    def minutes(self) -> float:
        """How long the mend takes."""

    @property
    def wait_fact(self) -> str:
        """Fact that says how many days it still takes; may be empty."""

    @property
    def why_stricter(self) -> str:
        """Why the usual rule of thumb does not do; may be empty."""


@dataclass(frozen=True)
class FiredHold:
    """A reason that a rule concluded, and its sentence."""

    hold_id: str
    because: str


@dataclass(frozen=True)
class Reason:
    """Why not yet, and what would end it. `wait_days` is the least time it still takes."""

    id: str
    label: str
    because: tuple[str, ...]
    mend: str
    kind: str
    minutes: float
    wait_days: float
    why_stricter: str


@dataclass(frozen=True)
class Verdict:
    """The answer, the reasons against, and the least wait until it could be GO [days]."""

    word: str
    reasons: tuple[Reason, ...]
    wait_days: float
    granted_because: tuple[str, ...]
    faults: tuple[str, ...]

    @property
    def go(self) -> bool:
        """Tell whether bottling may go ahead, within limits."""
        return self.word == GO


def decide(
    holds: Mapping[str, HoldSpec],
    opinions: Sequence[Iterable[str]],
    fired: Sequence[FiredHold],
    granted_because: Sequence[str],
    facts: Mapping[str, object],
    hazards: Sequence[HazardBlock],
    faults: Sequence[str] = (),
) -> Verdict:
    """Return the verdict.

    Args:
        holds: hold id -> hold file.
        opinions: for each engine that ran, the names of everything it concluded; none is HOLD.
        fired: the hold rules that fired in any engine.
        granted_because: sentences of the rules that grant it.
        facts: every stated fact, for the waiting times.
        hazards: the hazard blocks that stand.
        faults: what went wrong while concluding; any fault is HOLD.
    """
    reasons = _reasons(holds, opinions, fired, facts)
    permitted = bool(opinions) and all(PERMIT in set(names) for names in opinions)
    clean = overall_level(hazards) <= Level.NOTICE
    go = permitted and not reasons and clean and not faults
    if not go and not reasons:
        reasons = (_reason(holds, NOT_SHOWN, _unsaid(hazards, faults), facts),)
    wait = max((reason.wait_days for reason in reasons), default=0.0)
    return Verdict(
        GO if go else HOLD,
        reasons,
        wait,
        tuple(granted_because) if go else (),
        tuple(faults),
    )


def _unsaid(hazards: Sequence[HazardBlock], faults: Sequence[str]) -> tuple[str, ...]:
    named = tuple(block.hazard for block in hazards if block.level > Level.NOTICE)
    return named or tuple(faults) or ("No rule grants bottling from what is stated.",)


def _reasons(
    holds: Mapping[str, HoldSpec],
    opinions: Sequence[Iterable[str]],
    fired: Sequence[FiredHold],
    facts: Mapping[str, object],
) -> tuple[Reason, ...]:
    because: dict[str, list[str]] = {}
    for item in fired:
        sentences = because.setdefault(item.hold_id, [])
        if item.because not in sentences:
            sentences.append(item.because)
    for names in opinions:  # a hold known by name only still holds
        for name in names:
            if name.startswith(HOLD_PREFIX):
                because.setdefault(name.removeprefix(HOLD_PREFIX), [])
    found = [_reason(holds, name, tuple(texts), facts) for name, texts in because.items()]
    return tuple(sorted(found, key=lambda reason: (_ORDER.get(reason.kind, 0), reason.id)))


def _reason(
    holds: Mapping[str, HoldSpec],
    hold_id: str,
    because: tuple[str, ...],
    facts: Mapping[str, object],
) -> Reason:
    spec = holds.get(hold_id) or holds[NOT_SHOWN]
    value = facts.get(spec.wait_fact) if spec.wait_fact else None
    days = float(value) if isinstance(value, (int, float)) else 0.0
    return Reason(
        hold_id,
        spec.label,
        because,
        spec.mend,
        spec.kind,
        spec.minutes,
        days,
        spec.why_stricter,
    )
