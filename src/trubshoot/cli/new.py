"""The command `new`: a short interview, and a commented batch file from its answers.

Asked is only what the checks need, in that order; nothing is refused. An answer that cannot be
read is asked for once more and then kept as a remark, since the brewer may know better.
"""

from __future__ import annotations

import re
import shlex
import sys
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from trubshoot.batch import kinds
from trubshoot.batch.append import LogLine
from trubshoot.batch.fields import GROUPS, LISTS
from trubshoot.batch.store import create
from trubshoot.cli.exits import FINE
from trubshoot.errors import UnitError
from trubshoot.units import UnitSystem, UnreadableQuantity

_NO_IDEA = frozenset(("unknown", "don't know", "dont know", "no idea", "-"))


@dataclass(frozen=True)
class Question:
    """One question: where its answer goes ("wort.volume"), its words, an example, its help."""

    place: str
    ask: str
    example: str
    help: str

    def read(self, text: str, units: UnitSystem) -> None:
        """Raise UnreadableQuantity for an answer that the batch file would refuse."""
        if self.place == "units":
            kinds.choice("units", ("metric", "us")).read(text, units)
            return
        group, _, key = self.place.partition(".")
        if key:
            GROUPS[group].fields[key].read(text, units)
        elif group in LISTS:
            LISTS[group]["what"].read(text, units)
        else:
            kinds.text(group).read(text, units)


QUESTIONS = (
    Question(
        "batch", "Name of the batch", "Summer bitter", "Any words; the file is called so too."
    ),
    Question(
        "units",
        "Units: metric or us",
        "metric",
        "How a number without a unit is read. A unit written beside a number always wins.",
    ),
    Question("style", "Style of beer", "pale ale", "Some findings are normal in some styles."),
    Question(
        "wort.kind",
        "What kit is it",
        "extract kit",
        "For example: extract kit, hopped can kit, partial mash, all grain.",
    ),
    Question(
        "wort.volume", "How much wort in the fermenter", "19 l", "As read on the fermenter: 5 gal."
    ),
    Question(
        "wort.expected_og",
        "Starting gravity on the kit sheet",
        "1.048",
        "Often called OG. Shows whether the wort was mixed and measured well.",
    ),
    Question(
        "wort.expected_fg",
        "Final gravity on the kit sheet",
        "1.012",
        "Often called FG. Without it nobody can tell when the beer is finished.",
    ),
    Question(
        "fermentables",
        "Malt, extract and sugar with amounts, one a line",
        "1.7 kg light liquid malt extract",
        "An empty line ends it. From this the end of the fermentation is worked out.",
    ),
    Question(
        "yeast.class",
        "Kind of yeast",
        "english ale",
        "In generic words: english ale, clean american ale, saison, wheat, lager, kit sachet.",
    ),
    Question(
        "yeast.form", "Yeast dry, liquid or slurry", "dry", "Slurry is yeast kept from a batch."
    ),
    Question("yeast.amount", "How much yeast", "11 g", "As on the pack: 11 g, 100 ml, 1 pack."),
    Question(
        "yeast.age", "Age of the yeast", "6 months", "Since it was packed; old yeast starts late."
    ),
    Question(
        "vessel.kind",
        "Fermenter",
        "bucket",
        "For example: bucket, glass carboy, plastic carboy, pressure fermenter.",
    ),
    Question(
        "instruments.hydrometer_in_water",
        "What the hydrometer shows in plain water",
        "1.000",
        "Two minutes of work: at the temperature on its scale. An error there is in every reading.",
    ),
    Question(
        "instruments.hydrometer_scale",
        "Temperature the hydrometer is made for",
        "20 C",
        "Printed on its paper scale: 20 C, 60 F or 68 F.",
    ),
    Question("wort.water", "Water", "tap", "For example: tap, bottled, well, tap treated."),
    Question(
        "bottles.kind",
        "Bottles",
        "reused brown longneck 330 ml",
        "Kind, new or used, size. What they bear decides how much sugar may go in.",
    ),
    Question("storage.where", "Where the bottles will stand", "cellar", "Any words."),
    Question(
        "storage.to",
        "How warm it gets there at most",
        "24 C",
        "On the hottest day. Warmth raises the pressure in closed bottles.",
    ),
    Question("sanitizing.with", "Sanitizer", "no-rinse acid sanitizer", "The kind, not the make."),
)


def run_new(file: Path | None, *, defaults: bool) -> int:
    """Ask, and write the batch file; returns the exit code."""
    if file is not None:
        if file.is_dir():
            raise UnitError(f"{file} is a folder. Name the file, such as summer_bitter.yaml.")
        file = file if file.suffix else file.with_suffix(".yaml")
        _refuse_taken(file)
    answers, remarks = ({}, {}) if defaults else _interview()
    given = answers.get("batch", [""])[0]
    name = given or _name_of(file)
    path = file or Path(f"{_slug(name)}.yaml")
    _refuse_taken(path)
    answers["batch"] = [name]
    create(path, _sheet(path, answers, remarks), datetime.now())
    left = [item.ask for item in QUESTIONS if item.place not in answers]
    sys.stdout.write(f"Wrote {path}.")
    if left and not defaults:
        sys.stdout.write(f" Left open, to be filled in any time: {'; '.join(left)}.")
    typed = f"trubshoot log {shlex.quote(str(path))} gravity 1.048 --sample 20C"
    sys.stdout.write(f"\nThen log as it happens, for example: {typed}\n")
    return FINE


def _name_of(file: Path | None) -> str:
    """Return a name for a batch after its file, if that says one: `n.yaml` would be read as no."""
    stem = "" if file is None else file.stem.replace("_", " ")
    try:
        kinds.text("name").read(stem, "metric")
        stem.encode("utf-8")
    except (UnreadableQuantity, UnicodeEncodeError):
        return "My batch"
    return "My batch" if kinds.is_unknown(stem) else stem


def _refuse_taken(path: Path) -> None:
    if path.exists() or path.is_symlink():
        raise UnitError(f"{path} is there already and is left as it is. Name another file.")
    if not path.parent.is_dir():
        raise UnitError(f"there is no folder {path.parent}. Make it, or name another.")


def _slug(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "_", name.lower()).strip("_")[:60] or "my_batch"


Answers = dict[str, list[str]]


def _interview() -> tuple[Answers, dict[str, str]]:
    """Return the answers, and those that could not be read, by place."""
    sys.stdout.write("Leave empty what you do not know; ? explains. Nothing here is final.\n")
    answers: Answers = {}
    remarks: dict[str, str] = {}
    for number, question in enumerate(QUESTIONS, 1):
        units: UnitSystem = "us" if answers.get("units") == ["us"] else "metric"
        several = question.place in LISTS
        texts: list[str] = []
        while True:
            text, ended = _ask(question, f"{number}/{len(QUESTIONS)}", units, remarks)
            if text:
                texts.append(text)
            if not several or not text:
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
        text = " ".join("".join(c if c.isprintable() else " " for c in raw).split())[:500]
        if text == "?":
            sys.stdout.write(f"  {question.help}\n")
            continue
        if not text or text.lower() in _NO_IDEA:
            return "", raw == ""
        try:
            text.encode("utf-8")
            question.read(text, units)
        except (UnreadableQuantity, UnicodeEncodeError) as error:
            tries -= 1
            why = str(error) if isinstance(error, UnreadableQuantity) else "this cannot be stored."
            sys.stdout.write(f"  {why}\n")
            if tries:
                continue
            sys.stdout.write("  Kept as a remark in the file.\n")
            remarks[question.place] = text.encode("utf-8", "replace").decode("utf-8")
            return "", False
        return text, False


def _sheet(path: Path, answers: Answers, remarks: Mapping[str, str]) -> str:
    """Return the text of the batch file."""
    shown = path.name if " " not in path.name else f'"{path.name}"'
    lines = [
        "# A batch of beer. Empty places are unknown; that never makes an answer look better.",
        "# Log what happens, when it happens:",
        f"#   trubshoot log {shown} gravity 1.048 --sample 20C --with hydrometer",
        f"#   trubshoot log {shown} pitched beer=20C",
        f"#   trubshoot log {shown} beer 19C",
        f'#   trubshoot log {shown} saw "a brown ring of foam"',
        "# Then ask:",
        f"#   trubshoot next {shown}",
        f"#   trubshoot diagnose {shown}",
        *_head(answers, remarks),
        "log:",
        "  # one line for each thing, such as:",
        "  # - {at: 2026-03-07 15:00, gravity: 1.048, sample: 20 C, with: hydrometer}",
        "",
    ]
    return "\n".join(lines)


def _head(answers: Answers, remarks: Mapping[str, str]) -> Iterator[str]:
    """Give the lines above the log: groups of keys in the order of the questions."""
    places = [question.place for question in QUESTIONS]
    for place in dict.fromkeys(item.partition(".")[0] for item in places):
        own = [item for item in QUESTIONS if item.place.partition(".")[0] == place]
        if own[0].place == place:
            yield from _plain(own[0], answers.get(place, []), remarks)
            continue
        known = [item for item in own if item.place in answers]
        yield f"{place}:" if known else f"# {place}:"
        for item in own:
            key = item.place.partition(".")[2]
            if item.place in answers:
                yield f"  {_pair(key, answers[item.place][0])}"
            else:
                yield f"{'  # ' if known else '#   '}{key}:{_open(item, remarks)}"


def _plain(question: Question, values: Sequence[str], remarks: Mapping[str, str]) -> Iterator[str]:
    if not values:
        yield f"# {question.place}:{_open(question, remarks)}"
    elif question.place in LISTS:
        yield f"{question.place}:"
        yield from (f"  - {_pair('what', value).removeprefix('what: ')}" for value in values)
    else:
        yield _pair(question.place, values[0])


def _open(question: Question, remarks: Mapping[str, str]) -> str:
    """Return what stands behind a key left open: what is asked for, or what was answered."""
    said = remarks.get(question.place)
    asked = question.ask[0].lower() + question.ask[1:]
    return f" # answered: {said}" if said else f" # {asked}, such as {question.example}"


def _pair(key: str, value: str) -> str:
    return LogLine(((key, value),)).flow[1:-1]
