"""Own history in `diagnose`: only when asked for or set, said on the page, never in a hazard."""

from __future__ import annotations

import json
import shutil
import sys
from pathlib import Path

import pytest
from tests.cli.support import EXAMPLES, run

AT = ("--at", "2026-11-01")
CONFIRMED = {
    "plaster_taste": "chlorinated_water",
    "flat_and_cold": "conditioned_too_cold",
    "silent_airlock": "leaky_fermenter_seal",
}


@pytest.fixture
def cellar(tmp_path: Path) -> Path:
    """A cellar with three confirmed batches and one to ask about."""
    place = tmp_path / "brewing"
    place.mkdir()
    for path in EXAMPLES.glob("*.yaml"):
        shutil.copy(path, place)
    for name, cause in CONFIRMED.items():
        with (place / f"{name}.yaml").open("a", encoding="utf-8") as file:
            file.write(f"  - {{at: 2026-10-30, turned_out: {cause}}}\n")
    return place


@pytest.fixture
def set_cellar(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The settings' file, in a folder of its own."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setenv("APPDATA", str(tmp_path / "config"))
    monkeypatch.setenv("HOME", str(tmp_path))
    own = tmp_path / "config" / "trubshoot"
    if sys.platform == "darwin":
        own = tmp_path / "Library/Application Support/trubshoot"
    own.mkdir(parents=True)
    return own / "config.toml"


def test_asked_for_by_option(cellar: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With the option the page says so, --why shows the shift with its counts, JSON holds it."""
    asked = ("diagnose", cellar / "stuck_after_cold_night.yaml", *AT)
    plain = run(capsys, *asked)
    told = run(capsys, *asked, "--own-history", cellar, "--why")
    words = " ".join(told.out.split())
    assert "3 confirmed batches of your own" in words
    assert "--no-own-history" in words
    assert "1 of your 3 confirmed batches" in words
    assert "of your own (" not in plain.out
    before = json.loads(run(capsys, *asked, "--format", "json").out)
    after = json.loads(run(capsys, *asked, "--own-history", cellar, "--format", "json").out)
    assert before["own_history"] is None
    assert after["own_history"]["confirmed"] == 3
    own = {item["id"]: item for item in after["own_history"]["causes"]}
    assert own["chlorinated_water"]["count"] == 1
    assert own["chlorinated_water"]["textbook"] < own["chlorinated_water"]["own"]
    assert own["underpitched"]["textbook"] > own["underpitched"]["own"]
    for same in ("hazards", "level", "findings", "contexts", "numbers"):
        assert after[same] == before[same]
    assert after["causes"] != before["causes"]


def test_never_read_silently(cellar: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Without option and setting the other files of the folder are not looked at."""
    asked = ("diagnose", cellar / "stuck_after_cold_night.yaml", *AT, "--format", "json")
    alone = EXAMPLES / "stuck_after_cold_night.yaml"
    assert json.loads(run(capsys, *asked).out) == json.loads(
        run(capsys, "diagnose", alone, *AT, "--format", "json").out
    )


def test_set_once(
    cellar: Path, set_cellar: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The setting counts for files inside the cellar only, and --no-own-history goes before it."""
    set_cellar.write_text(f'cellar = "{cellar.as_posix()}"\n', "utf-8")
    inside = ("diagnose", cellar / "stuck_after_cold_night.yaml", *AT, "--format", "json")
    assert json.loads(run(capsys, *inside).out)["own_history"]["confirmed"] == 3
    assert json.loads(run(capsys, *inside, "--no-own-history").out)["own_history"] is None
    friend = shutil.copy(EXAMPLES / "stuck_after_cold_night.yaml", tmp_path)
    outside = ("diagnose", friend, *AT, "--format", "json")
    assert json.loads(run(capsys, *outside).out)["own_history"] is None


def test_own_confirmation_is_left_out(cellar: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A confirmed batch is answered from the two others."""
    asked = ("diagnose", cellar / "flat_and_cold.yaml", *AT, "--own-history", cellar)
    own = json.loads(run(capsys, *asked, "--format", "json").out)["own_history"]
    assert own["confirmed"] == 2
    assert {item["id"] for item in own["causes"] if item["count"]} == {
        "chlorinated_water",
        "leaky_fermenter_seal",
    }


@pytest.mark.parametrize("text", ['cellar = "gone"', "cellar = 3", 'cellars = "x"'])
def test_wrong_settings_are_named(
    text: str, cellar: Path, set_cellar: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A path that is not whole, a number and an unknown name are refused with the mend."""
    set_cellar.write_text(text, "utf-8")
    told = run(capsys, "diagnose", cellar / "all_well.yaml", *AT)
    assert told.code == 2
    assert "cellar = " in told.err


def test_cellar_that_is_gone_keeps_nobody_from_an_answer(
    cellar: Path, set_cellar: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A set folder that is no longer there is named, and the textbook answers, hazard first."""
    set_cellar.write_text(f'cellar = "{(cellar / "moved").as_posix()}"\n', "utf-8")
    told = run(capsys, "diagnose", cellar / "bottled_too_early.yaml", *AT)
    assert told.code == 3
    assert told.out.startswith("WARNING: ")
    assert "is no folder" in told.err


@pytest.mark.parametrize(
    "options",
    [
        ("--own-history", "gone"),
        ("--own-history", ".", "--no-own-history"),
        ("--own-history", ".", "--ask"),
    ],
)
def test_options_that_make_no_sense(
    options: tuple[str, ...], cellar: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder that is none, both options, and an interview with own history are refused."""
    assert run(capsys, "diagnose", cellar / "all_well.yaml", *AT, *options).code == 2
