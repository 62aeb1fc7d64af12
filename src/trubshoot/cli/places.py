"""The folders of the platform: settings of the user, and what a broken-off interview keeps."""

from __future__ import annotations

import contextlib
import json
import os
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from trubshoot.errors import UnitError
from trubshoot.whole_files import replace_file

NAME = "trubshoot"
SETTINGS = ("units", "cellar")
_FORMAT = 1
_MOST_BYTES = 1_000_000


# kind -> variable and folder under home elsewhere, variable on Windows
_PLACES = {
    "config": ("XDG_CONFIG_HOME", ".config", "APPDATA"),
    "data": ("XDG_DATA_HOME", ".local/share", "APPDATA"),
    "state": ("XDG_STATE_HOME", ".local/state", "LOCALAPPDATA"),
}


def folder(kind: Literal["config", "data", "state"]) -> Path | None:
    """Return the platform's folder for settings, for what lasts, or for what is to go on later.

    None where there is no such folder. Asked on every run, so it is worked out here and not by a
    package that takes longer to load.
    """
    variable, under_home, windows = _PLACES[kind]
    if sys.platform == "win32":
        base = os.environ.get(windows)
        return Path(base) / NAME if base else None
    base = os.environ.get(variable)
    if base:
        return Path(base) / NAME
    try:
        home = Path.home()
    except RuntimeError:
        return None
    if sys.platform == "darwin":
        return home / "Library/Application Support" / NAME
    return home / under_home / NAME


def settings() -> dict[str, str]:
    """Return the user's settings; none when there is no file.

    Raises: UnitError: the file cannot be read, or holds something that is no setting.
    """
    base = folder("config")
    if base is None:
        return {}
    path = base / "config.toml"
    try:
        text = path.read_text("utf-8")
    except (FileNotFoundError, NotADirectoryError):
        return {}
    except (OSError, UnicodeDecodeError) as error:
        raise UnitError(f"the settings in {path} cannot be read: {error}.") from error
    import tomllib

    try:
        found = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise UnitError(f"the settings in {path} cannot be read: {error}.") from error
    for key, value in found.items():
        good = value in ("us", "metric")
        if key == "cellar":  # a whole path, for it must not depend on where one stands
            good = isinstance(value, str) and Path(value).expanduser().is_absolute()
        if key not in SETTINGS or not good:
            raise UnitError(
                f'{path}: "{key} = {value}" is no setting. '
                'Write `units = "us"` or `units = "metric"`, or the whole path of your batches, '
                'such as `cellar = "~/brewing"`.'
            )
    return found


def write_json(path: Path, plain: Any) -> str:
    """Replace a private file by plain data in one step; returns what went wrong, or nothing."""
    text = json.dumps(plain, ensure_ascii=False, indent=1, allow_nan=False)
    try:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        replace_file(path, text.encode("utf-8", "replace"), private=True)
    except OSError as error:
        return error.strerror or str(error)
    return ""


@dataclass(frozen=True)
class Kept:
    """An unfinished interview: when it began, in which units, and its turns."""

    started: str
    units: str | None
    turns: tuple[tuple[str, str], ...]


class Keeper:
    """Keeps the answers of one interview on disk, whole after every answer."""

    def __init__(self, about: Path | None) -> None:
        """Choose the file: one for batches without a file, and one for each file asked about."""
        import hashlib

        own = "" if about is None else hashlib.sha256(str(about.resolve()).encode()).hexdigest()
        base = folder("state") or Path(tempfile.gettempdir()) / NAME
        self.path = base / (f"interview-{own[:12]}.json" if own else "interview.json")

    def read(self) -> Kept | None:
        """Return what is kept; None when there is nothing, or nothing that can be read."""
        try:
            if self.path.stat().st_size > _MOST_BYTES:
                return None
            plain: Any = json.loads(self.path.read_bytes())
            if plain["format"] != _FORMAT:
                return None
            turns = tuple((str(one), str(answer)) for one, answer in plain["turns"])
            units = plain["units"] if plain["units"] in ("us", "metric") else None
            return Kept(str(plain["started"]), units, turns) if turns else None
        except (OSError, ValueError, KeyError, TypeError):
            return None

    def write(self, kept: Kept) -> str:
        """Replace what is kept in one step; returns what went wrong, or nothing."""
        plain = {
            "format": _FORMAT,
            "started": kept.started,
            "units": kept.units,
            "turns": [list(turn) for turn in kept.turns],
        }
        return write_json(self.path, plain)

    def forget(self) -> None:
        """Delete what is kept."""
        with contextlib.suppress(OSError):
            self.path.unlink()
