"""From the fields of a form to words typed in the kitchen: the same that `trubshoot log` takes.

The lines are made by `typed_line` and read by the reader of batch files; nothing is judged here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime

from trubshoot.batch import Batch
from trubshoot.batch.append import LogLine
from trubshoot.batch.log_words import typed_line, when_typed
from trubshoot.batch.verbs import DETAILS, VERBS
from trubshoot.errors import UnitError
from trubshoot.web.guard import Form

Make = Callable[[Batch], Sequence[LogLine]]

SENSES = ("saw", "smelled", "tasted", "no_sign_of")
# what a typed temperature is of: which lines and details it gives beside a gravity
TEMPERATURES = ("both", "beer", "sample", "room")


def by_days(batch: Batch) -> bool:
    """Tell whether a log counts days since pitching and not dates."""
    return bool(batch.log) and all(entry.at is None for entry in batch.log)


def _when(form: Form, batch: Batch, now: datetime) -> tuple[str, str]:
    at, day = form.get("at") or None, form.get("day") or None
    if at is None and day is None and by_days(batch):
        raise UnitError("This log counts days since pitching: say which day it is.")
    return when_typed(at, day, batch, now)


def reading(form: Form, now: datetime) -> Make:
    """Return what makes the lines of a gravity, a temperature, or both.

    Raises: UnitError: neither is filled in.
    """
    gravity, temp = form.get("gravity"), form.get("temp")
    of_what = form.get("of_what") or "both"
    if of_what not in TEMPERATURES:
        raise UnitError("Choose what the temperature is of.")
    if not gravity and not temp:
        raise UnitError("Nothing to log yet: fill in a gravity, a temperature, or both.")
    if temp and not gravity and of_what == "sample":
        raise UnitError("The temperature of a sample goes with its gravity: fill that in too.")
    details = {"with": form.get("with"), "of": form.get("of"), "degassed": form.get("degassed")}
    if temp and of_what in ("both", "sample"):
        details["sample"] = temp

    def make(batch: Batch) -> list[LogLine]:
        when = _when(form, batch, now)
        lines = []
        if gravity:
            lines.append(typed_line(["gravity", gravity], details, when))
        if temp and of_what != "sample":
            verb = "room" if of_what == "room" else "beer"
            lines.append(typed_line([verb, temp], {}, when))
        return lines

    return make


def words(form: Form, now: datetime) -> Make:
    """Return what makes the line of something seen, smelled, tasted or looked for in vain.

    Raises: UnitError: no sense is chosen, or nothing is said.
    """
    sense, text = form.get("sense"), _text(form.get("text"))
    if sense not in (*SENSES, "note"):
        raise UnitError("Choose whether you saw, smelled or tasted it.")
    if not text:
        raise UnitError("Nothing to log yet: say in a few words what it was.")
    where = {} if sense == "note" else {"in": form.get("in")}
    return lambda batch: [typed_line([sense, text], where, _when(form, batch, now))]


def deed(form: Form, now: datetime) -> Make:
    """Return what makes the line of something done, with its details.

    Raises: UnitError: nothing is said.
    """
    verb = form.get("verb")
    if verb not in VERBS:
        raise UnitError("Choose what you did.")
    details = [f"{name}={form.get(name)}" for name in DETAILS[verb] if form.get(name)]
    return lambda batch: [typed_line(["did", verb, *details], {}, _when(form, batch, now))]


def said(form: Form) -> list[tuple[str, str]]:
    """Return the words of a form as (sense, text) pairs, to look for hazards in."""
    text = _text(form.get("text"))
    sense = form.get("sense")
    found = [(sense if sense in SENSES else "saw", text)] if text else []
    return found + [("saw", form.get(name)) for name in ("what", "where") if form.get(name)]


# the field that a complaint is about, by how it begins
_FIELDS = {
    "Gravity": "gravity",
    **dict.fromkeys(("Sample", "Beer", "Room", "Temperature"), "temp"),
}


def wrong_fields(complaints: Sequence[str]) -> frozenset[str]:
    """Return the fields of a reading that complaints are about."""
    heads = (line.partition(":")[0] for line in complaints)
    return frozenset(_FIELDS[head] for head in heads if head in _FIELDS)


def said_once(complaints: Sequence[str]) -> list[str]:
    """Return complaints without those that say the same of the one temperature typed."""
    found: dict[str, str] = {}
    for line in complaints:
        head, _, rest = line.partition(": ")
        field = _FIELDS.get(head, head)
        found.setdefault(f"{field}: {rest}", f"Temperature: {rest}" if field == "temp" else line)
    return list(found.values())


def _text(text: str) -> str:
    """Return words in one line; dashes at their head would look like an option."""
    return " ".join(text.split()).lstrip("-").strip()
