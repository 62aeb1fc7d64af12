"""How much hangs on single numbers: priors, links and rule limits moved, answers counted.

    python -m tests.accuracy.sensitivity

Priors, links and noise are measured on the blind encodings of the real cases (those that are
scored and state a finding), limits of rules on the real cases' files: log and words in, answer
out. Nothing is fitted here; the report says which numbers deserve a source first.

- Each prior and each strength one word up and one word down: which change any leading cause, and
  how far each may move before that (its admissible deviation, after van der Gaag and Renooij, UAI
  2001, abstract read).
- Noise on the log-odds of every prior, strength and leak at once, 50 draws each.
- Each limit of each rule moved by 10 %: in how many cases leading cause, hazards or verdict change.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
from tests.accuracy.encoded import states
from tests.accuracy.scoring import RealCase, place_of, real_cases
from tests.accuracy.whole import ASKED, FOLDER, answers, diagnostician
from tests.safety.mutation import ZERO_STEP

from trubshoot.batch import read_batch
from trubshoot.diagnosis.diagnose import best_first
from trubshoot.diagnosis.network import Base, FindingState, make_case
from trubshoot.diagnosis.noisy_or import Network, Vector, rank
from trubshoot.diagnosis.states import gather
from trubshoot.evidence import Evidence
from trubshoot.knowledge_base import KnowledgeBase, load_knowledge
from trubshoot.knowledge_base.schema import Condition, RuleSpec
from trubshoot.rules import Fact, compile_specs
from trubshoot.rules.conditions import COMPARE, Conclusions, Rule, Test
from trubshoot.rules.oracle import OracleEngine

# The steps of how often and how common: the strengths that the knowledge uses most, and chances
# about threefold apart. A number between two belongs to the nearer one.
STRENGTHS = (0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 0.95)
PRIORS = (0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 0.6)
NOISES = (0.5, 1.0)
DRAWS = 50
RANDOM_STATE = 20260105
MOST_LOST = 0.03  # of top-1 at the smaller noise: what the project asks of itself


@dataclass(frozen=True)
class Told:
    """One case, ready to be ranked again and again."""

    id: str
    states: tuple[FindingState, ...]
    contexts: tuple[str, ...]
    accept: tuple[str, ...]

    @classmethod
    def of(cls, case: RealCase) -> Told:
        """Return the case as its encoder stated it."""
        return cls(case.id, tuple(states(case)), tuple(case.encoded["contexts"]), case.accept)


@dataclass(frozen=True)
class Moved:
    """A number whose move changes a leading cause."""

    name: str
    value: float
    cases: tuple[str, ...]  # whose leading cause changes one word up or down
    nearest: float  # the value nearest to its own that still changes one


def cases() -> list[Told]:
    """Return the scored cases that state a finding."""
    return [Told.of(case) for case in real_cases() if case.scored and case.encoded["present"]]


def leader(base: Base, case: Told) -> str:
    """Return the leading cause of a case."""
    problem = make_case(base, case.states, case.contexts)
    return problem.causes[best_first(rank(problem.network, problem.told))[0]]


def neighbours(value: float, words: tuple[float, ...]) -> tuple[float, ...]:
    """Return the words next to a value, below and above it."""
    at = min(range(len(words)), key=lambda place: abs(_log_odds(words[place]) - _log_odds(value)))
    around = [words[place] for place in (at - 1, at + 1) if 0 <= place < len(words)]
    return tuple(word for word in around if abs(word - value) > 1e-9)


def _log_odds(chance: float) -> float:
    return float(np.log(chance / (1 - chance)))


def with_number(base: Base, row: int, column: int | None, value: float) -> Base:
    """Return the network with one prior (no column) or one strength changed."""
    network = base.network
    if column is None:
        prior = network.prior.copy()
        prior[row] = value
        return replace(base, network=Network(prior, network.strength, network.leak))
    strength = network.strength.copy()
    strength[row, column] = value
    return replace(base, network=Network(network.prior, strength, network.leak))


def numbers(base: Base) -> Iterator[tuple[str, int, int | None, float, tuple[float, ...]]]:
    """Yield (name, row, column, value, values one word away) of every prior and every link."""
    for row, cause in enumerate(base.causes):
        prior = float(base.network.prior[row])
        yield f"prior of {cause}", row, None, prior, neighbours(prior, PRIORS)
        for column in np.flatnonzero(base.network.strength[row]):
            value = float(base.network.strength[row, column])
            name = f"{cause} -> {base.findings[column]}"
            yield name, row, int(column), value, neighbours(value, STRENGTHS)


def one_by_one(base: Base, group: list[Told]) -> tuple[int, list[Moved]]:
    """Return how many numbers were moved, and those that change a leading cause."""
    before = {case.id: leader(base, case) for case in group}
    told = {case.id: {state.id for state in case.states} for case in group}
    found, count = [], 0
    for name, row, column, value, words in numbers(base):
        count += 1
        touched = [
            case for case in group if column is None or base.findings[column] in told[case.id]
        ]
        changed: set[str] = set()
        nearest: list[float] = []
        for word in words:
            here = [
                case
                for case in touched
                if leader(with_number(base, row, column, word), case) != before[case.id]
            ]
            changed |= {case.id for case in here}
            if here:
                nearest.append(_turning_point(base, (row, column), value, word, here, before))
        if changed:
            point = min(nearest, key=lambda at: abs(_log_odds(at) - _log_odds(value)))
            found.append(Moved(name, value, tuple(sorted(changed)), point))
    return count, found


def _turning_point(
    base: Base,
    place: tuple[int, int | None],
    value: float,
    word: float,
    group: list[Told],
    before: dict[str, str],
) -> float:
    """Return the value between a number and a word at which the first leading cause changes."""
    near, far = _log_odds(value), _log_odds(word)
    for _ in range(7):
        middle = (near + far) / 2
        moved = with_number(base, *place, float(1 / (1 + np.exp(-middle))))
        if any(leader(moved, case) != before[case.id] for case in group):
            far = middle
        else:
            near = middle
    return float(1 / (1 + np.exp(-far)))


def _noisy(values: Vector, spread: float, chance: np.random.Generator) -> Vector:
    """Return chances with normal noise on their log-odds; zeros stay zeros."""
    out = values.copy()
    there = values > 0
    odds = np.log(values[there] / (1 - values[there]))
    moved = 1 / (1 + np.exp(-(odds + chance.normal(0, spread, odds.shape))))
    out[there] = np.clip(moved, 1e-6, 1 - 1e-6)
    return out


def noise(base: Base, group: list[Told], spread: float, draws: int = DRAWS) -> list[float]:
    """Return the share of cases with the right cause first, for each draw of noise."""
    chance = np.random.default_rng(RANDOM_STATE)
    shares = []
    for _ in range(draws):
        network = Network(
            _noisy(base.network.prior, spread, chance),
            _noisy(base.network.strength, spread, chance),
            _noisy(base.network.leak, spread, chance),
        )
        moved = replace(base, network=network)
        right = [place_of([leader(moved, case)], case.accept) == 0 for case in group]
        shares.append(sum(right) / len(right))
    return shares


# --- limits of rules


@dataclass(frozen=True)
class Answer:
    """What a user acts on: the leading cause, the hazards, and what speaks of bottling."""

    leader: str
    hazards: frozenset[str]
    bottling: frozenset[str]


def answer(knowledge: KnowledgeBase, base: Base, evidence: Evidence, drawn: Conclusions) -> Answer:
    """Return the answer that follows from conclusions."""
    known = gather(knowledge, evidence.understood, drawn, lambda _, value: f"{value:g}")
    problem = make_case(base, known.findings, known.contexts, known.ruled_out)
    order = best_first(rank(problem.network, problem.told), problem.base_prior)
    names = [firing.conclusion for firing in drawn.firings]
    return Answer(
        problem.causes[order[0]],
        frozenset(name for name in names if name.startswith("hazard.")),
        frozenset(name for name in names if name.startswith(("hold.", "permit."))),
    )


def moved_limits(spec: RuleSpec) -> Iterator[tuple[str, RuleSpec]]:
    """Yield (name, rule) for each limit of a rule a tenth lower and a tenth higher."""
    for section in ("all", "any", "none"):
        conditions: tuple[Condition, ...] = getattr(spec.when, section)
        for number, condition in enumerate(conditions):
            for operator, limit in condition.tests():
                if operator not in COMPARE or not isinstance(limit, (int, float)):
                    continue
                step = ZERO_STEP if limit == 0 else abs(0.1 * limit)
                for other in (limit - step, limit + step):
                    new = condition.model_copy(update={operator: other})
                    kept = (*conditions[:number], new, *conditions[number + 1 :])
                    when = spec.when.model_copy(update={section: kept})
                    name = f"{spec.id}: {condition.fact} {operator} {limit:g}"
                    yield name, spec.model_copy(update={"when": when})


def holds(rule: Rule, facts: dict[str, Fact]) -> bool:
    """Tell whether a rule fires on everything that is known in the end."""
    if any(test.holds(facts.get(test.fact)) for test in rule.negated):
        return False
    return any(_all_hold(tests, facts) for tests in rule.alternatives)


def _all_hold(tests: tuple[Test, ...], facts: dict[str, Fact]) -> bool:
    return all(test.holds(facts.get(test.fact)) for test in tests)


@cache
def _collected() -> list[tuple[str, Evidence]]:
    work = diagnostician()
    return [
        (case_id, work.diagnose(read_batch(FOLDER / f"{case_id.lower()}.yaml"), ASKED).evidence)
        for case_id in sorted(answers())
    ]


def limits(knowledge: KnowledgeBase, base: Base) -> dict[str, dict[str, set[str]]]:
    """Return {limit: {what changes: cases}} over every limit moved by a tenth.

    A rule that fires on the same cases as before changes nothing, so that only the others are run.
    """
    compiled = {rule.id: rule for rule in compile_specs(knowledge.rules.values())}
    engine = OracleEngine(list(compiled.values()))
    runs: list[tuple[str, Evidence, dict[str, Fact], Conclusions, Answer]] = []
    for case_id, evidence in _collected():
        facts = {name: Fact.of(value) for name, value in evidence.facts.items()}
        drawn = engine.run(facts)
        runs.append((case_id, evidence, facts, drawn, answer(knowledge, base, evidence, drawn)))
    found: dict[str, dict[str, set[str]]] = {}
    for spec in knowledge.rules.values():
        for name, changed in moved_limits(spec):
            kinds = found.setdefault(name, {})
            (rule,) = compile_specs([changed])
            differing = [
                run
                for run in runs
                if holds(rule, run[3].facts) != holds(compiled[spec.id], run[3].facts)
            ]
            if not differing:
                continue
            other = OracleEngine(list({**compiled, spec.id: rule}.values()))
            for case_id, evidence, facts, _, before in differing:
                after = answer(knowledge, base, evidence, other.run(facts))
                for kind in ("leader", "hazards", "bottling"):
                    if getattr(after, kind) != getattr(before, kind):
                        kinds.setdefault(kind, set()).add(case_id)
    return found


def report() -> dict[str, Any]:
    """Print all figures; return the main ones."""
    knowledge = load_knowledge()
    base = Base.of(knowledge)
    group = cases()
    right = sum(leader(base, case) in case.accept for case in group)
    share = right / len(group)
    print(f"{len(group)} encoded cases, top-1 {right}/{len(group)} = {share:.1%}")
    count, moved = one_by_one(base, group)
    print(f"\n{count} priors and links, each moved one word up and down:")
    print(f"{len(moved)} of them change the leading cause of some case")
    for item in sorted(moved, key=lambda one: (-len(one.cases), one.name)):
        print(
            f"  {item.name}: {item.value:g}, changes at {item.nearest:.3g}; "
            f"{len(item.cases)} cases: {', '.join(item.cases)}"
        )
    for spread in NOISES:
        shares = noise(base, group, spread)
        mean = float(np.mean(shares))
        print(
            f"noise of {spread:g} on all log-odds, {DRAWS} draws: top-1 {mean:.1%} "
            f"({min(shares):.1%} to {max(shares):.1%}), {100 * (share - mean):.1f} points lost"
        )
        if spread == NOISES[0]:
            kept = share - mean <= MOST_LOST
            print(
                f"  asked: at most {100 * MOST_LOST:g} points lost: {'kept' if kept else 'MISSED'}"
            )
    found = limits(knowledge, base)
    touching = {name: kinds for name, kinds in found.items() if kinds}
    runs = len(_collected())
    print(f"\n{len(found)} limits in rules, each moved by a tenth, over {runs} cases:")
    print(f"{len(touching)} of them change an answer")
    for kind, title in (
        ("leader", "leading cause"),
        ("hazards", "hazards"),
        ("bottling", "verdict"),
    ):
        hit = {name: kinds[kind] for name, kinds in touching.items() if kind in kinds}
        touched = set().union(*hit.values()) if hit else set()
        print(f"  {title}: {len(hit)} limits, {len(touched)} cases")
    for name, kinds in sorted(
        touching.items(), key=lambda one: -len(set().union(*one[1].values()))
    ):
        told = "; ".join(f"{kind} {', '.join(sorted(ids))}" for kind, ids in kinds.items())
        print(f"  {name}: {told}")
    return {"share": share, "moved": moved, "touching": touching}


def main() -> None:
    """Print the report."""
    report()


if __name__ == "__main__":
    main()
