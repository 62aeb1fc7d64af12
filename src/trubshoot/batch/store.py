"""Change a batch file so that it is always the old one or the new one, whole, and read before.

The new text takes the old one's place in one step. A lock keeps a second process waiting; it is
tied to the file itself and ends with the process that holds it, however that ends. A symbolic link
stays one: what it leads to is changed. A second name for the same file (hard link) keeps the old
text.
"""

from __future__ import annotations

import contextlib
import os
import stat
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import NoReturn

from trubshoot.batch.append import LogLine, with_lines, without_last
from trubshoot.batch.head import HeadValue, missing_in_head, with_head
from trubshoot.batch.missing import no_file
from trubshoot.batch.model import Batch
from trubshoot.batch.reader import MAX_BYTES, read_batch
from trubshoot.errors import BatchError, Problem
from trubshoot.whole_files import create_file, replace_file

_TRIES, _PAUSE_S = 3000, 0.01  # half a minute of waiting for another process

Make = Callable[[Batch], Sequence[LogLine]]


@dataclass(frozen=True)
class Written:
    """A batch before and after a change. `before` is None when the old file could not be read."""

    before: Batch | None
    after: Batch
    lines: tuple[str, ...]  # what was added or taken away


def append_lines(
    path: Path, make: Make, now: datetime | None, head: Sequence[HeadValue] = ()
) -> Written:
    """Add lines to the log of a batch file, and values to its head, in one step.

    Args:
        path: the file.
        make: gives the lines for the batch as it stands; none leaves the file untouched.
        now: the clock; dates after it are refused.
        head: values that the head says from now on; what it says already stays.

    Raises: BatchError: the file cannot be read or written, or the new line cannot be read in it;
        the file is then what it was.
    """
    with _locked(path) as real:
        text = _text(real, path)
        before = read_batch(text.encode("utf-8"), now, str(path))
        lines = make(before)
        new = missing_in_head(text, head, str(path))
        if not lines and not new:
            return Written(before, before, ())
        after_text = with_lines(text, lines, str(path)) if lines else text
        after_text = with_head(after_text, new, str(path))
        after = read_batch(after_text.encode("utf-8"), now, str(path))
        _replace(real, path, after_text)
    added = (*(line.flow for line in lines), *(f"{item.group}.{item.pair}" for item in new))
    return Written(before, after, added)


def remove_last(
    path: Path, now: datetime | None, meant: Callable[[str], bool] | None = None
) -> Written:
    """Take the last line of the log away; the same care as `append_lines`.

    Args:
        path: the file.
        now: the clock.
        meant: tells, from the text of the file, whether it still is the one that the line was to
            be taken from; asked under the lock. None: whatever line is the last.

    Raises: BatchError: as `append_lines`, or the file is not the one that was meant.
    """
    with _locked(path) as real:
        text = _text(real, path)
        if meant is not None and not meant(text):
            _refuse(path, "the log has changed since.", "Look at it again, then decide.")
        after_text, removed = without_last(text, str(path))
        after = read_batch(after_text.encode("utf-8"), now, str(path))
        try:
            before = read_batch(text.encode("utf-8"), now, str(path))
        except BatchError:
            before = None  # the line to be taken away may be what is wrong with it
        _replace(real, path, after_text)
    return Written(before, after, (removed,))


def create(path: Path, text: str, now: datetime | None) -> Batch:
    """Write a new batch file; never over another one.

    Raises: BatchError: the text is no batch file, the name is taken, or it cannot be written.
    """
    batch = read_batch(text.encode("utf-8"), now, str(path))
    try:
        create_file(path, text.encode("utf-8"))
    except FileExistsError:
        _refuse(path, "a file of this name is there already.", "Name another file.")
    except OSError as error:
        _refuse(path, f"the file cannot be written: {error.strerror}.", "Check folder and rights.")
    return batch


def _refuse(path: Path, message: str, mend: str) -> NoReturn:
    raise BatchError([Problem(str(path), 0, message, mend)]) from None


@contextlib.contextmanager
def _locked(path: Path) -> Iterator[Path]:
    """Give the real file behind a name, locked against other processes."""
    try:
        real = path.resolve(strict=True)
        if not stat.S_ISREG(real.stat().st_mode):
            _refuse(path, "this is no file.", "Name the batch file itself.")
    except (OSError, RuntimeError) as error:
        if not isinstance(error, OSError):
            _refuse(path, "the link leads round in a circle.", "Name the batch file itself.")
        what, mend = no_file(path, error)
        begin = f" Or begin one with `trubshoot new {path.name}`." if not path.exists() else ""
        _refuse(path, what, mend + begin)
    if not os.access(real, os.W_OK):
        _refuse(path, "the file is write-protected.", "Change its rights, or copy it.")
    with contextlib.ExitStack() as stack:
        try:
            descriptor = _lock(real)
        except OSError as error:
            _refuse(path, f"the file cannot be locked: {error.strerror}.", "Check its rights.")
        if descriptor is None:
            _refuse(path, "another process has been writing this file for long.", "Try again.")
        stack.callback(os.close, descriptor)  # which ends the lock
        yield real


if sys.platform == "win32":
    import msvcrt

    def _lock(real: Path) -> int | None:
        """Return a descriptor that holds the lock; beside the file, which must stay replaceable."""
        descriptor = os.open(real.with_name(f".{real.name}.lock"), os.O_CREAT | os.O_RDWR)
        for _ in range(_TRIES):
            try:
                msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
            except OSError:
                time.sleep(_PAUSE_S)
            else:
                return descriptor
        os.close(descriptor)
        return None

else:
    import fcntl

    def _lock(real: Path) -> int | None:
        """Return a descriptor that holds the lock on the file that now bears the name.

        While one process waits, another may put a new file in the place of the one waited for.
        """
        for _ in range(_TRIES):
            descriptor = os.open(real, os.O_RDONLY)
            try:
                fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                os.close(descriptor)
                time.sleep(_PAUSE_S)
                continue
            except OSError:
                os.close(descriptor)
                raise
            own = os.fstat(descriptor)
            with contextlib.suppress(FileNotFoundError):
                there = real.stat()
                if (own.st_dev, own.st_ino) == (there.st_dev, there.st_ino):
                    return descriptor
            os.close(descriptor)
        return None


def _text(real: Path, path: Path) -> str:
    try:
        with real.open("rb") as handle:
            raw = handle.read(MAX_BYTES + 1)
        return raw.decode("utf-8")
    except OSError as error:
        _refuse(path, f"the file cannot be read: {error.strerror}.", "Check its name.")
    except UnicodeDecodeError:
        read_batch(raw, None, str(path))  # says the line
        _refuse(path, "a character is not UTF-8.", "Save the file as UTF-8 text.")


def _replace(real: Path, path: Path, text: str) -> None:
    """Put a text in the place of a file in one step."""
    raw = text.encode("utf-8")
    if len(raw) > MAX_BYTES:
        _refuse(path, "the file would be larger than 1 MiB.", "Thin out its readings.")
    try:
        replace_file(real, raw, alone=True)
    except OSError as error:
        _refuse(path, f"the file cannot be written: {error.strerror}.", "Check folder and rights.")
