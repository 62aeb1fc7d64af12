"""The pages that only show: causes and figures, the bottling check, filled bottles."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from trubshoot.diagnosis.bottling_report import BottlingReport
from trubshoot.diagnosis.not_assessed import HOLD_LINE, failure_blocks
from trubshoot.diagnosis.overview import Overview
from trubshoot.errors import BatchError
from trubshoot.report import bottling_parts as parts
from trubshoot.report import bottling_words as words
from trubshoot.report.page import figures, fragments
from trubshoot.report.page.figure import Table
from trubshoot.report.page.templating import piece
from trubshoot.report.whatif_terminal import engine_fault_lines
from trubshoot.sentences import in_units
from trubshoot.units import UnitSystem
from trubshoot.web.site import about, batch_file, missing, page, problem_lines, see, site_of

# the plan that a form may change for this once: (name, words, example)
PLAN = (
    ("sugar", "Sugar", "110 g or 4 oz table sugar"),
    ("volume", "Volume that goes into bottles", "18 l or 4.8 gal"),
    ("stirred", "Will it be stirred in?", "yes"),
    ("bottles", "Bottles", "reused brown longneck 330 ml or 12 oz"),
    ("storage", "Where they will stand, and how warm", "cellar 18 C or 64 F"),
    ("target", "CO2 aimed at, in volumes", "2.4"),
    ("headspace", "Empty part of each bottle", "4 %"),
)
_LONGEST = 200  # characters of one of them
Section = tuple[str, Markup]


async def whole(request: Request) -> Response:
    """Show causes, figures, process, gaps and sources of one batch."""
    site, file = site_of(request), batch_file(request)
    if file is None:
        return missing(request, "The cellar has no batch file of that name.")
    try:
        view = await site.kitchen.overview(file)
    except BatchError:
        return see(about(file)["address"])  # whose page says what is wrong with it
    units = site.units_of(view.batch.units)
    view = in_units(view, units)
    values = {
        **about(file, view.batch.name),
        "title": f"{view.batch.name}: causes and figures",
        "units": units,
        "hazards": view.diagnosis.hazards,
        "sections": sections(view, units),
    }
    return page(request, "sections.html", values)


def sections(view: Overview, units: UnitSystem) -> list[Section]:
    """Return titles and contents of everything that is known of a batch, as in the report."""
    drawn = Markup("").join(
        fragments.figure_fragment(figure) for figure in figures.all_figures(view, units)
    )
    found: list[Section] = [
        ("Likely causes", fragments.causes_fragment(view, units)),
        ("Next check worth doing", fragments.checks_fragment(view, units)),
        ("The numbers", fragments.summary_fragment(view, units)),
        ("Figures", drawn),
        ("What was understood", fragments.heard_fragment(view)),
        ("What makes faults likelier in this batch", fragments.practice_fragment(view, units)),
        ("The process, and where the causes point", fragments.process_fragment(view, units)),
        ("Missing or assumed", fragments.unknown_fragment(view, units)),
        ("Sources", fragments.sources_fragment(view)),
    ]
    return [section for section in found if section[1]]


async def bottling(request: Request) -> Response:
    """Show whether a batch may be bottled; fields of the address change its plan for this once."""
    site, file = site_of(request), batch_file(request)
    if file is None:
        return missing(request, "The cellar has no batch file of that name.")
    given = {
        name: value[:_LONGEST]
        for name, _, _ in PLAN
        if (value := request.query_params.get(name, "").strip())
    }
    values: dict[str, Any] = {**about(file, file.name), "plan": PLAN, "given": given}
    known = await site.kitchen.known(file)
    if known.batch is not None:
        values |= about(file, known.batch.name)
    units = site.units_of(known.units)
    values |= {"complaints": [], "units": units}
    try:
        report = await site.kitchen.bottling(file, given)
    except BatchError as error:
        values |= {
            "verdict": ("HOLD", HOLD_LINE.removeprefix("HOLD")),
            "complaints": problem_lines(error),
        }
        values |= {"title": "HOLD", "hazards": known.hazards, "report": None, "go": False}
        return page(request, "bottling.html", values, 422)
    except Exception as error:  # noqa: BLE001 - any fault at all must end in HOLD
        what = f"{type(error).__name__}: {error}"
        values |= {"verdict": ("HOLD", HOLD_LINE.removeprefix("HOLD")), "complaints": [what]}
        blocks = failure_blocks(what, known.hazards)
        values |= {"title": "HOLD", "hazards": blocks, "report": None, "go": False}
        return page(request, "bottling.html", values, 500)
    report = in_units(report, units)
    if report.verdict is None:
        return see(f"{about(file)['address']}/bottles")
    line = words.verdict_line(report)
    values |= {
        "verdict": (report.verdict.word, line.removeprefix(report.verdict.word)),
        "title": f"{report.verdict.word}: {report.batch}",
        "go": report.verdict.go,
        "hazards": report.hazards,
        "report": report,
        "limits": [words.filled_in(item, report, units) for item in report.limits],
        "way": words.way_lines(report, units),
        "reasons": words.grouped(report.verdict.reasons),
        "checklist": parts.checklist_lines(report, units),
        "sections": _bottling_sections(report, units),
    }
    return page(request, "bottling.html", values)


def _bottling_sections(report: BottlingReport, units: UnitSystem) -> list[Section]:
    rows = parts.reading_rows(report)
    readings = (
        _table("The latest readings", rows, (0,)) if rows else _bullets(["No reading yet."], units)
    )
    found = [("Is it finished?", readings + _bullets(parts.finished_lines(report), units))]
    look = report.evidence.outlook
    gas = _bullets([parts.NO_OUTLOOK], units)
    if look is not None:
        rows = parts.pressure_rows(look, units)
        gas = _bullets(parts.gas_lines(report, look, units), units)
        gas += _table("Pressure in the bottles", rows, (1, 2, 3))
    found.append(("Gas and pressure, with this plan", gas))
    table = report.sugar
    if table is not None and table.rows:
        no_dose = parts.no_dose(table)
        body = _bullets([no_dose], units) if no_dose else Markup("")
        if not no_dose:
            grams, spoons = parts.sugar_rows(table, units)
            right = tuple(range(1, len(grams[0])))
            body = _bullets([parts.CAPPED], units) if table.capped else Markup("")
            body += _table("In grams", grams, right)
            body += _table("In level teaspoons", spoons, right[:-1])
            body += _bullets([parts.sugar_note(table, units)], units)
        found.append((f"Sugar for {table.target_vols:.1f} volumes", body))
    found.append(("Missing or assumed", _bullets(_assumed(report, units), units)))
    return found


def _assumed(report: BottlingReport, units: UnitSystem) -> list[str]:
    return [*parts.assumed_lines(report, units), *engine_fault_lines(report.faults)]


async def bottles(request: Request) -> Response:
    """Show what filled bottles may hold; how to handle them stands in the hazard blocks only."""
    site, file = site_of(request), batch_file(request)
    if file is None:
        return missing(request, "The cellar has no batch file of that name.")
    known = await site.kitchen.known(file)
    if known.batch is None:
        return see(about(file)["address"])
    try:
        report = await site.kitchen.bottling(file, {})
    except Exception as error:  # noqa: BLE001 - any fault at all must end in its hazard block
        what = f"{type(error).__name__}: {error}"
        values = {**about(file, known.batch.name), "title": "Nothing was assessed"}
        values |= {
            "hazards": failure_blocks(what, known.hazards),
            "sections": [("What failed", _bullets([what], "metric"))],
        }
        return page(request, "sections.html", values, 500)
    units = site.units_of(known.batch.units)
    report = in_units(report, units)
    look, rows = report.evidence.outlook, parts.course_rows(report, units)
    gas = _bullets([parts.NO_ESTIMATE], units)
    if look is not None:
        gas = _bullets(parts.gas_lines(report, look, units), units)
        gas += _table("Pressure in the bottles", parts.pressure_rows(look, units), (1, 2, 3))
    found = [("Gas and pressure, as bottled", gas)]
    if rows:
        course = _table("Pressure over time", rows, tuple(range(len(rows[0]))))
        course += _bullets(
            [parts.course_note(report, units), *parts.course_lines(report, units)], units
        )
        found.append(("Pressure over time", course))
    opened = [words.filled_in(item, report, units) for item in report.opened]
    found.append(("What an opened bottle would tell", _bullets(opened, units)))
    found.append(("Missing or assumed", _bullets(_assumed(report, units), units)))
    values = {
        **about(file, report.batch),
        "title": f"{report.batch}: filled bottles",
        "units": units,
        "hazards": report.hazards,
        "sections": [section for section in found if section[1]],
    }
    return page(request, "sections.html", values)


def _table(caption: str, rows: parts.Rows, right: tuple[int, ...]) -> Markup:
    return fragments.table_fragment(Table(caption, rows[0], tuple(rows[1:]), right))


def _bullets(lines: list[str], units: UnitSystem) -> Markup:
    return piece("bullets", lines, units=units) if lines else Markup("")
