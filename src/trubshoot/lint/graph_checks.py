"""Checks of how rules hang together: K08 to K14."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from trubshoot.lint.remarks import DERIVED, SAID, Remark, Subject, conditions
from trubshoot.rules.conditions import Rule
from trubshoot.safety import FOOD_MARKER


def unreachable(subject: Subject) -> Iterator[Remark]:
    """K08: a rule that needs something nobody states and no reachable rule concludes."""
    known = {*subject.knowledge.facts}
    known |= {SAID + name for name in (*subject.knowledge.findings, *subject.knowledge.signs)}
    waiting = dict(subject.rules)
    changed = True
    while changed:
        changed = False
        for rule in list(waiting.values()):
            if any(all(test.fact in known for test in tests) for tests in rule.alternatives):
                known.add(rule.conclusion)
                del waiting[rule.id]
                changed = True
    for rule in waiting.values():
        lacking = sorted(rule.reads - known)
        yield Remark(
            *subject.at_rule(rule.id),
            "K08",
            f"never fires: nothing states or concludes {', '.join(lacking)}.",
            "Add the rule that concludes it, or break the circle.",
        )


def read_names(subject: Subject) -> set[str]:
    """Return every name that rules, lists, hazards and holds read."""
    knowledge = subject.knowledge
    names = {
        condition.fact for spec in knowledge.rules.values() for _, _, condition in conditions(spec)
    }
    for checklist in knowledge.checklists.values():
        for item in checklist.items:
            if item.when is not None:
                every = (*item.when.all, *item.when.any, *item.when.none)
                names |= {condition.fact for condition in every}
    for hazard in knowledge.hazards.values():
        names |= {*hazard.unknown_if_missing, *hazard.never_known}
        names |= {hazard.cleared_by} if hazard.cleared_by else set()
        if hazard.gate is not None:
            names |= {*hazard.gate.needs, *hazard.gate.closed_by}
            if hazard.gate.after is not None:
                names |= {*hazard.gate.after.any, hazard.gate.after.hours}
    names |= {hold.wait_fact for hold in knowledge.holds.values() if hold.wait_fact}
    return names | {FOOD_MARKER}


def dead_ends(subject: Subject) -> Iterator[Remark]:
    """K09: a marker or circumstance that is concluded and then used by nothing."""
    read = read_names(subject)
    moved = {
        f"context.{modifier.when}"
        for cause in subject.knowledge.causes.values()
        for modifier in cause.modifiers
    }
    for name, rules in subject.makers().items():
        if name.startswith(("marker.", "context.")) and name not in read | moved:
            for rule in rules:
                yield Remark(
                    *subject.at_rule(rule.id, "then"),
                    "K09",
                    f"concludes {name}, which nothing uses.",
                    "Let a rule or the odds of a cause use it, or remove the rule.",
                )


def unread(subject: Subject) -> Iterator[Remark]:
    """K10: something that is worked out or asked, and that nothing reads."""
    read = read_names(subject)
    for name, fact in subject.knowledge.facts.items():
        if name in read and fact.shown_only:
            yield Remark(
                *subject.at_row("facts", name),
                "K10",
                f"'{name}' is marked as shown only, and is read.",
                "Take the mark away.",
            )
        elif name not in read and not fact.shown_only:
            yield Remark(
                *subject.at_row("facts", name),
                "K10",
                f"no rule, list, hazard or hold reads '{name}'.",
                "Use it, remove it, or mark it `shown_only` when people read it.",
            )
    for name, sign in subject.knowledge.signs.items():
        if sign.topic not in ("aside", "another_batch") and SAID + name not in read:
            yield Remark(
                *subject.at_row("signs", name),
                "K10",
                f"nothing listens to the sign '{name}'.",
                "Let a rule or a gate read it, or remove it.",
            )
    used = {item.when for cause in subject.knowledge.causes.values() for item in cause.modifiers}
    for name in subject.knowledge.contexts:
        if name not in used and f"context.{name}" not in read:
            yield Remark(
                *subject.at_row("contexts", name),
                "K10",
                f"the circumstance '{name}' changes nothing.",
                "Give a cause odds for it, or remove it.",
            )


def two_natures(subject: Subject) -> Iterator[Remark]:
    """K11: a name that is both logged and concluded, or that means two things when said."""
    for name in subject.knowledge.facts:
        if name.startswith((*DERIVED, SAID, "permit.", "hint.")):
            yield Remark(
                *subject.at_row("facts", name),
                "K11",
                f"'{name}' looks like a conclusion of rules.",
                "Give the logged fact another name.",
            )
    for name in sorted(set(subject.knowledge.findings) & set(subject.knowledge.signs)):
        yield Remark(
            *subject.at_row("signs", name),
            "K11",
            f"'{SAID}{name}' would mean a finding and a sign.",
            "Rename one of them.",
        )


def circles(subject: Subject) -> Iterator[Remark]:
    """K12 and K13: conclusions that rest on themselves, through a negation or without one."""
    for group in _negated_circles(subject):
        yield Remark(
            *subject.at_rule(group[0]),
            "K12",
            f"rests on its own negation: {', '.join(group)}.",
            "Take one `none` out of the circle.",
        )
    for circle in _circles(subject):
        names = " -> ".join([*circle, circle[0]])
        maker = subject.makers()[circle[0]][0]
        yield Remark(
            *subject.at_rule(maker.id),
            "K13",
            f"rests on its own conclusion: {names}.",
            "Let one of the rules read what was logged instead.",
        )


def _negated_circles(subject: Subject) -> list[tuple[str, ...]]:
    """Return every group of rules that need each other, with a `none` between two of them."""
    makers = subject.makers()
    denies = {
        rule.id: {maker.id for test in rule.negated for maker in makers.get(test.fact, ())}
        for rule in subject.rules.values()
    }
    needs = {
        rule.id: denies[rule.id]
        | {maker.id for name in rule.reads for maker in makers.get(name, ())}
        for rule in subject.rules.values()
    }
    reach = {rule: _reached(rule, needs) for rule in needs}
    groups = set()
    for rule, denied in denies.items():
        if any(rule in reach[other] or rule == other for other in denied):
            groups.add(tuple(sorted(one for one in reach[rule] if rule in reach[one])))
    return sorted(groups)


def _reached(start: str, needs: Mapping[str, set[str]]) -> set[str]:
    found: set[str] = set()
    waiting = [start]
    while waiting:
        for other in needs[waiting.pop()] - found:
            found.add(other)
            waiting.append(other)
    return found


def _circles(subject: Subject) -> list[tuple[str, ...]]:
    """Return every circle of conclusions that rest on each other, once each."""
    makers = subject.makers()
    needs = {
        name: sorted({read for rule in rules for read in rule.reads if read in makers})
        for name, rules in makers.items()
    }
    found: dict[frozenset[str], tuple[str, ...]] = {}
    done: set[str] = set()

    def follow(name: str, path: tuple[str, ...]) -> None:
        if name in path:
            circle = path[path.index(name) :]
            found.setdefault(frozenset(circle), circle)
            return
        if name in done:
            return
        for other in needs[name]:
            follow(other, (*path, name))
        done.add(name)

    for name in needs:
        follow(name, ())
    return list(found.values())


def granted_by_silence(subject: Subject) -> Iterator[Remark]:
    """K14: a permission granted because something was not stated.

    Followed through every conclusion that the permission rests on. A ruling-out that lets go of a
    cause unless something is stated is a note: no hazard hangs on it.
    """
    makers = subject.makers()
    for rule in subject.rules.values():
        kind = subject.knowledge.rules[rule.id].then.kind
        if kind == "permit":
            for part in _rests_on(rule, makers):
                through = "" if part is rule else f" for {rule.id}"
                for name in _silent(subject, part):
                    yield Remark(
                        *subject.at_rule(part.id, "when", "none"),
                        "K14",
                        f"grants{through} because '{name}' is merely not stated.",
                        "Ask for `is: absent`, or for a number on the right side.",
                    )
        elif kind == "rules_out" and _silent(subject, rule):
            yield Remark(
                *subject.at_rule(rule.id, "when", "none"),
                "K14",
                f"rules {rule.conclusion.partition('.')[2]} out unless something is stated:",
                f"{', '.join(_silent(subject, rule))}.",
                note=True,
            )


def _silent(subject: Subject, rule: Rule) -> list[str]:
    """Return what a rule takes from mere silence: what was logged or said and is under `none`."""
    return sorted(
        {
            test.fact
            for test in rule.negated
            if test.fact in subject.knowledge.facts or test.fact.startswith(SAID)
        }
    )


def _rests_on(rule: Rule, makers: dict[str, list[Rule]]) -> Iterable[Rule]:
    """Return a rule and all rules whose conclusions it needs."""
    found = {rule.id: rule}
    waiting = [rule]
    while waiting:
        for name in waiting.pop().reads:
            for maker in makers.get(name, ()):
                if maker.id not in found:
                    found[maker.id] = maker
                    waiting.append(maker)
    return found.values()
