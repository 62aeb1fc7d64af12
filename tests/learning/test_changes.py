"""Changes in words: what each did, in what line, and what is refused with the nearest form."""

from __future__ import annotations

from pathlib import Path

import pytest

from trubshoot.batch.model import BeerTemperature, Bottling, GravityReading
from trubshoot.errors import UnitError
from trubshoot.learning.changes import Change, apply_changes
from trubshoot.learning.draft import Draft

EXAMPLES = Path(__file__).resolve().parents[2] / "docs" / "examples"
EARLY = EXAMPLES / "bottled_too_early.yaml"
BY_DAYS = """
batch: by days
today: 30
plan: {sugar: 100 g table sugar, volume: 18 l}
log:
  - {day: 0, did: pitched, beer: 22 C}
  - {day: 1, beer: 23 C}
  - {day: 9, gravity: 1.011}
  - {day: 10, did: bottled, sugar: 100 g table sugar, volume: 18 l, bottles: brown longneck 330 ml}
  - {day: 25, tasted: thin}
"""


def change(text: str, source: str | Path = EARLY) -> tuple[Draft, Change]:
    """Make one change; every word that begins with "circ" counts as a circumstance."""
    draft = Draft.of_file(source) if isinstance(source, Path) else Draft.of_text(source)
    _, made = apply_changes(draft, [text], lambda words: words.startswith("circ"))
    return draft, made[0]


@pytest.mark.parametrize(
    ("text", "did"),
    [
        ("pitched at 20 C", "pitched: temperature 72 F -> 20 C, line 15"),
        ("pitched.beer: 20 C", "pitched: temperature 72 F -> 20 C, line 15"),
        ("sugar 120 g", "bottled: sugar 5 oz corn sugar -> 120 g corn sugar, line 19"),
        ("sugar 120 g table sugar", "bottled: sugar 5 oz corn sugar -> 120 g table sugar, line 19"),
        ("dosing per bottle", "bottled: dosing bulk -> per bottle, line 19"),
        ("not stirred", "bottled: stirred unknown -> no, line 19"),
        ("waited until day 14", "bottled: day 7 -> day 14, and 1 later line with it, line 19"),
        (
            "waited until 2026-03-21",
            "bottled: day 7 -> day 14, and 1 later line with it, line 19",
        ),
        ("waited a", None),
        ("waited 1 week longer", "bottled: day 7 -> day 14, and 1 later line with it, line 19"),
        ("bottled on day 14", "bottled: day 7 -> day 14, and 1 later line with it, line 19"),
        ("beer 64 F on day 5", "beer 66 F -> 64 F, line 17"),
        ("beer 64 F on day 2", "beer 64 F added on day 2"),
        ("fermented at 28 C", "beer: 68 F (line 16), 66 F (line 17) -> 28 C"),
        ("fermented in the cellar at 14 C", "beer: 68 F (line 16), 66 F (line 17) -> 14 C"),
        ("yeast 11 months old", "yeast.age 8 months -> 11 months, line 10"),
        ("pitched two packs", "pitched: amount unknown -> 2 packs, line 15"),
        (
            "bottles: champagne 750 ml",
            "bottles kind reused brown longneck 12 oz -> champagne 750 ml, line 12",
        ),
        ("gravity 1.012 on day 6", "gravity 1.02 -> 1.012, line 18"),
        ("yeast.age: 2 months", "yeast.age 8 months -> 2 months, line 10"),
        (
            "bottles.kind=champagne 750 ml",
            "bottles.kind reused brown longneck 12 oz -> champagne 750 ml, line 12",
        ),
        ("vessel.spigot: no", "vessel.spigot yes -> no, line 11"),
        ("fermentables.age: 3 years", "fermentables.age -> 3 years"),
        ("aerated 60 s", "aerated added: took 60 s"),
        (
            "dry hopped 50 g on day 4 for 3 days",
            "dry hopped added on day 4: amount 50 g, for 3 days",
        ),
        ("added 500 g of honey on day 3", "added on day 3: amount 500 g, what honey"),
        ("stored attic 30 C", "storage -> attic, 30 C"),
        ("circ of mine", "circumstance added: circ of mine"),
    ],
)
def test_a_change_says_what_it_did(text: str, did: str | None) -> None:
    """Each change names the old value, the new one and the line of the file."""
    if did is None:
        with pytest.raises(UnitError, match="until when"):
            change(text)
        return
    _, made = change(text)
    assert made.alters
    assert made.did[0] == did


@pytest.mark.parametrize("text", ["pitched at 72 F", "not: dry hopped", "not: circ gone"])
def test_a_change_that_alters_nothing_says_so(text: str) -> None:
    """The same value, and what was never done, are named as no change."""
    _, made = change(text)
    assert not made.alters
    assert made.did[0].startswith("changes nothing")


@pytest.mark.parametrize(
    ("text", "meant"),
    [
        ("ptched at 20 C", "`pitched ...`"),
        ("yeast.agee: 2 months", "`yeast.age: ...`"),
        ("bottels.kind: brown", "`bottles.kind: ...`"),
        ("made it better", "`pitched at 20 C`"),
        ("pitched at 500 C", "cannot be right here"),
        ("pitched purple 3", "no detail of `pitched`"),
        ("dry hopped 50 g", "Say when"),
        ("gravity 1.012", "say when"),
        ("yeast.age: soon", "soon"),
        ("", "nothing is said"),
    ],
)
def test_what_cannot_be_read_names_what_may_be_meant(text: str, meant: str) -> None:
    """Unknown words give the nearest forms, wrong values the message of the batch reader."""
    with pytest.raises(UnitError) as caught:
        change(text)
    assert meant in str(caught.value)
    assert "--change" in str(caught.value)


@pytest.mark.parametrize("text", ["pitched cooler", "used less sugar", "chilled faster"])
def test_a_change_without_its_value_is_refused(text: str) -> None:
    """ "Cooler" is no value: it would be taken for a detail and alter nothing, in silence."""
    with pytest.raises(UnitError, match=f'"{text}" does not say to what'):
        change(text)


def test_words_that_compare_may_be_a_circumstance() -> None:
    """A circumstance of the knowledge may say less or more."""
    assert change("circ less air")[1].alters


def test_waiting_moves_everything_after_the_bottling_and_nothing_before() -> None:
    """Bottling, tasting and the day of asking move; readings before them stay."""
    draft, made = change("waited until day 17", BY_DAYS)
    batch = draft.read()
    assert made.moved_days == 7
    assert [entry.day for entry in batch.log] == [0, 1, 9, 17, 32]
    assert batch.today_day == 37


def test_an_earlier_bottling_leaves_out_what_came_between() -> None:
    """A reading later than the new bottling cannot have been taken, and that is said."""
    draft, made = change("bottled on day 5", BY_DAYS)
    batch = draft.read()
    assert [entry.day for entry in batch.log] == [0, 1, 5, 20]
    assert not [entry for entry in batch.log if isinstance(entry, GravityReading)]
    assert any("gravity left out" in sentence for sentence in made.did)


def test_bottles_of_the_bottling_itself_give_way_to_the_change() -> None:
    """A kind of bottle named at the bottling would hide the one in the head."""
    draft, _ = change("bottles.kind: champagne 750 ml", BY_DAYS)
    batch = draft.read()
    bottling = next(entry for entry in batch.log if isinstance(entry, Bottling))
    assert batch.bottles_of(bottling).size_ml == 750


def test_a_temperature_without_a_day_is_that_of_the_whole_fermentation() -> None:
    """With no temperature in the log, one is put from pitching to bottling."""
    bare = "batch: x\nlog:\n  - {day: 0, did: pitched}\n  - {day: 5, did: bottled}\n"
    draft, _ = change("beer 27 C", bare)
    days = [entry.day for entry in draft.read().log if isinstance(entry, BeerTemperature)]
    assert days == [0.5, 2.0, 4.0]


def test_waiting_without_a_bottling_takes_the_plan_or_asks_for_one() -> None:
    """A planned bottling is done on that day; with no plan the message says what to add."""
    plan = "plan: {sugar: 90 g table sugar, volume: 18 l}\n"
    planned = f"batch: x\n{plan}log:\n  - {{day: 0, did: pitched}}\n"
    draft, _ = change("waited until day 14", planned)
    bottling = draft.read().bottlings()[0]
    assert (bottling.day, bottling.volume_l) == (14, 18)
    with pytest.raises(UnitError, match="bottled on day 14, sugar"):
        change("waited until day 14", "batch: x\nlog:\n  - {day: 0, did: pitched}\n")


@pytest.mark.parametrize("text", ["not: gravity", "bottled.sugar: unknown", "not: yeast.age"])
def test_taking_knowledge_away_is_marked(text: str) -> None:
    """What is only taken out of the log is told apart from what is done in another way."""
    assert change(text)[1].removed
    assert not change("not: pitched")[1].removed


def test_what_was_left_undone_is_more_than_not_logged() -> None:
    """ "not X" takes the line out and, where that is a circumstance of its own, says so as well."""
    draft = Draft.of_text(BY_DAYS.replace("{day: 1,", "{day: 0, did: sanitized}\n  - {day: 1,"))
    batch, made = apply_changes(draft, ["not sanitized"], lambda words: words == "not sanitized")
    assert [line.split(",")[0] for line in made[0].did] == [
        "sanitized taken out",
        "circumstance added: not sanitized",
    ]
    assert batch.circumstances == ("not sanitized",)
    assert not batch.deeds("sanitized")
    assert not made[0].removed


def test_a_number_that_cannot_be_is_no_circumstance() -> None:
    """Words that would do as a circumstance are refused all the same when their number is wrong."""
    with pytest.raises(UnitError, match="200 C"):
        apply_changes(Draft.of_text(BY_DAYS), ["pitched at 200 C"], lambda _: True)


def test_the_file_is_left_alone(tmp_path: Path) -> None:
    """Changes are made in memory only."""
    path = tmp_path / "batch.yaml"
    path.write_text(BY_DAYS)
    change("waited until day 17", path)
    assert path.read_text() == BY_DAYS
