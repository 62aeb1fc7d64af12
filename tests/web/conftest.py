"""One server and one browser for all tests of the pages."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

import pytest
from tests.web.support import PHONE, Open, Served, fill, serving

from trubshoot.diagnosis import Diagnostician

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

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


@pytest.fixture
def open_page(browser: Browser, served: Served) -> Open:
    """Give what opens a page of its own; at its end nothing may have left the machine."""

    @contextmanager
    def opened(
        size: tuple[int, int] = PHONE, scheme: Any = "light", script: bool = True, **more: Any
    ) -> Iterator[Page]:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            color_scheme=scheme,
            java_script_enabled=script,
            base_url=served.url,
            **more,
        )
        asked: list[str] = []
        wrong: list[str] = []
        context.on("request", lambda request: asked.append(request.url))
        page = context.new_page()
        page.set_default_timeout(60_000)  # the machine may be busy
        page.on("console", lambda told: wrong.append(told.text))
        page.on("pageerror", lambda error: wrong.append(str(error)))
        try:
            yield page
            assert asked
            own = f"127.0.0.1:{served.port}"
            assert {urlsplit(url).netloc for url in asked} == {own}
            assert [text for text in wrong if "404" not in text and "422" not in text] == []
        finally:
            context.close()

    return opened


@pytest.fixture
def as_it_was(served: Served) -> Iterator[None]:
    """Put the cellar back after each test."""
    yield
    for path in served.folder.iterdir():
        path.unlink()
    fill(served.folder)


@pytest.fixture(scope="session")
def axe() -> str:
    """Return the script of axe-core, which comes with a package for tests."""
    return resources.files("axe_playwright_python").joinpath("axe.min.js").read_text("utf-8")
