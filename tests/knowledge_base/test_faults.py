"""Seeded faults: one thing wrong in a copy of the knowledge, and it is found where it stands."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import pytest

from trubshoot.errors import KnowledgeError, Problem
from trubshoot.knowledge_base import load_knowledge, loader
from trubshoot.knowledge_base.checks import STAND_INS

CHECKOUT = Path(__file__).resolve().parents[2] / "knowledge"
CAUSE, FINDING = "causes/hop_creep.yaml", "findings/airlock_stopped_early.yaml"
RULE, HAZARD = "rules/full_boil.yaml", "hazards/bottle_burst.yaml"
TEXT_RULE = "rules/pitched_25_to_32c.yaml"

Change = Callable[[str], str]


@dataclass(frozen=True)
class Fault:
    """A change to one file, and what must be said of it."""

    name: str
    path: str
    change: Change
    at: str  # the first line of the changed file that matches this; "" for the whole file
    says: str
    mend: str = "."

    def __str__(self) -> str:
        return self.name


def put(pattern: str, new: str) -> Change:
    """Return a change of the first match of a pattern, which must be there."""

    def change(text: str) -> str:
        changed, count = re.subn(pattern, new, text, count=1, flags=re.MULTILINE)
        assert count == 1, pattern
        return changed

    return change


def add(lines: str) -> Change:
    """Return a change that adds lines at the end."""
    return lambda text: text.rstrip("\n") + "\n" + lines + "\n"


def drop(key: str) -> Change:
    """Return a change that takes out a key at the margin with everything under it."""
    return put(rf"^{key}:.*\n(?:[ \-].*\n)*", "")


FAULTS = [
    Fault("unknown key", CAUSE, add("colour: red"), "^colour", "unknown key 'colour'", "Remove"),
    Fault(
        "unknown key inside",
        CAUSE,
        put(r"strength: 0.8\}", "strength: 0.8, weight: 2}"),
        "weight: 2",
        "unknown key 'weight'",
    ),
    Fault("duplicate key", CAUSE, add("step: boil"), "^step: boil", "'step' stands here twice"),
    Fault("no word on when to stop", CAUSE, drop("stop"), "^id:", "'stop' is missing", "Add it"),
    Fault(
        "an empty word on what it costs",
        CAUSE,
        put(r"^cost:\n(?: .*\n)+", "cost: {}\n"),
        "^cost",
        "cost: say it for at least one of brewing, fermenting, bottled, any.",
    ),
    Fault(
        "unknown kind of action",
        CAUSE,
        put("action: wait", "action: weight"),
        "action: weight",
        "now.fermenting.action",
    ),
    Fault(
        "a cause that forbids what it advises",
        CAUSE,
        put("action: wait", "action: cool"),
        "^id:",
        "now advises 'cool'",
    ),
    Fault("missing key", CAUSE, drop("prior"), "^id:", "'prior' is missing", "Add it"),
    Fault(
        "unknown step",
        CAUSE,
        put("^step: dry_hop", "step: dry_hopp"),
        "^step",
        "'dry_hopp'",
        "Did you mean 'dry_hop'",
    ),
    Fault(
        "unknown finding in a link",
        CAUSE,
        put("finding: butter_popcorn", "finding: butter_popcron"),
        "finding: butter_popcron",
        "unknown finding 'butter_popcron'",
        "Did you mean 'butter_popcorn'",
    ),
    Fault(
        "finding linked twice",
        CAUSE,
        put(r"^(  - \{finding: gusher_all, .*\n)", r"\1\1"),
        r"(?s)gusher_all.*?\n.*?gusher_all",
        "'gusher_all' is linked twice",
        "Remove one",
    ),
    Fault(
        "unknown context in a modifier",
        CAUSE,
        put("when: dry_hopped", "when: dry_hoped"),
        "when: dry_hoped",
        "unknown context 'dry_hoped'",
        "Did you mean",
    ),
    Fault(
        "unknown finding in an example",
        CAUSE,
        put(r"present: \[gusher_all\]", "present: [gusher_al]"),
        r"(?m)^  - name:(?=[^-]*gusher_al\])",
        "unknown finding 'gusher_al'",
        "Did you mean",
    ),
    Fault(
        "unknown source of a cause",
        CAUSE,
        put(r"^sources: \[.*", "sources: [hearsay]"),
        "^sources",
        "unknown source 'hearsay'",
    ),
    Fault(
        "unknown source of a finding",
        FINDING,
        put(r"^sources: \[.*", "sources: [common practise]"),
        "^sources",
        "unknown source 'common practise'",
        "Did you mean 'common practice'",
    ),
    Fault(
        "unknown source of a rule",
        RULE,
        put(r"^sources: \[.*", "sources: [hearsay]"),
        "^sources",
        "unknown source 'hearsay'",
    ),
    Fault(
        "unknown source of a hazard",
        HAZARD,
        put("- injuries_schrader_2010", "- injuries_schrader_2011"),
        "^sources",
        "unknown source 'injuries_schrader_2011'",
        "Did you mean",
    ),
    Fault(
        "unknown source of a constant",
        "constants.yaml",
        put(r"sources: \[self_heating_thread,", "sources: [self_heating_tread,"),
        "self_heating_tread",
        "unknown source 'self_heating_tread'",
    ),
    Fault(
        "prior above 1",
        CAUSE,
        put("^prior: .*", "prior: 1.5"),
        "^prior",
        "prior: 1.5 is not below 1",
    ),
    Fault(
        "prior of zero", CAUSE, put("^prior: .*", "prior: 0"), "^prior", "prior: 0 is not above 0"
    ),
    Fault(
        "strength in words",
        CAUSE,
        put(r"strength: 0.8\}", "strength: often}"),
        "strength: often",
        "strength: 'often' is not a number",
        "Write a share above 0",
    ),
    Fault(
        "strength of one",
        CAUSE,
        put(r"strength: 0.8\}", "strength: 1}"),
        r"strength: 1\}",
        "strength: 1 is not below 1",
        "0.03 for 3 of 100",
    ),
    Fault(
        "odds below zero",
        CAUSE,
        put("odds: 5.0", "odds: -5.0"),
        "odds: -5",
        "odds: -5 is not above 0",
    ),
    Fault(
        "another name than the file's",
        CAUSE,
        put("^id: hop_creep", "id: hop_creeps"),
        "^id",
        "the id is not the file's name 'hop_creep'",
        "Write `id: hop_creep`",
    ),
    Fault(
        "no example that brings it up",
        CAUSE,
        lambda text: text.replace("expect: first", "expect: not_first").replace(
            "expect: top3", "expect: not_first"
        ),
        "^examples",
        "no example with expect: first or top3",
    ),
    Fault(
        "no example that must not",
        CAUSE,
        lambda text: re.sub("expect: not_.*", "expect: first", text),
        "^examples",
        "no example with expect: not_first or not_top3",
    ),
    Fault(
        "no examples",
        CAUSE,
        put(r"(?s)^examples:.*", "examples: []"),
        "^examples",
        "no example with expect: first",
    ),
    Fault(
        "no links",
        CAUSE,
        put(r"(?s)^links:.*?^confirm", "links: []\nconfirm"),
        "^links",
        "no finding can show this cause",
    ),
    Fault(
        "unknown finding in confused_with",
        FINDING,
        put(r"^confused_with: \[.*", "confused_with: [airlok]"),
        "^confused_with",
        "unknown finding 'airlok'",
    ),
    Fault(
        "unknown finding in some_bottles",
        "findings/gusher_all.yaml",
        put(r"^some_bottles: .*", "some_bottles: gusher_sme"),
        "^some_bottles",
        "unknown finding 'gusher_sme'",
        "gusher_some",
    ),
    Fault(
        "a phrase of two findings",
        "findings/fermentation_very_fast.yaml",
        put("^aliases:", "aliases:\n  - Airlock  stopped"),
        "^aliases",
        "'Airlock  stopped' also means airlock_stopped_early",
        "Keep it in one place",
    ),
    Fault(
        "unknown stage",
        FINDING,
        put(r"^stages: \[.*", "stages: [activ]"),
        "^stages",
        "stages: 'activ' is no word for it",
        "lag, active, late_fermentation",
    ),
    Fault("leak of zero", FINDING, put("^leak: .*", "leak: 0"), "^leak", "leak: 0 is not above 0"),
    Fault(
        "unknown way of looking",
        FINDING,
        put("by: measure", "by: guess"),
        "by: guess",
        "by: 'guess' is no word for it",
        "Use one of: ask, look",
    ),
    Fault(
        "unknown fact",
        RULE,
        put("fact: partial_boil_share", "fact: partial_boil_shar"),
        "fact: partial_boil_shar,",
        "the fact 'partial_boil_shar' is not in facts.yaml",
        "Did you mean 'partial_boil_share'",
    ),
    Fault(
        "state test on a number",
        RULE,
        put("gte: 0.95", "is: present"),
        "is: present",
        "'partial_boil_share' is a number; is does not fit",
        "gt, gte",
    ),
    Fault(
        "number test on a state",
        RULE,
        put("fact: topped_up, is: present", "fact: topped_up, gt: 1"),
        "fact: topped_up, gt: 1",
        "'topped_up' is a state; gt does not fit",
        "Use one of: is",
    ),
    Fault(
        "text test on a number",
        RULE,
        put("gte: 0.95", "in: [most]"),
        r"in: \[most\]",
        "'partial_boil_share' is a number; in does not fit",
    ),
    Fault(
        "limit outside the range",
        RULE,
        put("gte: 0.95", "gte: 95"),
        "gte: 95",
        "'partial_boil_share gte 95' lies outside 0 to 1",
        "Correct the limit",
    ),
    Fault(
        "limit that is not finite",
        RULE,
        put("gte: 0.95", "gte: .inf"),
        r"gte: .inf",
        "gte: .*number",
    ),
    Fault(
        "misspelt state",
        RULE,
        put("is: present", "is: Present"),
        "is: Present",
        "is: 'Present' is no",
        "Use one of: present",
    ),
    Fault(
        "text that never is",
        TEXT_RULE,
        put(r"in: \[kveik\]", "in: [kviek]"),
        "kviek",
        "'yeast_class' is never 'kviek'",
        "Did you mean 'kveik'",
    ),
    Fault(
        "unknown operator",
        RULE,
        put("gte: 0.95", "gte: 0.95, over: 1"),
        "over: 1",
        "unknown key 'over'",
    ),
    Fault(
        "condition without a test",
        RULE,
        put(", gte: 0.95", ""),
        r"fact: partial_boil_share\}",
        "a condition needs a test",
    ),
    Fault(
        "two tests under none",
        RULE,
        put("fact: topped_up, is: present", "fact: partial_boil_share, gt: 0.1, lt: 0.2"),
        "gt: 0.1, lt",
        "two tests on 'partial_boil_share' in one condition under none",
    ),
    Fault(
        "only none",
        RULE,
        put(r"^  all:\n.*\n", ""),
        "^when",
        "at least one condition under all or any",
    ),
    Fault("unknown section", RULE, put("^  none:", "  nonne:"), "^  nonne", "unknown key 'nonne'"),
    Fault(
        "nobody concludes it",
        RULE,
        put("fact: topped_up", "fact: marker.topped_upp"),
        "marker.topped_upp",
        "no rule concludes 'marker.topped_upp'",
    ),
    Fault(
        "nobody can say it",
        RULE,
        put("fact: topped_up", "fact: said.topped_upp"),
        "said.topped_upp",
        "'said.topped_upp' names no finding and no sign",
    ),
    Fault(
        "concludes an unknown cause",
        RULE,
        put("rules_out: concentrated_partial_boil", "rules_out: concentrated_boil"),
        "^then",
        "concludes 'concentrated_boil', which is not known",
    ),
    Fault(
        "concludes an unknown finding",
        RULE,
        put("rules_out: concentrated_partial_boil", "finding: sourr_tart"),
        "^then",
        "concludes 'sourr_tart', which is not known",
        "Did you mean 'sour_tart'",
    ),
    Fault(
        "concludes an unknown hazard",
        RULE,
        put("rules_out: concentrated_partial_boil", "hazard: bottle_birst"),
        "^then",
        "concludes 'bottle_birst', which is not known",
        "Did you mean 'bottle_burst'",
    ),
    Fault(
        "concludes an unknown context",
        RULE,
        put("rules_out: concentrated_partial_boil", "context: dry_hoped"),
        "^then",
        "concludes 'dry_hoped', which is not known",
    ),
    Fault(
        "concludes two things",
        RULE,
        put(
            r"rules_out: concentrated_partial_boil",
            "rules_out: concentrated_partial_boil, marker: both",
        ),
        "^then",
        "exactly one of",
    ),
    Fault(
        "certainty of one",
        RULE,
        put(
            r"\{rules_out: concentrated_partial_boil\}",
            "{finding: sour_tart, told: {so: 1.0, not_so: 0.1}}",
        ),
        "^then",
        "so: 1 is not below 1",
    ),
    Fault(
        "names what it does not test",
        RULE,
        put(r"\{partial_boil_share\}", "{boil_minutes}"),
        "^because",
        r"names \{boil_minutes\}, which is not under when",
        "partial_boil_share",
    ),
    Fault(
        "no test that fires",
        RULE,
        lambda text: text.replace("fires: true", "fires: false"),
        "^tests",
        "no test with fires: true",
    ),
    Fault(
        "no test that stays silent",
        RULE,
        lambda text: text.replace("fires: false", "fires: true"),
        "^tests",
        "no test with fires: false",
    ),
    Fault(
        "hazard without a way out",
        HAZARD,
        put(r"(?s)^avoid:.*?^gate", "avoid: []\ngate"),
        "^avoid",
        "says not how to avoid it",
    ),
    Fault(
        "unknown level",
        HAZARD,
        put("^level: danger", "level: mild"),
        "^level",
        "level: 'mild' is no",
        "Use one of: notice",
    ),
    Fault(
        "unknown fact in a hazard",
        HAZARD,
        put("^  hours_since_burst: when", "  hours_since_bursts: when"),
        "^unknown_if_missing",
        "unknown fact 'hours_since_bursts'",
        "Did you mean",
    ),
    Fault(
        "a tab",
        CAUSE,
        put("^  - {when", "\t- {when"),
        "^\t",
        "a tab is used to indent",
        "two spaces",
    ),
    Fault(
        "a bracket left open",
        CAUSE,
        put(r"^links:", "links: [\nlink:"),
        "",
        "this is not YAML",
        "Check indentation",
    ),
    Fault(
        "an anchor",
        CAUSE,
        put("^step: ", "step: &here "),
        "^step",
        "anchors and aliases",
        "Write the value out",
    ),
    Fault(
        "a tag",
        CAUSE,
        put("^step: ", "step: !!python/name:os.system "),
        "^step",
        "the tag .* is not read here",
    ),
    Fault(
        "a list where keys should be",
        CAUSE,
        lambda text: "- id: hop_creep\n",
        "- id",
        "is not a mapping of keys",
    ),
    Fault("an empty file", CAUSE, lambda text: "", "", "is not a mapping of keys"),
    Fault(
        "a table that is a list",
        "sugars.yaml",
        lambda text: "- sucrose\n",
        "sucrose",
        "is not a table of ids",
    ),
    Fault(
        "a step twice",
        "steps.yaml",
        add("- id: water\n  label: Water again\n  what: water"),
        r"(?s)- id: water\b.*\n- id: water\b",
        "'water' stands here twice",
        "id of its own",
    ),
    Fault(
        "a step without label",
        "steps.yaml",
        put("^  label: Chill\n", ""),
        "^- id: chill",
        "'label' is missing|label' is missing",
    ),
    Fault(
        "unknown key in a table",
        "sugars.yaml",
        put(r"^(sucrose:\n)", r"\1  sweetness: 1\n"),
        "sweetness",
        "unknown key 'sweetness'",
    ),
    Fault(
        "unknown key in a second file of a table",
        "contexts_log.yaml",
        put(r"^(vigorous_start:\n)", r"\1  colour: red\n"),
        "colour",
        "unknown key 'colour'",
    ),
    Fault(
        "number without its range",
        "facts.yaml",
        put(r"range: \[0, 2000\], ", ""),
        "^days_since_bottling",
        "a number needs its range",
    ),
    Fault(
        "a row in two files",
        "contexts_log.yaml",
        add("tap_water_unfiltered:\n  label: again"),
        "^tap_water",
        "'tap_water_unfiltered' stands in two files",
    ),
    Fault(
        "an empty list of sources",
        CAUSE,
        put(r"^sources: \[.*", "sources: []"),
        "^sources",
        "says not where it is from",
    ),
    Fault(
        "a cause without a source",
        CAUSE,
        drop("sources"),
        "^id:",
        "says not where it is from",
        "from memory, judgement",
    ),
    Fault(
        "a finding without words that do not mean it",
        FINDING,
        lambda text: text.replace("means: false", "means: true"),
        "^examples",
        "no example with means: false",
        "close to it that do not",
    ),
    Fault(
        "a step that is near to none",
        CAUSE,
        put("^step: .*", "step: zzz"),
        "^step",
        "unknown step 'zzz'",
        "Use one of: water, ingredients.*add it to steps.yaml",
    ),
]


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Return a copy of the knowledge; files that do not change are parsed only once."""
    copy = tmp_path_factory.mktemp("faulty") / "knowledge"
    shutil.copytree(CHECKOUT, copy)
    patch = pytest.MonkeyPatch()
    patch.setattr(loader, "read_yaml", lru_cache(maxsize=None)(loader.read_yaml))
    yield copy
    patch.undo()


def problems_of(folder: Path) -> list[Problem]:
    """Return what loading a folder is refused for."""
    with pytest.raises(KnowledgeError) as caught:
        load_knowledge(folder)
    return caught.value.problems


def line_of(text: str, pattern: str) -> int:
    """Return the line on which the first match of a pattern ends (starts, for one line)."""
    match = re.search(pattern, text, re.MULTILINE)
    assert match, pattern
    return text.count("\n", 0, match.end()) + 1


@pytest.mark.parametrize("fault", FAULTS, ids=str)
def test_fault_is_found(folder: Path, fault: Fault) -> None:
    """The fault is refused with its file, its line, what is wrong, and a mend."""
    path = folder / fault.path
    text = path.read_text(encoding="utf-8")
    changed = fault.change(text)
    assert changed != text
    path.write_text(changed, encoding="utf-8")
    try:
        problems = problems_of(folder)
    finally:
        path.write_text(text, encoding="utf-8")
    fitting = [problem for problem in problems if re.search(fault.says, problem.message)]
    assert fitting, [str(problem) for problem in problems]
    assert {problem.path for problem in fitting} == {fault.path}
    if fault.at:
        assert fitting[0].line == line_of(changed, fault.at), str(fitting[0])
    assert all(problem.mend for problem in problems), [str(problem) for problem in problems]
    assert re.search(fault.mend, fitting[0].mend), fitting[0].mend


def test_the_copy_itself_is_faultless(folder: Path) -> None:
    """Without a fault the copy loads, so the faults are what is refused."""
    assert load_knowledge(folder).causes


def test_not_utf8(folder: Path) -> None:
    """A file in another encoding is named."""
    path = folder / CAUSE
    content = path.read_bytes()
    path.write_bytes(content.replace(b"Dry hops", b"D\xfcnn", 1))
    try:
        (problem,) = problems_of(folder)
    finally:
        path.write_bytes(content)
    assert (problem.path, problem.message) == (CAUSE, "is not UTF-8 text.")
    assert problem.mend == "Save it as UTF-8."


def test_all_problems_in_one_pass(folder: Path) -> None:
    """Three faults in three files are all reported together, in order of files."""
    changes = {CAUSE: "^step: .*", RULE: "^then: .*", FINDING: r"^confused_with: .*"}
    new = {CAUSE: "step: x1", RULE: "then: {finding: xx}", FINDING: "confused_with: [yy]"}
    before = {name: (folder / name).read_text(encoding="utf-8") for name in changes}
    try:
        for name, pattern in changes.items():
            (folder / name).write_text(put(pattern, new[name])(before[name]), encoding="utf-8")
        problems = problems_of(folder)
    finally:
        for name, text in before.items():
            (folder / name).write_text(text, encoding="utf-8")
    assert {CAUSE, RULE, FINDING} <= {problem.path for problem in problems}
    assert problems == sorted(problems)


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("colours.yaml", "is no file that trubshoot reads"),
        ("causes.yaml", "is no file that trubshoot reads"),
        ("drafts/one.yaml", "is no file that trubshoot reads"),
        ("causes/old/one.yaml", "is no file that trubshoot reads"),
    ],
)
def test_file_in_the_wrong_place(folder: Path, name: str, says: str) -> None:
    """A file that nothing would read is named, not passed over."""
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("one: {label: x}\n", encoding="utf-8")
    try:
        problems = problems_of(folder)
    finally:
        path.unlink()
        if path.parent not in (folder, folder / "causes"):
            path.parent.rmdir()
    assert [(problem.path, problem.line) for problem in problems] == [(name, 0)]
    assert re.search(says, problems[0].message)
    assert problems[0].mend


def test_hazard_that_no_rule_raises(folder: Path) -> None:
    """A hazard nobody raises is named: its warning would never be shown."""
    path = folder / "hazards" / "never_raised.yaml"
    text = (folder / HAZARD).read_text(encoding="utf-8")
    path.write_text(text.replace("id: bottle_burst", "id: never_raised", 1), encoding="utf-8")
    try:
        (problem,) = problems_of(folder)
    finally:
        path.unlink()
    assert problem == Problem(
        "hazards/never_raised.yaml",
        1,
        "no rule raises this hazard.",
        "Add a rule, or remove it.",
    )


def test_finding_that_no_cause_explains(folder: Path) -> None:
    """A finding without a cause is named, and so are its phrases when another has them."""
    path = folder / "findings" / "unexplained_thing.yaml"
    text = (folder / FINDING).read_text(encoding="utf-8")
    text = text.replace("id: airlock_stopped_early", "id: unexplained_thing", 1)
    path.write_text(text, encoding="utf-8")
    try:
        problems = problems_of(folder)
    finally:
        path.unlink()
    where = "findings/unexplained_thing.yaml"
    assert (
        Problem(where, 1, "no cause explains this finding.", "Link it from a cause, or remove it.")
        in problems
    )
    assert sum("also means airlock_stopped_early" in problem.message for problem in problems) > 5


@pytest.mark.parametrize("table", ["causes", "findings", "rules", "hazards"])
def test_missing_folder(folder: Path, table: str, tmp_path: Path) -> None:
    """A folder that is gone is not taken for one without entries."""
    kept = tmp_path / table
    shutil.move(folder / table, kept)
    try:
        problems = problems_of(folder)
    finally:
        shutil.move(kept, folder / table)
    assert any(problem.message == f"no {table} here." for problem in problems)


@pytest.mark.parametrize(
    ("table", "row"),
    [(table, row) for table, rows in STAND_INS.items() for row in rows if table != "hazards"],
)
def test_missing_stand_in(folder: Path, table: str, row: str) -> None:
    """The row that stands in for what is unknown must be there."""
    path = folder / f"{table}.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(drop(row)(text), encoding="utf-8")
    try:
        problems = problems_of(folder)
    finally:
        path.write_text(text, encoding="utf-8")
    assert Problem(table, 0, f"'{row}' is missing.", "The program needs it.") in problems
