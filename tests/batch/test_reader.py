"""Batch files that are read, and those that are refused with line and mend."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from tests.batch.samples import METRIC, US

from trubshoot.batch import Batch, read_batch
from trubshoot.batch.model import Bottling, Deed, GravityReading, Observation
from trubshoot.batch.verbs import DETAILS, VERBS
from trubshoot.errors import BatchError

NOW = datetime(2026, 11, 25, 12, 0)


def problems(text: str | bytes, now: datetime | None = NOW) -> list[str]:
    """Return the problems of a file as `line: message mend`."""
    with pytest.raises(BatchError) as caught:
        read_batch(text, now, name="b.yaml")
    return [str(problem).removeprefix("b.yaml") for problem in caught.value.problems]


def log_problems(line: str, head: str = "") -> list[str]:
    """Return the problems of a file with one log line, which is line 3."""
    return problems(f"batch: x\n{head or 'units: metric'}\nlog: [{line}]\n")


def one(line: str, head: str = "units: metric") -> Any:
    """Return the only log entry of a file with one log line."""
    return read_batch(f"batch: x\n{head}\nlog: [{line}]\n", NOW).log[0]


def test_a_name_is_enough() -> None:
    """Everything but the name may be missing, and is then unknown."""
    batch = read_batch("batch: Lantern Street Stout")
    assert batch == Batch(name="Lantern Street Stout", path="<text>", lines={"batch": 1})
    assert batch.wort.volume_l is None


def _numbers(value: Any, place: str = "") -> dict[str, Any]:
    if isinstance(value, dict):
        items = list(value.items())
    elif isinstance(value, (list, tuple)):
        items = list(enumerate(value))
    else:
        return {place: value}
    return {k: v for key, item in items for k, v in _numbers(item, f"{place}.{key}").items()}


def test_us_and_metric_twins_are_one_batch() -> None:
    """The same batch written in US and in metric units gives the same values inside."""
    skip = {"units", "path", "warnings"}
    us = _numbers(read_batch(US, NOW).model_dump(exclude=skip))
    metric = _numbers(read_batch(METRIC, NOW).model_dump(exclude=skip))
    assert us.keys() == metric.keys()
    for place, value in us.items():
        if place.endswith(".written"):
            continue
        if isinstance(value, float):
            assert metric[place] == pytest.approx(value, rel=1e-4), place
        else:
            assert metric[place] == value, place


def test_reads_a_file_and_names_it(tmp_path: Path) -> None:
    """A path is read as a file, which messages name."""
    good, bad = tmp_path / "good.yaml", tmp_path / "bad.yaml"
    good.write_text(US, encoding="utf-8-sig")
    bad.write_text("batch: x\nlgo: []\n", encoding="utf-8")
    assert read_batch(good, NOW).name == "Lantern Street Amber No. 4"
    with pytest.raises(BatchError, match=rf"{bad}:2: the key \"lgo\" is not known here"):
        read_batch(bad, NOW)
    with pytest.raises(BatchError, match=r"none\.yaml: there is no such file"):
        read_batch(tmp_path / "none.yaml", NOW)


def test_every_value_keeps_its_line() -> None:
    """Later messages can name the line of any value, or of what stands around it."""
    batch = read_batch(US, NOW)
    assert batch.line("wort.volume") == 3
    assert batch.line("fermentables[0].amount") == 5
    assert batch.line("log[2].sample") == 17
    assert batch.line("log[2].with") == 17
    assert batch.line("circumstances") == 0
    assert [entry.line for entry in batch.log] == list(range(15, 22))


BEER = "which is not likely here (-2 to 45 C)."


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", [": the file is empty. Write at least `batch: name of the batch`."]),
        (b"\x00\x01", [": this is no text file. Save the batch as plain UTF-8 text."]),
        (
            b"batch: x\nstyle: \xe9",
            [":2: a character is not UTF-8. Save the file as UTF-8 text."],
        ),
        (
            "batch: x\n" + "# long\n" * 200_000,
            [
                ": the file is larger than 1 MiB. "
                "Batch files are short texts; this one holds something else."
            ],
        ),
        (
            "- 1",
            [
                ":1: this is not a batch file. "
                "Write `key: value` lines, beginning with `batch: name of the batch`."
            ],
        ),
        ("units: us", [":1: the batch has no name. Write `batch: name of the batch`."]),
        ("batch: x\n\tunits: us", [":2: a tab is used to indent. Use two spaces instead."]),
        (
            "batch: x\nbatch: y",
            [":2: the key 'batch' stands here twice. Remove one of them."],
        ),
        (
            "batch: &a x\nstyle: *a",
            [
                ":1: anchors and aliases (& and *) are not read here. "
                "Write the value out, or put it in quotes."
            ],
        ),
        (
            "batch: !!python/object:os.system x",
            [
                ":1: the tag tag:yaml.org,2002:python/object:os.system is not read here. "
                "Write the value out, or put it in quotes."
            ],
        ),
        (
            "batch: x\nstyle: " + "[" * 14 + "]" * 14,
            [":2: nested deeper than 12 levels. Write it flatter."] * 1,
        ),
        (
            "batch: x\nyeats: {form: dry}",
            [':2: the key "yeats" is not known here. Did you mean `yeast`?'],
        ),
        (
            "batch: x\nyeast: {fom: dry}",
            [':2: the key "fom" is not known here. Did you mean `form`?'],
        ),
        (
            "batch: x\nwort: {volume: 1,5 gal}",
            [
                ':2: the key "5 gal" is not known here. '
                "If it belongs to the words before the comma, put those in quotes."
            ],
        ),
        ("batch: x\nunits: uk", [':2: units: "uk" is not known here. Write metric, us.']),
        (
            "batch: x\nwort: [1]",
            [":2: wort must be a group of keys. Write it like `wort: {kind: ...}`."],
        ),
        (
            "batch: x\nlog: 3",
            [
                ":2: the log must be a list of lines. "
                "Begin every log line with `- `, as in `- {day: 3, gravity: 1.020}`."
            ],
        ),
        (
            "batch: x\nlog:\n" + "- {day: 1, note: dull}\n" * 20_001,
            [":2: the log has more than 20000 lines. Thin out the readings."],
        ),
        (
            "batch: x\nvessel: {spigot: maybe}",
            [':2: spigot: "maybe" is neither yes nor no. Write yes or no.'],
        ),
        (
            "batch: x\nyeast: {age: 8}",
            [':2: age: "8" has no unit. Write it like 35 min, 12 hours, 3 weeks or 8 months.'],
        ),
        (
            "batch: x\nbottles: {size: 0.33}",
            [
                ':2: size: "0.33" is read as 0.33 ml, which is not likely for a bottle. '
                "Write the size with its unit, such as 330 ml, 0.5 l or 12 oz."
            ],
        ),
        (
            "batch: x\nbottles: {count: 4.5}",
            [
                ':2: count: "4.5" is not a whole number from 0 to 5000. '
                "Write a whole number from 0 to 5000."
            ],
        ),
        (
            "batch: x\ntoday: 2026-12-01",
            [":2: today: 2026-12-01 has not come yet (it is 2026-11-25 12:00). Correct the date."],
        ),
    ],
)
def test_refused_files(text: str | bytes, expected: list[str]) -> None:
    """A file that cannot be used is refused with its line, what is wrong and what to write."""
    assert problems(text) == expected


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        (
            "{day: 1, beer: 68}",
            f'beer: "68" is read as 68 C, {BEER} Did you mean 68 F? Write the unit: 68 C or 68 F.',
        ),
        (
            "{day: 0, did: pitched, beer: 68}",
            f'beer: "68" is read as 68 C, {BEER} Did you mean 68 F? Write the unit: 68 C or 68 F.',
        ),
        (
            "{day: 1, beer: 68 C}",
            'beer: "68 C" cannot be right here (-10 to 60 C). Did you mean 68 F?',
        ),
        (
            "{day: 0, did: mashed, temp: 155}",
            'temp: "155" is read as 155 C, which is not likely here (30 to 105 C). '
            "Did you mean 155 F? Write the unit: 155 C or 155 F.",
        ),
        (
            "{day: 1, gravity: 1.9}",
            'gravity: "1.9" is no gravity of wort or beer; those lie between 0.980 and 1.200. '
            'Write it like 1.012, 1012 or "12 P".',
        ),
        (
            "{day: 1, gravity: 12}",
            'gravity: "12" may be degrees Plato or gravity points. '
            'Write "12 P" for Plato, 1.012 or 1012 for points.',
        ),
        (
            "{day: 1, gravity: 12:30}",
            'gravity: "12:30" is not a gravity. Write it like 1.012, 1012 or "12 P".',
        ),
        (
            "{day: 1, ph: 45}",
            'ph: "45" is not a number from 2 to 9. Write a number from 2 to 9.',
        ),
        ("{day: 1, saw: no}", 'saw: "no" says too little here. Write it in words.'),
        (
            "{day: 1, saw: thin, sour}",
            'the key "sour" is not known here. '
            "If it belongs to the words before the comma, put those in quotes.",
        ),
        (
            "{day: 1, tasted: sour, in: botles}",
            'in: "botles" is not known here. Did you mean `all bottles`?',
        ),
        (
            "{gravity: 1.020}",
            "no time is written. Write `at: 2026-03-07 15:00` or `day: 3` (days since pitching).",
        ),
        (
            "{at: 2026-03-07, day: 1, gravity: 1.020}",
            "`at` and `day` both stand here. "
            "Write `at: 2026-03-07 15:00` or `day: 3` (days since pitching).",
        ),
        (
            "{at: 07/03/2026, note: dull}",
            'at: "07/03/2026" does not say which is the day and which the month. '
            "Write it like 2026-03-07 or 2026-03-07 15:00.",
        ),
        (
            "{at: 2026-02-30, note: dull}",
            'at: "2026-02-30" is no day of the calendar. '
            "Write it like 2026-03-07 or 2026-03-07 15:00.",
        ),
        (
            "{at: 2026-03-07T15:00Z, note: dull}",
            'at: "2026-03-07T15:00Z" has a time zone. '
            "Leave the zone out. Write it like 2026-03-07 or 2026-03-07 15:00.",
        ),
        (
            "{at: 2026-12-24, note: dull}",
            "at: 2026-12-24 has not come yet (it is 2026-11-25 12:00). Correct the date.",
        ),
        (
            "{at: 2026-11-25 18:00, note: dull}",
            "at: 2026-11-25 18:00 has not come yet (it is 2026-11-25 12:00). Correct the date.",
        ),
        (
            "{day: soon, note: dull}",
            'day: "soon" is not a number of days. '
            "Write `day: 3` or `day: 3.5`, counted from pitching.",
        ),
        (
            "{day: 1, gravity: 1.02, saw: foam}",
            "two things stand in one log line (gravity, saw). "
            "Write a log line for each, with the same time.",
        ),
        (
            "{day: 1, gravty: 1.02}",
            'the key "gravty" does not begin a log line. Did you mean `gravity`?',
        ),
        (
            "{day: 1, bottled: yes}",
            'the key "bottled" does not begin a log line. Write `did: bottled`.',
        ),
        (
            "{day: 1}",
            "nothing but a time is written. Add one of: gravity, beer, room, ph, saw, smelled, "
            "tasted, no_sign_of, did, note, turned_out.",
        ),
        (
            "{day: 9, did: botled, sugar: 5 oz}",
            'did: "botled" cannot be read for sure. '
            "Write `did: bottled` with details beside it, or `note:` for a remark.",
        ),
        (
            "{day: 9, did: bottled half of it}",
            'did: "bottled half of it" cannot be read for sure. '
            "Write `did: bottled` with details beside it, or `note:` for a remark.",
        ),
        (
            "{day: 9, did: pitched, took: 3 min}",
            'the key "took" is not known here. Known here: at, day, did, beer, amount, what.',
        ),
        (
            "{day: 9, did: bottled, sugar: 120}",
            'sugar: "120" has a number without a unit. '
            'Write "120 g", "120 oz" or the spoon it was measured with.',
        ),
        (
            "{day: 9, did: bottled, volume: -5 l}",
            'volume: "-5 l" is below zero. Write it like 19 l, 330 ml, 5 gal or 12 fl oz.',
        ),
    ],
)
def test_refused_log_lines(line: str, expected: str) -> None:
    """A log line that cannot be used is refused with line, what is wrong and what to write."""
    assert log_problems(line) == [f":3: {expected}"]


def test_celsius_taken_for_fahrenheit_is_asked_about() -> None:
    """In a US file 20 would be 20 F: the reader asks whether 20 C was meant."""
    assert log_problems("{day: 1, beer: 20}", "units: us") == [
        ':3: beer: "20" is read as 20 F, which is not likely here (28 to 113 F). '
        "Did you mean 20 C? Write the unit: 20 F or 20 C."
    ]


def test_all_problems_come_in_one_pass() -> None:
    """A file with many slips names them all, in the order of the lines."""
    log = "- {day: 1, ph: 45}\n- {day: 2, zz: 1}\n- 5\n- {at: 2999-01-01, note: dull}\n"
    text = f"batch: x\nunits: us\nyeast: {{age: 8}}\nlog:\n{log}"
    assert [p.split(":")[1] for p in problems(text)] == ["3", "5", "6", "7", "8"]


def test_hot_wort_passes_with_its_unit() -> None:
    """Yeast thrown into hot wort can be logged, once the unit is written."""
    assert one("{day: 0, did: pitched, beer: 68 C}").temp_c == 68.0
    assert one("{day: 0, did: rehydrated, temp: 150 F}").temp_c == pytest.approx(65.5556, abs=1e-3)


def test_a_gravity_keeps_all_that_was_written() -> None:
    """Sample temperature, instrument, gas and source stand beside the reading."""
    entry = one('{day: 9, gravity: "6 brix", sample: 75 F, degassed: no, of: forced test}')
    assert isinstance(entry, GravityReading)
    assert (entry.instrument, entry.degassed, entry.of) == ("refractometer", False, "forced test")
    assert (entry.written, entry.sample_c) == ("6 brix", pytest.approx(23.8889, abs=1e-3))
    bare = one("{day: 9, gravity: 1.010}")
    assert (bare.instrument, bare.degassed, bare.of, bare.sample_c) == (None, None, "batch", None)


def test_a_bottling_keeps_all_that_was_written() -> None:
    """Sugars, volume, bottles, dosing, stirring, weighing, headspace, temperature and caps."""
    entry = one(
        '{day: 14, did: bottled, sugar: [4 oz corn sugar, "0.25 cup honey"], volume: 4.8 gal, '
        "bottles: reused brown glass 12 oz, count: 50, dosing: bulk, stirred: no, weighed: yes, "
        "headspace: 3 cm, temp: 18 C, caps: reused}"
    )
    assert isinstance(entry, Bottling)
    assert entry.sugars is not None
    assert [sugar.kind for sugar in entry.sugars] == ["corn sugar", "honey"]
    assert entry.sugars[1].amount is not None
    assert entry.sugars[1].amount.volume_ml == pytest.approx(59.147, abs=1e-3)
    assert entry.bottles.model_dump(exclude_none=True) == {
        "kind": "reused brown glass 12 oz",
        "size_ml": pytest.approx(354.882, abs=1e-3),
        "count": 50,
        "reused": True,
    }
    assert (entry.dosing, entry.caps) == ("bulk", "reused")
    assert (entry.stirred, entry.weighed) == (False, True)
    assert entry.headspace is not None
    assert (entry.headspace.height_cm, entry.temp_c) == (3.0, 18.0)


def test_no_sugar_and_nothing_about_sugar_are_told_apart() -> None:
    """`sugar: none` says that none went in; a missing key says nothing."""
    assert one("{day: 14, did: bottled, sugar: none}").sugars == ()
    assert one("{day: 14, did: bottled, sugar: no}").sugars == ()
    assert one("{day: 14, did: bottled}").sugars is None
    assert one("{day: 14, did: bottled, sugar: unknown}").sugars is None
    assert len(one("{day: 14, did: bottled, sugar: yes}").sugars) == 1


def test_a_small_dose_beside_per_bottle_is_one_bottles() -> None:
    """One spoon with `dosing: per bottle` is each bottle's, and the reader says so."""
    text = "batch: x\nlog: [{day: 14, did: bottled, sugar: 1 tsp sugar, dosing: per bottle}]"
    batch = read_batch(text, NOW)
    sugars = batch.bottlings()[0].sugars
    assert sugars is not None
    assert sugars[0].amount is not None
    assert sugars[0].amount.per == "bottle"
    assert [str(w) for w in batch.warnings] == [
        '<text>:2: sugar: "1 tsp sugar" beside `dosing: per bottle` is read as one bottle\'s. '
        "Write `per bottle` after the amount, or `dosing: bulk`."
    ]
    total = one("{day: 14, did: bottled, sugar: 130 g sugar, dosing: per bottle}")
    assert total.sugars[0].amount.per == "batch"
    implied = one("{day: 14, did: bottled, sugar: 2 drops per bottle}")
    assert implied.dosing == "per bottle"


def test_yaml_words_for_yes_and_no_stay_words() -> None:
    """`no` and `off` are read by what the key holds, and 1.010 is not cut to a time or a date."""
    assert one("{day: 0, did: boiled, lid: off, took: 60 min}").lid == "off"
    assert one("{day: 0, did: added extract, heat: on}").heat == "on"
    assert one("{day: 1, no_sign_of: foam}").texts == ("foam",)
    assert read_batch("batch: no. 4").name == "no. 4"
    assert read_batch("batch: 2026-03-07").name == "2026-03-07"


def test_observations_keep_words_sense_and_place() -> None:
    """What was seen or tasted stays in the brewer's words."""
    entry = one('{day: 30, smelled: ["rotten eggs", "struck match"], in: some}')
    assert isinstance(entry, Observation)
    assert (entry.kind, entry.where) == ("smelled", "some bottles")
    assert entry.texts == ("rotten eggs", "struck match")


@pytest.mark.parametrize(
    ("words", "verb"),
    [
        ("shook the fermenter", "aerated"),
        ("Bottled the beer", "bottled"),
        ("pitched the yeast", "pitched"),
        ("sanitised everything twice", "sanitized"),
        ("cold-crashed", "cold crashed"),
        ("dumped", "disposed"),
        ("added more yeast", "repitched"),
        ("checked the airlock", None),
    ],
)
def test_other_words_for_deeds(words: str, verb: str | None) -> None:
    """Common wordings give the same deed; other words stay a deed without a verb."""
    entry = one(f"{{day: 1, did: {words}}}")
    assert (entry.verb, entry.words) == (verb, words)


_EXAMPLES = {
    **{"temp": "40 C", "beer": "20 C", "to": "20 C", "took": "30 min", "for": "3 days"},
    **{"volume": "19 l", "water": "3 l", "grain": "500 g", "amount": "11 g", "what": "words"},
    **{"with": "words", "rinsed": "boiled water", "lid": "partly", "heat": "off", "caps": "new"},
    **{"splashed": "yes", "where": "indoors", "sugar": "5 oz", "bottles": "brown", "count": "48"},
    **{"size": "500 ml", "dosing": "bulk", "stirred": "yes", "weighed": "no", "headspace": "5 %"},
}


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_takes_its_details(verb: str) -> None:
    """Each documented detail of each verb is accepted and kept."""
    bare = one(f"{{day: 1, did: {verb}}}").model_dump(exclude={"entry", "words"})
    for detail in DETAILS[verb]:
        entry = one(f"{{day: 1, did: {verb}, {detail}: {_EXAMPLES[detail]}}}")
        assert isinstance(entry, (Deed, Bottling))
        assert entry.verb == verb
        assert entry.model_dump(exclude={"entry", "words"}) != bare, detail


def test_short_forms_of_groups() -> None:
    """Words in the place of a group, and of a list item, are understood."""
    batch = read_batch(
        "batch: x\nyeast: english ale\nvessel: bucket\nbottles: 48 new 500 ml PET\n"
        "storage: 18 C\nroom: spare bedroom\n"
        "fermentables: [6.6 lb light extract]\nhops: 1 oz fuzzy\ncircumstances: summer\n"
    )
    assert batch.yeast.strain_class == "english ale"
    assert batch.vessel.kind == "bucket"
    assert (batch.bottles.count, batch.bottles.size_ml, batch.bottles.reused) == (48, 500.0, False)
    assert (batch.storage.temp_c, batch.room.where) == (18.0, "spare bedroom")
    assert batch.fermentables[0].what == "light extract"
    assert batch.hops[0].what == "fuzzy"
    assert batch.circumstances == ("summer",)


def test_what_is_left_open_is_unknown() -> None:
    """Empty, unknown and ? say nothing, and are neither yes nor no."""
    batch = read_batch("batch: x\nyeast: {form: '?', starter: unknown, packs: }\nwort: unknown\n")
    assert (batch.yeast.form, batch.yeast.starter, batch.yeast.packs) == (None, None, None)


def test_yes_no_or_a_quantity() -> None:
    """`boiled: no`, `starter: 1 l` and `rehydrated: 35 C` say whether and how much."""
    batch = read_batch(
        "batch: x\nwort: {boiled: no, topped_up: 2 gal}\nyeast: {starter: 1 l, rehydrated: 35 C, "
        "age: past its date, stored: fridge}\n"
    )
    assert (batch.wort.was_boiled, batch.wort.boiled_l) == (False, None)
    assert (batch.wort.topped_up, batch.wort.topped_up_l) == (True, pytest.approx(7.5708, abs=1e-3))
    assert (batch.yeast.starter, batch.yeast.starter_l) == (True, 1.0)
    assert (batch.yeast.rehydrated, batch.yeast.rehydrated_c) == (True, 35.0)
    assert (batch.yeast.past_date, batch.yeast.stored) == (True, "fridge")


def test_estimates_are_marked() -> None:
    """A quantity written with "about" is marked, so that its uncertainty can be widened."""
    batch = read_batch("batch: x\nwort: {volume: about 5 gal}\nvessel: {volume: 6 gal}")
    assert batch.rough == frozenset({"wort.volume"})


def test_bottles_of_a_bottling_fall_back_to_the_head() -> None:
    """The bottling's own words go before the head of the file."""
    batch = read_batch(
        "batch: x\nbottles: {kind: brown glass, size: 500 ml, count: 40}\n"
        "log: [{day: 14, did: bottled, bottles: 38}]"
    )
    bottles = batch.bottles_of(batch.bottlings()[0])
    assert (bottles.kind, bottles.size_ml, bottles.count) == ("brown glass", 500.0, 38)
