"""What is attacked: for each target how its input is made, and what runs on it.

A target is one row of `TARGETS`: a new reader of input joins by a function that makes the input,
one that runs it, and its row.
"""

from __future__ import annotations

import contextlib
import gc
import io
import json
import math
import os
import random
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

from tests.proof import choices
from tests.proof.commands import any_arguments, prepared

from trubshoot.batch import read_batch
from trubshoot.batch.amounts import parse_amount, parse_bottles, parse_sugar
from trubshoot.batch.append import LogLine, with_lines, without_last
from trubshoot.batch.csv_readings import Columns, lines_of, read_readings
from trubshoot.batch.log_words import of_room, typed_line, when_typed
from trubshoot.batch.moments import read_day, read_moment
from trubshoot.diagnosis import Diagnosis, Diagnostician
from trubshoot.errors import ProblemsError, TrubshootError
from trubshoot.evidence.words import understand
from trubshoot.knowledge_base import load_knowledge
from trubshoot.knowledge_base.checks import check_to_load
from trubshoot.knowledge_base.files import knowledge_folder, yaml_files
from trubshoot.knowledge_base.loader import Raw, build, parse
from trubshoot.units import parse_gravity, parse_quantity

NOW = datetime(2026, 11, 25, 12)
DIMENSIONS = ("temperature", "volume", "mass", "duration", "pressure", "length", "percent")
STAGES = ("", "brewing", "fermenting", "bottled")
SENSES = ("saw", "smelled", "tasted", "no_sign_of")


@dataclass(frozen=True)
class Target:
    """One thing under attack.

    make: draws an input. run: takes it, and returns in one word what became of it; one of the
    project's own errors is an answer, any other exception a finding. seconds: processor time that
    one run may take. weight: share of a campaign over all targets.
    """

    make: Callable[[random.Random], Any]
    run: Callable[[Any], str]
    seconds: float
    weight: float


@cache
def work() -> Diagnostician:
    """Return the real knowledge, made ready."""
    return Diagnostician(load_knowledge())


@cache
def phrases() -> tuple[str, ...]:
    """Return everything the knowledge understands."""
    knowledge = work().knowledge
    tables: tuple[dict[str, Any], ...] = (knowledge.findings, knowledge.signs, knowledge.contexts)
    entries = [entry for table in tables for entry in table.values()]
    return tuple(text for entry in entries for text in (entry.label, *entry.aliases))


def _told(error: TrubshootError) -> str:
    """Return that an input was refused; every problem must say something."""
    assert str(error).strip(), "an error without a message"
    if isinstance(error, ProblemsError):
        assert error.problems
        assert all(problem.message.strip() for problem in error.problems)
    return "refused"


def _answered(steps: list[Callable[[], object]]) -> str:
    """Run all steps; return whether any of them was taken."""
    taken = 0
    for step in steps:
        try:
            step()
            taken += 1
        except TrubshootError as error:
            _told(error)
    return "taken" if taken else "refused"


# --- quantities


def _make_quantity(chance: random.Random) -> object:
    if chance.random() < 0.1:
        return chance.choice((True, None, 1e400, -0.0, math.nan, 10**400, [], {}, 3, 1.05, b"x"))
    if chance.random() < 0.5:
        return choices.mutated(chance, chance.choice(choices.QUANTITIES + choices.MOMENTS))
    return choices.any_text(chance, 5)


def _run_quantity(value: Any) -> str:
    steps: list[Callable[[], object]] = [
        *(lambda d=d: parse_quantity(value, d) for d in DIMENSIONS),  # type: ignore[misc]
        lambda: parse_quantity(value, "volume", "l"),
        lambda: parse_gravity(value),
        lambda: parse_amount(value),
        lambda: parse_sugar(value),
        lambda: parse_bottles(value),
        lambda: read_moment(value),
        lambda: read_day(value),
    ]
    return _answered(steps)


# --- batch files


def _make_bytes(chance: random.Random) -> bytes:
    if chance.random() < 0.1:
        return bytes(chance.randrange(256) for _ in range(chance.randint(0, 300)))
    return choices.mutated_bytes(chance, choices.batch_sample(chance).encode("utf-8"))


def _make_text(chance: random.Random) -> str:
    kind = chance.randrange(4)
    if kind == 0:
        return choices.mutated(chance, choices.batch_sample(chance))
    if kind == 1:
        return choices.mutated(chance, choices.made_batch(chance))
    return choices.made_batch(chance) if kind == 2 else choices.sensible_batch(chance)


def _run_batch(source: str | bytes) -> str:
    try:
        batch = read_batch(source, NOW)
    except TrubshootError as error:
        return _told(error)
    assert batch.timeline(NOW).entries is not None
    return "taken"


def _make_append(chance: random.Random) -> tuple[str, LogLine]:
    words = choices.any_text(chance, 4) or "x"
    verb = chance.choice(("saw", "note", "gravity", "did", "beer"))
    return _make_text(chance), LogLine((("at", chance.choice(choices.MOMENTS)), (verb, words)))


def _run_append(made: tuple[str, LogLine]) -> str:
    text, line = made
    try:
        longer = with_lines(text, [line], "f")
    except TrubshootError as error:
        return _told(error)
    try:
        without_last(longer, "f")
    except TrubshootError as error:
        _told(error)
    return "taken"


# --- words


def _make_words(chance: random.Random) -> tuple[str, str, str]:
    kind = chance.randrange(4)
    if kind == 0:
        text = choices.any_text(chance)
    elif kind == 1:
        text = choices.mutated(chance, chance.choice(phrases()))
    else:
        text = " ".join(
            chance.choice(
                (chance.choice(phrases()), chance.choice(choices.WORDS), "no", "not", ",")
            )
            for _ in range(chance.randint(1, 8))
        )
    return text, chance.choice(SENSES), chance.choice(STAGES)


def _run_words(made: tuple[str, str, str]) -> str:
    text, sense, stage = made
    understood, lost = understand(work().lexicon, text, sense=sense, stage=stage)
    assert all(item.state in ("present", "absent") for item in understood)
    return "taken" if not lost else "refused"


# --- tables


def _make_table(chance: random.Random) -> tuple[bytes, Columns]:
    sign = chance.choice(",;\t|")
    head = ["time", "sg", "temp"]
    lines = [sign.join(head)] if chance.random() < 0.9 else []
    start = chance.randint(1, 20)
    for number in range(chance.randint(0, 30)):
        at = chance.choice(
            (
                f"2026-10-{start + number % 10:02} {number % 24:02}:00",
                f"{start}/10/2026 12:{number}",
            )
        )
        cells = [at, f"1.0{chance.randint(0, 99):02}", str(chance.randint(-5, 40))]
        if chance.random() < 0.05:
            cells[chance.randrange(3)] = chance.choice((*choices.NASTY, *choices.QUANTITIES))
        lines.append(sign.join(cells))
    raw = chance.choice(("\n", "\r\n")).join(lines).encode("utf-8", "surrogatepass")
    if chance.random() < 0.4:
        raw = choices.mutated_bytes(chance, raw)
    if chance.random() < 0.05:
        raw = raw.decode("utf-8", "replace").encode("utf-16")
    names = ["time", "sg", "temp", "1", "2", "3", "99", "²", "", chance.choice(choices.NASTY)]
    columns = Columns(
        chance.choice(("time", "time", "1", chance.choice(names))),
        chance.choice(("sg", "sg", None, "2", chance.choice(names))),
        chance.choice(("temp", None, "3", chance.choice(names))),
        chance.choice(("us", "metric")),
        chance.choice((None, True, False)),
    )
    return raw, columns


def _run_table(made: tuple[bytes, Columns]) -> str:
    raw, columns = made
    batch = _empty_batch()
    try:
        readings = read_readings(raw, columns, "t.csv", NOW)
        lines = lines_of(readings, "t.csv", batch, [], columns.units)
        if lines:
            read_batch(with_lines("batch: x\n", lines, "f"), NOW)
    except TrubshootError as error:
        return _told(error)
    return "taken" if lines else "refused"


@cache
def _empty_batch() -> Any:
    return read_batch("batch: x\n", NOW)


# --- knowledge files


@cache
def _knowledge_files() -> tuple[dict[str, bytes], dict[str, Any], Raw]:
    contents = {path: file.read_bytes() for path, file in yaml_files(knowledge_folder())}
    plain, raw, problems = parse(contents)
    assert not problems
    return contents, plain, raw


def _make_knowledge(chance: random.Random) -> tuple[str, bytes]:
    contents, _, _ = _knowledge_files()
    path = chance.choice(sorted(contents))
    text = contents[path].decode("utf-8")[:20_000]
    kind = chance.randrange(4)
    if kind == 0:
        return path, choices.mutated_bytes(chance, text.encode("utf-8"))
    if kind == 1:  # a value replaced, the form kept
        lines = text.splitlines(keepends=True)
        for _ in range(chance.randint(1, 3)):
            at = chance.randrange(len(lines))
            key, colon, _ = lines[at].partition(": ")
            if colon:
                lines[at] = f"{key}: {chance.choice((*choices.NASTY, *choices.QUANTITIES))}\n"
        return path, "".join(lines).encode("utf-8", "surrogatepass")
    if kind == 2:  # lines left out, doubled or changed about
        lines = text.splitlines(keepends=True)
        for _ in range(chance.randint(1, 4)):
            at, other = chance.randrange(len(lines)), chance.randrange(len(lines))
            lines[at] = chance.choice(("", lines[at] * 2, lines[other]))
            if not "".join(lines).strip():
                break
        return path, "".join(lines).encode("utf-8")
    others = [other for other in sorted(contents) if other.split("/")[0] == path.split("/")[0]]
    return path, contents[chance.choice(others)]  # one file under the name of another


def _run_knowledge(made: tuple[str, bytes]) -> str:
    path, content = made
    _, whole, documents = _knowledge_files()
    plain, raw, problems = parse({path: content})
    if problems:
        assert all(problem.message for problem in problems)
        return "refused"
    changed = {
        name: {**rows, **plain[name]} if "/" in path or plain[name] else rows
        for name, rows in whole.items()
    }
    own = Raw({**documents.documents, **raw.documents})
    knowledge, problems = build(changed, "0" * 64, own)
    if knowledge is not None:
        problems = check_to_load(knowledge, own)
    if problems:
        assert all(problem.message for problem in problems)
        return "refused"
    return "taken"


# --- lines typed, and whole commands


def _make_typed(chance: random.Random) -> tuple[list[str], dict[str, str], Any, Any]:
    samples = (
        *("gravity 1.014", "beer 20C", "saw white film", "did dry hopped amount=50g", "temp 66F"),
        *(
            "bottled sugar=110g volume=18l",
            "note x",
            "turned-out fine",
            "pitched beer=20C",
            "ph 4.2",
        ),
    )
    text = chance.choice(samples)
    if chance.random() < 0.6:
        text = choices.mutated(chance, text)
    words = text.split(" ") if chance.random() < 0.8 else [text]
    details = {"sample": choices.value_text(chance)} if chance.random() < 0.3 else {}
    at = chance.choice((None, *choices.MOMENTS, "18:30", "yesterday", choices.value_text(chance)))
    day = chance.choice((None, None, "12", choices.value_text(chance)))
    return words, details, at, day


def _run_typed(made: tuple[list[str], dict[str, str], Any, Any]) -> str:
    words, details, at, day = made
    try:
        line = typed_line(words, details, when_typed(at, day, _empty_batch(), NOW))
        read_batch(with_lines("batch: x\n", [line], "f"), NOW)
    except TrubshootError as error:
        _told(error)
        with contextlib.suppress(TrubshootError):
            of_room(words)
        return "refused"
    return "taken"


@contextlib.contextmanager
def _in_folder() -> Iterator[Path]:
    """Give a folder of its own to a command, with nothing of the user's in reach."""
    before = Path.cwd()
    with tempfile.TemporaryDirectory() as name:
        os.chdir(name)
        try:
            yield Path(name)
        finally:
            os.chdir(before)


def _run_command(arguments: list[str]) -> str:
    from trubshoot.cli.app import main

    out, err = io.StringIO(), io.StringIO()
    code: object = None
    with _in_folder() as folder, contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        prepared(folder)
        try:
            main(arguments)
        except SystemExit as ended:
            code = ended.code
        finally:
            gc.enable()  # a command leaves its rubbish to the end of its process
        left = sorted(path.name for path in folder.rglob("*") if path.name.endswith(".new"))
    assert code in (0, 2, 3, None), (code, err.getvalue()[-500:])
    assert "Traceback" not in out.getvalue() + err.getvalue()
    assert code != 2 or (err.getvalue() + out.getvalue()).strip(), "refused without a word"
    assert not left, left
    return "refused" if code == 2 else "taken"


# --- whole diagnoses, and interviews


def _make_story(chance: random.Random) -> tuple[str, list[tuple[str, str]], bool]:
    kind = chance.randrange(5)
    text = choices.sensible_batch(chance, phrases())
    if kind == 0:
        text = choices.mutated(chance, choices.batch_sample(chance))
    elif kind == 1:
        text = choices.batch_sample(chance)
    said = [
        (
            chance.choice(SENSES),
            chance.choice((chance.choice(phrases()), choices.any_text(chance, 5))),
        )
        for _ in range(chance.choice((0, 1, 2, 2, 4, 25)))
    ]
    return text, said, chance.random() < 0.2


def _run_story(made: tuple[str, list[tuple[str, str]], bool]) -> str:
    text, said, as_text = made
    try:
        batch = read_batch(text, NOW)
    except TrubshootError as error:
        return _told(error)
    _look_at(work().diagnose(batch, NOW, said), as_text=as_text)
    return "taken"


def _look_at(diagnosis: Diagnosis, *, as_text: bool) -> None:
    """Check what must hold for every answer, and that it can be written."""
    from rich.console import Console

    from trubshoot.report.result_json import diagnosis_json, to_text
    from trubshoot.report.terminal import print_diagnosis

    assert diagnosis.faults == ()
    labels = {key: finding.label for key, finding in work().knowledge.findings.items()}
    plain = json.loads(to_text(diagnosis_json(diagnosis, labels)), parse_constant=_no_constant)
    assert len(plain["hazards"]) == len(diagnosis.hazards)
    for cause in diagnosis.causes:
        assert 0 <= cause.responsibility <= 1 + 1e-9
        assert 0 <= cause.posterior <= 1 + 1e-9
    if not as_text:
        return
    page = io.StringIO()
    shown = Console(file=page, width=80, highlight=False, emoji=False, markup=False)
    print_diagnosis(shown, diagnosis, labels, "us", why=True)
    if diagnosis.hazards:
        assert page.getvalue().startswith(diagnosis.hazards[0].level.name)


def _no_constant(name: str) -> float:
    raise AssertionError(f"{name} in the JSON")


def _make_talk(chance: random.Random) -> list[str]:
    usual = ("yes", "no", "don't know", "1", "2 3", "?", "back", "done", "", "3 weeks", "1.012")
    told = [
        chance.choice((chance.choice(phrases()), choices.any_text(chance, 6), chance.choice(usual)))
        for _ in range(chance.randint(1, 4))
    ]
    return [", ".join(told), *(chance.choice((*usual, *usual, told[0])) for _ in range(6))]


def _run_talk(answers: list[str]) -> str:
    from trubshoot.interview import Interview, State

    talk = Interview(work(), NOW)
    state = State()
    for answer in answers:
        if talk.prompt(state).form == "end":
            break
        state = talk.answer(state, answer)
    read_batch(talk.text(state), NOW)
    return "taken" if state.items else "refused"


TARGETS: dict[str, Target] = {
    "quantities": Target(_make_quantity, _run_quantity, 1.0, 0.45),
    "batch_bytes": Target(_make_bytes, _run_batch, 3.0, 0.1),
    "batch_files": Target(_make_text, _run_batch, 3.0, 0.1),
    "log_lines": Target(_make_typed, _run_typed, 3.0, 0.2),
    "append": Target(_make_append, _run_append, 5.0, 0.04),
    "words": Target(_make_words, _run_words, 3.0, 0.04),
    "tables": Target(_make_table, _run_table, 5.0, 0.033),
    "knowledge": Target(_make_knowledge, _run_knowledge, 10.0, 0.005),
    "commands": Target(any_arguments, _run_command, 10.0, 0.005),
    "diagnoses": Target(_make_story, _run_story, 10.0, 0.024),
    "interviews": Target(_make_talk, _run_talk, 10.0, 0.003),
}
