"""Installed in clean environments without the checkout; notices; bounds. Needs no network."""

from __future__ import annotations

import re
import sys
import sysconfig
import tarfile
import tomllib
import zipfile
from importlib import metadata
from pathlib import Path

import pytest
from tests.proof import third_party
from tests.proof.environments import ROOT, bounds, build, new_environment, run, try_out
from tests.rules import test_traps

from trubshoot import __version__


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a wheel built from the checkout."""
    return build(tmp_path_factory.mktemp("wheel"), "wheel")


def test_installed_in_a_clean_environment(wheel: Path, tmp_path: Path) -> None:
    """The wheel in an environment of its own brings a command that works in an empty folder.

    The dependencies are lent from the environment of the tests, so that no network is needed;
    `python -m tests.proof.install` gets them from the index.
    """
    programs = new_environment(tmp_path, pip=False)
    python = programs / "python"
    command = [sys.executable, "-m", "pip", "--python", python, "install", "--quiet"]
    run([*command, "--no-deps", "--no-index", "--no-compile", wheel], tmp_path)
    own = Path(
        run([python, "-c", "import sysconfig as s; print(s.get_path('purelib'))"], tmp_path).strip()
    )
    (own / "lent.pth").write_text(sysconfig.get_path("purelib") + "\n", encoding="utf-8")
    version = try_out(programs / "trubshoot", tmp_path)
    assert version.startswith(f"trubshoot {__version__}, knowledge ")
    assert "rules run by durable-rules" in version
    where = run([python, "-c", "import trubshoot; print(trubshoot.__file__)"], tmp_path)
    assert str(tmp_path) in where


def test_the_sdist_builds_the_same_wheel(wheel: Path, tmp_path: Path) -> None:
    """A wheel built from the unpacked sdist holds the same files with the same content."""
    packed = build(tmp_path, "sdist")
    with tarfile.open(packed) as archive:
        archive.extractall(tmp_path / "unpacked", filter="data")
    (source,) = (tmp_path / "unpacked").iterdir()
    again = build(tmp_path, "wheel", source)
    assert _contents(again) == _contents(wheel)


def _contents(wheel: Path) -> dict[str, int]:
    with zipfile.ZipFile(wheel) as archive:
        return {info.filename: info.CRC for info in archive.infolist()}


def test_every_dependency_has_a_plain_lower_bound() -> None:
    """`python -m tests.proof.lowest` can install exactly the lowest version of every package."""
    found = bounds("test")
    listed = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    every = [*listed["dependencies"], *listed["optional-dependencies"]["test"]]
    assert len(found) == len([one for one in every if not one.startswith("trubshoot[")])
    for package, lowest in found.items():
        installed = metadata.version(package)
        assert _numbers(installed) >= _numbers(lowest), package


def _numbers(version: str) -> list[int]:
    return [int(part) for part in re.findall(r"\d+", version)[:3]]


def test_third_party_notices_are_complete() -> None:
    """docs/third_party.md names every direct dependency, with the family of its licence."""
    page = (ROOT / "docs" / "third_party.md").read_text("utf-8")
    rows = dict(re.findall(r"^\| ([\w.-]+) \| ([^|]+) \|", page, flags=re.MULTILINE))
    there = {re.sub(r"[-_.]+", "-", name).lower(): licence for name, licence in rows.items()}
    for package in bounds():
        family = third_party.licence_of(package).split("-")[0].split(" ")[0]
        assert there[re.sub(r"[-_.]+", "-", package).lower()].startswith(family), package
    assert len(third_party.installed_with()) > len(bounds()) > 4


def test_every_trap_of_the_engine_has_a_test() -> None:
    """Each of the 34 known traps of durable-rules has at least one test that names it."""
    names = " ".join(name for name in dir(test_traps) if name.startswith("test_trap_"))
    named = {int(number) for number in re.findall(r"_(\d\d)(?=_)", names)}
    assert named == set(range(1, 35))
