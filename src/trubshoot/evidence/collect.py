"""From a batch to its evidence: numbers worked out from the log, and words understood."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime

from trubshoot.batch import Batch
from trubshoot.batch.model import Deed, Note, Observation, Outcome
from trubshoot.evidence.bench import Bench
from trubshoot.evidence.bottling import bottling
from trubshoot.evidence.confusions import mark_vague
from trubshoot.evidence.course import course, waits
from trubshoot.evidence.gravity import correct_readings, expected_end
from trubshoot.evidence.handling import handling
from trubshoot.evidence.model import Evidence, NotUnderstood, Understood
from trubshoot.evidence.own_time import own_time
from trubshoot.evidence.second_looks import second_looks
from trubshoot.evidence.temperature import temperatures
from trubshoot.evidence.words import Lexicon, read_text, understand
from trubshoot.evidence.wort import wort
from trubshoot.evidence.yeast import yeast
from trubshoot.knowledge_base import KnowledgeBase

BURST = "bottle_burst"


def collect(
    batch: Batch,
    knowledge: KnowledgeBase,
    lexicon: Callable[[], Lexicon],
    now: datetime,
    words: Sequence[tuple[str, str]] = (),
) -> Evidence:
    """Work out everything the rules may read.

    Args:
        batch: the batch as logged.
        knowledge: tables and vocabulary.
        lexicon: gives the phrases of the knowledge; asked only when there are words to read.
        now: the moment of asking.
        words: (sense, text) pairs said beside the log.
    """
    bench = Bench(batch, knowledge, batch.timeline(now))
    correct_readings(bench)
    wort(bench)
    yeast(bench)
    expected_end(bench)
    temperatures(bench)
    course(bench)
    second_looks(bench)
    understood, unknown = _words(bench, lexicon, words)
    bench.understood += understood
    _say(bench, understood)
    handling(bench)
    waits(bench)
    bottling(bench)
    stage = _stage(bench)
    bench.text("stage", stage)
    _age(bench)
    bare = not bench.readings and not batch.log and not understood
    bench.state("log_is_bare", True if bare else None)
    if bare:
        bench.lacks("a log: readings, temperatures, what was done", "nothing", "everything")
    bench.notes += [f"{sentence}." for sentence in bench.timeline.assumed]
    bench.notes += [str(problem) for problem in batch.warnings]
    return Evidence(
        facts=dict(bench.facts),
        stage=stage,
        readings=tuple(bench.readings),
        og_points=bench.og_points,
        og_how=bench.og_how,
        expected_end=bench.end if bench.og_points is not None or bench.readings else None,
        basis=bench.basis,
        outlook=bench.outlook,
        understood=tuple(understood),
        not_understood=tuple(unknown),
        missing=tuple(bench.missing),
        notes=tuple(bench.notes),
    )


def _stage(bench: Bench) -> str:
    if bench.bottling is not None:
        return "bottled"
    return "brewing" if bench.brewing_only else "fermenting"


def _age(bench: Bench) -> None:
    if bench.now is None or not bench.pitched_at_zero or bench.now < 0:
        return
    bench.number("days_since_pitch", bench.now)
    bench.number("hours_since_pitch", bench.now * 24)


def _words(
    bench: Bench, lexicon: Callable[[], Lexicon], words: Sequence[tuple[str, str]]
) -> tuple[list[Understood], list[NotUnderstood]]:
    understood: list[Understood] = []
    unknown: list[NotUnderstood] = []

    def take(text: str, line: int, sense: str = "saw", day: float | None = None) -> None:
        known, lost = understand(lexicon(), text, line, sense=sense, stage=_stage(bench))
        said_of = own_time(text)
        for item in mark_vague(bench.knowledge, lexicon(), known):
            placed = _at_its_time(bench, item, day, said_of)
            if placed is not None:
                understood.append(placed)
        unknown.extend(lost)

    for day, entry in bench.of(Observation):
        before = len(understood)
        for text in entry.texts:
            take(text, entry.line, entry.kind, day)
        understood[before:] = _in_bottles(bench, understood[before:], entry.where)
        if entry.asked:
            understood[before:] = [replace(item, asked=True) for item in understood[before:]]
        if any(item.id == BURST and item.line == entry.line for item in understood):
            _burst_age(bench, day)
    for day, deed in bench.of(Deed):
        if deed.verb is None:
            take(deed.words, deed.line, day=day)
    understood += _alarms(bench, lexicon)
    for number, text in enumerate(bench.batch.circumstances):
        take(text, bench.batch.line(f"circumstances[{number}]"))
    for sense, text in words:
        take(text, 0, sense, bench.now)
    understood += _headings(bench, lexicon)
    return _named(bench, understood), unknown


def _named(bench: Bench, understood: list[Understood]) -> list[Understood]:
    """Leave out that something tastes or smells wrong where the same log says of what.

    What names it is the complaint then, even when it was told only when asked.
    """
    findings = bench.knowledge.findings
    told = [
        findings[item.id]
        for item in understood
        if item.kind == "finding" and item.state == "present"
    ]
    named = {
        one.id
        for one in told
        if (one.term or one.check.by in ("smell", "taste")) and not one.unless_named
    }
    if not named:
        return understood
    gone = [
        item
        for item in understood
        if item.kind == "finding" and findings[item.id].unless_named and item.state != "absent"
    ]
    complained = any(not item.asked for item in gone)
    return [
        replace(item, asked=False) if complained and item.id in named else item
        for item in understood
        if item not in gone
    ]


def _headings(bench: Bench, lexicon: Callable[[], Lexicon]) -> list[Understood]:
    """Return the circumstances that the words of the head and of storing name; no findings."""
    head = bench.batch
    texts = [
        (head.style, "style"),
        (head.yeast.strain_class, "yeast.class"),
        (head.vessel.kind, "vessel.kind"),
        (head.bottles.kind, "bottles.kind"),
        (head.storage.where, "storage"),
        (head.wort.water, "wort.water"),
        (head.wort.water_treatment, "wort.water_treatment"),
    ]
    found = [(text, head.line(place)) for text, place in texts if text]
    found += [(deed.where, deed.line) for _, deed in bench.deeds("stored") if deed.where]
    return [
        Understood(words, target.kind, target.id, target.label, state, line)
        for text, line in found
        for target, words, state in read_text(lexicon(), text, _stage(bench))
        if target.kind == "context" and state == "present"
    ]


def _alarms(bench: Bench, lexicon: Callable[[], Lexicon]) -> list[Understood]:
    """Return what a remark says of burst bottles and hurt people; nothing else is read from it."""
    remarks = [(entry.text, entry.line) for _, entry in bench.of(Note)]
    for _, outcome in bench.of(Outcome):
        remarks += [(text, outcome.line) for text in (outcome.text, outcome.words) if text]
    told = [
        item
        for text, line in remarks
        for item in understand(lexicon(), text, line, stage=_stage(bench))[0]
        if item.state == "present"
    ]
    if not told:
        return []
    knowledge = bench.knowledge
    grave = {
        condition.fact
        for rule in knowledge.rules.values()
        if rule.then.hazard and knowledge.hazards[rule.then.hazard].level == "danger"
        for condition in (*rule.when.all, *rule.when.any)
    }
    return [item for item in told if f"said.{item.id}" in grave]


def _in_bottles(bench: Bench, items: Sequence[Understood], where: str | None) -> list[Understood]:
    """Return what words mean when told of some bottles; sets of how many a fault is told."""
    if where == "glass":
        bench.state("seen_in_glass", True)
    findings = bench.knowledge.findings
    placed, told = [], False
    for item in items:
        finding = findings.get(item.id) if item.kind == "finding" else None
        if finding is None or item.state != "present":
            placed.append(item)
            continue
        other = finding.some_bottles if where == "some bottles" else ""
        told = told or (not other and "tasting" in finding.stages)
        label = findings[other].label if other else item.label
        placed.append(replace(item, id=other or item.id, label=label))
    if told:
        bench.state("told_of_some_bottles", True if where == "some bottles" else None)
        bench.state("told_of_all_bottles", True if where == "all bottles" else None)
    return placed


def _at_its_time(
    bench: Bench, item: Understood, day: float | None, said_of: tuple[float, str] | None
) -> Understood | None:
    """Return what words mean at their time; None when they mean nothing then.

    Their time is the one they name themselves, else when they were told.
    """
    finding = bench.knowledge.findings.get(item.id) if item.kind == "finding" else None
    if finding is None or finding.days is None or day is None:
        return item
    days, since = finding.days, day
    if days.since == "bottling":
        if bench.bottling is None or bench.bottling[0] is None:
            return item
        since = day - bench.bottling[0]
    elif not bench.pitched_at_zero:
        return item
    elif said_of is not None:
        since = min(said_of[0], day)
    if days.first <= since <= days.last:
        return item
    other = days.earlier if since < days.first else days.later
    if not other or item.state == "absent":
        return None
    return replace(item, id=other, label=bench.knowledge.findings[other].label)


def _burst_age(bench: Bench, day: float | None) -> None:
    if day is not None and bench.now is not None and bench.timeline.now_known:
        bench.number("hours_since_burst", max(bench.now - day, 0.0) * 24)


def _say(bench: Bench, understood: Sequence[Understood]) -> None:
    """State what was said; a thing said to be there outweighs one said not to be.

    A circumstance told in words stands under the same name as one that rules conclude.
    """
    for item in understood:
        if item.kind == "context":
            bench.state(f"context.{item.id}", True if item.state == "present" else None)
            continue
        name = f"said.{item.id}"
        if bench.facts.get(name) != "present":
            bench.facts[name] = item.state
