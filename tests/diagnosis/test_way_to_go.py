"""The search for what would end a HOLD: one engine seeks, both engines answer, nothing changes."""

from __future__ import annotations

from dataclasses import replace

import pytest
from tests.safety.gate import NOW, Doc, read, work
from tests.safety.gate_logs import hold_logs

from trubshoot.batch import Batch
from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.bottling_report import SEARCH_DAYS, WayToGo, way_to_go
from trubshoot.rules import Opinion
from trubshoot.rules.conditions import Firing
from trubshoot.safety import Verdict

NAMES = sorted(hold_logs())[::3]  # every third: each costs two searches


def held(doc: Doc) -> tuple[Batch, Verdict]:
    """Return a log with the verdict on it, a HOLD."""
    batch = read(doc)
    assert batch is not None
    verdict = work().bottling(batch, NOW)[3]
    assert verdict is not None
    assert not verdict.go
    return batch, verdict


def way(batch: Batch, verdict: Verdict) -> WayToGo:
    """Return what would end the hold."""
    return way_to_go(work(), batch, NOW, verdict)


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[bool]:
    """Return a list that tells of every question to the rules whether one engine was asked."""
    told: list[bool] = []
    original = work().reasoner.run

    def counted(facts: object, *, one_engine: bool = False) -> Opinion:
        told.append(one_engine)
        return original(facts, one_engine=one_engine)  # type: ignore[arg-type]

    monkeypatch.setattr(work().reasoner, "run", counted)
    return told


@pytest.mark.parametrize("name", NAMES)
def test_search_with_one_engine_finds_what_both_find(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Day, number of readings and what is left are those of a search that asks both each time."""
    batch, verdict = held(hold_logs()[name])
    quick = way(batch, verdict)
    original = Diagnostician.bottling

    def both(self: Diagnostician, batch: Batch, now: object, *, one_engine: bool = False) -> object:
        return original(self, batch, now)  # type: ignore[arg-type]

    monkeypatch.setattr(Diagnostician, "bottling", both)
    assert way(batch, verdict) == quick


def test_some_holds_end_and_some_do_not() -> None:
    """The logs of the other test exercise both ends of the search."""
    found = [way(*held(hold_logs()[name])).days for name in NAMES]
    assert None in found
    assert any(days is not None and 0 < days < SEARCH_DAYS for days in found)


def test_what_is_shown_was_asked_of_both(asked: list[bool]) -> None:
    """The last question, whose reasons are shown, goes to both engines; the search to one."""
    name = next(name for name in NAMES if way(*held(hold_logs()[name])).days is not None)
    batch, verdict = held(hold_logs()[name])
    asked.clear()
    way(batch, verdict)
    assert asked[-1] is False
    assert asked.count(False) == 1  # of the batch as it is, the answer is known
    assert 3 <= asked.count(True) <= 9


def test_no_promise_when_the_engines_differ(monkeypatch: pytest.MonkeyPatch) -> None:
    """A way out that the second engine does not confirm is not shown."""
    name = next(name for name in NAMES if way(*held(hold_logs()[name])).days is not None)
    batch, verdict = held(hold_logs()[name])
    original = work().reasoner.run
    hold = next(rule for rule in work().knowledge.rules.values() if rule.then.hold is not None)

    def contradicted(facts: object, *, one_engine: bool = False) -> Opinion:
        opinion = original(facts, one_engine=one_engine)  # type: ignore[arg-type]
        if one_engine:
            return opinion
        firing = Firing(hold.id, f"hold.{hold.then.hold}", ())
        more = replace(opinion.conclusions, firings=(*opinion.conclusions.firings, firing))
        fault = ("the two engines disagree",)
        return replace(opinion, conclusions=more, faults=fault)

    monkeypatch.setattr(work().reasoner, "run", contradicted)
    monkeypatch.setattr(work(), "_latest", None)
    found = way(batch, verdict)
    assert found.days is None
    assert found.left == verdict.reasons
