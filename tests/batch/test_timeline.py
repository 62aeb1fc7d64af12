"""The log in order of time, and what does not fit together in it."""

from __future__ import annotations

from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trubshoot.batch import read_batch
from trubshoot.errors import BatchError

NOW = datetime(2026, 11, 25, 12, 0)


def batch_of(*lines: str, head: str = "units: metric") -> str:
    """Return a batch file with these log lines; the first is line 4."""
    return f"batch: x\n{head}\nlog:\n" + "".join(f"- {{{line}}}\n" for line in lines)


def days(text: str, now: datetime | None = NOW) -> list[float | None]:
    """Return the days of the log in order of time."""
    return [timed.days for timed in read_batch(text, now).timeline(now).entries]


def warnings(*lines: str, head: str = "units: metric") -> list[str]:
    """Return the warnings of a log, without the name of the file."""
    found = read_batch(batch_of(*lines, head=head), NOW).warnings
    return [str(problem).removeprefix("<text>:") for problem in found]


def test_days_count_from_the_logged_pitching() -> None:
    """Entries before pitching are negative, and the clock gives the moment of asking."""
    text = batch_of(
        "at: 2026-11-20 12:00, gravity: 1.020",
        "at: 2026-11-15 12:00, did: pitched",
        "at: 2026-11-15 06:00, did: chilled",
    )
    timeline = read_batch(text, NOW).timeline(NOW)
    assert [timed.days for timed in timeline.entries] == [-0.25, 0.0, 5.0]
    assert (timeline.pitched, timeline.now_days, timeline.now_known) == (True, 10.0, True)
    assert timeline.assumed == ()


def test_a_log_of_day_numbers_only() -> None:
    """`day:` is enough; `today: 9` says when the question is asked."""
    lines = ("day: 0, did: pitched", "day: 3.5, gravity: 1.020", "day: -0.1, did: chilled")
    timeline = read_batch(batch_of(*lines, head="today: 9")).timeline()
    assert [timed.days for timed in timeline.entries] == [-0.1, 0.0, 3.5]
    assert (timeline.now_days, timeline.now_known, timeline.zero_at) == (9.0, True, None)


def test_the_day_of_asking_is_said_to_be_assumed() -> None:
    """Without a date anywhere the last entry is taken, and the timeline says so."""
    timeline = read_batch(batch_of("day: 0, did: pitched", "day: 4, ph: 4.5")).timeline(NOW)
    assert (timeline.now_days, timeline.now_known) == (4.0, False)
    assert timeline.assumed == ("the day of asking is not known; the last entry is taken for it",)


def test_dates_and_day_numbers_mix_when_pitching_has_a_date() -> None:
    """Day numbers are counted from the dated pitching."""
    text = batch_of(
        "at: 2026-11-01 12:00, did: pitched", "day: 3, ph: 4.5", "at: 2026-11-03 12:00, ph: 4.6"
    )
    assert days(text) == [0.0, 2.0, 3.0]


def test_dates_and_day_numbers_without_a_dated_pitching_are_refused() -> None:
    """An order that cannot be known is asked for, with both lines."""
    text = batch_of("day: 0, did: pitched", "at: 2026-11-03, ph: 4.6")
    with pytest.raises(BatchError) as caught:
        read_batch(text, NOW)
    assert str(caught.value) == (
        "<text>:5: this line has a date, but pitching has only a day number. "
        "Give the pitching in line 4 a date (`at:`)."
    )


def test_without_pitching_days_count_from_the_first_entry() -> None:
    """The first reading or deed is day 0, and the timeline says that it was assumed."""
    text = batch_of("at: 2026-11-01 08:00, note: bought", "at: 2026-11-02 08:00, gravity: 1.050")
    timeline = read_batch(text, NOW).timeline(NOW)
    assert [timed.days for timed in timeline.entries] == [-1.0, 0.0]
    assert not timeline.pitched
    assert timeline.assumed == ("pitching is not logged; days are counted from the first entry",)


def test_a_bare_date_keeps_its_place_in_the_file() -> None:
    """A date without an hour is noon, but never jumps over its neighbours of the same day."""
    text = batch_of(
        "at: 2026-11-01 15:00, did: chilled",
        "at: 2026-11-01, did: pitched",
        "at: 2026-11-02, ph: 4.5",
        "at: 2026-11-02 08:00, ph: 4.6",
    )
    timeline = read_batch(text, NOW).timeline(NOW)
    assert [timed.entry.number for timed in timeline.entries] == [0, 1, 2, 3]
    assert [timed.days for timed in timeline.entries] == pytest.approx([0, 0, 17 / 24, 17 / 24])
    assert timeline.assumed == ("the hour of pitching is not written; noon is assumed",)


def test_a_bare_date_of_today_is_not_in_the_future() -> None:
    """An entry dated today counts as before now, whatever the hour of the clock."""
    text = batch_of("at: 2026-11-20 12:00, did: pitched", "at: 2026-11-25, ph: 4.5")
    early = datetime(2026, 11, 25, 7, 0)
    timeline = read_batch(text, early).timeline(early)
    assert timeline.now_days == 5.0
    assert len(timeline.until_now()) == 2


def test_today_in_the_file_goes_before_the_clock() -> None:
    """An old file keeps the moment at which it was asked; later lines are left out and named."""
    lines = ("at: 2026-03-01 12:00, did: pitched", "at: 2026-03-09 12:00, ph: 4.5")
    batch = read_batch(batch_of(*lines, head="today: 2026-03-04"), NOW)
    timeline = batch.timeline(NOW)
    assert (timeline.now_days, timeline.now_known) == (3.0, True)
    assert [timed.days for timed in timeline.until_now()] == [0.0]
    assert [str(w) for w in batch.warnings] == [
        "<text>:5: this line is later than the day of asking and is left out. "
        "Correct its date, or `today`."
    ]


def test_pitching_on_another_day_number_moves_day_zero() -> None:
    """Who counts from brewing day still gets days since pitching."""
    text = batch_of("day: 1, did: pitched", "day: 4, ph: 4.5", head="today: 6")
    timeline = read_batch(text).timeline()
    assert [timed.days for timed in timeline.entries] == [0.0, 3.0]
    assert timeline.now_days == 5.0
    assert timeline.assumed == ("day numbers are counted from the logged pitching",)


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        (
            ("day: 0, did: pitched", "day: -1, did: bottled"),
            "5: bottled before the yeast was pitched. Check both dates.",
        ),
        (
            ("day: 0, did: pitched", "day: 2, did: pitched"),
            "5: pitched a second time; days are counted from the first. "
            "Write `did: repitched` for more yeast.",
        ),
        (
            ("day: 0, gravity: 1.050", "day: 0, gravity: 1.040"),
            "5: this gravity differs from the one in line 4 at the same time. "
            "Check both, or give each its hour.",
        ),
        (
            ("day: 0, did: pitched", "day: 9, did: bottled", "day: 20, gravity: 1.010"),
            "6: a gravity of the batch after it was bottled. "
            "Write `of: opened bottle` if it was one.",
        ),
        (
            ("day: 0, did: pitched", "day: 9, did: opened bottle"),
            "5: opened bottle before anything was bottled. "
            "Check the dates; is the bottling logged?",
        ),
        (
            ("day: 9, did: bottled, volume: 19 l, count: 10, size: 330 ml",),
            "4: 10 bottles of 330 ml hold 3.3 l, but 19.0 l are written as bottled. "
            "Check number, size and volume.",
        ),
    ],
)
def test_contradictions_are_warned_of(lines: tuple[str, ...], expected: str) -> None:
    """What cannot be true together is named with its line, and the file is still used."""
    assert warnings(*lines) == [expected]


def test_more_contradictions_in_the_head() -> None:
    """Volumes and expected gravities that do not fit are named."""
    assert warnings("day: 9, did: bottled, volume: 30 l", head="wort: {volume: 19 l}") == [
        "4: 30.0 l bottled from a batch of 19.0 l. Check both volumes and their units."
    ]
    head = "wort: {expected_og: 1.010, expected_fg: 1.050}"
    assert warnings("day: 1, ph: 5", head=head) == [
        "2: the expected final gravity 1.050 is above the starting gravity 1.010. "
        "Were they exchanged?"
    ]


def test_a_healthy_log_has_no_warnings() -> None:
    """Two instruments, two jars and an opened bottle are no contradictions."""
    assert (
        warnings(
            "day: 0, gravity: 1.050, with: hydrometer",
            "day: 0, gravity: 1.049, with: refractometer",
            "day: 0, did: pitched",
            "day: 14, did: bottled, volume: 19 l, count: 56, size: 330 ml",
            "day: 30, gravity: 1.010, of: opened bottle",
        )
        == []
    )


_LINES = st.lists(
    st.tuples(
        st.integers(1, 9),
        st.none() | st.integers(0, 23),
        st.sampled_from(["ph: 4", "did: pitched"]),
    ),
    max_size=12,
)


@given(_LINES)
def test_the_timeline_is_in_order_and_keeps_every_entry(
    lines: list[tuple[int, int | None, str]],
) -> None:
    """Sorted by days; bare dates keep the order of the file where the written hours allow it."""
    written = [
        f"at: 2026-11-0{day}" + ("" if hour is None else f" {hour:02}:00") + f", {rest}"
        for day, hour, rest in lines
    ]
    timeline = read_batch(batch_of(*written), NOW).timeline(NOW)
    found = [timed.days for timed in timeline.entries]
    assert None not in found
    assert found == sorted(found, key=lambda value: value or 0.0)
    assert sorted(timed.entry.number for timed in timeline.entries) == list(range(len(lines)))
    if any(rest == "did: pitched" for _, _, rest in lines):
        first = next(t for t in timeline.entries if getattr(t.entry, "verb", None) == "pitched")
        assert first.days == 0.0
