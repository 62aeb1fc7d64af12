"""The command `drill`: show a case, read a line, keep it. All else is the machine's."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING, Any, TextIO

from trubshoot.cli.drill_store import Kept, Open, Store
from trubshoot.cli.exits import FINE
from trubshoot.cli.session import checked_form, diagnostician, page_text, unit_system
from trubshoot.errors import UnitError
from trubshoot.learning.drill_draw import LEVELS
from trubshoot.sentences import in_units

if TYPE_CHECKING:
    from trubshoot.learning.drill import Drill, DrillState
    from trubshoot.learning.drill_debrief import Debrief
    from trubshoot.report.terminal import Page
    from trubshoot.units import UnitSystem

PROGRESS = "progress"
MOST_CASES = 100
_LARGEST = 10**9
_PICKED_FROM = 1_000_000
_QUIT = frozenset(("quit", "q", "exit", "bye"))
_LIST = frozenset(("list", "?", "help", "tests"))


class Left(Exception):
    """The learner left, by a word, the end of input or an interrupt."""


def run_drill(
    what: str | None,
    cases: int,
    random_state: int | None,
    level: int | None,
    form: str,
    units: str | None,
) -> int:
    """Hold a practice, or show what came of all of them; returns the exit code.

    Raises: UnitError: an option that cannot be.
    """
    checked_form(form)
    if what not in (None, PROGRESS):
        raise UnitError(f'"{what}" is nothing to drill. Write nothing, or {PROGRESS}.')
    if not 1 <= cases <= MOST_CASES:
        raise UnitError(f"--cases {cases}: write a number from 1 to {MOST_CASES}.")
    if random_state is not None and not 0 <= random_state <= _LARGEST:
        raise UnitError(f"--random-state {random_state}: write a number from 0 to {_LARGEST}.")
    if level is not None and not 1 <= level <= len(LEVELS):
        raise UnitError(f"--level {level}: write a number from 1 to {len(LEVELS)}.")
    talk = Talk(cases, random_state, level, form, unit_system(units, "metric"))
    return talk.progress() if what == PROGRESS else talk.run()


@dataclass
class Talk:
    """One practice between the machine and a learner."""

    cases: int
    random_state: int | None
    level: int | None
    form: str
    system: UnitSystem
    store: Store = field(default_factory=Store)
    told_unkept: bool = False

    @property
    def out(self) -> TextIO:
        """Return where the talk goes: beside the data, when data are asked for."""
        return sys.stderr if self.form == "json" else sys.stdout

    def progress(self) -> int:
        """Show what came of all cases."""
        from trubshoot.learning.drill_progress import progress_of
        from trubshoot.report.drill_terminal import print_progress

        kept, wrong = self.store.read()
        if wrong:
            sys.stderr.write(f"trubshoot: {wrong}\n")
        shown = progress_of(kept.records)
        if self.form == "json":
            self._data("progress", shown, records=kept.records)
        else:
            self._page(lambda page: print_progress(page, diagnostician().knowledge, shown))
        return FINE

    def run(self) -> int:
        """Play the cases; what is left unfinished is kept."""
        from trubshoot.learning.browse import Library
        from trubshoot.learning.drill_draw import Bench

        with contextlib.suppress(ImportError):
            import readline  # noqa: F401 - arrow keys in input()
        with contextlib.suppress(AttributeError, ValueError):
            sys.stdin.reconfigure(errors="replace")  # type: ignore[union-attr]  # a text stream
        self.kept, wrong = self.store.read()
        if wrong:
            self._write(wrong)
        library = Library(diagnostician())
        self.bench, self.index = Bench(library.work), library.index
        debriefs: list[tuple[Any, Debrief]] = []
        try:
            left = self._left_open()
            if left is None and self.random_state is None:
                import secrets

                self.random_state = secrets.randbelow(_PICKED_FROM)
            for place in range(self.cases):
                opened = left if place == 0 else None
                debriefs.append(self._case(place, opened))
        except Left:
            self.out.write("\n")
            if self.kept.open is not None:
                self._write("The case is kept as it is. To go on: trubshoot drill")
        if self.form == "json":
            cases = [{"case": case, "debrief": told} for case, told in debriefs]
            self._data("drill", None, cases=cases)
        return FINE

    def _left_open(self) -> Open | None:
        """Return the case that was left, if the learner wants to go on with it."""
        left = self.kept.open
        if left is None or self.random_state is not None:
            return None
        if left.knowledge != diagnostician().knowledge.version:
            self._write("The case that you left was drawn from other knowledge; here is a new one.")
            return None
        count = len(left.turns)
        self._write(f"A case was left, with {count} answer{'' if count == 1 else 's'}.")
        said = self._read("Go on with it? (yes, or no for a new one) ")
        return None if said.strip().lower() in ("no", "n") else left

    def _case(self, place: int, left: Open | None) -> tuple[Any, Debrief]:
        from trubshoot.learning.drill import Drill
        from trubshoot.learning.drill_debrief import debrief
        from trubshoot.learning.drill_progress import next_level, record_of
        from trubshoot.report.drill_terminal import print_blocks, print_case, print_debrief

        if left is None:
            start = (self.random_state or 0) + place
            level = self.level or next_level(self.kept.records)
            left = Open(start, 1, level, diagnostician().knowledge.version, ())
        elif self.random_state is None:
            self.random_state = left.random_state
        case = self.bench.draw(left.random_state, left.number, left.level)
        drill = Drill(self.bench, self.index, case)
        state = drill.replay(left.turns)
        title = f"Case {place + 1} of {self.cases}"
        self.out.write("\n")
        self._page(lambda page: print_case(page, self.bench.knowledge, case, title, self.system))
        self._write(
            f"(The same case again: trubshoot drill --random-state {left.random_state}"
            f" --level {left.level})"
        )
        self._keep(replace(self.kept, open=replace(left, turns=state.turns)))
        state = self._play(drill, state, left)
        told = debrief(drill, state)
        if state.stopped:
            self.out.write("\n")
            self._page(lambda page: print_blocks(page, in_units(told.hazards, self.system)))
        self._page(lambda page: print_debrief(page, in_units(told, self.system)))
        record = record_of(case, told, date.today().isoformat())
        self._keep(Kept((*self.kept.records, record), None))
        return case, told

    def _play(self, drill: Drill, state: DrillState, left: Open) -> DrillState:
        from trubshoot.report.drill_terminal import mark, print_blocks, print_prompt

        shown: set[str] = set()
        whole = True
        while state.phase != "end":
            prompt = in_units(drill.prompt(state), self.system)
            new = [block for block in prompt.hazards if block.id not in shown]
            shown |= {block.id for block in new}
            if new:
                self.out.write("\n")
                self._page(lambda page, new=new: print_blocks(page, new))  # type: ignore[misc]  # bound now
            self._page(
                lambda page, prompt=prompt, whole=whole: print_prompt(page, prompt, whole=whole)  # type: ignore[misc]
            )
            said = self._read(mark(prompt))
            word = said.strip().lower().rstrip(".!")
            if word in _QUIT:
                raise Left
            if word in _LIST:
                whole = True
                state = replace(state, message=())
                continue
            before = state.phase
            state = drill.answer(state, said)
            # the list of tests comes once, and again when asking goes on after a look at the causes
            whole = state.phase == "ask" and before != "ask"
            self._keep(replace(self.kept, open=replace(left, turns=state.turns)))
        return state

    # --- what is kept, and the terminal

    def _keep(self, kept: Kept) -> None:
        self.kept = kept
        wrong = self.store.write(kept)
        if wrong and not self.told_unkept:
            self.told_unkept = True
            self._write(f"Practice cannot be kept on this machine ({wrong}); all else goes on.")

    def _data(self, view: str, thing: object, **more: object) -> None:
        from trubshoot.report.learn_json import plain
        from trubshoot.report.result_json import FORMAT_VERSION, to_text

        body = plain(thing) if thing is not None else {}
        body |= {key: plain(value) for key, value in more.items()}
        sys.stdout.write(to_text({"format_version": FORMAT_VERSION, "view": view, **body}))

    def _read(self, ask: str) -> str:
        """Return one line typed. Raises Left at the end of input or an interrupt."""
        try:
            if sys.stdin is None:  # started without any input
                raise EOFError
            if self.form == "json" or not sys.stdin.isatty():
                self.out.write(ask)
                self.out.flush()
                line = sys.stdin.readline()
                if not line:
                    raise EOFError
                said = line.rstrip("\n")
                self.out.write(f"{said}\n")  # nobody typed it, so it does not stand there yet
                return said
            return input(ask)
        except (EOFError, KeyboardInterrupt, OSError, ValueError):
            raise Left from None  # the two last: an input that is closed

    def _write(self, text: str) -> None:
        self._page(lambda page: page.line(text))

    def _page(self, write: Callable[[Page], None]) -> None:
        self.out.write(page_text(write))
        self.out.flush()
