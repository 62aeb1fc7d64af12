"""The interview on a terminal: through a pseudo-terminal, in tmux, and in this process."""

from __future__ import annotations

import contextlib
import fcntl
import json
import os
import pty
import re
import select
import shutil
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path

import pytest
from tests.cli.support import EXAMPLES, ROOT, command, run, surroundings
from tests.interview.session import hold_session

from trubshoot.cli import places

PATIENCE_S = 40.0
FULL = "It tastes sour, no film. OG 1.053, 3 weeks at 68F, 5 oz corn sugar in 5 gallons"


def _take_terminal() -> None:
    """Make standard input the terminal that ctrl-C comes from."""
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)


class Terminal:
    """A program at a pseudo-terminal of 80 columns."""

    def __init__(self, folder: Path, *arguments: str, **extra: str) -> None:
        """Start `trubshoot` with its state and settings in a folder."""
        self.master, slave = pty.openpty()
        places_ = {"XDG_STATE_HOME": str(folder / "state"), "XDG_CONFIG_HOME": str(folder / "set")}
        self.process = subprocess.Popen(
            command(*arguments),
            stdin=slave,
            stdout=slave,
            stderr=slave,
            cwd=folder,
            env=surroundings(COLUMNS="80", TERM="dumb", NO_COLOR="1", **places_, **extra),
            start_new_session=True,
            preexec_fn=_take_terminal,
        )
        os.close(slave)
        self.shown = ""
        self.seen = 0

    def wait_for(self, words: str) -> str:
        """Return what is shown up to some words, which must come after what was waited for."""
        end = time.monotonic() + PATIENCE_S
        while (place := self.shown.find(words, self.seen)) < 0:
            ready, _, _ = select.select([self.master], [], [], 0.2)
            data = b""
            if ready:
                try:
                    data = os.read(self.master, 65536)
                except OSError:
                    data = b""
            self.shown += data.decode("utf-8", "replace").replace("\r\n", "\n")
            gone = ready and not data
            assert not (gone and words not in self.shown[self.seen :]), self.shown
            assert time.monotonic() < end, f"waited for {words!r} in:\n{self.shown}"
        start, self.seen = self.seen, place + len(words)
        return self.shown[start : self.seen]

    def say(self, text: str, *, end: bytes = b"\n") -> None:
        """Type a line once the program waits for one."""
        self.wait_for("> ")
        os.write(self.master, text.encode("utf-8", "surrogateescape") + end)

    def code(self) -> int:
        """Return the exit code, once all is shown."""
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            ready, _, _ = select.select([self.master], [], [], 0.2)
            if ready:
                try:
                    data = os.read(self.master, 65536)
                except OSError:
                    break
                if not data:
                    break
                self.shown += data.decode("utf-8", "replace").replace("\r\n", "\n")
            elif self.process.poll() is not None:
                break
        assert "Traceback" not in self.shown
        return self.process.wait(PATIENCE_S)

    def close(self) -> None:
        """End what still runs."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        os.close(self.master)


Start = Callable[..., Terminal]


@pytest.fixture(name="start")
def _start(tmp_path: Path) -> Iterator[Start]:
    open_ones: list[Terminal] = []

    def begin(*arguments: str, **extra: str) -> Terminal:
        open_ones.append(Terminal(tmp_path, *arguments, **extra))
        return open_ones[-1]

    yield begin
    for one in open_ones:
        one.close()


def kept(folder: Path) -> list[list[str]]:
    """Return the turns that are kept in a folder."""
    plain = json.loads((folder / "state" / "trubshoot" / "interview.json").read_text("utf-8"))
    turns: list[list[str]] = plain["turns"]
    return turns


def test_a_whole_interview_at_a_terminal(start: Start, tmp_path: Path) -> None:
    """From first words to a saved file that gives the very same diagnosis."""
    at = ("--at", "2026-11-20 18:00")
    talk = start("diagnose", *at)
    talk.say(FULL)
    heard = talk.wait_for("Is that right?")
    for words in ("Sour or tart", "Not there", "1.053", "68 F", "5 oz corn sugar", "5 gallons"):
        assert words in heard
    talk.say("yes")
    talk.wait_for("Did any bottle of this batch")
    talk.say("no")
    talk.wait_for("Sour in which way?")
    talk.say("?")
    talk.wait_for("Swirl a glass")
    talk.say("2")
    talk.wait_for("How long ago was it bottled?")
    talk.say("two weeks")
    talk.say("stop")
    talk.wait_for("LIKELY CAUSES")
    talk.wait_for("Save this as a batch file?")
    os.write(talk.master, b"bitter\n")
    assert talk.code() == 3
    assert not (tmp_path / "state" / "trubshoot" / "interview.json").exists()
    done = subprocess.run(
        command("diagnose", tmp_path / "bitter.yaml", *at),
        capture_output=True,
        env=surroundings(COLUMNS="80", NO_COLOR="1"),
        check=False,
    )
    saved = done.stdout.decode("utf-8").replace("bitter\n", "My batch\n", 1)
    assert _body(saved) in _body(talk.shown)
    assert done.returncode == 3


def _body(text: str) -> str:
    """Return a diagnosis from its name on, without blanks at line ends."""
    part = text[text.rindex("\nMy batch\n") :]
    part = part.split("\nSave this as")[0]
    return "\n".join(line.rstrip() for line in part.splitlines()).strip()


def test_no_line_is_wider_than_the_page_nor_coloured(start: Start) -> None:
    """At 80 columns nothing wraps by itself, and nothing is said by colour."""
    talk = start("diagnose")
    talk.say("one bottle exploded, the others are hissing")
    talk.wait_for("DANGER")
    talk.say("yes")
    talk.wait_for("Save this")
    os.write(talk.master, b"no\n")
    assert talk.code() == 3
    assert "\x1b[" not in talk.shown.replace("\x1b[?2004h", "").replace("\x1b[?2004l", "")
    assert max(len(line) for line in talk.shown.splitlines()) <= 80


def test_hazard_comes_before_the_repeated_words(start: Start) -> None:
    """A burst bottle brings its block at once, above what was understood."""
    talk = start("diagnose")
    talk.say("one bottle exploded")
    shown = talk.wait_for("Is that right?")
    assert shown.index("DANGER") < shown.index("This is what I understood")


@pytest.mark.parametrize("ending", [b"\x04", b"\x03"])
def test_broken_off_and_gone_on_with(start: Start, tmp_path: Path, ending: bytes) -> None:
    """End of input and ctrl-C keep every answer; the next interview goes on with them."""
    talk = start("diagnose")
    talk.say("pitched 3 days ago at 68F, no airlock bubbles")
    talk.say("yes")
    talk.wait_for("Does the fermenter")
    talk.say("", end=ending)
    for _ in range(4):
        # a signal between the prompt and the wait for a key is heard with the next key only
        with contextlib.suppress(subprocess.TimeoutExpired):
            talk.process.wait(5)
            break
        os.write(talk.master, ending)
    assert talk.code() == 0
    assert "Your answers are kept" in talk.shown
    assert [prompt for prompt, _ in kept(tmp_path)] == ["opening", "repeat"]
    again = start("diagnose")
    again.wait_for("was left unfinished, with 2 answers")
    again.wait_for("begin anew)")
    os.write(again.master, b"yes\n")
    again.wait_for("Does the fermenter")
    again.say("no")
    again.say("quit")
    assert again.code() == 0
    assert len(kept(tmp_path)) == 3


def test_killed_in_the_middle_nothing_is_lost(start: Start, tmp_path: Path) -> None:
    """What was answered is on the disk before the next question is put."""
    talk = start("diagnose")
    talk.say("no airlock bubbles, pitched 3 days ago")
    talk.wait_for("Is that right?")
    talk.process.kill()
    assert kept(tmp_path) == [["opening", "no airlock bubbles, pitched 3 days ago"]]


def test_nonsense_at_a_terminal(start: Start) -> None:
    """Long lines, control characters and bytes that are no text end nothing."""
    talk = start("diagnose")
    talk.say("x" * 3000)
    talk.say("yes")
    for nonsense in ("\udcff\udcfe", "\x0b\x0c\x1b[31m", "99999999999999999999", "- {a: [}"):
        talk.say(nonsense)
    talk.say("quit")
    assert talk.code() == 0


def test_state_that_cannot_be_written_is_said_once(start: Start, tmp_path: Path) -> None:
    """Without a place for answers the interview goes on, and says that they are not kept."""
    (tmp_path / "state").write_text("a file where a folder should be")
    talk = start("diagnose")
    talk.say("no airlock bubbles")
    talk.say("yes")
    talk.wait_for("Does the fermenter")
    talk.say("quit")
    talk.code()
    assert talk.shown.count("cannot be kept") == 1


def test_answers_go_into_the_log_of_a_file(start: Start, tmp_path: Path) -> None:
    """With --ask the answers are offered as lines for the log, and only added on a yes."""
    path = tmp_path / "mine.yaml"
    path.write_bytes((EXAMPLES / "silent_airlock.yaml").read_bytes())
    before = path.read_text("utf-8")
    talk = start("diagnose", "mine.yaml", "--ask")
    talk.say("a brown ring of foam")
    talk.say("yes")
    talk.say("stop")
    talk.wait_for("Add your answers to the log of mine.yaml")
    os.write(talk.master, b"yes\n")
    talk.code()
    text = path.read_text("utf-8")
    assert text.startswith(before.rstrip("\n"))
    assert "a brown ring of foam" in text[len(before.rstrip()) :]


def test_what_belongs_into_the_head_is_offered_too(start: Start, tmp_path: Path) -> None:
    """With --ask a detail of the head is written there on a yes, and what stands there stays."""
    path = tmp_path / "mine.yaml"
    path.write_text(
        "batch: mine   # kept\nwort: {volume: 20 l}\nlog:\n"
        "  - {at: 2026-11-01, gravity: 1.050}\n  - {at: 2026-11-01, did: pitched}\n"
    )
    talk = start("diagnose", "mine.yaml", "--ask", "--at", "2026-11-20 18:00")
    talk.say("the kit says it should finish at 1.010, 5 gallons of wort")
    talk.say("yes")
    talk.say("stop")
    talk.wait_for("wort: expected_fg")
    assert "the file says wort.volume already" in " ".join(talk.shown.split())
    os.write(talk.master, b"yes\n")
    talk.code()
    assert "Added wort.expected_fg to the head" in " ".join(talk.shown.split())
    assert path.read_text().startswith(
        "batch: mine   # kept\nwort: {volume: 20 l, expected_fg: 1.010}\nlog:\n"
    )


def test_a_file_that_cannot_be_read_still_shows_its_hazards(start: Start, tmp_path: Path) -> None:
    """With --ask a broken file is answered as without it: hazards in its words, then its lines."""
    (tmp_path / "broken.yaml").write_text("batch: x\nlog:\n  - {saw: a bottle exploded}\n")
    talk = start("diagnose", "broken.yaml", "--ask")
    assert talk.code() == 2
    assert talk.shown.index("DANGER") < talk.shown.index("no time is written")


def test_without_a_terminal_it_says_so(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A pipe gets one clear message and exit code 2, not a question that nobody answers."""
    with Path(os.devnull).open(encoding="utf-8") as nothing:
        monkeypatch.setattr(sys, "stdin", nothing)
        done = run(capsys, "diagnose")
    assert done.code == 2
    assert done.out == ""
    assert "needs a terminal" in done.err


def test_json_of_an_interview_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """Questions and JSON do not go together; the message says what to do."""
    done = run(capsys, "diagnose", "--format", "json")
    assert done.code == 2
    assert "name a batch file" in done.err.lower()


def test_words_of_options_open_the_interview() -> None:
    """`--saw` and the like are taken as the first words."""
    shown = hold_session(
        ["yes", "stop", "no"], "--saw", "all bottles flat", "--no-sign-of", "sourness"
    )
    assert "Noticed: Every bottle flat" in shown
    assert "Not there: Sour or tart" in shown


def test_back_and_finish() -> None:
    """`back` puts the last question again; `stop` gives the answer at once."""
    shown = hold_session(
        ["pitched 3 days ago, no airlock bubbles", "yes", "no", "back", "don't know", "stop", "no"]
    )
    assert shown.count("Does the fermenter do one of these?") == 2
    assert "LIKELY CAUSES" in shown


@pytest.mark.parametrize("name", ["no/such/folder/x", "x\x00y", "a" * 300])
def test_a_name_that_cannot_be_written_is_asked_again(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file that cannot be written loses nothing: another name is asked for."""
    monkeypatch.chdir(tmp_path)
    shown = hold_session(
        ["no airlock bubbles, pitched 3 days ago", "yes", "stop", name, "good one"]
    )
    assert shown.count("Save this as a batch file?") >= (1 if "\x00" in name else 2)
    assert list(tmp_path.glob("*.yaml"))


# --- settings


def test_units_of_the_settings(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The settings choose the units shown; an option goes before them."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    example = (EXAMPLES / "stuck_after_cold_night.yaml", "--at", "2026-02-26", "--why")
    plain = run(capsys, "diagnose", *example).out
    own = places.folder("config")
    assert own is not None
    own.mkdir(parents=True)
    for chosen, other in (("us", "metric"), ("metric", "us")):
        (own / "config.toml").write_text(f'units = "{chosen}"\n')
        shown = run(capsys, "diagnose", *example).out
        assert shown == run(capsys, "diagnose", *example, "--units", chosen).out
        assert run(capsys, "diagnose", *example, "--units", other).out != shown
    (own / "config.toml").unlink()
    assert run(capsys, "diagnose", *example).out == plain


@pytest.mark.parametrize("text", ['units = "si"', "units = 3", 'colour = "us"', "units = ["])
def test_wrong_settings_are_named(
    text: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Settings that cannot be read are one message with the path, and exit code 2."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    (tmp_path / "trubshoot").mkdir()
    (tmp_path / "trubshoot" / "config.toml").write_text(text)
    done = run(capsys, "diagnose", EXAMPLES / "all_well.yaml", "--at", "2026-09-20")
    assert done.code == 2
    assert "config.toml" in done.err


@pytest.mark.parametrize("kind", ["config", "state"])
def test_folders_are_those_of_the_platform(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The folders are the ones that each system has for this."""
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    monkeypatch.delenv("XDG_STATE_HOME", raising=False)
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    wanted = {"config": ".config", "state": ".local/state"}[kind]
    monkeypatch.setattr(sys, "platform", "linux")
    assert places.folder(kind) == tmp_path / wanted / "trubshoot"  # type: ignore[arg-type]
    monkeypatch.setattr(sys, "platform", "darwin")
    mac = tmp_path / "Library" / "Application Support" / "trubshoot"
    assert places.folder(kind) == mac  # type: ignore[arg-type]
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setenv("APPDATA", "R:/roaming")
    monkeypatch.setenv("LOCALAPPDATA", "R:/local")
    base = {"config": "R:/roaming", "state": "R:/local"}[kind]
    assert places.folder(kind) == Path(base) / "trubshoot"  # type: ignore[arg-type]


def test_kept_answers_that_are_damaged_are_left_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A kept file that cannot be read is no interview, and no fault."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path))
    keeper = places.Keeper(None)
    one = places.Kept(f"{datetime(2026, 11, 25):%Y-%m-%dT%H:%M:%S}", "us", (("opening", "flat"),))
    assert keeper.write(one) == ""
    assert keeper.read() == one
    whole = keeper.path.read_text("utf-8")
    for broken in ("", "[]", "{", whole[:-9], whole.replace('"format": 1', '"format": 9')):
        keeper.path.write_text(broken)
        assert keeper.read() is None
    assert [path.name for path in keeper.path.parent.iterdir()] == ["interview.json"]


# --- one whole interview in tmux


@pytest.mark.skipif(
    shutil.which("tmux") is None,
    reason="tmux is not installed; the same interview runs at a pseudo-terminal above",
)
def test_a_whole_interview_in_tmux(tmp_path: Path) -> None:
    """What a person sees on a real terminal screen, from the first words to the saved file."""
    socket = tmp_path / "tmux"
    inside = " ".join(f"'{part}'" for part in command("diagnose", "--at", "2026-11-20 18:00"))

    def tmux(*arguments: str) -> str:
        done = subprocess.run(
            ["tmux", "-S", str(socket), *arguments],
            capture_output=True,
            env=surroundings(
                XDG_STATE_HOME=str(tmp_path / "state"), XDG_CONFIG_HOME=str(tmp_path / "set")
            ),
            cwd=tmp_path,
            check=True,
        )
        return done.stdout.decode("utf-8", "replace")

    def screen() -> str:
        return tmux("capture-pane", "-p", "-S", "-2000", "-t", "talk")

    def wait_for(words: str, times: int = 1) -> None:
        end = time.monotonic() + PATIENCE_S
        while screen().count(words) < times:
            assert time.monotonic() < end, f"waited for {words!r} on:\n{screen()}"
            time.sleep(0.1)

    def say(text: str) -> None:
        tmux("send-keys", "-t", "talk", "-l", text)
        tmux("send-keys", "-t", "talk", "Enter")

    tmux("-f", os.devnull, "new-session", "-d", "-s", "talk", "-x", "80", "-y", "50",
         f"{inside}; echo ended with $?; sleep 600")  # fmt: skip
    try:
        for words, answer in (
            ("in your own words?", "no airlock bubbles, pitched 3 days ago at 68F"),
            ("Is that right?", "yes"),
            ("Does the fermenter do one of these?", "no"),
            ("Question 2.", "?"),
            ("about", "don't know"),
            ("Question 3.", "stop"),
            ("Save this as a batch file?", "silent"),
        ):
            wait_for(words)
            say(answer)
        wait_for("ended with 0")
    finally:
        tmux("kill-server")
    text = (tmp_path / "silent.yaml").read_text("utf-8")
    assert "did: pitched" in text
    assert "no airlock bubbles" in text


def test_guide_and_pages_name_what_is_kept() -> None:
    """The guide says where answers are kept and how to delete them."""
    page = (ROOT / "docs" / "how_to" / "be_interviewed.md").read_text("utf-8")
    for words in ("interview.json", "XDG_STATE_HOME", "Library/Application Support", "delete"):
        assert re.search(re.escape(words), page, re.IGNORECASE), words


def test_a_warning_of_missing_numbers_says_so_and_comes_after_the_repeating() -> None:
    """It waits until what was said is confirmed, names what would lower it, and is never lost."""
    said = "bottled three weeks ago, it tastes of banana"
    shown = " ".join(hold_session((said, "yes", "stop", "no"), "--at", "2026-11-20 18:00").split())
    block = shown.index("WARNING: Without more numbers")
    assert shown.index("Is that right?") < block < shown.index("Question 1")
    assert "To lower this: log two equal gravities" in shown
    assert "stands because numbers are missing" in shown[block : shown.index("Question 1")]
    left = hold_session((said, "quit"), "--at", "2026-11-20 18:00")
    assert "WARNING: Without more numbers" in left
    burst = hold_session(
        ("a bottle exploded last night, bottled 3 weeks ago", "quit"), *("--at", "2026-11-20")
    )
    assert burst.index("DANGER") < burst.index("Is that right?")
