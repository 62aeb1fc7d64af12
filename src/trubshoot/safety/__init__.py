"""Hazards: what must be said before any diagnosis. Knows rules' conclusions, never the ranking."""

from trubshoot.safety.bottling_check import FiredHold, Reason, Verdict, decide
from trubshoot.safety.hazards import (
    FOOD_MARKER,
    FiredHazard,
    HazardBlock,
    SecondOpinion,
    Step,
    food_line_allowed,
    hazard_blocks,
    overall_level,
    safer,
    suppress_tasting,
)
from trubshoot.safety.levels import Level
from trubshoot.safety.specs import GateSpec, HazardSpec

__all__ = [
    "FOOD_MARKER",
    "FiredHazard",
    "FiredHold",
    "GateSpec",
    "HazardBlock",
    "HazardSpec",
    "Level",
    "Reason",
    "SecondOpinion",
    "Step",
    "Verdict",
    "decide",
    "food_line_allowed",
    "hazard_blocks",
    "overall_level",
    "safer",
    "suppress_tasting",
]
