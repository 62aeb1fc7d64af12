"""Sampling, used when more is told than can be taken exactly, against the exact ranking."""

from __future__ import annotations

import numpy as np
import pytest

from trubshoot.diagnosis.network import Base
from trubshoot.diagnosis.noisy_or import Told, rank
from trubshoot.diagnosis.sampling import MAX_EXACT, sample
from trubshoot.knowledge_base import KnowledgeBase


def _told(base: Base, number: int, count: int) -> Told:
    """Return findings of a made-up batch: some present, some soft, a few absent."""
    random = np.random.default_rng(number)
    network = base.network
    there = random.choice(len(base.causes), size=4, replace=False)
    off = (1 - network.leak) * np.prod(1 - network.strength[there], axis=0)
    present = [int(column) for column in np.argsort(off)[:count]]
    absent = [int(column) for column in np.argsort(-off)[:6]]
    low = [0.0 if place % 4 else 0.2 for place in range(count)]
    high = [1.0 if place % 4 else 0.9 for place in range(count)]
    return Told(tuple(absent), tuple(present), tuple(low), tuple(high))


@pytest.mark.parametrize("number", range(4))
def test_ten_findings_within_three_hundredths(knowledge: KnowledgeBase, number: int) -> None:
    """At ten findings every posterior and share is within 0.03 of the exact one."""
    base = Base.of(knowledge)
    told = _told(base, number, 10)
    exact, about = rank(base.network, told), sample(base.network, told)
    np.testing.assert_allclose(about.posterior, exact.posterior, atol=0.03)
    np.testing.assert_allclose(about.responsibility, exact.responsibility, atol=0.03)
    assert about.none_of_these == pytest.approx(exact.none_of_these, abs=0.03)


def test_more_than_can_be_taken_exactly(knowledge: KnowledgeBase) -> None:
    """Beyond the exact limit it answers in time, the same each time, in chances."""
    base = Base.of(knowledge)
    told = _told(base, 9, MAX_EXACT + 6)
    one, two = sample(base.network, told), sample(base.network, told)
    np.testing.assert_array_equal(one.posterior, two.posterior)
    for values in (one.posterior, one.responsibility):
        assert ((values >= 0) & (values <= 1)).all()
    assert (one.responsibility <= one.posterior + 0.02).all()
    assert 0 <= one.none_of_these <= 1


def test_one_finding(knowledge: KnowledgeBase) -> None:
    """It is right where the answer is easy, too."""
    base = Base.of(knowledge)
    told = Told((), (3,), (0.0,), (1.0,))
    exact, about = rank(base.network, told), sample(base.network, told)
    np.testing.assert_allclose(about.posterior, exact.posterior, atol=0.03)
