"""What blind encoders could not express is in the vocabulary, and is understood when it is said.

The table stands in vocabulary_gaps.yaml; docs/explanation/knowledge_gaps.md shows it.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest
import yaml
from tests.knowledge_base.gaps import table

from trubshoot.batch import read_batch
from trubshoot.diagnosis import Diagnosis, Diagnostician
from trubshoot.knowledge_base import KnowledgeBase

GAPS = table()["gaps"]
ANSWERS = table()["answers"]
NOW = datetime(2026, 1, 1, 12)


def diagnosed(work: Diagnostician, row: dict[str, Any]) -> Diagnosis:
    """Return what the whole product says to the piece of a log in a row."""
    log = [{"day": 0, "did": "pitched"}, *row.get("log", ())]
    last = max(entry["day"] for entry in log)
    batch = {"batch": "Invented piece", "today": last, **row.get("header", {}), "log": log}
    if "words" in row:
        batch["circumstances"] = [row["words"]]
    return work.diagnose(read_batch(yaml.safe_dump(batch, sort_keys=False)), NOW)


@pytest.mark.parametrize("row", GAPS, ids=[row["gap"] for row in GAPS])
def test_every_gap_is_named_by_what_exists(knowledge: KnowledgeBase, row: dict[str, Any]) -> None:
    """The findings, circumstances, rules, facts and causes that close a gap are there."""
    assert row["by"]
    for kind, names in row["by"].items():
        assert names, kind
        assert set(names) <= set(getattr(knowledge, kind)), kind


@pytest.mark.parametrize("row", GAPS, ids=[row["gap"] for row in GAPS])
def test_every_gap_is_understood(diagnostician: Diagnostician, row: dict[str, Any]) -> None:
    """An invented piece of a log is understood as what it says."""
    diagnosis = diagnosed(diagnostician, row)
    said = {item.id for item in diagnosis.findings if item.state in ("present", "likely")}
    assert len({"finding", "context", "fact"} & set(row)) == 1
    if "finding" in row:
        assert row["finding"] in said, (said, diagnosis.evidence.not_understood)
    elif "context" in row:
        around = {item.id for item in diagnosis.contexts}
        assert row["context"] in around, (around, diagnosis.evidence.not_understood)
    else:
        assert row["fact"].items() <= dict(diagnosis.evidence.facts).items()


@pytest.mark.parametrize("row", ANSWERS, ids=[row["answer"] for row in ANSWERS])
def test_missing_answers_are_given(diagnostician: Diagnostician, row: dict[str, Any]) -> None:
    """Each of the everyday answers is a cause, and leads where a log shows it."""
    diagnosis = diagnosed(diagnostician, row)
    assert diagnosis.causes[0].id == row["cause"], [cause.id for cause in diagnosis.causes[:3]]


def test_a_cause_that_is_not_settled_is_said_to_be(diagnostician: Diagnostician) -> None:
    """With hardly anything told no cause is called likely, and that none may fit is a line."""
    row = {"log": [{"day": 30, "tasted": "it tastes wrong but I can not say of what"}]}
    diagnosis = diagnosed(diagnostician, row)
    assert max(cause.responsibility for cause in diagnosis.causes) < 0.6
    assert diagnosis.none_of_these > 0.05
