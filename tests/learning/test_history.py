"""What batches turned out to be: which lines count, copies, names, and files left alone."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import pytest

from trubshoot.batch import read_batch
from trubshoot.errors import BatchError
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.learning.history import (
    cause_names,
    confirmation_of,
    counted,
    find_cause,
    read_history,
    remarks_of,
    without_outcome,
)

NOW = datetime(2026, 6, 1, 12)


def _log(*lines: str, name: str = "x", start: str = "2026-03-01") -> str:
    log = [f"  - {{at: {start}, did: pitched}}", *(f"  - {{{line}}}" for line in lines)]
    return "\n".join([f"batch: {name}", "log:", *log, ""])


def test_every_cause_is_found_by_id_and_label(knowledge: KnowledgeBase) -> None:
    """No two causes share a name, so each is found by its own."""
    for cause in knowledge.causes.values():
        assert find_cause(knowledge, cause.id) == cause.id
        assert find_cause(knowledge, cause.label.upper()) == cause.id
    assert len(cause_names(knowledge)) >= 2 * len(knowledge.causes) - 5


@pytest.mark.parametrize("typed", ["none of these", "None", "none-of-them"])
def test_none_of_these(typed: str, knowledge: KnowledgeBase) -> None:
    """None of these is no cause, and no mistake either."""
    assert find_cause(knowledge, typed) == ""


@pytest.mark.parametrize("typed", ["priming", "", "contamination", "zz"])
def test_vague_names_are_refused(typed: str, knowledge: KnowledgeBase) -> None:
    """A word that fits several causes, or none, is never guessed."""
    with pytest.raises(BatchError, match="no cause is called"):
        find_cause(knowledge, typed)


def test_a_word_of_another_cause_is_no_slip(knowledge: KnowledgeBase) -> None:
    """ "Too cold" is one letter from "too old", and something else."""
    with pytest.raises(BatchError, match="too_old"):
        find_cause(knowledge, "too cold")
    assert find_cause(knowledge, "to old") == "too_old"


def test_last_confirmation_counts(knowledge: KnowledgeBase) -> None:
    """The last line that names a cause counts; remarks after it do not cancel it."""
    batch = read_batch(
        _log(
            "at: 2026-04-01, turned_out: weak_glass",
            "at: 2026-04-02, turned_out: Priming too much, sure: guess",
            "at: 2026-04-03, turned_out: priming_too_much, sure: guess, words: the scale",
            "at: 2026-04-04, turned_out: we drank it all the same",
        )
    )
    names = cause_names(knowledge)
    told = confirmation_of(batch, names)
    assert told is not None
    assert (told.cause, told.sure, told.words) == ("priming_too_much", False, "the scale")
    assert remarks_of(batch, names)[-1] == "we drank it all the same"
    earlier = confirmation_of(batch, names, datetime(2026, 4, 1, 12))
    assert earlier is not None
    assert (earlier.cause, earlier.sure) == ("weak_glass", True)
    assert confirmation_of(without_outcome(batch), names) is None


def test_folder_is_read_once_for_each_batch(tmp_path: Path, knowledge: KnowledgeBase) -> None:
    """Copies count once, guesses never; hidden files, other files and broken ones are left out."""
    sure = "at: 2026-04-01, turned_out: weak_glass"
    (tmp_path / "old").mkdir()
    (tmp_path / ".git").mkdir()
    for name in ("a.yaml", "old/a.yaml", ".git/a.yaml"):
        (tmp_path / name).write_text(_log(sure, name="a"), "utf-8")
    (tmp_path / "b.yml").write_text(_log(sure + ", sure: guess", name="b"), "utf-8")
    (tmp_path / "c.yaml").write_text(_log(name="c"), "utf-8")
    (tmp_path / "d.txt").write_text(_log(sure, name="d"), "utf-8")
    (tmp_path / "e.yaml").write_text(_log(sure, "saww: nothing", name="e"), "utf-8")
    (tmp_path / "f.yaml").write_text(
        _log("at: 2026-05-02, turned_out: none of these, words: a wasp", name="f"), "utf-8"
    )
    history = read_history(tmp_path, knowledge, NOW)
    assert [batch.same[0] for batch in history.batches] == ["a", "b", "f"]
    assert [told.cause for told in counted(history.batches)] == ["weak_glass", ""]
    assert [path.name for path in history.unreadable] == ["e.yaml"]
    before = read_history(tmp_path, knowledge, datetime(2026, 4, 15))
    assert [batch.same[0] for batch in before.batches] == ["a", "b"]
