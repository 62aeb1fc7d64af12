"""The whole report as Markdown: the same words and numbers, the figures as tables."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from trubshoot.diagnosis.overview import Overview
from trubshoot.report import bottling_words, wording
from trubshoot.report.page import cause_words, contents, figures
from trubshoot.report.page.figure import Figure, Table
from trubshoot.report.page.seal import UNSEALED
from trubshoot.safety import HazardBlock
from trubshoot.sentences import with_us_units
from trubshoot.units import UnitSystem

_SPECIAL = re.compile(r"([\\`*_{}\[\]<>#|~!&$])")
_LEADING = re.compile(r"^(?:([-+=])|([0-9]+)([.)])(?=\s|$))")


def plain(words: str) -> str:
    """Return words that Markdown shows as they are: on one line, nothing of them as mark-up."""
    text = _SPECIAL.sub(r"\\\1", " ".join(words.split()))
    return _LEADING.sub(lambda m: f"\\{m[1]}" if m[1] else f"{m[2]}\\{m[3]}", text)


def report_markdown(overview: Overview, units: UnitSystem) -> str:
    """Return the report of a batch as Markdown.

    Args:
        overview: everything about the batch.
        units: units to show.
    """
    diagnosis = overview.diagnosis

    def own(lines: Iterable[str]) -> list[str]:
        """Return lines of our own words, not of the batch, with the units that were chosen."""
        return [with_us_units(line, units) for line in lines]

    lines = [*own(_opening(diagnosis.hazards)), f"# {plain(diagnosis.batch)}", ""]
    lines += [f"- {label}: {plain(value)}" for label, value in contents.key_facts(overview, units)]
    lines += own(_head("What to do now, and the next check", _next(overview)))
    lines += own(_head("Likely causes", _causes(overview)))
    lines += _head("How it went", _course(overview, units))
    lines += own(_head("May it be bottled?", _verdict(overview, units)))
    lines += _head("The brew, step by step", _process(overview, units))
    for title, words in (
        ("Checks that would tell most", own(contents.check_lines(overview))),
        ("What makes faults likelier", own(contents.practice_lines(overview))),
        ("What was understood", contents.heard_lines(overview)),
        ("What is missing or assumed", own(contents.unknown_lines(overview, units))),
        ("Sources of the leading causes", _sources(overview)),
    ):
        lines += _head(title, _bullets(words))
    lines += ["", "---", ""]
    lines += [plain(line) for line in contents.colophon(overview)]
    return _whole(lines)


def failure_markdown(name: str, blocks: Sequence[HazardBlock], words: Sequence[str]) -> str:
    """Return the Markdown for a file that cannot be read: hazards first, then what is wrong."""
    lines = [*_opening(blocks), f"# {plain(name)}: nothing was assessed", ""]
    return _whole([*lines, *_bullets(words)])


def _whole(lines: Iterable[str]) -> str:
    return "\n".join(lines).strip() + "\n"


def _opening(blocks: Sequence[HazardBlock]) -> list[str]:
    lines = [f"<!-- {UNSEALED} -->", ""]
    for block in blocks:
        lines += [f"# {block.level.name}: {plain(block.hazard)}", ""]
        lines += [f"**What can happen:** {plain(block.consequence)}", "", "**Do now:**", ""]
        lines += [f"{number}. {plain(step.do)}" for number, step in enumerate(block.avoid, 1)]
        lines.append("")
        if block.gate_why:
            lines += [plain(block.gate_why), ""]
        if block.if_hurt:
            lines += [f"**If hurt:** {plain(block.if_hurt)}", ""]
        lines += ["**Why we say this:**", "", *_bullets(block.because), ""]
        if block.unknown:
            lines += [f"**What we do not know:** {plain('; '.join(block.unknown))}.", ""]
    return lines


def _head(title: str, content: Sequence[str]) -> list[str]:
    while content and not content[0]:
        content = content[1:]
    return ["", f"## {title}", "", *content] if content else []


def _bullets(words: Iterable[str]) -> list[str]:
    return [f"- {plain(item)}" for item in words]


def _table(table: Table) -> list[str]:
    marks = ["--:" if column in table.right else "---" for column in range(len(table.head))]
    rows = [table.head, *table.rows]
    shown = ["| " + " | ".join(plain(cell) for cell in row) + " |" for row in rows]
    return ["", f"{plain(table.caption)}:", "", shown[0], f"| {' | '.join(marks)} |", *shown[1:]]


def _figure(figure: Figure) -> list[str]:
    lines = ["", f"### {plain(figure.title)}", "", plain(figure.text)]
    for table in figure.tables:
        lines += _table(table)
    return lines


def _next(overview: Overview) -> list[str]:
    rows = contents.next_rows(overview)
    if not rows:
        return ["Nothing: no check would tell enough for its trouble. Log what you notice."]
    return [
        f"{number}. **{when}{f', about {took}' if took else ''}:** {plain(step.do)}"
        f" Why: {plain(step.why)}."
        for number, (when, step, took) in enumerate(rows, 1)
    ]


def _causes(overview: Overview) -> list[str]:
    diagnosis = overview.diagnosis
    empty = cause_words.why_none(diagnosis)
    if empty:
        return [plain(empty)]
    views = cause_words.views(overview)
    rows = [*(view.row for view in views), cause_words.none_of_these(diagnosis)]
    chances = Table(
        cause_words.CHANCES, ("cause", "chance"), tuple((row.label, row.words) for row in rows)
    )
    lines = _table(chances)[1:]
    for view in views:
        lines += _cause(view)
    beside = wording.beside_lines(diagnosis, overview.labels)
    if beside:
        lines += ["", f"**{wording.BESIDE}:**", "", *(f"- {plain(line)}" for line in beside)]
    if wording.names_hazard_block(diagnosis):
        lines += ["", plain(wording.HAZARD_BLOCK)]
    return lines


def _cause(view: cause_words.CauseView) -> list[str]:
    cause = view.cause
    lines = ["", f"### {view.rank}. {plain(cause.label)}", ""]
    lines.append(f"{plain(view.sentence)} Step: {plain(cause.step_label)}.")
    if cause.doubt:
        lines += ["", plain(cause.doubt)]
    if view.weights:
        rows = tuple((row.label, row.words) for row in view.weights)
        lines += _table(Table(cause_words.WEIGHTS, ("evidence", "weight"), rows))
    if view.unexplained:
        lines += ["", f"**Does not explain:** {plain('; '.join(view.unexplained))}"]
    if not view.advice:
        return lines
    if view.steps or cause.advice.withheld:
        lines += ["", "**Now:**", ""]
    for step, clash in view.steps:
        lines.append(f"- {plain(step)}")
        if clash is not None:
            lines.append(f"  Not if it is {plain(clash[0])}: {plain(clash[1])}")
    if cause.advice.withheld:
        lines.append(f"- {cause_words.WITHHELD}")
    for dont, why in view.avoid:
        lines += ["", f"**{plain(dont)}** {plain(why)}"]
    for label, words in view.lines:
        lines += ["", f"**{label}:** {plain(words)}"]
    return lines


def _course(overview: Overview, units: UnitSystem) -> list[str]:
    lines: list[str] = []
    drawn = figures.all_figures(overview, units)
    if not drawn or drawn[0].key != "gravity":
        lines += _bullets(wording.summary(overview.diagnosis, units))
    for figure in drawn:
        lines += _figure(figure)
    if overview.pressure is None and overview.diagnosis.evidence.stage == "bottled":
        lines += ["", contents.NO_PRESSURE]
    return lines


def _verdict(overview: Overview, units: UnitSystem) -> list[str]:
    report = overview.bottling
    verdict = report.verdict
    if verdict is None:
        return []
    lines = [f"**{plain(bottling_words.verdict_line(report))}**", ""]
    limits = [bottling_words.filled_in(item, report, units) for item in report.limits]
    if limits:
        lines += ["Only within these limits:", "", *_bullets(limits), ""]
    way = bottling_words.way_lines(report, units)
    if way:
        lines += ["What would turn HOLD into GO:", "", *_bullets(way), ""]
    if verdict.go:
        lines += ["### Why it may go ahead", "", *_bullets(verdict.granted_because), ""]
        lines += ["### Checklist for bottling day", ""]
        lines += _bullets(bottling_words.filled_in(i, report, units) for i in report.checklist)
    if verdict.reasons:
        lines += ["### Why not yet", ""]
    for heading, reasons in bottling_words.grouped(verdict.reasons):
        lines += [f"{heading}:", ""]
        for reason in reasons:
            stricter = (
                f" Stricter than the usual rule: {plain(reason.why_stricter)}"
                if reason.why_stricter
                else ""
            )
            lines.append(
                f"- {plain(reason.label)}. {plain(' '.join(reason.because))}"
                f" **{plain(reason.mend)}**{stricter}"
            )
        lines.append("")
    return lines


def _process(overview: Overview, units: UnitSystem) -> list[str]:
    lines = []
    for row in contents.process_rows(overview, units):
        lines.append(f"- {plain(row.label)}{': nothing logged' if row.quiet else ''}")
        lines += [f"  - **points here:** {plain(cause)}" for cause in row.causes]
        lines += [f"  - {plain(done)}" for done in row.done]
    return lines


def _sources(overview: Overview) -> list[str]:
    return [
        f"{one.citation} ({one.note}; {one.key})" if one.citation else one.key
        for one in contents.cited(overview)
    ]
