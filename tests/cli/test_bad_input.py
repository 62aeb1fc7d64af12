"""Bad input gives a message with line and mend and exit code 2, never a traceback or a guess."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from tests.cli.support import run, run_alone

AT = ("--at", "2026-11-01")
HEAD = "batch: Lantern Street trial\n"
# name of the case: what stands in the file, what the message must say, the line it must name (0:
# the whole file is meant)
BAD_FILES: dict[str, tuple[bytes, list[str], int]] = {
    "empty": (b"", ["the file is empty", "Write at least"], 0),
    "blank": (b"\n  \n", ["the file is empty"], 0),
    "comment only": (b"# nothing\n", ["this is not a batch file", "batch:"], 0),
    "huge": (b"batch: x\n# " + b"a" * 1_100_000, ["larger than 1 MiB"], 0),
    "binary": (bytes(range(256)), ["no text file"], 0),
    "not UTF-8": ("batch: x\nstyle: Kölsch\n".encode("latin-1"), ["not UTF-8"], 2),
    "tab": (b"batch: x\nwort:\n\tvolume: 19 l\n", ["tab", "two spaces"], 3),
    "alias bomb": (b"batch: x\nhops: &a [x, x]\nlog: [*a, *a]\n", ["anchors and aliases"], 2),
    "python tag": (b"batch: !!python/object/apply:os.getcwd []\n", ["tag"], 1),
    "two documents": (b"batch: x\n---\nbatch: y\n", [""], 0),
    "list": (b"- batch\n- log\n", ["this is not a batch file"], 1),
    "words": (b"my beer is flat\n", ["this is not a batch file"], 1),
    "no name": (b"units: us\n", ["the batch has no name", "Write `batch:"], 0),
    "same key twice": (b"batch: x\nbatch: y\n", ["twice", "Remove one"], 2),
    "unknown key": (b"batch: x\nyeasst: ale\n", ["yeasst", "Did you mean `yeast`?"], 2),
    "no such verb": (
        b"batch: x\nlog:\n  - {day: 1, gravty: 1.012}\n",
        ["gravty", "Did you mean `gravity`?"],
        3,
    ),
    "date to come": (
        b"batch: x\nlog:\n  - {at: 2031-05-01, gravity: 1.050}\n",
        ["has not come yet", "Correct the date"],
        3,
    ),
    "no such day": (b"batch: x\nlog:\n  - {at: 2026-02-30, gravity: 1.050}\n", ["calendar"], 3),
    "gravity 0.9": (b"batch: x\nlog:\n  - {day: 3, gravity: 0.9}\n", ["no gravity", "1.012"], 3),
    "gravity 1.9": (b"batch: x\nlog:\n  - {day: 3, gravity: 1.9}\n", ["no gravity", "1.012"], 3),
    "F taken for C": (
        b"batch: x\nlog:\n  - {day: 3, beer: 68}\n",
        ["read as 68 C", "Did you mean 68 F?"],
        3,
    ),
    "C taken for F": (
        b"batch: x\nunits: us\nlog:\n  - {day: 3, beer: 20}\n",
        ["read as 20 F", "Did you mean 20 C?"],
        4,
    ),
    "negative volume": (b"batch: x\nwort: {volume: -5 l}\n", ["below zero", "19 l"], 2),
    "negative sugar": (
        b"batch: x\nlog:\n  - {day: 9, did: bottled, sugar: -90 g table sugar, volume: 19 l}\n",
        ["below zero", "120 g"],
        3,
    ),
    "negative count": (
        b"batch: x\nlog:\n  - {day: 9, did: bottled, count: -5}\n",
        ["whole number from 0"],
        3,
    ),
    "amount without unit": (
        b"batch: x\nlog:\n  - {day: 9, did: bottled, sugar: 100, volume: 19 l}\n",
        ["without a unit", "g"],
        3,
    ),
}


def write(folder: Path, content: bytes) -> Path:
    """Write a batch file and return its path."""
    path = folder / "batch.yaml"
    path.write_bytes(content)
    return path


@pytest.mark.parametrize("case", BAD_FILES)
def test_unusable_file(case: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that cannot be used ends in exit code 2, a message with its mend, and its line."""
    content, parts, line = BAD_FILES[case]
    path = write(tmp_path, content)
    told = run(capsys, "diagnose", path, *AT)
    assert told.code == 2
    assert told.out == ""
    for part in parts:
        assert part in told.err
    assert f"{path}:{line}:" in told.err if line else str(path) in told.err
    assert "Nothing was assessed" in told.err


@pytest.mark.parametrize("case", BAD_FILES)
def test_unusable_file_as_json(
    case: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same as JSON: hazards first, then every problem with line and mend."""
    content, _, line = BAD_FILES[case]
    told = run(capsys, "diagnose", write(tmp_path, content), *AT, "--format", "json")
    plain = json.loads(told.out)
    assert told.code == 2
    assert list(plain) == ["format_version", "hazards", "problems"]
    assert plain["hazards"] == []
    assert plain["problems"]
    assert all(item["message"] for item in plain["problems"])
    if line:
        assert line in {item["line"] for item in plain["problems"]}


def test_all_problems_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every problem of a file is named in one run, each with its own line."""
    content = b"batch: x\nyeasst: ale\nlog:\n  - {day: 3, gravity: 0.9}\n  - {day: x, beer: 68}\n"
    told = run(capsys, "diagnose", write(tmp_path, content), *AT)
    assert all(f":{line}:" in told.err for line in (2, 4, 5))


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("gone.yaml", "there is no such file. Check its name; it was looked for in "),
        ("", "this is a folder. Name a batch file in it, such as {}/Pale Ale.yaml."),
        ("pale ale.yaml", "there is no such file. Did you mean {}/Pale Ale.yaml?"),
        ("Pale Ale", "there is no such file. Did you mean {}/Pale Ale.yaml?"),
        ("paleale.yml", "there is no such file. Did you mean {}/Pale Ale.yaml?"),
        ("nowhere/x.yaml", "the file cannot be read: No such file or directory."),
    ],
)
@pytest.mark.parametrize("words", [("diagnose",), ("log", "beer", "20C")])
def test_no_file_there(
    words: tuple[str, ...],
    name: str,
    says: str,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A missing file, or a folder in place of one, is said so, with the name that was meant."""
    (tmp_path / "Pale Ale.yaml").write_text("batch: pale", "utf-8")
    (tmp_path / "notes.txt").write_text("gone.yaml", "utf-8")
    path = tmp_path / name if name else tmp_path
    told = run(capsys, words[0], path, *words[1:])
    assert told.code == 2
    if not name and words[0] == "log":
        says = "this is no file."
    assert says.format(tmp_path) in told.err
    assert str(path) in told.err


@pytest.mark.parametrize(
    ("arguments", "part"),
    [
        (("--format", "xml"), "Write text or json"),
        (("--units", "si"), "Write us or metric"),
        (("--at", "some day"), "Write it like"),
        (("--at", "2026-13-01"), "Write it like"),
        (("--nope",), "--nope"),
    ],
)
def test_unknown_option(
    arguments: tuple[str, ...], part: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An option that is not known, or holds something not known, ends in 2 and names the mend."""
    told = run(capsys, "diagnose", write(tmp_path, HEAD.encode()), *arguments)
    assert told.code == 2
    assert part in told.err
    assert told.out == ""


def test_unknown_command(capsys: pytest.CaptureFixture[str]) -> None:
    """A command that is not known ends in 2."""
    assert run(capsys, "diagnos", "x").code == 2


def test_batch_with_only_a_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A batch of which only the name is known names no cause and says that all else is missing."""
    path = write(tmp_path, HEAD.encode())
    told = run(capsys, "diagnose", path, *AT, "--format", "json")
    plain = json.loads(told.out)
    assert told.code == 0
    assert all(cause["responsibility"] == 0 for cause in plain["causes"])
    missing = " ".join(gap["what"] for gap in plain["missing"])
    for part in ("starting gravity", "temperature", "a log"):
        assert part in missing
    assert plain["numbers"]["readings"] == []
    assert plain["numbers"]["og_points"] is None
    text = run(capsys, "diagnose", path, *AT)
    assert "MISSING OR ASSUMED" in text.out


def test_unknown_words_are_said_to_be_unknown(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Words that lead nowhere are shown as not understood and change no cause."""
    path = write(tmp_path, HEAD.encode())
    plainly = json.loads(run(capsys, "diagnose", path, *AT, "--format", "json").out)
    told = run(capsys, "diagnose", path, *AT, "--saw", "flurb wibble", "--format", "json")
    plain = json.loads(told.out)
    assert told.code == 0
    assert [item["words"] for item in plain["not_understood"]] == ["flurb wibble"]
    assert plain["findings"] == plainly["findings"]
    assert [c["posterior"] for c in plain["causes"]] == [c["posterior"] for c in plainly["causes"]]
    assert "Not understood" in run(capsys, "diagnose", path, *AT, "--saw", "flurb wibble").out


def test_bad_file_in_a_process_of_its_own(tmp_path: Path) -> None:
    """The same holds for the real command: exit code 2, one message, no traceback."""
    told = run_alone("diagnose", write(tmp_path, b"\x00\x01"))
    assert told.code == 2
    assert "Traceback" not in told.err
    assert "no text file" in told.err
