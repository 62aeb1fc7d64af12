import pytest

from trubshoot.errors import KnowledgeError
from trubshoot.safety import Level


def test_levels_are_ordered():
    """NONE < NOTICE < CAUTION < WARNING < DANGER (safety dossier, section 7)."""
    assert sorted(Level) == [Level.NONE, Level.NOTICE, Level.CAUTION, Level.WARNING, Level.DANGER]


def test_level_from_word():
    """A hazard file names its level in lower case."""
    assert Level.from_word("danger") is Level.DANGER


@pytest.mark.parametrize("word", ["none", "DANGER", "severe", ""])
def test_unknown_level_is_refused(word):
    """A level that does not exist is refused and the known ones are named."""
    with pytest.raises(KnowledgeError, match="Use notice, caution, warning, danger"):
        Level.from_word(word)
