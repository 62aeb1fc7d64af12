"""The interview as a machine of states: what is asked now, and what an answer makes of it.

Nothing here prints, waits or looks at a clock. A state follows from its turns alone, (question,
answer) pairs: so it is kept, resumed and stepped back by keeping turns. The diagnosis is always the
one of the batch text that would be saved.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime

from trubshoot.batch import Batch, read_batch
from trubshoot.batch.append import LogLine, with_lines
from trubshoot.batch.head import HeadValue, missing_in_head, with_head
from trubshoot.diagnosis import Diagnosis, Diagnostician
from trubshoot.diagnosis.advice import bottles_watched
from trubshoot.errors import BatchError
from trubshoot.evidence import collect
from trubshoot.interview.answers import Reading
from trubshoot.interview.choose import from_memory, labels_of, worth_asking
from trubshoot.interview.hearing import Hearing, plain, units_told
from trubshoot.interview.numbers import BOTTLED
from trubshoot.interview.sheet import head_values, new_lines, new_text, times_told
from trubshoot.interview.state import Item, Option, Prompt, State
from trubshoot.safety import Level, suppress_tasting
from trubshoot.units import UnitSystem

NAME = "My batch"
_KEPT = 64  # diagnoses remembered


class Interview:
    """Asks about one batch: a new one, or one that has a file."""

    def __init__(
        self,
        work: Diagnostician,
        now: datetime,
        units: UnitSystem | None = None,
        file_text: str | None = None,
        path: str = "<interview>",
        remembered: int = _KEPT,
    ) -> None:
        """Make an interview ready.

        Args:
            work: the knowledge made ready for work.
            now: the moment that "3 weeks ago" is counted from, and that is answered for.
            units: how degrees without a letter are read; None: as the words around them.
            file_text: text of the batch file asked about; None: a batch without one.
            path: how messages call that file.
            remembered: how many diagnoses are kept in memory, for asking without working anew.

        Raises: BatchError: the file cannot be used.
        """
        self.work, self.now, self.units, self.path = work, now, units, path
        self._remembered = remembered
        self.file_text = file_text
        self.file = None if file_text is None else read_batch(file_text, now, path)
        self.hearing = Hearing(work.knowledge, work.lexicon)
        self._kept: dict[str, tuple[Batch, Diagnosis]] = {}

    # --- what is known

    def lines(self, state: State) -> list[LogLine]:
        """Return the log lines that the answers add to the file asked about."""
        return [] if self.file is None else new_lines(state.items, self.file, self.now)

    def head(self, state: State) -> tuple[HeadValue, ...]:
        """Return what the answers add to the head of the file asked about."""
        if self.file_text is None:
            return ()
        told = head_values(self.work.knowledge, state.items)
        return missing_in_head(self.file_text, told, self.path)

    def text(self, state: State, name: str = NAME, marker: str = "") -> str:
        """Return the batch file that says what is known: the new one, or the old one with lines."""
        if self.file_text is None:
            return new_text(
                self.work.knowledge, state.items, name, self.units_of(state), self.now, marker
            )
        lines = self.lines(state)
        text = with_lines(self.file_text, lines, self.path) if lines else self.file_text
        return with_head(text, self.head(state), self.path)

    def diagnosis(self, state: State) -> Diagnosis:
        """Return the diagnosis of what is known."""
        return self._worked_out(state)[1]

    def units_of(self, state: State) -> UnitSystem:
        """Return the units the brewer speaks in."""
        if self.file is not None:
            return self.file.units
        said = " ".join(item.said for item in state.items if item.kind == "detail")
        return self.units or units_told(said) or "metric"

    def _worked_out(self, state: State) -> tuple[Batch, Diagnosis]:
        text = self.text(state)
        if text not in self._kept:
            batch = read_batch(text, self.now, self.path)
            if len(self._kept) >= self._remembered:
                self._kept.clear()
            self._kept[text] = batch, self.work.diagnose(batch, self.now)
        return self._kept[text]

    def stage(self, state: State) -> str:
        """Return brewing, fermenting or bottled; "" while nothing says it."""
        return self.diagnosis(state).evidence.stage if self.file else state.details.get("stage", "")

    # --- what is asked

    def prompt(self, state: State) -> Prompt:
        """Return what is asked now, with every hazard that stands."""
        diagnosis = self.diagnosis(state)
        found = self._build(self._next(state, diagnosis), state, diagnosis)
        return replace(found, message=state.message, hazards=diagnosis.hazards)

    def _next(self, state: State, diagnosis: Diagnosis) -> str:
        """Return the id of the prompt that comes now."""
        if "opening" not in state.closed:
            return "opening"
        if state.unchecked:
            return "repeat"
        danger = any(
            block.level == Level.DANGER or block.topic == "injury" for block in diagnosis.hazards
        )
        if state.ended or danger:
            return "end"
        asked = self._place(state) or self._safety(state, diagnosis)
        asked = asked or self._unclear(state, diagnosis) or self._basics(state)
        if asked:
            return asked
        if not any(finding.up for finding in diagnosis.findings) and "more" not in state.closed:
            return "more"
        put = [prompt for prompt in state.asked if prompt.startswith(("finding:", "group:"))]
        constant = self.work.knowledge.constant
        if len(put) >= constant("interview_most_questions"):
            return "end"
        if state.unknown_run >= constant("interview_most_unknown"):
            return "end"
        closed = {prompt.partition(":")[2] for prompt in state.closed}
        for worth in worth_asking(self.work, diagnosis, closed):
            counting = self._would_count(worth.findings, state)
            if len(counting) > 1 or (counting and not worth.group):
                return replace(worth, findings=counting).prompt
        return "end"

    def _unclear(self, state: State, diagnosis: Diagnosis) -> str:
        """Return the question on what was said in two ways, or in a word that people mix up."""
        both = {
            item.id
            for item in state.items
            for other in state.items
            if item.key == other.key and item.state != other.state
        }
        for item in state.items:
            if item.id in both and item.kind != "detail" and f"both:{item.id}" not in state.closed:
                return f"both:{item.id}"
        for item in state.items:
            if not item.vague or f"confusion:{item.vague}" in state.closed:
                continue
            confusion = self.work.knowledge.confusions[item.vague]
            if confusion.by != "taste" or not suppress_tasting(diagnosis.hazards):
                return f"confusion:{item.vague}"
        for contradiction in diagnosis.contradictions:
            own = any(item.key == f"finding:{contradiction.finding}" for item in state.items)
            if own and f"log:{contradiction.finding}" not in state.closed:
                return f"log:{contradiction.finding}"
        return ""

    def _place(self, state: State) -> str:
        """Return the question on where the beer is, on which all others hang; "" when known."""
        known = self.file is not None or self.stage(state) or "detail:stage" in state.closed
        return "" if known else "detail:stage"

    def _basics(self, state: State) -> str:
        """Return the question on since when; "" when that is known."""
        stage = self.stage(state)
        if self.file is not None or not stage:
            return ""
        times = times_told(state.details, self.now)
        if times.odd and "odd:pitched_days" not in state.closed:
            return "odd:pitched_days"
        lacking = times.bottled_guessed if stage == BOTTLED else times.pitched is None
        for key, row in self.work.knowledge.interview.items():
            if (
                row.asked
                and stage in row.stages
                and lacking
                and f"detail:{key}" not in state.closed
            ):
                return f"detail:{key}"
        return ""

    def _safety(self, state: State, diagnosis: Diagnosis) -> str:
        facts = diagnosis.evidence.facts
        for key, row in self.work.knowledge.interview.items():
            if row.kind != "safety" or diagnosis.evidence.stage not in row.stages:
                continue
            # the gravest stands first; having told of a lesser one does not answer for it
            told = facts.get(f"said.{row.options[0].says}") == "present"
            if not told and f"safety:{key}" not in state.closed:
                return f"safety:{key}"
        return ""

    def _would_count(self, findings: Sequence[str], state: State) -> tuple[str, ...]:
        """Return the findings of which a yes would be read back, at this age of the batch."""
        stage = self.stage(state)
        items = {name: self.hearing.item("finding", name, "present", stage) for name in findings}
        new = tuple(item for item in items.values() if item is not None)
        batch = read_batch(self.text(replace(state, items=(*state.items, *new))), self.now)
        evidence = collect(batch, self.work.knowledge, lambda: self.work.lexicon, self.now)
        heard = {found.id for found in evidence.understood}
        return tuple(name for name, item in items.items() if item is not None and name in heard)

    def _build(self, prompt_id: str, state: State, diagnosis: Diagnosis) -> Prompt:
        """Return the prompt of an id."""
        kind, _, key = prompt_id.partition(":")
        knowledge = self.work.knowledge
        rows = knowledge.interview
        if kind == "end":
            return Prompt("end", "end", "")
        if kind in ("opening", "more"):
            return Prompt(prompt_id, "words", rows[kind].ask, rows[kind].how)
        if kind == "repeat":
            return Prompt(prompt_id, "repeat", rows[kind].ask, rows[kind].how, about=state.items)
        if kind == "both":
            label = next(item.label for item in state.items if item.id == key)
            ask = rows["both_ways"].ask.format(label=label)
            return Prompt(prompt_id, "yes_no", ask, rows["both_ways"].how)
        if kind == "confusion":
            confusion = knowledge.confusions[key]
            meant = tuple(Option(option.label) for option in confusion.options)
            return Prompt(prompt_id, "one", confusion.ask, confusion.how, meant)
        if kind == "log":
            found = next(item for item in diagnosis.contradictions if item.finding == key)
            row = rows["against_log"]
            ask = row.ask.format(said=found.said, logged=found.logged)
            return Prompt(prompt_id, "one", ask, row.how, _options(row.options))
        if kind == "safety":
            row = rows[key]
            return Prompt(prompt_id, "several", row.ask, row.how, _options(row.options))
        if kind in ("detail", "odd"):
            row = rows[key]
            ask = f"{rows['odd'].ask} {row.ask}" if kind == "odd" else row.ask
            form = "one" if row.options else "value"
            return Prompt(prompt_id, form, ask, row.how, _options(row.options))  # type: ignore[arg-type]  # one of two forms
        if kind == "group":
            return self._group(prompt_id, diagnosis)
        finding = knowledge.findings[key]
        label = finding.label[0].lower() + finding.label[1:]
        if from_memory(finding, diagnosis.hazards):
            row = rows["from_memory"]
            return Prompt(prompt_id, "yes_no", row.ask.format(label=label), row.how)
        ask = rows["finding"].ask.format(label=label)
        return Prompt(prompt_id, "yes_no", ask, finding.check.how, minutes=finding.check.minutes)

    def _group(self, prompt_id: str, diagnosis: Diagnosis) -> Prompt:
        """Return the question on several findings; its id names them."""
        _, key, names = prompt_id.split(":")
        knowledge = self.work.knowledge
        row, rows = knowledge.interview[key], knowledge.interview
        labels = labels_of(knowledge, key)
        findings = [knowledge.findings[name] for name in names.split(",")]
        options = tuple(Option(labels[one.id], one.id, one.check.how) for one in findings)
        hazards = diagnosis.hazards
        # the row's own help may say "pour a glass" or "take a sip": never while a hazard forbids it
        if bottles_watched(hazards) or suppress_tasting(hazards):
            wording = rows["group_from_memory"]
            plain = tuple(Option(option.label, option.says) for option in options)
            return Prompt(prompt_id, "which", wording.ask.format(ask=row.ask), wording.how, plain)
        return Prompt(prompt_id, "which", row.ask, f"{row.how} {rows['group'].how}", options)

    # --- what an answer does

    def answer(self, state: State, text: str, prompt_id: str = "") -> State:
        """Return the state after an answer to what is asked now, or to a named prompt.

        An answer that cannot be used leaves everything as it was, with a message.
        """
        said = plain(text)
        prompt_id = prompt_id or self._next(state, self.diagnosis(state))
        reading = Reading(self.hearing, self.now, self.units, self.stage(state))
        try:
            prompt = self._build(prompt_id, state, self.diagnosis(state))
        except (KeyError, StopIteration):
            return state  # kept from another version of the knowledge, which asked other things
        after = reading.take(state, prompt, said)
        if after.message and after.items == state.items and after.closed == state.closed:
            return after
        after = replace(after, turns=(*state.turns, (prompt_id, said)))
        try:
            after = self._reread(state, after)
            self.diagnosis(after)
        except BatchError as error:
            message = f"This cannot stand in a batch file: {error.problems[0].message}"
            return replace(state, message=message)
        return after

    def _reread(self, before: State, after: State) -> State:
        """Read words again when it became known where the beer is: some mean another thing then."""
        stage = self.stage(after)
        if stage == self.stage(before) or not stage:
            return after
        items: list[Item] = []
        for item in after.items:
            if item.kind in ("detail", "lost"):
                items.append(item)
                continue
            again = self.hearing.items(item.said, stage, self.units, self.now.date())
            same = [other for other in again if (other.kind, other.id) == (item.kind, item.id)]
            if item.state == "absent" or same or not again:
                kept = self.hearing.item(
                    item.kind, item.id, item.state, stage, (item.said, item.value)
                )
                items.append(replace(kept, asked=item.asked) if kept else item)
            else:
                items += [other for other in again if other.kind not in ("detail", "lost")]
        return replace(after, items=tuple(dict.fromkeys(items)))

    def back(self, state: State) -> State:
        """Return the state before the last answer."""
        return self.replay(state.turns[:-1])

    def finish(self, state: State) -> State:
        """Return the state in which nothing more is asked."""
        return replace(state, ended=True, message="")

    def replay(self, turns: Iterable[Sequence[str]]) -> State:
        """Return the state that kept turns lead to; what is not asked any more is left out."""
        state = State()
        for turn in turns:
            if len(turn) == 2 and all(isinstance(part, str) for part in turn):
                state = replace(self.answer(state, turn[1], turn[0]), message="")
        return state


def _options(choices: Iterable[object]) -> tuple[Option, ...]:
    return tuple(
        Option(str(getattr(choice, "label")), str(getattr(choice, "says") or ""))  # noqa: B009 - any row
        for choice in choices
    )
