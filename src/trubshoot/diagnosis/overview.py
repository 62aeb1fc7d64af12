"""Everything a page about a batch shows, as one frozen object that reports only read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from trubshoot.batch import Batch
from trubshoot.diagnosis.bottling_report import BottlingReport, bottling_report
from trubshoot.diagnosis.diagnose import Diagnostician
from trubshoot.diagnosis.plan_next import NextStep, plan_next
from trubshoot.diagnosis.process import ProcessStep, process_of
from trubshoot.diagnosis.result import Diagnosis
from trubshoot.evidence.pressure_curve import PressureCurve, pressure_curve
from trubshoot.evidence.temperature_course import TemperatureCourse, temperature_course
from trubshoot.safety import Level

CITED_CAUSES = 3  # causes whose sources are given in full


@dataclass(frozen=True)
class Citation:
    """A source in full, and how much of it was read."""

    key: str
    citation: str
    basis: str  # read or memory
    extent: str


@dataclass(frozen=True)
class Overview:
    """The diagnosis, the bottling check, what comes next, and the courses that figures draw."""

    batch: Batch
    diagnosis: Diagnosis
    bottling: BottlingReport
    next_steps: tuple[NextStep, ...]
    labels: Mapping[str, str]  # plain labels of the findings
    zero_at: datetime | None  # date of day 0, when the log has dates
    now_day: float | None  # the moment of asking in days since day 0
    temperature: TemperatureCourse
    pressure: PressureCurve | None
    process: tuple[ProcessStep, ...]
    sources: tuple[Citation, ...]

    @property
    def alarming(self) -> bool:
        """Tell whether a hazard at WARNING or above stands, or bottling is on HOLD."""
        verdict = self.diagnosis.bottling
        return self.diagnosis.level >= Level.WARNING or (verdict is not None and not verdict.go)


def overview(
    work: Diagnostician, batch: Batch, now: datetime, *, diagnosis: Diagnosis | None = None
) -> Overview:
    """Return everything about a batch that a page shows.

    Args:
        work: the knowledge made ready.
        batch: the batch as logged.
        now: the moment of asking.
        diagnosis: of this batch at this moment, if it is made already.
    """
    if diagnosis is None:
        diagnosis = work.diagnose(batch, now)
    knowledge = work.knowledge
    timeline = batch.timeline(now)
    look = diagnosis.evidence.outlook
    return Overview(
        batch=batch,
        diagnosis=diagnosis,
        bottling=bottling_report(work, batch, now, drawn=True),
        next_steps=plan_next(knowledge, batch, diagnosis),
        labels={key: finding.label for key, finding in knowledge.findings.items()},
        zero_at=timeline.zero_at,
        now_day=timeline.now_days if timeline.now_known else None,
        temperature=temperature_course(batch, knowledge, now),
        pressure=None if look is None else pressure_curve(look, knowledge),
        process=process_of(knowledge, timeline, diagnosis),
        sources=_sources(work, diagnosis),
    )


def _sources(work: Diagnostician, diagnosis: Diagnosis) -> tuple[Citation, ...]:
    """Return what the leading causes rest on; `common practice` and the like have no citation."""
    keys = dict.fromkeys(
        key for cause in diagnosis.named_causes[:CITED_CAUSES] for key in cause.sources
    )
    known = work.knowledge.sources
    return tuple(
        Citation(key, known[key].citation, known[key].basis, known[key].extent)
        for key in keys
        if key in known
    )
