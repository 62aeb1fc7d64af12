"""From words typed in the kitchen to a log line: `gravity 1.014`, `did "dry hopped" amount=50g`.

Only the form is made here. Whether a value can be read is for the reader of the batch file, which
sees the line in its place before anything is written.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime

from trubshoot.batch.append import LogLine
from trubshoot.batch.fields import LOG
from trubshoot.batch.kinds import nearest
from trubshoot.batch.model import Batch, Bottling, Deed
from trubshoot.batch.moments import read_day
from trubshoot.batch.typed_time import typed_moment
from trubshoot.batch.verbs import DETAILS, find_verb, meant_verb
from trubshoot.errors import UnitError
from trubshoot.units import parse_gravity, parse_quantity, shown

_DETAIL = re.compile(r"([A-Za-z_]+)=(.*)", re.DOTALL)
_SAME = {
    **{"smelt": "smelled", "acidity": "ph", "remark": "note", "no_sign": "no_sign_of"},
    **{"looked": "saw", "seen": "saw", "outcome": "turned_out", "og": "gravity", "sg": "gravity"},
    **{"fg": "gravity"},
    **{"temperature": "beer", "temp": "beer"},  # one rule: of the beer, unless a room is named
}
_TALK = ("saw", "smelled", "tasted", "no_sign_of", "note", "turned_out")
_LISTS = ("saw", "smelled", "tasted", "no_sign_of")

TEMPERATURE = ("temperature", "temp")

Items = list[tuple[str, str | tuple[str, ...]]]


def when_typed(at: str | None, day: str | None, batch: Batch, now: datetime) -> tuple[str, str]:
    """Return the key and the value that say when: `at` or `day`.

    Args:
        at: a date, a date with an hour, "18:30" for today, "yesterday" with or without hour.
        day: days since pitching.
        batch: the log the line goes to.
        now: the clock, taken when nothing is said and the log goes by dates.

    Raises: UnitError: cannot be read, both are given, or a log by day numbers needs a number.
    """
    if at is not None and day is not None:
        raise UnitError("--at and --day both say when. Give one of them.")
    if day is not None:
        return "day", f"{read_day(day):g}"
    if at is not None:
        return "at", _at(at, now)
    if batch.log and all(entry.at is None for entry in batch.log):
        raise UnitError(
            "this log counts days since pitching, so today's date would not fit in. "
            "Say the day, such as `--day 12`."
        )
    return "at", f"{now:%Y-%m-%d %H:%M}"


def _at(text: str, now: datetime) -> str:
    moment, known = typed_moment(text, now)
    return f"{moment:%Y-%m-%d %H:%M}" if known else f"{moment:%Y-%m-%d}"


def refuse_late_og(words: Sequence[str], at: str | None, day: str | None, batch: Batch) -> None:
    """Refuse an original gravity "now" in a log that says that the yeast has gone in.

    It would be taken for a reading of today: a beer that has not begun to ferment.

    Raises: UnitError: it says how to tell when it was read.
    """
    first = words[0].split()[0].lower() if words and words[0].strip() else ""
    pitched = any(
        isinstance(entry, Bottling) or (isinstance(entry, Deed) and entry.verb == "pitched")
        for entry in batch.log
    )
    if first == "og" and at is None and day is None and pitched:
        raise UnitError(
            "an original gravity is read before the yeast goes in, and this log says that it "
            'has. Say when it was read, such as --at "2026-03-07 15:00"; for a reading of '
            "today write `gravity 1.048`."
        )


def of_room(words: Sequence[str]) -> list[str]:
    """Return the words of a temperature as those of the temperature of the room.

    Raises: UnitError: they say no temperature.
    """
    head, *rest = " ".join(words).split() or [""]
    if _plain(head) == "room" and rest:
        return [head, *rest]
    if _plain(head) not in TEMPERATURE:
        raise UnitError("--room goes with a temperature only, such as `temperature 66F --room`.")
    return ["room", *(rest[1:] if rest and _plain(rest[0]) == "room" else rest)]


def typed_line(words: Sequence[str], options: Mapping[str, str], when: tuple[str, str]) -> LogLine:
    """Return the log line for typed words.

    Args:
        words: the verb and what follows it; `key=value` words are details.
        options: details given as options.
        when: key and value of the time.

    Raises: UnitError: no verb, an unknown verb, or nothing after it.
    """
    for word in words:
        if word.startswith("--"):
            raise UnitError(f"there is no option {shown(word)}. `trubshoot log --help` lists them.")
        try:
            word.encode("utf-8")
        except UnicodeEncodeError:
            raise UnitError(f"{shown(word)} holds characters that cannot be stored.") from None
    if not words or not words[0].strip():
        raise UnitError(f"nothing to log. Say one of: {', '.join(LOG)}.")
    verb, rest = _verb(words)
    said, details = _details(verb, rest)
    details += [(key, value) for key, value in options.items() if value]
    doubled = {key for key, _ in details if [name for name, _ in details].count(key) > 1}
    if doubled - {"sugar"}:
        raise UnitError(f"{sorted(doubled)[0]} is said twice. Say it once.")
    if not said:
        raise UnitError(f"nothing stands after {verb}. Say for example: {_example(verb)}.")
    items: Items = [when, (verb, said[0] if len(said) == 1 else tuple(said))]
    for key in dict.fromkeys(key for key, _ in details):
        values = [" ".join(value.split()) for name, value in details if name == key]
        items.append((key, values[0] if len(values) == 1 else tuple(values)))
    return LogLine(tuple(items))


def _verb(words: Sequence[str]) -> tuple[str, list[str]]:
    """Return the key that begins the log line, and the words after it."""
    first, rest = words[0].strip().lower().replace("-", "_"), list(words[1:])
    if " " in first:  # `log FILE "gravity 1.014"`
        head, more = words[0].strip().split(None, 1)
        if _plain(head) in (*LOG, *_SAME):
            return _verb([head, more, *rest])
    if first == "no" and [word.lower() for word in rest[:2]] == ["sign", "of"]:
        return "no_sign_of", rest[2:]
    if first in TEMPERATURE and rest and _plain(rest[0]) in ("beer", "room"):
        return _plain(rest[0]), rest[1:]
    first = _SAME.get(first, first)
    if first in LOG:
        return first, rest
    deed = [word for word in words if _DETAIL.fullmatch(word) is None]
    if find_verb(" ".join(deed)) is not None:
        return "did", list(words)
    raise UnitError(_no_verb(words, deed, first))


def _no_verb(words: Sequence[str], deed: Sequence[str], first: str) -> str:
    """Return what to say of words that begin no log line, and what to type instead."""
    text = " ".join(" ".join(words).split())
    if first in ("undo", "delete", "remove"):
        return "to take the last line of the log back, write `--undo` without other words."
    for count in (len(deed), 2, 1):  # "bottled with 5 oz", "dryhop 2oz": a deed and its details
        meant = meant_verb(" ".join(deed[:count]))
        if meant is not None:
            given = f"`{meant}` with details" if DETAILS[meant] else f"`{meant}` alone"
            known = ", ".join(f"{name}=..." for name in DETAILS[meant])
            written = _DEED_EXAMPLES.get(meant, f"did {shown(meant)}")
            listed = f" Details: {known}." if known else ""
            return f"{shown(text)} is not read for sure. Write {given}: {written}.{listed}"
    for verb, read in _MEASURED:
        try:
            read(text)
        except UnitError:
            continue
        return f"{shown(text)} does not say of what. Did you mean `{verb} {text}`?"
    return (
        f"{shown(words[0])} does not begin a log line. {nearest(first, LOG)} "
        'Anything you noticed: saw "...", smelled "..." or tasted "...". '
        'Anything you did: did "...". Anything else: note "...".'
    )


def _with_unit(text: str) -> None:
    if not re.search(r"[0-9]\s*(?:°\s*)?[cf]\b", text.lower()):
        raise UnitError("a bare number")
    parse_quantity(text, "temperature", "c")


_MEASURED: tuple[tuple[str, Callable[[str], object]], ...] = (
    ("beer", _with_unit),
    ("gravity", parse_gravity),
)
_DEED_EXAMPLES = {
    "bottled": 'bottled sugar="110 g table sugar" volume=18l',
    "dry hopped": 'did "dry hopped" amount="50 g"',
    "pitched": "pitched beer=20C",
    "added": 'did added what=honey amount="200 g"',
}


def _plain(word: str) -> str:
    return word.lower().replace("-", "_")


def _details(verb: str, rest: Sequence[str]) -> tuple[list[str], list[tuple[str, str]]]:
    """Split what follows the verb into what is said and its details."""
    if verb in _TALK:
        texts = [" ".join(word.split()) for word in rest if word.strip()]
        several = len(texts) > 1 and any(" " in text for text in texts) and verb in _LISTS
        return (texts if several else [" ".join(texts)] if texts else []), []
    said: list[str] = []
    details: list[tuple[str, str]] = []
    for word in rest:
        found = _DETAIL.fullmatch(word)
        if found is None:
            said += word.split()
        else:
            details.append((found[1].lower(), found[2]))
    return ([" ".join(said)] if said else []), details


def _example(verb: str) -> str:
    return {
        "gravity": "gravity 1.014 --sample 20C",
        "beer": "beer 20C",
        "room": "room 68F",
        "ph": "ph 4.3",
        "did": 'did "dry hopped" amount="50 g"',
    }.get(verb, f'{verb} "a brown ring of foam"')
