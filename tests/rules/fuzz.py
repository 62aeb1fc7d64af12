"""Random rule bases and random facts through both engines: they must agree in everything.

Nightly: ``python -m tests.rules.fuzz --bases 10000``.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Mapping
from dataclasses import dataclass

from tests.rules.support import on, supports

from trubshoot.errors import EngineError
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.schema import Condition
from trubshoot.rules import Fact, Rule
from trubshoot.rules.conditions import COMPARE, STATES, compile_rule, stratify
from trubshoot.rules.durable_engine import DurableEngine
from trubshoot.rules.oracle import OracleEngine

_STATED = [f"b{number}" for number in range(8)]
_NUMBERS = [f"n{number}" for number in range(4)]
_TEXTS = [f"t{number}" for number in range(2)]
_DERIVED = [f"finding.d{number}" for number in range(8)]
_LIMITS = [0.0, 1.0, 2.0, 2.5, -1.0, 0.0001]
_VALUES = [*_LIMITS, 3.0, 0.00009, 0.00001]
_WORDS = ["ale", "lager", "wheat"]
_MOSTLY_THERE = [*STATES, "present", "present"]


@dataclass
class Tally:
    """How much was compared, so that a fuzz that tries nothing shows."""

    bases: int = 0
    refused_cycles: int = 0
    runs: int = 0
    firings: int = 0
    derived: int = 0
    deepest: int = 0


def _condition(random_: random.Random, names: list[str]) -> Condition:
    name = random_.choice(names)
    if name in _NUMBERS:
        operators = random_.sample(list(COMPARE), random_.choice([1, 1, 1, 2]))
        return on(name, **{operator: random_.choice(_LIMITS) for operator in operators})
    if name in _TEXTS:
        return on(name, in_=tuple(random_.sample(_WORDS, random_.randint(1, 2))))
    return on(name, is_=random_.choice(_MOSTLY_THERE) if name in _STATED else "present")


def _single(random_: random.Random, names: list[str]) -> Condition:
    while True:
        condition = _condition(random_, names)
        if len(condition.tests()) == 1:
            return condition


def random_rules(random_: random.Random) -> list[Rule]:
    """Return 1 to 30 rules that read logged and derived facts, a third of them with negation."""
    logged = [*_STATED, *_NUMBERS, *_TEXTS]
    rules = []
    for number in range(random_.randint(1, 30)):
        every = logged + _DERIVED
        all_of = [_condition(random_, every) for _ in range(random_.randint(1, 3))]
        any_of = [
            _condition(random_, every)
            for _ in range(random_.randint(1, 3) if random_.random() < 0.35 else 0)
        ]
        none_of = [
            _single(random_, logged + _DERIVED[:3])
            for _ in range(random_.randint(1, 2) if random_.random() < 0.35 else 0)
        ]
        conclusion = random_.choice(_DERIVED)
        rules.append(compile_rule(f"r{number}", all_of, any_of, none_of, conclusion))
    return rules


def random_facts(random_: random.Random) -> dict[str, Fact]:
    """Return facts for random_rules in random order."""
    found: dict[str, Fact] = {}
    logged = [*_STATED, *_NUMBERS, *_TEXTS]
    for name in random_.sample(logged, random_.randint(5, len(logged))):
        if name in _NUMBERS:
            found[name] = Fact(number=random_.choice(_VALUES))
        elif name in _TEXTS:
            found[name] = Fact(text=random_.choice(_WORDS))
        else:
            found[name] = Fact(state=random_.choice(_MOSTLY_THERE))
    return found


def knowledge_facts(random_: random.Random, knowledge: KnowledgeBase) -> dict[str, Fact]:
    """Return random facts of the real vocabulary, numbers often on or beside a rule's limit."""
    limits: dict[str, list[float]] = {}
    for spec in knowledge.rules.values():
        for condition in (*spec.when.all, *spec.when.any, *spec.when.none):
            for _, argument in condition.tests():
                if isinstance(argument, (int, float)):
                    limits.setdefault(condition.fact, []).append(float(argument))
    found: dict[str, Fact] = {}
    share = random_.choice([0.1, 0.4, 0.8])
    for name, fact in knowledge.facts.items():
        if random_.random() > share:
            continue
        if fact.type == "state":
            found[name] = Fact(state=random_.choice(_MOSTLY_THERE))
        elif fact.type == "text":
            found[name] = Fact(text=random_.choice(fact.values))
        else:
            low, high = fact.range or (0.0, 1.0)
            near = [limit + step for limit in limits.get(name, [low]) for step in (-0.01, 0, 0.01)]
            value = random_.choice([*near, random_.uniform(low, high)])
            found[name] = Fact(number=min(max(value, low), high))
    for name in random_.sample([*knowledge.findings, *knowledge.signs], random_.randint(0, 12)):
        found[f"said.{name}"] = Fact(state=random_.choice(["present", "present", "absent"]))
    names = list(found)
    random_.shuffle(names)
    return {name: found[name] for name in names}


def agree(
    durable: DurableEngine, oracle: OracleEngine, stated: Mapping[str, Fact], shuffle: random.Random
) -> tuple[int, int]:
    """Compare both engines on one set of facts in two orders; return (firings, derived facts)."""
    right = oracle.run(stated)
    names = list(stated)
    shuffle.shuffle(names)
    for order in (list(stated), names):
        got = durable.run({name: stated[name] for name in order})
        assert got.facts == right.facts, (stated, got.facts, right.facts)
        assert supports(got) == supports(right), (stated, supports(got), supports(right))
    return len(right.firings), len(right.facts) - len(stated)


def fuzz(bases: int, random_state: int) -> Tally:
    """Compare the engines on random rule bases, five sets of facts each, in two orders."""
    tally = Tally()
    number = 0
    while tally.bases < bases:
        random_ = random.Random(random_state * 1_000_000 + number)
        number += 1
        rules = random_rules(random_)
        try:
            level = stratify(rules)
        except EngineError:
            tally.refused_cycles += 1
            continue
        tally.bases += 1
        tally.deepest = max(tally.deepest, *level.values())
        durable, oracle = DurableEngine(rules), OracleEngine(rules)
        for _ in range(5):
            firings, derived = agree(durable, oracle, random_facts(random_), random_)
            tally.runs += 2
            tally.firings += firings
            tally.derived += derived
        durable.close()
    return tally


def main(arguments: list[str]) -> None:
    """Run the fuzz from the command line and print what was compared."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bases", type=int, default=300)
    parser.add_argument("--random-state", type=int, default=2)
    chosen = parser.parse_args(arguments)
    print(fuzz(chosen.bases, chosen.random_state))


if __name__ == "__main__":
    main(sys.argv[1:])
