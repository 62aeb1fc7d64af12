"""Fail loud and fail safe: whatever goes wrong inside, the answer is HOLD and a hazard block.

An assessment that broke off is never an empty success (invariant I32): sealed bottles count as
suspect until it works again.
"""

from __future__ import annotations

import sys
from collections.abc import Callable

from trubshoot.cli.exits import BAD_INPUT, FAILED
from trubshoot.errors import BatchError, KnowledgeError, TrubshootError, UnitError


def guarded(run: Callable[[], int], form: str, *, verdict: bool) -> int:
    """Run a command that assesses danger; any failure inside ends as HOLD with its hazard block.

    Args:
        run: the command; what it prints must come in one piece at its end.
        form: text or json, the form the answer was asked in.
        verdict: whether the command answers if a batch may be bottled.

    Raises: UnitError, BatchError: what the user can mend; the caller prints those.
    """
    try:
        return run()
    except (UnitError, BatchError):
        raise
    except TrubshootError as error:
        show_failure(str(error), form, verdict=verdict)
        return BAD_INPUT if isinstance(error, KnowledgeError) else FAILED
    except (KeyboardInterrupt, BrokenPipeError):
        raise
    except Exception as error:  # noqa: BLE001 - any fault at all must end in HOLD
        show_failure(f"{type(error).__name__}: {error}", form, verdict=verdict)
        return FAILED


def show_failure(what: str, form: str, *, verdict: bool) -> None:
    """Print the hazard block of a failed assessment, HOLD, and what went wrong."""
    from trubshoot.diagnosis.not_assessed import BARE_LINE, HOLD_LINE, failure_blocks

    blocks = failure_blocks(what)
    message = HOLD_LINE if verdict else BARE_LINE
    if form == "json":
        from trubshoot.report.bottling_json import failed_json
        from trubshoot.report.result_json import to_text

        sys.stdout.write(to_text(failed_json(blocks, message)))
    else:
        from trubshoot.cli.session import console
        from trubshoot.report.terminal import Page, print_hazards

        page = Page(console())
        print_hazards(page, blocks)
        page.line(message)
    sys.stderr.write(f"trubshoot: a fault of trubshoot, please report it: {what}\n")
    if not blocks:
        sys.stderr.write(f"{BARE_LINE}\n")
