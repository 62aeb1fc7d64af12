"""The fuzzer in small: every target runs, tries both good and bad input, and would find a fault."""

from __future__ import annotations

import random

import pytest
from tests.proof import targets
from tests.proof.choices import FromBytes
from tests.proof.commands import COMMANDS, program_commands
from tests.proof.fuzz import attack
from tests.proof.targets import TARGETS

# enough of each to have good and bad input in it; a campaign runs thousands of times as many
RUNS = {"quantities": 400, "words": 60, "knowledge": 40, "commands": 25, "diagnoses": 25}
FEW = 80
SLOW = {"interviews": 6}


@pytest.mark.parametrize("name", TARGETS)
def test_nothing_breaks_it(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """No input makes a target fail otherwise than by the project's own errors."""
    monkeypatch.setattr("tests.proof.fuzz.MOST_MIB", 4000.0)  # the other tests' memory counts too
    tally = attack(name, RUNS.get(name, SLOW.get(name, FEW)))
    assert tally.findings == {}
    assert tally.outcomes["taken"] > 0, "no good input was among it"


def test_a_fault_would_be_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """A reader that fails in its own way on some inputs is named, with one of these inputs."""

    def faulty(source: str | bytes) -> str:
        if len(source) % 7 == 0:
            raise KeyError("loose")
        return "taken"

    broken = targets.Target(TARGETS["batch_files"].make, faulty, 3.0, 1.0)
    monkeypatch.setitem(TARGETS, "batch_files", broken)
    monkeypatch.setattr("tests.proof.fuzz.MOST_MIB", 4000.0)
    tally = attack("batch_files", 60)
    assert any("KeyError" in kind for kind in tally.findings)
    assert tally.outcomes["found"] > 1


def test_a_slow_run_would_be_found(monkeypatch: pytest.MonkeyPatch) -> None:
    """A run that takes longer than its target allows is a finding, and so is too much memory."""
    slow = targets.Target(lambda chance: 1, lambda made: "taken", -1.0, 1.0)
    monkeypatch.setitem(TARGETS, "words", slow)
    monkeypatch.setattr("tests.proof.fuzz.HANG", -10)
    monkeypatch.setattr("tests.proof.fuzz.MOST_MIB", 1.0)
    kinds = " ".join(attack("words", 1).findings)
    assert "are allowed" in kinds
    assert "memory" in kinds


def test_every_command_of_the_program_is_attacked() -> None:
    """The table of commands holds exactly the commands of the program: add a row for a new one."""
    assert sorted(COMMANDS) == sorted(program_commands())


def test_input_can_be_cut_from_bytes() -> None:
    """Bytes of a coverage-guided fuzzer lead to inputs, the same bytes always to the same."""
    raw = [random.Random(number).randbytes(600) for number in range(6)]
    for target in TARGETS.values():
        made = [repr(target.make(FromBytes(one))) for one in raw]
        assert made == [repr(target.make(FromBytes(one))) for one in raw]
        assert len(set(made)) > 1
        target.make(FromBytes(b""))
