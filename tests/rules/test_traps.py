"""The traps of durable-rules 2.0.28: what would kill the process, hang it, or lie.

Some the compiler refuses with a sentence; the others the cage avoids, and here is the answer it
must give. What could end the process runs in a Python of its own. The list, numbered as in the
project's dossier on inference; the tests of trap 8 are those whose names begin with test_trap_08:

 1 a session in which no action ran is deleted
 2 threads of the stock host poll sessions that are gone
 3 the 1,025th living session
 4 facts handed over as an empty list
 5 integer division by zero in a rule
 6 a name that was never bound
 7 two rules that compare facts with each other
 8 the 256th rule on one condition
 9 more than 512 names tested at one level
10 a rule that only denies, or reads the session's own state
11 `none` does not see what arrives later
12 `none` in the first place never fires
13 all keys of a condition but the first are ignored
14 an "or" with both sides true fires twice
15 a comparison of facts inside an "or" loses matches
16 text and number are compared as text
17 under a decimal comma 1.05 is read as 1
18 numbers written with an exponent
19 5 is not 5.0, True is not 1
20 a condition written twice never fires
21 facts of one kind in several slots fire for every arrangement
22 a fact taken back leaves what followed from it
23 what goes wrong inside an action vanishes
24 a conclusion that nobody reads, or that is known, ends the action
25 a fact that no rule reads
26 the same fact again, and facts taken for one another
27 null, and fields that are missing
28 limits: antecedents, tests of one fact, alternatives, lengths of texts
29 a pattern language of its own
30 settings that nobody checks
31 an action of more than ten seconds
32 compiled rules are never given back
33 a deprecated call in every action
34 values that are not JSON
"""

from __future__ import annotations

import itertools
import re
import shutil
import subprocess
import threading
import time
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from durable import engine as durable
from tests.rules.support import facts, in_own_python, on, rule, supports, there

from trubshoot.errors import EngineError
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.rules import Fact, Reasoner, Rule, compile_specs, durable_engine
from trubshoot.rules.conditions import MAX_TEXT, SCALE, fixed_point, parse_condition, stratify
from trubshoot.rules.durable_engine import DurableEngine

_ALLOWED_KEYS = {"all", "run", "$and", "k", "st", "t", "v", "$gt", "$gte", "$lt", "$lte", "$eq"}


class RawCondition:
    """A condition that got past the schema, as the compiler must not believe it."""

    def __init__(self, fact: str, *tests: tuple[str, object]) -> None:
        self.fact, self._tests = fact, list(tests)

    def tests(self) -> list[tuple[str, object]]:
        """Return the (operator, argument) pairs."""
        return self._tests


def run(rules: list[Rule], **values: Any) -> set[str]:
    """Return the rules that fire."""
    made = DurableEngine(rules)
    try:
        return set(supports(made.run(facts(**values))))
    finally:
        made.close()


@pytest.fixture
def definitions(monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    """Return a list that fills with every ruleset handed to the package."""
    seen: list[dict[str, Any]] = []
    original = durable_engine._QuietHost.set_rulesets

    def spy(host: Any, rulesets: dict[str, Any]) -> Any:
        seen.extend(
            {name: dict(one) for name, one in ruleset.items()} for ruleset in rulesets.values()
        )
        return original(host, rulesets)

    monkeypatch.setattr(durable_engine._QuietHost, "set_rulesets", spy)
    return seen


def dicts_in(value: object) -> Iterator[dict[str, Any]]:
    """Yield every mapping inside a definition."""
    if isinstance(value, dict):
        yield value
        for inner in value.values():
            yield from dicts_in(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from dicts_in(inner)


def real_definitions(
    knowledge: KnowledgeBase, definitions: list[dict[str, Any]]
) -> list[dict[str, Any]]:
    """Return every mapping in every rule that the real rule base hands to the package."""
    DurableEngine(compile_specs(knowledge.rules.values())).close()
    rules = [one for ruleset in definitions for name, one in ruleset.items() if name != "__boot"]
    assert len(rules) > 300
    return [inner for one in rules for inner in dicts_in(one["all"])]


_SESSIONS = """
from tests.rules.support import *
from trubshoot.rules.durable_engine import DurableEngine
engine = DurableEngine([rule("r", "finding.f", [there("a")]), rule("s", "finding.g", [there("b")])])
"""


def test_trap_01_session_without_an_action() -> None:
    """A session in which no rule fired is deleted without a crash."""
    code = f"{_SESSIONS}print(sum(len(engine.run(facts(a='absent')).firings) for _ in range(200)))"
    assert in_own_python(code).strip() == "0"


def test_trap_02_no_polling_threads() -> None:
    """Building and running starts no thread that could read a freed session."""
    before = threading.active_count()
    engines = [DurableEngine([rule("r", "finding.f", [there("a")])]) for _ in range(5)]
    for one in engines * 3:
        assert one.run(facts(a="present")).firings
    assert threading.active_count() == before
    for one in engines:
        one.close()


def test_trap_03_more_sessions_than_the_engine_holds() -> None:
    """1,500 runs in one engine, where 1,025 living sessions would end the process."""
    code = (
        f"{_SESSIONS}print(sum(len(engine.run(facts(a='present')).firings) for _ in range(1500)))"
    )
    assert in_own_python(code).strip() == "1500"


def test_trap_04_no_facts() -> None:
    """A run without any fact is a run without conclusions, not a crash."""
    code = f"{_SESSIONS}got = engine.run({{}}); print(got.facts, got.firings)"
    assert in_own_python(code).strip() == "{} ()"


def test_trap_05_no_arithmetic(knowledge: KnowledgeBase, definitions: list[dict[str, Any]]) -> None:
    """No rule computes (an integer division by zero would end the process)."""
    keys = {key for inner in real_definitions(knowledge, definitions) for key in inner}
    assert not keys & {"$add", "$sub", "$mul", "$div", "$l", "$r", "$m"}
    slots = {key for key in keys if key.startswith("s") and key[1:].isdigit()}
    assert keys - slots <= _ALLOWED_KEYS


def test_trap_06_and_07_no_captures_and_no_joins(
    knowledge: KnowledgeBase, definitions: list[dict[str, Any]]
) -> None:
    """Every right-hand side is a constant: nothing refers to another fact."""
    seen = 0
    for inner in real_definitions(knowledge, definitions):
        for operator, argument in inner.items():
            if operator in ("$gt", "$gte", "$lt", "$lte", "$eq"):
                assert set(argument) == {"v"}
                assert isinstance(argument["v"], int)
                seen += 1
            elif operator in ("k", "st", "t"):
                assert isinstance(argument, str)
                seen += 1
    assert seen > 500


def test_trap_08_one_condition_in_many_rules() -> None:
    """250 rules on one condition work; one more is refused, where 256 would crash."""
    rules = [rule(f"r{number}", f"finding.f{number}", [there("a")]) for number in range(256)]
    assert len(run(rules[:250], a="present")) == 250
    for count in (251, 256):
        with pytest.raises(EngineError, match="one condition used by more than 250 rules"):
            DurableEngine(rules[:count])


def test_trap_09_many_names() -> None:
    """More names in one stratum than the engine can tell apart are refused, where it would hang."""
    rules = [rule(f"r{number}", "finding.f", [there(f"a{number}")]) for number in range(500)]
    assert run(rules[:479], a478="present") == {"r478"}
    for count in (480, 500):  # one name more than the rules': the boot fact
        with pytest.raises(EngineError, match="fact names in one stratum; at most 480"):
            DurableEngine(rules[:count])


def test_trap_10_only_negated_conditions() -> None:
    """A rule that only says what must not be is refused, where it would loop for ever."""
    with pytest.raises(EngineError, match="needs at least one positive condition"):
        rule("r", "finding.f", none_of=[there("a")])
    with pytest.raises(EngineError, match="rule r: needs at least one positive"):
        rule("r", "finding.f")


def test_trap_11_order_of_facts_and_negation() -> None:
    """A negated condition sees its blocker in every order of facts."""
    one = DurableEngine([rule("r", "finding.f", [there("a"), there("c")], none_of=[there("b")])])
    for order in itertools.permutations(("a", "b", "c")):
        assert not one.run({name: Fact() for name in order}).firings
        without = {name: Fact() for name in order if name != "b"}
        assert supports(one.run(without)) == {"r": {("a", "c", "~b|is|present")}}
        other = {name: Fact("absent" if name == "b" else "present") for name in order}
        assert supports(one.run(other)) == {"r": {("a", "c", "~b|is|present")}}
    one.close()


def test_trap_11_negation_of_what_a_rule_concluded() -> None:
    """A negated conclusion blocks in every order of rules and of facts."""
    maker = rule("maker", "marker.m", [there("x")])
    reader = rule("reader", "finding.f", [there("a")], none_of=[there("marker.m")])
    for rules in ([maker, reader], [reader, maker]):
        one = DurableEngine(rules)
        for order in (("a", "x"), ("x", "a")):
            assert set(supports(one.run({name: Fact() for name in order}))) == {"maker"}
        assert set(supports(one.run(facts(a="present")))) == {"reader"}
        one.close()


def test_trap_12_negation_named_first(definitions: list[dict[str, Any]]) -> None:
    """A negated test reaches the engine as a positive marker, so its place does not matter."""
    made = rule("r", "finding.f", [there("a")], none_of=[on("n", gt=3)])
    assert run([made], n=2, a="present") == {"r"}
    assert run([made], n=4, a="present") == set()
    assert run([made], a="present") == {"r"}
    keys = {key for inner in dicts_in(definitions[0]["r#0"]["all"]) for key in inner}
    assert keys == {"s0", "s1", "$and", "k", "st"}


def test_trap_13_two_tests_on_one_fact() -> None:
    """Both limits of a range count, in one condition and in two."""
    for conditions in ([on("n", gt=1, lt=3)], [on("n", gt=1), on("n", lt=3)]):
        made = rule("r", "finding.f", conditions)
        assert [value for value in (0, 1, 2, 3, 4) if run([made], n=value)] == [2]


def test_trap_13_one_key_in_every_mapping(
    knowledge: KnowledgeBase, definitions: list[dict[str, Any]]
) -> None:
    """No mapping has two keys: the engine ignores all but the first."""
    assert all(len(inner) == 1 for inner in real_definitions(knowledge, definitions))


def test_trap_14_alternatives_fire_once() -> None:
    """A rule with three true alternatives fires once, with three supports."""
    made = rule("r", "finding.f", any_of=[there("a"), there("b"), there("c")])
    one = DurableEngine([made])
    got = one.run(facts(a="present", b="present", c="present"))
    assert [firing.rule for firing in got.firings] == ["r"]
    assert got.firings[0].supports == (("a",), ("b",), ("c",))
    one.close()


def test_trap_15_all_beside_any() -> None:
    """`all` beside `any` loses no match: each alternative carries the whole conjunction."""
    made = rule("r", "finding.f", [there("a")], [there("b"), on("n", gte=2)])
    fires = {
        (): set(),
        ("a",): set(),
        ("b",): set(),
        ("a", "b"): {("a", "b")},
        ("a", "n"): {("a", "n")},
        ("a", "b", "n"): {("a", "b"), ("a", "n")},
    }
    one = DurableEngine([made])
    for names, right in fires.items():
        stated = {name: Fact(number=2.0) if name == "n" else Fact() for name in names}
        assert supports(one.run(stated)).get("r", set()) == right
    one.close()


def test_trap_16_text_is_never_a_number() -> None:
    """A text never passes a numeric test, nor a number a test on text or state."""
    more, word = (
        rule("more", "finding.f", [on("x", gt=10)]),
        rule("w", "finding.g", [on("x", in_=("9",))]),
    )
    assert run([more, word], x="9") == {"w"}
    assert run([more], x="unknown") == set()
    assert run([more, word], x=9) == set()
    assert run([more, word], x=11) == {"more"}


@pytest.mark.parametrize("value", [True, "9", None, [1], {"v": 1}, Decimal(1)])
def test_trap_16_not_a_number_in_a_rule(value: object) -> None:
    """A limit that is no number is refused with a sentence."""
    with pytest.raises(EngineError, match=r"a: not a number|not a number"):
        rule("r", "finding.f", [RawCondition("a", ("gt", value))])  # type: ignore[list-item]


_LOCALE = """
import locale, sys
from tests.rules.support import *
from trubshoot.rules.durable_engine import DurableEngine
locale.setlocale(locale.LC_ALL, sys.argv[1] if len(sys.argv) > 1 else "")
assert locale.localeconv()["decimal_point"] == ",", locale.localeconv()
engine = DurableEngine([rule("r", "finding.f", [on("sg", gt=1.04)])])
print([len(engine.run(facts(sg=value)).firings) for value in (1.03, 1.04, 1.05, 2.5)])
"""


def test_trap_17_decimal_comma(tmp_path: Path) -> None:
    """Where a comma is the decimal sign, 1.05 is still more than 1.04."""
    localedef = shutil.which("localedef")
    assert localedef, "localedef (part of the C library's tools) is needed for this test"
    made = subprocess.run(
        [localedef, "-i", "de_DE", "-f", "UTF-8", str(tmp_path / "de_DE.UTF-8")],
        capture_output=True,
        check=False,
    )
    assert (tmp_path / "de_DE.UTF-8").is_dir(), made.stderr
    out = in_own_python(_LOCALE, LOCPATH=str(tmp_path), LC_ALL="de_DE.UTF-8", LANG="de_DE.UTF-8")
    assert out.strip() == "[0, 0, 1, 1]"


def test_trap_17_fixed_point_on_the_wire(
    knowledge: KnowledgeBase, definitions: list[dict[str, Any]]
) -> None:
    """Numbers travel as whole numbers of 1/10,000, in facts and in rules."""
    wired = durable_engine._wire("sg", Fact(number=1.05), "d1")
    assert wired["v"] == 10500
    assert type(wired["v"]) is int
    numbers = [inner["v"] for inner in real_definitions(knowledge, definitions) if "v" in inner]
    assert len(numbers) > 100
    assert {type(number) for number in numbers} == {int}


@pytest.mark.parametrize("value", [1e-05, 1e-16, -1e-05, 12345.678e-3, 1.5e5, 0.00005])
def test_trap_18_small_and_large_numbers(value: float) -> None:
    """Numbers that Python writes with an exponent are compared, and lose nothing else."""
    rules = [rule("r", "finding.f", [on("n", gte=-1)]), rule("s", "finding.g", [there("a")])]
    assert run(rules, n=value, a="present") == {"r", "s"}


@pytest.mark.parametrize("value", [float("inf"), float("-inf"), float("nan"), 1e16, -3e5])
def test_trap_18_no_usable_number(value: float) -> None:
    """What is not finite or too large is refused in a fact and in a rule."""
    with pytest.raises(EngineError, match="not a usable number"):
        Fact.of(value)
    with pytest.raises(EngineError, match="rule r: not a usable number"):
        rule("r", "finding.f", [on("n", gt=value)])


def test_trap_19_five_is_five() -> None:
    """Equality takes 5 and 5.0 for the same, and the last digit kept decides."""
    made = rule("r", "finding.f", [on("n", eq=5)])
    assert run([made], n=5.0) == run([made], n=5) == {"r"}
    assert run([made], n=5 + 0.4 / SCALE) == {"r"}
    assert run([made], n=5 + 1 / SCALE) == set()


def test_trap_20_the_same_condition_twice() -> None:
    """A condition written twice, also in `all` and `any`, does not silence a rule."""
    made = rule("r", "finding.f", [there("a"), there("a")], [there("a"), there("b")])
    assert run([made], a="present") == {"r"}
    twice = rule("s", "finding.f", [there("a")], none_of=[there("b"), there("b")])
    assert len(twice.negated) == 1
    assert run([twice], a="present") == {"s"}


def test_trap_21_one_firing_for_a_conjunction() -> None:
    """A rule over three facts fires once, on one support."""
    made = rule("r", "finding.f", [there("a"), there("b"), there("c")])
    one = DurableEngine([made])
    got = one.run(facts(c="present", a="present", b="present"))
    assert got.firings[0].supports == (("a", "b", "c"),)
    assert len(got.firings) == 1
    one.close()


def test_trap_22_nothing_stays_from_the_run_before() -> None:
    """What was concluded once is gone in the next run, and the caller's facts are untouched."""
    chain = [rule("r", "marker.m", [there("a")]), rule("s", "finding.f", [there("marker.m")])]
    one = DurableEngine(chain)
    stated = facts(a="present")
    assert set(supports(one.run(stated))) == {"r", "s"}
    assert stated == facts(a="present")
    assert not one.run(facts(a="absent")).firings
    assert not one.run({}).firings
    one.close()


@pytest.mark.parametrize("error", [ValueError("broken"), MemoryError(), KeyError("k")])
def test_trap_23_exceptions_in_actions_are_raised(
    monkeypatch: pytest.MonkeyPatch, error: Exception
) -> None:
    """An exception inside an action reaches the caller, with its cause and the rule's name."""
    chain = [rule("r", "marker.m", [there("a")]), rule("s", "finding.f", [there("marker.m")])]
    one = DurableEngine(chain)
    original = durable_engine._wire

    def fails(name: str, fact: Fact, session: str) -> dict[str, Any]:
        if name == "marker.m":
            raise error
        return original(name, fact, session)

    monkeypatch.setattr(durable_engine, "_wire", fails)
    with pytest.raises(EngineError, match="rule r failed while running") as caught:
        one.run(facts(a="present"))
    assert caught.value.__cause__ is error
    monkeypatch.undo()
    # and the engine is usable afterwards
    assert set(supports(one.run(facts(a="present")))) == {"r", "s"}
    one.close()


@pytest.mark.parametrize("error", [KeyboardInterrupt, SystemExit])
def test_trap_23_an_interruption_stays_one(
    monkeypatch: pytest.MonkeyPatch, error: type[BaseException]
) -> None:
    """Ctrl-C inside an action interrupts the program; it is not taken for a fault of a rule."""
    chain = [rule("r", "marker.m", [there("a")]), rule("s", "finding.f", [there("marker.m")])]
    one = DurableEngine(chain)
    original = durable_engine._wire

    def stops(name: str, fact: Fact, session: str) -> dict[str, Any]:
        if name == "marker.m":
            raise error
        return original(name, fact, session)

    monkeypatch.setattr(durable_engine, "_wire", stops)
    with pytest.raises(error):
        one.run(facts(a="present"))
    one.close()


def test_trap_24_a_conclusion_nobody_reads_or_known_before() -> None:
    """Two rules with one conclusion both fire, read by others or not, stated before or not."""
    rules = [
        rule("r", "finding.f", [there("a")]),
        rule("s", "finding.f", [there("b")]),
        rule("t", "marker.m", [there("a")]),
        rule("u", "marker.m", [there("b")]),
        rule("v", "finding.g", [there("marker.m")]),
    ]
    one = DurableEngine(rules)
    assert set(supports(one.run(facts(a="present", b="present")))) == set("rstuv")
    known = {**facts(a="present"), "marker.m": Fact("absent")}
    got = one.run(known)
    assert set(supports(got)) == {"r", "t"}
    assert got.facts["marker.m"] == Fact("absent")
    one.close()


def test_trap_25_facts_that_no_rule_reads() -> None:
    """Only unread facts, and unread facts before read ones, leave everything else as it is."""
    made = [rule("r", "finding.f", [there("a")]), rule("s", "finding.g", [on("n", gt=3)])]
    assert run(made, q="present", z=4) == set()
    assert run(made, q="present", n=2, z=4, a="present") == {"r"}
    assert run(made, a="absent", n=4) == {"s"}


def test_trap_26_many_facts_and_many_runs() -> None:
    """300 facts, 200 times over, and none is taken for another one seen before."""
    rules = [
        rule(f"r{number}", f"finding.f{number}", [there(f"a{number}")]) for number in range(300)
    ]
    one = DurableEngine(rules)
    stated = {f"a{number}": Fact() for number in range(300)}
    assert {len(one.run(stated).firings) for _ in range(50)} == {300}
    one.close()


def test_trap_26_what_the_package_raises_is_an_engine_error(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Should the package take a fact for one seen before, that is an error with a sentence."""
    one = DurableEngine([rule("r", "finding.f", [there("a")])])
    original = one._host.assert_fact

    def observed(ruleset: str, message: dict[str, Any]) -> Any:
        if message["k"] == "a":
            raise durable.MessageObservedException(message)
        return original(ruleset, message)

    monkeypatch.setattr(one._host, "assert_fact", observed)
    with pytest.raises(EngineError, match="durable-rules failed"):
        one.run(facts(a="present"))
    monkeypatch.undo()
    assert one.run(facts(a="present")).firings
    one.close()


def test_trap_27_nothing_is_sent_for_what_is_not_known() -> None:
    """A fact without number or text has no such key on the wire, never a null."""
    wired = durable_engine._wire("a", Fact("unknown"), "d1")
    assert wired == {"id": "f:a", "sid": "d1", "k": "a", "st": "unknown"}
    made = [
        rule("r", "finding.f", [on("a", lte=0)]),
        rule("s", "finding.g", [on("a", is_="unknown")]),
    ]
    assert run(made, a="unknown") == {"s"}


def test_trap_28_antecedents() -> None:
    """Fifteen antecedents work; sixteen, seventeen, or fifteen and a negation are refused."""
    names = [f"f{number}" for number in range(17)]
    full = rule("r", "finding.f", [there(name) for name in names[:15]])
    assert run([full], **dict.fromkeys(names[:15], "present")) == {"r"}
    assert run([full], **dict.fromkeys(names[:14], "present")) == set()
    for count in (16, 17):
        with pytest.raises(EngineError, match="rule r: more than 15 antecedents"):
            rule("r", "finding.f", [there(name) for name in names[:count]])
    with pytest.raises(EngineError, match="more than 15 antecedents"):
        rule("r", "finding.f", [there(name) for name in names[:15]], none_of=[there("z")])


def test_trap_28_thresholds_on_one_fact() -> None:
    """Sixty different limits on one number work at once; 61 are refused."""
    rules = [rule(f"r{limit}", f"finding.f{limit}", [on("t", gt=limit)]) for limit in range(61)]
    assert len(run(rules[:60], t=100)) == 60
    assert len(run(rules[:60], t=30)) == 30
    with pytest.raises(EngineError, match="t: 61 different tests; at most 60"):
        DurableEngine(rules)


def test_trap_28_alternatives_blow_up() -> None:
    """Up to 32 alternatives are written out; more are refused before they are made."""
    assert (
        len(
            rule(
                "r", "f", [on("a", in_=tuple("abcdefgh")), on("b", in_=tuple("abcd"))]
            ).alternatives
        )
        == 32
    )
    started = time.process_time()
    with pytest.raises(EngineError, match="rule r: 49 alternatives; at most 32"):
        rule("r", "f", [on("a", in_=tuple("abcdefg")), on("b", in_=tuple("abcdefg"))])
    many = [on(f"a{number}", in_=tuple("abcdefghij")) for number in range(12)]
    with pytest.raises(EngineError, match="1000000000000 alternatives"):
        rule("r", "f", many)
    assert time.process_time() - started < 1


def test_trap_28_long_texts() -> None:
    """Texts up to the limit are told apart by their last sign; longer ones are refused."""
    same = "\N{BEER MUG}" * (MAX_TEXT - 1)
    made = rule("r", "finding.f", [on("t", in_=(f"{same}a",))])
    assert run([made], t=f"{same}a") == {"r"}
    assert run([made], t=f"{same}b") == set()
    # the engine would take both for "ale"
    for text in ("ale" + "x" * 65536, "ale" + "e" * 131072):
        with pytest.raises(EngineError, match="signs; at most 5000"):
            Fact(text=text)
        with pytest.raises(EngineError, match="signs; at most 5000"):
            rule("r", "finding.f", [on("t", in_=(text,))])


@pytest.mark.parametrize("text", [".*", "a.c", "%d+", 'quote " and \\ backslash', "Kölsch", "(a"])
def test_trap_29_text_is_no_pattern(text: str) -> None:
    """A text equals itself and nothing else, whatever signs stand in it."""
    made = rule("r", "finding.f", [on("t", in_=(text,))])
    assert run([made], t=text) == {"r"}
    assert run([made], t="abc") == set()
    assert run([made], t=text + "x") == set()


def test_trap_30_unknown_operator_and_state() -> None:
    """An unknown operator, a misspelt state and an empty condition are refused with a sentence."""
    with pytest.raises(EngineError, match="rule r: a: unknown operator 'gtt'"):
        rule("r", "f", [RawCondition("a", ("gtt", 1))])  # type: ignore[list-item]
    with pytest.raises(EngineError, match="rule r: a: not a state: 'Present'"):
        rule("r", "f", [RawCondition("a", ("is", "Present"))])  # type: ignore[list-item]
    with pytest.raises(EngineError, match="a: no test"):
        parse_condition(RawCondition("a"))
    with pytest.raises(EngineError, match="a: no test"):
        parse_condition(RawCondition("a", ("in", ())))
    with pytest.raises(EngineError, match="not a state: 'Present'"):
        Fact("Present")
    with pytest.raises(EngineError, match="a condition under none takes exactly one test"):
        rule("r", "f", [there("z")], none_of=[on("a", gt=1, lt=2)])


def test_none_of_several_texts() -> None:
    """`none` with several texts means none of them."""
    made = rule("r", "finding.f", [there("a")], none_of=[on("t", in_=("ale", "lager"))])
    assert [run([made], a="present", t=text) for text in ("ale", "lager", "wheat")] == [
        set(),
        set(),
        {"r"},
    ]
    assert run([made], a="present") == {"r"}


def test_trap_31_a_long_chain_is_followed_to_its_end() -> None:
    """400 rules in a chain are followed to the last, far inside the engine's ten seconds."""
    first = rule("r0", "marker.m0", [there("a")])
    rest = [
        rule(f"r{number}", f"marker.m{number}", [there(f"marker.m{number - 1}")])
        for number in range(1, 400)
    ]
    started = time.process_time()
    assert len(run([first, *rest], a="present")) == 400
    assert time.process_time() - started < 5


def test_trap_32_compiled_rules_are_given_back() -> None:
    """Engines built and closed over and over leave no memory behind."""
    code = """
import gc, os
from pathlib import Path
from tests.rules.support import *
from trubshoot.rules.durable_engine import DurableEngine
rules = [rule(f"r{n}", f"finding.f{n}", [there(f"a{n}"), on(f"n{n}", gt=n)]) for n in range(60)]
def resident():
    gc.collect()
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 2**20
def rounds(count):
    for _ in range(count):
        engine = DurableEngine(rules)
        engine.run(facts(a1="present"))
        engine.close()
rounds(30)
before = resident()
rounds(150)
print(resident() - before)
"""
    assert float(in_own_python(code)) < 5


def test_trap_33_a_deprecation_in_the_package_changes_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The warning that newer Pythons give in every action loses no conclusion, even as an error."""
    import datetime as real
    import warnings

    class Warns(real.datetime):
        """The datetime of Python 3.12."""

        @classmethod
        def utcfromtimestamp(cls, timestamp: float) -> Any:
            """Warn as 3.12 does."""
            warnings.warn(
                "datetime.datetime.utcfromtimestamp() is deprecated", DeprecationWarning, 2
            )
            return super().utcfromtimestamp(timestamp)

    class Module:
        """Stands in for the module inside the package."""

        datetime = Warns

    monkeypatch.setattr(durable, "datetime", Module)
    made = rule("r", "finding.f", [there("a")])
    assert run([made], a="present") == {"r"}  # filtered, as pyproject.toml asks
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        opinion = Reasoner([made]).run(facts(a="present"))
    assert "finding.f" in opinion.conclusions.facts
    assert opinion.faults


@pytest.mark.parametrize(
    "value", [np.float64(2.5), np.float32(2.5), np.int64(2), 2], ids=lambda value: repr(value)
)
def test_trap_34_numbers_of_numpy_are_converted_at_the_door(value: Any) -> None:
    """A number of numpy becomes a plain number when it is made a fact."""
    assert type(Fact.of(value).number) is float
    assert run([rule("r", "finding.f", [on("n", gt=1)])], n=value) == {"r"}


@pytest.mark.parametrize("value", [True, np.bool_(True), np.int64(2), "2", Decimal(2)])
def test_trap_34_what_is_not_a_number_is_refused_in_a_fact(value: Any) -> None:
    """A fact takes a float or an int for its number, nothing that merely looks like one."""
    with pytest.raises(EngineError, match="not a number"):
        Fact(number=value)


def test_trap_34_a_truth_value_is_no_fact() -> None:
    """True is not 1: a fact is made from a state, a number or a text."""
    for value in (True, False, np.bool_(True)):
        with pytest.raises(EngineError, match="not a number"):
            Fact.of(value)  # type: ignore[arg-type]


def test_trap_34_half_a_character() -> None:
    """A lone surrogate in a text is an error with a sentence, not a crash."""
    code = """
from tests.rules.support import *
from trubshoot.errors import EngineError
from trubshoot.rules.durable_engine import DurableEngine
engine = DurableEngine([rule("r", "finding.f", [on("t", in_=("x",))])])
try:
    print(len(engine.run({"t": Fact(text=chr(0xD800))}).firings))
except EngineError:
    print(0)
print(len(engine.run(facts(t="x")).firings))
"""
    assert in_own_python(code).split() == ["0", "1"]


def test_negation_cycle_is_refused() -> None:
    """Rules that negate each other are refused, the rules being named; a positive circle is not."""
    rules = [
        rule("r", "marker.a", [there("z")], none_of=[there("marker.b")]),
        rule("s", "marker.b", [there("z")], none_of=[there("marker.a")]),
    ]
    for build in (DurableEngine, stratify):
        with pytest.raises(EngineError, match=r"negation goes through a cycle: r, s"):
            build(rules)
    circle = [
        rule("r", "marker.a", [there("marker.b")]),
        rule("s", "marker.b", any_of=[there("marker.a"), there("z")]),
    ]
    assert run(circle, z="present") == {"r", "s"}
    assert run(circle) == set()


def test_names_of_the_cage_are_refused_as_facts() -> None:
    """A fact cannot pass for a marker of the cage, nor two rules for one."""
    one = DurableEngine([rule("r", "finding.f", [there("a")], none_of=[there("b")])])
    for name in ("~b|is|present", "__boot"):
        with pytest.raises(EngineError, match="not a fact name"):
            one.run({"a": Fact(), "b": Fact(), name: Fact()})
    one.close()
    with pytest.raises(EngineError, match="two rules have the same id"):
        DurableEngine([rule("r", "finding.f", [there("a")]), rule("r", "finding.g", [there("b")])])


def test_threads_in_one_engine() -> None:
    """Eight threads in one engine, each with its own facts, get each its own answer."""
    rules = [rule(f"r{number}", f"marker.m{number}", [there(f"a{number}")]) for number in range(8)]
    rules += [
        rule(f"s{number}", f"finding.f{number}", [there("z")], none_of=[there(f"marker.m{number}")])
        for number in range(8)
    ]
    one = DurableEngine(rules)
    wrong: list[object] = []

    def work(number: int) -> None:
        right = {f"r{number}"} | {f"s{other}" for other in range(8) if other != number}
        for _ in range(100):
            got = set(supports(one.run({"z": Fact(), f"a{number}": Fact()})))
            if got != right:
                wrong.append((number, got))

    threads = [threading.Thread(target=work, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    one.close()
    assert not wrong


def test_sessions_of_two_engines_interleaved() -> None:
    """Two engines with the same rule names, run in turn, keep apart."""
    one = DurableEngine([rule("r", "finding.f", [there("a")])])
    two = DurableEngine([rule("r", "finding.f", [there("b")])])
    for _ in range(50):
        assert one.run(facts(a="present")).firings
        assert not two.run(facts(a="present")).firings
        assert two.run(facts(b="present")).firings
    one.close()
    assert two.run(facts(b="present")).firings
    two.close()


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="reads Linux's /proc")
def test_soak() -> None:
    """After 20,000 runs the process has grown by less than 5 MiB."""
    code = """
import gc, os, random
from pathlib import Path
from tests.rules.fuzz import random_facts
from tests.rules.support import *
from trubshoot.rules.durable_engine import DurableEngine
rules = [rule(f"r{n}", f"marker.m{n}", [there(f"b{n}")]) for n in range(6)]
rules += [rule(f"s{n}", f"finding.f{n}", [there(f"marker.m{n}"), on("n0", gt=n)]) for n in range(3)]
rules += [rule("t", "finding.g", [on("t0", in_=("ale", "wheat"))], none_of=[there("marker.m1")])]
engine = DurableEngine(rules)
random_ = random.Random(1)
stated = [random_facts(random_) for _ in range(50)]
def resident():
    gc.collect()
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE") / 2**20
fired = 0
for number in range(2000):
    engine.run(stated[number % 50])
before = resident()
for number in range(20000):
    fired += len(engine.run(stated[number % 50]).firings)
print(fired, resident() - before)
"""
    fired, grown = in_own_python(code).split()
    assert int(fired) > 20_000
    assert float(grown) < 5


def test_fixed_point_keeps_four_decimals() -> None:
    """A number is kept to 1/10,000, rounded to the nearest."""
    assert [fixed_point(value) for value in (1, 1.01234, -0.00004, 0.00006)] == [10000, 10123, 0, 1]


def test_every_trap_of_the_list_has_its_test() -> None:
    """The list above has no gap, and each of its traps is tested under its number."""
    listed = [int(line[:2]) for line in (__doc__ or "").splitlines() if line[:2].strip().isdigit()]
    assert listed == list(range(1, 35))
    tested = [name for name in globals() if name.startswith("test_trap_")]
    numbers = {
        int(number) for name in tested for number in re.findall(r"(?:trap|and)_(\d\d)", name)
    }
    assert numbers == set(listed)
