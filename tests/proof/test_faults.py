"""The faults in small, and what the campaigns found, each as a small test."""

from __future__ import annotations

import os
import subprocess
import sys
import tracemalloc
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from tests.cli.support import run
from tests.proof import faults, interruptions
from tests.proof.child import files_in
from tests.proof.commands import filled, prepared

from trubshoot import whole_files
from trubshoot.batch import read_batch
from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.noisy_or import Network, Told, rank, value_of_asking
from trubshoot.errors import BatchError
from trubshoot.evidence.words import understand

QUICK = ("kills", "ctrl-C", "disk limit", "two writers", "closed pipe", "no terminal")
WRITES = 12
NOW = datetime(2026, 11, 25, 12)


@pytest.mark.skipif(sys.platform != "linux", reason="the faults are made by what Linux offers")
@pytest.mark.parametrize("name", QUICK)
def test_nothing_is_lost(name: str, tmp_path: Path) -> None:
    """Each of these faults leaves old or new files, a sentence and a documented exit code."""
    assert faults.FAULTS[name](tmp_path, WRITES)


@pytest.mark.parametrize("name", sorted(faults.ROWS))
def test_every_row_does_its_work(
    name: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Without a fault each way of calling ends well and writes what its row says, nothing else."""
    row = faults.ROWS[name]
    prepared(tmp_path)
    before = files_in(tmp_path)
    monkeypatch.chdir(tmp_path)
    assert run(capsys, *filled(row)).code in row.codes
    after = files_in(tmp_path)
    changed = {file for file in {*before, *after} if before.get(file) != after.get(file)}
    assert changed == set(row.writes)


def test_half_a_file_would_be_noticed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A store that writes into the old file itself is found by the kills."""
    monkeypatch.setattr(
        "tests.proof.interruptions.WRITER",
        interruptions.WRITER.replace(
            "path, number",
            "import trubshoot.batch.store as store\n"
            "def worse(path, raw, **_):\n"
            "    with path.open('wb') as file:\n"
            "        for at in range(0, len(raw), 7):\n"
            "            file.write(raw[at : at + 7])\n"
            "            file.flush()\n"
            "store.replace_file = worse\n"
            "path, number",
            1,
        ),
    )
    with pytest.raises((AssertionError, BatchError)):
        faults.FAULTS["kills"](tmp_path, 400)


# --- files


def test_a_new_file_is_whole_or_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Broken off before its content is on the disk, a new file is not there at all."""

    def stop(descriptor: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("trubshoot.whole_files.os.fsync", stop)
    path = tmp_path / "a.yaml"
    for write in (whole_files.create_file, whole_files.replace_file):
        with pytest.raises(KeyboardInterrupt):
            write(path, b"content")
        assert files_in(tmp_path) == {}


def test_a_new_file_never_replaces_another(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A name that is taken, also while writing, also without hard links, stays with its file."""
    path = tmp_path / "a.yaml"

    def taken_meanwhile(new: Path, name: Path) -> None:
        path.write_bytes(b"theirs")
        raise PermissionError(1, "no hard links here")

    monkeypatch.setattr("trubshoot.whole_files.os.link", taken_meanwhile)
    with pytest.raises(FileExistsError):
        whole_files.create_file(path, b"mine")
    with pytest.raises(FileExistsError):
        whole_files.create_file(path, b"mine")
    assert files_in(tmp_path) == {"a.yaml": b"theirs"}
    monkeypatch.setattr("trubshoot.whole_files.os.link", _no_links)
    whole_files.create_file(tmp_path / "b.yaml", b"mine")
    assert files_in(tmp_path) == {"a.yaml": b"theirs", "b.yaml": b"mine"}


def _no_links(new: Path, name: Path) -> None:
    raise PermissionError(1, "no hard links here")


def test_what_killed_writers_left_goes(tmp_path: Path) -> None:
    """A later writing takes old leavings away, and under a lock all; those of others stay."""
    path = tmp_path / "a.json"
    for name, age in ((".a.json.1-1.new", 4000), (".a.json.2-2.new", 5), (".b.json.1-1.new", 4000)):
        (tmp_path / name).write_bytes(b"half")
        then = (tmp_path / name).stat().st_mtime - age
        os.utime(tmp_path / name, (then, then))
    whole_files.replace_file(path, b"1")
    assert sorted(files_in(tmp_path)) == [".a.json.2-2.new", ".b.json.1-1.new", "a.json"]
    whole_files.replace_file(path, b"2", alone=True)
    assert files_in(tmp_path) == {".b.json.1-1.new": b"half", "a.json": b"2"}


def test_new_files_have_the_rights_of_new_files(tmp_path: Path) -> None:
    """A new file is for whom the user's mask lets it; what is private is for the owner alone."""
    old = os.umask(0o022)
    try:
        whole_files.create_file(tmp_path / "a", b"")
        whole_files.replace_file(tmp_path / "b", b"", private=True)
    finally:
        os.umask(old)
    assert (tmp_path / "a").stat().st_mode & 0o777 == 0o644
    assert (tmp_path / "b").stat().st_mode & 0o777 == 0o600


# --- what the campaigns found


def test_a_clock_put_back_leaves_the_log_readable() -> None:
    """A line of an hour ago by the old clock is read; one of tomorrow is refused as before."""
    text = "batch: x y\nlog:\n  - {at: 2026-11-25 12:55, note: before the change}\n"
    assert len(read_batch(text, NOW).log) == 1
    with pytest.raises(BatchError, match="not come yet"):
        read_batch(text, NOW - timedelta(hours=2))


@pytest.mark.parametrize("name", ["n.yaml", "yes.yaml", "unknown.yaml", "?.yaml"])
def test_new_files_with_odd_names(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A file whose name would be read as no or as unknown still begins a batch."""
    assert run(capsys, "new", tmp_path / name, "--defaults").code == 0
    assert read_batch(tmp_path / name).name


@pytest.mark.parametrize("name", [".", "..", "/"])
def test_new_in_place_of_a_folder(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder in place of the file is refused in words."""
    told = run(capsys, "new", name, "--defaults")
    assert told.code == 2
    assert "is a folder" in told.err


def test_the_next_check_stays_within_memory() -> None:
    """Many findings told and many checks possible take bounded memory, with the same numbers."""
    chance = np.random.default_rng(4)
    causes, told, checks = 60, 14, 6
    network = Network(
        chance.uniform(0.01, 0.2, causes),
        chance.uniform(0.05, 0.9, (causes, told + checks)),
        np.full(told + checks, 0.02),
    )
    said = Told((), tuple(range(told)), (0.0,) * told, (1.0,) * told)
    ranking = rank(network, said)
    tracemalloc.start()
    together = value_of_asking(network, said, ranking, range(told, told + checks))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 44e6  # all six at once would keep 48 MB of vectors
    apart = [
        value_of_asking(network, said, ranking, [column])[0]
        for column in range(told, told + checks)
    ]
    for one, other in zip(together, apart, strict=True):
        assert one.gain_bits == pytest.approx(other.gain_bits, abs=1e-9)


def test_letters_that_the_output_does_not_have() -> None:
    """Where the output knows only ASCII, JSON stays JSON and text stays readable."""
    code = "from trubshoot.cli.process import prepare; prepare(); print('5 \u00b0C \U0001f37a')"
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        check=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONPATH": str(faults.ROOT / "src")},
    )
    assert done.stdout == b"5 \\u00b0C \\ud83c\\udf7a\n"


def test_an_interrupt_in_a_callback_ends_the_process() -> None:
    """Ctrl-C while Python cannot raise it (in a destructor) ends the process without noise."""
    code = (
        "from trubshoot.cli.process import prepare\nprepare()\n"
        "class Late:\n    def __del__(self):\n        raise KeyboardInterrupt\n"
        "Late()\nprint('went on')"
    )
    done = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        check=False,
        env={**os.environ, "PYTHONPATH": str(faults.ROOT / "src")},
    )
    assert (done.returncode, done.stdout, done.stderr) == (130, b"", b"")


def test_a_fault_of_the_program_is_a_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whatever goes wrong inside any command, the user sees a sentence and exit code 1."""

    def broken() -> None:
        raise KeyError("loose end")

    monkeypatch.setattr("trubshoot.batch.json_schema", broken)
    told = run(capsys, "schema")
    assert told.code == 1
    assert "a fault of trubshoot" in told.err
    assert "loose end" in told.err


def test_nothing_steers_the_terminal(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Control signs in files, names and words reach no screen, where they could hide a hazard."""
    path = tmp_path / "b\x1b[2Jc.yaml"
    path.write_text(
        'batch: "x\\e[2J y"\nstyle: "pale \\e[5m"\nlog:\n  - {day: 1, did: pitched}\n'
        '  - {day: 2, saw: ["zorp\\e[31m flurb", "a bottle burst \\a"], in: "\\e[1A glass"}\n',
        encoding="utf-8",
    )
    broken = tmp_path / "\x1b[1Abroken.yaml"
    broken.write_text('batch: x\n"foo\\e[2Jbar": 1\n', encoding="utf-8")
    bad = "qq\x1b[31m\rzz\u202e"
    for words in (
        ("diagnose", path, "--why", "--saw", bad),
        ("diagnose", path, "--format", "json", "--saw", bad),
        ("bottling", path, "--why", "--sugar", bad),
        ("bottles", path, "--why"),
        ("next", path),
        ("log", path, "--day", "4", "saw", bad),
        ("log", path, "--day", "4", bad),
        ("diagnose", broken),
        ("log", broken, "note", bad),
        ("knowledge", "source", bad),
    ):
        told = run(capsys, *words)
        shown = (told.out + told.err).replace("\n", "")
        assert shown.isprintable(), (words, told)


@pytest.mark.parametrize("word", ["349.01191.020c", "1.2.3f", ".c", "1..f", "\u0663\u0665c"])
def test_words_that_look_like_temperatures(word: str, diagnostician: Diagnostician) -> None:
    """Digits and points that are no number are words like any other."""
    understand(diagnostician.lexicon, f"the beer was {word}", sense="saw")
