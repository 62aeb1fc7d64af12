"""The diagnosis on a terminal: hazards first, plain words, readable without colour."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console
from rich.text import Text

from trubshoot.diagnosis.result import Diagnosis, RankedCause
from trubshoot.errors import printable
from trubshoot.report import wording
from trubshoot.safety import HazardBlock, Level
from trubshoot.units import UnitSystem

_COLOUR = {
    Level.DANGER: "bold white on red",
    Level.WARNING: "bold black on dark_orange",
    Level.CAUTION: "bold black on yellow",
    Level.NOTICE: "bold white on blue",
}


class Page:
    """Writes headed, indented paragraphs to a console."""

    def __init__(self, console: Console) -> None:
        self.console = console

    def line(self, text: str | Text = "", indent: int = 0) -> None:
        """Write one paragraph, wrapped within its indent."""
        self._wrapped("", text, indent)

    def head(self, text: str) -> None:
        """Write a heading that stands out without colour as well."""
        self.line()
        self.line(Text(text.upper(), style="bold"))

    def labelled(self, label: str, text: str, indent: int = 3) -> None:
        """Write `label: text`."""
        content = Text()
        content.append(f"{label}: ", style="bold")
        content.append(text)
        self.line(content, indent)

    def item(self, mark: str, text: str | Text, indent: int = 2) -> None:
        """Write a list item whose further lines hang under its first word."""
        self._wrapped(f"{mark} ", text, indent)

    def _wrapped(self, mark: str, text: str | Text, indent: int) -> None:
        width = max(self.console.width - indent - len(mark), 20)
        content = Text(printable(text)) if isinstance(text, str) else text
        if printable(content.plain) != content.plain:
            content = Text(printable(content.plain), style="bold")  # its parts no longer fit
        lines = []
        plain = content.plain
        fits = content.cell_len <= width and "\n" not in plain and "\t" not in plain
        wrapped = [content.copy()] if fits else content.wrap(self.console, width)
        for number, line in enumerate(wrapped):
            line.rstrip()
            lead = mark if number == 0 else " " * len(mark)
            shown = Text(" " * indent + lead).append_text(line)
            shown.rstrip()
            lines.append(shown)
        self.console.print(Text("\n").join(lines), soft_wrap=True)  # each call costs as much again


def print_hazards(
    page: Page, blocks: Iterable[HazardBlock], *, reasons: str = "Why we say this:"
) -> None:
    """Write the hazard blocks; they stand before everything else.

    `reasons` heads what each block rests on.
    """
    for block in blocks:
        title = Text()
        title.append(f"{block.level.name}: ", style=_COLOUR[block.level])
        title.append(block.hazard, style="bold")
        page.line(title)
        page.line(f"What can happen: {block.consequence}")
        page.line("Do now:")
        for number, step in enumerate(block.avoid, 1):
            page.item(f"{number:>2}", step.do, 2)
        if block.gate_why:
            page.line(block.gate_why)
        page.line(reasons)
        for reason in block.because:
            page.item("-", reason)
        if block.unknown:
            page.line(f"What we do not know: {'; '.join(block.unknown)}.")
        if block.if_hurt:
            page.line(f"If hurt: {block.if_hurt}")
        page.line()


def print_diagnosis(
    console: Console, diagnosis: Diagnosis, labels: dict[str, str], units: UnitSystem, *, why: bool
) -> None:
    """Write a diagnosis.

    Args:
        console: where to write.
        diagnosis: what to write.
        labels: plain labels of the findings.
        units: units to show.
        why: also show every rule that fired and the weights of the evidence.
    """
    page = Page(console)
    print_hazards(page, diagnosis.hazards)
    page.line(Text(diagnosis.batch, style="bold"))
    page.line(f"Asked {wording.date_text(diagnosis.asked_at)}, {wording.age_text(diagnosis)}.")
    if diagnosis.own is not None:
        page.line(wording.own_history(diagnosis.own))
    _log(page, diagnosis, labels, units)
    _causes(page, diagnosis, labels, why=why)
    _practice(page, diagnosis)
    _next(page, diagnosis)
    _missing(page, diagnosis)
    if why:
        _why(page, diagnosis)
    _sources(page, diagnosis, why=why)


def _log(page: Page, diagnosis: Diagnosis, labels: dict[str, str], units: UnitSystem) -> None:
    lines = wording.summary(diagnosis, units)
    page.head("What the log says")
    for line in lines or ["No gravity and no temperature is logged."]:
        page.item("-", line)
    told = any(state.up or state.origin != "log" for state in diagnosis.findings)
    if told or diagnosis.evidence.not_understood or diagnosis.contradictions:
        page.head("What was understood")
    for state in diagnosis.findings:
        if state.up or state.origin != "log":  # what the log merely does not show is no news
            page.item("-", wording.finding_line(state, labels[state.id]))
        if state.id in diagnosis.doubts:
            page.item(" ", diagnosis.doubts[state.id])
    for words in diagnosis.evidence.not_understood:
        nearest = "; ".join(words.nearest) or "nothing near"
        where = f" (line {words.line})" if words.line else ""
        page.item("?", f'Not understood: "{words.words}"{where}. Nearest: {nearest}.')
    for clash in diagnosis.contradictions:
        page.item(
            "!",
            f'You said "{clash.said}", the log says otherwise: {clash.logged}'
            " The log's numbers are taken.",
        )


def _causes(page: Page, diagnosis: Diagnosis, labels: dict[str, str], *, why: bool) -> None:
    named = diagnosis.named_causes[: wording.SHOWN_CAUSES]
    page.head("Likely causes")
    if "log_is_bare" in diagnosis.evidence.facts:
        page.line("There is nothing to go on: nothing was logged and nothing reported.")
        return
    if not any(state.up for state in diagnosis.findings):
        page.line("Nothing out of the ordinary was reported or measured: no cause to name.")
        return
    if not named:
        page.line("No known cause explains what was reported well enough to be named.")
    for number, cause in enumerate(named, 1):
        _cause(page, diagnosis, cause, number, labels, why=why)
    if wording.names_hazard_block(diagnosis):
        page.line()
        page.line(wording.HAZARD_BLOCK, 3)
    share = wording.percent(diagnosis.none_of_these, about=diagnosis.approximate)
    page.line()
    page.line(f"   None of these (no known cause made any of it): {share}")
    beside = wording.beside_lines(diagnosis, labels)
    if beside:
        page.head(wording.BESIDE)
    for line in beside:
        page.item("-", line)


def _cause(
    page: Page,
    diagnosis: Diagnosis,
    cause: RankedCause,
    number: int,
    labels: dict[str, str],
    *,
    why: bool,
) -> None:
    page.line()
    title = Text()
    title.append(f"{number}. {cause.label}", style="bold")
    page.line(title)
    page.line(f"{wording.chance_text(diagnosis, cause)}. Step: {cause.step_label}.", 3)
    if cause.doubt:
        page.line(cause.doubt, 3)
    favour, against = wording.evidence_lines(cause)
    for label, weights in (("For", favour), ("Against", against)):
        if weights:
            parts = [
                f"{weight.label} ({wording.strength(weight.decibans)}"
                + (f", {weight.decibans:+.1f} dB)" if why else ")")
                for weight in weights
            ]
            page.labelled(label, "; ".join(parts))
    if cause.unexplained:
        page.labelled("Does not explain", "; ".join(labels[name] for name in cause.unexplained))
    if why:
        page.labelled("How it works", cause.mechanism)
    if number <= wording.SHOWN_ADVICE:
        _advice(page, cause, first=number == 1, why=why)


def _advice(page: Page, cause: RankedCause, *, first: bool, why: bool) -> None:
    """Write what to do now, what not and why; for the first cause also when to stop, and the cost.

    A step that harms another cause ranked near this one says so in the line below it.
    """
    advice = cause.advice
    if advice.steps or advice.withheld:
        page.line(Text("Now:", style="bold"), 3)
    for step in advice.steps[: wording.SHOWN_STEPS]:
        page.item("-", step, 5)
        clashes = [clash for clash in advice.conflicts if clash.step == step]
        if clashes:
            others = " or ".join(f'"{clash.label}"' for clash in clashes[: wording.SHOWN_CLASHES])
            page.item("!", f"Not if it is {others}: {clashes[0].why}", 7)
    if advice.withheld:
        page.item("-", "Further steps are left out while the hazard above stands.", 5)
    for dont, reason in advice.avoid[: None if why else wording.SHOWN_AVOID if first else 1]:
        text = Text(dont, style="bold")
        text.append(f" {reason}", style="not bold")
        page.line(text, 3)
    if first or why:
        if advice.stop:
            page.labelled("Stop trying", advice.stop)
        if advice.cost:
            page.labelled("What it costs", advice.cost)
    page.labelled("Next time", cause.next_time)
    if advice.confirm:
        page.labelled("To be sure", advice.confirm)
    if why:
        page.labelled("Ruled out when", cause.rule_out)
    if cause.caution:
        page.labelled("Take care", cause.caution)


def _practice(page: Page, diagnosis: Diagnosis) -> None:
    """Show what of the process makes faults likelier, and why: next time's lesson."""
    shown = wording.telling_contexts(diagnosis)
    if not shown:
        return
    page.head("What makes faults likelier in this batch")
    for context in shown[: wording.SHOWN_CONTEXTS]:
        page.item("-", f"{context.label}. {context.because[0]}")
    if len(shown) > wording.SHOWN_CONTEXTS:
        page.item("-", f"{len(shown) - wording.SHOWN_CONTEXTS} more with --why.")


def _next(page: Page, diagnosis: Diagnosis) -> None:
    if not diagnosis.next_checks:
        return
    page.head("Next check worth doing")
    for number, check in enumerate(diagnosis.next_checks, 1):
        text = Text()
        text.append(f"{check.label}?", style="bold")
        text.append(f" {check.how} ({wording.BY[check.by]}, {wording.minutes_text(check.minutes)})")
        page.item(f"{number}.", text)


def _missing(page: Page, diagnosis: Diagnosis) -> None:
    if diagnosis.evidence.missing or diagnosis.evidence.notes:
        page.head("Missing or assumed")
    for gap in diagnosis.evidence.missing:
        page.item("-", wording.gap_text(gap))
    for note in diagnosis.evidence.notes:
        page.item("-", note)
    for fault in diagnosis.faults:
        page.item("!", f"Fault in trubshoot, please report: {fault}. The safer answer is shown.")
    if diagnosis.engine_notice:
        page.item("-", diagnosis.engine_notice)


def _why(page: Page, diagnosis: Diagnosis) -> None:
    if diagnosis.own is not None:
        page.head("Your own confirmed batches")
        for line in wording.own_shifts(diagnosis.own, diagnosis.named_causes):
            page.item("-", line)
    page.head("Rules that fired")
    for trace in diagnosis.traces:
        page.item("-", f"{trace.conclusion} <- {trace.rule}: {trace.because}")
        for name, value in trace.facts:
            page.item(" ", f"{name} = {value}", 4)
        page.item(" ", f"source: {', '.join(trace.sources)}", 4)
    if diagnosis.ruled_out:
        page.head("Ruled out")
        for cause in diagnosis.ruled_out:
            page.item("-", f"{cause.label}: {'; '.join(cause.because)}")
    if diagnosis.contexts:
        page.head("Circumstances")
        for context in diagnosis.contexts:
            page.item("-", f"{context.label}: {'; '.join(context.because)}")


def _sources(page: Page, diagnosis: Diagnosis, *, why: bool) -> None:
    keys = dict.fromkeys(source for cause in diagnosis.named_causes[:3] for source in cause.sources)
    if keys:
        page.head("Sources")
        page.line(f"{', '.join(keys)}. `trubshoot knowledge source KEY` shows one in full.")
    if why:
        page.line(f"Rules run by {diagnosis.engine}; knowledge {diagnosis.knowledge_version}.")
