"""A name by which no file can be read: what is wrong, and the name that was probably meant."""

from __future__ import annotations

import difflib
from pathlib import Path

_ENDINGS = (".yaml", ".yml")


def no_file(path: Path, error: OSError) -> tuple[str, str]:
    """Return what is wrong, and what to write instead.

    Args:
        path: the name as given.
        error: what came of reading it.
    """
    try:
        if path.is_dir():
            named = "".join(f", such as {path / name}" for name in _batches(path)[:1])
            return "this is a folder.", f"Name a batch file in it{named}."
        if not path.exists() and path.parent.is_dir():
            return "there is no such file.", _meant(path)
    except OSError:
        pass  # a folder that cannot be looked into
    return f"the file cannot be read: {error.strerror}.", "Check its name."


def _batches(folder: Path) -> list[str]:
    files = (item for item in folder.iterdir() if item.is_file())
    return sorted(item.name for item in files if item.suffix.lower() in _ENDINGS)


def _meant(path: Path) -> str:
    """Return the question for the nearest name beside it, with or without its ending."""
    names = {Path(name).stem.lower(): name for name in reversed(_batches(path.parent))}
    near = difflib.get_close_matches(path.stem.lower(), names, n=1)
    if near:
        return f"Did you mean {path.parent / names[near[0]]}?"
    where = "in the folder you are in" if path.parent == Path() else f"in {path.parent}"
    return f"Check its name; it was looked for {where}."
