"""What can be read about a step, a fault, a cause: frozen pages that every face shows the same.

A chance is that of a beginner's batch as the priors of the knowledge speak of it: a batch that made
somebody ask for help. Nothing here is meant for one kind of face: no line breaks, no marks.
"""

from __future__ import annotations

from dataclasses import dataclass

from trubshoot.learning.lookup import Named
from trubshoot.safety import HazardBlock


@dataclass(frozen=True)
class Part:
    """One cause of a fault, and the chance that it is there and makes it."""

    cause: Named
    chance: float


@dataclass(frozen=True)
class Made:
    """A fault, and the chance that the causes of one step make it."""

    finding: Named
    term: str  # standard sensory term, or ""
    chance: float
    by: tuple[Part, ...]  # most first


@dataclass(frozen=True)
class StepRow:
    """One step with its commonest faults."""

    step: Named
    what: str
    causes: int
    makes: tuple[Made, ...]  # most first


@dataclass(frozen=True)
class Overview:
    """The steps in brewing order."""

    steps: tuple[StepRow, ...]


@dataclass(frozen=True)
class Strength:
    """How often a cause, when it is there and acts alone, makes a finding noticed."""

    finding: Named
    strength: float
    basis: str


@dataclass(frozen=True)
class CauseBrief:
    """A cause as the page of its step tells it."""

    cause: Named
    kind: str
    doubt: str
    prior: float
    mechanism: str
    next_time: str
    makes: tuple[Strength, ...]  # most first


@dataclass(frozen=True)
class StepPage:
    """A step: the faults its causes make, and the causes with the habit that prevents each."""

    step: Named
    what: str
    makes: tuple[Made, ...]
    causes: tuple[CauseBrief, ...]  # commonest first


@dataclass(frozen=True)
class CauseShare:
    """One cause of a finding."""

    cause: Named
    kind: str
    doubt: str
    chance: float  # of a batch: it is there and makes the finding
    share: float  # of batches with the finding and nothing else known: it made it
    confirm: str  # "" where a hazard of the finding forbids the trial
    rule_out: str


@dataclass(frozen=True)
class StepShare:
    """The causes of a finding that belong to one step."""

    step: Named
    chance: float  # some cause of this step makes it
    causes: tuple[CauseShare, ...]  # most first


@dataclass(frozen=True)
class Apart:
    """A finding that tells causes apart: how often it is there under each."""

    finding: Named
    bits: float  # what it tells on average about which of the causes it is
    chances: tuple[float, ...]  # in the order of the causes it is asked for
    how: str  # "" where it may not be looked into
    by: str
    minutes: float
    may_check: bool  # no hazard of the page forbids looking into it


@dataclass(frozen=True)
class Confused:
    """A finding that people take for another."""

    finding: Named
    term: str
    how: str


@dataclass(frozen=True)
class Word:
    """A word that people use for several things, and the question that tells which is meant."""

    words: tuple[str, ...]
    ask: str
    how: str
    meanings: tuple[tuple[str, str], ...]  # (what is meant, finding id or "")


@dataclass(frozen=True)
class SourceLine:
    """A source: its key, what it is, and how much of it was read."""

    key: str
    citation: str
    basis: str
    extent: str


@dataclass(frozen=True)
class FindingPage:
    """Something that can be noticed: what makes it, how to tell, how to find out."""

    hazards: tuple[HazardBlock, ...]
    finding: Named
    term: str
    tells: str  # practice, fault or sign
    doubt: str
    threshold: str
    aliases: tuple[str, ...]
    how: str
    by: str
    minutes: float
    may_check: bool  # no hazard of the finding itself forbids the check
    chance: float  # of a batch: it is noticed, whatever makes it
    leak: float  # noticed though no known cause makes it
    none_of_these: float  # of batches with it and nothing else known: no known cause made it
    steps: tuple[StepShare, ...]  # in brewing order
    leading: tuple[Named, ...]  # causes compared in `apart`, the likeliest first
    apart: tuple[Apart, ...]  # most telling first
    confused: tuple[Confused, ...]
    words: tuple[Word, ...]
    sources: tuple[SourceLine, ...]
    basis: str


@dataclass(frozen=True)
class Modifies:
    """A circumstance and how it multiplies the odds of a cause."""

    what: Named  # the circumstance on the page of a cause, the cause on that of a circumstance
    odds: float
    basis: str


@dataclass(frozen=True)
class Alike:
    """A cause that makes much the same, and the finding that tells the two apart best."""

    cause: Named
    likeness: float  # 0 to 1
    apart: Apart | None  # chances: of this cause, then of the other


@dataclass(frozen=True)
class AtStage:
    """What to do while the batch is at one stage."""

    stage: str
    steps: tuple[str, ...]
    withheld: int  # steps left out because a hazard that the cause may raise forbids them


@dataclass(frozen=True)
class CausePage:
    """A cause in full."""

    hazards: tuple[HazardBlock, ...]
    cause: Named
    step: Named
    kind: str
    doubt: str
    mechanism: str
    prior: float
    makes: tuple[Strength, ...]  # most first
    modifiers: tuple[Modifies, ...]  # strongest first
    confirm: str
    rule_out: str
    now: tuple[AtStage, ...]
    avoid: tuple[tuple[str, str], ...]  # (what not to do, why)
    next_time: str
    caution: str
    alike: tuple[Alike, ...]
    sources: tuple[SourceLine, ...]
    basis: str


@dataclass(frozen=True)
class CircumstancePage:
    """A circumstance: which causes it makes likelier or less likely."""

    circumstance: Named
    tells: str  # practice or outcome
    aliases: tuple[str, ...]
    changes: tuple[Modifies, ...]  # strongest first


@dataclass(frozen=True)
class HazardPage:
    """A hazard as it is shown when nothing else is known of a batch."""

    hazards: tuple[HazardBlock, ...]
    hazard: Named
    sources: tuple[SourceLine, ...]
    basis: str


@dataclass(frozen=True)
class SourcePage:
    """A source, and what rests on it."""

    source: Named
    line: SourceLine
    used_by: tuple[Named, ...]


Page = Overview | StepPage | FindingPage | CausePage | CircumstancePage | HazardPage | SourcePage
