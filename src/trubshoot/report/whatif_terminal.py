"""The answer of `trubshoot whatif` on a terminal: hazards first, then both practices beside."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console
from rich.text import Text

from trubshoot.counting import whole
from trubshoot.evidence.model import BottleOutlook, PressureAt
from trubshoot.learning.sides import Side
from trubshoot.learning.whatif import FaultChange, Turn, WhatIf
from trubshoot.report import bottling_words, wording
from trubshoot.report.terminal import Page, print_hazards
from trubshoot.units import UnitSystem, format_pressure, format_temp

SHOWN_FAULTS = 8
SHOWN_TURN_CAUSES = 3
AMONG = (
    "Chances are among batches that make somebody ask for help, so compare them with each other;"
    " most batches go well."
)
REMOVED = (
    "What is only taken out of the log changes no beer: no chance, pressure or hazard is shown"
    " lower for it."
)
NOTICED = "noticed in this batch; the chances are for one brewed so again"
REAL = "What stands at the top concerns the real batch, whatever is changed here."
NO_PROMISE = "None is worked out from what is written down, which is no promise that there is none."


def print_whatif(console: Console, answer: WhatIf, units: UnitSystem, *, all_: bool) -> None:
    """Write both practices beside each other.

    Args:
        console: where to write.
        answer: what to write.
        units: units to show.
        all_: every fault and every turn, not only what changed noticeably.
    """
    page = Page(console)
    print_hazards(page, answer.hazards)
    page.line(Text(f"{answer.batch}: what if", style="bold"))
    page.line(f"Asked {wording.date_text(answer.asked_at)}. The batch file is left as it is.")
    page.head("Changed")
    for change in answer.changes:
        for sentence in change.did:
            page.item("-", sentence)
    if answer.removed:
        page.line(REMOVED)
    _faults(page, answer, all_=all_)
    _turns(page, answer, all_=all_)
    _pressure(page, answer, units)
    _hazards(page, answer)
    print_engine_faults(page, answer.engine_faults)
    if answer.left_out:
        page.head("Left out")
        for item in answer.left_out:
            page.item("-", f"{item}.")


def print_engine_faults(page: Page, faults: Iterable[str]) -> None:
    """Write where the two rule engines differed."""
    for line in engine_fault_lines(faults):
        page.item("!", line)


def engine_fault_lines(faults: Iterable[str]) -> list[str]:
    """Return where the two rule engines differed."""
    return [
        f"Fault in trubshoot, please report: {fault}. The safer answer is shown."
        for fault in faults
    ]


def turned(before: float, after: float) -> str:
    """Return a chance before and after in numbers."""
    return f"{wording.percent(before)} -> {wording.percent(after)}"


def turned_words(before: float, after: float) -> str:
    """Return a chance before and after in words."""
    old, new = wording.likelihood(before), wording.likelihood(after)
    return f"still {old}" if old == new else f"{old} -> {new}"


def _faults(page: Page, answer: WhatIf, *, all_: bool) -> None:
    page.head("Chance of each fault, before and after")
    shown = [fault for fault in answer.faults if all_ or fault.noticeable]
    if not shown:
        page.line("No fault becomes noticeably likelier or less likely. `--all` shows every one.")
        return
    cut = shown if all_ else shown[:SHOWN_FAULTS]
    for fault in cut:
        page.item("-", _fault_text(fault))
        for carried in fault.carried if fault.noticeable else ():
            share = turned(carried.before, carried.after)
            page.item(" ", f"{share} by {carried.step_label}: {carried.label}", 4)
    if len(shown) > len(cut):
        page.line(f"{len(shown) - len(cut)} more change noticeably; `--all` shows them.", 2)
    page.line(AMONG)


def _fault_text(fault: FaultChange) -> Text:
    text = Text()
    text.append(f"{turned(fault.before, fault.after)}  ")
    text.append(fault.label, style="bold")
    text.append(f" ({fault_words(fault)})")
    return text


def fault_words(fault: FaultChange) -> str:
    """Return a chance before and after in words, or that it is there already."""
    return NOTICED if fault.noticed else turned_words(fault.before, fault.after)


def _turns(page: Page, answer: WhatIf, *, all_: bool) -> None:
    shown = [turn for turn in answer.turns if all_ or turn.causes]
    if not shown:
        return
    page.head("Why: what came and what went")
    for turn in shown:
        came = "Came" if turn.came else "Gone"
        page.item("-", f"{came}: {turn_label(turn)}. {' '.join(turn.because)}")
        moved = bears_on(turn)
        if moved:
            page.item(" ", f"Bears on: {moved}", 4)


def bears_on(turn: Turn) -> str:
    """Return the causes that a turn bears on most; "" when none of them is seen to move."""
    return "; ".join(
        f"{label} ({turned(before, after)})"
        for _, label, before, after in turn.causes[:SHOWN_TURN_CAUSES]
        if wording.percent(before) != wording.percent(after)
    )


def turn_label(turn: Turn) -> str:
    """Return what came or went, with whether it was there or not."""
    if turn.kind == "ruled_out":
        return f'Ruled out: "{turn.label}"'
    return turn.label if turn.state == "present" else f"{turn.label}: {wording.STATE[turn.state]}"


def _pressure(page: Page, answer: WhatIf, units: UnitSystem) -> None:
    rows = pressure_rows(answer, units)
    if not rows:
        return
    page.head("Pressure in the bottles")
    heads = [("", "as logged", "", "changed", ""), ("", "middle", "upper", "middle", "upper")]
    for line in bottling_words.table([*heads, *rows], right=(1, 2, 3, 4)):
        page.line(line, 2)
    for line in pressure_lines(answer):
        page.line(line)


Row = tuple[str, str, str, str, str]


def pressure_rows(answer: WhatIf, units: UnitSystem) -> list[Row]:
    """Return what, middle and upper as logged, middle and upper changed; none without bottles."""
    old, new = answer.before.outlook, answer.after.outlook
    if old is None and new is None and "bottled" not in answer.before.evidence.facts:
        return []
    rows: list[Row] = []
    for before, after in answer.pressures:
        known = before or after
        assert known is not None
        rows.append((_place(before, after, units), *_bars(before, units), *_bars(after, units)))
    rows.append(
        ("rating of the bottles", *_limit(old, "rating", units), *_limit(new, "rating", units))
    )
    rows.append(("danger limit", *_limit(old, "danger", units), *_limit(new, "danger", units)))
    return rows


def pressure_lines(answer: WhatIf) -> list[str]:
    """Return what is to be known beside the pressures."""
    old, new = answer.before.outlook, answer.after.outlook
    found = []
    if new is None or old is None:
        which = "As logged" if old is None else "Changed"
        found.append(
            f"{which}: not known, since sugar, volume or the gravity at bottling are missing. Until"
            " they are known such bottles count as under too much pressure."
        )
    predicted = answer.predicted
    if predicted is not None:
        found.append(
            f"Changed, the gravity at bottling on day {whole(predicted.day)} is predicted, not"
            f" measured: {wording.points_text(predicted.points)}, give or take"
            f" {predicted.sigma_points:.1f} points, from {predicted.how}. Only readings tell"
            " whether a beer has ended."
        )
    if answer.kept_upper:
        found.append(
            "An upper value is kept up: knowledge that is only taken away, readings of another"
            " fermentation, and fewer readings lower no pressure."
        )
    return found


def _place(before: PressureAt | None, after: PressureAt | None, units: UnitSystem) -> str:
    known = [point for point in (before, after) if point is not None]
    temps = list(dict.fromkeys(format_temp(point.temp_c, units) for point in known))
    return f"{bottling_words.PLACES[known[0].place]}, {' -> '.join(temps)}"


def _bars(point: PressureAt | None, units: UnitSystem) -> tuple[str, str]:
    if point is None:
        return "not known", "not known"
    text = bottling_words.pressure_text
    return text(point.middle_bar, units), text(point.upper_bar, units)


def _limit(look: BottleOutlook | None, which: str, units: UnitSystem) -> tuple[str, str]:
    if look is None:
        return "", "not known"
    bar = look.basis.rating_bar if which == "rating" else look.basis.danger_bar
    return "", format_pressure(bar, units)


def _hazards(page: Page, answer: WhatIf) -> None:
    page.head("Hazards worked out from what was done alone")
    page.labelled("As logged", hazards_named(answer.before), 2)
    page.labelled("Changed", hazards_named(answer.after), 2)
    if answer.hazards:
        page.line(REAL)


def hazards_named(side: Side) -> str:
    """Return the hazards of one practice in a line."""
    return " ".join(f"{block.level.name}: {block.hazard}" for block in side.hazards) or NO_PROMISE
