"""Practice on a terminal: the case, what may be asked, what it taught, and the progress made."""

from __future__ import annotations

from collections.abc import Sequence

from rich.text import Text

from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.learning.drill import DrillPrompt, Offer
from trubshoot.learning.drill_debrief import Chance, Debrief
from trubshoot.learning.drill_draw import DrillCase
from trubshoot.learning.drill_progress import Progress
from trubshoot.report.drill_words import (
    INVENTED,
    OWN_BATCH,
    WHERE,
    look_line,
    message_text,
    score_lines,
)
from trubshoot.report.terminal import Page, print_hazards
from trubshoot.report.wording import BY, minutes_text, percent
from trubshoot.safety import HazardBlock
from trubshoot.sentences import in_units
from trubshoot.units import UnitSystem

WAYS = (
    'Ask for a test by its number or in your own words; "name" and a cause when you know what it'
    ' is, "name" alone for the list; "list" shows the tests again, "quit" keeps it for later.'
)


def print_case(
    page: Page, knowledge: KnowledgeBase, case: DrillCase, place: str, units: UnitSystem
) -> None:
    """Write what is told of an invented case."""
    told = in_units([knowledge.findings[name].label for name in case.told], units)
    done = in_units([knowledge.contexts[name].label for name in case.circumstances], units)
    page.line(Text(f"{place}, level {case.level} of 5", style="bold"))
    page.line(INVENTED)
    page.line()
    page.line(WHERE[case.stage])
    page.labelled("What made this", f"{told[0]}?", 0)
    if told[1:]:
        page.line(Text("Also noticed:", style="bold"))
    for label in told[1:]:
        page.item("-", label)
    if done:
        page.line(Text("What was done:", style="bold"))
    for label in done:
        page.item("-", label)


def print_blocks(page: Page, blocks: Sequence[HazardBlock]) -> None:
    """Write hazard blocks of the invented batch."""
    if blocks:
        print_hazards(page, blocks)
        page.line(OWN_BATCH)
        page.line()


def print_prompt(page: Page, prompt: DrillPrompt, *, whole: bool) -> None:
    """Write what is asked now; the list of tests only when it is wanted whole."""
    told = message_text(prompt.message)
    if told:
        page.line(told)
    if prompt.phase == "first":
        page.line()
        page.line(f"{prompt.ask} {prompt.how}")
        for number, offer in enumerate(prompt.offers, 1):
            page.item(f"{number:>2}.", offer.label)
    elif prompt.phase == "ask" and whole:
        page.line()
        page.line(f"Tests, and how long each takes. {WAYS}")
        for number, offer in enumerate(prompt.offers, 1):
            page.item(f"{number:>2}.", _test(offer))
        if not prompt.offers:
            page.item("-", "None that is listed may be made here; name the cause.")
    elif prompt.phase == "name":
        page.line()
        page.line('What made it? By number or name; "back" to ask more, "give up" to be told.')
        for number, offer in enumerate(prompt.offers, 1):
            page.item(f"{number:>2}.", offer.label)
    elif prompt.phase == "sure":
        page.line("How sure are you, 0 to 100? (nothing: you do not say)")


def _test(offer: Offer) -> str:
    done = " - asked" if offer.done else ""
    return f"{offer.label} ({BY[offer.by]}, {minutes_text(offer.minutes)}){done}"


def mark(prompt: DrillPrompt) -> str:
    """Return what stands before the cursor: the time spent, once something was asked."""
    return f"[{minutes_text(prompt.minutes)}] > " if prompt.minutes else "> "


def print_debrief(page: Page, told: Debrief) -> None:
    """Write what a case taught."""
    page.head("What it was")
    if told.stopped:
        page.line(Text(f"The case ends here, because of this: {told.stopped}.", style="bold"))
        page.line("The hazard that stands forbids that. What can happen:")
        for block in told.hazards:
            page.item("-", f"{block.hazard} {block.consequence}")
    causes = "; and ".join(one.label for one in told.true_causes)
    page.line(f"{told.told[0].label}: made by {causes}.")
    if told.named is not None:
        right = "right" if told.score.correct else "not the cause here"
        page.line(f"You named: {told.named.label}: {right}.")
    _score(page, told)
    _looks(page, told)
    _better(page, told)
    page.head("Next time")
    page.line(told.next_time)
    page.line(f"More: trubshoot learn {told.true_causes[0].id}")


def _score(page: Page, told: Debrief) -> None:
    score = told.score
    page.line(Text(f"{score.points} of 100 points.", style="bold"))
    for line in score_lines(score):
        page.item("-", line)
    if score.sure is not None:
        page.item(
            "-",
            f"You were {percent(score.sure)} sure; by what you knew it was"
            f" {percent(told.named_chance)}.",
        )


def _looks(page: Page, told: Debrief) -> None:
    page.head("What each question told")
    page.line(
        "One bit halves what is open; below 0, more came open than before. The chances say that the"
        " cause made it; * marks a true one."
    )
    page.item("0.", "At the start")
    _chances(page, told.at_start)
    for number, look in enumerate(told.looks, 1):
        page.item(f"{number}.", look_line(look))
        _chances(page, look.leading)
    if not told.looks:
        page.line("You asked nothing.", 5)


def _chances(page: Page, chances: Sequence[Chance]) -> None:
    for one in chances:
        star = "*" if one.true else " "
        page.item(f"{percent(one.chance):>9} {star}", one.cause.label, 3)


def _better(page: Page, told: Debrief) -> None:
    best = told.best_first
    page.head("What would have told more")
    if best is None:
        page.line("Nothing that could be asked told anything.")
    else:
        asked = "You asked it." if best.asked else "You did not ask it."
        answer = "yes" if best.present else "no"
        page.line(
            f"Best first question for its trouble: {best.finding.label}"
            f" ({minutes_text(best.minutes)}, {best.expected_bits:.2f} bits expected; the answer:"
            f" {answer}). {asked}"
        )
    if told.course:
        page.line(f"An ideal asker, who would then be {percent(told.course_chance)} sure:")
        for finding, present in told.course:
            page.item("-", f"{finding.label}: {'yes' if present else 'no'}")
    if told.mixed is not None:
        _mixed(page, told)


def _mixed(page: Page, told: Debrief) -> None:
    mixed = told.mixed
    if mixed is None:
        return
    page.head("What you mixed up")
    page.line(f"{mixed.named.label} - and it was: {mixed.true.label}.")
    if mixed.finding is None:
        page.line("Nothing that could be found out here tells the two apart.")
        return
    known = f" You knew: {mixed.known}." if mixed.known else " You did not ask it."
    page.line(
        f"Told apart best by: {mixed.finding.label}. It shows in"
        f" {percent(mixed.under_named)} with the one, in {percent(mixed.under_true)} with the"
        f" other.{known}"
    )


def print_progress(page: Page, knowledge: KnowledgeBase, shown: Progress) -> None:
    """Write what all cases together show."""
    page.line(Text("Your practice", style="bold"))
    if not shown.cases:
        page.line("No case yet. Begin: trubshoot drill")
        return
    page.item("-", f"Hazards handled rightly: {shown.hazards_right} of {shown.hazard_cases}.")
    page.item("-", f"Causes found: {shown.correct} of {shown.cases}.")
    page.item("-", f"Mean {shown.mean_points:.0f} points of 100. Next case: level {shown.level}.")
    took, ideal = minutes_text(shown.minutes), minutes_text(shown.sensible_minutes)
    page.item("-", f"Time for tests: {took}; an ideal asker {ideal}.")
    for level, cases, found in shown.by_level:
        page.item("-", f"Level {level}: {found} of {cases} found.")
    if shown.bands and shown.brier is not None:
        page.head("How sure you were, and how often right")
        for band in shown.bands:
            sure = percent(band.mean_sure)
            page.item("-", f"About {sure} sure: right in {band.right} of {band.cases}.")
        page.line(f"Brier score {shown.brier:.2f}: 0 is best, 0.25 is no better than a coin.")
    if shown.mixed:
        page.head("What you mix up most")
        for named, true, times in shown.mixed:
            labels = [
                knowledge.causes[key].label if key in knowledge.causes else key
                for key in (named, true)
            ]
            page.item("-", f"{labels[0]} - and it was: {labels[1]} ({times})")
