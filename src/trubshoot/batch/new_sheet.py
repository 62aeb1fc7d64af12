"""A new batch file: what it asks for, and its text from the answers.

The terminal and the page of `trubshoot web` ask the same questions and write the same file. Asked
is only what the checks need, in that order; nothing is refused: an answer that cannot be read is
kept as a remark, since the brewer may know better.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from trubshoot.batch import kinds
from trubshoot.batch.append import LogLine
from trubshoot.batch.fields import GROUPS, LISTS
from trubshoot.units import UnitSystem, UnreadableQuantity

Answers = Mapping[str, Sequence[str]]
NO_NAME = "My batch"
MOST_LETTERS = 500  # of one answer
_NO_IDEA = frozenset(("unknown", "don't know", "dont know", "no idea", "-"))


@dataclass(frozen=True)
class Question:
    """One question: where its answer goes ("wort.volume"), its words, an example, its help."""

    place: str
    ask: str
    example: str
    help: str

    @property
    def several(self) -> bool:
        """Tell whether it takes several answers, one a line."""
        return self.place in LISTS

    def read(self, text: str, units: UnitSystem) -> None:
        """Raise UnreadableQuantity for an answer that the batch file would refuse."""
        try:
            text.encode("utf-8")
        except UnicodeEncodeError as error:
            raise UnreadableQuantity("this cannot be stored.", "Use other letters.") from error
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
        "From this the end of the fermentation is worked out.",
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


def tidy(text: str) -> str:
    """Return an answer in one line of letters that can be shown; "" for one who does not know."""
    line = " ".join("".join(c if c.isprintable() else " " for c in text).split())[:MOST_LETTERS]
    return "" if line.lower() in _NO_IDEA else line


def units_of(answers: Answers) -> UnitSystem:
    """Return how bare numbers are read, as answered so far."""
    return "us" if list(answers.get("units", ())) == ["us"] else "metric"


def name_from(text: str) -> str:
    """Return a text as the name of a batch if it says one: `n` would be read as no."""
    try:
        kinds.text("name").read(text, "metric")
        text.encode("utf-8")
    except (UnreadableQuantity, UnicodeEncodeError):
        return NO_NAME
    return NO_NAME if kinds.is_unknown(text) else text


def file_stem(name: str) -> str:
    """Return how the file of a batch is called: small letters and figures of its name."""
    return re.sub(r"[^a-z0-9]+", "_", name.lower())[:60].strip("_") or "my_batch"


def still_open(answers: Answers) -> list[str]:
    """Return the questions that have no answer."""
    return [question.ask for question in QUESTIONS if question.place not in answers]


def sheet(file: str, answers: Answers, remarks: Mapping[str, str]) -> str:
    """Return the text of a new batch file.

    Args:
        file: the name of the file, for the commands in its remarks.
        answers: what was answered, by place; "batch" is among them.
        remarks: answers that could not be read, by place.
    """
    shown = file if " " not in file else f'"{file}"'
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
        if question.place in remarks:
            yield f"  # answered: {remarks[question.place]}"
    else:
        yield _pair(question.place, values[0])


def _open(question: Question, remarks: Mapping[str, str]) -> str:
    """Return what stands behind a key left open: what is asked for, or what was answered."""
    said = remarks.get(question.place)
    asked = question.ask[0].lower() + question.ask[1:]
    return f" # answered: {said}" if said else f" # {asked}, such as {question.example}"


def _pair(key: str, value: str) -> str:
    return LogLine(((key, value),)).flow[1:-1]
