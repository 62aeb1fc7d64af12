"""From a batch to its evidence: numbers worked out from the log, and words understood."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

from trubshoot.batch import Batch
from trubshoot.batch.model import Deed, Observation
from trubshoot.evidence.bench import Bench
from trubshoot.evidence.bottling import bottling
from trubshoot.evidence.course import course, waits
from trubshoot.evidence.gravity import correct_readings, expected_end
from trubshoot.evidence.handling import handling
from trubshoot.evidence.model import Evidence, NotUnderstood, Understood
from trubshoot.evidence.temperature import temperatures
from trubshoot.evidence.words import Lexicon, understand
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
    bench.notes += [f"{sentence}." for sentence in batch.timeline(now).assumed]
    bench.notes += [str(problem) for problem in batch.warnings]
    return Evidence(
        facts=dict(bench.facts),
        stage=stage,
        readings=tuple(bench.readings),
        og_points=bench.og_points,
        og_how=bench.og_how,
        expected_end=bench.end if bench.og_points is not None or bench.readings else None,
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

    def take(text: str, line: int, sense: str = "saw") -> None:
        known, lost = understand(lexicon(), text, line, sense=sense, stage=_stage(bench))
        understood.extend(known)
        unknown.extend(lost)

    for day, entry in bench.of(Observation):
        for text in entry.texts:
            take(text, entry.line, entry.kind)
        if any(item.id == BURST and item.line == entry.line for item in understood):
            _burst_age(bench, day)
    for _, deed in bench.of(Deed):
        if deed.verb is None:
            take(deed.words, deed.line)
    for number, text in enumerate(bench.batch.circumstances):
        take(text, bench.batch.line(f"circumstances[{number}]"))
    for sense, text in words:
        take(text, 0, sense)
    return understood, unknown


def _burst_age(bench: Bench, day: float | None) -> None:
    if day is not None and bench.now is not None and bench.timeline.now_known:
        bench.number("hours_since_burst", max(bench.now - day, 0.0) * 24)


def _say(bench: Bench, understood: Sequence[Understood]) -> None:
    """State what was said; a thing said to be there outweighs one said not to be."""
    for item in understood:
        if item.kind == "context":
            continue
        name = f"said.{item.id}"
        if bench.facts.get(name) != "present":
            bench.facts[name] = item.state
