"""The steps of the brew: every deed of the log has its place among them."""

from __future__ import annotations

from collections import Counter
from datetime import datetime

from tests.report.page.support import EXAMPLES, example, seen, work

from trubshoot.batch import read_batch
from trubshoot.batch.verbs import VERBS
from trubshoot.diagnosis.overview import overview


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


def test_words_beside_the_log_reach_the_bottling_check() -> None:
    """What is said beside the log counts for verdict and hazards alike: no GO beside a hazard."""
    plan = (
        "storage: {where: cellar, temp: 16 C}\n"
        "plan: {sugar: 95 g table sugar, volume: 18 l, dosing: bulk, target: 2.4 vol,"
        " headspace: 4 %, weighed: yes, stirred: yes}\n"
    )
    text = (EXAMPLES / "all_well.yaml").read_text("utf-8") + plan
    now = datetime(2026, 9, 20, 23)
    batch = read_batch(text, now)
    calm = overview(work(), batch, now)
    assert calm.bottling.verdict is not None
    assert calm.bottling.verdict.go
    assert calm.bottling.limits
    told = overview(work(), batch, now, [("saw", "a bottle burst")])
    assert told.bottling.verdict == told.diagnosis.bottling
    assert told.bottling.hazards == told.diagnosis.hazards
    assert told.bottling.verdict is not None
    assert not told.bottling.verdict.go
    assert told.bottling.limits == ()
    assert told.alarming
