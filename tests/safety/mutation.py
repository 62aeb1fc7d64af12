"""Mutate the rules, and run the tests that stand beside each rule in its own file.

    python -m tests.safety.mutation            # the rules that decide on bottling and hazards
    python -m tests.safety.mutation --all      # every rule, the deciding ones apart
    python -m tests.safety.mutation --list     # name every mutant

The exit code is 1 when a mutant of a deciding rule survives, or when fewer than 90 % of all
mutants that can differ from their rule are killed.

A mutant is killed when at least one test in the rule's own file gives another answer. Operators:
the rule dropped; a condition dropped; a state flipped; a text value dropped; gt and gte, lt and lte
exchanged, a comparison turned round; a threshold times 0.9 and 1.1 (a threshold of zero moved by a
tenth); `any` made `all`; `none` dropped. Mutants that cannot differ from the rule stand with their
reason in mutation_equivalents.yaml; one that is listed there and is killed is an error too.

After Martin and Xie, A fault model and mutation testing of access control policies, 2007 (abstract
read).
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml
from tests.safety.knowledge_files import KNOWLEDGE, read

from trubshoot.errors import EngineError
from trubshoot.knowledge_base.schema import RuleSpec
from trubshoot.rules import Fact, compile_specs
from trubshoot.rules.oracle import OracleEngine

PREFIXES = ("hazard_", "hold_", "bottling_")
EQUIVALENTS = Path(__file__).with_name("mutation_equivalents.yaml")
STATES = ("present", "absent", "unknown")
SWAPS = {
    "gt": ("gte", "lt"),
    "gte": ("gt", "lte"),
    "lt": ("lte", "gt"),
    "lte": ("lt", "gte"),
}
ZERO_STEP = 0.1
LEAST_OVERALL = 0.9  # share of the mutants of all rules that must be killed
When = dict[str, Any]


@dataclass(frozen=True)
class Mutant:
    """One changed rule; `when` is None when the whole rule is dropped."""

    rule: str
    name: str
    operator: str
    when: When | None


def raw_rules(*, everything: bool = False) -> dict[str, dict[str, Any]]:
    """Return the rule files by id as plain data: the deciding ones, or all."""
    found = sorted((KNOWLEDGE / "rules").glob("*.yaml"))
    return {path.stem: read(path) for path in found if everything or decides(path.stem)}


def decides(rule_id: str) -> bool:
    """Tell whether a rule decides on a hazard, a hold or the permission to bottle."""
    return rule_id.startswith(PREFIXES)


def mutants(rule: dict[str, Any]) -> Iterator[Mutant]:
    """Yield every mutant of a rule that is another rule and can be compiled."""
    seen: set[str] = {repr(rule["when"])}
    for name, operator, when in _changes(rule["when"]):
        key = repr(when)
        if key in seen:
            continue
        seen.add(key)
        yield Mutant(rule["id"], name, operator, when)


def _changes(when: When) -> Iterator[tuple[str, str, When | None]]:
    yield "the rule dropped", "drop rule", None
    for section in ("all", "any", "none"):
        conditions = when.get(section) or []
        for number, condition in enumerate(conditions):
            rest = [*conditions[:number], *conditions[number + 1 :]]
            fact = condition["fact"]
            yield f"{section}: {fact} dropped", "drop condition", _with(when, section, rest)
            for what, operator, other in _changed(condition):
                new = [*conditions[:number], other, *conditions[number + 1 :]]
                yield f"{section}: {fact} {what}", operator, _with(when, section, new)
    if len(when.get("any") or []) > 1:
        both = [*(when.get("all") or []), *when["any"]]
        yield "any made all", "any to all", _with(_with(when, "any", []), "all", both)
    if when.get("none"):
        yield "none dropped", "drop none", _with(when, "none", [])


def _changed(condition: dict[str, Any]) -> Iterator[tuple[str, str, dict[str, Any]]]:
    fact = condition["fact"]
    for key, value in condition.items():
        rest = {name: item for name, item in condition.items() if name != key}
        if key == "is":
            for state in STATES:
                if state != value:
                    yield f"is {state}", "flip state", {**rest, "is": state}
        elif key == "in":
            for number, text in enumerate(value):
                left = [*value[:number], *value[number + 1 :]]
                if left:
                    yield f"without {text}", "drop value", {"fact": fact, "in": left}
        elif key in SWAPS:
            for other in SWAPS[key]:
                yield f"{key} made {other}", "comparison", {**rest, other: value}
            steps = (-ZERO_STEP, ZERO_STEP) if value == 0 else (-0.1 * value, 0.1 * value)
            for step in steps:
                moved = round(value + step, 6)
                yield f"{key} {value:g} made {moved:g}", "threshold", {**rest, key: moved}


def _with(when: When, section: str, conditions: list[dict[str, Any]]) -> When:
    return {key: value for key, value in {**when, section: conditions}.items() if value}


def killed(rule: dict[str, Any], mutant: Mutant) -> bool | None:
    """Tell whether the rule's own tests notice; None when the mutant is no rule at all."""
    if mutant.when is None:
        return any(case["fires"] for case in rule["tests"])
    try:
        spec = RuleSpec.model_validate({**rule, "when": mutant.when})
        engine = OracleEngine(compile_specs([spec]))
    except (ValueError, EngineError):
        return None
    for case in rule["tests"]:
        facts = {name: Fact.of(value) for name, value in case["facts"].items()}
        fires = any(firing.rule == rule["id"] for firing in engine.run(facts).firings)
        if fires is not case["fires"]:
            return True
    return False


def equivalents() -> dict[tuple[str, str], str]:
    """Return (rule, mutant) -> reason for mutants that cannot differ from their rule."""
    rows = yaml.safe_load(EQUIVALENTS.read_text(encoding="utf-8")) or []
    return {(row["rule"], row["mutant"]): row["why"] for row in rows}


@dataclass(frozen=True)
class Score:
    """What became of all mutants."""

    total: Counter[str]  # by operator
    dead: Counter[str]
    survivors: tuple[Mutant, ...]  # neither killed nor listed
    listed: int  # equivalent, with a reason
    wrongly_listed: tuple[tuple[str, str], ...]  # listed and killed, or no mutant at all

    @property
    def share(self) -> float:
        """Return the share killed of the mutants that can differ from their rule."""
        return self.dead.total() / max(self.total.total() - self.listed, 1)


def score(rules: dict[str, dict[str, Any]]) -> Score:
    """Return the score over some rules."""
    total: Counter[str] = Counter()
    dead: Counter[str] = Counter()
    known = {key: why for key, why in equivalents().items() if key[0] in rules}
    unused = dict(known)
    survivors = []
    listed = 0
    for rule in rules.values():
        for mutant in mutants(rule):
            noticed = killed(rule, mutant)
            if noticed is None:
                continue
            total[mutant.operator] += 1
            if noticed:
                dead[mutant.operator] += 1
            elif (mutant.rule, mutant.name) in known:
                listed += 1
                unused.pop((mutant.rule, mutant.name))
            else:
                survivors.append(mutant)
    return Score(total, dead, tuple(survivors), listed, tuple(sorted(unused)))


def show(name: str, rules: dict[str, dict[str, Any]]) -> Score:
    """Print the score over some rules, and return it."""
    found = score(rules)
    print("| operator | mutants | killed |\n|---|---|---|")
    for operator, count in sorted(found.total.items()):
        print(f"| {operator} | {count} | {found.dead[operator]} |")
    everything, dead = found.total.total(), found.dead.total()
    print(f"| all | {everything} | {dead} |")
    print(
        f"\n{len(rules)} {name}, {everything} mutants: {dead} killed, "
        f"{found.listed} equivalent with a reason, {len(found.survivors)} survive: "
        f"{found.share:.1%} of those that can differ."
    )
    for mutant in found.survivors:
        print(f"survives: {mutant.rule}: {mutant.name}")
    for rule, mutant_name in found.wrongly_listed:
        print(f"listed as equivalent, but it is not or is gone: {rule}: {mutant_name}")
    return found


def main() -> int:
    """Print the score; 0 when it is what is asked of the rules."""
    parser = argparse.ArgumentParser(description="Mutation score of the rules.")
    parser.add_argument("--list", action="store_true", help="name every mutant")
    parser.add_argument("--all", action="store_true", help="every rule, not only deciding ones")
    asked = parser.parse_args()
    if asked.list:
        for rule in raw_rules(everything=asked.all).values():
            for mutant in mutants(rule):
                print(f"{mutant.rule}: {mutant.name}")
    deciding = show("hazard, hold and bottling rules", raw_rules())
    wrong = bool(deciding.survivors or deciding.wrongly_listed)
    if asked.all:
        print()
        overall = show("rules in all", raw_rules(everything=True))
        wrong = wrong or overall.share < LEAST_OVERALL or bool(overall.wrongly_listed)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
