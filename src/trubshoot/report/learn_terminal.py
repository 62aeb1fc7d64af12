"""Pages of what is known on a terminal: steps, faults, causes, and what a word may mean."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any

from rich.text import Text

from trubshoot.learning import pages
from trubshoot.learning.lookup import Found, Named
from trubshoot.report.learn_words import (
    KIND,
    STAGES,
    TELLS,
    WHAT_COUNTS,
    odds_text,
    of_batches,
    often,
    with_reason,
)
from trubshoot.report.terminal import Page, print_hazards
from trubshoot.report.wording import BY, how_much_read, minutes_text

SHOWN_MAKES = 12
SHOWN_CIRCUMSTANCES = 8
SHOWN_ALIASES = 12
SHOWN_SHARE = 0.005  # causes that made it less often stand in one line at the end of their step
DETAILED = 4  # causes of a finding whose trial is told


def print_page(page: Page, shown: pages.Page) -> None:
    """Write one page; its hazards stand first."""
    print_hazards(page, with_reason(getattr(shown, "hazards", ())))
    writers: dict[type, Callable[[Page, Any], None]] = {
        pages.Overview: _overview,
        pages.StepPage: _step,
        pages.FindingPage: _finding,
        pages.CausePage: _cause,
        pages.CircumstancePage: _circumstance,
        pages.HazardPage: _hazard,
        pages.SourcePage: _source,
    }
    writers[type(shown)](page, shown)


def print_meant(page: Page, found: Found) -> None:
    """Write what a text may mean, each with the words that show it."""
    page.line(f'"{found.asked}" may mean several things. Say which:')
    for thing in found.meant:
        page.item("-", f"{thing.label} ({thing.kind})")
        page.line(f"trubshoot learn {thing.kind} {thing.id}", 4)


def _title(page: Page, thing: Named, more: str = "") -> None:
    text = Text(thing.label, style="bold")
    text.append(f"  ({more})" if more else "", style="not bold")
    page.line(text)


def _numbered(page: Page, rows: Iterable[tuple[float, str]], indent: int = 2) -> None:
    """Write rows that begin with how often."""
    for chance, text in rows:
        page.item(f"{of_batches(chance):>11} ", text, indent)


def _made(made: pages.Made) -> str:
    term = f" [{made.term}]" if made.term else ""
    return f"{made.finding.label}{term}"


# --- steps


def _overview(page: Page, shown: pages.Overview) -> None:
    page.line(Text("The steps of a brew, and the faults that each makes most", style="bold"))
    page.line(WHAT_COUNTS)
    for number, row in enumerate(shown.steps, 1):
        page.line()
        page.line(Text(f"{number}. {row.step.label}", style="bold"))
        page.line(row.what, 3)
        _numbered(page, ((made.chance, _made(made)) for made in row.makes), 3)
    page.line()
    page.line(
        "More: trubshoot learn STEP, FAULT or CAUSE, in your own words, such as"
        " `trubshoot learn timing` or `trubshoot learn tastes of butter`; `trubshoot learn map`"
        " shows all steps and faults at once."
    )


def _step(page: Page, shown: pages.StepPage) -> None:
    _title(page, shown.step, "step")
    page.line(shown.what)
    page.head("Faults that its causes make")
    page.line(WHAT_COUNTS)
    for made in shown.makes[:SHOWN_MAKES]:
        by = "; ".join(part.cause.label for part in made.by[:2])
        text = f"{_made(made)}: {often(made.chance)}. By: {by}"
        page.item(f"{of_batches(made.chance):>11} ", text)
    rest = len(shown.makes) - SHOWN_MAKES
    if rest > 0:
        page.item(" " * 12, f"and {rest} rarer ones (--format json has all)")
    page.head("Causes, and the habit that prevents each")
    for brief in shown.causes:
        page.line()
        _title(page, brief.cause)
        page.line(f"There {often(brief.prior)}, in {of_batches(brief.prior)}.", 3)
        if brief.kind != "fault":
            page.line(f"This is {KIND[brief.kind]}.", 3)
        if brief.doubt:
            page.line(brief.doubt, 3)
        page.labelled("How it works", brief.mechanism)
        makes = "; ".join(
            f"{item.finding.label} ({_times(item.strength)})" for item in brief.makes[:4]
        )
        page.labelled("Makes", makes)
        page.labelled("The habit", brief.next_time)


def _times(strength: float) -> str:
    return f"{round(100 * strength)} times of 100"


# --- findings


def _finding(page: Page, shown: pages.FindingPage) -> None:
    _title(page, shown.finding, TELLS[shown.tells])
    if shown.term:
        page.labelled("Judges call it", shown.term, 0)
    if shown.doubt:
        page.line(shown.doubt)
    page.line(f"Noticed {often(shown.chance)}, in {of_batches(shown.chance)} batches.")
    if shown.threshold:
        page.labelled("From when it is noticed", shown.threshold, 0)
    page.head("How to find out")
    if shown.may_check:
        page.line(f"{shown.how} ({BY[shown.by]}, {minutes_text(shown.minutes)})")
    else:
        page.line("Do not look for it: the hazard above stands. What was noticed already counts.")
    _causes_by_step(page, shown)
    _apart(page, "How to tell them apart", shown.leading, shown.apart)
    _confused(page, shown)
    _sources(page, shown.sources, shown.basis)


def _causes_by_step(page: Page, shown: pages.FindingPage) -> None:
    page.head("What makes it, by step")
    if not shown.steps:
        page.line("No known cause makes it.")
        return
    page.line(
        "The number says how many of 100 batches that show it, and of which nothing else is known,"
        " got it from that cause; a batch may have got it from several."
    )
    leading = {thing.id for thing in shown.leading[:DETAILED]}
    for step in shown.steps:
        page.line()
        page.line(Text(f"{step.step.label}: makes it in {of_batches(step.chance)} batches"), 0)
        rare = []
        for share in step.causes:
            if share.share < SHOWN_SHARE:
                rare.append(share.cause.label)
                continue
            note = "" if share.kind == "fault" else f" ({KIND[share.kind]})"
            page.item(f"{_share(share.share):>11} ", f"{share.cause.label}{note}")
            if share.cause.id in leading:
                for label, text in (("To be sure", share.confirm), ("Not so if", share.rule_out)):
                    if text:
                        page.labelled(label, text, 15)
                if share.doubt:
                    page.line(share.doubt, 15)
        if rare:
            page.item(f"{'rarely':>11} ", "; ".join(rare))
    page.line()
    page.line(f"No known cause: {_share(shown.none_of_these)}.")


def _share(chance: float) -> str:
    number = round(100 * chance)
    return f"{min(number, 99)} of 100" if number else "under 1"


def _apart(page: Page, title: str, causes: Sequence[Named], rows: Sequence[pages.Apart]) -> None:
    if not rows:
        return
    page.head(title)
    page.line("How many of 100 batches would show it, if the cause were:")
    marks = "ABCDEFGH"
    for mark, cause in zip(marks, causes, strict=False):
        page.item(f"{mark} ", cause.label)
    page.line()
    page.line("".join(f"{mark:>4}" for mark, _ in zip(marks, causes, strict=False)))
    for row in rows:
        numbers = "".join(f"{round(100 * chance):>4}" for chance in row.chances)
        page.item(f"{numbers} ", _apart_text(row), 0)


def _apart_text(row: pages.Apart) -> str:
    effort = f" ({BY[row.by]}, {minutes_text(row.minutes)})" if row.may_check else ""
    return f"{row.finding.label}{effort}"


def _confused(page: Page, shown: pages.FindingPage) -> None:
    if shown.confused or shown.words:
        page.head("Easily taken for")
    for other in shown.confused:
        term = f" [{other.term}]" if other.term else ""
        text = Text(f"{other.finding.label}{term}", style="bold")
        if not shown.hazards:
            text.append(f": {other.how}", style="not bold")
        page.item("-", text)
    for word in shown.words:
        page.line()
        page.line(f'Some say "{word.words[0]}" and mean different things. {word.ask} {word.how}')
        for meaning, _ in word.meanings:
            page.item("-", meaning)
    if shown.aliases:
        page.head("Also called")
        page.line(", ".join(shown.aliases[:SHOWN_ALIASES]))


# --- causes


def _cause(page: Page, shown: pages.CausePage) -> None:
    _title(page, shown.cause, KIND[shown.kind])
    page.line(f"Step: {shown.step.label}. There {often(shown.prior)}, in {_batches(shown.prior)}.")
    if shown.doubt:
        page.line(shown.doubt)
    if shown.caution:
        page.labelled("Take care", shown.caution, 0)
    page.head("How it works")
    page.line(shown.mechanism)
    page.head("The habit that prevents it")
    page.line(shown.next_time)
    page.head("What it makes")
    page.line("In how many of 100 batches that have it, when nothing else is at work:")
    for item in shown.makes:
        page.item(f"{round(100 * item.strength):>4} ", item.finding.label)
    if shown.modifiers:
        page.head("What makes it likelier, or less likely")
        for change in shown.modifiers[:SHOWN_CIRCUMSTANCES]:
            page.item("-", f"{change.what.label}: {odds_text(change.odds)}")
        rest = len(shown.modifiers) - SHOWN_CIRCUMSTANCES
        if rest > 0:
            page.item("-", f"and {rest} more (--format json has all)")
    page.head("To be sure")
    if shown.confirm:
        page.labelled("It is so if", shown.confirm, 0)
    page.labelled("It is not so if", shown.rule_out, 0)
    _alike(page, shown)
    _now(page, shown)
    _sources(page, shown.sources, shown.basis)


def _batches(chance: float) -> str:
    return f"{of_batches(chance)} batches"


def _alike(page: Page, shown: pages.CausePage) -> None:
    if not shown.alike:
        return
    page.head("Makes much the same")
    for other in shown.alike:
        page.item("-", other.cause.label)
        if other.apart is None:
            page.line("Nothing that is known tells them apart.", 4)
            continue
        here, there = (round(100 * chance) for chance in other.apart.chances)
        page.line(
            f"Told apart best by: {_apart_text(other.apart)};"
            f" here {here} of 100, there {there} of 100.",
            4,
        )


def _now(page: Page, shown: pages.CausePage) -> None:
    page.head("What to do with a batch that has it")
    for part in shown.now:
        page.line(Text(f"{STAGES[part.stage]}:", style="bold"))
        for step in part.steps:
            page.item("-", step)
        if part.withheld:
            page.item("-", "Further steps are left out while the hazard above stands.")
    if shown.avoid:
        page.line(Text("What not to do:", style="bold"))
    for dont, why in shown.avoid:
        page.item("-", f"{dont} {why}")


# --- the rest


def _circumstance(page: Page, shown: pages.CircumstancePage) -> None:
    _title(page, shown.circumstance, "circumstance")
    if not shown.changes:
        page.line("It changes how likely no known cause is.")
    for change in shown.changes:
        page.item("-", f"{change.what.label}: {odds_text(change.odds)}")


def _hazard(page: Page, shown: pages.HazardPage) -> None:
    page.line("So it is shown for a batch of which nothing more is known.")
    _sources(page, shown.sources, shown.basis)


def _source(page: Page, shown: pages.SourcePage) -> None:
    _title(page, shown.source, shown.line.key)
    read = how_much_read(shown.line.basis, shown.line.extent)
    page.labelled("How much of it was read", read, 0)
    page.head("Rests on it")
    for thing in shown.used_by:
        page.item("-", f"{thing.label} ({thing.kind})")


def _sources(page: Page, lines: Sequence[pages.SourceLine], basis: str) -> None:
    page.head("Where this is from")
    page.line(f"{basis[0].upper()}{basis[1:]}." if basis and basis[-1] != "." else basis)
    for line in lines:
        if line.citation:
            page.item("-", f"{line.key}: {line.citation} ({line.basis})")
        else:
            page.item("-", line.key)
