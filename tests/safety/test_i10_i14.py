"""I10 to I14 of the bottling gate: minimum evidence, end, silence, limits, gaps; and deletion."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.safety.gate import (
    NOW,
    Doc,
    added,
    changed,
    deletions,
    good,
    is_go,
    name_of,
    places,
    read,
    reading,
    shifted,
    verdict,
    verdict_of,
    without,
    work,
)
from tests.safety.gate_logs import all_logs, go_logs, hold_logs

from trubshoot.safety.bottling_check import GO, HOLD

# A report of heat taken out of the file leaves a file that never had it: no reading of that file
# can know. What is left is still taken at the worse end (the place unknown: an ordinary hot room).
REPORTS_OF_HEAT = {"storage.where", "storage.to"}
# `of` says what a reading is of; without it the line is another measurement, a new log entry.
ANOTHER_ENTRY = ".of"


def reasons(doc: Doc, now: datetime = NOW) -> set[str]:
    """Return the ids of the reasons to hold."""
    found = verdict(doc, now)
    return set() if found is None else {reason.id for reason in found.reasons}


def with_readings(*times_and_values: tuple[str, float]) -> Doc:
    """Return the good log with these readings after the start instead of its own."""
    base = good()
    others = [
        entry for entry in base["log"][:3] if "gravity" not in entry or entry["gravity"] > 1.03
    ]
    log = [*others, reading("2026-03-13 11:00", 1.016)]
    log += [reading(at, value) for at, value in times_and_values]
    log.append({"at": "2026-03-17 11:00", "beer": "20 C"})
    return {**base, "log": sorted(log, key=lambda entry: entry["at"])}


@pytest.mark.parametrize("name", go_logs())
def test_good_logs_go(name: str) -> None:
    """The good logs may be bottled, so that the laws below are tested on both words."""
    found = verdict(go_logs()[name])
    assert found is not None
    assert found.go, [reason.id for reason in found.reasons]


@pytest.mark.parametrize("name", hold_logs())
def test_flawed_logs_hold(name: str) -> None:
    """Every flawed log is held, with a reason and what would end it."""
    found = verdict(hold_logs()[name])
    assert found is not None
    assert found.word == HOLD
    assert all(reason.label and reason.mend for reason in found.reasons)
    assert found.reasons


@pytest.mark.parametrize("name", list(all_logs())[::4])
def test_fast_verdict_is_the_products(name: str) -> None:
    """The fast verdict of these tests is the one that the product gives with both engines."""
    doc = all_logs()[name]
    batch = read(doc)
    assert batch is not None
    whole = work().bottling_check(batch, NOW)
    fast = verdict_of(batch)
    assert whole is not None
    assert fast is not None
    assert (whole.word, whole.wait_days) == (fast.word, fast.wait_days)
    assert [reason.id for reason in whole.reasons] == [reason.id for reason in fast.reasons]
    assert whole.faults == ()


def test_i10_two_readings_are_not_three() -> None:
    """I10: three equal readings may go, the same without the middle one may not."""
    three = [("2026-03-16 11:00", 1.011), ("2026-03-19 11:00", 1.011), ("2026-03-22 11:00", 1.011)]
    assert is_go(with_readings(*three))
    assert "fewer_than_three_equal" in reasons(with_readings(three[0], three[2]))


@pytest.mark.parametrize(("hours", "held"), [(71, True), (72, False), (73, False)])
def test_i10_seventy_one_hours_are_not_seventy_two(hours: int, held: bool) -> None:
    """I10: the equal readings span 72 hours; with 71 the span is a reason to hold."""
    start = datetime(2026, 3, 22, 11).timestamp() - hours * 3600
    first = datetime.fromtimestamp(start)
    middle = datetime.fromtimestamp(start + hours * 1800)
    doc = with_readings(
        *((at.strftime("%Y-%m-%d %H:%M"), 1.011) for at in (first, middle)),
        ("2026-03-22 11:00", 1.011),
    )
    assert ("span_too_short" in reasons(doc)) is held


@pytest.mark.parametrize(("age_h", "held"), [(23, False), (24, False), (25, True)])
def test_i10_the_last_reading_is_of_the_last_24_hours(age_h: int, held: bool) -> None:
    """I10: a reading 25 hours old no longer counts as the state of the beer."""
    doc = changed(good(), today=None)
    now = datetime.fromtimestamp(datetime(2026, 3, 22, 11).timestamp() + age_h * 3600)
    assert ("reading_too_old" in reasons(doc, now)) is held
    assert is_go(doc, now) is not held


@pytest.mark.parametrize("sign", [-1, 1])
@pytest.mark.parametrize("beyond", [0.2, 1, 3])
def test_i10_readings_that_differ_are_not_equal(sign: int, beyond: float) -> None:
    """I10: a last reading outside the instrument's error of the others is no third equal one."""
    error = work().knowledge.constant("gate_equal_points")
    assert error <= 2.0  # one division of an ordinary hydrometer
    assert not is_go(changed(good(), log__7__gravity=1.011 + sign * (error + beyond) / 1000))


def test_i10_not_degassed_or_uncorrected_readings_do_not_count() -> None:
    """I10: every one of the equal readings needs temperature, degassing and instrument."""
    for number in (4, 5, 7):
        for key in ("sample", "degassed", "with"):
            assert not is_go(changed(good(), **{f"log__{number}__{key}": None})), (number, key)


def test_i10_an_unnamed_instrument_counts_only_where_none_is_named() -> None:
    """I10: with a hydrometer in the head and no instrument in any line, it was the hydrometer."""
    unnamed = good()
    for entry in unnamed["log"]:
        entry.pop("with", None)
    assert is_go(unnamed)
    assert not is_go(changed(unnamed, log__3__with="refractometer"))
    assert not is_go(changed(unnamed, instruments=None))


@pytest.mark.parametrize("end", [1.020, 1.024, 1.030])
def test_i11_stable_above_the_expected_end(end: float) -> None:
    """I11: a stuck beer is held, however long it has stood still."""
    doc = changed(
        good(),
        log__3__gravity=end + 0.002,
        log__4__gravity=end,
        log__5__gravity=end,
        log__7__gravity=end,
    )
    for hours in (0, -72):
        assert "above_the_end" in reasons(shifted(doc, hours, 3, 4))


def test_i11_stable_without_an_expected_end() -> None:
    """I11: without kit sheet, ingredients and forced test a steady gravity is no end."""
    doc = changed(good(), wort__expected_fg=None, fermentables=None)
    assert "end_not_known" in reasons(doc)


def test_i11_a_forced_test_must_be_taken_well() -> None:
    """I11: a forced test clears a beer only degassed, by hydrometer, at a known temperature."""
    unknown_end = changed(good(), wort__expected_fg=None, fermentables=None)
    test = reading("2026-03-18 11:00", 1.0105, of="forced test")
    assert is_go(added(unknown_end, test))
    for key in ("sample", "degassed", "with"):
        less = {name: value for name, value in test.items() if name != key}
        assert not is_go(added(unknown_end, less)), key


def test_i11_a_forced_test_is_corrected_like_the_batch() -> None:
    """I11: what the hydrometer shows in water is taken off both; a low end is not hidden by it."""
    off = changed(
        good(),
        instruments__hydrometer_in_water=1.003,
        log__3__gravity=1.020,
        log__4__gravity=1.017,
        log__5__gravity=1.017,
        log__7__gravity=1.017,
    )
    lower = added(off, reading("2026-03-18 11:00", 1.0135, of="forced test"))
    assert "forced_test_lower" in reasons(lower)


def test_i12_airlock_silence_is_no_evidence() -> None:
    """I12: however often the airlock is silent, without readings the answer is HOLD."""
    base = good()
    quiet = [
        {"at": f"2026-03-{day} 11:00", "no_sign_of": "bubbles in the airlock"}
        for day in (13, 16, 19, 22)
    ]
    log = [entry for entry in base["log"] if "gravity" not in entry or entry["gravity"] > 1.03]
    silent = {**base, "log": sorted([*log, *quiet], key=lambda entry: entry["at"])}
    assert not is_go(silent)
    assert "fewer_than_three_equal" in reasons(silent)
    assert reasons(silent) >= reasons({**base, "log": log})


def test_i12_silence_changes_no_verdict() -> None:
    """I12: silence beside good readings changes nothing either."""
    quiet = {"at": "2026-03-21 11:00", "no_sign_of": "bubbles in the airlock"}
    for name, doc in all_logs().items():
        if "day" not in doc["log"][0]:
            assert is_go(added(doc, quiet)) == is_go(doc), name


GAPS: Mapping[str, Mapping[str, object]] = {
    "no sugar written": {"plan__sugar": None},
    "sugar without amount": {"plan__sugar": "table sugar"},
    "sugar by guess": {"plan__sugar": "some table sugar"},
    "no volume": {"plan__volume": None},
    "no storage": {"storage": None},
    "storage without temperature": {"storage": {"where": "cellar"}},
    "no bottles": {"bottles": None},
    "no headspace": {"plan__headspace": None},
    "no plan": {"plan": None},
    "no beer temperature": {"log__2__beer": None},
}


@pytest.mark.parametrize("gap", [name for name in GAPS if name != "no beer temperature"])
def test_i14_no_numbers_no_go(gap: str) -> None:
    """I14: with a gap in sugar, volume, temperature or bottles the answer is HOLD and names it."""
    doc = changed(good(), **GAPS[gap])
    assert not is_go(doc)
    batch = read(doc)
    assert batch is not None
    found = work().bottling_check(batch, NOW)
    assert found is not None
    assert any(reason.kind == "write" for reason in found.reasons)


ABSURD = [
    "-5 g table sugar",
    "nan",
    "1e9 kg honey",
    "0 g",
    "table sugar",
    "12",
    "????",
    "",
    "5 xyz",
]


@settings(max_examples=200, deadline=None, derandomize=True)
@given(
    place=st.sampled_from(
        [
            "plan__sugar",
            "plan__volume",
            "plan__headspace",
            "storage__temp",
            "wort__expected_fg",
            "instruments__hydrometer_in_water",
            "bottles__kind",
            "yeast__class",
        ]
    ),
    text=st.one_of(st.sampled_from(ABSURD), st.text(max_size=12), st.floats(), st.integers()),
)
def test_i14_absurd_values_never_go(place: str, text: object) -> None:
    """I14: whatever is written in place of a number, it goes only if it is a credible number."""
    doc = changed(good(), **{place: text})
    try:
        json.dumps(doc, allow_nan=False)
    except ValueError:
        return
    found = verdict(doc)
    if found is not None and found.go:
        batch = read(doc)
        assert batch is not None
        assert str(text).strip(), place
        numbers = [part for part in str(text) if part.isdigit()]
        assert numbers or place in ("bottles__kind", "yeast__class"), (place, text)


@pytest.mark.parametrize("name", all_logs())
def test_deleting_a_field_never_permits(name: str) -> None:
    """No key of the head, and no key inside a log line, can be deleted to turn HOLD into GO.

    Three things apart: where the file contradicts itself the deletion may be the correction;
    REPORTS_OF_HEAT; ANOTHER_ENTRY.
    """
    doc = all_logs()[name]
    before = verdict(doc)
    assert before is not None
    if before.word == GO or "says_two_things" in {reason.id for reason in before.reasons}:
        return
    permitted = {where for where, less in deletions(doc) if is_go(less)}
    assert {where for where in permitted if not where.endswith(ANOTHER_ENTRY)} <= REPORTS_OF_HEAT


@settings(max_examples=300, deadline=None, derandomize=True)
@given(
    name=st.sampled_from(sorted(all_logs())),
    choices=st.lists(st.integers(0, 10_000), min_size=2, max_size=4),
)
def test_deleting_several_fields_never_permits(name: str, choices: list[int]) -> None:
    """Several fields deleted one after the other do not turn HOLD into GO either."""
    doc = all_logs()[name]
    for choice in choices:
        before = verdict(doc)
        found = places(doc)
        place = found[choice % len(found)]
        where, less = name_of(place), without(doc, place)
        held = before is None or before.word == HOLD
        twice = before is not None and "says_two_things" in {item.id for item in before.reasons}
        apart = where in REPORTS_OF_HEAT or where.endswith(ANOTHER_ENTRY)
        if held and not twice and not apart:
            assert not is_go(less), (name, where)
        doc = less


@pytest.mark.parametrize("tenths", range(20, 62, 3))
def test_unknown_scale_of_the_hydrometer_never_permits(tenths: int) -> None:
    """A gravity near the limit of the end is not let through by leaving out the scale."""
    end = 1.010 + tenths / 10_000
    doc = changed(
        good(),
        instruments__hydrometer_scale="15 C",
        log__3__gravity=end + 0.002,
        log__4__gravity=end,
        log__5__gravity=end,
        log__7__gravity=end,
    )
    if not is_go(doc):
        assert not is_go(changed(doc, instruments__hydrometer_scale=None))


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"plan__bottles": "wine bottles"}, True),
        ({"plan__bottles": "reused longneck 500 ml"}, True),
        ({"plan__bottles": "60 reused longneck 330 ml"}, False),
        ({"plan__bottles": "60 bottles"}, False),
        ({"vessel__pressure": "0.8 bar"}, True),
        ({"plan__volume": "20.5 l"}, False),
        ({"plan__volume": "22 l"}, True),
        ({"bottles__count": 30}, True),
    ],
)
def test_a_file_that_says_two_things_is_held(changes: Doc, expected: bool) -> None:
    """Bottles, volume and vessel that do not agree with themselves are a reason to hold."""
    assert ("says_two_things" in reasons(changed(good(), **changes))) is expected
