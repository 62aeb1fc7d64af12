"""The wheel: it holds every file of the package and of the knowledge, and works away from here."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
# folder of the checkout -> where its files stand in the wheel
PLACES = {"src/trubshoot/": "trubshoot/", "knowledge/": "trubshoot/knowledge/"}

LOAD = """
import sys
from pathlib import Path
import trubshoot
from trubshoot.knowledge_base import load_knowledge
from trubshoot.knowledge_base.files import knowledge_folder
knowledge = load_knowledge()
print(Path(trubshoot.__file__).parent)
print(knowledge_folder())
print(len(knowledge.causes), len(knowledge.findings), len(knowledge.rules), knowledge.version)
"""


def _run(command: list[str], **options: object) -> subprocess.CompletedProcess[str]:
    done = subprocess.run(command, capture_output=True, text=True, check=False, **options)  # type: ignore[call-overload]
    assert done.returncode == 0, done.stdout[-2000:] + done.stderr[-2000:]
    return done  # type: ignore[no-any-return]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a wheel built from the checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps"]
    command += ["--no-build-isolation", "--disable-pip-version-check", "-w", str(folder), str(ROOT)]
    _run(command)
    (made,) = folder.glob("*.whl")
    return made


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder into which the wheel is installed."""
    target = tmp_path_factory.mktemp("installed")
    command = [sys.executable, "-m", "pip", "install", "--quiet", "--no-deps", "--no-compile"]
    command += ["--disable-pip-version-check", "--target", str(target), str(wheel)]
    _run(command)
    return target


def in_checkout() -> set[str]:
    """Return what the wheel should hold: tracked files, and new ones that are not ignored."""
    listed = _run(
        ["git", "ls-files", "--cached", "--others", "--exclude-standard", *PLACES], cwd=ROOT
    ).stdout.splitlines()
    names = set()
    for name in listed:
        if not (ROOT / name).exists():  # taken away, not yet committed
            continue
        place = next(place for place in PLACES if name.startswith(place))
        names.add(PLACES[place] + name.removeprefix(place))
    assert len(names) > 600
    return names


def in_wheel(wheel: Path) -> set[str]:
    """Return the names in the wheel but for its own records."""
    with zipfile.ZipFile(wheel) as archive:
        return {name for name in archive.namelist() if ".dist-info/" not in name}


def _away(code: str, path: Path, folder: Path) -> list[str]:
    """Run code with a package path in a folder away from the checkout."""
    kept = ("TRUBSHOOT_KNOWLEDGE", "PYTHONPATH", "XDG_CACHE_HOME")
    environment = {key: value for key, value in os.environ.items() if key not in kept}
    environment |= {"PYTHONPATH": str(path), "XDG_CACHE_HOME": str(folder / "cache")}
    command = [sys.executable, "-P", "-c", code]
    return _run(command, cwd=folder, env=environment).stdout.splitlines()


def test_wheel_holds_every_file_and_no_other(wheel: Path) -> None:
    """The files of the wheel are the files of package and knowledge, neither more nor less."""
    right, got = in_checkout(), in_wheel(wheel)
    assert right - got == set()
    assert got - right == set()


def test_wheel_carries_licence_and_command(wheel: Path) -> None:
    """The licence is in the wheel, and the command leads into the package."""
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
        (entry_points,) = [name for name in names if name.endswith("entry_points.txt")]
        text = archive.read(entry_points).decode()
        (metadata,) = [name for name in names if name.endswith("/METADATA")]
        requires = [
            line for line in archive.read(metadata).decode().splitlines() if "Requires-Dist" in line
        ]
    assert "trubshoot = trubshoot.__main__:main" in text
    assert any("licenses/" in name for name in names)
    assert any("durable-rules" in line and "python_version < " in line for line in requires)


def test_installed_package_brings_its_knowledge(installed: Path, tmp_path: Path) -> None:
    """Installed elsewhere, the package loads the knowledge shipped in it, the same as here."""
    package, folder, counts = _away(LOAD, installed, tmp_path)
    assert Path(package) == installed / "trubshoot"
    assert Path(folder) == installed / "trubshoot" / "knowledge"
    causes, findings, rules, _version = counts.split()
    count = {name: len(list((ROOT / "knowledge" / name).glob("*.yaml"))) for name in _FOLDERS}
    assert [int(causes), int(findings), int(rules)] == [count[name] for name in _FOLDERS]


_FOLDERS = ("causes", "findings", "rules")


def test_knowledge_is_read_from_inside_the_zipped_wheel(wheel: Path, tmp_path: Path) -> None:
    """Even without being unpacked the wheel gives its knowledge."""
    package, folder, counts = _away(LOAD, wheel, tmp_path)
    assert package.startswith(str(wheel))
    assert folder.startswith(str(wheel))
    assert int(counts.split()[0]) > 50


def test_installed_package_diagnoses(installed: Path, tmp_path: Path) -> None:
    """The installed package answers a question away from the checkout."""
    code = """
from datetime import datetime
from trubshoot.batch import read_batch
from trubshoot.diagnosis import Diagnostician
from trubshoot.knowledge_base import load_knowledge
known = Diagnostician(load_knowledge()).diagnose(
    read_batch("batch: away"), datetime(2026, 11, 25), [("tasted", "sour")]
)
print(known.engine)
print([state.id for state in known.findings])
print(len(known.named_causes))
"""
    engine, findings, causes = _away(code, installed, tmp_path)
    assert engine == "durable-rules"
    assert findings == "['sour_tart']"
    assert int(causes) > 0


def test_tests_and_folders_of_the_build_stay_out(wheel: Path) -> None:
    """No test, cache or hidden file is shipped."""
    for name in in_wheel(wheel):
        assert not name.startswith("tests/")
        assert "__pycache__" not in name
        assert not any(part.startswith(".") for part in name.split("/"))
