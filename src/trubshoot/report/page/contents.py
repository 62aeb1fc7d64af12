"""What stands in the lists of a page, as plain words: shared by HTML and Markdown."""

from __future__ import annotations

from dataclasses import dataclass

from trubshoot import __version__
from trubshoot.batch.model import Bottling, Deed
from trubshoot.counting import counted
from trubshoot.diagnosis.overview import Overview
from trubshoot.diagnosis.plan_next import NextStep, day_text
from trubshoot.diagnosis.process import Done
from trubshoot.report import bottling_words, wording
from trubshoot.report.page.figure import date_of
from trubshoot.units import UnitSystem, format_temp, format_volume

_STAGES = {"brewing": "brewing day", "fermenting": "fermenting", "bottled": "in bottles"}
NO_PRESSURE = (
    "Pressure: not known, and no estimate is shown: sugar, volume or the gravity at bottling are"
    " missing. Until they are known these bottles count as under too much pressure."
)
_MOST_LINES = 40  # of one list; a log may hold hundreds of remarks
_MOST_DEEDS = 12  # of one step of the brew


@dataclass(frozen=True)
class ProcessRow:
    """A step of the brew as a page shows it; quiet steps are taken together."""

    label: str
    quiet: bool
    done: tuple[str, ...]
    causes: tuple[str, ...]


@dataclass(frozen=True)
class Cited:
    """A source with a note on how much of it was read."""

    key: str
    citation: str
    note: str


def key_facts(overview: Overview, units: UnitSystem) -> list[tuple[str, str]]:
    """Return the head of the page: what it is about and for which day, in few words."""
    diagnosis = overview.diagnosis
    evidence = diagnosis.evidence
    cells = [
        ("Asked", wording.date_text(diagnosis.asked_at)),
        ("Stage", _STAGES.get(evidence.stage, evidence.stage)),
        ("Age", wording.age_text(diagnosis)),
    ]
    if overview.batch.style:
        cells.append(("Style", overview.batch.style))
    if evidence.readings:
        last = evidence.readings[-1]
        cells.append(
            ("Latest gravity", f"{wording.points_text(last.points)} {wording.day_text(last.day)}")
        )
    if evidence.expected_end is not None:
        end = evidence.expected_end
        cells.append(
            ("Expected end", f"{wording.points_text(end.points)} ± {end.sigma_points:.1f} points")
        )
    mean = evidence.facts.get("beer_temp_mean_c")
    if isinstance(mean, float):
        cells.append(("Fermented at", f"about {format_temp(mean, units)}"))
    if diagnosis.bottling is not None:
        cells.append(("Bottling", diagnosis.bottling.word))
    return cells


def next_rows(overview: Overview) -> list[tuple[str, NextStep, str]]:
    """Return (when, step, how long it takes) of what to do next."""
    rows = []
    for step in overview.next_steps:
        when = "now"
        if step.due is not None:
            same = step.due.date() == overview.diagnosis.asked_at.date()
            when = "later today" if same else f"{day_text(step.due)} {step.due.year}"
        took = wording.minutes_text(step.minutes) if step.minutes else ""
        rows.append((when[0].upper() + when[1:], step, took))
    return rows


def check_lines(overview: Overview) -> list[str]:
    """Return the checks that would tell most apart, with how and how long."""
    return [
        f"{check.label}? {check.how} ({wording.BY[check.by]},"
        f" {wording.minutes_text(check.minutes)})"
        for check in overview.diagnosis.next_checks
    ]


def practice_lines(overview: Overview) -> list[str]:
    """Return what of the process makes faults likelier, and how it is known."""
    shown = wording.telling_contexts(overview.diagnosis)
    return [f"{context.label}. {context.because[0]}" for context in shown]


def heard_lines(overview: Overview) -> list[str]:
    """Return what was understood, what was not, and where words and log do not agree."""
    diagnosis = overview.diagnosis
    lines = []
    for state in diagnosis.findings:
        if state.up or state.origin != "log":
            line = wording.finding_line(state, overview.labels[state.id])
            doubt = diagnosis.doubts.get(state.id)
            lines.append(f"{line}. {doubt}" if doubt else line)
    for words in diagnosis.evidence.not_understood:
        nearest = "; ".join(words.nearest) or "nothing near"
        where = f" (line {words.line})" if words.line else ""
        lines.append(f'Not understood: "{words.words}"{where}. Nearest: {nearest}.')
    for clash in diagnosis.contradictions:
        lines.append(
            f'You said "{clash.said}", the log says otherwise: {clash.logged}'
            " The log's numbers are taken."
        )
    return _at_most(lines, _MOST_LINES)


def unknown_lines(overview: Overview, units: UnitSystem) -> list[str]:
    """Return what the log does not say, what was assumed instead, and what no log can say."""
    diagnosis = overview.diagnosis
    evidence = diagnosis.evidence
    lines = [wording.gap_text(gap) for gap in evidence.missing]
    lines += evidence.notes
    if evidence.basis is not None:
        hottest = format_temp(evidence.basis.hottest_c, units)
        lines.append(f"Hottest day of the bottles: {hottest}.")
    course = overview.bottling.course
    if course is not None:
        lines += [f"{note}." for note in course.assumed]
    lines.append(bottling_words.NEVER_LOGGED)
    faults = dict.fromkeys((*diagnosis.faults, *overview.bottling.faults))
    lines += [
        f"Fault in trubshoot, please report: {fault}. The safer answer is shown."
        for fault in faults
    ]
    if diagnosis.engine_notice:
        lines.append(diagnosis.engine_notice)
    return _at_most(list(dict.fromkeys(lines)), _MOST_LINES)


def _at_most(lines: list[str], most: int) -> list[str]:
    """Return a list that is not longer than a page bears, and says how much is left out."""
    if len(lines) <= most:
        return lines
    return [*lines[: most - 1], f"... and {len(lines) - most + 1} more of the kind."]


def process_rows(overview: Overview, units: UnitSystem) -> list[ProcessRow]:
    """Return the steps of the brew in order; runs of steps without a word become one row."""
    rows: list[ProcessRow] = []
    quiet: list[str] = []

    def close() -> None:
        if quiet:
            rows.append(ProcessRow(", ".join(quiet), True, (), ()))
            quiet.clear()

    for step in overview.process:
        if not step.done and not step.causes:
            quiet.append(step.label)
            continue
        close()
        rows.append(
            ProcessRow(
                step.label,
                False,
                tuple(_at_most([_deed_text(overview, it, units) for it in step.done], _MOST_DEEDS)),
                tuple(
                    f"{one.rank}. {one.label}, {wording.likelihood(one.responsibility)} "
                    f"({wording.percent(one.responsibility, about=overview.diagnosis.approximate)})"
                    for one in step.causes
                ),
            )
        )
    close()
    return rows


def _deed_text(overview: Overview, done: Done, units: UnitSystem) -> str:
    deed = done.deed
    when = "day not known" if done.day is None else _when(overview, done.day)
    details = (
        _bottling_details(deed, units) if isinstance(deed, Bottling) else _details(deed, units)
    )
    said = ", ".join([deed.words or str(deed.verb), *details])
    return f"{when}: {said}"


def _when(overview: Overview, day: float) -> str:
    dated = date_of(overview, day)
    numbered = f"day {day:.0f}" if day >= 0.5 else "day 0"
    return numbered if dated == "-" else f"{dated}, {numbered}"


def _details(deed: Deed, units: UnitSystem) -> list[str]:
    """Return the details of a deed that fit into a line."""
    found = [
        deed.what or "",
        "" if deed.temp_c is None else format_temp(deed.temp_c, units),
        "" if deed.to_c is None else f"to {format_temp(deed.to_c, units)}",
        "" if deed.took_min is None else wording.minutes_text(deed.took_min),
        "" if deed.for_days is None else f"for {counted(deed.for_days, 'day')}",
        "" if deed.volume_l is None else format_volume(deed.volume_l, units),
        "" if not deed.agent else f"with {deed.agent}",
        "" if deed.where is None else deed.where,
    ]
    return [words for words in found if words]


def _bottling_details(deed: Bottling, units: UnitSystem) -> list[str]:
    sugars = [sugar.kind for sugar in deed.sugars or () if sugar.kind]
    found = [
        " and ".join(sugars),
        "" if deed.volume_l is None else format_volume(deed.volume_l, units),
        "" if deed.dosing is None else deed.dosing,
        "" if deed.temp_c is None else format_temp(deed.temp_c, units),
    ]
    return [words for words in found if words]


def cited(overview: Overview) -> list[Cited]:
    """Return the sources of the leading causes, with how much of each was read."""
    return [
        Cited(one.key, one.citation, wording.how_much_read(one.basis, one.extent))
        for one in overview.sources
    ]


def colophon(overview: Overview) -> list[str]:
    """Return what made the page, and what it may not be taken for."""
    diagnosis = overview.diagnosis
    return [
        f"Written by trubshoot {__version__} for {wording.date_text(diagnosis.asked_at)}; rules run"
        f" by {diagnosis.engine}, knowledge {diagnosis.knowledge_version}. It knows only what is in"
        " the log: that it names no hazard never means that there is none. Local law, labels and"
        " trained help go before anything said here.",
    ]
