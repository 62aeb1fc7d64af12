"""The ranker against enumeration."""

from __future__ import annotations

import itertools
import math
from typing import Any

import numpy as np
import pytest
from tests.diagnosis.enumeration import Answer, enumerated, random_network, random_told

from trubshoot.diagnosis.noisy_or import (
    DECIBANS,
    Network,
    Ranking,
    Told,
    entropy_bits,
    explain,
    rank,
    value_of_asking,
    with_odds,
)

CLOSE = 1e-9
LAWS = 400  # random networks for each law


def close(got: Ranking, right: Answer | Ranking) -> None:
    """Assert that two answers agree in everything."""
    assert got.evidence == pytest.approx(right.evidence, abs=CLOSE, rel=CLOSE)
    np.testing.assert_allclose(got.posterior, right.posterior, atol=CLOSE)
    np.testing.assert_allclose(got.responsibility, right.responsibility, atol=CLOSE)
    assert got.none_of_these == pytest.approx(right.none_of_these, abs=CLOSE)


def sure(present: tuple[int, ...] = (), absent: tuple[int, ...] = ()) -> Told:
    """Return findings told for sure."""
    return Told(absent, present, (0.0,) * len(present), (1.0,) * len(present))


def add(told: Told, column: int, *, present: bool) -> Told:
    """Return what was told, and one finding more for sure."""
    if not present:
        return Told((*told.absent, column), told.findings, told.if_not_so, told.if_so)
    return Told(
        told.absent,
        (*told.findings, column),
        (*told.if_not_so, 0.0),
        (*told.if_so, 1.0),
    )


# --- against enumeration


@pytest.mark.parametrize("number", range(60))
def test_equals_enumeration(number: int) -> None:
    """Posterior, responsibility, evidence and "none of these" equal the sum over all worlds."""
    random = np.random.default_rng(number)
    network = random_network(random, int(random.integers(1, 4)), 4)
    told = random_told(random, 4, most=4)
    close(rank(network, told), enumerated(network, told))


def test_by_hand() -> None:
    """One cause, one finding: the textbook fraction, with the shares of cause and leak."""
    network = Network(np.array([0.1]), np.array([[0.8]]), np.array([0.05]))
    got = rank(network, sure((0,)))
    evidence = 0.1 * (1 - 0.2 * 0.95) + 0.9 * 0.05  # there: link or leak; not there: leak
    assert got.evidence == pytest.approx(evidence)
    assert got.posterior[0] == pytest.approx(0.1 * (1 - 0.2 * 0.95) / evidence)
    assert got.responsibility[0] == pytest.approx(0.1 * 0.8 / evidence)
    assert got.none_of_these == pytest.approx(1 - 0.1 * 0.8 / evidence)
    silent = rank(network, sure(absent=(0,)))
    assert silent.posterior[0] == pytest.approx(0.1 * 0.2 / (0.1 * 0.2 + 0.9))
    assert silent.responsibility[0] == 0
    assert silent.none_of_these == 1


def test_nothing_told_leaves_the_priors() -> None:
    """Without anything told the posteriors are the priors and nobody made anything."""
    network = random_network(np.random.default_rng(1), 4, 3)
    got = rank(network, Told())
    np.testing.assert_allclose(got.posterior, network.prior)
    assert got.evidence == pytest.approx(1)
    assert got.none_of_these == 1
    assert not got.responsibility.any()


def test_weights_that_say_nothing_change_nothing() -> None:
    """A finding told with equal weights is a finding not told."""
    random = np.random.default_rng(5)
    network = random_network(random, 4, 4)
    plain = rank(network, sure((0, 1)))
    idle = rank(network, Told((), (0, 1, 2), (0.0, 0.0, 0.3), (1.0, 1.0, 0.3)))
    np.testing.assert_allclose(idle.posterior, plain.posterior, atol=1e-12)
    np.testing.assert_allclose(idle.responsibility, plain.responsibility, atol=1e-12)
    assert idle.evidence == pytest.approx(0.3 * plain.evidence)


def test_soft_weights_tend_to_the_sure_ones() -> None:
    """Weights near (0, 1) and (1, 0) give what sure findings give."""
    network = random_network(np.random.default_rng(6), 4, 3)
    soft = rank(network, Told((), (0, 1), (1e-12, 1.0), (1.0, 1e-12)))
    hard = rank(network, sure((0,), (1,)))
    np.testing.assert_allclose(soft.posterior, hard.posterior, atol=1e-9)


def test_no_digit_is_lost_with_many_findings() -> None:
    """With 14 findings told the answer equals a sum over causes in exact fractions."""
    from fractions import Fraction

    random = np.random.default_rng(3)
    network = random_network(random, 5, 14, density=0.6)
    present = tuple(range(14))
    prior = [Fraction(value) for value in network.prior]
    strength = [[Fraction(value) for value in row] for row in network.strength]
    leak = [Fraction(value) for value in network.leak]
    total, joint = Fraction(0), [Fraction(0)] * 5
    for world in itertools.product((0, 1), repeat=5):
        chance = Fraction(1)
        for cause, is_there in enumerate(world):
            chance *= prior[cause] if is_there else 1 - prior[cause]
        for column in present:
            off = 1 - leak[column]
            for cause, is_there in enumerate(world):
                if is_there:
                    off *= 1 - strength[cause][column]
            chance *= 1 - off
        total += chance
        joint = [had + chance * is_there for had, is_there in zip(joint, world, strict=True)]
    got = rank(network, sure(present))
    assert got.evidence == pytest.approx(float(total), rel=1e-12)
    right = [float(part / total) for part in joint]
    np.testing.assert_allclose(got.posterior, right, rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize(
    ("prior", "strength", "leak", "says"),
    [
        ([0.0], [[0.5]], [0.1], "priors"),
        ([1.0], [[0.5]], [0.1], "priors"),
        ([0.5], [[1.0]], [0.1], "strengths"),
        ([0.5], [[-0.1]], [0.1], "strengths"),
        ([0.5], [[0.5]], [0.0], "no finding is impossible"),
        ([0.5], [[0.5]], [1.0], "leaks"),
        ([0.5], [[0.5, 0.5]], [0.1], "do not fit together"),
        ([float("nan")], [[0.5]], [0.1], "priors"),
    ],
)
def test_impossible_numbers_are_refused(
    prior: list[float], strength: list[list[float]], leak: list[float], says: str
) -> None:
    """A network with certainties or of the wrong shape is refused."""
    with pytest.raises(ValueError, match=says):
        Network(np.array(prior), np.array(strength), np.array(leak))


# --- explanation


@pytest.mark.parametrize("number", range(25))
def test_explanation_adds_up(number: int) -> None:
    """Prior, absent findings and shares add up to the posterior, in decibans."""
    random = np.random.default_rng(2000 + number)
    network = random_network(random, 5, 7)
    told = random_told(random, 7, most=7)
    posterior = rank(network, told).posterior
    for cause in range(5):
        why = explain(network, told, [cause])[0]
        chance = posterior[cause]
        assert why.posterior == pytest.approx(DECIBANS * math.log(chance / (1 - chance)), abs=1e-8)
        assert why.prior + why.absent + sum(why.shares.values()) == pytest.approx(
            why.posterior, abs=CLOSE
        )
        assert set(why.shares) == set(told.findings)


def test_shares_are_the_mean_over_all_orders() -> None:
    """A share is the mean gain over all orders in which the findings could be told."""
    random = np.random.default_rng(8)
    network = random_network(random, 4, 4, density=0.9)
    told = Told((3,), (0, 1, 2), (0.0, 0.2, 0.7), (1.0, 0.9, 0.1))

    def weight(columns: tuple[int, ...]) -> float:
        kept = [told.findings.index(column) for column in columns]
        part = Told(
            told.absent,
            columns,
            tuple(told.if_not_so[k] for k in kept),
            tuple(told.if_so[k] for k in kept),
        )
        chance = float(rank(network, part).posterior[1])
        return DECIBANS * math.log(chance / (1 - chance))

    gains: dict[int, list[float]] = {0: [], 1: [], 2: []}
    for order in itertools.permutations(told.findings):
        for place, column in enumerate(order):
            gains[column].append(weight(order[: place + 1]) - weight(order[:place]))
    shares = explain(network, told, [1])[0].shares
    for column, values in gains.items():
        assert shares[column] == pytest.approx(sum(values) / 6, abs=CLOSE)


def test_a_finding_without_link_speaks_only_through_others() -> None:
    """A finding that a cause has no link to weighs nothing when it is the only one told."""
    network = Network(
        np.array([0.1, 0.2]), np.array([[0.0, 0.5], [0.7, 0.5]]), np.array([0.05, 0.05])
    )
    assert explain(network, sure((0,)), [0])[0].shares[0] == pytest.approx(0, abs=1e-12)
    assert explain(network, sure((0, 1)), [0])[0].shares[0] < -0.5  # the other cause explains more


# --- what a question is worth


@pytest.mark.parametrize("number", range(25))
def test_value_of_asking_equals_two_rankings(number: int) -> None:
    """Chance of yes, gain and same leader equal ranking both answers one after the other."""
    random = np.random.default_rng(3000 + number)
    network = random_network(random, 5, 8)
    told = random_told(random, 6, most=5)
    now = rank(network, told)
    used = {*told.findings, *told.absent}
    candidates = [column for column in range(8) if column not in used]
    questions = value_of_asking(network, told, now, candidates)
    assert [question.finding for question in questions] == candidates
    for question in questions:
        yes = rank(network, add(told, question.finding, present=True))
        no = rank(network, add(told, question.finding, present=False))
        assert question.chance_yes == pytest.approx(yes.evidence / now.evidence, abs=CLOSE)
        chance = yes.evidence / now.evidence
        after = chance * entropy_bits(yes.posterior).sum()
        after += (1 - chance) * entropy_bits(no.posterior).sum()
        before = entropy_bits(now.posterior).sum()
        assert question.gain_bits == pytest.approx(before - after, abs=1e-8)
        leader = now.posterior.argmax()
        same = chance * (yes.posterior.argmax() == leader)
        same += (1 - chance) * (no.posterior.argmax() == leader)
        assert question.same_leader == pytest.approx(same, abs=CLOSE)


def test_nothing_to_ask() -> None:
    """Without candidates there is no question."""
    network = random_network(np.random.default_rng(1), 3, 3)
    assert value_of_asking(network, Told(), rank(network, Told()), []) == []


# --- laws that hold (and only those: see the dossier on inference, D4)


def _draws() -> Any:
    random = np.random.default_rng(20261125)
    for _ in range(LAWS):
        causes, findings = int(random.integers(2, 7)), int(random.integers(2, 7))
        network = random_network(random, causes, findings, density=0.5)
        told = random_told(random, findings, most=findings, soft=False)
        yield random, network, told, int(random.integers(causes))


def _odds(chance: float) -> float:
    return chance / (1 - chance)


def test_law_prior_odds() -> None:
    """Doubling the prior odds of a cause doubles its posterior odds."""
    for _, network, told, cause in _draws():
        factor = np.ones(len(network.prior))
        factor[cause] = 2.0
        more = Network(with_odds(network.prior, factor), network.strength, network.leak)
        before = _odds(rank(network, told).posterior[cause])
        assert _odds(rank(more, told).posterior[cause]) == pytest.approx(2 * before, rel=1e-8)


def test_law_stronger_link() -> None:
    """A stronger link to a present finding raises the cause; to an absent one it lowers it."""
    for _, network, told, cause in _draws():
        before = rank(network, told).posterior[cause]
        for column, sign in [*((c, 1) for c in told.findings), *((c, -1) for c in told.absent)]:
            strength = network.strength.copy()
            strength[cause, column] = min(0.99, strength[cause, column] + 0.2)
            after = rank(Network(network.prior, strength, network.leak), told).posterior[cause]
            assert sign * (after - before) >= -1e-12


def test_law_order() -> None:
    """The order in which findings are told changes nothing."""
    for random, network, told, _ in _draws():
        order = random.permutation(len(told.findings))
        turned = Told(
            tuple(reversed(told.absent)),
            tuple(told.findings[k] for k in order),
            tuple(told.if_not_so[k] for k in order),
            tuple(told.if_so[k] for k in order),
        )
        close(rank(network, turned), rank(network, told))


def test_law_total_probability() -> None:
    """The answers yes and no, weighed by their chances, mix to what is known now."""
    for _, network, told, _ in _draws():
        free = set(range(len(network.leak))) - {*told.findings, *told.absent}
        now = rank(network, told)
        for column in sorted(free)[:1]:
            yes = rank(network, add(told, column, present=True))
            no = rank(network, add(told, column, present=False))
            assert yes.evidence + no.evidence == pytest.approx(now.evidence, rel=1e-10)
            mixed = yes.evidence * yes.posterior + no.evidence * no.posterior
            np.testing.assert_allclose(mixed / now.evidence, now.posterior, atol=1e-9)


def test_law_first_positive() -> None:
    """With no other finding present, a linked one raises the cause and its absence lowers it."""
    for _, network, told, cause in _draws():
        told = sure(absent=told.absent)
        before = rank(network, told).posterior[cause]
        for column in range(len(network.leak)):
            if column in told.absent or network.strength[cause, column] == 0:
                continue
            yes = rank(network, add(told, column, present=True)).posterior[cause]
            no = rank(network, add(told, column, present=False)).posterior[cause]
            assert yes >= before - 1e-12
            assert no <= before + 1e-12


def test_law_responsibility_is_at_most_the_posterior() -> None:
    """A cause cannot have made what was told without being there."""
    for _, network, told, _ in _draws():
        got = rank(network, told)
        assert (got.responsibility <= got.posterior + 1e-12).all()
        assert (got.responsibility >= 0).all()
        assert 0 <= got.none_of_these <= 1 + 1e-12
        # at least one cause or none of them: the shares cover everything
        assert got.responsibility.sum() + got.none_of_these >= 1 - 1e-9


def test_law_unlinked_causes_keep_their_prior() -> None:
    """A cause without a link to anything told stays where it was."""
    for _, network, told, cause in _draws():
        strength = network.strength.copy()
        strength[cause, [*told.findings, *told.absent]] = 0
        got = rank(Network(network.prior, strength, network.leak), told)
        assert got.posterior[cause] == pytest.approx(network.prior[cause], abs=1e-12)
        assert got.responsibility[cause] == 0
