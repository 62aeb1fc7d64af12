"""A cache of what was made of the knowledge files, keyed by the hash of what it was made from.

It can never be stale: the key of the parsed files covers every byte of every file and the program's
version, and the content carries its own hash. It holds plain JSON, is written atomically, and when
it cannot be read or written all is simply made again. Each table stands on a line of its own, so
that it can be checked straight from its text.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
from contextlib import suppress
from pathlib import Path
from typing import Any

from trubshoot.whole_files import replace_file


def cache_folder() -> Path | None:
    """Return the platform's folder for caches of this program, or None when there is none."""
    if sys.platform == "win32":
        base = os.environ.get("LOCALAPPDATA")
        return Path(base) / "trubshoot" / "cache" if base else None
    base = os.environ.get("XDG_CACHE_HOME")
    if base:
        return Path(base) / "trubshoot"
    try:
        home = Path.home()
    except RuntimeError:
        return None
    return home / ("Library/Caches" if sys.platform == "darwin" else ".cache") / "trubshoot"


def read(digest: str, kind: str = "knowledge") -> dict[str, bytes] | None:
    """Return the tables kept for these contents, each as the JSON that was kept, or None."""
    folder = cache_folder()
    if folder is None:
        return None
    try:
        head, _, body = (folder / f"{kind}-{digest[:32]}.json").read_bytes().partition(b"\n")
        if head.decode("ascii") != hashlib.sha256(digest.encode() + body).hexdigest():
            return None
        tables = {}
        for line in body.splitlines()[1:-1]:  # without the braces
            name, _, rows = line.partition(b":")
            tables[str(json.loads(name))] = rows.removesuffix(b",")
    except (OSError, ValueError):
        return None
    return tables or None


def write(digest: str, plain: dict[str, Any], kind: str = "knowledge") -> None:
    """Keep the plain tables for these contents; older ones are removed."""
    folder = cache_folder()
    if folder is None:
        return
    lines = [
        f"{json.dumps(name)}:{json.dumps(rows, ensure_ascii=False, separators=(',', ':'))}"
        for name, rows in plain.items()
    ]
    body = ("{\n" + ",\n".join(lines) + "\n}").encode("utf-8")
    head = hashlib.sha256(digest.encode() + body).hexdigest().encode("ascii")
    name = f"{kind}-{digest[:32]}.json"
    with suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        replace_file(folder / name, head + b"\n" + body, lasting=False)
        kept = sorted(folder.glob(f"{kind}-*.json"), key=lambda path: path.stat().st_mtime)
        for old in kept[:-4]:
            old.unlink(missing_ok=True)
