"""What a change of a batch file changed: the answer to `log` and undo, for every face alike."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from trubshoot.batch.store import Written
from trubshoot.diagnosis.diagnose import Diagnostician
from trubshoot.diagnosis.result import Diagnosis
from trubshoot.diagnosis.what_changed import Changed, what_changed
from trubshoot.safety import HazardBlock, Level
from trubshoot.units import UnitSystem

NOTHING_ELSE = "Nothing else changed."


@dataclass(frozen=True)
class AfterLog:
    """What to tell after a change, in the order in which it is told.

    changed: None when the old file could not be read, so that there is nothing to compare with;
    `hazards` are then all that stand. still: blocks at WARNING or above that stood before. twin:
    the line of an entry equal to the new one, 0 for none. warnings: those that the file had not
    before.
    """

    diagnosis: Diagnosis
    changed: Changed | None
    hazards: tuple[HazardBlock, ...]
    still: tuple[HazardBlock, ...]
    twin: int
    warnings: tuple[str, ...]

    @property
    def sentences(self) -> tuple[str, ...]:
        """Return what changed beside the hazards; one that says so when nothing at all did.

        Below a block that is new it would read as if the block were nothing.
        """
        if self.changed is None:
            return ()
        return self.changed.sentences or (() if self.changed.hazards else (NOTHING_ELSE,))


def after_log(
    work: Diagnostician, written: Written, asked: datetime, units: UnitSystem
) -> AfterLog:
    """Return what a change of a batch file changed.

    Args:
        work: the knowledge made ready.
        written: the batch before and after.
        asked: the moment to answer for.
        units: units to show.
    """
    diagnosis = work.diagnose(written.after, asked)
    warnings = new_warnings(written)
    if written.before is None:
        return AfterLog(diagnosis, None, diagnosis.hazards, (), 0, warnings)
    changed = what_changed(work.diagnose(written.before, asked), diagnosis, units)
    still = tuple(block for block in changed.standing if block.level >= Level.WARNING)
    return AfterLog(diagnosis, changed, changed.hazards, still, twin(written), warnings)


def asked_for(written: Written, clock: datetime) -> datetime:
    """Return the moment to answer for: the last dated line, so that old logs can be replayed."""
    before = written.before.log if written.before is not None else ()
    times = [entry.at for entry in (*before, *written.after.log) if entry.at is not None]
    return min(max(times, default=clock), clock)


def twin(written: Written) -> int:
    """Return the line of an entry equal to the new last one; 0 when there is none."""
    *others, new = written.after.log or [None]
    if new is None:
        return 0
    plain = new.model_dump(exclude={"line", "number"})
    same = [
        entry.line
        for entry in others
        if entry is not None and entry.model_dump(exclude={"line", "number"}) == plain
    ]
    return same[-1] if same else 0


def new_warnings(written: Written) -> tuple[str, ...]:
    """Return the warnings of the file that it had not before."""
    old = set() if written.before is None else {item.message for item in written.before.warnings}
    return tuple(str(item) for item in written.after.warnings if item.message not in old)
