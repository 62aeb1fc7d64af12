"""Pieces of the page: hazards, what to do, verdict, causes, process, gaps, sources."""

from __future__ import annotations

from collections.abc import Iterable

from markupsafe import Markup

from trubshoot.diagnosis.overview import Overview
from trubshoot.report import bottling_words, wording
from trubshoot.report.page import cause_words, contents
from trubshoot.report.page.figure import Figure, Table
from trubshoot.report.page.templating import piece
from trubshoot.safety import HazardBlock
from trubshoot.units import UnitSystem


def hazard_fragment(blocks: Iterable[HazardBlock], units: UnitSystem = "metric") -> Markup:
    """Return the hazard blocks; they stand before everything else and cannot be put away."""
    return piece("hazards", tuple(blocks), units=units)


def masthead_fragment(overview: Overview, units: UnitSystem, *, heading: bool) -> Markup:
    """Return name and key figures of the batch; `heading` makes the name the h1 of the page."""
    return piece("masthead", overview.diagnosis.batch, heading, contents.key_facts(overview, units))


def table_fragment(table: Table) -> Markup:
    """Return a table in a box that scrolls sideways when it must."""
    return piece("table", table)


def figure_fragment(figure: Figure) -> Markup:
    """Return a figure with its caption, its words and its tables, folded away."""
    return piece("figure", figure)


def next_fragment(overview: Overview, units: UnitSystem) -> Markup:
    """Return what to do or measure next, each with its day."""
    return piece("next_steps", contents.next_rows(overview), units=units)


def verdict_fragment(overview: Overview, units: UnitSystem) -> Markup:
    """Return whether it may be bottled, with limits or reasons; empty once it is bottled."""
    report = overview.bottling
    verdict = report.verdict
    if verdict is None:
        return Markup("")
    line = bottling_words.verdict_line(report)
    return piece(
        "verdict",
        (verdict.word, line.removeprefix(verdict.word)),
        verdict.granted_because if verdict.go else (),
        [bottling_words.filled_in(item, report, units) for item in report.limits],
        bottling_words.way_lines(report, units),
        bottling_words.grouped(verdict.reasons),
        [bottling_words.filled_in(item, report, units) for item in report.checklist]
        if verdict.go
        else (),
        units=units,
    )


def causes_fragment(overview: Overview, units: UnitSystem) -> Markup:
    """Return the causes worth naming: chances, weights for and against, advice."""
    diagnosis = overview.diagnosis
    empty = cause_words.why_none(diagnosis)
    if empty:
        return piece("paragraph", empty, units=units)
    views = cause_words.views(overview)
    rows = [*(view.row for view in views), cause_words.none_of_these(diagnosis)]
    parts = [
        piece("bars", cause_words.CHANCES, ("cause", "chance", "in numbers"), rows, units=units)
    ]
    words = (cause_words.WEIGHTS, cause_words.WITHHELD)
    parts += [piece("cause", view, *words, units=units) for view in views]
    beside = wording.beside_lines(diagnosis, overview.labels)
    if beside:
        parts += [
            piece("paragraph", f"{wording.BESIDE}:", units=units),
            piece("bullets", beside, units=units),
        ]
    return Markup("").join(parts)


def checks_fragment(overview: Overview, units: UnitSystem) -> Markup:
    """Return the checks that would tell most apart; empty when there is none."""
    found = contents.check_lines(overview)
    return piece("bullets", found, units=units) if found else Markup("")


def practice_fragment(overview: Overview, units: UnitSystem) -> Markup:
    """Return what of the process makes faults likelier; empty when nothing does."""
    found = contents.practice_lines(overview)
    return piece("bullets", found, units=units) if found else Markup("")


def process_fragment(overview: Overview, units: UnitSystem) -> Markup:
    """Return the steps of the brew with what was done, and marks where the causes point."""
    return piece("process", contents.process_rows(overview, units))


def summary_fragment(overview: Overview, units: UnitSystem) -> Markup:
    """Return the numbers that everything rests on, in a few lines."""
    lines = wording.summary(overview.diagnosis, units)
    return piece("bullets", lines or ["No gravity and no temperature is logged."], units=units)


def heard_fragment(overview: Overview) -> Markup:
    """Return what was understood, and what was not; empty when nothing was told."""
    found = contents.heard_lines(overview)
    return piece("bullets", found) if found else Markup("")


def unknown_fragment(overview: Overview, units: UnitSystem) -> Markup:
    """Return what is missing and what was assumed instead."""
    return piece("bullets", contents.unknown_lines(overview, units), units=units)


def sources_fragment(overview: Overview) -> Markup:
    """Return the sources of the leading causes in full; empty when none is named."""
    found = contents.cited(overview)
    return piece("sources", found) if found else Markup("")
