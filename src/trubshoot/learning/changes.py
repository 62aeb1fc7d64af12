"""Changes to a batch in words, made in memory: "pitched at 20 C", "waited until day 14".

A change is an ordinary edit of the log or the head. Each one says what it did, and one that alters
nothing says so.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from trubshoot.batch import Batch
from trubshoot.batch.fields import LOG
from trubshoot.batch.kinds import is_unknown
from trubshoot.batch.verbs import DETAILS, VERBS, plain_words, words_for
from trubshoot.errors import BatchError, UnitError
from trubshoot.learning import change_words as words
from trubshoot.learning.draft import Draft, Line, moved_date
from trubshoot.learning.edits import Doing, line_text, listed, said, set_key
from trubshoot.learning.moving import move_bottling
from trubshoot.units import shown
from trubshoot.yaml_lines import scalar

# what changes the course of the fermentation, so that readings taken later say nothing any more
_COURSE_VERBS = frozenset(
    ("steeped", "mashed", "added extract", "topped up", "aerated", "rehydrated", "pitched")
) | frozenset(("repitched", "roused", "warmed", "cooled", "cold crashed", "added", "beer", "room"))
# deeds that can be left undone; taking anything else out of a log only takes knowledge away
_UNDONE = frozenset(VERBS) - {"bottled", "stored", "opened bottle", "chilled bottle", "disposed"}
# a deed without a time that is not in the log yet is put at pitching, or refused
_AT_PITCHING = frozenset(
    ("steeped", "mashed", "boiled", "added extract", "chilled", "topped up", "aerated")
) | frozenset(("rehydrated", "pitched", "cleaned", "sanitized", "burned with"))
_NOT = re.compile(
    r"(?:not|without|no|never|did not|didn['\u2019]?t)\s*(?::\s*|\s+)(.+)",
    re.IGNORECASE | re.DOTALL,
)
_COMPARED = re.compile(
    r"\b(?:cooler|colder|warmer|hotter|higher|lower|less|more|fewer|later|earlier|sooner|longer"
    r"|shorter|faster|slower|bigger|smaller|stronger|weaker)\b"
)
_WAITED = re.compile(r"(?:waited|wait)\b(.*)", re.IGNORECASE | re.DOTALL)
_LONGER = re.compile(
    r"\s*(?P<number>[0-9]+(?:\.[0-9]+)?)\s*(?P<unit>days?|weeks?)\s*(?:longer|more)\s*", re.I
)
_EVERY_DAYS = (0.5, 2.0, 4.0, 6.0)  # where a temperature of the whole fermentation is put


@dataclass(frozen=True)
class Change:
    """One change as made: what was said, what it did, and what follows for the numbers."""

    text: str
    did: tuple[str, ...]  # sentences, with the line of the file
    alters: bool
    course: bool  # changes the fermentation: later readings belong to the old way
    moved_days: float  # how far the bottling was moved
    removed: bool  # takes knowledge away


def apply_changes(
    draft: Draft, texts: Sequence[str], is_circumstance: Callable[[str], bool]
) -> tuple[Batch, tuple[Change, ...]]:
    """Make changes one after the other on a draft, and return the batch and what was done.

    Args:
        draft: the batch file in memory; it is changed.
        texts: the changes as typed.
        is_circumstance: tells whether words name a circumstance of the knowledge.

    Raises: UnitError: words that name no change, or values that cannot be read.
    """
    made: list[Change] = []
    batch = draft.read()
    for text in texts:
        doing = Doing(draft, batch.units, [])
        try:
            _make(doing, " ".join(text.split()), is_circumstance)
            after = draft.read()
        except BatchError as error:
            first = error.problems[0]
            raise UnitError(f'--change "{text}": {first.message} {first.mend}'.strip()) from error
        except UnitError as error:
            raise UnitError(f'--change "{text}": {error}') from error
        alters = plain(after) != plain(batch)
        did = tuple(doing.did) if alters else (_nothing(doing.did),)
        made.append(
            Change(text, did, alters, doing.course, doing.moved_days, doing.removed and alters)
        )
        batch = after
    return batch, tuple(made)


def plain(batch: Batch) -> dict[str, Any]:
    """Return what a batch says, without where it stands in the file."""
    told = batch.model_dump(exclude={"lines", "warnings", "path", "rough"})
    for entry in told["log"]:
        entry.pop("line")
        entry.pop("number")
        entry.pop("written", None)
    if told["plan"] is not None:
        told["plan"]["bottling"].pop("line")
    return told


def _nothing(did: list[str]) -> str:
    if did and did[0].startswith("no "):
        return f"changes nothing: {did[0]}"
    same = f" ({did[0]})" if did else ""
    return f"changes nothing: the log says so already{same}"


def _make(doing: Doing, text: str, is_circumstance: Callable[[str], bool]) -> None:
    if not text:
        raise UnitError(f"nothing is said. {words.nearest_forms('')}")
    if _only_compares(text) and not is_circumstance(text):
        raise UnitError(f"{shown(text)} does not say to what. {words.nearest_forms('')}")
    named = words.named_key(text)
    denied = _NOT.fullmatch(text)
    if denied is not None and (named is None or named[0] in ("not", "no", "without")):
        _take_out(doing, denied[1].strip(), is_circumstance)
        return
    if named is not None and words.known_path(named[0]):
        set_key(doing, *named)
        return
    text = words.counted(text)
    aged = words.yeast_age(text)
    if aged:
        set_key(doing, "yeast.age", aged)
        return
    waited = _WAITED.fullmatch(text)
    if waited is not None:
        _wait(doing, waited[1])
        return
    text = words.fermented_at(text)
    rest, when = words.take_when(text)
    first, _, value = rest.partition(" ")
    first = first.lower().rstrip(":=")
    if first in ("temperature", "temp"):
        first = "beer"
    if first in ("beer", "room") and value:
        _temperature(doing, first, value.removeprefix("at ").strip(), when)
    elif first in LOG and first != "did" and value:
        _entry(doing, first, value.strip(), when)
    elif first.replace("_", " ") in words.BOTTLING_ALONE:
        _deed(doing, "bottled", rest, when)
    elif (deed := _verb_detail(rest) or words.deed_of(rest)) is not None and not (
        is_circumstance(text) and words.is_loose(*deed, doing.units)
    ):
        _deed(doing, *deed, when)
    elif is_circumstance(text):
        doing.draft.head["circumstances"] = [*listed(doing, "circumstances"), text]
        doing.did.append(f"circumstance added: {text}")
    else:
        raise UnitError(f"{shown(text)} is no change that is known. {words.nearest_forms(text)}")


def _only_compares(text: str) -> bool:
    """Tell whether a change says more or less, and no value: it would alter nothing, in silence."""
    said = plain_words(text)
    deeds = {wording for verb in VERBS for wording in words_for(verb)}
    return said not in deeds and not re.search(r"[0-9]", said) and bool(_COMPARED.search(said))


def _verb_detail(text: str) -> tuple[str, str] | None:
    """Return the verb and "detail: value" of "pitched.beer: 20 C"."""
    found = re.fullmatch(r"([a-z_ ]+)\.([a-z_]+)\s*[:=]\s*(.*)", text, re.IGNORECASE | re.DOTALL)
    if found is None:
        return None
    deed = words.deed_of(found[1].strip())
    if deed is None or found[2].lower() not in DETAILS[deed[0]]:
        return None
    return deed[0], f"{found[2].lower()}: {found[3]}"


# --- log lines
def _entry(doing: Doing, key: str, value: str, when: words.When) -> None:
    """Set a reading or an observation; one of the same day is replaced."""
    draft = doing.draft
    if not when:
        raise UnitError(f"say when, such as `{key} {value} on day 8`.")
    day = _day(draft, when)
    same = [item for item in draft.on_day(day) if item.verb == key]
    if same:
        old = same[-1].data[key]
        same[-1].data[key] = scalar(value)
        doing.did.append(f"{key} {said(old)} -> {value}{line_text(same[-1].line)}")
        return
    draft.add({**draft.when_of_day(day), key: scalar(value)})
    doing.did.append(f"{key} {value} added on day {day:g}")


def _temperature(doing: Doing, key: str, value: str, when: words.When) -> None:
    """Set a temperature of one day, or that of the whole fermentation."""
    draft = doing.draft
    doing.course = True
    if when:
        _entry(doing, key, value, when)
        return
    old: list[str] = []
    for item, day in list(draft.brewing_lines()):
        if item.verb == key and (day is None or day >= 0):
            old.append(f"{said(item.data[key])} (line {item.line})")
            item.data[key] = scalar(value)
    if key == "room" and draft.head.get("room") is not None:
        draft.group("room")["temp"] = scalar(value)
        old.append("the room in the head")
    if old:
        doing.did.append(f"{key}: {', '.join(old)} -> {value}")
        return
    bottled = draft.bottling()
    last = bottled[1] if bottled is not None else max(_EVERY_DAYS)
    for day in (day for day in _EVERY_DAYS if day < last):
        draft.add({**draft.when_of_day(day), key: scalar(value)})
    doing.did.append(f"{key} {value} added for the whole fermentation")


def _deed(doing: Doing, verb: str, text: str, when: words.When) -> None:
    draft = doing.draft
    doing.course = doing.course or verb in _COURSE_VERBS
    details = words.details_of(verb, text, doing.units)
    doing.removed = doing.removed or any(is_unknown(value) for value in details.values())
    if verb == "bottled" and not draft.find("bottled") and not when:
        _amend(doing, "planned", draft.group("plan"), details, 0)
        return
    there = draft.find(verb)
    if verb == "bottled" and there and when:
        _move(doing, _day(draft, when))
        there = draft.find(verb)
    elif when and there:
        day = _day(draft, when)
        same = [item for item in draft.on_day(day) if item.verb == verb]
        alone = len(there) == 1 and verb in ("pitched", *(() if details else _UNDONE))
        if not same and alone:
            draft.shift(there, day - (_day_of(draft, there[0]) or 0.0))
            doing.did.append(f"{verb} moved to day {day:g}{line_text(there[0].line)}")
        there = there if same or alone else []
        there = same or there
    if there:
        chosen = there if verb not in ("pitched", "bottled") else there[-1:]
        for item in chosen:
            _amend(doing, verb, item.data, details, item.line)
        return
    _new_deed(doing, verb, details, when)


def _new_deed(doing: Doing, verb: str, details: dict[str, str], when: words.When) -> None:
    draft = doing.draft
    data: dict[str, Any] = {"did": verb, **{key: scalar(text) for key, text in details.items()}}
    if when:
        day = _day(draft, when)
        if verb == "bottled":
            plan = draft.head.get("plan")
            own = {k: v for k, v in plan.items() if k != "target"} if isinstance(plan, dict) else {}
            data = {"did": verb, **own, **data}
        draft.add({**draft.when_of_day(day), **data})
    elif verb in _AT_PITCHING:
        draft.add({**draft.when_of_pitching(), **data})
    elif verb == "stored":
        for key, text in details.items():
            draft.group("storage")[key] = scalar(text)
        doing.did.append(f"storage -> {', '.join(details.values())}")
        return
    else:
        raise UnitError(f"this is not in the log. Say when, such as `{verb} on day 8`.")
    told = ", ".join(f"{key} {text}" for key, text in details.items())
    on = f" on day {day:g}" if when else ""
    new = verb if verb == "added" else f"{verb} added"
    doing.did.append(f"{new}{on}{f': {told}' if told else ''}")


def _amend(
    doing: Doing, verb: str, data: dict[str, Any], details: dict[str, str], line: int
) -> None:
    if not details and not doing.did:
        doing.did.append(f"{verb}{line_text(line)}")
    for key, text in details.items():
        old = data.get(key)
        value = text
        if key == "sugar" and isinstance(old, str):
            value = _same_kind(old, text)
        data[key] = scalar(value)
        what = "temperature" if key in ("beer", "temp") else key
        doing.did.append(f"{verb}: {what} {said(old)} -> {value}{line_text(line)}")


def _same_kind(old: str, new: str) -> str:
    """Return a new amount of sugar with the kind that the log names, if it names none itself."""
    from trubshoot.batch.amounts import parse_sugar

    before, after = parse_sugar(old), parse_sugar(new)
    if before is None or after is None or after.kind or not before.kind or not after.amount:
        return new
    return f"{new} {before.kind}"


# --- taking out
def _take_out(doing: Doing, text: str, is_circumstance: Callable[[str], bool]) -> None:
    draft = doing.draft
    rest, when = words.take_when(text)
    if rest.lower() in ("stirred", "weighed"):
        _deed(doing, "bottled", f"{rest.lower()}: no", when)
        return
    deed = words.deed_of(rest)
    key = rest.lower().split(" ")[0]
    name = deed[0] if deed is not None else key if key in LOG else ""
    if not name and words.known_path(rest.lower()):
        set_key(doing, rest.lower(), "")
        return
    # "not sanitized": what was left undone is a circumstance of its own, not merely not logged
    undone = f"not {rest}" if is_circumstance(f"not {rest}") else ""
    if not name and not undone:
        _not_circumstance(doing, rest, is_circumstance)
        return
    chosen = draft.find(name) if name else []
    if when:
        day = _day(draft, when)
        chosen = [item for item in draft.on_day(day) if item.verb == name]
    doing.course = doing.course or name in _COURSE_VERBS
    doing.removed = doing.removed or bool(name and name not in _UNDONE)
    for item in chosen:
        draft.log.remove(item)
        doing.did.append(f"{name} taken out{line_text(item.line)}")
    if undone and not when:
        doing.draft.head["circumstances"] = [*listed(doing, "circumstances"), undone]
        doing.did.append(f"circumstance added: {undone}")
    elif not chosen:
        doing.did.append(f"no {name} is logged")


def _not_circumstance(doing: Doing, text: str, is_circumstance: Callable[[str], bool]) -> None:
    own = listed(doing, "circumstances")
    kept = [item for item in own if str(item).lower() != text.lower()]
    if len(kept) == len(own) and not is_circumstance(text):
        raise UnitError(
            f"{shown(text)} is nothing that stands in a log. {words.nearest_forms(text)}"
        )
    doing.draft.head["circumstances"] = kept
    doing.did.append(f"circumstance taken out: {text}")


# --- time
def _wait(doing: Doing, text: str) -> None:
    draft = doing.draft
    longer = _LONGER.fullmatch(text)
    _, when = words.take_when(text)
    if not when and longer is None:
        raise UnitError("say until when, such as `waited until day 14` or `waited 5 days longer`.")
    bottled = draft.bottling()
    if when:
        day = _day(draft, when)
    elif longer is not None and bottled is not None:
        times = 7.0 if longer["unit"].lower().startswith("week") else 1.0
        day = bottled[1] + float(longer["number"]) * times
    else:
        raise UnitError("no bottling is logged. Say until when, such as `waited until day 14`.")
    if bottled is None:
        plan = draft.head.get("plan")
        if not isinstance(plan, dict):
            raise UnitError(
                "no bottling is logged or planned, so that none can wait. Add one: `bottled on day"
                " 14, sugar 110 g table sugar, volume 19 l`."
            )
        _new_deed(doing, "bottled", {}, words.When(day=day))
        return
    _move(doing, day)


def _move(doing: Doing, day: float) -> None:
    moved = move_bottling(doing.draft, day)
    doing.moved_days += moved.days
    doing.did += moved.did


def _day(draft: Draft, when: words.When) -> float:
    if when.day is not None:
        return when.day
    return moved_date(when.date, draft.read().timeline().zero_at)


def _day_of(draft: Draft, line: Line) -> float | None:
    place = next(number for number, item in enumerate(draft.log) if item is line)
    return draft.days()[place]
