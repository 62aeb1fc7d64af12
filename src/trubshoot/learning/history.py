"""What batches turned out to be: the confirmations in the batch files of one cellar.

A confirmation is a `turned_out` line that names a cause, or says "none of these". Other words after
`turned_out` are a remark; a line marked `sure: guess` is shown but never counted. Of several in one
batch the last counts.
"""

from __future__ import annotations

import difflib
import os
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from trubshoot.batch import Batch, read_batch
from trubshoot.batch.model import Outcome
from trubshoot.batch.reader import MAX_BYTES
from trubshoot.errors import BatchError, Problem
from trubshoot.knowledge_base import KnowledgeBase

NONE_OF_THESE = "none of these"
_NONE = frozenset((NONE_OF_THESE, "none", "none of them", "something else", "another cause"))
_MARK = b"turned_out"
_SUFFIXES = (".yaml", ".yml")
_CLOSE = 0.84  # from this likeness on a misspelt name is taken for the one meant ...
_AHEAD = 0.05  # ... when no other is nearly as like
_ALIKE = 0.55  # from this likeness on a name is offered; judgement


@dataclass(frozen=True)
class Confirmation:
    """What a batch turned out to be; `cause` is empty for "none of these"."""

    cause: str
    sure: bool
    words: str = ""
    at: datetime | None = None
    line: int = 0


@dataclass(frozen=True)
class Confirmed:
    """One batch with its confirmation. `same` tells copies of one batch from other batches."""

    path: Path
    same: tuple[str, str]
    confirmation: Confirmation


@dataclass(frozen=True)
class History:
    """The confirmed batches of one cellar, copies taken once, and files that cannot be read."""

    folder: Path
    batches: tuple[Confirmed, ...] = ()
    unreadable: tuple[Path, ...] = ()


def plain_words(text: str) -> str:
    """Return a name in small letters, its words parted by single blanks."""
    return " ".join(re.findall(r"[a-z0-9]+", text.lower()))


def cause_names(knowledge: KnowledgeBase) -> Mapping[str, str]:
    """Return {plain words: id} for the ids and labels of all causes, and for none of these."""
    names = {plain_words(name): "" for name in _NONE}
    for cause in knowledge.causes.values():
        names[plain_words(cause.label)] = cause.id
        names[plain_words(cause.id)] = cause.id
    return names


def find_cause(knowledge: KnowledgeBase, text: str, path: str = "") -> str:
    """Return the id of the cause that a typed name means; "" for none of these.

    Raises: BatchError: no cause is called like that; names the nearest.
    """
    names = cause_names(knowledge)
    said = plain_words(text)
    if said in names:
        return names[said]
    scored = sorted(
        ((difflib.SequenceMatcher(None, said, name).ratio(), name) for name in names), reverse=True
    )
    best, leader = scored[0]
    others = [score for score, name in scored if names[name] != names[leader]]
    # "too cold" is no slip for "too old": what is a word of another cause was meant as it stands
    known = {word for name in names for word in name.split() if len(word) > 3}
    slips = not known & (set(said.split()) - set(leader.split()))
    if slips and best >= _CLOSE and best - others[0] >= _AHEAD:
        return names[leader]
    within = [name for name in names if said and said in name]
    alike = [name for score, name in scored if score >= _ALIKE]
    near = [key for key in dict.fromkeys(names[name] for name in (*within, *alike)) if key][:5]
    near = near or _of_step(knowledge, said)
    message = f'no cause is called "{text}".'
    mend = "Give the id or the label of a cause, or `none of these` with --words."
    if near:
        shown = "; ".join(f"{key} ({knowledge.causes[key].label})" for key in near)
        message += f" It may be one of: {shown}."
    else:
        mend = f"See what it may be with `trubshoot learn {said or 'map'}`. {mend}"
    raise BatchError([Problem(path, 0, message, mend)])


def _of_step(knowledge: KnowledgeBase, said: str) -> list[str]:
    """Return the causes of a step that goes by these words: "infected" is no single cause."""
    steps = {
        step.id
        for step in knowledge.steps.values()
        if said in {plain_words(name) for name in (step.id, step.label, *step.aliases)}
    }
    return [cause.id for cause in knowledge.causes.values() if cause.step in steps]


def confirmation_of(
    batch: Batch, names: Mapping[str, str], now: datetime | None = None
) -> Confirmation | None:
    """Return what a batch turned out to be; None when nothing was confirmed.

    Args:
        batch: the batch.
        names: what `cause_names` gives.
        now: lines of a later date do not count yet; None lets all count.
    """
    for entry in reversed(batch.log):
        if not isinstance(entry, Outcome) or plain_words(entry.text) not in names:
            continue
        if now is not None and entry.at is not None and entry.at > now:
            continue
        cause = names[plain_words(entry.text)]
        return Confirmation(cause, entry.sure != "guess", entry.words or "", entry.at, entry.line)
    return None


def remarks_of(batch: Batch, names: Mapping[str, str]) -> tuple[str, ...]:
    """Return what stands after `turned_out` and names no cause."""
    return tuple(
        entry.text
        for entry in batch.log
        if isinstance(entry, Outcome) and plain_words(entry.text) not in names
    )


def without_outcome(batch: Batch) -> Batch:
    """Return the batch as if nobody had said what it turned out to be."""
    return batch.model_copy(
        update={"log": tuple(entry for entry in batch.log if not isinstance(entry, Outcome))}
    )


def same_batch(batch: Batch) -> tuple[str, str]:
    """Return what copies of one batch share: its name and the first time of its log."""
    times = [entry.at.isoformat() for entry in batch.log if entry.at is not None]
    return plain_words(batch.name), min(times, default="")


def yaml_files(folder: Path) -> Iterator[Path]:
    """Yield the YAML files in a folder and below, in order of their names.

    Hidden files and folders are left out, and folders that are links are not followed.
    """
    for path in files_below(folder):
        if is_yaml(path):
            yield path


def is_yaml(path: Path) -> bool:
    """Tell whether a file is YAML by its name."""
    return path.suffix.lower() in _SUFFIXES


def files_below(folder: Path) -> Iterator[Path]:
    """Yield every file in a folder and below, hidden ones and linked folders left out."""
    for root, folders, files in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(files):
            if not name.startswith("."):
                yield Path(root, name)


def read_history(folder: Path, knowledge: KnowledgeBase, now: datetime) -> History:
    """Return what the batches of a folder turned out to be.

    Only files in which `turned_out` stands are read as batches, so that a folder of hundreds of
    batches costs little.

    Args:
        folder: the cellar.
        knowledge: names of the causes.
        now: the moment of asking; what was confirmed later is not known yet.
    """
    names = cause_names(knowledge)
    found: dict[tuple[str, str], Confirmed] = {}
    unreadable = []
    for path in yaml_files(folder):
        raw = _raw(path)
        if raw is None:
            unreadable.append(path)
            continue
        if _MARK not in raw:
            continue
        try:
            batch = read_batch(raw, None, str(path))
        except BatchError:
            unreadable.append(path)
            continue
        told = confirmation_of(batch, names, now)
        if told is not None:
            key = same_batch(batch)
            found[key] = Confirmed(path, key, told)
    return History(folder, tuple(found.values()), tuple(unreadable))


def _raw(path: Path) -> bytes | None:
    try:
        with path.open("rb") as handle:
            return handle.read(MAX_BYTES + 1)
    except OSError:
        return None


def counted(batches: Iterable[Confirmed]) -> list[Confirmation]:
    """Return the confirmations that count: those not marked as a guess."""
    return [batch.confirmation for batch in batches if batch.confirmation.sure]
