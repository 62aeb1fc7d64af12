"""The answer of `trubshoot whatif` as JSON, as docs/reference/result_json.md says."""

from __future__ import annotations

from typing import Any

from trubshoot.evidence.model import BottleOutlook
from trubshoot.learning.sides import Side
from trubshoot.learning.whatif import FaultChange, WhatIf
from trubshoot.report.result_json import head_json, made_by_json


def whatif_json(answer: WhatIf) -> dict[str, Any]:
    """Return both practices as plain data; hazards are the first key after the format."""
    predicted = answer.predicted
    return {
        **head_json(answer),
        "changes": [
            {"change": item.text, "did": list(item.did), "alters": item.alters}
            for item in answer.changes
        ],
        "faults": [_fault(fault) for fault in answer.faults],
        "turns": [
            {
                "id": turn.what,
                "label": turn.label,
                "kind": turn.kind,
                "state": turn.state,
                "came": turn.came,
                "because": list(turn.because),
                "causes": [
                    {"id": name, "label": label, "before": _round(old), "after": _round(new)}
                    for name, label, old, new in turn.causes
                ],
            }
            for turn in answer.turns
        ],
        "gravity_at_bottling_predicted": None
        if predicted is None
        else {
            "points": round(predicted.points, 2),
            "sigma_points": round(predicted.sigma_points, 2),
            "day": round(predicted.day, 2),
            "how": predicted.how,
        },
        "pressure": {
            "before": outlook_json(answer.before.outlook),
            "after": outlook_json(answer.after.outlook),
            "upper_kept": answer.kept_upper,
        },
        "knowledge_removed": answer.removed,
        "hazards_by_practice": {
            "before": _hazards(answer.before),
            "after": _hazards(answer.after),
        },
        "left_out": list(answer.left_out),
        "trubshoot": made_by_json(answer, answer.engine_faults),
    }


def _fault(fault: FaultChange) -> dict[str, Any]:
    return {
        "id": fault.finding,
        "label": fault.label,
        "before": _round(fault.before),
        "after": _round(fault.after),
        "noticeable": fault.noticeable,
        "carried_by": [
            {
                "cause": item.cause,
                "label": item.label,
                "step": item.step,
                "before": _round(item.before),
                "after": _round(item.after),
            }
            for item in fault.carried
        ],
    }


def _hazards(side: Side) -> list[dict[str, str]]:
    return [
        {"id": block.id, "level": block.level.name, "hazard": block.hazard}
        for block in side.hazards
    ]


def outlook_json(look: BottleOutlook | None) -> dict[str, Any] | None:
    """Return the pressures of one side; None when they are not known."""
    if look is None:
        return None
    return {
        "rating_bar": round(look.basis.rating_bar, 3),
        "danger_bar": round(look.basis.danger_bar, 3),
        "expected_vols": round(look.expected_vols, 3),
        "upper_vols": round(look.upper_vols, 3),
        "at": [
            {
                "place": point.place,
                "temp_c": round(point.temp_c, 1),
                "middle_bar": round(point.middle_bar, 3),
                "upper_bar": round(point.upper_bar, 3),
                "upper_band": point.upper_band,
            }
            for point in look.pressures
        ],
    }


def _round(chance: float) -> float:
    return round(chance, 4)
