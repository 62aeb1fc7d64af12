"""One practice by itself: what was done in a batch, with outcomes left out, and its forecast."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from trubshoot.batch import Batch
from trubshoot.batch.model import GravityReading, Outcome
from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.states import gather
from trubshoot.evidence import Evidence, collect
from trubshoot.evidence.gravity_fit import gravity_on_day
from trubshoot.evidence.model import BottleOutlook
from trubshoot.evidence.words import read_text
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.learning.forward import Forecast, Practice, forecast
from trubshoot.safety import HazardBlock

_SAME_DAY = 1.0  # a reading so near the new bottling needs no prediction
_ONE_SIDED_95 = 1.645


@dataclass(frozen=True)
class Predicted:
    """A gravity at bottling that nobody measured: worked out from the curve or the expected end."""

    points: float
    sigma_points: float
    day: float
    how: str


@dataclass(frozen=True)
class Side:
    """One of the two practices, and what the model makes of it."""

    evidence: Evidence
    practice: Practice
    reasons: Mapping[str, tuple[str, ...]]  # circumstance, finding or ruled-out cause -> sentences
    forecast: Forecast
    hazards: tuple[HazardBlock, ...]  # by what was done alone
    outlook: BottleOutlook | None


def is_circumstance(work: Diagnostician, text: str) -> bool:
    """Tell whether words name a circumstance of the knowledge."""
    found = read_text(work.lexicon, text)
    return any(target.kind == "context" and state == "present" for target, _, state in found)


def side_of(work: Diagnostician, batch: Batch, now: datetime, *, with_age: bool = True) -> Side:
    """Return one practice, with outcomes left out, and what the model makes of it."""
    knowledge = work.knowledge
    evidence = collect(without_outcomes(batch), knowledge, lambda: work.lexicon, now)
    facts = {name: value for name, value in evidence.facts.items() if _done(knowledge, name)}
    opinion, blocks = work.conclude(facts)
    understood = tuple(
        item
        for item in evidence.understood
        if item.kind == "context" or _done(knowledge, f"said.{item.id}")
    )
    known = gather(knowledge, understood, opinion.conclusions, work.show)
    firings = opinion.conclusions.firings
    practice = Practice.of(knowledge, known, firings, with_age=with_age)
    reasons: dict[str, tuple[str, ...]] = {**known.contexts, **known.ruled_out}
    reasons.update({state.id: state.because for state in known.findings})
    return Side(
        evidence, practice, reasons, forecast(knowledge, work.base, practice), blocks,
        evidence.outlook,
    )  # fmt: skip


def without_outcomes(batch: Batch) -> Batch:
    """Return the batch without what only tells how the beer turned out."""
    kept = tuple(
        entry
        for entry in batch.log
        if not isinstance(entry, Outcome)
        and not (isinstance(entry, GravityReading) and entry.of == "opened bottle")
    )
    return batch.model_copy(update={"log": kept})


def _done(knowledge: KnowledgeBase, fact: str) -> bool:
    """Tell whether a fact may speak in a forecast: of words only those that say what was done."""
    head, _, name = fact.partition(".")
    if head != "said":
        return True
    return name in knowledge.findings and knowledge.findings[name].tells == "practice"


def predict(
    work: Diagnostician, batch: Batch, evidence: Evidence, *, with_readings: bool
) -> Predicted | None:
    """Return the gravity on the day of bottling where no reading tells it; None where none can."""
    day = evidence.facts.get("days_pitch_to_bottling")
    if not isinstance(day, float):
        return None
    readings = [item.day for item in evidence.readings if item.day is not None and item.day > 0.25]
    if with_readings and any(day - _SAME_DAY <= item <= day + 1e-6 for item in readings):
        return None
    found = gravity_on_day(batch, evidence, work.knowledge, day, with_readings=with_readings)
    if found.fit is None:
        return None
    _, gravity = found.fit.curve[0]
    median = 1000 * (gravity.median - 1)
    sigma = (1000 * (gravity.high - 1) - median) / _ONE_SIDED_95
    how = (
        "the curve through the readings and the expected end"
        if with_readings and found.readings
        else "start, expected end and temperature alone"
    )
    return Predicted(median, max(sigma, 0.5), day, how)


def with_prediction(batch: Batch, predicted: Predicted) -> Batch:
    """Return the batch with the predicted gravity at its last bottling."""
    last = batch.bottlings()[-1]
    update = {
        "predicted_points": predicted.points,
        "predicted_sigma_points": predicted.sigma_points,
    }
    log = tuple(entry.model_copy(update=update) if entry is last else entry for entry in batch.log)
    return batch.model_copy(update={"log": log})
