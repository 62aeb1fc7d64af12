"""Cross-file checks: what keeps a bad model from being loaded. Each names file, line and mend."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import fields

from trubshoot.errors import Problem
from trubshoot.knowledge_base.asking_checks import check_interview
from trubshoot.knowledge_base.changes import check_changes
from trubshoot.knowledge_base.loader import KnowledgeBase, Raw
from trubshoot.knowledge_base.schema import Condition, RuleSpec
from trubshoot.knowledge_base.wrong_value import nearest

# Words that may stand in place of a source key, weakest last; they are never upgraded.
WITHOUT_PUBLICATION = ("common practice", "from memory", "judgement")
DERIVED = ("finding.", "absence.", "context.", "marker.")
SAID = "said."
_SAY_WHERE_FROM = (
    "Write `sources: [...]` with a key of sources.yaml, or with one of "
    f"{', '.join(WITHOUT_PUBLICATION)}."
)
NOT_SHOWN_ID = "not_shown"  # stands in when nothing permits bottling and nothing says why
FAILED_ID = "could_not_assess"  # stands in when nothing could be concluded at all
# Rows that stand in for what a batch file does not say; the program asks for them by name.
STAND_INS = {
    "yeast_classes": ("bread_or_unknown_kit_sachet",),
    "sugars": ("sucrose", "unknown_sugar"),
    "bottles": ("unknown", "single_use_longneck_reused"),
    "hazards": (FAILED_ID,),
}
# Lists that the bottling commands print, and the numbers of a batch that their lines may name.
NEEDED_LISTS = (
    *("bottling", "go_limits", "opened_bottle", "leave_closed", "bottle_classes"),
    *("brew_day", "brew_day_cautions", "handling_reasons"),
)
LIST_NUMBERS = (
    *("bottles", "rating", "sugar", "volume", "storage_below", "headspace", "gravity_at_bottling"),
    *("gravity_low", "bottle_size"),
)
# numbers of a plan; a line that names one which is not known is left out of the card
CARD_NUMBERS = (
    *("volume", "boiled", "top_up", "sulphite", "pitch_range", "ferment_range", "yeast_amount"),
    *("yeast_have", "og", "end", "first_check", "earliest_bottling", "target", "bottled_volume"),
    *("sugar_amount", "weight", "empty_share", "fermenter_fits"),
)
_PLACEHOLDER = re.compile(r"\{([^{}]+)\}")


def check_to_load(knowledge: KnowledgeBase, raw: Raw) -> list[Problem]:
    """Return every problem that would let a wrong model reach a diagnosis."""
    problems: list[Problem] = []
    checks = (_complete, _causes, _findings, _rules, _hazards, _checklists, _sources, _words)
    for check in (*checks, check_interview, check_changes):
        problems.extend(check(knowledge, raw))
    return problems


def _complete(knowledge: KnowledgeBase, raw: Raw) -> Iterator[Problem]:
    """Without rules or tables every batch would be found without fault."""
    for field in fields(knowledge):
        table = getattr(knowledge, field.name)
        if field.name == "version":
            continue
        if not table:
            what = field.name.replace("_", " ")
            yield Problem(field.name, 0, f"no {what} here.", "Is this the folder of knowledge?")
            continue
        for name in STAND_INS.get(field.name, ()):
            if name not in table:
                yield Problem(field.name, 0, f"'{name}' is missing.", "The program needs it.")


def _causes(knowledge: KnowledgeBase, raw: Raw) -> Iterator[Problem]:
    for cause in knowledge.causes.values():
        path = f"causes/{cause.id}.yaml"
        if cause.step not in knowledge.steps:
            line = raw.line(path, "step")
            yield Problem(
                path,
                line,
                f"unknown step '{cause.step}'.",
                nearest(cause.step, knowledge.steps, "steps.yaml"),
            )
        if not cause.links:
            yield Problem(
                path,
                raw.line(path, "links"),
                "no finding can show this cause.",
                "Give it at least one link: {finding, strength}.",
            )
        seen: set[str] = set()
        for number, link in enumerate(cause.links):
            line = raw.line(path, "links", number)
            if link.finding not in knowledge.findings:
                mend = nearest(link.finding, knowledge.findings, "findings/")
                yield Problem(path, line, f"unknown finding '{link.finding}'.", mend)
            if link.finding in seen:
                yield Problem(path, line, f"'{link.finding}' is linked twice.", "Remove one.")
            seen.add(link.finding)
        for number, modifier in enumerate(cause.modifiers):
            if modifier.when not in knowledge.contexts:
                mend = nearest(modifier.when, knowledge.contexts, "contexts.yaml")
                line = raw.line(path, "modifiers", number)
                yield Problem(path, line, f"unknown context '{modifier.when}'.", mend)
        for number, example in enumerate(cause.examples):
            line = raw.line(path, "examples", number)
            for name in (*example.present, *example.absent):
                if name not in knowledge.findings:
                    mend = nearest(name, knowledge.findings, "findings/")
                    yield Problem(path, line, f"unknown finding '{name}'.", mend)
            for name in example.contexts:
                if name not in knowledge.contexts:
                    mend = nearest(name, knowledge.contexts, "contexts.yaml")
                    yield Problem(path, line, f"unknown context '{name}'.", mend)
        wanted = {"up": ("first", "top3"), "down": ("not_first", "not_top3")}
        for words in wanted.values():
            if not any(example.expect in words for example in cause.examples):
                yield Problem(
                    path,
                    raw.line(path, "examples"),
                    f"no example with expect: {' or '.join(words)}.",
                    "Add one; it runs as a test.",
                )


def _findings(knowledge: KnowledgeBase, raw: Raw) -> Iterator[Problem]:
    linked = {link.finding for cause in knowledge.causes.values() for link in cause.links}
    for finding in knowledge.findings.values():
        path = f"findings/{finding.id}.yaml"
        if finding.id not in linked:
            yield Problem(
                path, 1, "no cause explains this finding.", "Link it from a cause, or remove it."
            )
        for means in (True, False):
            if not any(example.means is means for example in finding.examples):
                yield Problem(
                    path,
                    raw.line(path, "examples"),
                    f"no example with means: {str(means).lower()}.",
                    "Add words that mean it, or words close to it that do not.",
                )
        for name in finding.confused_with:
            if name not in knowledge.findings:
                line = raw.line(path, "confused_with")
                yield Problem(
                    path,
                    line,
                    f"unknown finding '{name}'.",
                    nearest(name, knowledge.findings, "findings/"),
                )
        for name in (finding.days.earlier, finding.days.later) if finding.days else ():
            if name and name not in knowledge.findings:
                mend = nearest(name, knowledge.findings, "findings/")
                yield Problem(path, raw.line(path, "days"), f"unknown finding '{name}'.", mend)
        if finding.some_bottles and finding.some_bottles not in knowledge.findings:
            mend = nearest(finding.some_bottles, knowledge.findings, "findings/")
            line = raw.line(path, "some_bottles")
            yield Problem(path, line, f"unknown finding '{finding.some_bottles}'.", mend)


def fact_problem(knowledge: KnowledgeBase, condition: Condition) -> tuple[str, str] | None:
    """Return (message, mend) when a condition cannot be tested as written."""
    name = condition.fact
    operators = {operator for operator, _ in condition.tests()}
    if name.startswith(SAID):
        target = name.removeprefix(SAID)
        if target not in knowledge.findings and target not in knowledge.signs:
            known = (*knowledge.findings, *knowledge.signs)
            return f"'{name}' names no finding and no sign.", nearest(target, known)
        kind = "state"
    elif name.startswith(DERIVED):
        kind = "state"
    elif name in knowledge.facts:
        kind = knowledge.facts[name].type
    else:
        return f"the fact '{name}' is not in facts.yaml.", nearest(
            name, knowledge.facts, "facts.yaml"
        )
    allowed = {"state": {"is"}, "text": {"in", "is"}, "number": {"gt", "gte", "lt", "lte", "eq"}}
    wrong = operators - allowed[kind]
    if wrong:
        fitting = ", ".join(sorted(allowed[kind]))
        return (
            f"'{name}' is a {kind}; {', '.join(sorted(wrong))} does not fit it.",
            f"Use one of: {fitting}.",
        )
    fact = knowledge.facts.get(name)
    if fact is not None and fact.range is not None:
        for operator, limit in condition.tests():
            if isinstance(limit, (int, float)) and not fact.range[0] <= limit <= fact.range[1]:
                low, high = fact.range
                return (
                    f"'{name} {operator} {limit:g}' lies outside {low:g} to {high:g}: "
                    "it always or never holds.",
                    "Correct the limit, or the range in facts.yaml.",
                )
    if fact is not None and condition.in_ is not None:
        for text in condition.in_:
            if text not in fact.values:
                return f"'{name}' is never '{text}'.", nearest(text, fact.values)
    return None


def _targets(knowledge: KnowledgeBase, rule: RuleSpec) -> Iterable[str]:
    tables: dict[str, Iterable[str]] = {
        "finding": knowledge.findings,
        "no_finding": knowledge.findings,
        "context": knowledge.contexts,
        "rules_out": knowledge.causes,
        "hazard": knowledge.hazards,
        "marker": [rule.then.target],
        "hold": knowledge.holds,
        "permit": ["bottling"],
    }
    return tables[rule.then.kind]


def _rules(knowledge: KnowledgeBase, raw: Raw) -> Iterator[Problem]:
    made = {
        f"{prefix}{rule.then.target}"
        for rule in knowledge.rules.values()
        for kind, prefix in zip(
            ("finding", "no_finding", "context", "marker"), DERIVED, strict=True
        )
        if rule.then.kind == kind and rule.then.told is None
    }
    for rule in knowledge.rules.values():
        path = f"rules/{rule.id}.yaml"
        known = _targets(knowledge, rule)
        if rule.then.target not in known:
            yield Problem(
                path,
                raw.line(path, "then"),
                f"concludes '{rule.then.target}', which is not known.",
                nearest(rule.then.target, known),
            )
        named = set()
        for section in ("all", "any", "none"):
            for number, condition in enumerate(getattr(rule.when, section)):
                named.add(condition.fact)
                line = raw.line(path, "when", section, number)
                wrong = fact_problem(knowledge, condition)
                if wrong:
                    yield Problem(path, line, *wrong)
                if section == "none" and len(condition.tests()) > 1:
                    yield Problem(
                        path,
                        line,
                        f"two tests on '{condition.fact}' in one condition under none.",
                        "Write one condition for each; none of them may hold.",
                    )
                if condition.fact.startswith(DERIVED) and condition.fact not in made:
                    yield Problem(
                        path,
                        line,
                        f"no rule concludes '{condition.fact}'.",
                        "The test never holds.",
                    )
        for name in _PLACEHOLDER.findall(rule.because):
            if name not in named:
                yield Problem(
                    path,
                    raw.line(path, "because"),
                    f"names {{{name}}}, which is not under when.",
                    f"Use one of: {', '.join(sorted(named))}.",
                )
        for outcome in (True, False):
            if not any(test.fires is outcome for test in rule.tests):
                yield Problem(
                    path,
                    raw.line(path, "tests"),
                    f"no test with fires: {str(outcome).lower()}.",
                    "Add one.",
                )


def _hazards(knowledge: KnowledgeBase, raw: Raw) -> Iterator[Problem]:
    raised = {rule.then.target for rule in knowledge.rules.values() if rule.then.kind == "hazard"}
    held = {rule.then.target for rule in knowledge.rules.values() if rule.then.kind == "hold"}
    for hold in knowledge.holds.values():
        path = f"holds/{hold.id}.yaml"
        if hold.id not in held and hold.id != NOT_SHOWN_ID:
            yield Problem(path, 1, "no rule holds for this reason.", "Add a rule, or remove it.")
        if hold.wait_fact and hold.wait_fact not in knowledge.facts:
            line = raw.line(path, "wait_fact")
            mend = nearest(hold.wait_fact, knowledge.facts, "facts.yaml")
            yield Problem(path, line, f"unknown fact '{hold.wait_fact}'.", mend)
    for hazard in knowledge.hazards.values():
        path = f"hazards/{hazard.id}.yaml"
        if hazard.id not in raised and hazard.id != FAILED_ID:
            yield Problem(path, 1, "no rule raises this hazard.", "Add a rule, or remove it.")
        if not hazard.avoid:
            yield Problem(path, raw.line(path, "avoid"), "says not how to avoid it.", "Add steps.")
        for name in hazard.unknown_if_missing:
            said = name.removeprefix(SAID)
            if name not in knowledge.facts and said not in {*knowledge.findings, *knowledge.signs}:
                line = raw.line(path, "unknown_if_missing")
                yield Problem(
                    path,
                    line,
                    f"unknown fact '{name}'.",
                    nearest(name, knowledge.facts, "facts.yaml"),
                )


def _checklists(knowledge: KnowledgeBase, raw: Raw) -> Iterator[Problem]:
    for name in NEEDED_LISTS:
        if name not in knowledge.checklists:
            yield Problem("checklists", 0, f"'{name}' is missing.", "The program needs it.")
    for checklist in knowledge.checklists.values():
        path = f"checklists/{checklist.id}.yaml"
        seen: set[str] = set()
        for number, item in enumerate(checklist.items):
            line = raw.line(path, "items", number)
            if item.id in seen:
                yield Problem(path, line, f"'{item.id}' stands here twice.", "Rename one.")
            seen.add(item.id)
            when = item.when
            for condition in (*when.all, *when.any, *when.none) if when is not None else ():
                wrong = fact_problem(knowledge, condition)
                if wrong:
                    yield Problem(path, line, *wrong)
            for name in _PLACEHOLDER.findall(item.do):
                names = CARD_NUMBERS if checklist.id.startswith("brew_day") else LIST_NUMBERS
                if name not in names:
                    known = ", ".join(names)
                    yield Problem(path, line, f"names {{{name}}}.", f"Use one of: {known}.")
            for source in item.sources:
                if source not in knowledge.sources and source not in WITHOUT_PUBLICATION:
                    mend = nearest(
                        source, (*knowledge.sources, *WITHOUT_PUBLICATION), "sources.yaml"
                    )
                    yield Problem(path, line, f"unknown source '{source}'.", mend)


def _sources(knowledge: KnowledgeBase, raw: Raw) -> Iterator[Problem]:
    groups = {
        "causes/{}.yaml": knowledge.causes,
        "findings/{}.yaml": knowledge.findings,
        "rules/{}.yaml": knowledge.rules,
        "hazards/{}.yaml": knowledge.hazards,
        "holds/{}.yaml": knowledge.holds,
        "yeast_classes.yaml": knowledge.yeast_classes,
        "sugars.yaml": knowledge.sugars,
        "fermentables.yaml": knowledge.fermentables,
        "bottles.yaml": knowledge.bottles,
        "sanitizers.yaml": knowledge.sanitizers,
        "constants.yaml": knowledge.constants,
        "confusions.yaml": knowledge.confusions,
        "interview.yaml": knowledge.interview,
        "changes.yaml": knowledge.changes,
        "forbidden_actions.yaml": knowledge.forbidden_actions,
    }
    for template, entries in groups.items():
        for key, entry in entries.items():  # type: ignore[attr-defined]
            path = template.format(key)
            if "/" not in template:
                path = raw.table_file(template.removesuffix(".yaml"), key)
            place = ("sources",) if "/" in template else (key, "sources")
            for source in entry.sources:
                if source not in knowledge.sources and source not in WITHOUT_PUBLICATION:
                    mend = nearest(
                        source, (*knowledge.sources, *WITHOUT_PUBLICATION), "sources.yaml"
                    )
                    line = raw.line(path, *place)
                    yield Problem(path, line, f"unknown source '{source}'.", mend)
            if not entry.sources and template != "interview.yaml":  # sentences need no source
                line = raw.line(path, *place)
                yield Problem(path, line, "says not where it is from.", _SAY_WHERE_FROM)


def _words(knowledge: KnowledgeBase, raw: Raw) -> Iterator[Problem]:
    """A phrase must lead to one finding only, unless the stage of the batch tells them apart."""
    owner: dict[str, str] = {}
    for finding in knowledge.findings.values():
        path = f"findings/{finding.id}.yaml"
        for alias in finding.aliases:
            other = owner.setdefault(" ".join(alias.lower().split()), finding.id)
            if other == finding.id:
                continue
            if set(finding.stages).isdisjoint(knowledge.findings[other].stages):
                continue
            line = raw.line(path, "aliases")
            yield Problem(path, line, f"'{alias}' also means {other}.", "Keep it in one place.")
