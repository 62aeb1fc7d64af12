"""When nothing could be assessed: the hazards that still have to be shown, and that it is HOLD.

An assessment that broke off is never an empty success (invariant I32): sealed bottles count as
suspect until it works again. Shared by every face.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from trubshoot.batch import Batch
from trubshoot.diagnosis.diagnose import Diagnostician
from trubshoot.safety import HazardBlock

HOLD_LINE = "HOLD: nothing was assessed, so nothing may be bottled."
# Only when not even the knowledge can be read; otherwise its hazard file speaks.
BARE_LINE = "Nothing was assessed. Treat sealed bottles as suspect until it is."

_MOST_LINES = 2000
MOST_BYTES = 100_000


def failure_blocks(what: str, standing: Sequence[HazardBlock] = ()) -> tuple[HazardBlock, ...]:
    """Return the hazard block of a failed assessment; none when the knowledge cannot be read.

    Args:
        what: what failed.
        standing: hazards known before it failed; they stand above it, none is lost.
    """
    from trubshoot.knowledge_base import load_knowledge
    from trubshoot.safety.hazards import FAILED_ID, FiredHazard, hazard_blocks

    try:
        hazards = load_knowledge().hazards
        failed = hazard_blocks(hazards, [FiredHazard(FAILED_ID, f"Failed: {what}.")], {})
    except Exception:  # noqa: BLE001 - the fallback line stands in its place
        return tuple(standing)
    return (*(block for block in standing if block.id != FAILED_ID), *failed)


def hazards_in_text(
    work: Diagnostician, name: str, raw: bytes, words: Sequence[tuple[str, str]], now: datetime
) -> tuple[HazardBlock, ...]:
    """Return the hazards that stand in so many words in a file that cannot be read as a batch.

    Args:
        work: the knowledge made ready.
        name: what the file is called.
        raw: what stands in it; the first 100 000 bytes are looked at.
        words: (sense, text) pairs said beside it.
        now: the moment of asking.
    """
    text = raw[:MOST_BYTES].decode("utf-8", errors="replace")
    lines = [("saw", line) for line in text.splitlines()[:_MOST_LINES] if line.strip()]
    return work.hazards_in_words(Batch(name=name), now, [*words, *lines])
