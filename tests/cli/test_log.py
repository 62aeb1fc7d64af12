"""`trubshoot log`: what is typed in the kitchen ends in the file, and what it changed is said."""

from __future__ import annotations

import shutil
from datetime import datetime
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest
from tests.cli.support import EXAMPLES, Run, run

from trubshoot.batch import read_batch
from trubshoot.batch.log_words import of_room, typed_line, when_typed
from trubshoot.cli import log as log_command
from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.after_log import NOTHING_ELSE, AfterLog
from trubshoot.diagnosis.result import Diagnosis
from trubshoot.diagnosis.what_changed import Changed, what_changed
from trubshoot.errors import UnitError

NOW = datetime(2026, 11, 25, 18, 0)
WHEN = ("at", "2026-11-25 18:00")


def plain(out: str) -> str:
    """Return output without its line breaks, so that sentences can be looked for."""
    return " ".join(out.split())


@pytest.fixture
def stuck(tmp_path: Path) -> Path:
    """Return a copy of the example of a stuck beer."""
    return Path(shutil.copy(EXAMPLES / "stuck_after_cold_night.yaml", tmp_path / "stuck.yaml"))


@pytest.fixture
def early(tmp_path: Path) -> Path:
    """Return a copy of the example of a beer bottled too early, before the bottling."""
    text = (EXAMPLES / "bottled_too_early.yaml").read_text("utf-8")
    path = tmp_path / "early.yaml"
    lines = [line for line in text.splitlines() if "bottled," not in line and "gushes" not in line]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("typed", "options", "wanted"),
    [
        (["gravity", "1.014"], {"sample": "20C"}, "gravity: 1.014, sample: 20C"),
        (["gravity", "12", "P", "of=forced test"], {}, "gravity: 12 P, of: forced test"),
        (["beer", "68F"], {}, "beer: 68F"),
        (["room", "-2C"], {}, "room: -2C"),
        (["ph", "4.3"], {}, "ph: 4.3"),
        (["saw", "foam", "ring"], {"in": "fermenter"}, "saw: foam ring, in: fermenter"),
        (["saw", "foam ring", "a film"], {}, "saw: [foam ring, a film]"),
        (["no-sign-of", "mould"], {}, "no_sign_of: mould"),
        (["no", "sign", "of", "a", "film"], {}, "no_sign_of: a film"),
        (["smelt", "eggs"], {}, "smelled: eggs"),
        (["did", "dry hopped", "amount=50 g"], {}, "did: dry hopped, amount: 50 g"),
        (["did", "pitched", "beer=20C"], {}, "did: pitched, beer: 20C"),
        (["cold", "crashed", "to=2C"], {}, "did: cold crashed, to: 2C"),
        (
            ["bottled", "sugar=100 g corn sugar", "sugar=20 g honey", "volume=19l"],
            {},
            "did: bottled, sugar: [100 g corn sugar, 20 g honey], volume: 19l",
        ),
        (["note", "lid: off", "#2"], {}, 'note: "lid: off #2"'),
        (["temperature", "66F"], {}, "beer: 66F"),
        (["temp", "66 F"], {}, "beer: 66 F"),
        (["temperature 66F"], {}, "beer: 66F"),
        (["temperature", "room", "66F"], {}, "room: 66F"),
        (["temperature", "beer", "19", "C"], {}, "beer: 19 C"),
        (of_room(["temperature", "66F"]), {}, "room: 66F"),
        (of_room(["temperature 66F"]), {}, "room: 66F"),
        (of_room(["room", "66F"]), {}, "room: 66F"),
        (["turned-out", "infected"], {}, "turned_out: infected"),
    ],
)
def test_typed_words_become_a_line(typed: list[str], options: dict[str, str], wanted: str) -> None:
    """Every form of the guide becomes the line it stands for, and the reader takes it."""
    line = typed_line(typed, options, WHEN)
    assert line.flow == f"{{at: 2026-11-25 18:00, {wanted}}}"
    assert len(read_batch(f"batch: x\nlog:\n  - {line.flow}\n", NOW).log) == 1


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ([], "nothing to log"),
        (["grvity", "1.01"], "Did you mean `gravity`"),
        (["temperature"], "nothing stands after beer"),
        (["gravity"], "nothing stands after gravity"),
        (["gravity", "1.01", "--sampel", "3"], 'no option "--sampel"'),
        (["gravity", "1.01", "sample=20C", "sample=21C"], "said twice"),
    ],
)
def test_words_that_are_no_line(typed: list[str], message: str) -> None:
    """What cannot become a line is answered with what to type."""
    with pytest.raises(UnitError, match=message):
        typed_line(typed, {}, WHEN)


def test_room_goes_with_a_temperature_only() -> None:
    """`--room` beside anything but a temperature is refused, not dropped."""
    with pytest.raises(UnitError, match="goes with a temperature only"):
        of_room(["gravity", "1.014"])


@pytest.mark.parametrize(
    ("at", "wanted"),
    [
        (None, "2026-11-25 18:00"),
        ("2026-11-20", "2026-11-20"),
        ("2026-11-20 7:05", "2026-11-20 07:05"),
        ("2026-11-20T07:05", "2026-11-20 07:05"),
        ("7:05", "2026-11-25 07:05"),
        ("today", "2026-11-25"),
        ("yesterday 21:30", "2026-11-24 21:30"),
    ],
)
def test_times_as_typed(at: str | None, wanted: str) -> None:
    """Dates, hours of today and yesterday are understood; now is taken when nothing is said."""
    batch = read_batch("batch: x\n")
    assert when_typed(at, None, batch, NOW) == ("at", wanted)


def test_a_log_by_day_numbers_asks_for_the_day() -> None:
    """In a log that counts days no date is put; the day is asked for."""
    batch = read_batch("batch: x\nlog:\n  - {day: 0, did: pitched}\n")
    with pytest.raises(UnitError, match="--day 12"):
        when_typed(None, None, batch, NOW)
    assert when_typed(None, "day 3.5", batch, NOW) == ("day", "3.5")
    with pytest.raises(UnitError, match="Give one of them"):
        when_typed("12:00", "3", batch, NOW)


def test_a_gravity_says_what_it_means(stuck: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The corrected gravity, the distance from the end, and the reasons to hold are said.

    A hydrometer made for 60 F that shows 1.024 at 70 F reads about 0.9 points low (customary
    correction tables give 0.001 at 70 F), so 1.0249.
    """
    asked = run(
        capsys,
        *("log", stuck, "gravity", "1.024", "--sample", "70F", "--with", "hydrometer"),
        *("--degassed", "--at", "2026-02-28 18:00"),
    )
    assert asked.code == 0
    told = plain(asked.out)
    assert told.startswith("Logged (stuck.yaml): {at: 2026-02-28 18:00, gravity: 1.024, sample:")
    assert "Gravity corrected to 1.0249" in told
    assert "still 10 points above the expected end" in told
    assert "No longer a reason to hold: The latest reading is older than a day" in told
    last = stuck.read_text("utf-8").splitlines()[-1]
    assert last == (
        "  - {at: 2026-02-28 18:00, gravity: 1.024, sample: 70F, with: hydrometer, degassed: yes}"
    )


def test_undo_gives_the_old_file(stuck: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Taking back leaves the bytes that were there, and prints what it took."""
    before = stuck.read_bytes()
    run(capsys, "log", stuck, "smelled", "green apple", "--at", "2026-02-28 18:00")
    assert stuck.read_bytes() != before
    back = run(capsys, "log", stuck, "--undo", "--at", "2026-02-28 18:00")
    assert back.code == 0
    assert "Taken back" in back.out
    assert "smelled: green apple" in plain(back.out)
    assert stuck.read_bytes() == before


def test_a_hazard_comes_first(early: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A line that raises a hazard is logged, and its block stands above everything; code 3."""
    asked = run(
        capsys,
        *("log", early, "bottled", "sugar=5 oz corn sugar", "volume=4.8 gal", "dosing=bulk"),
        *("--at", "2026-03-14 14:00"),
    )
    assert asked.code == 3
    assert asked.out.startswith(("DANGER: ", "WARNING: "))
    assert asked.out.index("Do now:") < asked.out.index("Logged (early.yaml)")
    again = run(capsys, "log", early, "room", "70F", "--at", "2026-03-15 14:00")
    assert again.code == 3
    assert "still stands" in again.out
    assert "Do now:" not in again.out
    hotter = run(capsys, "log", early, "stored", "hot car", "temp=110F", "--at", "2026-03-15 15:00")
    assert "Do now:" not in hotter.out
    assert "Nothing else changed." not in hotter.out
    assert 'New about "WARNING: Bottles of this batch may burst."' in plain(hotter.out)
    assert "psi over the danger limit" in plain(hotter.out)
    assert "Nothing else changed." in run(
        capsys, "log", early, "note", "none", "--at", "2026-03-15 16:00"
    ).out  # fmt: skip
    burst = run(
        capsys, "log", early, "saw", "a bottle burst in the box", "--at", "2026-03-16 14:00"
    )
    assert burst.code == 3
    assert burst.out.startswith("DANGER: A bottle of this batch has burst")


def test_a_refused_line_still_shows_its_hazard(
    stuck: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A burst bottle is warned of although the line itself cannot be taken; nothing is written."""
    before = stuck.read_bytes()
    asked = run(capsys, "log", stuck, "saw", "a bottle burst", "--in", "nowhere")
    assert asked.code == 2
    assert asked.out.startswith("DANGER: ")
    assert "Nothing was written." in asked.err
    missing = run(capsys, "log", stuck.with_name("none.yaml"), "saw", "a bottle burst")
    assert missing.code == 2
    assert "DANGER: " in missing.out
    assert stuck.read_bytes() == before


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("gravity", "1.4"), "no gravity of wort or beer"),
        (("gravity", "12"), "degrees Plato"),
        (("gravity", "1.010", "--at", "2999-01-01"), "in no likely year"),
        (("did", "botled", "sugar=5oz"), "did: bottled"),
        (("did", "pitched", "beeer=20C"), "beer"),
        (("--gravity", "1.010"), "no table"),
        (("--undo", "gravity", "1.010"), "do not go together"),
        (("gravity", "1.010", "--units", "both"), "us or metric"),
        (("--csv", "none.csv", "--time", "t", "--gravity", "g"), "No such file"),
        (("--csv", "none.csv"), "--time"),
    ],
)
def test_bad_input_leaves_the_file(
    stuck: Path,
    capsys: pytest.CaptureFixture[str],
    arguments: tuple[str, ...],
    message: str,
) -> None:
    """What cannot be used ends with code 2 and what to write, and the file is what it was."""
    before = stuck.read_bytes()
    asked = run(capsys, "log", stuck, *arguments)
    assert asked.code == 2
    assert message in asked.err
    assert stuck.read_bytes() == before


def test_the_same_line_twice_is_pointed_out(
    stuck: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A line typed twice is kept, and said to stand there already."""
    typed = ("log", stuck, "beer", "66F", "--at", "2026-02-27 18:00")
    assert "already" not in run(capsys, *typed).out
    assert "already" in run(capsys, *typed).out


def test_a_failed_assessment_says_that_the_line_stands(
    stuck: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the answer breaks off, the block of a failed assessment stands and the line is kept."""

    def broken() -> Diagnostician:
        raise RuntimeError("broken")

    monkeypatch.setattr(log_command, "diagnostician", broken)
    asked = run(capsys, "log", stuck, "beer", "66F", "--at", "2026-02-27 18:00")
    assert asked.code == 1
    assert "Logged all the same" in asked.out
    assert asked.out.startswith("WARNING: ")
    assert "beer: 66F" in stuck.read_text("utf-8")


TABLE = "Time;SG;Temp\n" + "".join(
    f"{day:02d}.03.2026 12:00;1,0{20 - min(day, 12):02d}0;19,{day % 3}\n" for day in range(8, 13)
)


def test_a_table_is_taken_in(early: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Rows of a table become lines and a note; a second time nothing is taken."""
    table = early.with_name("t.csv")
    table.write_text(TABLE, encoding="utf-8")
    arguments = ("--csv", table, "--time", "time", "--gravity", "sg", "--temperature", "temp")
    typed = ("log", early, *arguments, "--units", "metric", "--at", "2026-03-14 12:00")
    assert "--dayfirst" in run(capsys, *typed).err
    asked = run(capsys, *typed, "--dayfirst")
    assert asked.code == 0, asked.err
    assert "From 5 rows of t.csv" in plain(asked.out)
    log = read_batch(early).log
    assert getattr(log[-1], "text", "").startswith("readings of t.csv: 5 of 5 rows kept")
    assert "not in the log already" in run(capsys, *typed, "--dayfirst").out
    assert read_batch(early).log == log
    assert table.read_text("utf-8") == TABLE


def test_bad_rows_are_listed_and_left_out_on_demand(
    early: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A row that cannot be read is named by its line; with --skip-bad the others are taken."""
    table = early.with_name("t.csv")
    table.write_text("t,g\n2026-03-09,1.018\n2026-03-10,abc\n2026-03-11,1.016\n", encoding="utf-8")
    before = early.read_bytes()
    typed = ("log", early, "--csv", table, "--time", "t", "--gravity", "g")
    asked = run(capsys, *typed)
    assert asked.code == 2
    assert f"{table}:3: gravity:" in asked.err
    assert early.read_bytes() == before
    assert run(capsys, *typed, "--skip-bad", "--at", "2026-03-12").code == 0
    assert len(read_batch(early).log) == 5 + 3


WELL = (EXAMPLES / "all_well.yaml").read_text("utf-8")
PLAN = (
    "plan: {sugar: 2.3 g corn sugar per bottle, volume: 4.7 gal, headspace: 4 %, weighed: yes}\n"
    "storage: {where: kitchen, temp: 66 F, to: 70 F}\n"
)


def _replayed(work: Diagnostician, text: str, more: str, now: datetime) -> list[str]:
    before, after = read_batch(text), read_batch(text + more)
    changed = what_changed(work.diagnose(before, now), work.diagnose(after, now), "metric")
    return list(changed.sentences)


def test_a_verdict_that_turns_is_said(diagnostician: Diagnostician) -> None:
    """When a reading ends the last reason to hold, GO is said with what it was before."""
    text = WELL.replace("log:\n", f"{PLAN}log:\n")
    now = datetime(2026, 9, 25, 11, 0)
    reading = (
        "  - {at: 2026-09-25 10:00, gravity: 1.011, sample: 68 F, with: hydrometer, "
        "degassed: yes}\n"
        "  - {at: 2026-09-25 10:00, beer: 68 F}\n"
    )
    said = _replayed(diagnostician, text, reading, now)
    assert "May it be bottled: GO WITH LIMITS (was HOLD)." in said
    assert any(one.startswith("No longer a reason to hold: The latest reading") for one in said)
    hops = "  - {at: 2026-09-25 10:30, did: dry hopped, amount: 1 oz}\n"
    told = _replayed(diagnostician, text + reading, hops, now)
    assert any(one.startswith("New reason to hold: Dry hops are too fresh") for one in told)


def test_other_samples_and_temperatures_are_compared(diagnostician: Diagnostician) -> None:
    """A forced test is set against the batch, and a temperature changes the mean."""
    now = datetime(2026, 9, 20, 12, 0)
    forced = (
        "  - {at: 2026-09-20 11:00, gravity: 1.008, of: forced test, sample: 68 F, "
        "with: hydrometer, degassed: yes}\n"
    )
    said = _replayed(diagnostician, WELL, forced, now)
    assert "The batch stands 3.0 points above the forced ferment test." in said
    cold = _replayed(diagnostician, WELL, "  - {at: 2026-09-16 10:00, beer: 50 F}\n", now)
    assert any(one.startswith("The beer has been at about") for one in cold)


def test_leading_causes_are_compared(diagnostician: Diagnostician) -> None:
    """Words that point to a cause are repeated as understood, and the cause is named."""
    now = datetime(2026, 9, 20, 12, 0)
    words = "  - {at: 2026-02-26 19:00, saw: foam ring}\n"
    stuck = (EXAMPLES / "stuck_after_cold_night.yaml").read_text("utf-8")
    said = _replayed(diagnostician, stuck, words, datetime(2026, 2, 26, 20, 0))
    assert any(one.startswith('Understood "') for one in said)
    assert any(one.startswith("Likeliest cause") for one in said)
    assert _replayed(diagnostician, WELL, "  - {at: 2026-09-20 11:00, note: fine}\n", now) == []


def test_help_names_every_verb(capsys: pytest.CaptureFixture[str]) -> None:
    """The help of the command shows how to log a reading, a look and a deed."""
    shown: Run = run(capsys, "log", "--help")
    assert shown.code == 0
    for words in ("gravity 1.014", "foam ring", "dry"):
        assert words in plain(shown.out)


@pytest.mark.parametrize(("blocks", "told"), [((), (NOTHING_ELSE,)), (("a block",), ())])
def test_below_a_new_block_nothing_else_is_not_said(
    blocks: tuple[str, ...], told: tuple[str, ...]
) -> None:
    """That nothing else changed is said only where nothing new stands above it."""
    changed = cast(Changed, SimpleNamespace(hazards=blocks, sentences=()))
    after = AfterLog(cast(Diagnosis, None), changed, (), (), 0, ())
    assert after.sentences == told
