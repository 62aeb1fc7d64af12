"""The reference pages say what the program does: keys, options, exit codes, examples."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest
from tests.cli.support import EXAMPLES, ROOT, run
from typer.main import get_command

from trubshoot.batch import read_batch
from trubshoot.batch.fields import BOTTLING, GROUPS, HEAD_KEYS, LISTS, LOG
from trubshoot.batch.verbs import DETAILS
from trubshoot.cli import exits
from trubshoot.cli.app import app

REFERENCE = ROOT / "docs" / "reference"
_ROW = re.compile(r"^\| `([^`]+)` \|", re.MULTILINE)
_YAML = re.compile(r"^```yaml\n(.*?)^```", re.MULTILINE | re.DOTALL)


def page(name: str) -> str:
    """Return a reference page."""
    return (REFERENCE / f"{name}.md").read_text("utf-8")


def keys_of(plain: Any, prefix: str = "") -> set[str]:
    """Return the paths of all keys of plain data; `facts` hold names of the knowledge, not keys."""
    found: set[str] = set()
    if isinstance(plain, dict):
        for key, value in plain.items():
            found.add(f"{prefix}{key}")
            if key != "facts":
                found |= keys_of(value, f"{prefix}{key}.")
    if isinstance(plain, list):
        for item in plain:
            found |= keys_of(item, f"{prefix.removesuffix('.')}[].")
    return found


def documented(section: str) -> set[str]:
    """Return the fields in the table of one section of the JSON page."""
    text = page("result_json").split(f"## {section}\n")[1].split("\n## ")[0]
    return set(_ROW.findall(text))


@pytest.fixture(scope="module")
def outputs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder for batch files of these tests."""
    return tmp_path_factory.mktemp("reference")


def test_json_keys_are_those_documented(outputs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """All keys that real output has stand in the page, and every key of the page occurs."""
    clash = outputs / "clash.yaml"
    clash.write_text(
        "batch: x\nlog:\n  - {day: 4, ph: 4.3}\n  - {day: 4, saw: low ph}\n",
        "utf-8",
    )
    found: set[str] = set()
    for path in [*sorted(EXAMPLES.glob("*.yaml")), clash]:
        arguments = ("diagnose", path, "--at", "2026-11-01", "--saw", "flurb wibble")
        told = run(capsys, *arguments, "--format", "json")
        found |= keys_of(json.loads(told.out))
    own = ("diagnose", clash, "--own-history", _confirmed(outputs), "--format", "json")
    found |= keys_of(json.loads(run(capsys, *own).out))
    assert found == documented("A diagnosis")


def _confirmed(outputs: Path) -> Path:
    """Return a folder with one confirmed batch."""
    folder = outputs / "confirmed"
    folder.mkdir(exist_ok=True)
    (folder / "a.yaml").write_text(
        "batch: a\nlog:\n  - {day: 9, turned_out: weak_glass, sure: certain}\n", "utf-8"
    )
    return folder


def test_json_keys_of_a_cellar(outputs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same for a whole cellar; its hazards have the fields of a diagnosis."""
    folder = _confirmed(outputs)
    for path in EXAMPLES.glob("*.yaml"):
        (folder / path.name).write_bytes(path.read_bytes())
    (folder / "bad.yaml").write_text("batch: [x\n", "utf-8")
    told = run(capsys, "cellar", folder, "--at", "2026-11-01", "--format", "json")
    hazards = {key for key in documented("A diagnosis") if key.startswith("hazards[]")}
    assert keys_of(json.loads(told.out)) == documented("A cellar") | hazards


def test_json_keys_of_an_unusable_file(outputs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The same for a file that cannot be used; its hazards have the fields of a diagnosis."""
    bad = outputs / "bad.yaml"
    bad.write_text("one bottle exploded\n", "utf-8")
    plain = json.loads(run(capsys, "diagnose", bad, "--format", "json").out)
    hazards = {key for key in documented("A diagnosis") if key.startswith("hazards[]")}
    assert keys_of(plain) == documented("A file that cannot be used") | hazards


def test_json_keys_of_what_if_and_plan(capsys: pytest.CaptureFixture[str]) -> None:
    """The same for the commands that run the model forward; both sides have the same fields."""
    early, before = EXAMPLES / "bottled_too_early.yaml", EXAMPLES / "before_brew_day.yaml"
    shared = {"format_version", "hazards", "level", "batch", "asked_at", "trubshoot", "missing"}
    asked = {
        "What if": ("whatif", early, "--at", "2026-04-05", "--change", "waited until day 14"),
        "A brew plan": ("plan", before, "--at", "2026-06-20"),
    }
    for section, arguments in asked.items():
        plain = json.loads(run(capsys, *arguments, "--format", "json").out)
        found = {key for key in keys_of(plain) if re.split(r"[.\[]", key)[0] not in shared}
        twins = ("pressure.after.", "hazards_by_practice.after[].", "faults[].best.")
        assert {key for key in found if not key.startswith(twins)} == documented(section)


def test_levels_and_states_are_those_documented() -> None:
    """Levels named in the page are those the program knows."""
    from trubshoot.safety import Level

    row = next(line for line in page("result_json").splitlines() if line.startswith("| `level` |"))
    assert set(re.findall(r"`([A-Z]+)`", row)) == {level.name for level in Level}


def test_every_command_and_option_is_documented() -> None:
    """Every command of the program, and every option of it, stands in the page of commands."""
    text = page("commands")

    def look(command: Any, name: str) -> None:
        for inner, sub in getattr(command, "commands", {}).items():
            look(sub, f"{name} {inner}")
        if not hasattr(command, "commands"):
            assert f"## `{name}" in text, name
            for parameter in command.params:
                for option in (*parameter.opts, *parameter.secondary_opts):
                    assert not option.startswith("--") or option in text, option

    look(get_command(app), "trubshoot")


def test_no_option_is_documented_that_is_not_there() -> None:
    """Every option named in the page of commands is one that the program takes."""
    known = {"--help", "--version", "--install-completion", "--show-completion"}

    def look(command: Any) -> None:
        for sub in getattr(command, "commands", {}).values():
            look(sub)
        for parameter in command.params:
            known.update(parameter.opts, parameter.secondary_opts)

    look(get_command(app))
    assert set(re.findall(r"--[a-z][a-z-]+", page("commands"))) <= known


def test_exit_codes_are_those_documented() -> None:
    """The table of exit codes has exactly the codes of the program."""
    table = page("commands").split("## Exit codes")[1].split("\n## ")[0]
    codes = {int(code) for code in re.findall(r"^\| (\d) \|", table, re.MULTILINE)}
    assert codes == {exits.FINE, exits.FAILED, exits.BAD_INPUT, exits.HAZARD}


@pytest.mark.parametrize("number", range(len(_YAML.findall(page("batch_file")))))
def test_examples_of_the_batch_page_are_read(number: int) -> None:
    """Every batch shown in the page is read without a problem or a warning."""
    batch = read_batch(_YAML.findall(page("batch_file"))[number])
    assert batch.name
    assert batch.warnings == ()


def test_every_key_of_the_batch_file_is_documented() -> None:
    """Every key, verb, deed and detail that the reader takes stands in the page, in backticks."""
    text = page("batch_file")
    words = set(HEAD_KEYS) | set(LOG) | set(DETAILS) | set(BOTTLING) | {"at", "day", "target"}
    for group in GROUPS.values():
        words |= set(group.fields)
    for verb_details in DETAILS.values():
        words |= set(verb_details)
    for _, beside in LOG.values():
        words |= set(beside)
    for fields in LISTS.values():
        words |= set(fields)
    in_backticks = {
        word for span in re.findall(r"`([^`\n]+)`", text) for word in re.split(r"[{},:]\s*", span)
    }
    assert words - in_backticks == set()


def test_details_of_each_deed_are_those_documented() -> None:
    """The row of each deed names exactly the details that the deed takes."""
    for verb, details in DETAILS.items():
        row = re.search(rf"^\| `{verb}`[^|]*\|(.*)\|$", page("batch_file"), re.MULTILINE)
        assert row is not None, verb
        assert set(re.findall(r"`([a-z ]+)`", row[1])) == set(details), verb
