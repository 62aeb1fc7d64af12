"""One to three things worth doing next, and when: from hazards, the bottling verdict and checks.

What to do is always a sentence of the knowledge: a step of a hazard block, the mend of a hold, a
step of the leading cause, or how a check is made. Here they are only chosen, dated and put in
order. While a hazard of bottles stands, nothing is chosen that asks for a hand near one: only the
steps of the block that need none, and questions that memory answers.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from trubshoot.batch import Batch
from trubshoot.diagnosis.result import Diagnosis, NextCheck
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.safety import HazardBlock, Level, Reason, suppress_tasting
from trubshoot.safety.hazards import HANDS_OFF_TAGS
from trubshoot.sentences import clause, joined

MOST = 3
LEADS_FROM = 0.33  # "about as likely as not": below, a cause's own steps are too early (judgement)
_LATE_HOUR = 21  # nobody takes a sample after this; the next morning is meant
_DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
_MONTHS = (
    *("January", "February", "March", "April", "May", "June", "July", "August"),
    *("September", "October", "November", "December"),
)


@dataclass(frozen=True)
class NextStep:
    """One thing to do: what, why, how long it takes, and the day before which it is too early.

    id: what it comes from, the same on every asking. due: None means now.
    """

    id: str
    do: str
    why: str
    minutes: float = 0.0
    due: datetime | None = None


def due(now: datetime, wait_days: float) -> datetime:
    """Return the moment after a wait of some days, moved from the night to the next morning."""
    moment = now + timedelta(days=wait_days)
    later_hour = moment.time() > now.time()
    if moment.hour >= _LATE_HOUR and later_hour:
        moment = (moment + timedelta(days=1)).replace(hour=8, minute=0, second=0, microsecond=0)
    return moment


def day_text(moment: datetime) -> str:
    """Return a day such as Thursday 26 November, whatever the machine's language."""
    return f"{_DAYS[moment.weekday()]} {moment.day} {_MONTHS[moment.month - 1]}"


def plan_next(
    knowledge: KnowledgeBase, batch: Batch, diagnosis: Diagnosis, count: int = MOST
) -> tuple[NextStep, ...]:
    """Return the next steps, those for now first, then by date; at most `count`."""
    worst = next((block for block in diagnosis.hazards if _rules(block, diagnosis)), None)
    chosen: list[NextStep] = []
    if worst is not None:
        chosen = [*_hands_off(worst)][:1]
        if worst.level == Level.DANGER or worst.topic == "injury":
            return tuple(chosen)
    for step in _candidates(knowledge, batch, diagnosis):
        if len(chosen) == count:
            break
        if step.do not in [other.do for other in chosen]:
            chosen.append(step)
    return tuple(sorted(chosen, key=lambda step: step.due or diagnosis.asked_at))


def _rules(block: HazardBlock, diagnosis: Diagnosis) -> bool:
    """Tell whether a block goes before every other plan."""
    return block.level >= Level.WARNING or _hands_away(block, diagnosis)


def _hands_away(block: HazardBlock, diagnosis: Diagnosis) -> bool:
    """Tell whether a block leaves nothing to do but its own steps, and to think back.

    Filled bottles are left alone from CAUTION on. Before bottling a warning about bottles is one
    about the plan, and the beer may still be measured.
    """
    if block.topic == "bottles":
        return block.level >= Level.CAUTION and diagnosis.evidence.stage == "bottled"
    return block.level >= Level.WARNING


def _hands_off(block: HazardBlock) -> Iterator[NextStep]:
    """Give the steps of a block that need no hand near the hazard, in its order."""
    for step in block.avoid:
        if block.topic != "bottles" or step.tag in HANDS_OFF_TAGS:
            yield NextStep(
                f"hazard.{block.id}", step.do, f"{block.level.name}: {block.hazard}".rstrip(".")
            )


def _candidates(knowledge: KnowledgeBase, batch: Batch, diagnosis: Diagnosis) -> Iterator[NextStep]:
    """Give what could be done, the most urgent first."""
    if any(_hands_away(block, diagnosis) for block in diagnosis.hazards):
        for item in diagnosis.next_checks:
            finding = knowledge.findings[item.finding]
            if finding.check.by == "ask" and "tasting" not in finding.stages:
                yield _check(item, diagnosis)
        return
    checks = [_check(check, diagnosis) for check in diagnosis.next_checks]
    troubled = any(state.up for state in diagnosis.findings)
    reasons = list(diagnosis.bottling.reasons) if diagnosis.bottling is not None else []
    yield from (_hold(reason, diagnosis) for reason in reasons if reason.kind == "stop")
    if troubled:
        yield from checks[:1]
        yield from _of_leading_cause(diagnosis)
    dated = list(_to_wait_for(reasons, diagnosis))
    planned = [
        *dated[:1],
        *_to_measure(reasons, diagnosis),
        *dated[1:],
        *_ready(knowledge, diagnosis),
        *_first_bottle(knowledge, batch, diagnosis),
        *_to_write(reasons, diagnosis),
    ]
    yield from planned
    # where nothing is amiss a check is worth the trouble only for want of anything else
    yield from checks if troubled else checks[: not planned]


def _check(check: NextCheck, diagnosis: Diagnosis) -> NextStep:
    why = (
        f"no other check tells as much for its trouble; asked is whether this is so: {check.label}"
    )
    waiting = check.by == "wait" and check.minutes > 0
    when = due(diagnosis.asked_at, check.minutes / 1440) if waiting else None
    minutes = 0.0 if waiting else check.minutes
    return NextStep(f"check.{check.finding}", check.how, why, minutes, when)


def _of_leading_cause(diagnosis: Diagnosis) -> Iterator[NextStep]:
    """Give the first step of the leading cause, when one leads."""
    cause = next(iter(diagnosis.named_causes), None)
    if cause is None or cause.responsibility < LEADS_FROM or not cause.advice.steps:
        return
    if suppress_tasting(diagnosis.hazards):  # a step of the cause may be to taste
        return
    first = cause.advice.steps[0]
    if any(clash.step == first for clash in cause.advice.conflicts):
        return  # it would harm a cause that may be the true one; a check comes first
    yield NextStep(f"cause.{cause.id}", first, f"the likeliest cause so far is: {cause.label}")


def _hold(reason: Reason, diagnosis: Diagnosis) -> NextStep:
    because = reason.because[0] if reason.because else reason.label
    when = due(diagnosis.asked_at, reason.wait_days) if reason.wait_days > 0 else None
    return NextStep(f"hold.{reason.id}", reason.mend, _lower(because), reason.minutes, when)


def _lower(sentence: str) -> str:
    """Return a sentence as it stands after "because"."""
    small = sentence[1:2].islower() or sentence[:2] == "A "
    return clause(sentence, small=small)


def _to_measure(reasons: list[Reason], diagnosis: Diagnosis) -> Iterator[NextStep]:
    """Give what can be measured at once, the quickest first."""
    for reason in sorted(reasons, key=lambda item: item.minutes):
        if reason.kind == "measure" and reason.wait_days <= 0:
            yield _hold(reason, diagnosis)


def _to_wait_for(reasons: list[Reason], diagnosis: Diagnosis) -> Iterator[NextStep]:
    """Give the next dated step, and the last one when it is another day."""
    waiting = sorted(
        (item for item in reasons if item.wait_days > 0),
        key=lambda item: (item.wait_days, item.kind != "measure", item.id),
    )
    if not waiting:
        return
    steps = [_hold(waiting[0], diagnosis), _hold(waiting[-1], diagnosis)]
    yield steps[0]
    if steps[1].due != steps[0].due:
        yield steps[1]


def _ready(knowledge: KnowledgeBase, diagnosis: Diagnosis) -> Iterator[NextStep]:
    """Give the first line of the list for bottling day when bottling may go ahead."""
    verdict = diagnosis.bottling
    if verdict is None or not verdict.go:
        return
    item = next(iter(knowledge.checklists["bottling"].items))
    last = diagnosis.evidence.facts.get("last_gravity_points")
    gravity = f"{1 + last / 1000:.3f}" if isinstance(last, float) else "the last one"
    do = item.do.replace("{gravity_at_bottling}", gravity)
    why = joined(
        f"{verdict.word} (`trubshoot bottling` shows them): ",
        clause(verdict.granted_because[0], small=False),
    )
    yield NextStep("bottling.go", do, why, 10.0)


def _to_write(reasons: list[Reason], diagnosis: Diagnosis) -> Iterator[NextStep]:
    """Give what only has to be written down, the quickest first; then what has to change."""
    for kind in ("write", "change"):
        for reason in sorted(reasons, key=lambda item: item.minutes):
            if reason.kind == kind and reason.wait_days <= 0:
                yield _hold(reason, diagnosis)


def _first_bottle(
    knowledge: KnowledgeBase, batch: Batch, diagnosis: Diagnosis
) -> Iterator[NextStep]:
    """Give the first bottle with its date, while nothing but the usual notice stands on bottles."""
    age = diagnosis.evidence.facts.get("conditioning_days")
    blocks = [block for block in diagnosis.hazards if block.topic == "bottles"]
    if not blocks or not isinstance(age, float) or batch.deeds("opened bottle"):
        return
    if diagnosis.level > Level.NOTICE:
        return
    young = max(_young(knowledge, diagnosis), default=None)
    why = young[1] if young else blocks[0].hazard
    when = due(diagnosis.asked_at, young[0] - age) if young else None
    do = next((step.do for step in blocks[0].avoid if step.tag == "handle"), None)
    if do is not None:
        yield NextStep("first_bottle", do, _lower(why), 15.0, when)


def _young(knowledge: KnowledgeBase, diagnosis: Diagnosis) -> Iterator[tuple[float, str]]:
    """Give the ages in the bottle below which rules call this batch young [days], and why."""
    for trace in diagnosis.traces:
        rule = knowledge.rules[trace.rule]
        for condition in rule.when.all if rule.then.kind == "context" else ():
            if condition.fact == "conditioning_days" and condition.lt is not None:
                yield float(condition.lt), trace.because
