"""Take every piece of knowledge out of batches: `python -m tests.learning.takeaways FILE ...`.

Prints every piece whose absence makes an upper pressure or a chance lower or drops a hazard; ends
with 1 when there is one.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

from tests.learning.figures import work

from trubshoot.batch.fields import GROUPS
from trubshoot.batch.verbs import DETAILS
from trubshoot.errors import TrubshootError
from trubshoot.learning.draft import Draft
from trubshoot.learning.whatif import WhatIf, whatif

NOW = datetime(2026, 11, 25, 12)
_LESS = 1e-6


def pieces(draft: Draft) -> Iterator[str]:
    """Yield a change that takes out each reading and each detail that a batch has."""
    for key, value in draft.head.items():
        if key in GROUPS:
            parts = value if isinstance(value, dict) else ()
            yield from (f"{key}.{part}: unknown" for part in parts)
    verbs = dict.fromkeys(line.verb for line in draft.log)
    yield from (f"not: {verb}" for verb in verbs if verb in ("gravity", "beer", "room", "stored"))
    for line in draft.log:
        if line.verb in DETAILS:
            yield from (
                f"{line.verb.replace(' ', '_')}.{detail}: unknown"
                for detail in line.data
                if detail in DETAILS[line.verb]
            )


def lower(answer: WhatIf) -> list[str]:
    """Return what looks better without the piece."""
    found = []
    for before, after in answer.pressures:
        if before is not None and after is not None and after.upper_bar < before.upper_bar - _LESS:
            found.append(f"{before.place} {before.upper_bar:.2f} -> {after.upper_bar:.2f} bar")
    found += [
        f"{fault.finding} {fault.before:.3f} -> {fault.after:.3f}"
        for fault in answer.faults
        if fault.after < fault.before - _LESS
    ]
    there = {block.id for block in answer.after.hazards}
    found += [block.id for block in answer.before.hazards if block.id not in there]
    return found


def main(paths: list[Path]) -> int:
    """Print what looks better without a piece; returns the exit code."""
    bad = tried = 0
    for path in paths:
        for change in dict.fromkeys(pieces(Draft.of_file(path))):
            try:
                answer = whatif(work(), Draft.of_file(path), [change], NOW)
            except TrubshootError as error:
                print(f"{path.name} {change}: {error}")
                bad += 1
                continue
            tried += 1
            better = lower(answer)
            if better:
                bad += 1
                print(f"{path.name} {change}: {'; '.join(better)}")
    print(f"{tried} pieces taken out, {bad} make something look better or cannot be taken out")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main([Path(name) for name in sys.argv[1:]]))
