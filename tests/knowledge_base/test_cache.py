"""The cache of parsed knowledge: never stale, never trusted when damaged, never needed."""

from __future__ import annotations

import json
import os
import shutil
import stat
import sys
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

import pytest

from trubshoot.knowledge_base import KnowledgeBase, load_knowledge, loader, parsed_cache

CHECKOUT = Path(__file__).resolve().parents[2] / "knowledge"


@pytest.fixture(scope="module", autouse=True)
def quick() -> Iterator[None]:
    """Let a file whose text does not change be parsed only once in this module."""
    patch = pytest.MonkeyPatch()
    patch.setattr(loader, "read_yaml", lru_cache(maxsize=None)(loader.read_yaml))
    yield
    patch.undo()


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return an empty cache folder of this test."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setattr(sys, "platform", "linux")
    return tmp_path / "cache" / "trubshoot"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a copy of the knowledge that may be changed."""
    shutil.copytree(CHECKOUT, tmp_path / "knowledge")
    return tmp_path / "knowledge"


@pytest.fixture
def parsed(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Return a list that grows by one each time the files are parsed."""
    calls: list[int] = []
    original = loader.parse

    def counted(contents: dict[str, bytes]) -> object:
        calls.append(len(contents))
        return original(contents)

    monkeypatch.setattr(loader, "parse", counted)
    return calls


def _files(cache: Path) -> list[Path]:
    return sorted(cache.glob("knowledge-*.json"))


def test_second_load_parses_nothing(cache: Path, folder: Path, parsed: list[int]) -> None:
    """The same files are parsed once, and give the same knowledge the second time."""
    first = load_knowledge(folder)
    assert load_knowledge(folder) == first
    assert len(parsed) == 1
    assert len(_files(cache)) == 1


def test_one_byte_is_enough(cache: Path, folder: Path, parsed: list[int]) -> None:
    """One changed byte in one file, and the files are read again with what it says."""
    before = load_knowledge(folder)
    path = folder / "causes" / "hop_creep.yaml"
    was = path.stat()
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace("label: Dry", "label: dry", 1), encoding="utf-8")
    os.utime(path, ns=(was.st_atime_ns, was.st_mtime_ns))  # same size, same time
    assert path.stat().st_size == was.st_size
    after = load_knowledge(folder)
    assert after.causes["hop_creep"].label[0] == "d"
    assert before.causes["hop_creep"].label[0] == "D"
    assert before.version != after.version
    assert len(parsed) == 2


def test_removed_and_renamed_files_are_seen(cache: Path, folder: Path, parsed: list[int]) -> None:
    """A file taken away or moved changes what is loaded, though no content changed."""
    load_knowledge(folder)
    rule = next(
        path
        for path in sorted((folder / "rules").glob("*.yaml"))
        if "hazard" not in path.read_text(encoding="utf-8")
        and "rules_out" in path.read_text(encoding="utf-8")
    )
    rule.unlink()
    assert rule.stem not in load_knowledge(folder).rules
    assert len(parsed) == 2


def test_another_program_version_reads_again(
    cache: Path, folder: Path, parsed: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What another version of the program kept is not used."""
    load_knowledge(folder)
    monkeypatch.setattr(loader, "__version__", "999.0")
    load_knowledge(folder)
    assert len(parsed) == 2
    assert len(_files(cache)) == 2


@pytest.mark.parametrize(
    "damage",
    [
        lambda content: b"",
        lambda content: content[: len(content) // 2],
        lambda content: content.replace(b"hop_creep", b"hop_crepe", 1),
        lambda content: b"\xff\xfe" + content,
        lambda content: content.split(b"\n")[0] + b"\n[1, 2]",
        lambda content: b"no hash\n" + content.partition(b"\n")[2],
    ],
    ids=["empty", "cut short", "altered", "not text", "other content", "no hash"],
)
def test_damaged_cache_is_ignored(
    cache: Path, folder: Path, parsed: list[int], damage: object
) -> None:
    """A damaged cache file is not believed, and is replaced by a good one."""
    right = load_knowledge(folder)
    kept = _files(cache)[0]
    content = kept.read_bytes()
    kept.write_bytes(damage(content))  # type: ignore[operator]
    assert load_knowledge(folder) == right
    assert len(parsed) == 2
    assert kept.read_bytes() == content


def test_forged_cache_of_other_contents(cache: Path, folder: Path, parsed: list[int]) -> None:
    """A cache file put under another content's name is not taken for it."""
    load_knowledge(folder)
    kept = _files(cache)[0]
    path = folder / "sources.yaml"
    path.write_bytes(path.read_bytes() + b"# one more line\n")
    digest = loader._digest(loader._contents(folder))
    shutil.copy(kept, cache / f"knowledge-{digest[:32]}.json")
    load_knowledge(folder)
    assert len(parsed) == 2


def test_folder_that_cannot_be_written(
    cache: Path, folder: Path, parsed: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the cache cannot be written the files are parsed each time, and nothing is said."""
    cache.parent.mkdir(parents=True)
    cache.write_text("a file stands where the folder should be", encoding="utf-8")
    assert load_knowledge(folder) == load_knowledge(folder)
    assert len(parsed) == 2
    assert cache.read_text(encoding="utf-8").startswith("a file")


def test_read_only_folder(cache: Path, folder: Path, parsed: list[int]) -> None:
    """A read-only cache folder is no error."""
    cache.mkdir(parents=True)
    cache.chmod(stat.S_IRUSR | stat.S_IXUSR)
    try:
        assert load_knowledge(folder) == load_knowledge(folder)
    finally:
        cache.chmod(stat.S_IRWXU)


def test_no_half_written_file_stays(
    cache: Path, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the disk is full while writing, no file is left behind and the load succeeds."""

    def full(self: Path, target: object) -> Path:
        raise OSError(28, "no space left")

    monkeypatch.setattr(Path, "replace", full)
    load_knowledge(folder)
    assert list(cache.iterdir()) == []


def test_no_home_folder(folder: Path, monkeypatch: pytest.MonkeyPatch, parsed: list[int]) -> None:
    """Without a home folder there is no cache, and no error."""
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)

    def homeless() -> Path:
        raise RuntimeError("no home")

    monkeypatch.setattr(Path, "home", homeless)
    assert parsed_cache.cache_folder() is None
    assert isinstance(load_knowledge(folder), KnowledgeBase)
    assert len(parsed) == 1


def test_old_ones_are_removed(cache: Path) -> None:
    """Four are kept."""
    for number in range(7):
        parsed_cache.write(f"{number}" * 64, {"number": number})
    assert len(_files(cache)) == 4
    assert parsed_cache.read("6" * 64) == {"number": b"6"}


def test_what_is_kept_is_plain_json(cache: Path) -> None:
    """The cache holds a hash and JSON: nothing that could run when it is read."""
    plain = {"key": ["K\u00f6lsch", 1.5, None], "two": {"a": "b\n,"}}
    parsed_cache.write("a" * 64, plain)
    head, _, body = _files(cache)[0].read_bytes().partition(b"\n")
    assert len(head) == 64
    assert json.loads(body) == plain
    kept = parsed_cache.read("a" * 64)
    assert kept is not None
    assert {name: json.loads(rows) for name, rows in kept.items()} == plain
