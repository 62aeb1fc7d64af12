"""Where the check values live: tests read them, the product never does."""

from __future__ import annotations

import csv
import os
from pathlib import Path


def shared(relative: str) -> Path:
    """Return the path of a file in the shared folder beside the checkout; it must exist."""
    root = os.environ.get("TRUBSHOOT_SHARED")
    folder = Path(root) if root else Path(__file__).resolve().parents[2] / "shared"
    path = folder / relative
    if not path.exists():
        raise FileNotFoundError(f"check values not found: {path}")
    return path


def rows(table: str) -> list[dict[str, str]]:
    """Return the rows of one of the shared CSV tables."""
    with shared(f"tables/{table}").open(encoding="utf-8", newline="") as handle:
        return list(csv.DictReader(handle))
