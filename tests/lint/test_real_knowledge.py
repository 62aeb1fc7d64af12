"""The knowledge that is shipped passes the lint, quickly, and never at loading."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from trubshoot.cli.knowledge import run_check
from trubshoot.knowledge_base.checks import WITHOUT_PUBLICATION
from trubshoot.knowledge_base.loader import KnowledgeBase, read_all
from trubshoot.lint import lint

SOURCE = Path(__file__).resolve().parents[2] / "src" / "trubshoot"


def test_no_fault_is_left() -> None:
    """Nothing the lint calls a fault is in the knowledge; notes may stand."""
    knowledge, raw, problems = read_all()
    assert knowledge is not None, problems
    remarks = lint(knowledge, raw)
    assert [str(item) for item in remarks if not item.note] == []
    assert all(item.line > 0 for item in remarks)


def test_a_fault_ends_the_command_with_2(tmp_path: Path, capsys: object) -> None:
    """`knowledge check` counts what the lint finds and ends as for any other problem."""
    import shutil

    import pytest

    assert isinstance(capsys, pytest.CaptureFixture)
    folder = tmp_path / "knowledge"
    shutil.copytree(Path(__file__).resolve().parents[2] / "knowledge", folder)
    assert run_check(folder) == 0
    assert "Notes, true and no fault:" in capsys.readouterr().out
    page = folder / "facts.yaml"
    added = "never_read: {type: state, meaning: 'nothing'}\n"
    page.write_text(page.read_text("utf-8") + added, encoding="utf-8")
    assert run_check(folder) == 2
    told = capsys.readouterr().out
    assert "K10 no rule, list, hazard or hold reads 'never_read'" in told
    assert told.rstrip().endswith("1 problem.")


def test_what_is_only_shown_is_worked_out(knowledge: KnowledgeBase) -> None:
    """Every fact marked as shown only is set somewhere in the evidence."""
    code = "".join(path.read_text("utf-8") for path in (SOURCE / "evidence").glob("*.py"))
    marked = [name for name, fact in knowledge.facts.items() if fact.shown_only]
    assert len(marked) > 5
    assert [name for name in marked if f'"{name}"' not in code] == []


def test_loading_does_not_lint() -> None:
    """Starting the program and reading the knowledge imports nothing of the lint."""
    script = (
        "import sys; from trubshoot.knowledge_base import load_knowledge; import trubshoot.cli.app;"
        "load_knowledge(); print(any(name.startswith('trubshoot.lint') for name in sys.modules))"
    )
    ended = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True)
    assert ended.stdout.strip() == "False", ended.stderr


def _cited(knowledge: KnowledgeBase) -> set[str]:
    tables = (
        *(knowledge.causes, knowledge.findings, knowledge.rules, knowledge.hazards),
        *(knowledge.holds, knowledge.yeast_classes, knowledge.sugars, knowledge.fermentables),
        *(knowledge.bottles, knowledge.sanitizers, knowledge.constants),
    )
    cited = {key for table in tables for entry in table.values() for key in entry.sources}  # type: ignore[attr-defined]
    lists = knowledge.checklists.values()
    return cited | {key for entry in lists for item in entry.items for key in item.sources}


def test_every_source_is_cited(knowledge: KnowledgeBase) -> None:
    """No publication stands in sources.yaml for show."""
    assert sorted(set(knowledge.sources) - _cited(knowledge)) == []


def test_every_citation_has_its_source(knowledge: KnowledgeBase) -> None:
    """Whatever is cited is a publication in sources.yaml, or one of the three weaker words."""
    assert sorted(_cited(knowledge) - set(knowledge.sources) - set(WITHOUT_PUBLICATION)) == []
