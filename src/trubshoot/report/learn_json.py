"""Pages, maps and drills as plain data, field by field as the frozen objects have them."""

from __future__ import annotations

import csv
import io
from dataclasses import fields, is_dataclass
from typing import Any

from trubshoot.learning.heat import Heat
from trubshoot.learning.lookup import Found
from trubshoot.report.result_json import FORMAT_VERSION, hazard_json
from trubshoot.safety import HazardBlock


def plain(thing: Any) -> Any:
    """Return a frozen object as dictionaries, lists, texts and numbers."""
    if isinstance(thing, HazardBlock):
        return hazard_json(thing)
    if is_dataclass(thing):
        return {one.name: plain(getattr(thing, one.name)) for one in fields(thing)}
    if isinstance(thing, (list, tuple)):
        return [plain(one) for one in thing]
    if isinstance(thing, (set, frozenset)):
        return sorted(plain(one) for one in thing)
    if isinstance(thing, dict):
        return {str(key): plain(value) for key, value in thing.items()}
    return thing


def view_json(view: str, thing: Any) -> dict[str, Any]:
    """Return one view: its format, which view it is, and its fields; hazards stand first."""
    body = plain(thing)
    hazards = body.pop("hazards", [])
    return {"format_version": FORMAT_VERSION, "hazards": hazards, "view": view, **body}


def found_json(found: Found) -> dict[str, Any]:
    """Return what a text may mean, when it is not one thing."""
    return view_json("meant", found)


def heat_json(heat: Heat) -> dict[str, Any]:
    """Return the map: for each fault the chance by each step's id."""
    return {
        "format_version": FORMAT_VERSION,
        "hazards": [],
        "view": "map",
        "steps": plain(heat.steps),
        "faults": [
            {
                "id": row.fault.id,
                "label": row.fault.label,
                "term": row.term,
                "chance": row.chance,
                "by_step": {
                    step.id: value for step, value in zip(heat.steps, row.by_step, strict=True)
                },
            }
            for row in heat.rows
        ],
        "left_out": heat.left_out,
    }


def heat_csv(heat: Heat) -> str:
    """Return the map as a table with commas: a line for each fault, a column for each step."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["fault", "label", "chance", *(step.id for step in heat.steps)])
    for row in heat.rows:
        writer.writerow(
            [row.fault.id, row.fault.label, f"{row.chance:.5f}", *(f"{v:.5f}" for v in row.by_step)]
        )
    return out.getvalue()
