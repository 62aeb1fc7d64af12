"""Items -> a batch: the text of a new batch file, or lines for the log of one that is there.

The diagnosis of an interview is the diagnosis of this text. So the file that is saved gives the
same answer, and no second way from answers to evidence exists.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from trubshoot.batch import Batch
from trubshoot.batch.append import LogLine
from trubshoot.batch.head import HeadValue
from trubshoot.interview.numbers import BOTTLED, days_of
from trubshoot.interview.state import Item
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.units import UnitSystem

_NOON = time(12)
_HOUR_MATTERS_DAYS = 3.0  # a time told as shorter than this keeps its hour


@dataclass(frozen=True)
class Times:
    """When the yeast went in and when it was bottled, as far as told."""

    pitched: datetime | None
    bottled: datetime | None
    pitched_hour: bool = False
    bottled_guessed: bool = False  # nobody knew; the day of asking stands in its place

    @property
    def odd(self) -> bool:
        """Tell whether the beer would have been bottled before the yeast went in."""
        return bool(self.pitched and self.bottled and self.pitched > self.bottled)


def times_told(details: Mapping[str, str], now: datetime) -> Times:
    """Return when what happened, from the times told."""

    def before(moment: datetime, key: str) -> datetime | None:
        return moment - timedelta(days=days_of(details[key])) if key in details else None

    def on(key: str) -> datetime | None:
        if key not in details:
            return None
        return min(datetime.combine(date.fromisoformat(details[key]), _NOON), now)

    bottled = on("bottled_on") or before(now, "bottled_days")
    guessed = details.get("stage") == BOTTLED and bottled is None
    bottled = now if guessed else bottled
    pitched = on("pitched_on") or before(now, "pitched_days")
    if pitched is None and bottled is not None:
        pitched = before(bottled, "fermenter_days")
    short = "pitched_days" in details and days_of(details["pitched_days"]) < _HOUR_MATTERS_DAYS
    return Times(pitched, bottled, short and "pitched_on" not in details, guessed)


def new_text(
    knowledge: KnowledgeBase,
    items: Iterable[Item],
    name: str,
    units: UnitSystem,
    now: datetime,
    marker: str = "",
) -> str:
    """Return the text of a batch file that says what the items say."""
    kept = list(items)
    details = {item.id: item.value for item in kept if item.kind == "detail"}
    lines = ["# Written from an interview.", *([f"# {marker}"] if marker else [])]
    lines += [_pair("batch", name), f"units: {units}"]
    groups: dict[str, list[str]] = {}
    for key, value in details.items():
        group, _, inner = knowledge.interview[key].place.partition(".")
        if inner:
            groups.setdefault(group, []).append(_pair(inner, value))
    lines += [f"{group}: {{{', '.join(pairs)}}}" for group, pairs in groups.items()]
    log = [*_told(details, now), *_noticed(kept, "at", f"{now:%Y-%m-%d %H:%M}")]
    lines.append("log:" if log else "log: []")
    lines += [f"  - {line.flow}" for line in log]
    return "\n".join(lines) + "\n"


def new_lines(items: Iterable[Item], batch: Batch, now: datetime) -> list[LogLine]:
    """Return the lines that say what the items say in the log of a batch that is there."""
    kept = list(items)
    key, value = "at", f"{now:%Y-%m-%d %H:%M}"
    if batch.log and all(entry.at is None for entry in batch.log):
        day = batch.timeline(now).now_days or 0.0
        key, value = "day", f"{day:g}"
    lines = []
    for item in kept:
        verb = _NOW.get(item.id) if item.kind == "detail" else None
        if verb is not None:
            lines.append(LogLine(((key, value), (verb, item.value))))
    return [*lines, *_noticed(kept, key, value)]


# details that a line of now can say
_NOW = {"gravity_now": "gravity", "beer_temp": "beer", "room_temp": "room"}


def beyond_the_log(knowledge: KnowledgeBase, items: Iterable[Item]) -> tuple[Item, ...]:
    """Return the details that belong into a file's past: they are not written there."""
    return tuple(
        item
        for item in items
        if item.kind == "detail" and item.id not in _NOW and not knowledge.interview[item.id].place
    )


def head_values(knowledge: KnowledgeBase, items: Iterable[Item]) -> list[HeadValue]:
    """Return the details that belong into the head of a file, with their places there."""
    found = []
    for item in items:
        if item.kind == "detail":
            group, _, key = knowledge.interview[item.id].place.partition(".")
            found += [HeadValue(group, key, item.value)] if key else []
    return found


def _told(details: Mapping[str, str], now: datetime) -> Iterator[LogLine]:
    times = times_told(details, now)
    end = times.bottled or now
    here = ("at", f"{now:%Y-%m-%d %H:%M}")
    pitched = _at(times.pitched, hour=times.pitched_hour) if times.pitched else None
    if "og" in details:
        words = f"gravity before pitching {details['og']}, day not known"
        yield LogLine((pitched, ("gravity", details["og"]))) if pitched else _note(here, words)
    if pitched:
        beer = (("beer", details["pitch_temp"]),) if "pitch_temp" in details else ()
        yield LogLine((pitched, ("did", "pitched"), *beer))
    if "beer_temp" in details:
        when = here
        if times.pitched:
            middle = times.pitched + min((end - times.pitched) / 2, timedelta(days=2))
            when = _at(middle, hour=times.pitched_hour)
        yield LogLine((when, ("beer", details["beer_temp"])))
    filled = _at(times.bottled, hour=False) if times.bottled else here
    if "gravity_now" in details:
        yield LogLine((filled, ("gravity", details["gravity_now"])))
    if details.get("stage") == BOTTLED or times.bottled:
        beside = [
            (key, details[name])
            for key, name in (("sugar", "sugar"), ("volume", "bottled_volume"))
            if name in details
        ]
        yield LogLine((filled, ("did", "bottled"), *beside))
        if times.bottled_guessed:
            yield _note(filled, "the day of bottling is not known; the day of asking stands for it")
    if "room_temp" in details:
        yield LogLine((here, ("room", details["room_temp"])))


def _noticed(items: Iterable[Item], key: str, value: str) -> Iterator[LogLine]:
    for item in items:
        if item.kind == "lost":
            yield LogLine(((key, value), ("note", item.value)))
        elif item.kind != "detail":
            # what is not there is nobody's complaint anyway
            asked = (("asked", "yes"),) if item.asked and item.state == "present" else ()
            yield LogLine(((key, value), (item.sense, item.value), *asked))


def _note(when: tuple[str, str], words: str) -> LogLine:
    return LogLine((when, ("note", words)))


def _at(moment: datetime, *, hour: bool) -> tuple[str, str]:
    return "at", f"{moment:%Y-%m-%d %H:%M}" if hour else f"{moment:%Y-%m-%d}"


def _pair(key: str, value: str) -> str:
    return LogLine(((key, value),)).flow[1:-1]
