"""Where the knowledge files are: named by the user, shipped in the package, or in the checkout."""

from __future__ import annotations

import os
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path

from trubshoot.errors import KnowledgeError, Problem

VARIABLE = "TRUBSHOOT_KNOWLEDGE"


def knowledge_folder(named: str | Path | None = None) -> Traversable:
    """Return the folder with the knowledge files.

    Taken in this order: `named`, the environment variable TRUBSHOOT_KNOWLEDGE, the folder shipped
    inside the installed package, the checkout's top-level `knowledge/`.

    Raises: KnowledgeError when none of them is a folder.
    """
    chosen = named or os.environ.get(VARIABLE)
    if chosen:
        folder = Path(chosen)
        if folder.is_dir():
            return folder
        raise KnowledgeError(
            [Problem(str(folder), 0, "is not a folder of knowledge files.", f"Unset {VARIABLE}.")]
        )
    shipped = resources.files("trubshoot") / "knowledge"
    if shipped.is_dir():
        return shipped
    checkout = Path(__file__).resolve().parents[3] / "knowledge"
    if checkout.is_dir():
        return checkout
    raise KnowledgeError(
        [
            Problem(
                str(checkout),
                0,
                f"no knowledge here, and none in the package ({shipped}).",
                "Install trubshoot again.",
            )
        ]
    )


def yaml_files(folder: Traversable) -> list[tuple[str, Traversable]]:
    """Return (path relative to the folder, file) of every YAML file, sorted by path."""
    found: list[tuple[str, Traversable]] = []

    def walk(place: Traversable, prefix: str) -> None:
        for item in sorted(place.iterdir(), key=lambda entry: entry.name):
            name = f"{prefix}{item.name}"
            if item.is_dir():
                walk(item, f"{name}/")
            elif item.name.endswith(".yaml"):
                found.append((name, item))

    walk(folder, "")
    return found
