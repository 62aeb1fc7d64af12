"""The real knowledge loads, and the folder it is taken from."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import pytest

import trubshoot
from trubshoot.errors import KnowledgeError
from trubshoot.knowledge_base import KnowledgeBase, load_knowledge
from trubshoot.knowledge_base.checks import check_to_load
from trubshoot.knowledge_base.files import VARIABLE, knowledge_folder, yaml_files
from trubshoot.knowledge_base.loader import read_all
from trubshoot.rules import compile_specs
from trubshoot.rules.durable_engine import DurableEngine

CHECKOUT = Path(__file__).resolve().parents[2] / "knowledge"


def test_real_knowledge_has_no_problem() -> None:
    """Every file is read, typed and cross-checked without one problem."""
    knowledge, raw, problems = read_all()
    assert problems == []
    assert knowledge is not None
    assert check_to_load(knowledge, raw) == []
    assert len(raw.documents) == len(list(CHECKOUT.rglob("*.yaml"))) > 500


def test_cached_and_fresh_are_equal(knowledge: KnowledgeBase) -> None:
    """What comes from the cache is what the files say, but for what only proves the entries."""
    fresh, _, _ = read_all()
    assert fresh is not None
    assert all(fresh.causes[name].examples for name in knowledge.causes)
    work = replace(
        fresh,
        causes={k: item.model_copy(update={"examples": ()}) for k, item in fresh.causes.items()},
        findings={
            k: item.model_copy(update={"examples": ()}) for k, item in fresh.findings.items()
        },
        rules={k: item.model_copy(update={"tests": ()}) for k, item in fresh.rules.items()},
    )
    assert load_knowledge() == work == knowledge


def test_every_rule_can_be_compiled(knowledge: KnowledgeBase) -> None:
    """What loads also fits the engine: names, thresholds, antecedents, no negation in a circle."""
    DurableEngine(compile_specs(knowledge.rules.values())).close()


def test_every_file_is_what_its_folder_says(knowledge: KnowledgeBase) -> None:
    """No file is lost between the folder and the knowledge base."""
    for folder in ("causes", "findings", "rules", "hazards"):
        stems = {path.stem for path in (CHECKOUT / folder).glob("*.yaml")}
        assert set(getattr(knowledge, folder)) == stems


def test_named_folder_goes_before_the_variable(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder named comes first, then the environment's, then the program's own."""
    one, two = tmp_path / "one", tmp_path / "two"
    one.mkdir()
    two.mkdir()
    monkeypatch.setenv(VARIABLE, str(two))
    assert knowledge_folder(one) == one
    assert knowledge_folder() == two
    monkeypatch.delenv(VARIABLE)
    shipped = Path(trubshoot.__file__).parent / "knowledge"
    expected = shipped if shipped.is_dir() else CHECKOUT
    assert str(knowledge_folder()) == str(expected)


def test_missing_folder_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder that is not there is named, whoever named it."""
    missing = tmp_path / "nowhere"
    with pytest.raises(KnowledgeError, match="is not a folder of knowledge files"):
        load_knowledge(missing)
    monkeypatch.setenv(VARIABLE, str(missing))
    with pytest.raises(KnowledgeError, match=f"Unset {VARIABLE}"):
        load_knowledge()


def test_empty_folder_is_not_a_knowledge_base_of_nothing(tmp_path: Path) -> None:
    """A folder without any file is refused: it would find every batch without fault."""
    with pytest.raises(KnowledgeError, match="no causes here"):
        load_knowledge(tmp_path)


def test_other_files_are_left_alone(tmp_path: Path) -> None:
    """A text file or a hidden folder beside the YAML files is not read."""
    folder = tmp_path / "knowledge"
    shutil.copytree(CHECKOUT, folder)
    (folder / "NOTES.md").write_text("notes", encoding="utf-8")
    (folder / "causes" / "draft.yaml.bak").write_text("draft", encoding="utf-8")
    assert len(yaml_files(folder)) == len(yaml_files(CHECKOUT))
    assert load_knowledge(folder).causes == load_knowledge().causes
