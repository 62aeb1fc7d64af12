"""`trubshoot new`: an interview that refuses nothing and writes a file to go on with."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from tests.cli.support import run

from trubshoot.batch import read_batch
from trubshoot.batch.new_sheet import QUESTIONS


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Work in a folder of its own."""
    monkeypatch.chdir(tmp_path)
    return tmp_path


def typed(monkeypatch: pytest.MonkeyPatch, *lines: str) -> None:
    """Put lines on standard input."""
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))


def test_answers_end_in_the_file(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Answers are read back as values; the file is named after the batch."""
    typed(
        monkeypatch,
        *("Summer: bitter #3", "metric", "", "extract kit", "20 l", "1.042", "1.011"),
        *("1.7 kg light liquid malt extract", "500 g table sugar", ""),
        *("english ale", "dry", "11 g", "6 months", "bucket", "1.001", "20 C", "tap"),
        *("reused brown longneck 330 ml", "cellar", "24 C", "no-rinse acid sanitizer"),
    )
    asked = run(capsys, "new")
    assert asked.code == 0
    batch = read_batch(Path("summer_bitter_3.yaml"))
    assert batch.name == "Summer: bitter #3"
    assert batch.style is None
    assert batch.wort.volume_l == 20
    assert (batch.wort.expected_og, batch.wort.expected_fg) == (1.042, 1.011)
    assert [item.what for item in batch.fermentables] == [
        "light liquid malt extract",
        "table sugar",
    ]
    assert batch.yeast.form == "dry"
    assert batch.instruments.hydrometer_in_water == 1.001
    assert batch.bottles.size_ml == 330
    assert batch.storage.to_c == 24
    assert batch.sanitizing.agent == "no-rinse acid sanitizer"
    assert "Style of beer" in asked.out.split("Left open")[1]
    assert "trubshoot log summer_bitter_3.yaml" in Path("summer_bitter_3.yaml").read_text("utf-8")


def test_nothing_is_refused(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """An unreadable answer is kept as a remark, `?` explains, and the end may come early."""
    typed(monkeypatch, "Odd one", "furlongs", "", "?", "kit", "a bucket full", "don't know")
    asked = run(capsys, "new", "odd")
    assert asked.code == 0
    assert "For example: extract kit" in asked.out
    assert "Kept as a remark" in asked.out
    text = Path("odd.yaml").read_text("utf-8")
    assert "# answered: a bucket full" in text
    assert "# answered: furlongs" not in text.replace("units: # answered: furlongs", "")
    batch = read_batch(Path("odd.yaml"))
    assert batch.wort.kind == "kit"
    assert batch.wort.volume_l is None
    assert batch.units == "metric"


@pytest.mark.parametrize("arguments", [("new", "x.yaml", "--defaults"), ("new", "x.yaml")])
def test_without_answers_everything_is_unknown(
    arguments: tuple[str, ...],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A file made without answers says nothing about the beer, and can be logged into at once."""
    typed(monkeypatch)
    assert run(capsys, *arguments).code == 0
    batch = read_batch(Path("x.yaml"))
    bare = read_batch("batch: x\n")
    assert batch.model_dump(exclude={"lines", "path"}) == bare.model_dump(exclude={"lines", "path"})
    assert run(capsys, "log", "x.yaml", "pitched", "beer=20C").code == 0
    assert len(read_batch(Path("x.yaml")).log) == 1


def test_every_open_key_can_be_filled_in(capsys: pytest.CaptureFixture[str]) -> None:
    """With the marks of a remark taken away, every line of the skeleton is read as it stands."""
    run(capsys, "new", "x.yaml", "--defaults")
    examples = {question.ask.lower(): question.example for question in QUESTIONS}
    lines = []
    for line in Path("x.yaml").read_text("utf-8").splitlines():
        words = line.removeprefix("#").removeprefix(" ")
        known = [
            example for ask, example in examples.items() if f"# {ask}, such as" in line.lower()
        ]
        if known:
            lines.append(f"{words.split(':')[0]}: {known[0]}")
        elif words.endswith(":") and " " not in words.strip() and "log" not in words:
            lines.append(words)
    batch = read_batch("batch: x\n" + "\n".join(lines) + "\n")
    assert batch.wort.expected_fg == 1.012
    assert batch.storage.to_c == 24
    assert batch.units == "metric"
    assert batch.yeast.age_days is not None


def test_no_file_is_replaced(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A name that is taken is refused before and after the questions; so is a missing folder."""
    taken = folder / "mine.yaml"
    taken.write_text("batch: mine\n", encoding="utf-8")
    typed(monkeypatch, "Mine")
    for arguments in (("new", "mine"), ("new",), ("new", "mine.yaml", "--defaults")):
        asked = run(capsys, *arguments)
        assert asked.code == 2
        assert "left as it is" in asked.err
    assert "no folder" in run(capsys, "new", "gone/x.yaml").err
    assert taken.read_text("utf-8") == "batch: mine\n"


def test_every_example_is_readable() -> None:
    """The example shown with a question is an answer that the question takes."""
    for question in QUESTIONS:
        question.read(question.example, "metric")
        assert question.help.endswith(".")
