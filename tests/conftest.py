"""Fixtures that many tests share: the real knowledge, and a diagnostician made ready from it."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from trubshoot.diagnosis import Diagnostician
from trubshoot.knowledge_base import KnowledgeBase, load_knowledge

# What of a user's settings would change what the tests see.
_FROM_OUTSIDE = ("TRUBSHOOT_KNOWLEDGE",)


@pytest.fixture(scope="session", autouse=True)
def private_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Keep the tests out of the user's cache, and the user's settings out of the tests."""
    folder = tmp_path_factory.mktemp("cache")
    patch = pytest.MonkeyPatch()
    patch.setenv("XDG_CACHE_HOME", str(folder))
    patch.setenv("XDG_CONFIG_HOME", str(folder / "config"))
    patch.setenv("XDG_STATE_HOME", str(folder / "state"))
    patch.setenv("XDG_DATA_HOME", str(folder / "data"))
    for name in _FROM_OUTSIDE:
        if name in os.environ:
            patch.delenv(name)
    yield folder
    patch.undo()


@pytest.fixture(scope="session")
def knowledge(private_cache: Path) -> KnowledgeBase:
    """Return the real knowledge base."""
    return load_knowledge()


@pytest.fixture(scope="session")
def diagnostician(knowledge: KnowledgeBase) -> Diagnostician:
    """Return a diagnostician over the real knowledge base."""
    return Diagnostician(knowledge)
