"""The five hazard levels and their signal words."""

from __future__ import annotations

from enum import IntEnum

from trubshoot.errors import KnowledgeError, Problem


class Level(IntEnum):
    """How bad it gets when nobody acts, in the order of the ANSI Z535 signal words.

    DANGER: death or serious injury will follow; WARNING: it could; CAUTION: a minor or moderate
    injury could; NOTICE: no injury hazard of its own. The name is the one signal word of a block.
    Source: a summary of ANSI Z535.4 was read, not the standard.
    """

    NONE = 0
    NOTICE = 1
    CAUTION = 2
    WARNING = 3
    DANGER = 4

    @classmethod
    def from_word(cls, word: str, path: str = "knowledge/hazards") -> Level:
        """Return the level that a knowledge file names in lower case.

        Raises:
            KnowledgeError: the word is none of notice, caution, warning, danger.
        """
        words = {level.name.lower(): level for level in cls if level is not cls.NONE}
        if word not in words:
            known = ", ".join(words)
            raise KnowledgeError([Problem(path, 0, f"unknown level {word!r}.", f"Use {known}.")])
        return words[word]
