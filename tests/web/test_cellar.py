"""The folder of the batch files: what of it can be seen, read and written, and what cannot."""

from __future__ import annotations

from pathlib import Path

import pytest

from trubshoot.batch.reader import MAX_BYTES
from trubshoot.errors import UnitError
from trubshoot.web.cellar import Cellar

BATCH = "batch: x\n"


def test_only_batch_files_are_named(tmp_path: Path) -> None:
    """Plain files of the right ending that are not hidden; no links, no folders, nothing else."""
    for name in ("b.yaml", "a.yml", "C.YAML", ".hidden.yaml", "notes.txt", "x.yaml.new"):
        (tmp_path / name).write_text(BATCH, "utf-8")
    (tmp_path / "folder.yaml").mkdir()
    (tmp_path / "link.yaml").symlink_to(tmp_path / "b.yaml")
    (tmp_path / "dangling.yaml").symlink_to(tmp_path / "gone")
    assert Cellar(tmp_path).names() == ["C.YAML", "a.yml", "b.yaml"]


def test_a_link_is_not_read_even_when_it_was_listed(tmp_path: Path) -> None:
    """Between listing and reading a file may be replaced by a link: it is not followed."""
    (tmp_path / "outside").write_text(BATCH, "utf-8")
    (tmp_path / "link.yaml").symlink_to(tmp_path / "outside")
    cellar = Cellar(tmp_path)
    assert cellar._read("link.yaml") is None
    assert cellar._read("gone.yaml") is None


@pytest.mark.parametrize("name", ["../b.yaml", "./b.yaml", "/b.yaml", "b.yaml/", "", ".", "B.yaml"])
def test_only_the_very_name_finds_a_file(name: str, tmp_path: Path) -> None:
    """A name is looked for, never made into a path."""
    (tmp_path / "b.yaml").write_text(BATCH, "utf-8")
    cellar = Cellar(tmp_path)
    assert cellar.file(name) is None
    found = cellar.file("b.yaml")
    assert found is not None
    assert found.raw == BATCH.encode()


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        (BATCH, True),
        ("# a remark\n'batch': x\n", True),
        ("{batch: x, log: []}", True),
        ("log: []\nbatch : x\n", True),
        ("password: secret\n", False),
        ("mybatch: x\n", False),
        ("note: the batch: x\n", False),
        ("", False),
    ],
)
def test_a_file_must_say_batch(text: str, shown: bool, tmp_path: Path) -> None:
    """Other YAML files that happen to lie in the folder are neither listed nor shown."""
    (tmp_path / "b.yaml").write_text(text, "utf-8")
    assert bool(Cellar(tmp_path).files()) is shown


def test_a_huge_file_is_not_read_to_its_end(tmp_path: Path) -> None:
    """Of a file beyond the limit only so much is read as shows that it is too large."""
    (tmp_path / "b.yaml").write_text(BATCH + "# x\n" * MAX_BYTES, "utf-8")
    (file,) = Cellar(tmp_path).files()
    assert len(file.raw) == MAX_BYTES + 1


def test_a_folder_must_be_one(tmp_path: Path) -> None:
    """A file, a missing folder and a circle of links are refused with what to write."""
    (tmp_path / "file").write_text("", "utf-8")
    (tmp_path / "circle").symlink_to(tmp_path / "circle")
    for name in ("file", "gone", "circle"):
        with pytest.raises(UnitError, match="trubshoot web FOLDER"):
            Cellar(tmp_path / name)
