"""Clean environments to install into, away from the checkout."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterable, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
EXAMPLE = ROOT / "docs" / "examples" / "bottled_too_early.yaml"
# what of the caller's settings would reach into an environment that is to be clean
_FROM_OUTSIDE = ("PYTHONPATH", "PYTHONHOME", "TRUBSHOOT_KNOWLEDGE", "VIRTUAL_ENV")


def clean_surroundings(folder: Path) -> dict[str, str]:
    """Return an environment without the caller's Python settings, with its folders in `folder`."""
    kept = {key: value for key, value in os.environ.items() if key not in _FROM_OUTSIDE}
    own = {name: str(folder / "home") for name in ("HOME", "XDG_CACHE_HOME", "XDG_CONFIG_HOME")}
    return {**kept, **own, "PIP_DISABLE_PIP_VERSION_CHECK": "1"}


def run(command: Sequence[str | Path], folder: Path, codes: Iterable[int] = (0,)) -> str:
    """Run a command in a folder and return what it wrote to standard output.

    Raises: RuntimeError: it ended with another code.
    """
    done = subprocess.run(
        [str(part) for part in command],
        cwd=folder,
        env=clean_surroundings(folder),
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode not in codes:
        raise RuntimeError(f"{command} ended with {done.returncode}\n{done.stderr[-3000:]}")
    return done.stdout


def new_environment(folder: Path, *, pip: bool = True, python: str = sys.executable) -> Path:
    """Make a virtual environment and return the folder of its programs."""
    run([python, "-m", "venv", *(() if pip else ("--without-pip",)), folder / "venv"], folder)
    return folder / "venv" / ("Scripts" if sys.platform == "win32" else "bin")


def build(folder: Path, kind: str, source: Path = ROOT) -> Path:
    """Build the wheel or the sdist of a source folder with the build backend; return the file."""
    done = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", kind, "-d", str(folder)],
        cwd=source,
        capture_output=True,
        text=True,
        check=False,
    )
    if done.returncode:
        raise RuntimeError(done.stderr[-3000:])
    (made,) = folder.glob("*.whl" if kind == "wheel" else "*.tar.gz")
    return made


def try_out(program: Path, folder: Path) -> str:
    """Run an installed `trubshoot` in an empty folder on a copied example; return its version."""
    empty = folder / "empty"
    empty.mkdir()
    (empty / "batch.yaml").write_bytes(EXAMPLE.read_bytes())
    version = run([program, "--version"], empty).strip()
    answer = run([program, "diagnose", "batch.yaml", "--at", "2026-04-05"], empty, codes=(3,))
    if not answer.startswith("WARNING: "):
        raise RuntimeError(answer[:500])
    return version


def bounds(*groups: str) -> dict[str, str]:
    """Return {package: lower bound} of the project and of some of its extras."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    listed = [*project["dependencies"]]
    for group in groups:
        listed += project["optional-dependencies"][group]
    found = {}
    for requirement in listed:
        if requirement.startswith("trubshoot["):  # an extra that brings another one
            continue
        match = re.fullmatch(r"([\w.-]+)>=([\w.]+)(?:\s*;.*)?", requirement.strip())
        if match is None:
            raise RuntimeError(f"{requirement} has no plain lower bound")
        found[match[1]] = match[2]
    return found
