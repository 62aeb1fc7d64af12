"""Put a line at the end of a log, or take the last one away, and leave every other byte alone.

Nothing is written anew from data: a place in the text is chosen by the lines that the YAML reader
names, and the result is read again. Only a text that holds exactly the old data and the new line
is returned; when no place leads to that, the file is refused rather than guessed at.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NoReturn

from trubshoot.errors import BatchError, Problem
from trubshoot.yaml_lines import Document, read_yaml, scalar

BOM = "\ufeff"
# the line breaks of YAML 1.1, which the reader counts
_PART = re.compile(
    r"[^\r\n\x85\u2028\u2029]*(?:\r\n|[\n\r\x85\u2028\u2029])|[^\r\n\x85\u2028\u2029]+"
)
_ENDING = re.compile(r"(?:\r\n|[\n\r\x85\u2028\u2029])\Z")
_DASH = re.compile(r"([ ]*)-([ ]+|$)")
_EMPTY_LOG = re.compile(
    r"([ ]*[\"']?log[\"']?[ ]*:)(?:[ ]*(?:~|null|Null|NULL|\[[ ]*\]))?([ ]+#.*|[ ]*)"
)
_PLAIN = re.compile(r"(?:-(?=[0-9])|[^\s\-?:,\[\]{}#&*!|>'\"%@`])[^,\[\]{}]*")
_TRIES = 60  # places tried before a file is refused
_MEND = "Write the log as lines `- {...}` under `log:`, as in the examples, then try again."
# what stands after these keys is words, even when it looks like a number
_WORDS = frozenset(("saw", "smelled", "tasted", "no_sign_of", "did", "note", "turned_out", "words"))


@dataclass(frozen=True)
class LogLine:
    """A log line to be written: its keys in order, each with its words or a list of words."""

    items: tuple[tuple[str, str | tuple[str, ...]], ...]

    @property
    def data(self) -> dict[str, Any]:
        """Return what the reader must find in the line."""
        return {
            key: [_value(key, item) for item in value]
            if isinstance(value, tuple)
            else _value(key, value)
            for key, value in self.items
        }

    @property
    def flow(self) -> str:
        """Return the line as `{at: ..., gravity: ...}`."""
        return "{" + ", ".join(self._pairs()) + "}"

    def _pairs(self) -> Iterator[str]:
        for key, value in self.items:
            if isinstance(value, tuple):
                yield f"{key}: [{', '.join(_written(key, item) for item in value)}]"
            else:
                yield f"{key}: {_written(key, value)}"

    def lines(self, indent: str, gap: str, *, block: bool) -> list[str]:
        """Return the line as an item of a list: one line, or one for each key."""
        if not block:
            return [f"{indent}-{gap}{self.flow}"]
        first, *others = self._pairs()
        return [f"{indent}-{gap}{first}", *(f"{indent} {gap}{pair}" for pair in others)]


def _is_plain(key: str, text: str) -> bool:
    if key in _WORDS and not isinstance(scalar(text), str):
        return False
    fits = _PLAIN.fullmatch(text) is not None and text.isprintable()
    return fits and ": " not in text and " #" not in text and text[-1] not in ": "


def _value(key: str, text: str) -> object:
    return scalar(text) if _is_plain(key, text) else text


def _written(key: str, text: str) -> str:
    """Return the text as YAML, in quotes only where it would be read as something else."""
    if _is_plain(key, text):
        return text
    return '"' + "".join(_escaped(char) for char in text) + '"'


def _escaped(char: str) -> str:
    if char in '"\\':
        return f"\\{char}"
    if char.isprintable():
        return char
    code = ord(char)
    return (
        f"\\x{code:02x}" if code < 256 else f"\\u{code:04x}" if code < 65536 else f"\\U{code:08x}"
    )


def with_lines(text: str, lines: Sequence[LogLine], path: str) -> str:
    """Return the text of a batch file with lines added at the end of its log.

    Raises: BatchError: the text is not YAML, or no place for the lines can be found.
    """
    mark, text = _without_bom(text)
    document = _read(text, path)
    data = document.data
    log = data.get("log")
    if log is not None and not isinstance(log, list):
        _refuse(path, document.line(("log",)), "the log is not a list of lines.")
    wanted = {**data, "log": [*(log or []), *(line.data for line in lines)]}
    sheet = _Sheet(text, document)
    if "log" not in data:
        candidates = sheet.new_log(lines)
    elif not log:
        candidates = sheet.first_lines(lines)
    elif sheet.dash(sheet.start_of(len(log) - 1)) is not None:
        candidates = sheet.after_last(lines, len(log) - 1)
    else:
        candidates = sheet.before_bracket(lines)
    return mark + _first_good(candidates, wanted, path, document.line(("log",)))


def without_last(text: str, path: str) -> tuple[str, str]:
    """Return the text without the last line of its log, and what was taken away.

    Raises: BatchError: the log is empty, or its last line cannot be told apart.
    """
    mark, text = _without_bom(text)
    document = _read(text, path)
    data = document.data
    log = data.get("log")
    if not isinstance(log, list) or not log:
        _refuse(path, document.line(("log",)), "the log has no line that could be taken back.", "")
    sheet = _Sheet(text, document)
    lists: tuple[Any, ...] = (log[:-1],) if len(log) > 1 else (None, [])
    removals = (
        sheet.without_item(len(log) - 1)
        if sheet.dash(sheet.start_of(len(log) - 1)) is not None
        else sheet.without_flow_item()
    )
    wanted = [repr({**data, "log": rest}) for rest in lists]
    for _, (rest, removed) in zip(range(_TRIES), removals, strict=False):
        after = read_yaml(rest, path)
        if not after.problems and repr(after.data) in wanted:
            return mark + rest, removed.strip()
    _refuse(
        path,
        document.line(("log", len(log) - 1)),
        "the last line of the log cannot be told apart from what stands around it.",
        "Take it out with an editor.",
    )


def _without_bom(text: str) -> tuple[str, str]:
    return (BOM, text[1:]) if text.startswith(BOM) else ("", text)


def _read(text: str, path: str) -> Document:
    document = read_yaml(text, path)
    if document.problems:
        raise BatchError(document.problems)
    if not isinstance(document.data, dict):
        _refuse(path, 1, "this is not a batch file.", "Begin it with `batch: name of the batch`.")
    return document


def _refuse(path: str, line: int, message: str, mend: str = _MEND) -> NoReturn:
    raise BatchError([Problem(path, line, message, mend)])


def _first_good(candidates: Iterator[str], wanted: dict[str, Any], path: str, line: int) -> str:
    """Return the first text that holds the data wanted, and nothing else."""
    shape = repr(wanted)  # tells 1 from true and 1.0, which == does not
    for _, candidate in zip(range(_TRIES), candidates, strict=False):
        after = read_yaml(candidate, path)
        if not after.problems and repr(after.data) == shape:
            return candidate
    _refuse(path, line, "no place for a new line was found in this file.")


class _Sheet:
    """The text in lines, and where the log stands in it."""

    def __init__(self, text: str, document: Document) -> None:
        self.parts = _PART.findall(text)
        self.document = document
        if "\r\n" in text:
            self.newline = "\r\n"
        else:
            self.newline = "\r" if "\r" in text and "\n" not in text else "\n"
        roots = [line for keys, line in document.lines.items() if len(keys) == 1]
        self.key = document.lines.get(("log",), 1) - 1
        later = [line - 1 for line in roots if line - 1 > self.key]
        later += [i for i, part in enumerate(self.parts) if i > self.key and _bare(part) == "..."]
        self.end = min(later, default=len(self.parts))  # first line after the log
        first_root = min(roots, default=1) - 1
        self.root_indent = _indent(self.parts[first_root]) if self.parts else ""

    def start_of(self, index: int) -> int:
        """Return the line with the dash of a log line (or where a line between brackets begins)."""
        line = self.document.line(("log", index)) - 1
        while line > self.key and self.dash(line) is None and _is_bare(self.parts[line - 1]):
            line -= 1
        return line

    def dash(self, line: int) -> re.Match[str] | None:
        """Return the match of a dash that begins a line."""
        if line >= len(self.parts) or line <= self.key:
            return None
        return _DASH.match(_bare(self.parts[line]))

    def insert(self, line: int, new: Sequence[str]) -> str:
        """Return the text with lines after a line; the end of the file keeps its form."""
        parts = self.parts
        found = _ENDING.search(parts[line])
        if found is None:
            added = self.newline.join(new)
            return "".join((*parts[: line + 1], self.newline, added, *parts[line + 1 :]))
        newline = found[0]
        return "".join((*parts[: line + 1], *(one + newline for one in new), *parts[line + 1 :]))

    def ends(self, start: int, end: int) -> Iterator[int]:
        """Return the lines at which an item may end, the likeliest first."""
        filled = [line for line in range(start, end) if not _is_empty(self.parts[line])]
        yield from filled[::-1][:4]
        yield from (line for line in range(start, end) if _is_empty(self.parts[line]))

    def after_last(self, lines: Sequence[LogLine], last: int) -> Iterator[str]:
        """Return texts with the lines below the last item, in its form."""
        start = self.start_of(last)
        found = self.dash(start)
        indent, gap = (found[1], found[2] or " ") if found else ("  ", " ")
        inner = _bare(self.parts[start])[len(indent) + 1 + len(gap) :]
        block = not inner.startswith("{")
        new = [one for line in lines for one in line.lines(indent, gap, block=block)]
        for end in self.ends(start, self.end):
            yield self.insert(end, new)

    def first_lines(self, lines: Sequence[LogLine]) -> Iterator[str]:
        """Return texts with the first lines of a log that is empty."""
        found = _EMPTY_LOG.fullmatch(_bare(self.parts[self.key]))
        if found is not None:
            ending = _ENDING.search(self.parts[self.key])
            # only what stands for "empty" goes; the comment behind it stays
            own = found[1] + found[2] + (ending[0] if ending else "")
            indent = _indent(self.parts[self.key]) + "  "
            new = [one for line in lines for one in line.lines(indent, " ", block=False)]
            last = self.key
            while last + 1 < self.end and _is_remark(self.parts[last + 1], indent):
                last += 1
            kept, self.parts[self.key] = self.parts[self.key], own
            for place in dict.fromkeys((last, self.key)):
                yield self.insert(place, new)
            self.parts[self.key] = kept
        yield from self.before_bracket(lines)

    def new_log(self, lines: Sequence[LogLine]) -> Iterator[str]:
        """Return texts with a log put below everything else."""
        indent = self.root_indent
        new = [f"{indent}log:"]
        new += [one for line in lines for one in line.lines(indent + "  ", " ", block=False)]
        yield self.insert(len(self.parts) - 1, new)
        for end in self.ends(0, len(self.parts)):
            yield self.insert(end, new)

    def before_bracket(self, lines: Sequence[LogLine]) -> Iterator[str]:
        """Return texts with the lines before the bracket that closes a list in brackets."""
        item = ", ".join(line.flow for line in lines)
        for before, after in self._brackets():
            head = before.rstrip()
            if after.startswith("]") and _last_line_is_blank(before):
                width = _indent(_PART.findall(head)[-1]) if head else ""
                room = before[len(head) :]
                ending = self.newline
                comma = "" if head.endswith((",", "[")) else ","
                width = width + "  " if head.endswith("[") else width
                yield f"{head}{comma}{ending}{width}{item}{room}{after}"
                yield f"{before}{'' if head.endswith(',') else ', '}{item}{ending}{after}"
            comma = "" if head.endswith("[") else " " if head.endswith(",") else ", "
            yield f"{head}{comma}{item}{before[len(head) :]}{after}"

    def without_item(self, last: int) -> Iterator[tuple[str, str]]:
        """Return texts without the last item, with what was taken away."""
        start = self.start_of(last)
        for end in self.ends(start, self.end):
            kept = [*self.parts[:start], *self.parts[end + 1 :]]
            if end + 1 == len(self.parts) and start and not _ENDING.search(self.parts[end]):
                kept[-1] = _bare(kept[-1])
            yield "".join(kept), "".join(self.parts[start : end + 1])

    def without_flow_item(self) -> Iterator[tuple[str, str]]:
        """Return texts without the last item of a list in brackets."""
        for before, after in self._brackets():
            for comma in (m.start() for m in reversed(list(re.finditer(r"[,\[]", before)))):
                keep = comma + (before[comma] == "[")
                if "#" not in before[keep:]:
                    yield before[:keep] + after, before[comma + 1 :]

    def _brackets(self) -> Iterator[tuple[str, str]]:
        head = "".join(self.parts[: self.key])
        region = "".join(self.parts[self.key : self.end])
        tail = "".join(self.parts[self.end :])
        for found in reversed(list(re.finditer(r"\]", region))):
            place = found.start()
            yield head + region[:place], region[place:] + tail


def _bare(part: str) -> str:
    return _ENDING.sub("", part)


def _indent(part: str) -> str:
    return part[: len(part) - len(part.lstrip(" "))]


def _is_empty(part: str) -> bool:
    """Tell whether a line holds nothing but space or a remark."""
    return part.strip() == "" or part.lstrip().startswith("#")


def _is_bare(part: str) -> bool:
    return _is_empty(part) or re.fullmatch(r"\s*-\s*(?:#.*)?", _bare(part)) is not None


def _is_remark(part: str, indent: str) -> bool:
    return part.lstrip().startswith("#") and part.startswith(indent)


def _last_line_is_blank(text: str) -> bool:
    return _ENDING.search(text.rstrip(" ")) is not None
