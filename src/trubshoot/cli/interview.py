"""The interview on a terminal: show a prompt, read a line, keep it. All else is the machine's."""

from __future__ import annotations

import contextlib
import re
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from trubshoot.cli.exits import BAD_INPUT, FINE, HAZARD
from trubshoot.cli.guard import guarded
from trubshoot.cli.places import Keeper, Kept
from trubshoot.cli.session import (
    chosen_units,
    console,
    diagnostician,
    moment,
    page_text,
    unit_system,
)
from trubshoot.cli.unreadable import unreadable
from trubshoot.errors import BatchError, UnitError
from trubshoot.safety import HazardBlock, Level
from trubshoot.sentences import in_units

if TYPE_CHECKING:
    from trubshoot.interview import Interview, Prompt, State
    from trubshoot.report.terminal import Page

_HELP = frozenset(("?", "help", "how", "what do you mean", "what do you mean?"))
_ABOUT_ONE = re.compile(r"\? ?([0-9]{1,2})")  # help for one of several things asked about
_BACK = frozenset(("back", "b", "undo"))
_QUIT = frozenset(("quit", "q", "exit", "bye"))
_ENOUGH = frozenset(("stop", "enough", "done", "finish", "that's all"))
_WAYS = (
    'Say "?" for how to find out, "don\'t know" whenever you do not, "back" to change the last '
    'answer, "stop" for the answer now, "quit" to go on another day.'
)
_ANSWERS = {
    "yes_no": "yes, no or don't know",
    "one": "a number, or don't know",
    "several": "numbers, no, or don't know",
    "which": "numbers of all that fit, none, or don't know",
    "value": "such as 3 weeks, or don't know",
    "repeat": "yes, or what is wrong",
}


class Left(Exception):
    """The brewer left, by a word, the end of input or an interrupt."""


def run_interview(
    path: Path | None,
    words: Sequence[tuple[str, str]],
    *,
    why: bool,
    form: str,
    at: str | None,
    units: str | None,
) -> int:
    """Hold an interview on the terminal; returns the exit code.

    Raises: UnitError: another format than text, a day or a unit that cannot be.
    """
    if form != "text":
        raise UnitError("an interview answers in text. For JSON name a batch file.")
    now = moment(at)
    system = chosen_units(units)
    if not sys.stdin.isatty():
        sys.stderr.write(
            "trubshoot: an interview needs a terminal to answer in, and here is none. "
            "Name a batch file: trubshoot diagnose BATCH.yaml, with --saw, --smelled, --tasted.\n"
        )
        return BAD_INPUT
    return guarded(
        lambda: Talk(path, list(words), now, units=system, why=why).run(), "text", verdict=False
    )


@dataclass
class Talk:
    """One interview between a machine and somebody at a terminal."""

    path: Path | None
    words: list[tuple[str, str]]
    now: datetime
    units: str | None
    why: bool
    shown: set[tuple[str, Level]] = field(default_factory=set)
    told_unkept: bool = False

    def run(self) -> int:
        """Ask until it ends, print the diagnosis, offer to save; returns the exit code."""
        from trubshoot.interview import Interview

        with contextlib.suppress(ImportError):
            import readline  # noqa: F401 - arrow keys in input()
        with contextlib.suppress(AttributeError, ValueError):
            sys.stdin.reconfigure(errors="replace")  # type: ignore[union-attr]  # a text stream
        self.keeper = Keeper(self.path)
        kept = self.keeper.read()
        turns: tuple[tuple[str, str], ...] = ()
        try:
            text = self._file_text()
        except BatchError as error:
            return unreadable(self.path or Path(), self.words, error, self.now, "text")
        if kept is not None and self._wants(kept):
            turns = kept.turns
            with contextlib.suppress(ValueError):
                self.now = datetime.fromisoformat(kept.started)
            self.units = self.units or kept.units
        system = None if self.units is None else unit_system(self.units, "metric")
        interview = Interview(
            diagnostician(), self.now, system, text, str(self.path or "<interview>")
        )
        state = interview.replay(turns)
        if self.words:
            said = ". ".join(_spoken(*word) for word in self.words)
            state = interview.answer(state, said, "more" if turns else "opening")
        self._write(_WAYS)
        try:
            state = self._ask_all(interview, state)
        except Left:
            return self._leave(interview)
        return self._end(interview, state)

    def _file_text(self) -> str | None:
        if self.path is None:
            return None
        from trubshoot.batch import read_batch

        read_batch(self.path, self.now)  # says what is wrong with it, with its name
        return self.path.read_text("utf-8-sig")

    def _wants(self, kept: Kept) -> bool:
        count = len(kept.turns)
        answers = "1 answer" if count == 1 else f"{count} answers"
        day = kept.started[:16].replace("T", " ")
        self._write(f"An interview of {day} was left unfinished, with {answers}.")
        try:
            said = self._read("Go on with it? (yes, or no to begin anew) ")
        except Left:
            return True
        return said.strip().lower() not in ("no", "n", "nope")

    # --- asking

    def _ask_all(self, interview: Interview, state: State) -> State:
        self.state = state
        told = state.message
        while True:
            prompt = interview.prompt(self.state)
            # what stands on missing numbers alone waits until it is confirmed what was said
            waits = prompt.form == "repeat"
            self._hazards(prompt.hazards, interview, gaps_too=not waits)
            if told:
                self._write(told)
                told = ""
            if prompt.form == "end":
                return self.state
            self._show(prompt, self.state)
            said = self._read("> ")
            word = said.strip().lower().rstrip(".!")
            if word in _HELP:
                self._write(_help(prompt))
                continue
            if (one := _ABOUT_ONE.fullmatch(word)) and 0 < int(one[1]) <= len(prompt.options):
                option = prompt.options[int(one[1]) - 1]
                self._write(f"{option.label}: {option.how or _help(prompt)}")
                continue
            if word in _QUIT:
                raise Left
            if word in _BACK:
                self.state = interview.back(self.state)
            elif word in _ENOUGH and prompt.id != "opening":
                self.state = interview.finish(self.state)
            else:
                if len(said) > 2000:
                    self._write("Only the first 2000 characters were read.")
                self.state = interview.answer(self.state, said)
                told = self.state.message
            self._keep()

    def _keep(self) -> None:
        kept = Kept(f"{self.now:%Y-%m-%dT%H:%M:%S}", self.units, self.state.turns)
        wrong = self.keeper.write(kept)
        if wrong and not self.told_unkept:
            self.told_unkept = True
            self._write(f"Answers cannot be kept on this machine ({wrong}); all else goes on.")

    def _hazards(
        self, blocks: Sequence[HazardBlock], interview: Interview, *, gaps_too: bool = True
    ) -> None:
        """Print every block at WARNING or above that was not shown yet, at once."""
        from trubshoot.report.terminal import print_hazards

        knowledge = interview.work.knowledge
        on_gaps = {key for key, hazard in knowledge.hazards.items() if hazard.stands_on_gaps}
        new = [
            block
            for block in blocks
            if block.level >= Level.WARNING
            and (block.id, block.level) not in self.shown
            and (gaps_too or block.id not in on_gaps)
        ]
        self.shown |= {(block.id, block.level) for block in new}
        if new:
            sys.stdout.write("\n")
            system = unit_system(self.units, interview.units_of(self.state))
            self._page(lambda page: print_hazards(page, in_units(new, system)))
        if any(block.id in on_gaps for block in new):
            self._write(knowledge.interview["gaps"].ask)

    def _show(self, prompt: Prompt, state: State) -> None:
        from trubshoot.interview.told import told

        number = len(set(state.asked)) + 1
        sys.stdout.write("\n")
        if prompt.form == "repeat":
            self._write("This is what I understood:")
            for place, item in enumerate(prompt.about, 1):
                self._item(f"{place:>2}.", told(item))
        head = "" if prompt.form in ("repeat", "words") else f"Question {number}. "
        self._write(f"{head}{prompt.ask}")
        for place, option in enumerate(prompt.options, 1):
            self._item(f"{place:>2}.", option.label)
        if prompt.form in _ANSWERS:
            self._write(f"({_ANSWERS[prompt.form]})")

    # --- ending

    def _leave(self, interview: Interview) -> int:
        diagnosis = interview.diagnosis(self.state)
        sys.stdout.write("\n")
        self._hazards(diagnosis.hazards, interview)  # none is left unshown
        if self.state.turns:
            self._keep()
            again = "trubshoot diagnose" + (f" --ask {self.path}" if self.path else "")
            self._write(f"Your answers are kept. To go on: {again}")
        return HAZARD if diagnosis.level >= Level.WARNING else FINE

    def _end(self, interview: Interview, state: State) -> int:
        from trubshoot.report.terminal import print_diagnosis

        diagnosis = interview.diagnosis(state)
        labels = {key: item.label for key, item in interview.work.knowledge.findings.items()}
        system = unit_system(self.units, interview.units_of(state))
        shown = console()
        with shown.capture() as captured:
            print_diagnosis(shown, in_units(diagnosis, system), labels, system, why=self.why)
        sys.stdout.write(f"\n{captured.get()}\n")
        try:
            if self._save(interview, state):
                self.keeper.forget()
        except Left:
            sys.stdout.write("\n")
            self._write("Nothing was saved. Your answers are kept until the next interview.")
        return HAZARD if diagnosis.level >= Level.WARNING else FINE

    def _save(self, interview: Interview, state: State) -> bool:
        """Offer to save the answers; returns whether they need not be kept any longer."""
        from trubshoot.batch.store import create

        if self.path is not None:
            return self._add(interview, state, self.path)
        while True:
            said = self._read("Save this as a batch file? (a name such as bitter, or no) ")
            name = said.strip()
            if not name or name.lower() in ("no", "n"):
                self._write("Nothing was saved, and the answers are forgotten.")
                return True
            if name.lower() in ("yes", "y", "don't know", "back", "stop", "?"):
                self._write("Answer with a name for the file, or no.")
                continue
            if name.lower() in _QUIT:
                raise Left
            name = name if name.endswith((".yaml", ".yml")) else f"{name}.yaml"
            try:
                path = Path(re.sub(r"[\x00-\x1f]", "", name)).expanduser()
                text = interview.text(state, path.stem.replace("_", " "))
                create(path, text, max(self.now, datetime.now()))
            except (BatchError, ValueError, OSError, RuntimeError) as error:
                problems = error.problems if isinstance(error, BatchError) else [error]
                for problem in problems:
                    self._write(f"{getattr(problem, 'message', problem)}")
                continue
            self._write(f"Wrote {path}. From now on: trubshoot log {path} ... and diagnose {path}")
            return True

    def _add(self, interview: Interview, state: State, path: Path) -> bool:
        """Offer to add the answers to the file asked about: log lines, and values of its head."""
        from trubshoot.batch.store import append_lines

        lines, head = interview.lines(state), interview.head(state)
        self._beyond(interview, state)
        if not lines and not head:
            self._write("There is nothing new to write into the file.")
            return True
        count = "1 line" if len(lines) == 1 else f"{len(lines)} lines"
        if lines and not self._agrees(f"Add your answers to the log of {path} ({count})?"):
            lines = []
        if head:
            self._write(f"You also told what belongs into the head of {path}:")
            for value in head:
                self._item("-", f"{value.group}: {value.pair}")
            head = head if self._agrees("Write it there? Nothing else in the file changes.") else ()
        if not lines and not head:
            self._write("Nothing was written.")
            return True
        append_lines(path, lambda batch: lines, max(self.now, datetime.now()), head)
        added = [f"{count} to the log"] if lines else []
        added += [f"{', '.join(f'{one.group}.{one.key}' for one in head)} to the head"] * bool(head)
        self._write(f"Added {' and '.join(added)} of {path}.")
        return True

    def _agrees(self, question: str) -> bool:
        return self._read(f"{question} (yes or no) ").strip().lower() in ("yes", "y")

    def _beyond(self, interview: Interview, state: State) -> None:
        from trubshoot.interview.sheet import beyond_the_log
        from trubshoot.interview.told import told

        kept = interview.head(state)
        places = {f"{value.group}.{value.key}" for value in kept}
        rows = interview.work.knowledge.interview
        for item in state.items:
            place = rows[item.id].place if item.kind == "detail" else ""
            if place and place not in places:
                self._write(f"Not written, since the file says {place} already: {told(item)}.")
        for item in beyond_the_log(interview.work.knowledge, state.items):
            if item.id != "stage":
                self._write(f"Not written, since it belongs elsewhere in the file: {told(item)}.")

    # --- the terminal

    def _read(self, mark: str) -> str:
        """Return one line typed. Raises Left at the end of input or an interrupt."""
        try:
            return input(mark)
        except (EOFError, KeyboardInterrupt):
            raise Left from None

    def _write(self, text: str) -> None:
        self._page(lambda page: page.line(text))

    def _item(self, mark: str, text: str) -> None:
        self._page(lambda page: page.item(mark, text))

    def _page(self, write: Callable[[Page], None]) -> None:
        sys.stdout.write(page_text(write))
        sys.stdout.flush()


def _spoken(sense: str, text: str) -> str:
    """Return words of an option as one would say them."""
    lead = {"no_sign_of": "no", "smelled": "smells of", "tasted": "tastes of"}.get(sense, "")
    return f"{lead} {text}".strip()


def _help(prompt: Prompt) -> str:
    """Return how to find out what is asked."""
    how = prompt.how or "Answer as well as you know."
    return f"{how} (about {prompt.minutes:.0f} min)" if prompt.minutes >= 1 else how
