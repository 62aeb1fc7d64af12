"""What is shown when an assessment fails."""

from __future__ import annotations

from datetime import datetime

from trubshoot.batch import read_batch
from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.not_assessed import failure_blocks
from trubshoot.knowledge_base import load_knowledge
from trubshoot.safety.hazards import FAILED_ID


def test_a_failure_takes_no_hazard_away() -> None:
    """What was known before stands above the block of the failure, which is there once."""
    now = datetime(2026, 3, 1)
    batch = read_batch("batch: x\nlog:\n  - {at: 2026-01-02, saw: a bottle burst}\n", now)
    standing = Diagnostician(load_knowledge()).diagnose(batch, now).hazards
    shown = failure_blocks("broke", failure_blocks("first", standing))
    assert "bottle_burst" in {block.id for block in standing}
    assert [block.id for block in shown] == [*(block.id for block in standing), FAILED_ID]
