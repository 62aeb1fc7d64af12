"""What a new log line changed: two diagnoses of one batch compared, in sentences.

Hazards that are new or worse come apart from everything else, since they are shown first and in
full. What no longer stands is said too, but never as good news of its own: only as what the log
now says.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from trubshoot.counting import counted
from trubshoot.diagnosis.plan_next import LEADS_FROM, day_text, due
from trubshoot.diagnosis.result import Diagnosis, RankedCause
from trubshoot.evidence.model import Reading
from trubshoot.safety import HazardBlock, Level
from trubshoot.sentences import joined, listed
from trubshoot.units import UnitSystem, format_temp

_AT_THE_END = 1.0  # points; closer than this no hydrometer tells apart (judgement)
_SHOWN_REASONS = 3
_STILL_POINTS = 0.05  # points a day; a slope below is shown as none


@dataclass(frozen=True)
class Changed:
    """The difference a line made.

    hazards: blocks that are new, worse or with other steps, to be shown in full. standing: blocks
    that stood before. sentences: everything else, the most important first.
    """

    hazards: tuple[HazardBlock, ...]
    standing: tuple[HazardBlock, ...]
    sentences: tuple[str, ...]


def what_changed(before: Diagnosis, after: Diagnosis, units: UnitSystem) -> Changed:
    """Return what is different in `after`; both must have been asked at the same moment."""
    stood = {block.id: block for block in before.hazards}
    new = tuple(block for block in after.hazards if _is_new(block, stood.get(block.id)))
    return Changed(
        hazards=new,
        standing=tuple(block for block in after.hazards if block not in new),
        sentences=(
            *_gone(before, after),
            *_reasons(stood, after, new),
            *_words(before, after),
            *_gravity(before, after),
            *_other_samples(before, after),
            *_temperature(before, after, units),
            *_verdict(before, after),
            *_leading(before, after),
        ),
    )


def _is_new(block: HazardBlock, old: HazardBlock | None) -> bool:
    if old is None or block.level > old.level:
        return True
    return (block.avoid, block.gate_why, block.covers) != (old.avoid, old.gate_why, old.covers)


def _gone(before: Diagnosis, after: Diagnosis) -> Iterator[str]:
    kept = {name for block in after.hazards for name in (block.id, *block.covers)}
    for block in before.hazards:
        if block.id not in kept:
            yield f'The log no longer leads to "{block.level.name}: {block.hazard}"'


def _reasons(
    stood: Mapping[str, HazardBlock], after: Diagnosis, new: tuple[HazardBlock, ...]
) -> Iterator[str]:
    """Say that a hazard which stood before, and is not shown anew, rests on something else now."""
    for block in after.hazards:
        if block in new or block.level < Level.WARNING:
            continue
        reasons = [text for text in block.because if text not in stood[block.id].because]
        if reasons:
            yield f'New about "{block.level.name}: {block.hazard}":'
            yield from (joined("- ", text) for text in reasons)
        elif block.because != stood[block.id].because:
            yield f'"{block.level.name}: {block.hazard}" stands for fewer reasons.'


def _words(before: Diagnosis, after: Diagnosis) -> Iterator[str]:
    known = Counter((item.words, item.id, item.state) for item in before.evidence.understood)
    for item in after.evidence.understood:
        key = (item.words, item.id, item.state)
        known[key] -= 1
        if known[key] < 0:
            answer = "not there" if item.state == "absent" else "there"
            yield f'Understood "{item.words}" as: {item.label} ({answer}).'
    lost = Counter(item.words for item in before.evidence.not_understood)
    for other in after.evidence.not_understood:
        lost[other.words] -= 1
        if lost[other.words] < 0:
            nearest = "; ".join(other.nearest) or "nothing near"
            yield f'Not understood: "{other.words}". Nearest: {nearest}.'


def _key(reading: Reading) -> tuple[object, ...]:
    return reading.day, reading.raw_sg, reading.instrument, reading.points


def _new_readings(before: Diagnosis, after: Diagnosis) -> list[Reading]:
    known = Counter(_key(reading) for reading in before.evidence.readings)
    new = []
    for reading in after.evidence.readings:
        known[_key(reading)] -= 1
        if known[_key(reading)] < 0:
            new.append(reading)
    return new


def _number(diagnosis: Diagnosis, fact: str) -> float | None:
    value = diagnosis.evidence.facts.get(fact)
    return value if isinstance(value, float) else None


def _gravity(before: Diagnosis, after: Diagnosis) -> Iterator[str]:
    new = _new_readings(before, after)
    if not new:
        return
    last = new[-1]
    shown = f"{1 + last.points / 1000:.4f}"
    parts: list[str] = [f"Gravity {shown} as read"]
    if last.corrections:
        how = listed("; ", last.corrections)
        parts = [joined(f"Gravity corrected to {shown} (", how, ")")]
    if len(new) > 1:
        parts[0] = f"{len(new)} gravities, the last {shown}"
    if last is after.evidence.readings[-1]:
        parts += [*_distance(before, after), *_slope(after)]
        wait = next_look(after)
        if wait is not None and _number(after, "last_gravity_points") is not None:
            parts.append(f"look again on {day_text(due(after.asked_at, wait))}")
    else:
        parts.append("later readings stand in the log")
    yield joined(listed("; ", parts), ".")


def _distance(before: Diagnosis, after: Diagnosis) -> Iterator[str]:
    above = _number(after, "points_above_expected_end")
    if above is None:
        return
    end = after.evidence.expected_end
    spread = f" (known to {end.sigma_points:.0f} points)" if end is not None else ""
    if abs(above) < _AT_THE_END:
        yield f"at the expected end{spread}"
        return
    earlier = _number(before, "points_above_expected_end")
    still = "still " if above > 0 and earlier is not None and earlier > 0 else ""
    side = "above" if above > 0 else "below"
    number = f"{abs(above):.0f}"
    yield f"{still}{number} point{'' if number == '1' else 's'} {side} the expected end{spread}"


def _slope(after: Diagnosis) -> Iterator[str]:
    span, count = _number(after, "days_unchanged"), _number(after, "readings_unchanged")
    slope = _number(after, "slope_points_per_day")
    if span and count and count >= 2:
        yield f"{count:.0f} readings agree over {_days(span)}"
    elif slope is not None and slope > _STILL_POINTS:
        yield f"falling by {slope:.1f} points a day"


def _days(days: float) -> str:
    return counted(days * 24, "hour") if days < 2 else f"{days:.1f} days".replace(".0 ", " ")


def next_look(diagnosis: Diagnosis) -> float | None:
    """Return the days until the gravity is worth reading again; None when nothing waits for it."""
    verdict = diagnosis.bottling
    if verdict is None or verdict.go:
        return None
    waits = [reason.wait_days for reason in verdict.reasons if reason.wait_days > 0]
    return min(waits, default=None)


def _other_samples(before: Diagnosis, after: Diagnosis) -> Iterator[str]:
    gap = _number(after, "forced_test_gap_points")
    if gap is not None and gap != _number(before, "forced_test_gap_points"):
        side = "above" if gap > 0 else "below"
        yield f"The batch stands {abs(gap):.1f} points {side} the forced ferment test."
    fall = _number(after, "opened_bottle_fall_points")
    if fall is not None and fall != _number(before, "opened_bottle_fall_points"):
        side = "below" if fall > 0 else "above"
        yield f"The opened bottle stands {abs(fall):.1f} points {side} the last gravity before."


def _temperature(before: Diagnosis, after: Diagnosis, units: UnitSystem) -> Iterator[str]:
    names = ("beer_temp_mean_c", "beer_temp_min_c", "beer_temp_max_c")
    mean, low, high = (_number(after, name) for name in names)
    if mean is None or [_number(before, name) for name in names] == [mean, low, high]:
        return
    span = ""
    if low is not None and high is not None and high - low >= 1:
        span = f", from {format_temp(low, units)} to {format_temp(high, units)}"
    yield f"The beer has been at about {format_temp(mean, units)}{span}."


def _verdict(before: Diagnosis, after: Diagnosis) -> Iterator[str]:
    old, new = before.bottling, after.bottling
    if new is None:
        return
    if old is None or old.word != new.word:
        earlier = "" if old is None else f" (was {old.word})"
        yield f"May it be bottled: {new.word}{earlier}."
        yield from (joined("- ", text) for text in new.granted_because)
    if old is None:
        if new.reasons:
            yield f"Reasons to hold: {'; '.join(reason.label for reason in new.reasons)}."
        return
    known = {reason.id: reason for reason in old.reasons}
    fresh = [reason for reason in new.reasons if reason.id not in known]
    for reason in fresh[:_SHOWN_REASONS]:
        yield f"New reason to hold: {reason.label}. {reason.mend}"
    if fresh[_SHOWN_REASONS:]:
        others = "; ".join(reason.label for reason in fresh[_SHOWN_REASONS:])
        yield f"More new reasons to hold: {others}."
    held = {reason.id for reason in new.reasons}
    ended = [reason.label for name, reason in known.items() if name not in held]
    if ended:
        left = f"; {len(new.reasons)} left" if new.reasons else ""
        yield f"No longer a reason to hold: {'; '.join(ended)}{left}."


def _leading(before: Diagnosis, after: Diagnosis) -> Iterator[str]:
    old, new = leading_cause(before), leading_cause(after)
    if new is None:
        if old is not None:
            yield f"No cause stands out any more (before: {old.label})."
        return
    chance = f"{min(max(round(100 * new.responsibility), 1), 99)} %"
    if old is None:
        yield f"Likeliest cause: {new.label}, {chance}."
    elif old.id != new.id:
        yield f"Likeliest cause is now: {new.label}, {chance} (before: {old.label})."
    elif abs(old.responsibility - new.responsibility) >= 0.1:
        yield f"Still the likeliest cause: {new.label}, now {chance}."


def leading_cause(diagnosis: Diagnosis) -> RankedCause | None:
    """Return the likeliest cause; None when nothing is out of the ordinary or none stands out."""
    first = next(iter(diagnosis.named_causes), None)
    told = any(state.up for state in diagnosis.findings)
    return first if told and first is not None and first.responsibility >= LEADS_FROM else None
