"""Own confirmed batches shift chances by a stated and bounded amount, and nothing else."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trubshoot.batch import read_batch
from trubshoot.diagnosis import Diagnostician
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.learning.history import Confirmation, Confirmed, History, read_history, same_batch
from trubshoot.learning.own_priors import LEAST, MOST, STRENGTH, beta_mean, bounded, own_history

EXAMPLES = sorted((Path(__file__).resolve().parents[2] / "docs" / "examples").glob("*.yaml"))
NOW = datetime(2026, 11, 1, 12)


def _integrated(textbook: float, strength: float, count: int, confirmed: int) -> float:
    """Return the same mean from Bayes' rule alone: prior times likelihood, summed over chances."""
    chance = np.linspace(0, 1, 400_001)[1:-1]
    log = (textbook * strength - 1) * np.log(chance)
    log += ((1 - textbook) * strength - 1) * np.log1p(-chance)
    log += count * np.log(chance) + (confirmed - count) * np.log1p(-chance)
    weight = np.exp(log - log.max())
    return float((chance * weight).sum() / weight.sum())


@pytest.mark.parametrize(
    ("textbook", "strength", "count", "confirmed"),
    [(0.08, 20, 3, 8), (0.25, 20, 0, 8), (0.5, 10, 10, 10), (0.15, 50, 7, 100), (0.3, 20, 0, 0)],
)
def test_mean_is_that_of_bayes_rule(
    textbook: float, strength: float, count: int, confirmed: int
) -> None:
    """The closed form is the posterior mean, by summing prior times likelihood over all chances.

    Outside reference: Bayes' rule with a beta prior and a binomial likelihood, integrated.
    """
    assert beta_mean(textbook, strength, count, confirmed) == pytest.approx(
        _integrated(textbook, strength, count, confirmed), abs=2e-5
    )


def test_mean_by_hand() -> None:
    """8 % counting as 20 batches is 1.6 of 20; with 3 of 8 more it is 4.6 of 28, or 16.4 %."""
    assert beta_mean(0.08, 20, 3, 8) == pytest.approx(4.6 / 28)
    assert beta_mean(0.08, 20, 0, 0) == 0.08


@settings(max_examples=300, deadline=None)
@given(
    textbook=st.floats(0.001, 0.95),
    confirmed=st.integers(0, 10_000),
    share=st.floats(0, 1),
    strength=st.floats(1, 100),
)
def test_shift_is_bounded(textbook: float, confirmed: int, share: float, strength: float) -> None:
    """However many batches, odds stay between half and four times, and go the way of the counts."""
    count = round(share * confirmed)
    free = beta_mean(textbook, strength, count, confirmed)
    kept = bounded(textbook, free, 0.5, 4.0)
    ratio = (kept / (1 - kept)) / (textbook / (1 - textbook))
    assert 0 < kept < 1
    assert 0.5 - 1e-9 <= ratio <= 4.0 + 1e-9
    assert (ratio - 1) * (free - textbook) >= -1e-12


def test_constants_are_judgement_and_in_order(knowledge: KnowledgeBase) -> None:
    """The three numbers are in the knowledge, called judgement, and make sense together."""
    for name in (STRENGTH, MOST, LEAST):
        constant = knowledge.constants[name]
        assert constant.sources == ("judgement",)
        assert constant.low is not None
        assert constant.high is not None
        assert constant.low < constant.value < constant.high
    assert knowledge.constant(LEAST) < 1 < knowledge.constant(MOST)


def _history(*causes: str, copies: int = 1) -> History:
    batches = [
        Confirmed(Path(f"b{number}.yaml"), (f"b{number}", ""), Confirmation(cause, True))
        for number, cause in enumerate(causes * copies)
    ]
    return History(Path(), tuple(batches))


def test_counts_of_a_cellar(knowledge: KnowledgeBase) -> None:
    """Three of eight is told as three of eight; guesses do not count; normal things keep theirs."""
    history = _history(*["packaged_too_early"] * 3, *["weak_glass"] * 4, "")
    guess = Confirmed(Path("g.yaml"), ("g", ""), Confirmation("weak_glass", False))
    history = replace(history, batches=(*history.batches, guess))
    own = own_history(history, knowledge, read_batch("batch: x"), None)
    assert own.confirmed == 8
    told = own.priors["packaged_too_early"]
    assert told.count == 3
    assert told.own == pytest.approx(4.6 / 28)
    assert not told.at_bound
    assert own.priors["underpitched"].own < own.priors["underpitched"].textbook
    assert [prior.cause for prior in own.seen] == ["weak_glass", "packaged_too_early"]
    normal = {cause.id for cause in knowledge.causes.values() if cause.kind == "normal"}
    assert normal
    assert normal.isdisjoint(own.priors)


def test_many_confirmations_stop_at_the_bound(knowledge: KnowledgeBase) -> None:
    """A thousand of a thousand multiplies the odds by the bound, and says so."""
    own = own_history(_history("weak_glass", copies=1000), knowledge, read_batch("batch: x"), None)
    told = own.priors["weak_glass"]
    assert told.at_bound
    ratio = (told.own / (1 - told.own)) / (told.textbook / (1 - told.textbook))
    assert ratio == pytest.approx(knowledge.constant(MOST))
    other = own.priors["underpitched"]
    ratio = (other.own / (1 - other.own)) / (other.textbook / (1 - other.textbook))
    assert ratio == pytest.approx(knowledge.constant(LEAST))


def test_a_batch_never_counts_for_itself(
    tmp_path: Path, diagnostician: Diagnostician, knowledge: KnowledgeBase
) -> None:
    """Leave one out: of three confirmed batches each sees two; a copy in a backup is itself."""
    text = "batch: {0}\nlog:\n  - {{at: 2026-03-0{1}, did: pitched}}\n"
    line = "  - {{at: 2026-04-01, turned_out: weak_glass}}\n"
    for number, name in enumerate("abc", 1):
        (tmp_path / f"{name}.yaml").write_text((text + line).format(name, number), "utf-8")
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / "copy_of_a.yaml").write_text((text + line).format("a", 1), "utf-8")
    history = read_history(tmp_path, knowledge, NOW)
    for name in "abc":
        path = tmp_path / f"{name}.yaml"
        own = own_history(history, knowledge, read_batch(path), path)
        assert (own.confirmed, own.priors["weak_glass"].count) == (2, 2)
    stranger = own_history(history, knowledge, read_batch("batch: d"), None)
    assert stranger.confirmed == 3


# what a cellar might have confirmed, to push any cause up or all of them down
_PUSHED = ["normal_degassing", "still_fermenting", "packaged_too_early", "weak_glass", ""]


@pytest.mark.parametrize("path", EXAMPLES, ids=[path.stem for path in EXAMPLES])
def test_no_hazard_hold_or_pressure_moves(
    path: Path, diagnostician: Diagnostician, knowledge: KnowledgeBase
) -> None:
    """Whatever was confirmed, and however often: hazards, verdict and evidence stay as they are."""
    batch = read_batch(path, NOW)
    plain = diagnostician.diagnose(batch, NOW)
    for causes in combinations(_PUSHED, 2):
        own = own_history(_history(*causes, copies=200), knowledge, batch, path)
        told = diagnostician.diagnose(batch, NOW, own=own)
        assert told.hazards == plain.hazards
        assert told.level == plain.level
        assert told.bottling == plain.bottling
        assert told.evidence == plain.evidence
        assert told.findings == plain.findings
        assert told.causes != plain.causes  # the ranking does see it


def test_weights_still_add_up(diagnostician: Diagnostician, knowledge: KnowledgeBase) -> None:
    """Prior, own batches, circumstances and findings add up to the posterior of each cause."""
    batch = read_batch(EXAMPLES[0].with_name("bottled_too_early.yaml"), NOW)
    own = own_history(_history("packaged_too_early", copies=6), knowledge, batch, None)
    told = diagnostician.diagnose(batch, NOW, own=own)
    for cause in told.causes[:3]:
        total = sum(weight.decibans for weight in cause.weights)
        odds = cause.posterior / (1 - cause.posterior)
        assert total == pytest.approx(10 * np.log10(odds), abs=0.05)
        mine = next(weight for weight in cause.weights if weight.what == "own_history")
        assert (mine.decibans > 0) is (cause.id == "packaged_too_early")
    assert same_batch(batch)[0] == "lantern street amber no 4"
