"""The beginning and the end of the process: streams that take every letter, a quiet end."""

from __future__ import annotations

import atexit
import codecs
import contextlib
import os
import signal
import sys
from pathlib import Path
from typing import NoReturn, TextIO

from trubshoot.cli.exits import FAILED, INTERRUPTED
from trubshoot.errors import printable

_ESCAPED = "trubshoot.escaped"


def prepare() -> None:
    """Make the streams and the interrupt ready; before anything else is imported."""
    # a closed stream is None to Python, and its number would go to the next file opened
    for name, mode in (("stdin", "r"), ("stdout", "w"), ("stderr", "w")):
        if getattr(sys, name) is None:
            # open to the end of the process, in place of the stream
            setattr(sys, name, Path(os.devnull).open(mode, encoding="utf-8"))  # noqa: SIM115
    codecs.register_error(_ESCAPED, _escaped)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=_ESCAPED)
    # an interrupt inside a callback cannot be raised there: Python would print it and go on
    sys.unraisablehook = _unraisable


def as_typed(word: str) -> str:
    """Return a word of the command line in its letters, also where only ASCII is known.

    Signs that would steer a terminal go: what is typed is shown again.
    """
    try:
        word = os.fsencode(word).decode("utf-8")
    except UnicodeError:
        return word  # whoever reads it says that it cannot be stored
    return printable(word).replace("\n", " ")


def _escaped(error: UnicodeError) -> tuple[str, int]:
    r"""Return what stands for letters that the stream does not have: \u00b0, as JSON writes it."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    raw = error.object[error.start : error.end].encode("utf-16-be", "surrogatepass")
    units = (raw[at : at + 2].hex() for at in range(0, len(raw), 2))
    return "".join(f"\\u{unit}" for unit in units), error.end


def _unraisable(unraisable: sys.UnraisableHookArgs) -> None:
    if issubclass(unraisable.exc_type, KeyboardInterrupt):
        os._exit(INTERRUPTED)
    sys.__unraisablehook__(unraisable)


def leave(code: int) -> NoReturn:
    """Write out what is left to be written and end the process at once.

    Without taking down the interpreter, which would walk the whole knowledge once more and could
    still be interrupted. Nothing is left to be done there: files are written where they are opened.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    problem = _flushed(sys.stdout)
    if problem is not None:
        code = FAILED
        if not isinstance(problem, BrokenPipeError):
            with contextlib.suppress(OSError, ValueError):
                sys.stderr.write(f"trubshoot: the answer cannot be written: {problem.strerror}.\n")
    _flushed(sys.stderr)
    if "multiprocessing" in sys.modules:  # gives back what the processes shared
        atexit._run_exitfuncs()
    os._exit(code)


def _flushed(stream: TextIO) -> OSError | None:
    try:
        stream.flush()
    except OSError as error:
        return error
    except ValueError:  # closed by somebody else
        pass
    return None
