"""The lower bounds of the dependencies are true: a core of the tests passes with exactly these.

Run: python -m tests.proof.lowest

Makes an environment with the lowest version of every package that pyproject.toml allows (network
needed), installs trubshoot there and runs the tests that need nothing else. Bounds of the tests'
own packages are checked only where these tests use them.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path

from tests.proof.environments import ROOT, bounds, clean_surroundings, new_environment, run

# run by the packages below; the rest of the tests compares with reference libraries
CORE = (
    *("tests/batch", "tests/cli", "tests/diagnosis/test_diagnose.py", "tests/evidence"),
    *("tests/diagnosis/test_advice.py", "tests/diagnosis/test_next_check.py", "tests/examples"),
    *("tests/interview/test_machine.py", "tests/knowledge_base/test_loader.py", "tests/rules"),
    *("tests/report", "tests/test_layers.py", "tests/test_yaml_lines.py"),
)
FOR_TESTS = ("hatchling", "hypothesis", "pytest")


def main() -> int:
    """Install the lowest versions, run the core of the tests, print what was installed."""
    lowest = bounds("test")
    needed = {**bounds("web"), **{name: lowest[name] for name in FOR_TESTS}}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        python = new_environment(folder) / "python"
        pins = [f"{package}=={version}" for package, version in needed.items()]
        run([python, "-m", "pip", "install", "--quiet", *pins], folder)
        run([python, "-m", "pip", "install", "--quiet", "--no-deps", ROOT], folder)
        print(run([python, "-m", "pip", "list", "--format", "freeze"], folder), flush=True)
        command = [str(python), "-m", "pytest", "-q", "-p", "no:cacheprovider", *CORE]
        surroundings = clean_surroundings(folder)
        return subprocess.run(command, cwd=ROOT, env=surroundings, check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
