"""The cellar: the one folder whose batch files the pages may read and write, and nothing else.

A name from a browser is never made into a path. It is looked for among the names that a listing of
the folder gives: plain files of the right ending that say `batch:`; no links, no folders, nothing
hidden.
"""

from __future__ import annotations

import os
import re
import stat
from dataclasses import dataclass
from pathlib import Path

from trubshoot.batch.new_sheet import file_stem
from trubshoot.batch.reader import MAX_BYTES
from trubshoot.errors import UnitError

ENDINGS = (".yaml", ".yml")
MOST_FILES = 500
_SAYS_BATCH = re.compile(rb"^[ \t]*[{\"']*[ \t]*batch[\"']?[ \t]*:", re.MULTILINE)


@dataclass(frozen=True)
class BatchFile:
    """One batch file as it stands: its name in the folder, its path, and its bytes."""

    name: str
    path: Path
    raw: bytes


class Cellar:
    """The batch files of one folder."""

    def __init__(self, folder: Path) -> None:
        """Take the folder. Raises UnitError: it is none, or cannot be listed."""
        try:
            self.folder = folder.resolve(strict=True)
            if not self.folder.is_dir():
                raise NotADirectoryError(0, "it is no folder")
            with os.scandir(self.folder) as entries:
                next(entries, None)
        except (OSError, RuntimeError) as error:
            why = getattr(error, "strerror", None) or "it leads round in a circle"
            raise UnitError(
                f"{folder} cannot be used as the folder of the batch files: {why}. "
                "Name the folder they are in: trubshoot web FOLDER."
            ) from error

    def names(self) -> list[str]:
        """Return the names of the files that may be batch files, in order."""
        found = []
        with os.scandir(self.folder) as entries:
            for entry in entries:
                if entry.name.startswith(".") or not entry.name.lower().endswith(ENDINGS):
                    continue
                if entry.is_file(follow_symlinks=False) and _can_be_said(entry.name):
                    found.append(entry.name)
        return sorted(found)[:MOST_FILES]

    def files(self) -> list[BatchFile]:
        """Return every batch file of the folder."""
        return [file for name in self.names() if (file := self._read(name)) is not None]

    def file(self, name: str) -> BatchFile | None:
        """Return the batch file of this very name; None when the cellar has none."""
        return self._read(name) if name in self.names() else None

    def path(self, name: str) -> Path | None:
        """Return where a batch file lies, to be written; None when the cellar has none."""
        file = self.file(name)
        return None if file is None else file.path

    def new_path(self, name: str) -> Path:
        """Return where the file of a new batch belongs: in this folder, called after the batch.

        Raises: UnitError: the folder holds as many files as the pages show.
        """
        if len(self.names()) >= MOST_FILES:
            raise UnitError(
                f"this folder holds {MOST_FILES} batch files, as many as the pages show. Move old "
                "ones to another folder, or serve another folder."
            )
        return self.folder / f"{file_stem(name)}.yaml"

    def _read(self, name: str) -> BatchFile | None:
        """Read a listed file; None when it is a link by now, or does not say `batch:`."""
        path = self.folder / name
        try:
            descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0))
            with os.fdopen(descriptor, "rb") as handle:
                if not stat.S_ISREG(os.fstat(descriptor).st_mode):
                    return None
                raw = handle.read(MAX_BYTES + 1)
        except OSError:
            return None
        return BatchFile(name, path, raw) if _SAYS_BATCH.search(raw) else None


def _can_be_said(name: str) -> bool:
    """Tell whether a name can stand in an address and on a page."""
    try:
        name.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return name.isprintable() and "/" not in name and "\\" not in name
