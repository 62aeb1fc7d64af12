"""The complaint and what was told only when asked: causes are ranked by what is complained of."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest

from trubshoot.batch import read_batch
from trubshoot.diagnosis import Diagnosis, Diagnostician
from trubshoot.diagnosis.network import FindingState, make_case
from trubshoot.diagnosis.noisy_or import rank
from trubshoot.diagnosis.sampling import sample
from trubshoot.report import wording

NOW = datetime(2026, 11, 25, 18)
HEAD = "batch: x\nlog:\n  - {at: 2026-10-01, did: pitched}\n  - {at: 2026-10-20, did: bottled}\n"


def diagnosed(work: Diagnostician, *lines: str) -> Diagnosis:
    """Return the diagnosis of a batch in bottles with some lines more."""
    log = "".join(f"  - {{at: 2026-11-25, {line}}}\n" for line in lines)
    return work.diagnose(read_batch(HEAD + log, NOW), NOW)


def test_a_harmless_answer_is_not_the_first_cause(diagnostician: Diagnostician) -> None:
    """A layer of yeast that is there when asked does not explain why the beer smells of skunk."""
    layer = "saw: thin pale layer at the bottom"
    asked = diagnosed(diagnostician, "smelled: skunk", f"{layer}, asked: yes")
    told = diagnosed(diagnostician, "smelled: skunk", layer)
    assert asked.causes[0].id == "light_exposure"
    assert told.causes[0].id == "normal_sediment"
    assert {state.id: state.asked for state in asked.findings if state.up} == {
        "skunky": False,
        "sediment_layer": True,
    }


def test_an_answer_is_evidence_all_the_same(diagnostician: Diagnostician) -> None:
    """What was told when asked moves the chance that a cause is there just as much."""
    lines = ("saw: every bottle is flat", "saw: caps loose")
    asked = diagnosed(diagnostician, lines[0], f"{lines[1]}, asked: yes")
    told = diagnosed(diagnostician, *lines)
    there = {cause.id: cause.posterior for cause in told.causes}
    assert {cause.id: cause.posterior for cause in asked.causes} == pytest.approx(there)


def test_another_fault_found_by_asking_is_named_beside(diagnostician: Diagnostician) -> None:
    """Vinegar smelled only when asked is no reason for skunk, and still not kept quiet."""
    found = diagnosed(diagnostician, "tasted: skunky", "smelled: vinegar, asked: yes")
    beside = {cause.id for cause in found.beside_causes}
    assert "acetic_contamination" in beside
    assert found.causes[0].id == "light_exposure"
    harmless = diagnosed(diagnostician, "tasted: skunky", "saw: thin pale layer, asked: yes")
    assert harmless.beside_causes == ()
    labels = {key: one.label for key, one in diagnostician.knowledge.findings.items()}
    assert any("Vinegar" in line for line in wording.beside_lines(found, labels))
    told = diagnosed(diagnostician, "tasted: skunky", "smelled: vinegar")
    assert told.beside_causes == ()


def test_nothing_but_answers_are_the_complaint(diagnostician: Diagnostician) -> None:
    """Where nothing was complained of, what was told when asked is what there is to explain."""
    asked = diagnosed(diagnostician, "smelled: vinegar, asked: yes")
    told = diagnosed(diagnostician, "smelled: vinegar")
    assert [cause.id for cause in asked.causes] == [cause.id for cause in told.causes]
    assert asked.causes[0].responsibility == told.causes[0].responsibility


def test_the_taste_that_is_named_stands_for_the_wrong_one(diagnostician: Diagnostician) -> None:
    """ "Tastes wrong" is the complaint; so is the taste that names it, also when told on asking."""
    found = diagnosed(diagnostician, "tasted: it tastes wrong", "smelled: vinegar, asked: yes")
    assert [(state.id, state.asked) for state in found.findings if state.up] == [("vinegar", False)]


def test_said_unasked_too_it_is_the_complaint(diagnostician: Diagnostician) -> None:
    """What somebody says by himself stays the complaint when it is asked about again."""
    found = diagnosed(diagnostician, "smelled: vinegar, asked: yes", "smelled: vinegar")
    assert [state.asked for state in found.findings if state.up] == [False]


def test_sampling_ranks_by_the_complaint_as_well(diagnostician: Diagnostician) -> None:
    """With too many findings to be exact, the same is estimated, to 0.05."""
    states = [
        FindingState("skunky", 0.0, 1.0, "said"),
        *(
            FindingState(name, 0.0, 1.0, "said", asked=True)
            for name in ("sediment_layer", "flat_all_bottles", "cap_leaks")
        ),
    ]
    case = make_case(diagnostician.base, states)
    assert case.about is not None
    exact = rank(case.network, case.told, case.about)
    about = sample(case.network, case.told, case.about)
    assert about.responsibility == pytest.approx(exact.responsibility, abs=0.05)
    assert about.none_of_these == pytest.approx(exact.none_of_these, abs=0.05)
    everything = make_case(diagnostician.base, [replace(state, asked=False) for state in states])
    assert everything.about is None
