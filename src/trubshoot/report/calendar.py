"""Dated steps as a calendar file, after the open standard RFC 5545 (iCalendar).

Every step is an event of a whole day, so that no time zone is needed. The identifier of an event
is made from the batch and from what the step comes from: read in again, a moved step replaces the
old one in calendars that go by identifiers.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import datetime, timedelta

from trubshoot import __version__
from trubshoot.diagnosis.plan_next import NextStep

PRODUCT = "-//trubshoot//trubshoot"
_OCTETS = 75  # longest line without its end (RFC 5545, section 3.1)
_TITLE = 70  # characters of a step in the line a calendar shows


def calendar_text(batch: str, steps: Sequence[NextStep], stamp: datetime) -> str:
    """Return the calendar of the steps that have a date; empty text when none has.

    Args:
        batch: name of the batch.
        steps: what to do.
        stamp: the moment of asking in UTC, of which the standard wants to know.
    """
    dated = [step for step in steps if step.due is not None]
    if not dated:
        return ""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:{PRODUCT} {__version__}//EN",
        "CALSCALE:GREGORIAN",
    ]
    for step in dated:
        lines += _event(batch, step, stamp)
    lines.append("END:VCALENDAR")
    return "".join(f"{folded(line)}\r\n" for line in lines)


def _event(batch: str, step: NextStep, stamp: datetime) -> list[str]:
    assert step.due is not None
    key = hashlib.sha256(f"{batch}\x00{step.id}".encode()).hexdigest()[:32]
    first = step.do.split(". ")[0].rstrip(".")
    title = first if len(first) <= _TITLE else f"{first[: _TITLE - 1].rsplit(' ', 1)[0]} ..."
    details = "\n\n".join((step.do, f"Why: {step.why}."))
    return [
        "BEGIN:VEVENT",
        f"UID:{key}@trubshoot.invalid",
        f"DTSTAMP:{stamp:%Y%m%dT%H%M%SZ}",
        f"DTSTART;VALUE=DATE:{step.due:%Y%m%d}",
        f"DTEND;VALUE=DATE:{step.due + timedelta(days=1):%Y%m%d}",
        f"SUMMARY:{escaped(f'{batch}: {title}')}",
        f"DESCRIPTION:{escaped(details)}",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
    ]


def escaped(text: str) -> str:
    """Return text as a TEXT value (RFC 5545, section 3.3.11); control characters are dropped."""
    out = text.replace("\r\n", "\n").replace("\r", "\n")
    for sign in ("\\", ";", ","):
        out = out.replace(sign, f"\\{sign}")
    out = out.replace("\n", "\\n")
    return "".join(char for char in out if char.isprintable() or char == "\t")


def folded(line: str) -> str:
    """Return a line cut into pieces of at most 75 octets, never within a character."""
    pieces: list[str] = []
    piece, octets = "", 0
    for char in line:
        size = len(char.encode("utf-8", "replace"))
        if octets + size > _OCTETS:
            pieces.append(piece)
            piece, octets = " ", 1
        piece += char
        octets += size
    return "\r\n".join((*pieces, piece))
