"""Whatever stands in a file, reading it gives a batch or a list of problems, soon."""

from __future__ import annotations

import time
from datetime import datetime

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.batch.samples import US

from trubshoot.batch import Batch, read_batch
from trubshoot.errors import BatchError

NOW = datetime(2026, 11, 25, 12, 0)
SECONDS = 5.0  # far above the milliseconds it takes, far below a hang
MANY = settings(max_examples=600, deadline=None, suppress_health_check=[HealthCheck.too_slow])

_NASTY = [
    *("[", "]", "{", "}", ": ", "- ", "\n", "&a ", "*a", "!!python/name:os.system ", "? ", "| "),
    *("\t", "\u2028", "\ufeff", "1e400", "-1", ".inf", "0x1F", "99999999999999999999", "1,5", "12"),
    *("no", "off", "null", "~", "12:30", "2026-02-31", "2999-01-01", "'", '"', "#", "%", "---\n"),
    *("½", "١٢", "68", "1/0", "½½", "5 oz", "per bottle", "pitched", "bottled", "unknown", "<<: "),
]
_WORDS = sorted({word for word in US.replace("{", " ").replace(",", " ").split()})


def outcome(source: str | bytes) -> Batch | BatchError:
    """Return the batch, or the error with at least one problem that says something."""
    start = time.process_time()
    try:
        result: Batch | BatchError = read_batch(source, NOW)
        assert isinstance(result, Batch)
        assert result.timeline(NOW).entries is not None
    except BatchError as error:
        result = error
    if isinstance(result, BatchError):
        assert result.problems
        assert all(problem.message and problem.mend for problem in result.problems)
    assert time.process_time() - start < SECONDS
    return result


@MANY
@given(st.binary(max_size=400))
def test_any_bytes(source: bytes) -> None:
    """Random bytes never make the reader fail in another way."""
    outcome(source)


@MANY
@given(
    st.text(max_size=300) | st.lists(st.sampled_from(_NASTY + _WORDS), max_size=40).map(" ".join)
)
def test_any_text(source: str) -> None:
    """Random text and heaps of words of the format never make the reader fail in another way."""
    outcome(source)
    outcome("batch: x\n" + source)
    outcome("batch: x\nlog:\n- {day: 1, " + source + "}")


@MANY
@given(st.data())
def test_mutations_of_a_good_file(data: st.DataObject) -> None:
    """Cuts, swaps, insertions and foreign values in a good file are read or refused."""
    text = US
    for _ in range(data.draw(st.integers(1, 5))):
        at = data.draw(st.integers(0, len(text)))
        end = data.draw(st.integers(at, min(len(text), at + 30)))
        text = text[:at] + data.draw(st.sampled_from(["", *_NASTY, *_WORDS])) + text[end:]
    outcome(text)
    outcome(text.encode("utf-8", "replace"))


@MANY
@given(
    st.integers(0, US.count(": ") - 1),
    st.sampled_from(_NASTY)
    | st.floats().map(str)
    | st.integers().map(str)
    | st.text(max_size=20)
    | st.lists(st.integers(), max_size=3).map(str),
)
def test_any_value_in_any_place(place: int, value: str) -> None:
    """Each value of a good file may be replaced by anything."""
    parts = US.split(": ")
    head, rest = ": ".join(parts[: place + 1]), ": ".join(parts[place + 1 :])
    end = min((rest.find(c) for c in ",}\n" if c in rest), default=len(rest))
    outcome(f"{head}: {value}{rest[end:]}")


@pytest.mark.parametrize(
    "source",
    [
        "[" * 200_000,
        "{a: " * 100_000,
        "- " * 100_000,
        "a: &a [x]\n" + "".join(f"b{i}: &b{i} [*a, *a, *a]\n" for i in range(50)),
        "batch: x\nlog:\n" + "- {day: 1, zz: 1}\n" * 20_000,
        "batch: x\nlog:\n" + "- {day: 1, did: botled up the whole lot of it}\n" * 15_000,
        "batch: " + "x" * 1_000_000,
        "batch: x\n" + "".join(f"k{i}: 1\n" for i in range(50_000)),
        "batch: x\nlog: [{day: 1, gravity: " + "9" * 100_000 + "}]",
        "batch: x\nlog: [{day: 1, beer: " + "1 " * 100_000 + "}]",
        "batch: x\nlog: [{day: 1, did: bottled, sugar: " + "a " * 100_000 + "}]",
    ],
    ids=lambda source: source[:20].replace("\n", " "),
)
def test_files_made_to_hurt(source: str) -> None:
    """Deep, long and self-referring files are refused in bounded time."""
    start = time.process_time()
    assert isinstance(outcome(source), BatchError) or source.startswith("batch: xxx")
    assert time.process_time() - start < SECONDS
