"""The command `report`: writes one file, says the hazards first, and loses nobody's data."""

from __future__ import annotations

import json
import os
import sys
from pathlib import Path

import pytest
from tests.cli.support import EXAMPLES, Run, run

from trubshoot.report.page.seal import is_untouched

EARLY, EARLY_AT = EXAMPLES / "bottled_too_early.yaml", "2026-04-05"
WELL, WELL_AT = EXAMPLES / "all_well.yaml", "2026-09-20"
CALM, CALM_AT = EXAMPLES / "all_well_bottled.yaml", "2026-10-05"


def report(capsys: pytest.CaptureFixture[str], *arguments: str | Path) -> Run:
    """Run the command."""
    return run(capsys, "report", *arguments)


def test_hazards_stand_in_terminal_and_file(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A hazard is said in the terminal before the file is named, in the file, and by the code."""
    out = tmp_path / "batch.html"
    done = report(capsys, EARLY, "--at", EARLY_AT, "-o", out)
    assert done.code == 3
    assert done.out.startswith("WARNING: Bottles of this batch may burst.")
    assert "Do not touch, open, shake, warm or freeze any bottle." in done.out
    assert done.out.splitlines()[-1] == f"Report written to {out}."
    assert done.err == ""
    text = out.read_text("utf-8")
    assert text.index("Bottles of this batch may burst") < text.index("Lantern Street Amber")


def test_hold_is_said_and_ends_with_three(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A batch on HOLD ends with 3, and the terminal says so."""
    done = report(capsys, WELL, "--at", WELL_AT, "-o", tmp_path / "x.html")
    assert done.code == 3
    assert done.out.startswith("HOLD: do not bottle yet")
    assert "reasons, listed in the report." in done.out  # they stand nowhere on the screen


def test_caution_ends_with_zero(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """With nothing above CAUTION, and bottled, the code is 0; the block is shown all the same."""
    done = report(capsys, CALM, "--at", CALM_AT, "-o", tmp_path / "x.html")
    assert done.code == 0
    assert done.out.startswith("CAUTION: ")


def test_go_ends_with_zero(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Where `bottling` says GO the report does too, with its limits and the list for the day."""
    batch = tmp_path / "go.yaml"
    plan = (
        "storage: {where: cellar, temp: 16 C}\n"
        "plan: {sugar: 95 g table sugar, volume: 18 l, dosing: bulk, target: 2.4 vol,"
        " headspace: 4 %, weighed: yes, stirred: yes}\n"
    )
    batch.write_text(WELL.read_text("utf-8") + plan, "utf-8")
    asked = run(capsys, "bottling", batch, "--at", WELL_AT)
    done = report(capsys, batch, "--at", WELL_AT)
    assert done.code == asked.code == 0
    assert "GO WITH LIMITS" in done.out
    text = (tmp_path / "go.html").read_text("utf-8")
    assert "Only within these limits" in text
    assert "Checklist for bottling day" in text


def test_name_and_format_by_themselves(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Left out, the file stands beside the batch; the format follows its name."""
    batch = tmp_path / "my.batch.yaml"
    batch.write_bytes(CALM.read_bytes())
    assert report(capsys, batch, "--at", CALM_AT).code == 0
    assert (tmp_path / "my.batch.html").read_text("utf-8").startswith("<!DOCTYPE html>")
    assert report(capsys, batch, "--at", CALM_AT, "--format", "markdown").code == 0
    assert (tmp_path / "my.batch.md").read_text("utf-8").startswith("<!-- trubshoot report")
    assert report(capsys, batch, "--at", CALM_AT, "-o", tmp_path / "a.MD").code == 0
    assert (tmp_path / "a.MD").read_text("utf-8").startswith("<!-- trubshoot report")


def test_shown_in_place_of_written(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """With `-o -` the report itself is the output, nothing beside it."""
    done = report(capsys, EARLY, "--at", EARLY_AT, "-o", "-", "--format", "markdown")
    assert done.code == 3
    assert is_untouched(done.out.encode())
    assert done.out.splitlines()[2].startswith("# WARNING: ")


@pytest.mark.parametrize("form", ["pdf", "HTML", ""])
def test_other_formats_are_refused(
    form: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A format that is none is named with those that are."""
    done = report(capsys, CALM, "-o", tmp_path / "x", "--format", form)
    assert done.code == 2
    assert "Write html or markdown." in done.err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("units", "sign"), [("us", "°F"), ("metric", "°C")])
def test_units_by_choice(
    units: str, sign: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """The figures are in the units asked for."""
    report(capsys, CALM, "--at", CALM_AT, "-o", tmp_path / "x.html", "--units", units)
    figures = (tmp_path / "x.html").read_text("utf-8").split("<figure", 1)[1].split("</main>")[0]
    assert sign in figures


def test_a_newer_report_replaces_an_untouched_one(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Written again the report is replaced, with the rights the file had."""
    out = tmp_path / "x.html"
    report(capsys, CALM, "--at", CALM_AT, "-o", out)
    out.chmod(0o640)
    before = out.read_bytes()
    assert report(capsys, CALM, "--at", "2026-10-20", "-o", out).code == 0
    assert out.read_bytes() != before
    assert out.stat().st_mode & 0o777 == 0o640
    assert list(tmp_path.iterdir()) == [out]


@pytest.mark.parametrize("kind", ["notes", "edited", "empty"])
def test_other_files_are_not_written_over(
    kind: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A file of somebody's own, and a report with notes in it, stay; --force replaces them."""
    out = tmp_path / "x.html"
    if kind == "edited":
        report(capsys, CALM, "--at", CALM_AT, "-o", out)
        out.write_bytes(out.read_bytes().replace(b"</body>", b"<p>my notes</p></body>"))
    else:
        out.write_text("my notes" if kind == "notes" else "", "utf-8")
    before = out.read_bytes()
    done = report(capsys, EARLY, "--at", EARLY_AT, "-o", out)
    assert done.code == 2
    assert out.read_bytes() == before
    assert "--force" in done.err
    assert done.out.startswith("WARNING: ")  # the hazard is said although nothing was written
    assert report(capsys, EARLY, "--at", EARLY_AT, "-o", out, "--force").code == 3
    assert is_untouched(out.read_bytes())


def test_the_batch_itself_is_never_written_over(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Not even --force makes a report of the batch file, by whatever name it is called."""
    batch = tmp_path / "batch.yaml"
    batch.write_bytes(CALM.read_bytes())
    link = tmp_path / "link.html"
    link.symlink_to(batch)
    for out in (batch, link):
        done = report(capsys, batch, "--at", CALM_AT, "-o", out, "--force")
        assert done.code == 2
        assert "the batch file itself" in done.err
    assert batch.read_bytes() == CALM.read_bytes()


def test_a_link_stays_a_link(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """What a link leads to is written; the link is not replaced."""
    target, link = tmp_path / "target.html", tmp_path / "link.html"
    link.symlink_to(target)
    report(capsys, CALM, "--at", CALM_AT, "-o", link)
    assert link.is_symlink()
    assert is_untouched(target.read_bytes())


@pytest.mark.parametrize("where", ["folder", "missing", "long"])
def test_places_that_cannot_be_written(
    where: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A folder, a folder that is not there and an impossible name are said, with what to do."""
    out = {
        "folder": tmp_path,
        "missing": tmp_path / "no" / "x.html",
        "long": tmp_path / ("x" * 300 + ".html"),
    }[where]
    done = report(capsys, CALM, "--at", CALM_AT, "-o", out)
    assert done.code == 2
    assert "-o" in done.err
    assert list(tmp_path.iterdir()) == []


def test_a_write_that_breaks_off_leaves_the_old_file(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the disk fails in the middle the old report is whole, and nothing lies about."""
    out = tmp_path / "x.html"
    report(capsys, CALM, "--at", CALM_AT, "-o", out)
    before = out.read_bytes()

    def full(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    done = report(capsys, EARLY, "--at", EARLY_AT, "-o", out)
    assert done.code == 2
    assert "No space left" in done.err
    assert out.read_bytes() == before
    assert list(tmp_path.iterdir()) == [out]


@pytest.mark.skipif(sys.platform == "win32", reason="rights of another kind")
def test_a_new_file_has_the_usual_rights(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """A report can be read by whom other new files can be read: it is made to be shown."""
    report(capsys, CALM, "--at", CALM_AT, "-o", tmp_path / "x.html")
    (tmp_path / "other").touch()
    rights = [(tmp_path / name).stat().st_mode & 0o777 for name in ("x.html", "other")]
    assert rights[0] == rights[1]


@pytest.mark.parametrize("form", ["html", "markdown"])
def test_words_of_a_file_that_cannot_be_read(
    form: str, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Burst bottles in a broken file stand first, in the terminal and in what is written."""
    batch = tmp_path / "broken.yaml"
    batch.write_text("batch: x\nlgo:\n  - {saw: two bottles burst last night}\n", "utf-8")
    done = report(capsys, batch, "--at", EARLY_AT, "--format", form)
    assert done.code == 2
    assert done.out.startswith("DANGER: ")
    assert "lgo" in done.err
    written = tmp_path / ("broken.html" if form == "html" else "broken.md")
    text = written.read_text("utf-8")
    assert text.index("DANGER") < text.index("nothing was assessed", text.index("DANGER"))
    assert "lgo" in text
    assert is_untouched(written.read_bytes())


def test_an_old_report_does_not_outlive_its_batch(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """Once the batch file cannot be read, its report says that nothing was assessed."""
    batch = tmp_path / "batch.yaml"
    batch.write_bytes(CALM.read_bytes())
    report(capsys, batch, "--at", CALM_AT)
    batch.write_text("batch: [", "utf-8")
    done = report(capsys, batch, "--at", CALM_AT)
    assert done.code == 2
    assert "Treat sealed bottles as suspect" in done.err
    assert "Treat sealed bottles as suspect" in (tmp_path / "batch.html").read_text("utf-8")


def test_a_missing_batch_writes_nothing(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A name that leads nowhere is said, and no report about it appears."""
    done = report(capsys, tmp_path / "no.yaml")
    assert done.code == 2
    assert list(tmp_path.iterdir()) == []


def test_a_fault_inside_ends_as_suspect_bottles(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever goes wrong inside, the hazard of a failed assessment is shown and the code is 1."""
    from trubshoot.diagnosis import overview

    def broken(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(overview, "overview", broken)
    done = report(capsys, CALM, "--at", CALM_AT, "-o", tmp_path / "x.html")
    assert done.code == 1
    assert "suspect" in done.out
    assert list(tmp_path.iterdir()) == []


def test_report_and_diagnosis_agree(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """The causes of the report are those of `diagnose`, in the same order."""
    out = tmp_path / "x.md"
    report(capsys, EARLY, "--at", EARLY_AT, "-o", out)
    told = json.loads(run(capsys, "diagnose", EARLY, "--at", EARLY_AT, "--format", "json").out)
    names = [cause["label"] for cause in told["causes"][:3]]
    text = out.read_text("utf-8")
    places = [text.index(f"### {number}. {name}") for number, name in enumerate(names, 1)]
    assert places == sorted(places)
