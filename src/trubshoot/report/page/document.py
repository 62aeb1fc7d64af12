"""The whole report as one HTML file that needs nothing beside itself."""

from __future__ import annotations

from collections.abc import Sequence

from markupsafe import Markup

from trubshoot.diagnosis.overview import Overview
from trubshoot.report import wording
from trubshoot.report.page import contents, figures, fragments
from trubshoot.report.page.seal import UNSEALED
from trubshoot.report.page.style import stylesheet
from trubshoot.report.page.templating import environment, piece
from trubshoot.safety import HazardBlock
from trubshoot.units import UnitSystem

Section = tuple[str, str, Markup]  # key, title, content


def report_html(overview: Overview, units: UnitSystem) -> str:
    """Return the report of a batch.

    Args:
        overview: everything about the batch.
        units: units to show.
    """
    return _document(
        _title(overview),
        overview.diagnosis.hazards,
        fragments.masthead_fragment(overview, units, heading=not overview.diagnosis.hazards),
        [section for section in _sections(overview, units) if section[2]],
        contents.colophon(overview),
        units,
    )


def failure_html(name: str, blocks: Sequence[HazardBlock], lines: Sequence[str]) -> str:
    """Return a page for a file that cannot be read: hazards first, then what is wrong with it.

    Args:
        name: name of the file.
        blocks: hazards that stand all the same.
        lines: what is wrong and what to write instead.
    """
    title = f"{name}: nothing was assessed"
    return _document(
        title,
        blocks,
        piece("masthead", title, not blocks, ()),
        [("problems", "What is wrong with the file", piece("bullets", lines))],
        (),
    )


def _title(overview: Overview) -> str:
    diagnosis = overview.diagnosis
    worst = next(iter(diagnosis.hazards), None)
    alarm = "" if worst is None else f"{worst.level.name}: {worst.hazard.rstrip('.')}. "
    return f"{alarm}{diagnosis.batch}, {wording.date_text(diagnosis.asked_at)}"


def _sections(overview: Overview, units: UnitSystem) -> list[Section]:
    """Return the sections in the order in which a brewer needs them; empty ones included."""
    drawn = figures.all_figures(overview, units)
    course = Markup("").join(fragments.figure_fragment(figure) for figure in drawn)
    if not drawn or drawn[0].key != "gravity":  # whose words say the same
        course = fragments.summary_fragment(overview, units) + course
    if overview.pressure is None and overview.diagnosis.evidence.stage == "bottled":
        course += piece("paragraph", contents.NO_PRESSURE)
    causes = fragments.causes_fragment(overview, units)
    if wording.names_hazard_block(overview.diagnosis):
        causes += piece("paragraph", wording.HAZARD_BLOCK)
    return [
        ("next", "What to do now, and the next check", fragments.next_fragment(overview, units)),
        ("causes", "Likely causes", causes),
        ("course", "How it went", course),
        ("bottling", "May it be bottled?", fragments.verdict_fragment(overview, units)),
        ("process", "The brew, step by step", fragments.process_fragment(overview, units)),
        ("checks", "Checks that would tell most", fragments.checks_fragment(overview, units)),
        ("practice", "What makes faults likelier", fragments.practice_fragment(overview, units)),
        ("heard", "What was understood", fragments.heard_fragment(overview)),
        ("unknown", "What is missing or assumed", fragments.unknown_fragment(overview, units)),
        ("sources", "Sources of the leading causes", fragments.sources_fragment(overview)),
    ]


def _document(
    title: str,
    blocks: Sequence[HazardBlock],
    masthead: Markup,
    sections: Sequence[Section],
    colophon: Sequence[str],
    units: UnitSystem = "metric",
) -> str:
    return (
        environment()
        .get_template("document.html")
        .render(
            generator=UNSEALED,
            title=title,
            style=Markup(stylesheet()),
            hazards=fragments.hazard_fragment(blocks, units) if blocks else "",
            masthead=masthead,
            sections=sections,
            colophon=colophon,
        )
        .lstrip()
    )
