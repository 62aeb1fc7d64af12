"""Pages and map: their numbers against enumeration and the forecast, their hazards."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
from tests.learning.support import library

from trubshoot.diagnosis.network import Base
from trubshoot.diagnosis.noisy_or import Network
from trubshoot.learning.apart import likeness, telling_apart
from trubshoot.learning.forward import fault_names, forecast
from trubshoot.learning.hazards import hazards_to_learn
from trubshoot.learning.heat import heat
from trubshoot.safety import Level

SMALL = Base(
    ("warm", "cold", "old"),
    ("hot", "dull", "both"),
    Network(
        np.array([0.2, 0.1, 0.05]),
        np.array([[0.7, 0.0, 0.3], [0.0, 0.6, 0.3], [0.1, 0.5, 0.3]]),
        np.array([0.05, 0.1, 0.02]),
    ),
    {},
)


def _information(weights: list[float], rows: list[int], column: int) -> float:
    """Return the mutual information of cause and finding by summing over all four cells each."""
    total = sum(weights)
    joint = {}
    for place, row in enumerate(rows):
        silent = (1 - SMALL.network.leak[column]) * (1 - SMALL.network.strength[row, column])
        joint[place, 1] = weights[place] / total * (1 - silent)
        joint[place, 0] = weights[place] / total * silent
    told = 0.0
    for (place, seen), chance in joint.items():
        cause = sum(joint[place, other] for other in (0, 1))
        result = sum(joint[other, seen] for other in range(len(rows)))
        told += chance * math.log2(chance / (cause * result))
    return told


def test_what_tells_causes_apart_equals_enumeration() -> None:
    """The bits of every finding equal the mutual information summed cell by cell."""
    weights = [0.5, 0.3, 0.2]
    found = {item.finding: item for item in telling_apart(SMALL, SMALL.causes, weights)}
    for column, name in enumerate(SMALL.findings):
        by_hand = _information(weights, [0, 1, 2], column)
        if by_hand < 1e-9:  # as common under each: it tells nothing and is left out
            assert name not in found
        else:
            assert found[name].bits == pytest.approx(by_hand, abs=1e-12)
    assert found["hot"].chances[0] == pytest.approx(1 - 0.95 * 0.3)
    assert "both" not in found


def test_most_telling_stands_first_and_known_ones_are_left_out() -> None:
    """Findings come by falling bits; what is known already is not named again."""
    rows = telling_apart(SMALL, ["warm", "cold"])
    assert [row.bits for row in rows] == sorted((row.bits for row in rows), reverse=True)
    assert "hot" not in {
        row.finding for row in telling_apart(SMALL, ["warm", "cold"], None, {"hot"})
    }
    assert telling_apart(SMALL, ["warm"]) == []


def test_likeness_is_the_cosine() -> None:
    """The most alike cause is the one whose strengths point the same way."""
    (first, value), *_ = likeness(SMALL, "cold")
    one, other = SMALL.network.strength[1], SMALL.network.strength[2]
    cosine = float(one @ other / (np.linalg.norm(one) * np.linalg.norm(other)))
    assert (first, value) == ("old", pytest.approx(cosine))


def test_shares_of_a_finding_equal_enumeration() -> None:
    """How many of 100 got it from a cause equals the sum over every set of its causes."""
    key = "skunky"
    page = library().finding_page(key)
    network = library().work.base.network
    column = library().work.base.findings.index(key)
    linked = np.flatnonzero(network.strength[:, column])
    assert len(linked) <= 12, "too many for a test by enumeration"
    seen = 0.0
    made = dict.fromkeys(linked.tolist(), 0.0)
    for there in product((0, 1), repeat=len(linked)):
        prior = network.prior[linked]
        weight = float(np.prod(np.where(there, prior, 1 - prior)))
        silent = 1 - network.leak[column]
        for row, here in zip(linked, there, strict=True):
            silent *= 1 - here * network.strength[row, column]
        seen += weight * (1 - silent)
        for row, here in zip(linked.tolist(), there, strict=True):
            made[row] += weight * here * network.strength[row, column]
    shares = {share.cause.id: share.share for step in page.steps for share in step.causes}
    for row, chance in made.items():
        name = library().work.base.causes[row]
        assert shares[name] == pytest.approx(chance / seen, rel=1e-9)
    assert page.chance == pytest.approx(seen)


def test_every_page_can_be_made() -> None:
    """Every thing of the index has a page that names it."""
    for thing in library().index.things.values():
        page = library().page(thing)
        own = getattr(page, thing.kind)
        assert own == thing


def test_overview_has_all_steps_in_brewing_order() -> None:
    """Steps stand in brewing order, their faults most first."""
    overview = library().overview()
    assert [row.step.id for row in overview.steps] == list(library().knowledge.steps)
    assert sum(row.causes for row in overview.steps) == len(library().knowledge.causes)
    for row in overview.steps:
        chances = [made.chance for made in row.makes]
        assert chances == sorted(chances, reverse=True)
        assert chances, row.step


def test_step_page_numbers_are_those_of_the_forecast() -> None:
    """Chances on the page of a step are those of the model run forward, cause by cause."""
    shown = forecast(library().knowledge, library().work.base)
    for step in library().knowledge.steps:
        for made in library().step_page(step).makes:
            assert made.chance == pytest.approx(dict(shown.steps_of(made.finding.id))[step])
            alone = 1 - np.prod([1 - part.chance for part in made.by])
            assert made.chance == pytest.approx(alone)


def test_map_numbers_equal_the_forecast() -> None:
    """Every cell of the map is the forecast's chance of that step and fault; none is left out."""
    shown = forecast(library().knowledge, library().work.base)
    whole = heat(library().knowledge, shown)
    assert {row.fault.id for row in whole.rows} | _never(shown) == set(
        fault_names(library().knowledge)
    )
    for row in whole.rows:
        assert row.chance == shown.of_finding(row.fault.id)
        by_step = dict(shown.steps_of(row.fault.id))
        for step, chance in zip(whole.steps, row.by_step, strict=True):
            assert chance == by_step.get(step.id, 0.0)


def _never(shown: object) -> set[str]:
    made = getattr(shown, "made_by_step")  # noqa: B009 - a forecast
    findings = getattr(shown, "findings")  # noqa: B009
    return {name for column, name in enumerate(findings) if not (made[:, column] > 0).any()}


def test_map_can_be_cut_to_what_is_asked() -> None:
    """Top, steps and faults choose rows and columns, and what is left out is counted."""
    knowledge, shown = library().knowledge, library().beginner
    whole = heat(knowledge, shown)
    few = heat(knowledge, shown, 5)
    assert len(few.rows) == 5
    assert few.left_out == len(whole.rows) - 5
    best = sorted((max(row.by_step) for row in whole.rows), reverse=True)[:5]
    assert sorted((max(row.by_step) for row in few.rows), reverse=True) == best
    one = heat(knowledge, shown, steps=["timing"], faults=["butter_popcorn"])
    assert [step.id for step in one.steps] == ["timing"]
    assert one.chance("timing", "butter_popcorn") == whole.chance("timing", "butter_popcorn")


def test_pages_of_bottle_hazards_stand_under_their_block() -> None:
    """What a bottle hazard hangs on carries its block, and sends nobody to a bottle."""
    suspect = [
        library().finding_page(name)
        for name in ("gusher_all", "gusher_some", "bottle_burst", "test_bottle_rock_hard")
    ]
    for page in suspect:
        assert page.hazards
        assert page.hazards[0].level >= Level.WARNING
        for row in page.apart:
            assert row.may_check == bool(row.how)
            if row.may_check:
                assert row.by == "ask"
    cause = library().cause_page("packaged_too_early")
    assert cause.hazards
    opening = {"open_bottle", "taste", "handle_bottles", "warm"}
    given = library().knowledge.causes["packaged_too_early"].now
    forbidden = {step.do for step in given.bottled if step.action in opening}
    shown = {step for part in cause.now for step in part.steps}
    assert not shown & forbidden


def test_no_trial_that_a_hazard_forbids_is_told() -> None:
    """Where bottles are suspect, no cause is to be settled by opening, handling or tasting one."""
    withheld = 0
    for name in ("gusher_all", "pours_all_foam", "bottle_burst", "cap_leaks"):
        for step in library().finding_page(name).steps:
            for share in step.causes:
                trial = library().knowledge.causes[share.cause.id].confirm
                if trial.action in ("open_bottle", "handle_bottles", "taste"):
                    assert share.confirm == "", (name, share.cause.id)
                    withheld += 1
    assert withheld > 0
    assert library().cause_page("served_warm_or_shaken").confirm == ""


def test_withheld_steps_are_counted() -> None:
    """For every cause, steps shown and steps withheld together are the steps of the knowledge."""
    for name, cause in library().knowledge.causes.items():
        page = library().cause_page(name)
        for part in page.now:
            of_all = [step.do for step in getattr(cause.now, part.stage)]
            assert len(part.steps) + part.withheld == len(of_all)
            assert set(part.steps) <= set(of_all)


def test_every_cause_shows_the_hazards_of_what_it_makes() -> None:
    """A page is never milder than what its cause may make: topic and level of every block."""
    shown = 0
    for key, cause in library().knowledge.causes.items():
        there = library().cause_page(key).hazards
        for link in cause.links:
            if link.strength >= 0.1:
                blocks = hazards_to_learn(library().work, [link.finding])
                for block in blocks:
                    levels = [one.level for one in there if one.topic == block.topic]
                    assert max(levels, default=Level.NONE) >= block.level, (key, link.finding)
                    shown += 1
    assert shown > 50
