"""The steps of the brew: every deed of the log has its place among them."""

from __future__ import annotations

from collections import Counter

import pytest
from tests.report.page.support import ASKED, EXAMPLES, example, seen, work

from trubshoot.batch.verbs import VERBS


def test_every_verb_belongs_to_exactly_one_step() -> None:
    """The steps of the knowledge share out all verbs of the log, and name none that is not one."""
    counted = Counter(verb for step in work().knowledge.steps.values() for verb in step.deeds)
    assert set(counted) == set(VERBS)
    assert set(counted.values()) == {1}


def test_deeds_and_causes_stand_at_their_step() -> None:
    """Deeds are found under their step in order of time, causes under the step they name."""
    steps = {step.id: step for step in example("bottled_too_early").process}
    assert list(steps) == list(work().knowledge.steps)
    assert [done.deed.verb for done in steps["packaging"].done] == ["bottled"]
    assert [done.deed.verb for done in steps["yeast_pitch"].done] == ["pitched"]
    leading = example("bottled_too_early").diagnosis.named_causes[0]
    assert [cause.id for cause in steps[leading.step].causes] == [leading.id]
    assert steps[leading.step].causes[0].rank == 1


def test_deeds_to_come_are_left_out() -> None:
    """What the log says of a day after the question has not been done yet."""
    text = "batch: x\nlog:\n  - {day: 0, did: pitched}\n  - {day: 5, did: dry hopped}\ntoday: 3\n"
    steps = {step.id: step for step in seen(text, "2026-11-25").process}
    assert steps["yeast_pitch"].done
    assert not steps["dry_hop"].done


@pytest.mark.parametrize("name", sorted(ASKED))
def test_the_bottling_check_of_a_page_is_that_of_its_diagnosis(name: str) -> None:
    """Verdict and hazards of both are the same: no GO stands beside a hazard that forbids it."""
    seen_here = example(name)
    assert seen_here.bottling.verdict == seen_here.diagnosis.bottling
    assert seen_here.bottling.hazards == seen_here.diagnosis.hazards


def test_a_hazard_of_the_log_ends_a_go() -> None:
    """A plan that may go ahead no longer may once a burst bottle is in the log."""
    plan = (
        "storage: {where: cellar, temp: 16 C}\n"
        "plan: {sugar: 95 g table sugar, volume: 18 l, dosing: bulk, target: 2.4 vol,"
        " headspace: 4 %, weighed: yes, stirred: yes}\n"
    )
    text = plan + (EXAMPLES / "all_well.yaml").read_text("utf-8")
    calm = seen(text, "2026-09-20")
    assert calm.bottling.verdict is not None
    assert calm.bottling.verdict.go
    assert calm.bottling.limits
    told = seen(f"{text.rstrip()}\n  - {{at: 2026-09-20, saw: a bottle burst}}\n", "2026-09-20")
    assert told.bottling.verdict is not None
    assert not told.bottling.verdict.go
    assert told.bottling.limits == ()
    assert told.alarming
