"""The ranker against a general library for Bayesian networks: pgmpy's variable elimination."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import numpy as np
import pytest
from tests.diagnosis.enumeration import random_network, random_told
from tests.diagnosis.library import asker, in_chains, with_links

from trubshoot.batch import read_batch
from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.network import make_case
from trubshoot.diagnosis.noisy_or import Told, rank
from trubshoot.knowledge_base import KnowledgeBase

CLOSE = 1e-9
EXAMPLES = Path(__file__).resolve().parents[2] / "docs" / "examples"
NOW = datetime(2026, 11, 25, 12)


@pytest.mark.parametrize("number", range(8))
def test_equals_a_library_for_bayesian_networks(number: int) -> None:
    """Noisy-OR as tables and links as nodes: posteriors, responsibilities and "none of these"."""
    random = np.random.default_rng(1000 + number)
    network = random_network(random, 4, 4, density=0.6)
    told = random_told(random, 4, most=4)
    if not told.up:
        told = Told((1,), (0,), (0.0,), (1.0,))
    model, evidence = with_links(network, told)
    got, chance = rank(network, told), asker(model, evidence)
    for i in range(4):
        assert got.posterior[i] == pytest.approx(chance(f"c{i}"), abs=CLOSE)
        made = chance(f"made{i}") if model.has_node(f"made{i}") else 0.0
        assert got.responsibility[i] == pytest.approx(made, abs=CLOSE)
    none = 1 - chance("made") if model.has_node("made") else 1.0
    assert got.none_of_these == pytest.approx(none, abs=CLOSE)


def test_a_whole_case_equals_the_library(knowledge: KnowledgeBase) -> None:
    """All causes of a shipped example, with the whole knowledge, get the library's posterior."""
    work = Diagnostician(knowledge)
    diagnosis = work.diagnose(read_batch(EXAMPLES / "bottled_too_early.yaml", NOW), NOW)
    case = make_case(
        work.base,
        diagnosis.findings,
        [one.id for one in diagnosis.contexts],
        {one.id for one in diagnosis.ruled_out},
    )
    model, evidence, linked = in_chains(case.network, case.told)
    got, chance = rank(case.network, case.told), asker(model, evidence)
    assert len(linked) > 30
    for i in linked:
        assert got.posterior[i] == pytest.approx(chance(f"c{i}"), abs=CLOSE)
