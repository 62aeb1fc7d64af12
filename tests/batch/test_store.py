"""A log line goes into the file without touching another byte, and never half."""

from __future__ import annotations

import os
import random
import signal
import stat
import subprocess
import sys
import time
from datetime import datetime
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trubshoot.batch import read_batch
from trubshoot.batch.append import LogLine, with_lines, without_last
from trubshoot.batch.model import Observation
from trubshoot.batch.store import append_lines, create, remove_last
from trubshoot.errors import BatchError
from trubshoot.yaml_lines import read_yaml

ROOT = Path(__file__).resolve().parents[2]
NOW = datetime(2026, 11, 25, 18, 0)
LINE = LogLine((("at", "2026-11-25 14:03"), ("gravity", "1.014"), ("sample", "20C")))
FLOW = "{at: 2026-11-25 14:03, gravity: 1.014, sample: 20C}"
HEAD = "batch: x   # the name\nunits:   metric\n"

# (name, text before, what the text is after): the form of the log is kept
FORMS = [
    (
        "flow lines with remarks",
        HEAD + "log:\n  - {day: 1, beer: 20}   # warm\n  # later\nroom: 20 C\n",
        HEAD + f"log:\n  - {{day: 1, beer: 20}}   # warm\n  - {FLOW}\n  # later\nroom: 20 C\n",
    ),
    (
        "block lines, not indented, with CRLF",
        "batch: x\r\nlog:\r\n- at: 2026-11-01\r\n  beer: 20\r\n",
        "batch: x\r\nlog:\r\n- at: 2026-11-01\r\n  beer: 20\r\n"
        "- at: 2026-11-25 14:03\r\n  gravity: 1.014\r\n  sample: 20C\r\n",
    ),
    (
        "no final newline",
        "batch: x\nlog:\n    - {at: 2026-11-01, beer: 20}",
        f"batch: x\nlog:\n    - {{at: 2026-11-01, beer: 20}}\n    - {FLOW}",
    ),
    (
        "a dash with room behind it and a text of several lines",
        "batch: x\nlog:\n  -   at: 2026-11-01\n      note: |\n        a\n        # no remark\n"
        "\n# end\n",
        "batch: x\nlog:\n  -   at: 2026-11-01\n      note: |\n        a\n        # no remark\n"
        "  -   at: 2026-11-25 14:03\n      gravity: 1.014\n      sample: 20C\n\n# end\n",
    ),
    (
        "a dash on a line of its own and an end of document",
        "---\nbatch: x\nlog:\n  -\n    at: 2026-11-01\n    beer: 20\n...\n",
        "---\nbatch: x\nlog:\n  -\n    at: 2026-11-01\n    beer: 20\n"
        "  - at: 2026-11-25 14:03\n    gravity: 1.014\n    sample: 20C\n...\n",
    ),
    (
        "a list in brackets",
        "batch: x\nlog: [{at: 2026-11-01, beer: 20}]  # short\n",
        f"batch: x\nlog: [{{at: 2026-11-01, beer: 20}}, {FLOW}]  # short\n",
    ),
    (
        "a list in brackets over several lines",
        "batch: x\nlog: [\n    {at: 2026-11-01, beer: 20}\n]\nroom: 20 C\n",
        f"batch: x\nlog: [\n    {{at: 2026-11-01, beer: 20}},\n    {FLOW}\n]\nroom: 20 C\n",
    ),
    ("no log at all", "batch: x\n# end", f"batch: x\n# end\nlog:\n  - {FLOW}"),
    ("an empty log", "batch: x\nlog:\n", f"batch: x\nlog:\n  - {FLOW}\n"),
    (
        "an empty log with remarks below",
        "batch: x\nlog:  # mine\n  # such as ...\nroom: 20 C\n",
        f"batch: x\nlog:  # mine\n  # such as ...\n  - {FLOW}\nroom: 20 C\n",
    ),
    (
        "an empty list",
        "batch: x\nlog: []   # nothing yet\nroom: 20 C\n",
        f"batch: x\nlog:   # nothing yet\n  - {FLOW}\nroom: 20 C\n",
    ),
    (
        "a byte order mark",
        "\ufeffbatch: x\nlog:\n  - {at: 2026-11-01, beer: 20}\n",
        f"\ufeffbatch: x\nlog:\n  - {{at: 2026-11-01, beer: 20}}\n  - {FLOW}\n",
    ),
]
NAMES = [form[0] for form in FORMS]


@pytest.mark.parametrize(("name", "before", "after"), FORMS, ids=NAMES)
def test_the_form_of_the_file_is_kept(name: str, before: str, after: str) -> None:
    """The new line stands at the end of the log, in its form; nothing else is different."""
    assert with_lines(before, [LINE], "f") == after


@pytest.mark.parametrize(("name", "before", "after"), FORMS, ids=NAMES)
def test_taking_back_undoes_it(name: str, before: str, after: str) -> None:
    """Taking the line back gives the same bytes, where the log held a line before."""
    text, removed = without_last(after, "f")
    assert "1.014" in removed
    assert read_yaml(text, "f").data.get("log") in (read_yaml(before, "f").data.get("log"), None)
    if "2026-11-01" in before and "[\n" not in before:
        assert text == before


@pytest.mark.parametrize("text", ["{batch: x}\n", "batch: x\nlog: words\n", "batch: [\n", "- x\n"])
def test_no_place_is_refused(text: str) -> None:
    """A text in which no line can be put safely is refused with a mend."""
    with pytest.raises(BatchError) as refused:
        with_lines(text, [LINE], "f.yaml")
    assert refused.value.problems[0].mend


def test_nothing_to_take_back() -> None:
    """An empty log has no line to take back."""
    with pytest.raises(BatchError, match="no line"):
        without_last("batch: x\nlog: []\n", "f.yaml")


@settings(max_examples=80, deadline=None)
@given(
    words=st.text(min_size=1, max_size=60).filter(lambda text: text.strip() != ""),
    form=st.sampled_from(FORMS),
)
def test_any_words_come_back_as_typed(words: str, form: tuple[str, str, str]) -> None:
    """Words of any kind are read back letter by letter, in every form of log."""
    try:
        words.encode("utf-8")
    except UnicodeEncodeError:
        return
    line = LogLine((("at", "2026-11-25 14:03"), ("saw", words)))
    after = with_lines(form[1], [line], "f")
    assert read_yaml(after.removeprefix("\ufeff"), "f").data["log"][-1]["saw"] == words
    kept = [part for part in form[1].splitlines() if part.strip() and "log:" not in part]
    assert all(part in after.splitlines() or "[" in form[1] for part in kept)


@pytest.fixture
def batch_file(tmp_path: Path) -> Path:
    """Return a small batch file."""
    path = tmp_path / "b.yaml"
    path.write_text("batch: x\nlog:\n  - {at: 2026-11-01, did: pitched}\n", encoding="utf-8")
    return path


def test_a_line_that_cannot_be_read_leaves_the_file(batch_file: Path) -> None:
    """A value that the reader refuses changes nothing."""
    before = batch_file.read_bytes()
    wrong = LogLine((("at", "2026-11-25"), ("gravity", "12")))
    with pytest.raises(BatchError, match="degrees Plato"):
        append_lines(batch_file, lambda batch: [wrong], NOW)
    with pytest.raises(BatchError, match="not come yet"):
        append_lines(batch_file, lambda batch: [LINE], datetime(2026, 11, 24))
    assert batch_file.read_bytes() == before
    assert [path.name for path in batch_file.parent.iterdir()] == ["b.yaml"]


def test_rights_and_links_are_kept(batch_file: Path) -> None:
    """The file keeps its rights, and a symbolic link to it stays one."""
    batch_file.chmod(0o640)
    link = batch_file.with_name("link.yaml")
    link.symlink_to(batch_file)
    written = append_lines(link, lambda batch: [LINE], NOW)
    assert link.is_symlink()
    assert stat.S_IMODE(batch_file.stat().st_mode) == 0o640
    assert len(read_batch(batch_file).log) == 2
    assert written.before is not None
    assert len(written.before.log) == 1
    assert remove_last(link, NOW).lines == (f"- {FLOW}",)
    assert link.is_symlink()
    assert len(read_batch(batch_file).log) == 1


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    """Folders, missing files and links in a circle are refused in words."""
    circle = tmp_path / "circle.yaml"
    circle.symlink_to(circle)
    for path in (tmp_path, tmp_path / "none.yaml", circle):
        with pytest.raises(BatchError):
            append_lines(path, lambda batch: [LINE], NOW)


def test_new_files_never_replace_others(batch_file: Path) -> None:
    """Creating under a name that is taken is refused, and the other file stays."""
    before = batch_file.read_bytes()
    with pytest.raises(BatchError, match="there already"):
        create(batch_file, "batch: other\n", NOW)
    assert batch_file.read_bytes() == before


# --- two processes, and kills

WRITER = """
import os, sys
from pathlib import Path
from trubshoot.batch.append import LogLine
from trubshoot.batch import store
path, name, count, point = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), sys.argv[4]
def die(*rest, **more):
    os.kill(os.getpid(), 9)
if point == "fsync":
    store.os.fsync = die
elif point == "before":
    store.Path.replace = die
elif point == "after":
    kept = store.Path.replace
    store.Path.replace = lambda *rest: (kept(*rest), die())
print("ready", flush=True)
for number in range(count):
    line = LogLine((("at", "2026-11-25 14:03"), ("note", f"{name} {number}")))
    store.append_lines(path, lambda batch: [line], None)
"""


def writer(path: Path, name: str, count: int, point: str = "never") -> subprocess.Popen[bytes]:
    """Start a process that appends lines, and dies at a point of the first if one is named."""
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path), name, str(count), point],
        env={**os.environ, "PYTHONPATH": str(ROOT / "src")},
        stdout=subprocess.PIPE,
    )


def notes(path: Path) -> list[str]:
    """Return the notes of a batch file, which must be whole."""
    return [entry.text for entry in read_batch(path).log if entry.entry == "note"]


def test_two_processes_lose_nothing(batch_file: Path) -> None:
    """Two processes with a hundred lines each leave two hundred, each in its order."""
    both = [writer(batch_file, name, 100) for name in ("a", "b")]
    for process in both:
        process.communicate(timeout=60)
    assert [process.returncode for process in both] == [0, 0]
    found = notes(batch_file)
    for name in ("a", "b"):
        assert [text for text in found if text[0] == name] == [f"{name} {n}" for n in range(100)]
    assert len(found) == 200
    turns = sum(one[0] != other[0] for one, other in pairwise(found))
    assert turns > 1, "the two never met"


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no kill of this kind here")
def test_kills_leave_old_or_new(batch_file: Path) -> None:
    """Killed at any time, the file holds the first lines of the writer and no half one."""
    start = batch_file.read_text("utf-8")
    chance = random.Random(5)
    lengths = set()
    for _ in range(6):
        batch_file.write_text(start, encoding="utf-8")
        with writer(batch_file, "a", 100) as process:
            assert process.stdout is not None
            process.stdout.readline()
            time.sleep(chance.uniform(0.0, 0.4))
            process.kill()
        found = notes(batch_file)
        assert found == [f"a {n}" for n in range(len(found))]
        whole = "".join(f"  - {{at: 2026-11-25 14:03, note: {text}}}\n" for text in found)
        assert batch_file.read_text("utf-8") == start + whole
        lengths.add(len(found))
    assert len(lengths) > 2, "the kills all fell at one place"


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no kill of this kind here")
@pytest.mark.parametrize(("point", "lines"), [("fsync", 0), ("before", 0), ("after", 1)])
def test_kill_in_the_middle(batch_file: Path, point: str, lines: int) -> None:
    """Killed before or after the one step that counts, the next writer finds all in order."""
    process = writer(batch_file, "a", 1, point)
    process.communicate(timeout=60)
    assert process.returncode == -signal.SIGKILL
    assert len(notes(batch_file)) == lines
    append_lines(batch_file, lambda batch: [LINE], NOW)
    assert len(read_batch(batch_file).log) == 2 + lines
    assert [path.name for path in batch_file.parent.iterdir()] == ["b.yaml"]


def test_a_full_disk_leaves_the_old_file(batch_file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the new text cannot be stored, the old file stays and nothing lies beside it."""
    before = batch_file.read_bytes()

    def full(descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("trubshoot.batch.store.os.fsync", full)
    with pytest.raises(BatchError, match="No space left"):
        append_lines(batch_file, lambda batch: [LINE], NOW)
    assert batch_file.read_bytes() == before
    assert [path.name for path in batch_file.parent.iterdir()] == ["b.yaml"]


def test_lines_are_read_as_the_reader_reads_them(batch_file: Path) -> None:
    """Words that look like numbers or nothing stay words."""
    line = LogLine((("at", "2026-11-25"), ("saw", ("null", "12", "foam: high # thick"))))
    after = append_lines(batch_file, lambda batch: [line], NOW).after
    entry = after.log[-1]
    assert isinstance(entry, Observation)
    assert entry.texts == ("null", "12", "foam: high # thick")
