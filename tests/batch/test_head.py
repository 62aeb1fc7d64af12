"""A value goes into the head of a file without touching another byte, or the file is refused."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from trubshoot.batch import read_batch
from trubshoot.batch.append import LogLine
from trubshoot.batch.head import HeadValue, missing_in_head, with_head
from trubshoot.batch.store import append_lines
from trubshoot.errors import BatchError

NOW = datetime(2026, 11, 25, 18, 0)
END = HeadValue("wort", "expected_fg", "1.010")
ROOM = HeadValue("storage", "temp", "12 C")

# (name, text before, what the text is after END went into it)
FORMS = [
    (
        "no such group: a line before the log",
        "batch: x   # the name\n\nlog:   # all of it\n  - {day: 1, beer: 20}\n",
        "batch: x   # the name\n\nwort: {expected_fg: 1.010}\nlog:   # all of it\n"
        "  - {day: 1, beer: 20}\n",
    ),
    (
        "a group in braces with a remark behind it",
        "batch: x\nwort: {volume: 20 l}   # measured\nlog: []\n",
        "batch: x\nwort: {volume: 20 l, expected_fg: 1.010}   # measured\nlog: []\n",
    ),
    (
        "a group in lines with remarks between",
        "batch: x\nwort:\n  # the kit\n  volume: 20 l   # about\n\n# log\nlog: []\n",
        "batch: x\nwort:\n  # the kit\n  volume: 20 l   # about\n  expected_fg: 1.010\n\n"
        "# log\nlog: []\n",
    ),
    (
        "an empty group",
        "batch: x\nwort:   # nothing known\nlog: []\n",
        "batch: x\nwort: {expected_fg: 1.010}   # nothing known\nlog: []\n",
    ),
    ("empty braces", "batch: x\nwort: {}\n", "batch: x\nwort: {expected_fg: 1.010}\n"),
    (
        "windows line ends",
        "batch: x\r\nlog:\r\n- {day: 1, beer: 20}\r\n",
        "batch: x\r\nwort: {expected_fg: 1.010}\r\nlog:\r\n- {day: 1, beer: 20}\r\n",
    ),
    ("no log, no last line end", "batch: x", "batch: x\nwort: {expected_fg: 1.010}"),
    (
        "braces over several lines, with a brace in a text",
        'batch: x\nwort: {\n  kind: "a } b",\n  volume: 20 l\n  }\nlog: []\n',
        'batch: x\nwort: {\n  kind: "a } b",\n  volume: 20 l, expected_fg: 1.010\n  }\nlog: []\n',
    ),
]


@pytest.mark.parametrize(("name", "before", "after"), FORMS, ids=[form[0] for form in FORMS])
def test_every_form_keeps_its_bytes(name: str, before: str, after: str) -> None:
    """The value stands in the head, and remarks, order and line ends stay."""
    assert with_head(before, [END], "x.yaml") == after, name


def test_what_the_head_says_stays() -> None:
    """A value that is there, whatever it is, is neither written again nor changed."""
    text = "batch: x\nwort: {expected_fg: 1.012}\n"
    assert missing_in_head(text, [END, ROOM], "x.yaml") == (ROOM,)
    assert with_head(text, [END], "x.yaml") == text


def test_a_group_that_is_no_mapping_is_left_alone() -> None:
    """Where the group holds something else, nothing is put into it."""
    assert missing_in_head("batch: x\nwort: good\n", [END], "x.yaml") == ()


def test_no_place_is_a_refusal() -> None:
    """A text that cannot hold the value as wanted is refused with what to write by hand."""
    with pytest.raises(BatchError) as refused:
        with_head("{batch: x, log: []}\n", [END], "x.yaml")
    assert "wort: {expected_fg: 1.010}" in refused.value.problems[0].mend


def test_lines_and_head_are_one_change(tmp_path: Path) -> None:
    """Log lines and head values are written in one step, or nothing is."""
    path = tmp_path / "x.yaml"
    text = "batch: x   # mine\nlog:\n  - {at: 2026-11-01, gravity: 1.050}\n"
    path.write_text(text)
    line = LogLine((("at", "2026-11-25"), ("saw", "no bubbles")))
    written = append_lines(path, lambda batch: [line], NOW, [END, ROOM])
    assert written.lines == (line.flow, "wort.expected_fg: 1.010", "storage.temp: 12 C")
    batch = read_batch(path, NOW)
    assert batch.wort.expected_fg == 1.010
    assert path.read_text().startswith("batch: x   # mine\n")
    before = path.read_bytes()
    bad = HeadValue("wort", "expected_fg", "never")
    path.write_bytes(before.replace(b"wort: {expected_fg: 1.010}\n", b""))
    kept = path.read_bytes()
    with pytest.raises(BatchError):
        append_lines(path, lambda batch: [line], NOW, [bad])
    assert path.read_bytes() == kept
