"""One look at each batch file of a folder: what matters for the table of a whole cellar.

What stays of a batch is small, so that ten thousand of them fit. Chances here are those of the
textbook: what the cellar itself confirmed is not used to judge the cellar.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

from trubshoot.batch import Batch, read_batch
from trubshoot.batch.reader import MAX_BYTES
from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.not_assessed import hazards_in_text
from trubshoot.diagnosis.result import NAMED_FROM, Diagnosis
from trubshoot.errors import BatchError
from trubshoot.learning.history import (
    Confirmation,
    cause_names,
    confirmation_of,
    remarks_of,
    without_outcome,
)
from trubshoot.safety import HazardBlock, Level
from trubshoot.safety.hazards import FAILED_ID, FiredHazard, hazard_blocks

COUNTED_FROM = 0.01  # a cause less likely than this adds nothing to the sums
_BATCH_LIKE = re.compile(
    rb"^[ ]*\{?[ ]*[\"']?(?:batch|log|wort|yeast|fermentables)[\"']?[ ]*:", re.MULTILINE
)
_UNKNOWN_YEAST = "bread_or_unknown_kit_sachet"
_PROBLEMS = 5


@dataclass(frozen=True, slots=True)
class Leading:
    """The cause that most likely made what was noticed, and its chance."""

    id: str
    label: str
    kind: str
    step: str
    chance: float


@dataclass(frozen=True, slots=True)
class Warmth:
    """Temperature of the beer while it fermented, and the window of its yeast [C]."""

    mean_c: float
    low_c: float
    high_c: float
    window_low_c: float
    window_high_c: float
    from_room: bool


@dataclass(frozen=True, slots=True)
class Ending:
    """The last gravity before bottling or so far, and the expected end [points]."""

    points: float
    sigma_points: float
    expected_points: float
    expected_sigma_points: float
    final: bool  # bottled: nothing more was to come


@dataclass(frozen=True, slots=True)
class Past:
    """What was answered when nobody had said yet what it turned out to be."""

    given: float  # chance given to what was confirmed
    leader: str  # id of the leading cause; "" for none
    leader_chance: float


@dataclass(frozen=True, slots=True)
class Look:
    """One batch in the table of a cellar."""

    path: str  # inside the folder
    name: str
    begun: date | None
    stage: str
    days: float | None  # since bottling when bottled, else since pitching
    verdict: str  # HOLD, GO WITH LIMITS, or "" once bottled
    level: Level
    hazards: tuple[HazardBlock, ...]  # at WARNING or above
    leading: Leading | None
    causes: tuple[tuple[str, float], ...]  # (id, responsibility), all but the least likely
    confirmed: Confirmation | None
    remarks: tuple[str, ...]
    warmth: Warmth | None
    ending: Ending | None
    past: Past | None


@dataclass(frozen=True, slots=True)
class Unusable:
    """A batch file that cannot be used, or on which trubshoot failed."""

    path: str
    problems: tuple[str, ...]
    more: int  # further problems, not listed
    hazards: tuple[HazardBlock, ...]  # that its words name, at WARNING or above
    failed: bool  # trubshoot's own fault


@dataclass(frozen=True, slots=True)
class PassedOver:
    """A YAML file that is no batch file."""

    path: str


Seen = Look | Unusable | PassedOver


def look_at(work: Diagnostician, path: Path, shown: str, now: datetime) -> Seen:
    """Return what one file says; whatever goes wrong with it is returned, never raised.

    Args:
        work: the knowledge made ready.
        path: the file.
        shown: how the file is called in the table.
        now: the moment of asking.
    """
    raw = b""
    try:
        with path.open("rb") as handle:
            raw = handle.read(MAX_BYTES + 1)
        if _BATCH_LIKE.search(raw) is None:
            return PassedOver(shown)
        return _look(work, read_batch(raw, now, shown), shown, now)
    except OSError as error:
        problem = f"{shown}: the file cannot be read: {error.strerror}."
        return Unusable(shown, (problem,), 0, (), False)
    except BatchError as error:
        texts = tuple(str(problem) for problem in error.problems[:_PROBLEMS])
        blocks = _grave(hazards_in_text(work, shown, raw, (), now))
        return Unusable(shown, texts, len(error.problems) - len(texts), blocks, False)
    except Exception as error:  # noqa: BLE001 - one file must not end the whole folder
        return failed(work, shown, f"{type(error).__name__}: {error}")


def failed(work: Diagnostician, shown: str, what: str) -> Unusable:
    """Return a file on which trubshoot failed: its dangers count as not assessed."""
    blocks = hazard_blocks(
        work.knowledge.hazards, [FiredHazard(FAILED_ID, f"Failed: {what[:200]}.")], {}
    )
    problem = f"{shown}: a fault of trubshoot, please report it: {what[:200]}"
    return Unusable(shown, (problem,), 0, blocks, True)


def _grave(blocks: Sequence[HazardBlock]) -> tuple[HazardBlock, ...]:
    return tuple(block for block in blocks if block.level >= Level.WARNING)


def _look(work: Diagnostician, batch: Batch, shown: str, now: datetime) -> Look:
    names = cause_names_of(work)
    confirmed = confirmation_of(batch, names, now)
    diagnosis = work.diagnose(batch, now, brief=True)
    asked = diagnosis
    if _tells(batch, diagnosis):
        asked = work.diagnose(without_outcome(batch), now, brief=True)
    past = _past(asked, confirmed) if confirmed is not None and confirmed.sure else None
    return Look(
        path=shown,
        name=batch.name,
        begun=_begun(batch),
        stage=diagnosis.evidence.stage,
        days=_days(diagnosis),
        verdict="" if diagnosis.bottling is None else diagnosis.bottling.word,
        level=diagnosis.level,
        hazards=_grave(diagnosis.hazards),
        leading=_leading(asked),
        causes=tuple(
            (cause.id, cause.responsibility)
            for cause in asked.causes
            if cause.responsibility >= COUNTED_FROM
        ),
        confirmed=confirmed,
        remarks=remarks_of(batch, names),
        warmth=_warmth(work, diagnosis),
        ending=_ending(diagnosis),
        past=past,
    )


def _tells(batch: Batch, diagnosis: Diagnosis) -> bool:
    """Tell whether lines about what it turned out to be changed the answer by themselves.

    By grave words in them, or by their day where nothing else says what day it is.
    """
    lines = {entry.line for entry in batch.log if entry.entry == "turned_out"}
    by_day = any(entry.entry == "turned_out" and entry.at is None for entry in batch.log)
    return by_day or any(item.line in lines for item in diagnosis.evidence.understood)


_names: dict[str, dict[str, str]] = {}


def cause_names_of(work: Diagnostician) -> dict[str, str]:
    """Return the names of the causes, worked out once for one knowledge base."""
    version = work.knowledge.version
    if version not in _names:
        _names[version] = dict(cause_names(work.knowledge))
    return _names[version]


def _begun(batch: Batch) -> date | None:
    pitched = [deed.at for deed in batch.deeds("pitched") if deed.at is not None]
    dated = [entry.at for entry in batch.log if entry.at is not None]
    first = min(pitched or dated, default=None)
    return None if first is None else first.date()


def _days(diagnosis: Diagnosis) -> float | None:
    facts = diagnosis.evidence.facts
    since = "bottling" if diagnosis.evidence.stage == "bottled" else "pitch"
    days = facts.get(f"days_since_{since}")
    return days if isinstance(days, float) else None


def _leading(diagnosis: Diagnosis) -> Leading | None:
    named = diagnosis.named_causes
    if not named:
        return None
    first = named[0]
    return Leading(first.id, first.label, first.kind, first.step, first.responsibility)


def _warmth(work: Diagnostician, diagnosis: Diagnosis) -> Warmth | None:
    facts = diagnosis.evidence.facts
    mean = facts.get("beer_temp_mean_c")
    if not isinstance(mean, float):
        return None
    low, high = facts.get("beer_temp_min_c", mean), facts.get("beer_temp_max_c", mean)
    row = work.knowledge.yeast_classes[str(facts.get("yeast_class", _UNKNOWN_YEAST))]
    return Warmth(
        mean,
        low if isinstance(low, float) else mean,
        high if isinstance(high, float) else mean,
        row.temp_min_c,
        row.temp_high_c,
        "only_room_temp" in facts,
    )


def _ending(diagnosis: Diagnosis) -> Ending | None:
    evidence = diagnosis.evidence
    points = evidence.facts.get("last_gravity_points")
    end = evidence.expected_end
    if not isinstance(points, float) or end is None:
        return None
    sigma = next(
        (item.sigma_points for item in reversed(evidence.readings) if item.points == points), 1.0
    )
    final = evidence.stage == "bottled"
    return Ending(points, sigma, end.points, end.sigma_points, final)


def _past(diagnosis: Diagnosis, confirmed: Confirmation) -> Past:
    chances = {cause.id: cause.responsibility for cause in diagnosis.causes}
    given = chances.get(confirmed.cause, 0.0) if confirmed.cause else diagnosis.none_of_these
    leader = diagnosis.causes[0] if diagnosis.causes else None
    if leader is None or leader.responsibility < NAMED_FROM:
        return Past(given, "", 0.0)
    return Past(given, leader.id, leader.responsibility)
