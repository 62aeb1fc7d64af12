"""Read a batch file: every problem found in one pass, with its line and what to write instead."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, NoReturn

from trubshoot.batch import kinds
from trubshoot.batch.amounts import parse_bottles, split_amount
from trubshoot.batch.checks import check_batch, check_order_known
from trubshoot.batch.fields import GROUPS, HEAD_KEYS, LISTS, Fields
from trubshoot.batch.log_reader import read_entry, read_plan
from trubshoot.batch.missing import no_file
from trubshoot.batch.model import (
    Batch,
    Bottles,
    Fermentable,
    Hop,
    Instruments,
    Room,
    Sanitizing,
    Storage,
    Vessel,
    Wort,
    Written,
    Yeast,
)
from trubshoot.batch.moments import read_day, read_moment, refuse_future
from trubshoot.errors import BatchError, Problem
from trubshoot.units import UnitSystem, UnreadableQuantity, is_about, shown
from trubshoot.yaml_lines import Document, Keys, read_yaml

MAX_BYTES = 1024 * 1024
MAX_LOG_LINES = 20_000
MAX_PROBLEMS = 200

_MODELS: dict[str, type[Written]] = {
    "wort": Wort,
    "yeast": Yeast,
    "vessel": Vessel,
    "instruments": Instruments,
    "bottles": Bottles,
    "storage": Storage,
    "sanitizing": Sanitizing,
    "room": Room,
}


def read_batch(
    source: Path | str | bytes, now: datetime | None = None, name: str = "<text>"
) -> Batch:
    """Read a batch from a file (a Path), or from its text or bytes.

    Args:
        source: the file, or what stands in it.
        now: the clock; dates after it are refused. None leaves that check out.
        name: how messages call a source that is not a file.

    Raises: BatchError: carries every problem found.
    """
    if isinstance(source, Path):
        name = str(source)
    text = text_of(source, name)
    return read_document(read_yaml(text, name), name, now)


def read_document(document: Document, name: str, now: datetime | None = None) -> Batch:
    """Read a batch from plain data: from a file, or changed in memory.

    Args:
        document: the data, with the line of every value.
        name: how messages call it.
        now: the clock; dates after it are refused. None leaves that check out.

    Raises: BatchError: carries every problem found.
    """
    if document.problems:
        raise BatchError(_at_most(document.problems))
    reader = Reading(document, name, now)
    batch = _read_head(reader)
    if batch is None or reader.problems:
        raise BatchError(_at_most(reader.problems))
    unordered = check_order_known(batch)
    if unordered:
        raise BatchError(unordered)
    return batch.model_copy(update={"warnings": (*reader.warnings, *check_batch(batch, now))})


def _at_most(problems: list[Problem]) -> list[Problem]:
    return sorted(problems)[:MAX_PROBLEMS]


def text_of(source: Path | str | bytes, name: str) -> str:
    """Return what stands in a file, without the mark that some editors put before it.

    Raises: BatchError: it cannot be read, is too large, empty, or no UTF-8 text.
    """
    if isinstance(source, Path):
        path = source
        try:
            with path.open("rb") as handle:
                source = handle.read(MAX_BYTES + 1)
        except OSError as error:
            _refuse(name, 0, *no_file(path, error))
    raw = source if isinstance(source, bytes) else source.encode("utf-8", "surrogatepass")
    if len(raw) > MAX_BYTES:
        mend = "Batch files are short texts; this one holds something else."
        _refuse(name, 0, "the file is larger than 1 MiB.", mend)
    if b"\x00" in raw:
        _refuse(name, 0, "this is no text file.", "Save the batch as plain UTF-8 text.")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        _refuse(name, line, "a character is not UTF-8.", "Save the file as UTF-8 text.")
    if not text.strip():
        _refuse(name, 0, "the file is empty.", "Write at least `batch: name of the batch`.")
    return text


def _refuse(name: str, line: int, message: str, mend: str) -> NoReturn:
    raise BatchError([Problem(name, line, message, mend)])


@dataclass
class Reading:
    """One pass over a document: what was found so far, and where."""

    document: Document
    path: str
    now: datetime | None = None
    units: UnitSystem = "metric"
    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)
    rough: set[str] = field(default_factory=set)

    def problem(self, keys: Keys, message: str, mend: str = "") -> None:
        """Note a problem at the line of a value."""
        self.problems.append(Problem(self.path, self.document.line(keys), message, mend))

    def warn(self, keys: Keys, message: str, mend: str = "") -> None:
        """Note a warning at the line of a value."""
        self.warnings.append(Problem(self.path, self.document.line(keys), message, mend))

    def value(self, kind: kinds.Kind, value: object, keys: Keys) -> dict[str, Any]:
        """Return the attributes that a value gives; problems are noted, unknown gives nothing."""
        if kinds.is_unknown(value):
            return {}
        try:
            found = kind.read(value, self.units)
        except UnreadableQuantity as error:
            self.problem(keys, f"{keys[-1]}: {error.message}", error.mend)
            return {}
        if is_about(value):
            self.rough.add(place_of(keys))
        return found

    def group(self, fields: Fields, raw: dict[str, Any], keys: Keys) -> dict[str, Any]:
        """Return the attributes of a group of keys."""
        self.unknown_keys(raw, tuple(fields), keys)
        found: dict[str, Any] = {}
        for key, kind in fields.items():
            if key in raw:
                found.update(self.value(kind, raw[key], (*keys, key)))
        return found

    def unknown_keys(self, raw: dict[str, Any], known: tuple[str, ...], keys: Keys) -> None:
        """Note every key that is not known here, with the nearest that is."""
        for key, value in raw.items():
            if key in known:
                continue
            if len(self.problems) >= MAX_PROBLEMS:
                return
            mend = kinds.nearest(key, known)
            if value is None and keys:
                hint = mend if mend.startswith("Did you") else ""
                mend = f"If it belongs to the words before the comma, put those in quotes. {hint}"
                mend = mend.strip()
            self.problem((*keys, key), f"the key {shown(key)} is not known here.", mend)


def place_of(keys: Keys) -> str:
    """Return the keys as a place such as `log[3].sample`."""
    place = ""
    for key in keys:
        place += f"[{key}]" if isinstance(key, int) else f".{key}" if place else key
    return place


def _read_head(reader: Reading) -> Batch | None:
    data = reader.document.data
    if not isinstance(data, dict):
        mend = "Write `key: value` lines, beginning with `batch: name of the batch`."
        reader.problem((), "this is not a batch file.", mend)
        return None
    reader.unknown_keys(data, HEAD_KEYS, ())
    found: dict[str, Any] = {"path": reader.path}
    if kinds.is_unknown(data.get("batch")):
        reader.problem(("batch",), "the batch has no name.", "Write `batch: name of the batch`.")
    else:
        found.update(reader.value(kinds.text("name"), data["batch"], ("batch",)))
    units = kinds.choice("units", ("metric", "us"), {"si": "metric", "imperial": "us"})
    found.update(reader.value(units, data.get("units"), ("units",)))
    reader.units = found.get("units", "metric")
    found.update(reader.value(kinds.text("style"), data.get("style"), ("style",)))
    found.update(_today(reader, data.get("today")))
    for key, model in _MODELS.items():
        found[key] = _read_group(reader, key, model, data.get(key))
    found["fermentables"] = tuple(_items(reader, "fermentables", Fermentable, data))
    found["hops"] = tuple(_items(reader, "hops", Hop, data))
    words = kinds.texts("circumstances")
    found.update(reader.value(words, data.get("circumstances"), ("circumstances",)))
    found["plan"] = read_plan(reader, data.get("plan"))
    found["log"] = tuple(_read_log(reader, data.get("log")))
    if reader.problems or "name" not in found:
        return None
    lines = {place_of(keys): line for keys, line in reader.document.lines.items() if keys}
    return Batch(**found, lines=lines, rough=frozenset(reader.rough))


def _today(reader: Reading, value: object) -> dict[str, Any]:
    if kinds.is_unknown(value):
        return {}
    try:
        if isinstance(value, (int, float)) or "-" not in str(value):
            return {"today_day": read_day(value)}
        moment, _ = read_moment(value)
        refuse_future(moment, False, reader.now)
        return {"today": moment.date()}
    except UnreadableQuantity as error:
        reader.problem(("today",), f"today: {error.message}", error.mend)
        return {}


def _read_group(reader: Reading, key: str, model: type[Written], value: object) -> Written:
    if kinds.is_unknown(value):
        return model()
    group = GROUPS[key]
    if isinstance(value, dict):
        found = reader.group(group.fields, value, (key,))
    elif group.short is not None and not isinstance(value, list):
        found = reader.value(group.short, value, (key,))
    else:
        example = next(iter(group.fields))
        reader.problem(
            (key,), f"{key} must be a group of keys.", f"Write it like `{key}: {{{example}: ...}}`."
        )
        found = {}
    if key == "bottles":
        found = fill_bottles(reader, found, (key,))
    return model(**found)


def fill_bottles(reader: Reading, found: dict[str, Any], keys: Keys) -> dict[str, Any]:
    """Fill in size, count and reuse from the words, where they are not given by keys."""
    if "kind" not in found:
        return found
    try:
        said = parse_bottles(found["kind"]).model_dump(exclude_none=True)
    except UnreadableQuantity as error:
        reader.problem(keys, f"{keys[-1]}: {error.message}", error.mend)
        return found
    return {**said, **found}


def _items(reader: Reading, key: str, model: type[Written], data: dict[str, Any]) -> list[Written]:
    value = data.get(key)
    if kinds.is_unknown(value):
        return []
    items = value if isinstance(value, list) else [value]
    found: list[Written] = []
    for index, item in enumerate(items):
        keys: Keys = (key, index) if isinstance(value, list) else (key,)
        if isinstance(item, dict):
            found.append(model(**reader.group(LISTS[key], item, keys)))
        elif not kinds.is_unknown(item):
            found.append(model(**reader.value(_SHORT_ITEM, item, keys)))
    return found


def _short_item(value: object, units: UnitSystem) -> dict[str, Any]:
    amount, words = split_amount(kinds.words(value))
    return {"what": words or None, "amount": amount}


_SHORT_ITEM = kinds.Kind(_short_item, {"type": "string"})


def _read_log(reader: Reading, value: object) -> list[Any]:
    if kinds.is_unknown(value):
        return []
    if not isinstance(value, list):
        mend = "Begin every log line with `- `, as in `- {day: 3, gravity: 1.020}`."
        reader.problem(("log",), "the log must be a list of lines.", mend)
        return []
    if len(value) > MAX_LOG_LINES:
        reader.problem(
            ("log",), f"the log has more than {MAX_LOG_LINES} lines.", "Thin out the readings."
        )
        return []
    entries = []
    for index, item in enumerate(value):
        entry = read_entry(reader, item, index)
        if entry is not None:
            entries.append(entry)
        if len(reader.problems) >= MAX_PROBLEMS:
            break
    return entries
