"""The ranking keeps at least the accuracy of the knowledge it started from."""

from __future__ import annotations

from tests.accuracy.encoded import score
from tests.accuracy.scoring import real_cases

from trubshoot.diagnosis.network import Base
from trubshoot.knowledge_base import load_knowledge


def test_responsibility_reaches_what_the_starting_knowledge_gave() -> None:
    """Top-1 is at least 59 % and top-3 at least 84 % of the scored cases that state a finding."""
    base = Base.of(load_knowledge())
    cases = [case for case in real_cases() if case.scored and case.encoded["present"]]
    kept = score(cases, base)["responsibility"]
    first, count = kept.share(1)
    third, _ = kept.share(3)
    assert count >= 65
    assert first / count >= 0.59
    assert third / count >= 0.84
