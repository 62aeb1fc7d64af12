"""The shipped examples: where they are, and a diagnosis of one, whole or changed in one place."""

from __future__ import annotations

from datetime import datetime
from functools import cache
from pathlib import Path

from trubshoot.batch import read_batch
from trubshoot.diagnosis import Diagnosis, Diagnostician

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = ROOT / "docs" / "examples"


def example(name: str) -> Path:
    """Return the path of a shipped example; it must be there."""
    path = EXAMPLES / f"{name}.yaml"
    assert path.is_file(), path
    return path


def changed(text: str, changes: list[tuple[str, str]]) -> str:
    """Return a text with each passage replaced; a passage that does not stand in it is a fault."""
    for old, new in changes:
        assert old in text, f"{old!r} does not stand in the example any more"
        text = text.replace(old, new)
    return text


@cache
def diagnose_text(work: Diagnostician, text: str, at: str) -> Diagnosis:
    """Return the diagnosis of a batch given as text, late on a day."""
    now = datetime.fromisoformat(f"{at} 23:00")
    return work.diagnose(read_batch(text, now), now)


def posteriors(diagnosis: Diagnosis) -> dict[str, float]:
    """Return the chance of every cause to be there at all; what is ruled out has none."""
    return {cause.id: cause.posterior for cause in diagnosis.causes}


def shown(diagnosis: Diagnosis) -> set[str]:
    """Return the ids of all circumstances, findings told as there, and hazards of a diagnosis."""
    return {
        *(context.id for context in diagnosis.contexts),
        *(state.id for state in diagnosis.findings if state.up),
        *(block.id for block in diagnosis.hazards),
    }
