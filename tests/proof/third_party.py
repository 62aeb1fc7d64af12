"""The packages that come with an installed trubshoot, with their licences, from their metadata.

Run: python -m tests.proof.third_party --write    (writes docs/third_party.md)
"""

from __future__ import annotations

import argparse
import re
import sys
from importlib import metadata
from pathlib import Path

from packaging.requirements import Requirement

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "docs" / "third_party.md"
HEAD = """\
# Third-party notices

trubshoot itself is under the [MIT licence](LICENSE). It ships no code of others: pip installs
these packages beside it, each under its own licence, whose text lies in the package. The table is
made from the metadata of the packages, and a test looks that none is missing.

| package | licence | what it is |
| --- | --- | --- |
"""
TAIL = """
The packages that only the tests use are named in [dependencies](explanation/dependencies.md); they
are not installed with trubshoot. The published works that the knowledge rests on are cited in
[sources](reference/sources.md).
"""
# where the metadata say it in the long form of a classifier, or with the whole text
_SHORT = {
    "MIT License": "MIT",
    "BSD License": "BSD",
    "Python Software Foundation License": "PSF-2.0",
    "Apache Software License": "Apache-2.0",
}


def installed_with() -> list[str]:
    """Return the names of all packages that an installed trubshoot needs, direct or not, sorted."""
    found: dict[str, str] = {}
    waiting = list(_needs("trubshoot"))
    while waiting:
        name = waiting.pop()
        key = re.sub(r"[-_.]+", "-", name).lower()
        if key not in found:
            found[key] = metadata.metadata(name)["Name"]
            waiting += _needs(name)
    return sorted(found.values(), key=str.lower)


def _needs(name: str) -> list[str]:
    listed = _own() if name == "trubshoot" else metadata.requires(name) or []
    needs = [Requirement(line) for line in listed]
    return [
        need.name for need in needs if need.marker is None or need.marker.evaluate({"extra": ""})
    ]


def _own() -> list[str]:
    """Return the requirements of the checkout, whatever is installed."""
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    return list(project["dependencies"])


def licence_of(name: str) -> str:
    """Return the licence that a package states, in short."""
    about = metadata.metadata(name)
    if about.get("License-Expression"):
        return str(about["License-Expression"])
    stated = (about.get("License") or "").strip()
    if stated and "\n" not in stated and len(stated) < 40:
        return stated
    classifiers = [c for c in about.get_all("Classifier") or () if c.startswith("License ::")]
    last = classifiers[-1].rpartition(" :: ")[2] if classifiers else "see the package"
    return _SHORT.get(last, last)


def page() -> str:
    """Return the page as it should be."""
    rows = [
        f"| {name} | {licence_of(name)} | {metadata.metadata(name).get('Summary') or ''} |"
        for name in installed_with()
    ]
    return HEAD + "\n".join(rows) + "\n" + TAIL


def main(arguments: list[str]) -> int:
    """Print the page, or write it."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true")
    if parser.parse_args(arguments).write:
        PAGE.write_text(page(), encoding="utf-8")
    else:
        print(page())
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
