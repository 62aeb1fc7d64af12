"""Reading YAML written by people: plain data, with the line of every value, and nothing clever.

Custom tags, anchors and aliases, duplicate keys, tabs used for indenting, deep nesting and more
than one document are refused with the line and the mend. Scalars keep the types of YAML's core
schema (text, number, true/false, null); dates stay text, since only the reader of a field knows
whether it is a date.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Any

import yaml

from trubshoot.errors import Problem

MAX_DEPTH = 12
# the nodes are made by recursion in C, which in some versions of the package ends the process
_FAR_TOO_DEEP = 10 * MAX_DEPTH
_WRITE_OUT = "Write the value out, or put it in quotes."
_INTEGER = re.compile(r"[-+]?[0-9]+")
_NUMBER = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?")
_BASE: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)

Keys = tuple[str | int, ...]


@dataclass
class Document:
    """Plain data read from one YAML text, and the line of each key and item."""

    data: Any = None
    lines: dict[Keys, int] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)

    def line(self, keys: Keys) -> int:
        """Return the line of a value, or of the nearest thing around it."""
        while keys:
            if keys in self.lines:
                return self.lines[keys]
            keys = keys[:-1]
        return self.lines.get((), 1)


def scalar(text: str) -> object:
    """Return the value of an unquoted scalar: null, true/false, a number, else the text."""
    if text in ("", "~", "null", "Null", "NULL"):
        return None
    if text in ("true", "True", "TRUE"):
        return True
    if text in ("false", "False", "FALSE"):
        return False
    if _INTEGER.fullmatch(text):
        return int(text) if len(text) <= 300 else text
    if _NUMBER.fullmatch(text):
        return float(text)
    return text


def read_yaml(text: str, path: str) -> Document:
    """Read one YAML document; what is wrong is in `problems`, all of it that can be found."""
    document = Document()
    for number, line in enumerate(text.splitlines(), 1):
        if line[: len(line) - len(line.lstrip())].count("\t"):
            document.problems.append(
                Problem(path, number, "a tab is used to indent.", "Use two spaces instead.")
            )
    if document.problems:
        return document
    try:
        node = _compose(text)
    except (yaml.YAMLError, ValueError, RecursionError) as error:
        document.problems.append(_yaml_problem(error, path))
        return document
    if node is not None:
        document.data = _plain(node, (), document, path, 0)
    return document


def _compose(text: str) -> Any:
    _refuse_references(text)
    loader = _BASE(text)
    try:
        return loader.get_single_node()
    finally:
        loader.dispose()


# What the readers of YAML say (both of them) -> what it mostly is, and what to write instead.
_PLAIN_WORDS = (
    (
        r"mapping values are not allowed",
        "a colon and a space stand inside a text, or the line is indented wrongly",
        "Put the whole text in quotation marks, or begin the line under its neighbours.",
    ),
    (
        r"could not find expected ':'",
        "a key without a colon and a space, here or on the line above",
        "Write `key: value`.",
    ),
    (
        r"expected ',' or '\]'",
        "a square bracket is not closed, or a comma is missing, here or on a line above",
        "Write `[one, two]`; put texts with commas or quotation marks in quotation marks.",
    ),
    (
        r"expected ',' or '\}'",
        "a curly bracket is not closed, or a comma is missing, here or on a line above",
        "Write `{key: value, key: value}`; put texts with commas in quotation marks.",
    ),
    (
        r"expected key|expected <block end>|expected '-' indicator",
        "this line does not fit the lines above it",
        "Begin it exactly under its neighbours; in a text with an apostrophe use "
        "double quotation marks, and close what is opened.",
    ),
    (
        r"unexpected end of stream|found end of stream",
        "a quotation mark is opened and never closed",
        "Close it.",
    ),
    (
        r"cannot start any token|comment or (a )?line break|chomping",
        "a text begins with a sign that YAML keeps for itself, such as @, `, %, > or |",
        "Put the whole text in quotation marks.",
    ),
    (
        r"another document",
        "a line of three dashes begins a second document",
        "Remove that line; one file holds one.",
    ),
    (
        r"unknown escape",
        "a backslash stands in double quotation marks",
        "Use single quotation marks, or write / for it.",
    ),
)


class _Reference(yaml.YAMLError):
    def __init__(self, line: int, what: str, mend: str = _WRITE_OUT) -> None:
        super().__init__(what)
        self.line, self.what, self.mend = line, what, mend


def _refuse_references(text: str) -> None:
    depth = 0
    for event in yaml.parse(text, Loader=_BASE):
        mark: Any = event.start_mark
        if isinstance(event, yaml.CollectionStartEvent):
            depth += 1
            if depth > _FAR_TOO_DEEP:
                raise _Reference(
                    mark.line + 1, f"nested deeper than {MAX_DEPTH} levels.", "Write it flatter."
                )
        elif isinstance(event, yaml.CollectionEndEvent):
            depth -= 1
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            raise _Reference(mark.line + 1, "anchors and aliases (& and *) are not read here.")
        tag = getattr(event, "tag", None)
        if tag:
            raise _Reference(mark.line + 1, f"the tag {tag} is not read here.")


def _yaml_problem(error: Exception, path: str) -> Problem:
    if isinstance(error, _Reference):
        return Problem(path, error.line, error.what, error.mend)
    mark = getattr(error, "problem_mark", None)
    line = mark.line + 1 if mark is not None else 0
    what = getattr(error, "problem", None) or "the text is not readable as YAML"
    for pattern, meaning, mend in _PLAIN_WORDS:
        if re.search(pattern, what):
            return Problem(path, line, f"this is not YAML: {meaning}.", mend)
    return Problem(
        path,
        line,
        f"this is not YAML: {what}.",
        "Check indentation, colons and quotes here and on the line above.",
    )


def _plain(node: Any, keys: Keys, document: Document, path: str, depth: int) -> Any:
    line = node.start_mark.line + 1
    document.lines.setdefault(keys, line)
    if depth > MAX_DEPTH:
        document.problems.append(
            Problem(path, line, f"nested deeper than {MAX_DEPTH} levels.", "Write it flatter.")
        )
        return None
    if isinstance(node, yaml.ScalarNode):
        return str(node.value) if node.style else scalar(node.value)
    if isinstance(node, yaml.SequenceNode):
        return [
            _plain(item, (*keys, index), document, path, depth + 1)
            for index, item in enumerate(node.value)
        ]
    result: dict[str, Any] = {}
    for key_node, value_node in node.value:
        key_line = key_node.start_mark.line + 1
        if not isinstance(key_node, yaml.ScalarNode):
            document.problems.append(
                Problem(path, key_line, "a key must be a word.", "Write `key: value`.")
            )
            continue
        key = str(key_node.value)
        if key in result:
            document.problems.append(
                Problem(
                    path, key_line, f"the key '{key}' stands here twice.", "Remove one of them."
                )
            )
            continue
        document.lines[(*keys, key)] = key_line
        result[key] = _plain(value_node, (*keys, key), document, path, depth + 1)
    return result
