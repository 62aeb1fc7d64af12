"""Cross-validation leaves out what it says, and ranks as the product does."""

from __future__ import annotations

import numpy as np
from tests.accuracy import whole
from tests.accuracy.crossvalidation import Told, best, changed, fifths, noisy, place

from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.network import Base

CASES = [Told(f"c{number}", (), (), frozenset(), ("x",)) for number in range(12)]


def test_fifths_hold_every_case_once() -> None:
    """Five parts, near equal, together all cases."""
    parts = fifths(CASES)
    assert [len(part) for part in parts] == [3, 3, 2, 2, 2]
    assert sorted(case.id for part in parts for case in part) == sorted(case.id for case in CASES)


def test_a_part_left_out_has_no_say() -> None:
    """Values that are best on the part left out alone are not chosen."""
    shipped, other = (1.0, 1.0), (0.6, 1.0)
    places = {shipped: {"in": 1, "out": 0, "more": 0}, other: {"in": 0, "out": 9, "more": 0}}
    assert best(places, {"in", "more"}) == other
    assert best(places, {"out", "more"}) == shipped
    assert best({other: {"in": 0}, shipped: {"in": 0}}, {"in"}) == shipped  # a tie changes nothing


def test_what_is_changed(diagnostician: Diagnostician) -> None:
    """Factors of one change nothing; else priors draw together and weak links count less."""
    base = Base.of(diagnostician.knowledge)
    same = changed(base, 1.0, 1.0).network
    assert np.allclose(same.prior, base.network.prior)
    assert np.allclose(same.strength, base.network.strength)
    other = changed(base, 0.5, 2.0).network
    assert np.ptp(other.prior) < np.ptp(base.network.prior)
    linked = base.network.strength > 0
    assert (other.strength[linked] < base.network.strength[linked]).all()
    quiet = noisy(base, 0.0, np.random.default_rng(1)).network
    assert np.allclose(quiet.strength, base.network.strength)


def test_ranks_as_the_product(diagnostician: Diagnostician) -> None:
    """A case worked out once and ranked again has its right cause in the same place."""
    base = Base.of(diagnostician.knowledge)
    answers = whole.answers()
    for name in sorted(answers)[10:14]:
        run = whole.run_case(name, answers[name])
        if run.scored:
            assert place(base, Told.of(run)) == whole.place(run, run.orders["responsibility"])
