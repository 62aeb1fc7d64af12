"""Words of a practice: what is told of a case, of an answer and of a score, for every face."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from trubshoot.learning.drill_debrief import FIRST_POINTS, Look, Score
from trubshoot.report.wording import minutes_text

INVENTED = "This batch is invented: it was drawn from the model, and nobody brewed it."
OWN_BATCH = "(Of the invented batch. For one of your own: trubshoot diagnose.)"
WHERE = {"fermenting": "The beer is in the fermenter.", "bottled": "The beer is in bottles."}
_MESSAGES: Mapping[str, str] = {
    "empty": "Say something, or quit.",
    "no_action": "Choose one by its number, or say what you would do.",
    "no_number": "There are only {0} to choose from.",
    "several": "That may mean several things: {0}. Say which.",
    "a_cause": 'That is a cause: {0}. To give it as your answer: "name {0}".',
    "an_action": "Say what you look for, such as a smell, a taste or a reading.",
    "unknown": "Nothing known is called that.{0}",
    "known": "You know that already: {0}.",
    "not_now": "That cannot be found out at this stage of the batch: {0}.",
    "barred": "Not while the hazard stands: {0}. It was not counted.",
    "enough": "You have asked enough; name the cause.",
    "so": "Yes: {0}.",
    "not_so": "No. It is not so: {0}.",
    "no_percent": "Say a number from 0 to 100, or nothing.",
}


def message_text(message: Sequence[str]) -> str:
    """Return the words of a message of the machine."""
    if not message:
        return ""
    kind, *about = message
    text = "; ".join(about)
    if kind == "unknown":
        text = f" Nearest: {text}." if about else ""
    return _MESSAGES[kind].format(text)


def score_lines(score: Score) -> list[str]:
    """Return what the points of a case are made of."""
    lines = []
    if score.stopped:
        return ["Nothing counts once somebody may get hurt."]
    if score.first_right is not None:
        did = "right" if score.first_right else f'not right; right was "{score.right_first}"'
        lines.append(f"What you did first was {did} ({FIRST_POINTS} of the points).")
    if not score.correct and score.sound:
        lines.append("Not the cause, yet the likeliest by what you knew: half the points for it.")
    took = minutes_text(score.minutes)
    lines.append(f"You took {took}; an ideal asker {minutes_text(score.sensible_minutes)}.")
    return lines


def look_line(look: Look) -> str:
    """Return one question, its answer and what it told."""
    answer = "yes" if look.present else "no"
    times = 2.0 ** abs(look.doublings)
    way = "likelier" if look.doublings >= 0 else "less likely"
    moved = f"true cause {times:.1f} times {way}" if times >= 1.05 else "true cause as likely"
    return (
        f"{look.finding.label}: {answer} ({minutes_text(look.minutes)}). Told {look.bits:.2f}"
        f" bits, {look.expected_bits:.2f} expected; {moved}."
    )
