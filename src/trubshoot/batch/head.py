"""Put a value into the head of a batch file, and leave every other byte alone.

As for the log, nothing is written anew from data: places in the text are tried, likeliest first,
and only a text is returned that holds exactly the old data and the new value. What the head says
already is never changed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from trubshoot.batch.append import BOM, LogLine
from trubshoot.errors import BatchError, Problem
from trubshoot.yaml_lines import Document, read_yaml

_TRIES = 40
_BREAK = re.compile(r"\r\n|[\n\r]")


@dataclass(frozen=True)
class HeadValue:
    """A value of the head: its group (wort, storage ...), its key there, and what it says."""

    group: str
    key: str
    value: str

    @property
    def pair(self) -> str:
        """Return `key: value` as YAML."""
        return LogLine(((self.key, self.value),)).flow[1:-1]

    @property
    def data(self) -> Any:
        """Return what the reader must find."""
        return LogLine(((self.key, self.value),)).data[self.key]


def missing_in_head(text: str, values: Sequence[HeadValue], path: str) -> tuple[HeadValue, ...]:
    """Return the values that the head of a file does not say yet, whatever they are there."""
    data = read_yaml(text, path).data
    if not isinstance(data, dict):
        return ()
    groups = {value.group: data.get(value.group) or {} for value in values}
    return tuple(
        value
        for value in values
        if isinstance(groups[value.group], dict) and groups[value.group].get(value.key) is None
    )


def with_head(text: str, values: Sequence[HeadValue], path: str) -> str:
    """Return the text of a batch file with values added to its head.

    Raises: BatchError: the text is not YAML, or no place for a value can be found.
    """
    mark, text = (BOM, text[1:]) if text.startswith(BOM) else ("", text)
    for value in missing_in_head(text, values, path):
        text = _with_one(text, value, path)
    return mark + text


def _with_one(text: str, value: HeadValue, path: str) -> str:
    document = read_yaml(text, path)
    if document.problems:
        raise BatchError(document.problems)
    data = document.data
    wanted = {**data, value.group: {**(data.get(value.group) or {}), value.key: value.data}}
    for _, candidate in zip(range(_TRIES), _candidates(text, document, value), strict=False):
        after = read_yaml(candidate, path)
        if not after.problems and _shape(after.data) == _shape(wanted):
            return candidate
    message = f"no place for {value.group}.{value.key} was found in the head of this file."
    mend = f"Write `{value.group}: {{{value.pair}}}` with an editor."
    raise BatchError([Problem(path, document.line((value.group,)), message, mend)])


def _shape(data: object) -> str:
    """Return data as text in which the order of keys does not matter; 1, 1.0 and true differ."""
    if isinstance(data, dict):
        return "{" + ",".join(f"{key!r}:{_shape(data[key])}" for key in sorted(data, key=str)) + "}"
    if isinstance(data, list):
        return "[" + ",".join(_shape(item) for item in data) + "]"
    return repr(data)


def _candidates(text: str, document: Document, value: HeadValue) -> Iterator[str]:
    """Give texts in which the value may stand right, the likeliest first."""
    parts = text.splitlines(keepends=True)
    found = _BREAK.search(text)
    newline = found[0] if found else "\n"
    roots = sorted(line - 1 for keys, line in document.lines.items() if len(keys) == 1)
    indent = _indent(parts[roots[0]]) if roots else ""
    if value.group not in document.data:
        log = document.lines.get(("log",), len(parts) + 1) - 1
        new = f"{indent}{value.group}: {{{value.pair}}}"
        places = [log, *(root for root in roots if root > 0), len(parts)]
        yield from (_insert(parts, place, new, newline) for place in places)
        return
    start = document.line((value.group,)) - 1
    end = min((root for root in roots if root > start), default=len(parts))
    region = "".join(parts[start:end])
    head, tail = "".join(parts[:start]), "".join(parts[end:])
    for bracket in reversed([match.start() for match in re.finditer(r"\}", region)]):
        before = region[:bracket].rstrip()
        comma = "" if before.endswith("{") else " " if before.endswith(",") else ", "
        room = region[len(before) : bracket]
        yield f"{head}{before}{comma}{value.pair}{room}{region[bracket:]}{tail}"
    for line in range(end - 1, start, -1):
        if parts[line].strip() and not parts[line].lstrip().startswith("#"):
            new = _indent(parts[line]) + value.pair
            yield _insert(parts, line + 1, new, newline)
            yield _insert(parts, line, new, newline)
    own = parts[start].rstrip("\r\n")
    ending = parts[start][len(own) :]
    bare = re.fullmatch(r"(\s*[\"']?\w+[\"']?\s*:)(?:\s*(?:~|null|\{\s*\}))?(\s+#.*|\s*)", own)
    if bare is not None:
        yield f"{head}{bare[1]} {{{value.pair}}}{bare[2]}{ending}" + "".join(parts[start + 1 :])


def _insert(parts: list[str], place: int, new: str, newline: str) -> str:
    """Return the text with a line before a place; a last line without an ending gets one."""
    before, after = "".join(parts[:place]), "".join(parts[place:])
    if before and not before.endswith(("\n", "\r")):
        return f"{before}{newline}{new}{after}"
    return f"{before}{new}{newline}{after}"


def _indent(part: str) -> str:
    return part[: len(part) - len(part.lstrip(" "))]
