"""The one result object: frozen, and read, never worked out again, by every report."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from trubshoot.diagnosis.network import FindingState
from trubshoot.diagnosis.own_history import OwnHistory
from trubshoot.diagnosis.states import Contradiction
from trubshoot.evidence.model import Evidence
from trubshoot.safety import HazardBlock, Level, Verdict


@dataclass(frozen=True)
class Weight:
    """How much one piece of evidence speaks for (above 0) or against a cause [decibans]."""

    what: str  # id of a finding or context, "prior", or "absent" for all absent findings together
    label: str
    decibans: float


@dataclass(frozen=True)
class Conflict:
    """A step of one cause that does harm if another cause ranked near it is the true one."""

    step: str  # the step, as it stands under `now`
    cause: str  # id of the other cause
    label: str
    why: str


@dataclass(frozen=True)
class AdviceNow:
    """What to do with the batch at its present stage, as far as the hazards leave it."""

    steps: tuple[str, ...]
    withheld: int  # steps left out because a hazard that stands forbids them
    avoid: tuple[tuple[str, str], ...]  # (what not to do, why)
    stop: str  # when to stop trying
    cost: str
    conflicts: tuple[Conflict, ...]
    confirm: str  # what would settle it; empty while a hazard that stands forbids the trial


@dataclass(frozen=True)
class RankedCause:
    """One cause as it stands for this batch."""

    id: str
    label: str
    kind: str
    step: str
    step_label: str
    # chance that it made at least one finding told as present; of those that somebody complained
    # of, where others were told only when asked
    responsibility: float
    posterior: float  # chance that it is there at all
    prior: float  # chance beforehand, circumstances included
    weights: tuple[Weight, ...]
    unexplained: tuple[str, ...]  # findings told as present that this cause does not explain
    advice: AdviceNow
    next_time: str
    rule_out: str
    mechanism: str
    doubt: str
    caution: str
    sources: tuple[str, ...]
    beside: float = 0.0  # chance that it made something told only when asked
    beside_findings: tuple[str, ...] = ()  # what that may be


@dataclass(frozen=True)
class NextCheck:
    """A check worth doing: what, how, how long, and what it would tell apart."""

    finding: str
    label: str
    how: str
    by: str
    minutes: float
    gain_bits: float
    chance_yes: float


@dataclass(frozen=True)
class RuledOut:
    """A cause that cannot be, and the reason."""

    id: str
    label: str
    because: tuple[str, ...]


@dataclass(frozen=True)
class KnownContext:
    """A circumstance of this batch, and where it is known from."""

    id: str
    label: str
    because: tuple[str, ...]
    raises: tuple[str, ...]  # causes that it makes clearly likelier


@dataclass(frozen=True)
class RuleTrace:
    """One rule that fired: what it says, what it concluded, and the facts it rests on."""

    rule: str
    title: str
    conclusion: str
    because: str
    facts: tuple[tuple[str, str], ...]
    sources: tuple[str, ...]


@dataclass(frozen=True)
class Diagnosis:
    """Everything worked out about one batch."""

    batch: str
    asked_at: datetime
    hazards: tuple[HazardBlock, ...]
    level: Level
    bottling: Verdict | None  # None once it is bottled
    evidence: Evidence
    findings: tuple[FindingState, ...]
    contexts: tuple[KnownContext, ...]
    contradictions: tuple[Contradiction, ...]
    causes: tuple[RankedCause, ...]  # all that are not ruled out, best first
    doubts: dict[str, str]  # finding told as present: what is often said of it, and doubtful
    none_of_these: float
    approximate: bool  # more findings than can be taken exactly
    ruled_out: tuple[RuledOut, ...]
    next_checks: tuple[NextCheck, ...]
    traces: tuple[RuleTrace, ...]
    engine: str
    engine_notice: str
    faults: tuple[str, ...]
    knowledge_version: str
    own: OwnHistory | None = None  # the cellar's own batches, where they shifted the priors

    @property
    def named_causes(self) -> tuple[RankedCause, ...]:
        """Return the causes worth naming: those that may well have made what was told."""
        return tuple(cause for cause in self.causes if cause.responsibility >= NAMED_FROM)

    @property
    def beside_causes(self) -> tuple[RankedCause, ...]:
        """Return the faults that came to light by answers, and did not make the complaint."""
        return tuple(
            cause
            for cause in sorted(self.causes, key=lambda cause: -cause.beside)
            if cause.kind != "normal"
            and cause.beside >= BESIDE_FROM
            and cause.responsibility < BESIDE_FROM / 2  # else it stands among the first causes
        )


NAMED_FROM = 0.05  # below one in twenty a cause is not worth a reader's time
BESIDE_FROM = 0.25  # another fault is named when it may well have made what was asked about
