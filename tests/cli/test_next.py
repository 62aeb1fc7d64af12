"""`trubshoot next`: one to three dated things, never a hand on a suspect bottle; calendars."""

from __future__ import annotations

import re
import shutil
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.cli.support import EXAMPLES, run

from trubshoot.batch import read_batch
from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.plan_next import MOST, NextStep, day_text, due, plan_next
from trubshoot.errors import BatchError
from trubshoot.report.calendar import calendar_text, escaped, folded
from trubshoot.safety import Level

NOW = datetime(2026, 10, 13, 20, 0)
REAL = sorted((Path(__file__).resolve().parents[1] / "real_cases").glob("d*.yaml"))
HANDS = re.compile(r"\b(?:open|shake|squeeze|chill|warm|carry|taste|pour|sample)\b", re.IGNORECASE)


def steps_of(work: Diagnostician, path: Path, now: datetime) -> tuple[NextStep, ...]:
    """Return the next steps for a batch file."""
    batch = read_batch(path)
    return plan_next(work.knowledge, batch, work.diagnose(batch, now))


def test_steps_for_a_stuck_beer(diagnostician: Diagnostician) -> None:
    """A stuck beer gets a check, a step for its cause and a date for the next reading."""
    path = EXAMPLES / "stuck_after_cold_night.yaml"
    now = datetime(2026, 2, 26, 19, 0)
    steps = steps_of(diagnostician, path, now)
    assert 1 <= len(steps) <= MOST
    kinds = {step.id.split(".")[0] for step in steps}
    assert {"check", "cause"} <= kinds
    checks = diagnostician.diagnose(read_batch(path), now).next_checks
    assert checks[0].how in [step.do for step in steps]


def test_dates_come_from_the_verdict(diagnostician: Diagnostician) -> None:
    """The dated step falls on the day that the wait of its hold gives, never before."""
    path = EXAMPLES / "silent_airlock.yaml"
    verdict = diagnostician.bottling_check(read_batch(path), NOW)
    assert verdict is not None
    waits = {f"hold.{item.id}": item.wait_days for item in verdict.reasons if item.wait_days > 0}
    dated = [step for step in steps_of(diagnostician, path, NOW) if step.due is not None]
    assert dated
    for step in dated:
        assert step.due is not None
        assert step.due >= NOW + timedelta(days=waits[step.id])
        assert step.due <= NOW + timedelta(days=waits[step.id], hours=12)


@pytest.mark.parametrize(
    ("now", "wait", "wanted"),
    [
        (datetime(2026, 9, 20, 11), 2.0, datetime(2026, 9, 22, 11)),
        (datetime(2026, 9, 20, 23), 2.0, datetime(2026, 9, 22, 23)),
        (datetime(2026, 9, 20, 11), 2.5, datetime(2026, 9, 23, 8)),
        (datetime(2026, 12, 31, 11), 1.0, datetime(2027, 1, 1, 11)),
    ],
)
def test_nobody_is_sent_down_at_night(now: datetime, wait: float, wanted: datetime) -> None:
    """A wait that ends late in the evening is moved to the next morning, never to before."""
    assert due(now, wait) == wanted


def test_days_have_their_names() -> None:
    """Days are named in English whatever the machine speaks (26 November 2026 is a Thursday)."""
    assert day_text(datetime(2026, 11, 26)) == "Thursday 26 November"


def _bottled_cases() -> list[Path]:
    return [path for path in REAL if "did: bottled" in path.read_text("utf-8")][::5]


def test_suspect_bottles_are_never_touched(diagnostician: Diagnostician) -> None:
    """In every real case with a hazard of bottles no step asks for a hand near one."""
    seen = 0
    for path in [*_bottled_cases(), EXAMPLES / "bottled_too_early.yaml"]:
        try:
            batch = read_batch(path)
        except BatchError:
            continue
        diagnosis = diagnostician.diagnose(batch, datetime(2026, 11, 25))
        blocks = [b for b in diagnosis.hazards if b.topic == "bottles" and b.level >= Level.CAUTION]
        if not blocks or diagnosis.evidence.stage != "bottled":
            continue
        seen += 1
        steps = plan_next(diagnostician.knowledge, batch, diagnosis)
        assert steps
        assert steps[0].id.startswith("hazard.")
        for step in steps:
            if step.id.startswith("hazard."):
                block = next(b for b in diagnosis.hazards if step.id == f"hazard.{b.id}")
                tags = {item.tag for item in block.avoid if item.do == step.do}
                assert tags <= {"people", "leave", "cool"} or block.topic != "bottles"
            else:
                assert step.id.startswith("check.")
                finding = diagnostician.knowledge.findings[step.id.removeprefix("check.")]
                assert finding.check.by == "ask"
                assert not HANDS.search(step.do) or "Do not" in step.do, step.do
    assert seen >= 5


def test_danger_leaves_one_step(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Under DANGER the block stands first, and the only step is its own first one; code 3."""
    path = Path(shutil.copy(EXAMPLES / "bottled_too_early.yaml", tmp_path / "b.yaml"))
    with path.open("a", encoding="utf-8") as file:
        file.write("  - {at: 2026-04-05 08:00, saw: a bottle burst}\n")
    asked = run(capsys, "next", path, "--at", "2026-04-05 09:00")
    assert asked.code == 3
    assert asked.out.startswith("DANGER: ")
    tail = asked.out.split("NEXT\n")[1]
    assert "1. Now: Take everyone out of the room" in tail
    assert "  2." not in tail


def bottled_well(tmp_path: Path, *more: str) -> Path:
    """Return the example of a beer bottled well, a week later and without dry hops."""
    lines = (EXAMPLES / "all_well_bottled.yaml").read_text("utf-8").splitlines()
    path = tmp_path / "b.yaml"
    kept = [line for line in lines if "2026-10-0" not in line and "dry hopped" not in line]
    path.write_text("\n".join((*kept, *more)) + "\n", encoding="utf-8")
    return path


def test_the_first_bottle_has_its_day(diagnostician: Diagnostician, tmp_path: Path) -> None:
    """A beer bottled well is to be tried when the rules no longer call it young: 21 days on."""
    path, now = bottled_well(tmp_path), datetime(2026, 9, 27, 11)
    assert diagnostician.diagnose(read_batch(path), now).level <= Level.NOTICE
    steps = steps_of(diagnostician, path, now)
    assert [(step.id, step.due) for step in steps] == [("first_bottle", datetime(2026, 10, 11, 11))]
    tried = bottled_well(tmp_path, "  - {at: 2026-09-26 12:00, did: opened bottle}")
    assert "first_bottle" not in [step.id for step in steps_of(diagnostician, tried, now)]


def test_a_caution_on_bottles_keeps_hands_off(diagnostician: Diagnostician, tmp_path: Path) -> None:
    """Dry hops put the same bottles under a caution: no step asks to open or pour one."""
    path = bottled_well(tmp_path, "  - {at: 2026-09-08 18:00, did: dry hopped, amount: 1 oz}")
    now = datetime(2026, 9, 27, 11)
    assert diagnostician.diagnose(read_batch(path), now).level == Level.CAUTION
    steps = steps_of(diagnostician, path, now)
    assert steps[0].id.startswith("hazard.")
    assert all(step.id.startswith(("hazard.", "check.")) for step in steps)
    assert [step.do for step in steps[1:] if HANDS.search(step.do)] == []


def test_a_cracked_carboy_is_not_sampled(diagnostician: Diagnostician, tmp_path: Path) -> None:
    """Under a warning that is not about bottles, only its own step and memory are left."""
    path = Path(shutil.copy(EXAMPLES / "stuck_after_cold_night.yaml", tmp_path / "c.yaml"))
    with path.open("a", encoding="utf-8") as file:
        file.write("  - {at: 2026-02-26 18:30, saw: the glass carboy is cracked}\n")
    now = datetime(2026, 2, 26, 19, 0)
    assert diagnostician.diagnose(read_batch(path), now).level >= Level.WARNING
    steps = steps_of(diagnostician, path, now)
    assert steps[0].id == "hazard.carboy_cracked"
    assert all(step.id.startswith("check.") for step in steps[1:])
    assert [step.do for step in steps[1:] if HANDS.search(step.do)] == []


def test_bad_input(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A file that is none, a date that is none, and a foreign file to write over are refused."""
    foreign = tmp_path / "x.ics"
    foreign.write_text("mine", encoding="utf-8")
    dated = EXAMPLES / "silent_airlock.yaml"
    assert run(capsys, "next", tmp_path / "none.yaml").code == 2
    assert run(capsys, "next", dated, "--at", "soon").code == 2
    refused = run(capsys, "next", dated, "--at", f"{NOW}", "--ics", foreign)
    assert refused.code == 2
    assert "no calendar of trubshoot" in refused.err
    assert foreign.read_text("utf-8") == "mine"


# --- calendar files, against RFC 5545 (Internet Calendaring and Scheduling, 2009)

_LINE = re.compile(r"(?P<name>[A-Z0-9-]+)(?P<params>(?:;[A-Z0-9-]+=[^;:,\"]+)*):(?P<value>.*)")


def unfolded(raw: bytes) -> list[str]:
    """Return the content lines (section 3.1: CRLF ends a line, CRLF and a blank folds one)."""
    assert raw.endswith(b"\r\n")
    assert b"\n" not in raw.replace(b"\r\n", b"")
    assert b"\r" not in raw.replace(b"\r\n", b"")
    for line in raw.split(b"\r\n"):
        assert len(line) <= 75
        line.decode("utf-8")  # a character is never cut in two
    return raw.decode("utf-8").replace("\r\n ", "").removesuffix("\r\n").split("\r\n")


def unescaped(value: str) -> str:
    r"""Return a TEXT value (section 3.3.11: \\, \;, \, and \n; bare ; and , are not allowed)."""
    assert re.fullmatch(r"(?:[^\\;,\x00-\x08\x0a-\x1f\x7f]|\\[\\;,nN])*", value), value
    return re.sub(r"\\(.)", lambda m: "\n" if m[1] in "nN" else m[1], value)


def checked(raw: bytes) -> list[dict[str, str]]:
    """Return the events of a calendar, having checked what the standard asks for."""
    lines = unfolded(raw)
    assert lines[0] == "BEGIN:VCALENDAR"
    assert lines[-1] == "END:VCALENDAR"
    head = [line.split(":")[0] for line in lines[1 : lines.index("BEGIN:VEVENT")]]
    assert head.count("PRODID") == 1  # section 3.6
    assert head.count("VERSION") == 1
    assert "VERSION:2.0" in lines
    events: list[dict[str, str]] = []
    for line in lines[lines.index("BEGIN:VEVENT") : -1]:
        found = _LINE.fullmatch(line)
        assert found is not None, line
        if line == "BEGIN:VEVENT":
            events.append({})
        elif line != "END:VEVENT":
            key = found["name"] + found["params"]
            assert key not in events[-1]  # none of ours may stand twice (section 3.6.1)
            events[-1][key] = found["value"]
    for event in events:
        assert event["UID"]
        assert re.fullmatch(r"[0-9]{8}T[0-9]{6}Z", event["DTSTAMP"])  # UTC, section 3.8.7.2
        start = datetime.strptime(event["DTSTART;VALUE=DATE"], "%Y%m%d")
        end = datetime.strptime(event["DTEND;VALUE=DATE"], "%Y%m%d")
        assert end - start == timedelta(days=1)  # the end is not included, section 3.6.1
    assert len({event["UID"] for event in events}) == len(events)
    return events


def test_the_calendar_of_a_batch(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """The file keeps to the standard, carries the printed date, and may be written again."""
    path = tmp_path / "well.ics"
    arguments = ("next", EXAMPLES / "silent_airlock.yaml", "--at", f"{NOW}", "--ics", path)
    assert run(capsys, *arguments).code == 0
    first = path.read_bytes()
    events = checked(first)
    assert events
    stamp = NOW.astimezone(UTC)
    assert {event["DTSTAMP"] for event in events} == {f"{stamp:%Y%m%dT%H%M%SZ}"}
    shown = run(capsys, *arguments).out
    for event in events:
        day = datetime.strptime(event["DTSTART;VALUE=DATE"], "%Y%m%d")
        assert day_text(day) in " ".join(shown.split())
    assert path.read_bytes() == first


@settings(max_examples=100, deadline=None)
@given(do=st.text(max_size=200), name=st.text(max_size=40))
def test_any_text_survives_the_calendar(do: str, name: str) -> None:
    """Names and steps of any letters are folded and escaped so that they come back."""
    try:
        (do + name).encode("utf-8")
    except UnicodeEncodeError:
        return
    step = NextStep("hold.x", do, "a, b; c\\d", 0.0, datetime(2026, 9, 22))
    undated = NextStep("check.y", "now", "because")
    text = calendar_text(name, [step, undated], datetime(2026, 9, 20, 9, tzinfo=UTC))
    (event,) = checked(text.encode("utf-8"))
    lines = f"{do}\n\nWhy: a, b; c\\d.".replace("\r\n", "\n").replace("\r", "\n")
    kept = "".join(char for char in lines if char.isprintable() or char in "\t\n")
    assert unescaped(event["DESCRIPTION"]) == kept


def test_folding_by_hand() -> None:
    """A line of 76 octets is cut once; no date, no calendar."""
    assert folded("x" * 75) == "x" * 75
    assert folded("x" * 76) == "x" * 75 + "\r\n x"
    assert escaped("a,b;c\\\n") == "a\\,b\\;c\\\\\\n"
    assert calendar_text("x", [NextStep("a", "b", "c")], datetime(2026, 9, 20, tzinfo=UTC)) == ""
