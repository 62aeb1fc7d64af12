"""A whole cellar as JSON, and its table as CSV."""

from __future__ import annotations

import csv
import io
from typing import Any

from trubshoot import __version__
from trubshoot.learning.cellar import Look
from trubshoot.learning.cellar_page import Cellar
from trubshoot.report.result_json import FORMAT_VERSION, hazard_json
from trubshoot.safety import Level
from trubshoot.units import UnitSystem, c_to_f

_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def cellar_json(cellar: Cellar) -> dict[str, Any]:
    """Return a cellar as plain data; hazards are the first key after the format."""
    told = cellar.calibration
    return {
        "format_version": FORMAT_VERSION,
        "hazards": [
            {**hazard_json(item.block), "batches": list(item.batches)} for item in cellar.hazards
        ],
        "level": cellar.level.name,
        "folder": cellar.folder,
        "asked_at": cellar.asked_at.isoformat(timespec="minutes"),
        "batches": [_batch(look) for look in cellar.batches],
        "unusable": [
            {
                "file": item.path,
                "problems": list(item.problems),
                "more": item.more,
                "failed": item.failed,
            }
            for item in cellar.unusable
        ],
        "passed_over": list(cellar.passed_over),
        "other_files": cellar.other_files,
        "steps": [
            {
                "step": item.step,
                "label": item.label,
                "batches": item.batches,
                "confirmed": item.confirmed,
                "by_chance": item.chances,
                "cause": item.cause,
                "cause_label": item.cause_label,
                "cause_batches": item.cause_batches,
                "next_time": item.habit,
            }
            for item in cellar.steps
        ],
        "calibration": {
            "confirmed": told.confirmed,
            "named_first": told.named_first,
            "too_few": told.confirmed < told.few,
            "brier": told.brier,
            "bins": [
                {
                    "from": item.low,
                    "to": item.high,
                    "given": given,
                    "answers": item.answers,
                    "right": item.right,
                    "mean_chance": item.mean_chance,
                }
                for item, given in zip(told.leading, told.given, strict=True)
            ],
        },
        "trubshoot": {"version": __version__, "knowledge": cellar.knowledge_version},
    }


def _batch(look: Look) -> dict[str, Any]:
    told, warmth, ending = look.confirmed, look.warmth, look.ending
    return {
        "file": look.path,
        "batch": look.name,
        "begun": look.begun.isoformat() if look.begun else None,
        "stage": look.stage,
        "days": look.days,
        "bottling": look.verdict,
        "level": look.level.name,
        "cause": None
        if look.leading is None
        else {
            "id": look.leading.id,
            "label": look.leading.label,
            "kind": look.leading.kind,
            "step": look.leading.step,
            "chance": look.leading.chance,
        },
        "turned_out": None
        if told is None
        else {
            "cause": told.cause or None,
            "sure": told.sure,
            "words": told.words,
            "at": told.at.isoformat(timespec="minutes") if told.at else None,
            "chance_given": look.past.given if look.past else None,
        },
        "remarks": list(look.remarks),
        "temperature": None
        if warmth is None
        else {
            "mean_c": warmth.mean_c,
            "lowest_c": warmth.low_c,
            "highest_c": warmth.high_c,
            "window_low_c": warmth.window_low_c,
            "window_high_c": warmth.window_high_c,
            "from_room": warmth.from_room,
        },
        "gravity": None
        if ending is None
        else {
            "points": ending.points,
            "expected_points": ending.expected_points,
            "expected_sigma_points": ending.expected_sigma_points,
            "final": ending.final,
        },
    }


def cellar_csv(cellar: Cellar, units: UnitSystem) -> str:
    """Return the table as CSV (RFC 4180), the gravest hazards first."""
    unit = "f" if units == "us" else "c"
    head = [
        *("hazard_level", "hazards", "file", "batch", "begun", "stage", "days", "bottling"),
        *("cause", "cause_label", "step", "chance", "turned_out", "sure", "words"),
        *(f"mean_temp_{unit}", "last_sg", "expected_end_sg"),
    ]
    text = io.StringIO()
    table = csv.writer(text)
    table.writerow(head)
    rows = [(look.level, _cells(look, units)) for look in cellar.batches]
    rows += [
        (
            max((block.level for block in item.hazards), default=Level.NONE),
            [
                "not assessed",
                " ".join(block.id for block in item.hazards),
                item.path,
                *("",) * 12,
                *("",) * 3,
            ],
        )
        for item in cellar.unusable
    ]
    for _, cells in sorted(rows, key=lambda row: -row[0]):
        table.writerow([_plain(cell) for cell in cells])
    return text.getvalue()


def _cells(look: Look, units: UnitSystem) -> list[str]:
    lead, told, warmth, ending = look.leading, look.confirmed, look.warmth, look.ending
    mean = "" if warmth is None else f"{_temp(warmth.mean_c, units):.1f}"
    return [
        look.level.name,
        " ".join(block.id for block in look.hazards),
        look.path,
        look.name,
        look.begun.isoformat() if look.begun else "",
        look.stage,
        "" if look.days is None else f"{look.days:.1f}",
        look.verdict,
        *(("", "", "", "") if lead is None else (lead.id, lead.label, lead.step)),
        *(() if lead is None else (f"{lead.chance:.3f}",)),
        "" if told is None else told.cause or "none of these",
        "" if told is None else "certain" if told.sure else "guess",
        "" if told is None else told.words,
        mean,
        *(
            ("", "")
            if ending is None
            else (f"{1 + ending.points / 1000:.3f}", f"{1 + ending.expected_points / 1000:.3f}")
        ),
    ]


def _temp(temp_c: float, units: UnitSystem) -> float:
    return c_to_f(temp_c) if units == "us" else temp_c


def _plain(cell: str) -> str:
    """Return a cell that no spreadsheet takes for a formula, on one line."""
    line = " ".join(cell.split())
    return f"'{line}" if line.startswith(_FORMULA) and not _is_number(line) else line


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
