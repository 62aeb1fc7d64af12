"""The command `web`: it refuses what would open a wrong port, starts quickly, ends cleanly."""

from __future__ import annotations

import re
import signal
import subprocess
import urllib.request
from pathlib import Path

import pytest
from tests.cli.support import EXAMPLES, command, run, surroundings

from trubshoot.cli import web


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("gone",), "folder of the batch files"),
        (("--address", "192.168.1.20"), "--home-network"),
        (("--home-network", "--address", "8.8.8.8"), "home network"),
        (("--home-network", "--address", "0.0.0.0"), "home network"),
        (("--home-network", "--address", "my house"), "not an address"),
        (("--port", "70000"), "no port"),
        (("--units", "stone"), "system of units"),
    ],
)
def test_wrong_wishes_are_refused(
    arguments: tuple[str, ...],
    says: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    """Nothing is opened; the message says what to write instead, with exit code 2."""
    monkeypatch.chdir(tmp_path)
    told = run(capsys, "web", *arguments)
    assert told.code == 2
    assert says in told.err
    assert told.out == ""


def test_what_is_not_installed_is_named(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without the extra the message says how to install it."""
    monkeypatch.setattr(web, "find_spec", lambda name: None)
    told = run(capsys, "web", EXAMPLES)
    assert told.code == 2
    assert "pip install '.[web]'" in told.err


def test_it_serves_until_it_is_interrupted() -> None:
    """The address it prints answers, nobody else is let in, and Ctrl-C ends it with 0."""
    arguments = command("web", EXAMPLES, "--port", "0")
    with subprocess.Popen(
        arguments,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=surroundings(),
    ) as process:
        assert process.stdout is not None
        lines = [process.stdout.readline() for _ in range(4)]
        found = re.search(r"http://127\.0\.0\.1:\d+/", lines[1])
        assert found, lines
        assert lines[2] == "Nobody else can reach it.\n"
        with urllib.request.urlopen(found[0], timeout=30) as answer:
            assert b"Batches" in answer.read()
        process.send_signal(signal.SIGINT)
        _, err = process.communicate(timeout=30)
    assert process.returncode == 0, err
    assert err == ""
