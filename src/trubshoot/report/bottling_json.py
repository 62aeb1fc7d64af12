"""The answers of `bottling` and `bottles` as JSON, as docs/reference/result_json.md says."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from trubshoot.diagnosis.bottle_classes import ClassRow
from trubshoot.diagnosis.bottling_report import BottlingReport, WayToGo
from trubshoot.evidence.bottle_course import BottleCourse
from trubshoot.evidence.gravity_fit import GravityFit
from trubshoot.evidence.model import BottleBasis, BottleOutlook
from trubshoot.evidence.sugar_table import SugarTable
from trubshoot.knowledge_base.schema import ChecklistItem
from trubshoot.report import bottling_words as words
from trubshoot.report.result_json import (
    FORMAT_VERSION,
    hazard_json,
    head_json,
    made_by_json,
    missing_json,
)
from trubshoot.safety import HazardBlock, Reason
from trubshoot.units import UnitSystem


def bottling_json(report: BottlingReport, units: UnitSystem) -> dict[str, Any]:
    """Return whether the batch may be bottled; hazards are the first key after the format."""
    verdict = report.verdict
    return {
        **_head(report),
        "verdict": verdict.word if verdict is not None else None,
        "message": words.verdict_line(report),
        "limits": _items(report.limits, report, units),
        "way_to_go": None if report.way is None else _way(report, report.way, units),
        "reasons": [] if verdict is None else [_reason(item) for item in verdict.reasons],
        "granted_because": [] if verdict is None else list(verdict.granted_because),
        "numbers": _numbers(report),
        "sugar_table": None if report.sugar is None else _sugar(report.sugar),
        "checklist": _items(report.checklist, report, units),
        **_tail(report),
    }


def bottles_json(report: BottlingReport, units: UnitSystem) -> dict[str, Any]:
    """Return what is known of filled bottles; hazards are the first key after the format."""
    return {
        **_head(report),
        "handling_reasons": [item.do for item in report.reasons],
        "days_since_bottling": report.evidence.facts.get("days_since_bottling"),
        "numbers": _numbers(report),
        "course": None if report.course is None else _course(report.course),
        "opened_bottle": _items(report.opened, report, units),
        **_tail(report),
    }


def failed_json(blocks: Sequence[HazardBlock], message: str) -> dict[str, Any]:
    """Return the answer when nothing could be assessed: HOLD, and the hazards that stand."""
    return {
        "format_version": FORMAT_VERSION,
        "hazards": [hazard_json(block) for block in blocks],
        "verdict": "HOLD",
        "message": message,
    }


def classes_json(rows: Sequence[ClassRow], notes: Sequence[ChecklistItem]) -> dict[str, Any]:
    """Return the classes of bottles."""
    return {
        "format_version": FORMAT_VERSION,
        "hazards": [],
        "bottle_classes": [
            {
                "id": row.id,
                "label": row.label,
                "how_to_tell": row.how_to_tell,
                "made_for_pressure": row.rated,
                "rating_bar": row.rating_bar,
                "danger_bar": row.danger_bar,
                "danger_at_40_c_bar": row.danger_hot_bar,
                "volumes_at_danger_limit": [
                    {"temp_c": temp, "volumes": vols} for temp, vols in row.limit_vols
                ],
                "sources": list(row.sources),
                "basis": row.basis,
            }
            for row in rows
        ],
        "notes": [item.do for item in notes],
    }


def _head(report: BottlingReport) -> dict[str, Any]:
    return {**head_json(report), "stage": report.evidence.stage}


def _tail(report: BottlingReport) -> dict[str, Any]:
    evidence = report.evidence
    return {
        "missing": missing_json(evidence.missing),
        "notes": list(evidence.notes),
        "trubshoot": made_by_json(report, report.faults),
    }


def _items(
    items: Sequence[ChecklistItem], report: BottlingReport, units: UnitSystem
) -> list[dict[str, Any]]:
    return [
        {
            "id": item.id,
            "tag": item.tag,
            "do": words.filled_in(item, report, units),
            "sources": list(item.sources),
        }
        for item in items
    ]


def _reason(reason: Reason) -> dict[str, Any]:
    return {
        "id": reason.id,
        "label": reason.label,
        "because": list(reason.because),
        "mend": reason.mend,
        "kind": reason.kind,
        "minutes": reason.minutes,
        "wait_days": reason.wait_days,
        "why_stricter": reason.why_stricter,
    }


def _way(report: BottlingReport, way: WayToGo, units: UnitSystem) -> dict[str, Any]:
    return {
        "lines": words.way_lines(report, units),
        "readings": way.readings,
        "days": way.days,
        "on": None if way.on is None else way.on.date().isoformat(),
        "gravity_points": way.points,
        "sample_c": way.sample_c,
        "left": [reason.id for reason in way.left],
    }


def _numbers(report: BottlingReport) -> dict[str, Any]:
    evidence = report.evidence
    end = evidence.expected_end
    return {
        "readings": [
            {"day": item.day, "points": item.points, "sigma_points": item.sigma_points}
            for item in evidence.readings
        ],
        "fall_not_excluded_points_per_day": evidence.facts.get("slope_bound_points_per_day"),
        "expected_end_points": None if end is None else end.points,
        "expected_end_sigma_points": None if end is None else end.sigma_points,
        "fit": _fit(report.fit),
        "basis": None if evidence.basis is None else _basis(evidence.basis),
        "outlook": None if evidence.outlook is None else _outlook(evidence.outlook, report),
    }


def _fit(found: GravityFit) -> dict[str, Any]:
    fit = found.fit
    if fit is None:
        return {"readings": found.readings, "why_not": found.why_not}
    return {
        "readings": found.readings,
        "end_sg": {"p05": fit.fg.low, "p50": fit.fg.median, "p95": fit.fg.high},
        "points_left": {
            "p05": fit.points_left.low,
            "p50": fit.points_left.median,
            "p95": fit.points_left.high,
        },
    }


def _basis(basis: BottleBasis) -> dict[str, Any]:
    return {
        "target_volumes": basis.target_vols,
        "residual_volumes": basis.residual_vols,
        "residual_most_volumes": basis.residual_most_vols,
        "bottle_class": basis.bottle_class,
        "bottle_label": basis.bottle_label,
        "rating_bar": basis.rating_bar,
        "danger_bar": basis.danger_bar,
        "hottest_c": basis.hottest_c,
        "storage_c": basis.storage_c,
        "headspace_share": basis.headspace_share,
        "volume_l": basis.volume_l,
        "bottle_size_ml": basis.size_ml,
        "gravity_points": basis.gravity_points,
    }


def _outlook(look: BottleOutlook, report: BottlingReport) -> dict[str, Any]:
    return {
        "sugar_g": look.sugar_g,
        "sugar_g_per_l": look.sugar_g_per_l,
        "sugar_volumes": look.sugar_vols,
        "expected_volumes": look.expected_vols,
        "upper_volumes": look.upper_vols,
        "co2_alone_at_20_c_bar": look.alone_20c_bar,
        "storage_below_c": report.storage_cap_c,
        "pressures": [
            {
                "place": point.place,
                "temp_c": point.temp_c,
                "middle_bar": point.middle_bar,
                "upper_bar": point.upper_bar,
                "middle_band": point.middle_band,
                "upper_band": point.upper_band,
            }
            for point in look.pressures
        ],
    }


def _sugar(table: SugarTable) -> dict[str, Any]:
    return {
        "target_volumes": table.target_vols,
        "present_volumes": table.present_vols,
        "volume_l": table.volume_l,
        "teaspoon_error_share": table.spoon_error_share,
        "rows": [
            {
                "kind": row.kind,
                "label": row.label,
                "grams_per_l": row.grams_per_l,
                "batch_g": row.batch_g,
                "held_down_by_bottles": row.capped,
                "bottles": [
                    {"size_ml": dose.size_ml, "grams": dose.grams, "teaspoons": dose.teaspoons}
                    for dose in row.bottles
                ],
            }
            for row in table.rows
        ],
    }


def _course(course: BottleCourse) -> dict[str, Any]:
    return {
        "danger_bar": course.danger_bar,
        "fast_temp_c": course.fast_c,
        "middle_temp_c": course.middle_c,
        "danger_after_days": course.danger_after_days,
        "contaminated_danger_after_days": course.contaminated_after_days,
        "rows": [
            {
                "days": row.days,
                "now": row.now,
                "middle_bar": row.middle_bar,
                "fast_bar": row.fast_bar,
                "contaminated_bar": row.contaminated_bar,
            }
            for row in course.rows
        ],
        "assumed": list(course.assumed),
    }
