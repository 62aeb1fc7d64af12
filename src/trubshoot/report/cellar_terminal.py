"""A whole cellar on a terminal: hazards and their batches first, then table, charts and sums."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from rich.console import Console
from rich.text import Text

from trubshoot.learning.cellar import Look
from trubshoot.learning.cellar_page import Cellar
from trubshoot.learning.cellar_sums import Calibration, StepSum
from trubshoot.report import wording
from trubshoot.report.charts import Mark, Scale, bar, fitting, shortened
from trubshoot.report.terminal import Page, print_hazards
from trubshoot.safety import Level
from trubshoot.units import UnitSystem, c_to_f

SHOWN_BATCHES = 40
CHARTED = 20
SHOWN_STEPS = 6
SHOWN_FILES = 20
WORTH_A_CHANGE = 0.2  # batches; below that a step is no news
_STATE = {"brewing": "brewing", "fermenting": "fermenting", "bottled": "bottled"}


def print_cellar(
    console: Console, cellar: Cellar, units: UnitSystem, *, everything: bool = False
) -> None:
    """Write a cellar.

    Args:
        console: where to write.
        cellar: what to write.
        units: units to show.
        everything: all batches and files, however many.
    """
    page = Page(console)
    blocks = [item.block for item in cellar.hazards]
    print_hazards(page, blocks, reasons="It stands for these batches:")
    if blocks:
        page.line(
            "`trubshoot diagnose FILE` shows for each of these batches why, and what is not known."
            " Read it before anybody goes near its bottles."
        )
        page.line()
    page.line(Text(f"Cellar: {cellar.folder}", style="bold"))
    page.line(f"Asked {wording.date_text(cellar.asked_at)}. {_counts(cellar)}")
    if not cellar.batches and not cellar.unusable:
        page.line("No batch file is in it. `trubshoot new FILE.yaml` begins one.")
    _unusable(page, cellar, everything=everything)
    if cellar.batches:
        _table(page, cellar, everything=everything)
        _recurs(page, cellar)
        shown = cellar.batches if everything else cellar.batches[:CHARTED]
        _warmth(page, shown, units)
        _endings(page, shown)
        _calibration(page, cellar.calibration)
    _passed_over(page, cellar, everything=everything)


def _counts(cellar: Cellar) -> str:
    states = Counter(look.stage for look in cellar.batches)
    parts = [f"{states[stage]} {word}" for stage, word in _STATE.items() if states[stage]]
    total = len(cellar.batches)
    text = f"{total} batch{'' if total == 1 else 'es'}"
    text += f": {', '.join(parts)}." if parts else "."
    levels = Counter(look.level for look in cellar.batches)
    grave = [f"{levels[level]} {level.name}" for level in sorted(levels, reverse=True) if level]
    if grave:
        text += f" Hazards, by the gravest of each batch: {', '.join(grave)}."
    failed = len(cellar.unusable)
    if failed:
        text += f" {failed} file{'' if failed == 1 else 's'} that cannot be used."
    return text


def _unusable(page: Page, cellar: Cellar, *, everything: bool) -> None:
    if not cellar.unusable:
        return
    page.head("Files that cannot be used")
    page.line(
        "Nothing was assessed for these. Closed bottles of theirs count as suspect until it is."
    )
    shown = cellar.unusable if everything else cellar.unusable[:SHOWN_FILES]
    for item in shown:
        for problem in item.problems:
            page.item("!", problem)
        if item.more:
            page.item(" ", f"and {item.more} more in this file.")
    _more(page, len(cellar.unusable) - len(shown), "file")


def _more(page: Page, count: int, what: str) -> None:
    if count > 0:
        page.line(f"{count} more {what}{'' if count == 1 else 's'}: --all shows them.", 2)


def _table(page: Page, cellar: Cellar, *, everything: bool) -> None:
    page.head("Batches, newest first")
    width = page.console.width
    name = width - 48
    head = f"{'batch':<{name}} {'begun':<10} {'state':<16} {'bottling':<9} hazard"
    page.console.print(Text(head), soft_wrap=True)
    shown = cellar.batches if everything else cellar.batches[:SHOWN_BATCHES]
    for look in shown:
        begun = look.begun.isoformat() if look.begun else "?"
        days = "" if look.days is None else f" {look.days:.0f} d"
        verdict = {"": "-", "HOLD": "HOLD"}.get(look.verdict, "LIMITS")
        level = look.level.name if look.level else "-"
        line = (
            f"{shortened(look.name, name):<{name}} {begun:<10} "
            f"{look.stage + days:<16} {verdict:<9} {level}"
        )
        page.console.print(Text(line.rstrip(), style=_style(look)), soft_wrap=True)
        page.line(f"{look.path}: {_found(look)}", 3)
    _more(page, len(cellar.batches) - len(shown), "batch" if everything else "older batche")
    page.line()
    page.line(
        "State: days since pitching, or since bottling. Bottling: HOLD, or LIMITS where it may be"
        " bottled within limits (`trubshoot bottling FILE` shows which). That no hazard stands"
        " never means that there is none."
    )


def _style(look: Look) -> str:
    return "bold" if look.level >= Level.WARNING else ""


def _found(look: Look) -> str:
    parts = []
    if look.leading is None:
        parts.append("no cause to name")
    else:
        parts.append(f"{look.leading.label}, {wording.percent(look.leading.chance)}")
    if look.confirmed is not None:
        told = look.confirmed
        words = f" ({told.words})" if told.words else ""
        guess = "" if told.sure else ", a guess"
        if not told.cause:
            parts.append(f"turned out: none of these{words}{guess}")
        elif look.leading is not None and look.leading.id == told.cause:
            parts.append(f"turned out: the same{words}{guess}")
        else:
            parts.append(f"turned out: {told.cause}{words}{guess}")
    parts += [f'remark: "{remark}"' for remark in look.remarks[-1:]]
    return "; ".join(parts) + "."


def _recurs(page: Page, cellar: Cellar) -> None:
    worth = [item for item in cellar.steps if item.batches >= WORTH_A_CHANGE]
    if not worth:
        return
    page.head("What recurs, by step")
    page.line(
        "In how many batches each step is thought to have made what was noticed: those"
        " confirmed, and the chances of the others added up."
    )
    most = worth[0].batches
    label = max(len(item.label) for item in worth[:SHOWN_STEPS])
    room = page.console.width - label - 40
    for item in worth[:SHOWN_STEPS]:
        line = (
            f"  {item.label:<{label}} {item.batches:6.1f}  "
            f"({item.confirmed} confirmed + {item.chances:.1f} likely)"
        )
        page.console.print(
            Text(f"{line:<{label + 38}}  {bar(item.batches / most, max(room, 4))}".rstrip()),
            soft_wrap=True,
        )
    _change(page, worth[0], len(cellar.batches))


def _change(page: Page, first: StepSum, batches: int) -> None:
    page.head("What to change first")
    page.item(
        "-",
        f"{first.label}: mending it would have spared trouble in about {first.batches:.1f} of"
        f" {batches} batch{'' if batches == 1 else 'es'}. Most of it:"
        f" {first.cause_label} ({first.cause_batches:.1f}).",
    )
    page.item(" ", f"Next time: {first.habit}")
    if batches < 3:
        page.item(" ", "From so few batches nothing can be said to recur.")


def _warmth(page: Page, looks: Sequence[Look], units: UnitSystem) -> None:
    known = [(look, look.warmth) for look in looks if look.warmth is not None]
    if not known:
        return
    page.head("Fermentation temperature")
    unit = "°F" if units == "us" else "°C"

    def shown(temp_c: float) -> float:
        return c_to_f(temp_c) if units == "us" else temp_c

    page.line(
        f"In {unit}. In the chart: o the mean, < the coldest, > the warmest, brackets the window"
        " of the yeast. With r it is worked out from the room."
    )
    name = _name_width(page)
    step = 10.0 if units == "us" else 5.0
    values = [
        shown(value)
        for _, warmth in known
        for value in (warmth.low_c, warmth.high_c, warmth.window_low_c, warmth.window_high_c)
    ]
    scale = fitting(values, page.console.width - name - 18, step)
    ruler = f"  {'':<{name}} {'mean':>4}  {'window':<7}  {scale.ruler(step)}"
    page.console.print(Text(ruler), soft_wrap=True)
    for look, warmth in known:
        window = f"{shown(warmth.window_low_c):.0f}-{shown(warmth.window_high_c):.0f}"
        marks = [
            Mark(shown(warmth.window_low_c), "["),
            Mark(shown(warmth.window_high_c), "]"),
            Mark(shown(warmth.low_c), "<"),
            Mark(shown(warmth.high_c), ">"),
            Mark(shown(warmth.mean_c), "o"),
        ]
        room = "r" if warmth.from_room else " "
        line = (
            f"  {shortened(look.name, name):<{name}} {shown(warmth.mean_c):>4.0f}{room} "
            f"{window:<7}  {scale.line(marks)}"
        )
        page.console.print(Text(line), soft_wrap=True)


def _name_width(page: Page) -> int:
    return 24 if page.console.width < 90 else 32


def _endings(page: Page, looks: Sequence[Look]) -> None:
    known = [(look, look.ending) for look in looks if look.ending is not None]
    if not known:
        return
    page.head("Last gravity against the expected end")
    page.line(
        "Points of gravity above (+) or below (-) the expected end. In the chart: o the last"
        " reading, | the expected end, brackets what is usual for it. With * the batch is not"
        " bottled yet and may still fall."
    )
    name = _name_width(page)
    values = [0.0]
    for _, ending in known:
        values += [
            ending.points - ending.expected_points,
            -2 * ending.expected_sigma_points,
            2 * ending.expected_sigma_points,
        ]
    scale: Scale = fitting(values, page.console.width - name - 25, 5.0)
    head = f"  {'':<{name}} {'last':<6} {'end':<5}  {'gap':>4}   {scale.ruler(5.0)}"
    page.console.print(Text(head), soft_wrap=True)
    for look, ending in known:
        gap = ending.points - ending.expected_points
        spread = 2 * ending.expected_sigma_points
        marks = [Mark(-spread, "["), Mark(spread, "]"), Mark(0.0, "|"), Mark(gap, "o")]
        open_end = " " if ending.final else "*"
        line = (
            f"  {shortened(look.name, name):<{name}} {wording.points_text(ending.points)}{open_end}"
            f" {wording.points_text(ending.expected_points)}  {gap:>+4.0f}   {scale.line(marks)}"
        )
        page.console.print(Text(line), soft_wrap=True)


def _calibration(page: Page, told: Calibration) -> None:
    page.head("How often the answers were right")
    if told.confirmed == 0:
        page.line(
            "No batch is confirmed yet. `trubshoot confirm FILE CAUSE` records what one turned"
            " out to be."
        )
        return
    batches = "batch" if told.confirmed == 1 else "batches"
    page.line(
        f"{told.confirmed} confirmed {batches}, asked again without the confirmation and without"
        f" your own history: the cause named first was the one in {told.named_first}."
    )
    page.line("Chance that had been given to what was confirmed:")
    for item, count in zip(told.leading, told.given, strict=True):
        page.line(f"{_range(item.low, item.high)}  {count}", 2)
    page.line("The cause named first, by its chance, and how often it was right:")
    for item in told.leading:
        if item.answers:
            mean = wording.percent(item.mean_chance)
            page.line(
                f"{_range(item.low, item.high)}  right {item.right} of {item.answers}"
                f" (mean chance {mean})",
                2,
            )
    if told.brier is not None:
        page.line(
            f"Brier score of the cause named first: {told.brier:.2f} (0 is perfect, 0.25 is what"
            " a chance of 50 % for everything would get)."
        )
    if told.confirmed < told.few:
        page.line(
            f"From fewer than {told.few} confirmed batches nothing can be concluded about how well"
            " the chances fit. And a confirmation that leans on the answer is no check of it."
        )
    else:
        page.line("A confirmation that leans on the answer is no check of it.")


def _range(low: float, high: float) -> str:
    return f"{100 * low:>3.0f} to {100 * high:>3.0f} %"


def _passed_over(page: Page, cellar: Cellar, *, everything: bool) -> None:
    if not cellar.passed_over and not cellar.other_files:
        return
    page.head("Passed over")
    shown = cellar.passed_over if everything else cellar.passed_over[:SHOWN_FILES]
    for path in shown:
        page.item("-", f"{path}: no batch file.")
    _more(page, len(cellar.passed_over) - len(shown), "file")
    if cellar.other_files:
        one = cellar.other_files == 1
        page.line(f"{cellar.other_files} file{'' if one else 's'} of another kind.", 2)
