"""The shipped knowledge made ready once, for all tests of learning."""

from __future__ import annotations

from functools import cache

from trubshoot.diagnosis import Diagnostician
from trubshoot.knowledge_base import load_knowledge
from trubshoot.learning.browse import Library


@cache
def library() -> Library:
    """Return the pages of the shipped knowledge."""
    return Library(Diagnostician(load_knowledge()))
