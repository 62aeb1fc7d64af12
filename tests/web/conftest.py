"""One server and one browser for all tests of the pages."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from tests.web.support import Served, fill, serving

from trubshoot.diagnosis import Diagnostician

if TYPE_CHECKING:
    from playwright.sync_api import Browser

ARGUMENTS = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
)
MISSING = (
    "no Chromium here, and the tests of the pages need one: apt-get install chromium "
    "(.ci/run does that by itself)"
)


@pytest.fixture(scope="session")
def served(
    diagnostician: Diagnostician, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Served]:
    """Give a server over the examples."""
    folder = tmp_path_factory.mktemp("cellar")
    fill(folder)
    diagnostician.lexicon  # noqa: B018 - built once, before anybody waits
    with serving(diagnostician, folder) as running:
        yield running


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Give a real browser."""
    from playwright.sync_api import sync_playwright

    path = shutil.which("chromium") or shutil.which("chromium-browser")
    assert path is not None, MISSING
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=path, args=list(ARGUMENTS))
        yield started
        started.close()


@pytest.fixture
def cellar(tmp_path: Path) -> Path:
    """Return a new folder with the examples in it."""
    folder = tmp_path / "cellar"
    folder.mkdir()
    fill(folder)
    return folder
