"""Check of the words by which findings, signs and circumstances are known: N07."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from trubshoot.evidence.words import NO, Lexicon, tokens
from trubshoot.lint.remarks import Remark, Subject

# In how many other things' phrases a word may stand before it is too common to stand alone: when
# it is what is left of a longer phrase, and when the phrase was this word. Both are judgement.
SHARED_AS_REST = 8
SHARED_AS_WORD = 20
# In how many each of two words may stand that are all that is left of a longer phrase; judgement.
SHARED_AS_PAIR = 30


@dataclass(frozen=True)
class _Phrase:
    table: str
    owner: str
    text: str
    number: int
    written: int  # words
    left: tuple[str, ...]  # words after reducing


def shrunken(subject: Subject) -> Iterator[Remark]:
    """N07: an alias of which reading leaves nothing, or but one or two very common words."""
    phrases = list(_phrases(subject))
    users: dict[str, set[tuple[str, str]]] = {}
    alone: set[tuple[str, str, str]] = set()
    pairs = {(phrase.table, phrase.owner, phrase.left) for phrase in phrases if phrase.written == 2}
    for phrase in phrases:
        for word in phrase.left:
            users.setdefault(word, set()).add((phrase.table, phrase.owner))
        if phrase.written == 1 and len(phrase.left) == 1:
            alone.add((phrase.table, phrase.owner, phrase.left[0]))
    for phrase in phrases:
        if not phrase.left or phrase.left == (NO,):
            said = "leaves no word to look for."
        elif len(phrase.left) == 2 and phrase.written > 2:
            # "tastes like beer" is heard in "the beer tastes like vinegar"
            if (phrase.table, phrase.owner, phrase.left) in pairs:
                continue  # meant: it stands there as two words too
            others = min(len(users[word]) for word in phrase.left) - 1
            if others < SHARED_AS_PAIR:
                continue
            said = f"comes down to '{' '.join(phrase.left)}', words of {others} other things each."
        elif len(phrase.left) > 1:
            continue
        else:
            word = phrase.left[0]
            others = len(users[word]) - 1
            meant = (phrase.table, phrase.owner, word) in alone
            limit = SHARED_AS_WORD if phrase.written == 1 or meant else SHARED_AS_REST
            if others < limit:
                continue
            said = f"comes down to '{word}', a word of {others} other things."
        yield Remark(
            *_place(subject, phrase),
            "N07",
            f"'{phrase.text}' {said}",
            "Write a phrase with a word of its own, or remove it.",
        )


def _phrases(subject: Subject) -> Iterator[_Phrase]:
    lexicon = Lexicon.of(subject.knowledge)
    knowledge = subject.knowledge
    owners = [("findings", key, entry.aliases) for key, entry in knowledge.findings.items()]
    owners += [("signs", key, entry.aliases) for key, entry in knowledge.signs.items()]
    owners += [("contexts", key, entry.aliases) for key, entry in knowledge.contexts.items()]
    for table, owner, aliases in owners:
        for number, text in enumerate(aliases):
            written = [word for word in tokens(text) if word != ";"]
            left = tuple(sorted(set(lexicon.content(written))))
            yield _Phrase(table, owner, text, number, len(written), left)


def _place(subject: Subject, phrase: _Phrase) -> tuple[str, int]:
    if phrase.table == "findings":
        return subject.at_entry("findings", phrase.owner, "aliases", phrase.number)
    path = subject.raw.table_file(phrase.table, phrase.owner)
    return path, subject.raw.line(path, phrase.owner, "aliases", phrase.number)
