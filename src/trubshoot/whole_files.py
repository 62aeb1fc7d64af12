"""Files that are always the old one or the new one, whole, whenever the writing breaks off.

The new content goes to a hidden file beside the old one, is forced to the disk, and takes the old
one's place in one step. What a killed process left beside a file goes with a later writing of it.
"""

from __future__ import annotations

import contextlib
import os
import stat
import threading
from collections.abc import Iterator
from pathlib import Path

_STALE_S = (
    3600.0  # nothing is being written for an hour: what is older was left by a killed process
)


def replace_file(
    path: Path, content: bytes, *, lasting: bool = True, alone: bool = False, private: bool = False
) -> None:
    """Put content in the place of a file, or of none; rights and owner of the old one are kept.

    Args:
        path: the file; a symbolic link would be replaced, so resolve it before.
        content: all that is to be in it.
        lasting: whether to wait until the disk has it; a cache need not.
        alone: whether a lock keeps everybody else from writing this file.
        private: whether a new file is for its owner only.

    Raises: OSError: it cannot be written; the old file is then untouched and nothing beside it.
    """
    with _beside(path, content, lasting=lasting, alone=alone, private=private) as new:
        new.replace(path)
    if lasting:
        _force_folder(path.parent)


def create_file(path: Path, content: bytes) -> None:
    """Write a file that is not there yet, never over another one.

    Raises:
        FileExistsError: the name is taken.
        OSError: it cannot be written; nothing is left of it then.
    """
    if path.exists() or path.is_symlink():
        raise FileExistsError(str(path))
    with _beside(path, content, lasting=True, alone=False, private=False) as new:
        try:
            os.link(new, path)  # fails where the name has been taken meanwhile
        except FileExistsError:
            raise
        except (OSError, NotImplementedError):  # no second names here: take the name, then fill it
            path.touch(exist_ok=False)
            new.replace(path)
    _force_folder(path.parent)


@contextlib.contextmanager
def _beside(
    path: Path, content: bytes, *, lasting: bool, alone: bool, private: bool
) -> Iterator[Path]:
    """Give a whole file beside `path`; nothing is left of it afterwards, however that ends."""
    new = path.with_name(f".{path.name}.{os.getpid()}-{threading.get_ident()}.new")
    try:
        old = path.stat() if path.exists() else None
        rights = 0o600 if private or old is not None else 0o666  # less what the user's mask takes
        new.unlink(missing_ok=True)
        descriptor = os.open(new, os.O_CREAT | os.O_EXCL | os.O_WRONLY, rights)
        with os.fdopen(descriptor, "wb") as handle:
            handle.write(content)
            handle.flush()
            if old is not None:
                new.chmod(stat.S_IMODE(old.st_mode))
                if hasattr(os, "chown"):
                    with contextlib.suppress(PermissionError):
                        os.chown(new, old.st_uid, old.st_gid)
            if lasting:
                os.fsync(handle.fileno())
        _sweep(path, new, alone=alone)
        yield new
    finally:
        with contextlib.suppress(OSError):
            new.unlink(missing_ok=True)


def _sweep(path: Path, new: Path, *, alone: bool) -> None:
    """Take away what killed processes left beside a file."""
    with contextlib.suppress(OSError):
        since = new.stat().st_mtime - _STALE_S
        for entry in os.scandir(path.parent):
            ours = entry.name.startswith(f".{path.name}.") and entry.name.endswith(".new")
            if ours and entry.name != new.name and (alone or entry.stat().st_mtime < since):
                Path(entry.path).unlink(missing_ok=True)


def _force_folder(folder: Path) -> None:
    """Force the name of a file to the disk, where the system can."""
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)
