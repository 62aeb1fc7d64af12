"""The page of all batches, those with the gravest hazard first."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from trubshoot.counting import counted
from trubshoot.diagnosis import Diagnosis
from trubshoot.diagnosis.what_changed import leading_cause
from trubshoot.report import wording
from trubshoot.safety import Level
from trubshoot.web.kitchen import FRESH_IN_LIST, Known
from trubshoot.web.site import page, site_of


@dataclass(frozen=True)
class Row:
    """One batch in the list."""

    file: str
    name: str
    level: Level
    state: str
    age: int | None
    hazard: str = ""  # the gravest at WARNING or above


async def batches(request: Request) -> Response:
    """Show every batch of the cellar, those with the gravest hazard first."""
    site = site_of(request)
    files = await site.kitchen.write(site.cellar.files)
    rows = [_row(await site.kitchen.known(file, FRESH_IN_LIST)) for file in files]
    rows.sort(key=lambda row: (-max(row.level, Level.NOTICE), row.name.lower(), row.file))
    values = {"title": "Batches", "rows": rows, "folder": site.cellar.folder.name}
    return page(request, "batches.html", values)


def _row(known: Known) -> Row:
    level = max((block.level for block in known.hazards), default=Level.NONE)
    grave = next((one.hazard for one in known.hazards if one.level == level >= Level.WARNING), "")
    name = known.batch.name if known.batch is not None else known.file.name
    if known.diagnosis is None:
        what = "cannot be read" if known.problems else "could not be assessed"
        return Row(
            known.file.name, name, level, f"This file {what}. Open it to see why.", None, grave
        )
    diagnosis = known.diagnosis
    return Row(known.file.name, name, level, _state(diagnosis), age_days(diagnosis), grave)


def age_days(diagnosis: Diagnosis) -> int | None:
    """Return whole days since the yeast went in, None before."""
    days = diagnosis.evidence.facts.get("days_since_pitch")
    return round(days) if isinstance(days, float) else None


def _state(diagnosis: Diagnosis) -> str:
    evidence = diagnosis.evidence
    parts = []
    bottled = evidence.facts.get("days_since_bottling")
    if evidence.stage == "bottled":
        since = f" {counted(bottled, 'day')} ago" if isinstance(bottled, float) else ""
        parts.append(f"In bottles{since}")
    elif diagnosis.bottling is not None and diagnosis.bottling.go:
        parts.append("May be bottled, within limits")
    else:
        parts.append("In the fermenter" if age_days(diagnosis) is not None else "Not begun")
    if evidence.readings:
        parts.append(wording.points_text(evidence.readings[-1].points))
    cause = leading_cause(diagnosis)
    if cause is not None:
        parts.append(cause.label)
    return ", ".join(parts)
