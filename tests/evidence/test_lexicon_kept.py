"""The phrases that are kept from one start to the next are the phrases worked out anew."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from trubshoot.evidence import lexicon as module
from trubshoot.evidence.words import Lexicon, read_text
from trubshoot.knowledge_base import KnowledgeBase


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Return an empty cache folder."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    return tmp_path / "trubshoot"


def kept_files(folder: Path) -> list[Path]:
    """Return what is kept of phrases."""
    return sorted(folder.glob("phrases-*.json"))


def test_kept_phrases_are_the_fresh_ones(folder: Path, knowledge: KnowledgeBase) -> None:
    """Every word leads to the same phrases in the same order, with all that is known of them."""
    fresh, again = Lexicon.of(knowledge), Lexicon.of(knowledge)
    assert not fresh.kept
    assert set(again.kept) == set(fresh.by_word)
    assert not again.by_word
    for word in fresh.by_word:
        assert list(again.phrases(word).items()) == list(fresh.by_word[word].items())
    for name in ("by_word", "orders", "said", "single", "joined", "findings", "synonyms", "beside"):
        assert getattr(again, name) == getattr(fresh, name)
    assert not again.kept


def test_only_what_a_text_needs_is_looked_at(folder: Path, knowledge: KnowledgeBase) -> None:
    """A text is read alike, and most of what was kept stays unread."""
    text = "smells of rotten eggs, no bottle burst, tastes sour"
    fresh, again = Lexicon.of(knowledge), Lexicon.of(knowledge)
    assert read_text(again, text) == read_text(fresh, text) != ()
    assert len(again.by_word) < 20 < len(again.kept)
    assert again.nearest("diacetil butterry") == fresh.nearest("diacetil butterry") != ()


def test_changed_phrases_are_reduced_again(folder: Path, knowledge: KnowledgeBase) -> None:
    """One phrase more, or another synonym, and nothing kept before is used."""
    Lexicon.of(knowledge)
    name, sign = next(iter(knowledge.signs.items()))
    more = sign.model_copy(update={"aliases": (*sign.aliases, "quokka dance")})
    wider = Lexicon.of(replace(knowledge, signs={**knowledge.signs, name: more}))
    assert [target.id for target, _, _ in read_text(wider, "a quokka dance")] == [name]
    fewer = replace(knowledge, synonyms={})
    assert not Lexicon.of(fewer).kept
    assert len(kept_files(folder)) == 3


def test_changed_code_reduces_again(
    folder: Path, knowledge: KnowledgeBase, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Other code that reduces phrases does not take what the old code kept."""
    Lexicon.of(knowledge)
    other = tmp_path / "clauses.py"
    other.write_text("# other code\n", encoding="utf-8")
    monkeypatch.setattr(module.clauses, "__file__", str(other))
    assert not Lexicon.of(knowledge).kept
    assert len(kept_files(folder)) == 2
    other.unlink()
    assert not Lexicon.of(knowledge).kept  # code that cannot be read: nothing is kept or believed
    assert len(kept_files(folder)) == 2


def test_damaged_file_is_not_believed(folder: Path, knowledge: KnowledgeBase) -> None:
    """One letter changed, and the phrases are reduced again and the file is replaced."""
    fresh = Lexicon.of(knowledge)
    path = kept_files(folder)[0]
    good = path.read_bytes()
    path.write_bytes(good.replace(b"burst", b"burts", 1))
    again = Lexicon.of(knowledge)
    assert not again.kept
    assert again.by_word == fresh.by_word
    assert path.read_bytes() == good
