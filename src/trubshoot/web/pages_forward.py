"""The pages that look forward: what another way would have changed, and the plan of a brew day.

Both call what `trubshoot whatif` and `trubshoot plan` call and show the same words. They only look:
the batch file stays as it is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import Response

from trubshoot.diagnosis.not_assessed import failure_blocks
from trubshoot.errors import BatchError, UnitError
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.learning.change_words import EXAMPLES
from trubshoot.learning.plan import BrewPlan, Proposal, expression_numbers
from trubshoot.learning.whatif import WhatIf
from trubshoot.report import plan_words, wording
from trubshoot.report import whatif_terminal as words
from trubshoot.report.page import fragments
from trubshoot.report.page.figure import Table
from trubshoot.report.page.templating import piece
from trubshoot.safety import HazardBlock
from trubshoot.sentences import in_units
from trubshoot.units import UnitSystem
from trubshoot.web.site import about, batch_file, missing, page, problem_lines, see, site_of

MOST_CHANGES = 12
_LONGEST = 200  # characters of one change
Section = tuple[str, Markup]


@dataclass(frozen=True)
class Try:
    """A change that the plan proposes, and the address that shows what it changes."""

    label: str
    address: str


async def whatif(request: Request) -> Response:
    """Show what changes of a batch would change; without any, the form alone."""
    site, file = site_of(request), batch_file(request)
    if file is None:
        return missing(request, "The cellar has no batch file of that name.")
    known = await site.kitchen.known(file)
    if known.batch is None:
        return see(about(file)["address"])  # whose page says what is wrong with it
    units = site.units_of(known.batch.units)
    given = "\n".join(request.query_params.getlist("change"))
    texts = [text[:_LONGEST] for line in given.splitlines() if (text := " ".join(line.split()))]
    values: dict[str, Any] = {
        **about(file, known.batch.name),
        "title": f"{known.batch.name}: what if",
        "hazards": known.hazards,
        "given": "\n".join(texts),
        "complaints": [],
        "changed": (),
        "faults": None,
        "sections": (),
        "examples": EXAMPLES,
        "units": units,
    }
    status = 200
    try:
        plan = in_units(await site.kitchen.plan(file), units)
        values["tries"] = _tries(site.kitchen.work.knowledge, plan, units, values["address"])
        if len(texts) > MOST_CHANGES:
            raise UnitError(f"at most {MOST_CHANGES} changes are taken at once. Take some out.")
        if texts:
            answer = in_units(await site.kitchen.whatif(file, tuple(texts)), units)
            values["hazards"] = answer.hazards
            values["changed"] = [_arrow(did) for change in answer.changes for did in change.did]
            values["faults"] = _faults(answer)
            values["sections"] = _whatif_sections(answer, units)
    except (BatchError, UnitError) as error:
        values["complaints"], status = _without_option(error), 422
    except Exception as error:  # noqa: BLE001 - any fault at all must end in its hazard block
        return _failed(request, error, values, known.hazards)
    return page(request, "whatif.html", {"tries": (), **values}, status)


async def plan(request: Request) -> Response:
    """Show the likeliest faults of a process, the cheapest change for each, and the card."""
    site, file = site_of(request), batch_file(request)
    if file is None:
        return missing(request, "The cellar has no batch file of that name.")
    known = await site.kitchen.known(file)
    if known.batch is None:
        return see(about(file)["address"])
    units = site.units_of(known.batch.units)
    values: dict[str, Any] = about(file, known.batch.name)
    try:
        plan = in_units(await site.kitchen.plan(file), units)
    except Exception as error:  # noqa: BLE001 - any fault at all must end in its hazard block
        return _failed(request, error, values, known.hazards)
    card = plan_words.card(plan, units)
    values |= {
        "title": f"{plan.batch}: before brew day",
        "units": units,
        "hazards": plan.hazards,
        "plan": plan,
        "likelier": [f"{label}. {' '.join(because)}".strip() for label, because in plan.likelier],
        "faults": [
            (
                fault.label,
                plan_words.fault_text(fault),
                [f"{label} ({step}, {wording.percent(share)})" for _, label, step, share in made],
                [
                    (
                        name,
                        *_proposed(
                            site.kitchen.work.knowledge, plan, item, units, values["address"]
                        ),
                    )
                    for name, item in (
                        ("Cheapest change", fault.cheapest),
                        ("Most help", fault.best),
                    )
                    if item is not None
                ],
            )
            for fault in plan.faults
            for made in (fault.made_by,)
        ],
        "card": card,
        "card_groups": _grouped(card.lines),
        "care": plan_words.CARE,
        "among": words.AMONG,
        "engine_faults": words.engine_fault_lines(plan.engine_faults),
    }
    return page(request, "plan.html", values)


def _failed(
    request: Request,
    error: Exception,
    values: Mapping[str, Any],
    standing: Sequence[HazardBlock],
) -> Response:
    """Say what failed, under the hazards that were known before it did."""
    what = f"{type(error).__name__}: {error}"
    hazards = failure_blocks(what, standing)
    shown = {**values, "title": "Nothing was assessed", "hazards": hazards}
    shown["sections"] = [("What failed", piece("bullets", [what]))]
    return page(request, "sections.html", shown, 500)


def _without_option(error: BatchError | UnitError) -> list[str]:
    """Return what is wrong; the option that a terminal would have is left out."""
    return [line.removeprefix("--change ") for line in problem_lines(error)]


def _arrow(text: str) -> str:
    """Return "before -> after" with an arrow that no line is broken at."""
    return text.replace(" %", "\u00a0%").replace(" -> ", "\u00a0\u2192 ")


# --- changes that the plan proposes


def _tries(knowledge: KnowledgeBase, plan: BrewPlan, units: UnitSystem, address: str) -> list[Try]:
    """Return the proposals for the likeliest faults that can be said as changes, each once."""
    found: dict[str, Try] = {}
    for fault in plan.faults:
        for item in (fault.cheapest, fault.best):
            if item is None or item.id in found:
                continue
            to = _try_address(knowledge, plan, item, address)
            if to:
                found[item.id] = Try(plan_words.proposal_text(item, plan, units), to)
    return list(found.values())


def _proposed(
    knowledge: KnowledgeBase, plan: BrewPlan, item: Proposal, units: UnitSystem, address: str
) -> tuple[str, str, str]:
    """Return what a change asks, what it does and costs, and where it can be tried."""
    turned = _arrow(words.turned(item.before, item.after))
    told = f"{turned}, {plan_words.cost_text(item)}."
    return (
        plan_words.proposal_text(item, plan, units),
        told,
        _try_address(knowledge, plan, item, address),
    )


def _try_address(knowledge: KnowledgeBase, plan: BrewPlan, item: Proposal, address: str) -> str:
    """Return the address of a what-if with this change; "" when no words say it."""
    row = knowledge.changes[item.id]
    numbers = expression_numbers(plan.card.numbers)
    texts = [text.format_map(numbers) for text in row.change]
    texts += [knowledge.contexts[name].label for name in row.come if not row.change]
    if not texts:
        return ""
    return f"{address}/whatif?{urlencode([('change', text) for text in texts])}"


def _grouped(lines: Sequence[tuple[str, str]]) -> list[tuple[str, list[str]]]:
    """Return the lines of the card under their headings, in their order."""
    groups: list[tuple[str, list[str]]] = []
    for heading, line in lines:
        if not groups or groups[-1][0] != heading:
            groups.append((heading, []))
        groups[-1][1].append(line)
    return groups


# --- what a change changes


def _faults(answer: WhatIf) -> dict[str, Any]:
    """Return the faults that change noticeably, those that change most before the others."""
    changed = [fault for fault in answer.faults if fault.noticeable]
    shown = changed[: words.SHOWN_FAULTS]
    return {
        "rows": [
            (
                _arrow(words.turned(fault.before, fault.after)),
                fault.label,
                _arrow(words.fault_words(fault)),
                [
                    f"{carried.step_label}: {carried.label},"
                    f" {_arrow(words.turned(carried.before, carried.after))}"
                    for carried in fault.carried
                ],
            )
            for fault in shown
        ],
        "more": len(changed) - len(shown),
        "removed": words.REMOVED if answer.removed else "",
        "among": words.AMONG,
    }


def _whatif_sections(answer: WhatIf, units: UnitSystem) -> list[Section]:
    found: list[Section] = []
    turns = [
        f"{'Came' if turn.came else 'Gone'}: {words.turn_label(turn)}. {' '.join(turn.because)}"
        f"{f' Bears on: {moved}.' if (moved := _arrow(words.bears_on(turn))) else ''}"
        for turn in answer.turns
        if turn.causes
    ]
    if turns:
        found.append(("Why: what came and what went", piece("bullets", turns, units=units)))
    rows_of_pressure = words.pressure_rows(answer, units)
    if rows_of_pressure:
        head = ("", "as logged, middle", "as logged, upper", "changed, middle", "changed, upper")
        table = Table(
            "Pressure, as logged and changed", head, tuple(rows_of_pressure), (1, 2, 3, 4)
        )
        body = fragments.table_fragment(table)
        lines = words.pressure_lines(answer)
        body += piece("bullets", lines, units=units) if lines else Markup("")
        found.append(("Pressure in the bottles", body))
    hazards = [
        f"As logged: {words.hazards_named(answer.before)}",
        f"Changed: {words.hazards_named(answer.after)}",
        *([words.REAL] if answer.hazards else []),
        *words.engine_fault_lines(answer.engine_faults),
    ]
    found.append(
        ("Hazards worked out from what was done alone", piece("bullets", hazards, units=units))
    )
    if answer.left_out:
        left = [f"{item[:1].upper()}{item[1:]}." for item in answer.left_out]
        found.append(("Left out", piece("bullets", left)))
    return found
