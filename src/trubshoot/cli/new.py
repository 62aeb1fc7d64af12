"""The command `new`: a short interview, and a commented batch file from its answers.

The questions and the file are those of `batch/new_sheet.py`. An answer that cannot be read is asked
for once more and then kept as a remark.
"""

from __future__ import annotations

import shlex
import sys
from datetime import datetime
from pathlib import Path

from trubshoot.batch import new_sheet
from trubshoot.batch.new_sheet import QUESTIONS, Question
from trubshoot.batch.store import create
from trubshoot.cli.exits import FINE
from trubshoot.errors import UnitError
from trubshoot.units import UnitSystem, UnreadableQuantity


def run_new(file: Path | None, *, defaults: bool) -> int:
    """Ask, and write the batch file; returns the exit code.

    Raises: UnitError: the file is a folder, is there already, or cannot be written.
    """
    if file is not None:
        if file.is_dir():
            raise UnitError(f"{file} is a folder. Name the file, such as summer_bitter.yaml.")
        file = file if file.suffix else file.with_suffix(".yaml")
        _refuse_taken(file)
    answers, remarks = ({}, {}) if defaults else _interview()
    given = answers.get("batch", [""])[0]
    name = given or new_sheet.name_from("" if file is None else file.stem.replace("_", " "))
    path = file or Path(f"{new_sheet.file_stem(name)}.yaml")
    _refuse_taken(path)
    answers["batch"] = [name]
    create(path, new_sheet.sheet(path.name, answers, remarks), datetime.now())
    left = new_sheet.still_open(answers)
    sys.stdout.write(f"Wrote {path}.")
    if left and not defaults:
        sys.stdout.write(f" Left open, to be filled in any time: {'; '.join(left)}.")
    typed = f"trubshoot log {shlex.quote(str(path))} gravity 1.048 --sample 20C"
    sys.stdout.write(f"\nThen log as it happens, for example: {typed}\n")
    return FINE


def _refuse_taken(path: Path) -> None:
    if path.exists() or path.is_symlink():
        raise UnitError(f"{path} is there already and is left as it is. Name another file.")
    if not path.parent.is_dir():
        raise UnitError(f"there is no folder {path.parent}. Make it, or name another.")


def _interview() -> tuple[dict[str, list[str]], dict[str, str]]:
    """Return the answers, and those that could not be read, by place."""
    sys.stdout.write("Leave empty what you do not know; ? explains. Nothing here is final.\n")
    answers: dict[str, list[str]] = {}
    remarks: dict[str, str] = {}
    for number, question in enumerate(QUESTIONS, 1):
        texts: list[str] = []
        while True:
            units = new_sheet.units_of(answers)
            text, ended = _ask(question, f"{number}/{len(QUESTIONS)}", units, remarks)
            if text:
                texts.append(text)
            if not question.several or not text:
                break
        if texts:
            answers[question.place] = texts
        if ended:
            break
    return answers, remarks


def _ask(
    question: Question, place: str, units: UnitSystem, remarks: dict[str, str]
) -> tuple[str, bool]:
    """Return an answer ("" for unknown), and whether nothing more can come."""
    people = sys.stdin.isatty()
    tries = 2 if people else 1
    while True:
        sys.stdout.write(f"[{place}] {question.ask} (such as {question.example}): ")
        sys.stdout.flush()
        raw = sys.stdin.readline()
        if not people:
            sys.stdout.write("\n")
        text = new_sheet.tidy(raw)
        if text == "?":
            ends = " An empty line ends it." if question.several else ""
            sys.stdout.write(f"  {question.help}{ends}\n")
            continue
        if not text:
            return "", raw == ""
        try:
            question.read(text, units)
        except UnreadableQuantity as error:
            tries -= 1
            sys.stdout.write(f"  {error}\n")
            if tries:
                continue
            sys.stdout.write("  Kept as a remark in the file.\n")
            remarks[question.place] = text.encode("utf-8", "replace").decode("utf-8")
            return "", False
        return text, False
