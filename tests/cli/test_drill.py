"""The command `drill`: whole practices by standard input and at a terminal, and what is kept."""

from __future__ import annotations

import io
import json
import os
import sys
from pathlib import Path

import pytest
from tests.cli.support import Run, run
from tests.learning.support import library
from tests.learning.test_drill import bench, drill_of

from trubshoot.cli.drill_store import Kept, Open, Store
from trubshoot.learning.drill_debrief import debrief
from trubshoot.learning.drill_progress import progress_of
from trubshoot.report.learn_json import plain

STATE = 101  # a case of level 1 that tests/learning draws as well
ARGUMENTS = ("drill", "--random-state", str(STATE), "--level", "1")


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setenv("NO_COLOR", "1")


def store_path(tmp_path: Path) -> Path:
    """Return the file in which practice is kept."""
    return tmp_path / "data" / "trubshoot" / "drill.json"


@pytest.fixture(name="play")
def _play(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> object:
    def play(*lines: str, arguments: tuple[str, ...] = ARGUMENTS) -> Run:
        monkeypatch.setattr(sys, "stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        return run(capsys, *arguments)

    return play


def answers() -> list[str]:
    """Return the lines of a whole case played well, one test asked."""
    case = bench().draw(STATE, 1, 1)
    return ["1", "list", "1", f"name {case.true_causes[0]}", "70"]


def test_a_whole_case_by_standard_input(play: object, tmp_path: Path) -> None:
    """A case is told, asked about, named and explained; its record is kept."""
    told = play(*answers())  # type: ignore[operator]  # the fixture
    assert told.code == 0
    for words in ("invented", "What do you do first?", "WHAT EACH QUESTION TOLD", "NEXT TIME"):
        assert words in told.out
    kept = json.loads(store_path(tmp_path).read_text("utf-8"))
    (record,) = kept["records"]
    assert kept["open"] is None
    assert (record["random_state"], record["level"], record["correct"]) == (STATE, 1, True)
    assert record["sure"] == 0.7


def test_the_same_random_state_shows_the_same(play: object) -> None:
    """Played again with the same numbers and answers, every word is the same."""
    assert play(*answers()).out == play(*answers()).out  # type: ignore[operator]


def test_without_a_number_one_is_picked_and_told(play: object) -> None:
    """The number that repeats a case is printed; with it the same case comes again."""
    first = play("quit", arguments=("drill", "--level", "1")).out  # type: ignore[operator]
    line = next(line for line in first.splitlines() if "The same case again" in line)
    words = line.split("trubshoot ")[1].rstrip(")").split()
    again = play("quit", arguments=tuple(words)).out  # type: ignore[operator]
    assert first.split("invented")[1].split("> ")[0] == again.split("invented")[1].split("> ")[0]


def test_json_equals_the_objects(play: object) -> None:
    """The data of a drill are the case and the debrief; the talk goes beside them."""
    lines = answers()
    told = play(*lines, arguments=(*ARGUMENTS, "--format", "json"))  # type: ignore[operator]
    data = json.loads(told.out)
    assert "What do you do first?" in told.err
    case = bench().draw(STATE, 1, 1)
    drill = drill_of(case)
    end = drill.replay([line for line in lines if line != "list"])
    (one,) = data["cases"]
    assert one["debrief"] == json.loads(json.dumps(plain(debrief(drill, end))))
    assert one["case"] == json.loads(json.dumps(plain(case)))


def test_progress_as_text_and_data(play: object, tmp_path: Path) -> None:
    """Progress shows what the records hold, as text and as data."""
    progress = ("drill", "progress")
    assert "No case yet" in play(arguments=progress).out  # type: ignore[operator]
    play(*answers())  # type: ignore[operator]
    assert "Causes found: 1 of 1." in play(arguments=progress).out  # type: ignore[operator]
    data = json.loads(play(arguments=(*progress, "--format", "json")).out)  # type: ignore[operator]
    kept, _ = Store().read()
    body = json.loads(json.dumps(plain(progress_of(kept.records))))
    assert {key: data[key] for key in body} == body
    assert len(data["records"]) == 1


def test_left_and_taken_up_again(play: object, tmp_path: Path) -> None:
    """Who quits goes on where the case was left; with no a new case is drawn."""
    lines = answers()
    left = play("1", "1", "quit")  # type: ignore[operator]
    assert "trubshoot drill" in left.out
    assert json.loads(store_path(tmp_path).read_text("utf-8"))["open"]["turns"] == ["1", "1"]
    on = play("yes", *lines[3:], arguments=("drill",))  # type: ignore[operator]
    assert "A case was left, with 2 answers." in on.out
    straight = play(*lines)  # type: ignore[operator]
    part = "WHAT EACH QUESTION TOLD"
    assert on.out.split(part)[1] == straight.out.split(part)[1]
    play("1", "quit")  # type: ignore[operator]
    fresh = play("no", "quit", arguments=("drill",))  # type: ignore[operator]
    assert f"--random-state {STATE} " not in fresh.out.split("new one)")[1]


def test_the_end_of_input_keeps_the_case(play: object, tmp_path: Path) -> None:
    """When input ends, nothing is lost and nothing is scored."""
    told = play("1")  # type: ignore[operator]
    assert told.code == 0
    kept = json.loads(store_path(tmp_path).read_text("utf-8"))
    assert kept["records"] == []
    assert kept["open"]["turns"] == ["1"]


def test_a_case_of_other_knowledge_is_not_taken_up(play: object) -> None:
    """A case kept from other knowledge would be another case, so a new one is drawn."""
    Store().write(Kept((), Open(STATE, 1, 1, "other", ("1",))))
    told = play("quit", arguments=("drill",))  # type: ignore[operator]
    assert "other knowledge" in told.out
    assert "A case was left" not in told.out


DAMAGED = [
    b"",
    b"{",
    b"[]",
    b'{"format": 9, "records": [], "open": null}',
    b'{"format": 1, "records": [{"day": "x"}], "open": null}',
    b'{"format": 1, "records": [], "open": {"random_state": 1, "number": 1, "level": 9, '
    b'"knowledge": "x", "turns": []}}',
    b"\xff\xfe\x00",
    b"[" * 100000,
]


@pytest.mark.parametrize("content", DAMAGED, ids=range(len(DAMAGED)))
def test_a_damaged_file_is_set_aside(content: bytes, play: object, tmp_path: Path) -> None:
    """What cannot be read is kept beside under another name, and practice goes on."""
    path = store_path(tmp_path)
    path.parent.mkdir(parents=True)
    path.write_bytes(content)
    told = play("quit")  # type: ignore[operator]
    assert told.code == 0
    assert "set aside" in told.out
    assert path.with_name("drill.damaged-1.json").read_bytes() == content
    assert Store().read()[1] == ""


def test_a_folder_that_cannot_be_written_is_told_once(
    play: object, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Practice goes on where nothing can be kept, and says so once."""
    (tmp_path / "data").write_text("a file where a folder should be", "utf-8")
    told = play(*answers())  # type: ignore[operator]
    assert told.code == 0
    assert told.out.count("cannot be kept") == 1


def test_hazards_end_the_case_with_the_block(play: object) -> None:
    """Opening a suspect bottle ends the case with the hazard block and no points."""
    number = next(
        state for state in range(1, 60) if set(bench().draw(state, 1, 1).told) & bench().suspect
    )
    arguments = ("drill", "--random-state", str(number), "--level", "1")
    told = play("open one", arguments=arguments)  # type: ignore[operator]
    assert "\n0 of 100 points." in told.out
    block = bench().hazards(bench().draw(number, 1, 1).told)[0]
    assert f"{block.level.name}: " in told.out
    assert told.out.index(f"{block.level.name}: ") < told.out.index("WHAT IT WAS")


@pytest.mark.parametrize("width", [40, 80, 120])
def test_screens_keep_to_the_width(
    width: int, play: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    """No line is wider than the terminal."""
    monkeypatch.setenv("COLUMNS", str(width))
    for told in (play(*answers()), play(arguments=("drill", "progress"))):  # type: ignore[operator]
        assert max(map(len, told.out.splitlines())) <= width


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("xyz",), "nothing to drill"),
        (("--cases", "0"), "from 1 to 100"),
        (("--level", "6"), "from 1 to 5"),
        (("--random-state", "-1"), "from 0 to"),
        (("--format", "csv"), "is no format"),
    ],
)
def test_options_that_cannot_be_used(arguments: tuple[str, ...], words: str, play: object) -> None:
    """Options out of their range end with code 2 and what to write."""
    told = play(arguments=("drill", *arguments))  # type: ignore[operator]
    assert told.code == 2
    assert words in told.err


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")
def test_a_case_at_a_terminal(tmp_path: Path) -> None:
    """A whole case typed at a pseudo-terminal, and left with ctrl-C the next time."""
    from tests.cli.test_interview import Terminal

    case = bench().draw(STATE, 1, 1)
    data = str(tmp_path / "data")
    terminal = Terminal(tmp_path, *ARGUMENTS, XDG_DATA_HOME=data)
    try:
        terminal.say("1")
        terminal.say("name")
        place = [one.id for one in drill_of(case).choices()].index(case.true_causes[0]) + 1
        terminal.wait_for("What made it?")
        terminal.say(str(place))
        terminal.say("90")
        terminal.wait_for("WHAT IT WAS")
        assert terminal.code() == 0
    finally:
        terminal.close()
    assert library().knowledge.causes[case.true_causes[0]].label in terminal.shown
    terminal = Terminal(tmp_path, *ARGUMENTS, XDG_DATA_HOME=data)
    try:
        terminal.wait_for("> ")
        os.write(terminal.master, b"\x03")
        terminal.wait_for("kept as it is")
        assert terminal.code() == 0
    finally:
        terminal.close()
