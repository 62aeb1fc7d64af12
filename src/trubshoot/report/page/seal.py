"""The seal of a written report: by it a file of ours is known again, and known to be unchanged.

A report may be replaced by a newer one; notes that somebody wrote into it, or another file of that
name, may not. The seal is a part of a hash over the whole text with zeros in its own place. It
guards against slips of the hand, not against forgery.
"""

from __future__ import annotations

import hashlib
import re

_NAME = "trubshoot report "
_LENGTH = 16
UNSEALED = _NAME + _LENGTH * "0"  # stands in a text until it is sealed
_SEAL = re.compile(_NAME.encode() + rb"([0-9a-f]{%d})" % _LENGTH)


def sealed(text: str) -> bytes:
    """Return a text as bytes, with its seal in the place of UNSEALED."""
    raw = text.encode("utf-8", "replace")
    return raw.replace(UNSEALED.encode(), _NAME.encode() + _digest(raw), 1)


def is_untouched(raw: bytes) -> bool:
    """Tell whether a file is a report of ours as it was written."""
    found = _SEAL.search(raw)
    if found is None:
        return False
    zeroed = raw[: found.start()] + UNSEALED.encode() + raw[found.end() :]
    return _digest(zeroed) == found[1]


def _digest(raw: bytes) -> bytes:
    return hashlib.sha256(raw).hexdigest()[:_LENGTH].encode()
