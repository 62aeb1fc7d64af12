"""Install from nothing, as a user does: wheel, sdist and an application of its own; with network.

Run: python -m tests.proof.install

Everything is built from the checkout, then used without it: in new environments, from empty
folders, with the dependencies that the index gives today. The quick half of this is a test
(tests/test_packaging.py), which needs no network.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path

from tests.proof.environments import build, new_environment, run, try_out


def _installed(folder: Path, what: Path) -> Path:
    programs = new_environment(folder)
    run([programs / "python", "-m", "pip", "install", "--quiet", what], folder)
    return programs / "trubshoot"


def from_wheel(folder: Path) -> str:
    """Install the wheel into a new environment."""
    return try_out(_installed(folder, build(folder, "wheel")), folder)


def from_sdist(folder: Path) -> str:
    """Install the sdist into a new environment; the index also gives what builds it."""
    return try_out(_installed(folder, build(folder, "sdist")), folder)


def as_application(folder: Path) -> str:
    """Install as an application: an environment nobody looks into, and a link on the path."""
    program = _installed(folder, build(folder, "wheel"))
    links = folder / "links"
    links.mkdir()
    (links / "trubshoot").symlink_to(program)
    os.environ["PATH"] = f"{links}{os.pathsep}{os.environ['PATH']}"
    return try_out(Path("trubshoot"), folder)


def main() -> int:
    """Install in every way and print the version each of them tells."""
    for way in (from_wheel, from_sdist, as_application):
        start = time.perf_counter()
        with tempfile.TemporaryDirectory() as folder:
            version = way(Path(folder))
        print(f"{way.__name__}: {version} ({time.perf_counter() - start:.0f} s)", flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
