"""A batch file that cannot be read: its problems, and the hazards that its words still name."""

from __future__ import annotations

import sys
from datetime import datetime, timedelta
from pathlib import Path

from trubshoot.cli.exits import BAD_INPUT
from trubshoot.cli.session import console, diagnostician
from trubshoot.errors import BatchError
from trubshoot.safety import HazardBlock


def unreadable(
    path: Path,
    words: list[tuple[str, str]],
    error: BatchError,
    now: datetime,
    form: str,
    *,
    asked: str = "diagnose",
) -> int:
    """Say what is wrong with the file; hazards that its text names come before that.

    Args:
        path: the file.
        words: (sense, text) pairs said beside it.
        error: its problems.
        now: the moment of asking.
        form: text or json.
        asked: diagnose, bottling or bottles; filled bottles count as suspect until assessed.
    """
    from trubshoot.diagnosis.not_assessed import BARE_LINE, HOLD_LINE, failure_blocks

    blocks = hazards_in_text(path, words, now)
    if asked == "bottles":
        blocks = (*blocks, *failure_blocks("the batch file cannot be used"))
    if form == "json":
        from trubshoot.report.result_json import FORMAT_VERSION, hazard_json, to_text

        problems = [
            {"path": item.path, "line": item.line, "message": item.message, "mend": item.mend}
            for item in error.problems
        ]
        plain = {
            "format_version": FORMAT_VERSION,
            "hazards": [hazard_json(block) for block in blocks],
            **({"verdict": "HOLD", "message": HOLD_LINE} if asked == "bottling" else {}),
            "problems": problems,
        }
        sys.stdout.write(to_text(plain))
    else:
        from trubshoot.report.terminal import Page, print_hazards

        page = Page(console())
        print_hazards(page, blocks)
        if asked == "bottling":
            page.line(HOLD_LINE)
    sys.stderr.write(f"trubshoot: the batch file cannot be used:\n{error}\n")
    to_come = any("has not come yet" in item.message for item in error.problems)
    if to_come and abs(now - datetime.now()) > timedelta(minutes=5):
        sys.stderr.write(
            f"You asked for {now:%Y-%m-%d %H:%M}. To take later lines in, give a later --at.\n"
        )
    if not blocks:
        sys.stderr.write(f"{BARE_LINE}\n")
    return BAD_INPUT


def hazards_in_text(
    path: Path, words: list[tuple[str, str]], now: datetime
) -> tuple[HazardBlock, ...]:
    """Return the hazards that stand in so many words in a file that cannot be read as a batch."""
    from trubshoot.diagnosis import not_assessed

    try:
        with path.open("rb") as handle:
            raw = handle.read(not_assessed.MOST_BYTES)
    except OSError:
        raw = b""
    return not_assessed.hazards_in_text(diagnostician(), path.name, raw, words, now)
