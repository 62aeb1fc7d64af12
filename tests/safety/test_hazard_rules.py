import pytest
from tests.safety.gate import work
from tests.safety.knowledge_files import KNOWLEDGE, engine, hazards, read, rules

from trubshoot.rules import compile_specs
from trubshoot.rules.conditions import Fact
from trubshoot.rules.oracle import OracleEngine

CASES = [(rule_id, test) for rule_id, rule in rules().items() for test in rule.tests]
# Concluded by the layer itself when the rules cannot run, never by a rule.
WITHOUT_RULE = {"could_not_assess"}


@pytest.mark.parametrize(("rule_id", "case"), CASES, ids=[f"{r}:{t.name}" for r, t in CASES])
def test_rule_does_what_its_tests_say(rule_id, case):
    """Each example beside a rule fires it, or does not."""
    alone = OracleEngine(compile_specs([rules()[rule_id]]))
    facts = {name: Fact.of(value) for name, value in case.facts.items()}
    assert bool(alone.run(facts).firings) is case.fires


def test_each_condition_has_a_near_miss():
    """Taking any condition out of a rule changes what at least one of its examples does."""
    idle = []
    for rule in rules().values():
        for part in ("all", "any", "none"):
            conditions = getattr(rule.when, part)
            for index in range(len(conditions)):
                rest = conditions[:index] + conditions[index + 1 :]
                when = rule.when.model_copy(update={part: rest})
                if not when.all and not when.any:
                    continue  # a rule of one condition: its absence is tested by the examples
                mutant = OracleEngine(compile_specs([rule.model_copy(update={"when": when})]))
                if all(
                    bool(mutant.run({n: Fact.of(v) for n, v in t.facts.items()}).firings) is t.fires
                    for t in rule.tests
                ):
                    idle.append((rule.id, part, conditions[index].fact))
    assert idle == []


def test_all_hazards_are_concluded_and_known():
    """Every rule names a hazard file, and every hazard file is reached by a rule."""
    concluded = {r.then.target for r in rules().values() if r.then.kind == "hazard"}
    assert concluded == set(hazards()) - WITHOUT_RULE


def test_rules_read_only_known_words():
    """A rule reads facts of facts.yaml, reports, circumstances, and markers of hazard rules."""
    facts = read(KNOWLEDGE / "facts.yaml")
    circumstances = set(work().knowledge.contexts)
    made = {f"marker.{r.then.target}" for r in rules().values() if r.then.kind == "marker"}
    for rule in rules().values():
        for condition in (*rule.when.all, *rule.when.any, *rule.when.none):
            name = condition.fact
            known = name in facts or name.startswith("said.") or name in made
            known = known or name.removeprefix("context.") in circumstances
            assert known, (rule.id, name)


def test_sources_are_known_and_used():
    """Every source that hazards and their rules name is written down, and none in vain."""
    written = set(read(KNOWLEDGE / "sources_safety.yaml"))
    used = {s for entry in (*hazards().values(), *rules().values()) for s in entry.sources}
    words = {"common practice", "from memory", "judgement"}
    elsewhere = set(read(KNOWLEDGE / "sources.yaml"))
    assert used - words - elsewhere <= written
    assert written <= used


def test_no_rule_fires_on_nothing():
    """An empty log raises no hazard by itself."""
    assert engine().run({}).firings == ()


def test_findings_worked_out_elsewhere_reach_the_hazards():
    """A report that hazards rest on is never also a firm conclusion which they would not see."""
    said = {
        c.fact.removeprefix("said.")
        for r in rules().values()
        for c in (*r.when.all, *r.when.any)
        if c.fact.startswith("said.")
    }
    read_too = {c.fact for r in rules().values() for c in (*r.when.all, *r.when.any)}
    others = [
        read(path)
        for path in (KNOWLEDGE / "rules").glob("*.yaml")
        if not path.name.startswith("hazard_")
    ]
    unseen = {
        rule["then"]["finding"]
        for rule in others
        if "told" not in rule["then"]
        and rule["then"].get("finding") in said
        and f"finding.{rule['then']['finding']}" not in read_too
    }
    assert unseen <= COVERED_BY_NUMBERS


# Worked out from the same numbers that hazard rules of their own read.
COVERED_BY_NUMBERS = {
    "gravity_still_dropping",
    "gravity_stuck_high",
    "forced_test_goes_lower",
    "gravity_dropped_after_dry_hop",
    "final_gravity_too_low",
    "no_airlock_bubbles_day_2",
    "airlock_stopped_early",
}
