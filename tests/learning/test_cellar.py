"""A whole cellar: what is seen in each file, what files do to the rest, what the sums say."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import pytest

from trubshoot.diagnosis import Diagnostician
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.learning import cellar
from trubshoot.learning.cellar import Look, PassedOver, Past, Unusable, look_at
from trubshoot.learning.cellar_page import gather
from trubshoot.learning.cellar_sums import by_step, calibration
from trubshoot.learning.history import Confirmation
from trubshoot.safety import Level

EXAMPLES = Path(__file__).resolve().parents[2] / "docs" / "examples"
NOW = datetime(2026, 11, 1, 12)


def _seen(work: Diagnostician, path: Path, text: str | None = None) -> cellar.Seen:
    if text is not None:
        path.write_text(text, "utf-8")
    return look_at(work, path, path.name, NOW)


def _look(**changes: object) -> Look:
    plain = Look(
        *("x.yaml", "x", date(2026, 3, 1), "bottled", 30.0, "", Level.NONE, ()),
        *(None, (), None, (), None, None, None),
    )
    return replace(plain, **changes)  # type: ignore[arg-type]  # whatever a test needs


def test_look_says_what_a_diagnosis_says(diagnostician: Diagnostician) -> None:
    """Level, leading cause, temperatures and gravities are those of the diagnosis itself."""
    from trubshoot.batch import read_batch

    for path in sorted(EXAMPLES.glob("*.yaml")):
        look = _seen(diagnostician, path)
        assert isinstance(look, Look)
        told = diagnostician.diagnose(read_batch(path, NOW), NOW)
        assert look.level == told.level
        assert look.verdict == (told.bottling.word if told.bottling else "")
        assert [block.id for block in look.hazards] == [
            block.id for block in told.hazards if block.level >= Level.WARNING
        ]
        if told.named_causes:
            assert look.leading is not None
            assert look.leading.id == told.named_causes[0].id
            assert look.leading.chance == pytest.approx(told.named_causes[0].responsibility)
        else:
            assert look.leading is None
        assert look.warmth is not None
        assert look.warmth.mean_c == told.evidence.facts["beer_temp_mean_c"]


BREWED = """batch: x
yeast: {class: english ale, form: dry, amount: 11 g}
log:
  - {at: 2026-10-01 12:00, did: pitched, beer: 20 C}
  - {at: 2026-10-03 12:00, KIND: 16 C}
  - {at: 2026-10-05 12:00, KIND: 22 C}
"""
BOTTLED = "  - {at: 2026-10-22 12:00, did: bottled}\n"


def test_age_counts_from_pitching_until_it_is_bottled(
    tmp_path: Path, diagnostician: Diagnostician
) -> None:
    """Pitched 31 days ago and bottled 10 days ago: the table shows the one that matters."""
    text = BREWED.replace("KIND", "beer")
    before = _seen(diagnostician, tmp_path / "a.yaml", text)
    after = _seen(diagnostician, tmp_path / "b.yaml", text + BOTTLED)
    assert isinstance(before, Look)
    assert isinstance(after, Look)
    assert (before.stage, before.days) == ("fermenting", pytest.approx(31.0))
    assert (after.stage, after.days) == ("bottled", pytest.approx(10.0))
    assert before.begun == after.begun == date(2026, 10, 1)
    undated = _seen(diagnostician, tmp_path / "c.yaml", "batch: x\n")
    assert isinstance(undated, Look)
    assert (undated.days, undated.begun) == (None, None)


@pytest.mark.parametrize("kind", ["beer", "room"])
def test_temperatures_stand_against_the_window_of_the_yeast(
    kind: str, tmp_path: Path, diagnostician: Diagnostician
) -> None:
    """Mean, coldest and warmest of the beer, and the window from least to high of its class."""
    text = BREWED.replace("KIND", kind).replace(
        ", beer: 20 C", "" if kind == "room" else ", beer: 20 C"
    )
    look = _seen(diagnostician, tmp_path / "a.yaml", text)
    assert isinstance(look, Look)
    assert look.warmth is not None
    row = diagnostician.knowledge.yeast_classes["english_ale"]
    assert (look.warmth.window_low_c, look.warmth.window_high_c) == (
        row.temp_min_c,
        row.temp_high_c,
    )
    assert row.temp_min_c < row.temp_low_c
    assert look.warmth.low_c < look.warmth.mean_c < look.warmth.high_c
    assert look.warmth.from_room == (kind == "room")
    if kind == "beer":
        assert (look.warmth.low_c, look.warmth.high_c) == (16.0, 22.0)


def test_a_yeast_that_is_not_named_is_judged_as_a_kit_sachet(
    tmp_path: Path, diagnostician: Diagnostician
) -> None:
    """Without a class of yeast the window is that of an unknown sachet."""
    text = BREWED.replace("KIND", "beer").replace("class: english ale, ", "")
    look = _seen(diagnostician, tmp_path / "a.yaml", text)
    assert isinstance(look, Look)
    assert look.warmth is not None
    row = diagnostician.knowledge.yeast_classes["bread_or_unknown_kit_sachet"]
    assert (look.warmth.window_low_c, look.warmth.window_high_c) == (
        row.temp_min_c,
        row.temp_high_c,
    )


def test_the_last_gravity_stands_against_the_expected_end(
    tmp_path: Path, diagnostician: Diagnostician
) -> None:
    """The last reading and the end expected of the batch, final only once it is bottled."""
    text = BREWED.replace("KIND", "beer") + "  - {at: 2026-10-20 12:00, gravity: 1.014}\n"
    head = "wort: {kind: extract kit, volume: 19 l, expected_og: 1.048, expected_fg: 1.012}\n"
    text = text.replace("log:", f"{head}log:").replace(
        "  - {at: 2026-10-03", "  - {at: 2026-10-01 12:00, gravity: 1.048}\n  - {at: 2026-10-03"
    )
    open_, closed = (
        _seen(diagnostician, tmp_path / name, body)
        for name, body in (("a.yaml", text), ("b.yaml", text + BOTTLED))
    )
    assert isinstance(open_, Look)
    assert isinstance(closed, Look)
    assert open_.ending is not None
    assert closed.ending is not None
    assert open_.ending.points == pytest.approx(14.0, abs=0.3)
    assert open_.ending.expected_points == pytest.approx(12.0, abs=1.5)
    assert (open_.ending.final, closed.ending.final) == (False, True)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("batch: x\n", Look),
        ("{batch: x}\n", Look),
        ("colour: blue\n", PassedOver),
        ("", PassedOver),
        ("- a\n- b\n", PassedOver),
        ("batch: x\nlog:\n  - {gravty: 1.050, day: 1}\n", Unusable),
        ("batch: [x\n", Unusable),
        ("log: []\n", Unusable),
        ("batch: x\nlog:\n  - {at: 2027-01-01, note: a date to come}\n", Unusable),
    ],
)
def test_kinds_of_files(
    text: str, kind: type, tmp_path: Path, diagnostician: Diagnostician
) -> None:
    """Batch files, broken ones and other YAML are told apart."""
    assert isinstance(_seen(diagnostician, tmp_path / "f.yaml", text), kind)


def test_missing_file_is_listed(tmp_path: Path, diagnostician: Diagnostician) -> None:
    """A file that cannot be read is named with the reason."""
    seen = _seen(diagnostician, tmp_path / "gone.yaml")
    assert isinstance(seen, Unusable)
    assert "cannot be read" in seen.problems[0]


def test_broken_file_keeps_its_hazard(tmp_path: Path, diagnostician: Diagnostician) -> None:
    """A burst that a broken file names stands among the hazards of the cellar."""
    text = "batch: x\nlog:\n  - {day: 3, saww: one bottle exploded}\n"
    seen = _seen(diagnostician, tmp_path / "f.yaml", text)
    page = gather("f", NOW, [seen], 0, diagnostician.knowledge)
    assert page.level is Level.DANGER
    assert [item.block.id for item in page.hazards] == ["bottle_burst"]
    assert page.hazards[0].batches == ("f.yaml",)


def test_file_that_makes_the_program_fail_is_listed(
    tmp_path: Path, diagnostician: Diagnostician, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A fault inside trubshoot counts as a warning for that file, and is no end."""

    def fail(*_: object) -> None:
        raise ZeroDivisionError("seven")

    monkeypatch.setattr(cellar, "read_batch", fail)
    seen = _seen(diagnostician, tmp_path / "f.yaml", "batch: x\n")
    assert isinstance(seen, Unusable)
    assert seen.failed
    assert "ZeroDivisionError: seven" in seen.problems[0]
    assert [block.id for block in seen.hazards] == ["could_not_assess"]


def test_own_confirmation_is_no_evidence(tmp_path: Path, diagnostician: Diagnostician) -> None:
    """Words of a confirmation, even of a burst, change no cause or chance; hazards they do."""
    text = (EXAMPLES / "flat_and_cold.yaml").read_text("utf-8")
    line = "  - {at: 2026-10-01, turned_out: weak_glass, words: one bottle exploded}\n"
    before = _seen(diagnostician, tmp_path / "a.yaml", text)
    after = _seen(diagnostician, tmp_path / "b.yaml", text + line)
    assert isinstance(before, Look)
    assert isinstance(after, Look)
    assert after.level is Level.DANGER
    assert after.causes == before.causes
    assert after.leading == before.leading
    chances = dict(before.causes)
    assert after.past is not None
    assert after.past.given == pytest.approx(chances.get("weak_glass", 0.0), abs=0.01)
    assert after.past.leader == "conditioned_too_cold"


def test_same_hazard_stands_once(tmp_path: Path, diagnostician: Diagnostician) -> None:
    """Two batches with the same block share it, and both are named; the gravest comes first."""
    early = (EXAMPLES / "bottled_too_early.yaml").read_text("utf-8")
    gushers = early + "  - {at: 2026-04-05, saw: a bottle burst}\n"
    texts = {
        "a.yaml": gushers,
        "b.yaml": gushers.replace("No. 4", "No. 9"),
        "c.yaml": "batch: c\nlog:\n  - {at: 2026-01-02, did: pitched}\n"
        "  - {at: 2026-01-29, did: bottled}\n",
    }
    seen = [_seen(diagnostician, tmp_path / name, text) for name, text in texts.items()]
    page = gather("f", NOW, seen[::-1], 3, diagnostician.knowledge)
    assert page.hazards[0].batches == ("a.yaml", "b.yaml")
    levels = [item.block.level for item in page.hazards]
    assert levels == [Level.DANGER, Level.WARNING]
    assert [look.path for look in page.batches] == ["a.yaml", "b.yaml", "c.yaml"]
    assert page.other_files == 3


def test_sums_by_step_by_hand(diagnostician: Diagnostician) -> None:
    """By hand: 0.6 + 0.5 at one step counts one; a confirmation counts one, and alone."""
    knowledge = diagnostician.knowledge
    likely = _look(
        causes=(
            ("packaged_too_early", 0.6),
            ("off_yeast_too_early", 0.5),
            ("weak_glass", 0.2),
            ("normal_sediment", 0.9),
        )
    )
    sure = _look(causes=(("weak_glass", 0.9),), confirmed=Confirmation("packaged_too_early", True))
    guess = _look(causes=(("weak_glass", 0.1),), confirmed=Confirmation("underpitched", False))
    sums = {item.step: item for item in by_step([likely, sure, guess], knowledge)}
    assert knowledge.causes["off_yeast_too_early"].step == "timing"
    assert set(sums) == {"timing", "bottles_caps"}
    assert (sums["timing"].confirmed, sums["timing"].chances) == (1, pytest.approx(1.0))
    assert sums["timing"].cause == "packaged_too_early"
    assert sums["timing"].cause_batches == pytest.approx(1.6)
    assert sums["timing"].habit == knowledge.causes["packaged_too_early"].next_time
    assert sums["bottles_caps"].batches == pytest.approx(0.3)
    assert by_step([sure], knowledge)[0].step == "timing"


def test_calibration_by_hand(knowledge: KnowledgeBase) -> None:
    """Four confirmed batches worked out by hand; a batch without an answer has no Brier share."""

    def told(cause: str, given: float, leader: str, chance: float) -> Look:
        return _look(confirmed=Confirmation(cause, True), past=Past(given, leader, chance))

    looks = [
        told("a", 0.8, "a", 0.8),
        told("b", 0.05, "a", 0.7),
        told("", 0.95, "", 0.0),
        told("c", 1.0, "c", 1.0),
        _look(confirmed=Confirmation("a", False)),
    ]
    found = calibration(looks, knowledge)
    assert (found.confirmed, found.named_first) == (4, 2)
    assert found.given == (1, 0, 0, 1, 2)
    assert [(item.answers, item.right) for item in found.leading] == [
        *((0, 0), (0, 0), (0, 0), (2, 1), (1, 1))
    ]
    assert found.leading[3].mean_chance == pytest.approx(0.75)
    # (0.2 squared + 0.7 squared + 0) / 3
    assert found.brier == pytest.approx((0.04 + 0.49) / 3)
    assert calibration([], knowledge).brier is None
