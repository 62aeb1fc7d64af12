"""How a cellar's own confirmed batches shift the chances of causes beforehand.

Beta-binomial: the textbook's chance p of a cause counts as N batches of which p N had it. After n
confirmed batches of one's own, k of them with this cause, the chance is (p N + k) / (N + n), the
mean of a beta distribution with p N + k and (1 - p) N + n - k (Gelman and others, Bayesian Data
Analysis, from memory). The odds then stay within stated bounds of the textbook's. N and the bounds
are in knowledge/constants.yaml; all three are judgement.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path

from trubshoot.batch import Batch
from trubshoot.diagnosis.own_history import OwnHistory, OwnPrior
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.learning.history import History, counted, same_batch

STRENGTH, MOST, LEAST = (
    "own_history_strength_batches",
    "own_history_most_odds",
    "own_history_least_odds",
)


def beta_mean(textbook: float, strength: float, count: int, confirmed: int) -> float:
    """Return the mean of the beta distribution after `count` of `confirmed` batches.

    Args:
        textbook: chance beforehand, between 0 and 1.
        strength: batches that this chance counts as, above 0.
        count: own batches with the cause.
        confirmed: own batches altogether.
    """
    return (textbook * strength + count) / (strength + confirmed)


def bounded(textbook: float, own: float, least: float, most: float) -> float:
    """Return a chance whose odds stay within `least` and `most` times the textbook's odds."""
    before = textbook / (1 - textbook)
    odds = min(max(own / (1 - own), before * least), before * most)
    return odds / (1 + odds)


def own_history(
    history: History, knowledge: KnowledgeBase, batch: Batch, path: Path | None
) -> OwnHistory:
    """Return the shifted chances for one batch; what it turned out to be itself is left out.

    Causes that are normal in brewing keep the textbook's chance: they are there in most batches,
    and nobody confirms them.

    Args:
        history: the confirmed batches of the cellar.
        knowledge: causes and constants.
        batch: the batch asked about; it and its copies never count for themselves.
        path: its file, if there is one.
    """
    own = None if path is None else path.resolve()
    same = same_batch(batch)
    others = [item for item in history.batches if item.same != same and item.path.resolve() != own]
    told = counted(others)
    counts = Counter(item.cause for item in told)
    strength = knowledge.constant(STRENGTH)
    least, most = knowledge.constant(LEAST), knowledge.constant(MOST)
    priors = {}
    for cause in knowledge.causes.values():
        if cause.kind == "normal":
            continue
        count = counts[cause.id]
        free = beta_mean(cause.prior, strength, count, len(told))
        kept = bounded(cause.prior, free, least, most)
        held = abs(kept - free) > 1e-9
        priors[cause.id] = OwnPrior(cause.id, cause.label, cause.prior, kept, count, held)
    return OwnHistory(str(history.folder), len(told), strength, priors, len(history.unreadable))
