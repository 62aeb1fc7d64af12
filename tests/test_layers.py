"""The layers of the package: who may import whom, and who may print."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fnmatch import fnmatch
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "src" / "trubshoot"
MAX_LINES = 400

# what a part of the package may import of the others; batch and knowledge_base do not meet
_GROUND = {"errors", "units", "counting", "sentences", "yaml_lines", "whole_files"}
_DATA = _GROUND | {"physics", "batch", "knowledge_base"}
ALLOWED: Mapping[str, set[str]] = {
    "__init__": set(),
    "errors": set(),
    "units": {"errors"},
    "sentences": {"units", "counting"},
    "yaml_lines": {"errors", "units"},
    "whole_files": set(),
    "counting": set(),
    "physics": {"errors", "units", "yaml_lines"},
    "batch": _GROUND | {"physics"},
    "knowledge_base": _GROUND | {"physics"},
    "evidence": _DATA,
    "rules": _GROUND | {"knowledge_base"},  # the types of the rules, nothing of a batch
    "safety": {"errors"},  # hazards never see evidence, rules or ranking
    "diagnosis": _DATA | {"evidence", "rules", "safety"},
    "lint": _DATA | {"evidence", "rules", "safety", "diagnosis"},
    "interview": _DATA | {"evidence", "safety", "diagnosis"},  # asks; sees no rules
    "learning": _DATA | {"evidence", "rules", "safety", "diagnosis"},
    "report": _DATA | {"evidence", "rules", "safety", "diagnosis", "learning"},
    "cli": _DATA
    | {"evidence", "rules", "safety", "diagnosis", "lint", "interview", "learning", "report"}
    | {"web"},
    "web": _DATA | {"evidence", "rules", "safety", "diagnosis", "interview", "learning", "report"},
    "__main__": {"cli"},
}
# where a package from outside may be imported: whole parts, or single files
OUTSIDE: Mapping[str, set[str]] = {
    "durable": {"rules/durable_engine.py"},
    "durable_rules_engine": {"rules/durable_engine.py"},
    "rich": {"report/*terminal.py", "cli"},
    "typer": {"cli"},
    "click": {"cli"},
    "yaml": {"yaml_lines.py"},
    "pydantic": {"batch", "knowledge_base"},
    "jinja2": {"report", "web"},
    "markupsafe": {"report", "web"},
    "numpy": {"diagnosis", "interview", "learning", "lint", "physics"},
    "starlette": {"web"},
    "uvicorn": {"web/serve.py"},
    # what could reach another machine: the pages for a browser alone, and nothing that calls out
    "asyncio": {"web"},
    "socket": {"web/serve.py"},
    "http": {"web"},
    "urllib": {"web"},
    "ssl": set(),
    "socketserver": set(),
    "xmlrpc": set(),
    "ftplib": set(),
    "smtplib": set(),
    "poplib": set(),
    "imaplib": set(),
    "webbrowser": set(),
}
_CLOCKS = (".now", ".today", ".utcnow", "time.time", "time.monotonic", "time.perf_counter")
MAY_PRINT = {"report", "cli", "web", "__main__"}


@dataclass(frozen=True, order=True)
class Import:
    """One import in one module."""

    path: str  # inside the package
    line: int
    name: str  # dotted, absolute

    def __str__(self) -> str:
        return f"{self.path}:{self.line} imports {self.name}"

    @property
    def part(self) -> str:
        """Return the part of the package that imports."""
        return part_of(self.path)


def part_of(path: str) -> str:
    """Return the part of the package a file belongs to."""
    return path.split("/")[0].removesuffix(".py")


def sources(package: Path) -> dict[str, str]:
    """Return {path inside the package: text} of every module."""
    found = {
        path.relative_to(package).as_posix(): path.read_text(encoding="utf-8")
        for path in sorted(package.rglob("*.py"))
    }
    assert found, package
    return found


def imports(path: str, text: str) -> Iterator[Import]:
    """Yield every import of a module, at the top, in functions and for types alike."""
    parents = ["trubshoot", *path.split("/")[:-1]]
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield Import(path, node.lineno, alias.name)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                base = ".".join([*parents[: len(parents) - node.level + 1], base]).strip(".")
            if base == "trubshoot":  # `from trubshoot import units` names the part only here
                for alias in node.names:
                    yield Import(path, node.lineno, f"trubshoot.{alias.name}")
            else:
                yield Import(path, node.lineno, base)
        elif (
            isinstance(node, ast.Call)
            and isinstance(node.func, (ast.Name, ast.Attribute))
            and getattr(node.func, "id", getattr(node.func, "attr", "")) in _BY_TEXT
            and node.args
            and isinstance(node.args[0], ast.Constant)
        ):
            yield Import(path, node.lineno, str(node.args[0].value))


_BY_TEXT = {"__import__", "import_module"}


def wrong_imports(modules: Mapping[str, str]) -> list[str]:
    """Return every import that the layers forbid."""
    wrong = []
    for path, text in modules.items():
        for one in imports(path, text):
            root, _, rest = one.name.partition(".")
            if root == "trubshoot":
                target = rest.split(".")[0]
                if target in ("", "__version__") or target == one.part:
                    continue
                if one.part not in ALLOWED or target not in ALLOWED[one.part]:
                    wrong.append(str(one))
            elif root in OUTSIDE:
                places = OUTSIDE[root]
                if one.part not in places and not any(fnmatch(one.path, at) for at in places):
                    wrong.append(str(one))
            elif root not in sys.stdlib_module_names and root != "__future__":
                wrong.append(f"{one}, which the project does not depend on")
    return wrong


def prints(modules: Mapping[str, str]) -> list[str]:
    """Return every place below the reports that writes to the terminal or reads a clock."""
    wrong = []
    for path, text in modules.items():
        if part_of(path) in MAY_PRINT:
            continue
        imported = {one.name for one in imports(path, text)}
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Call):
                name = ast.unparse(node.func)
                if name in ("print", "input", "breakpoint") or name.startswith(
                    ("sys.stdout", "sys.stderr", "logging.", "warnings.warn")
                ):
                    wrong.append(f"{path}:{node.lineno} calls {name}")
                if name.endswith(_CLOCKS) and name.split(".")[0] in ("datetime", "date", "time"):
                    wrong.append(f"{path}:{node.lineno} reads the clock: {name}")
                if name.startswith("random.") and "random" in imported:
                    wrong.append(f"{path}:{node.lineno} draws at random: {name}")
    return wrong


def long_modules(modules: Mapping[str, str]) -> list[str]:
    """Return every module of more lines than one may have."""
    return [
        f"{path} has {count} lines"
        for path, text in modules.items()
        if (count := text.count("\n")) > MAX_LINES
    ]


def test_every_part_has_its_place() -> None:
    """A new part of the package must be given a place among the layers."""
    assert {part_of(path) for path in sources(PACKAGE)} <= set(ALLOWED)


def test_layers_have_no_circle() -> None:
    """What a part may import may never import it back."""
    for part, allowed in ALLOWED.items():
        for other in allowed:
            assert part not in ALLOWED[other], (part, other)


def test_imports_keep_to_the_layers() -> None:
    """No module imports a layer above its own, nor a package outside its place."""
    assert wrong_imports(sources(PACKAGE)) == []


def test_nothing_below_the_reports_prints() -> None:
    """Only reports and commands write to the terminal; only they read the clock or draw."""
    assert prints(sources(PACKAGE)) == []


def test_modules_are_short() -> None:
    """No module is longer than 400 lines."""
    assert long_modules(sources(PACKAGE)) == []


SEEDED = [
    ("physics/x.py", "from trubshoot.batch import Batch"),
    ("batch/x.py", "from trubshoot.knowledge_base import KnowledgeBase"),
    (
        "knowledge_base/x.py",
        "from typing import TYPE_CHECKING as T\nif T:\n    from trubshoot.batch import Batch",
    ),
    ("safety/x.py", "def f():\n    from trubshoot.diagnosis.result import Diagnosis"),
    ("safety/x.py", "from ..rules import conditions"),
    ("safety/x.py", "import trubshoot.evidence.model"),
    ("rules/x.py", "from trubshoot import evidence"),
    ("rules/x.py", "from trubshoot import batch as b"),
    ("rules/oracle.py", "from durable import engine"),
    ("rules/x.py", "import importlib\nimportlib.import_module('durable.engine')"),
    ("rules/x.py", "__import__('durable_rules_engine')"),
    ("report/x.py", "import urllib.request"),
    ("cli/x.py", "def f():\n    import socket"),
    ("web/pages.py", "import smtplib"),
    ("diagnosis/x.py", "import rich"),
    ("cli/x.py", "from jinja2 import Environment"),
    ("report/result_json.py", "from rich.table import Table"),
    ("report/x.py", "import typer"),
    ("batch/x.py", "import yaml"),
    ("evidence/x.py", "from pydantic import BaseModel"),
    ("evidence/x.py", "import numpy as np"),
    ("diagnosis/x.py", "from trubshoot.report import terminal"),
    ("report/x.py", "from trubshoot.cli.app import main"),
    ("errors.py", "from trubshoot import units"),
    ("physics/x.py", "import scipy"),
    ("newpart/x.py", "from trubshoot import errors"),
    ("diagnosis/x.py", "from trubshoot.interview import Interview"),
    ("interview/x.py", "from trubshoot.report import terminal"),
    ("web/x.py", "from trubshoot.cli.session import diagnostician"),
    ("web/app.py", "import uvicorn"),
    ("cli/web.py", "from starlette.requests import Request"),
]


@pytest.mark.parametrize(("path", "text"), SEEDED, ids=[f"{a}: {b[-40:]}" for a, b in SEEDED])
def test_seeded_violation_is_found(path: str, text: str) -> None:
    """Each forbidden import is found wherever in the module it stands."""
    assert len(wrong_imports({path: text})) == 1


@pytest.mark.parametrize(
    ("path", "text"),
    [
        ("rules/x.py", "from trubshoot.knowledge_base.schema import RuleSpec"),
        ("rules/durable_engine.py", "from durable import engine"),
        ("report/terminal.py", "from rich.table import Table"),
        ("cli/x.py", "import typer, rich"),
        ("physics/x.py", "def f():\n    import numpy as np"),
        ("safety/hazards.py", "from trubshoot.safety.levels import Level"),
        ("knowledge_base/x.py", "from trubshoot import __version__"),
        ("batch/x.py", "from . import model"),
    ],
)
def test_allowed_import_is_left_alone(path: str, text: str) -> None:
    """What the layers allow is not reported."""
    assert wrong_imports({path: text}) == []


@pytest.mark.parametrize(
    "text",
    [
        "print('x')",
        "import sys\nsys.stdout.write('x')",
        "import logging\nlogging.info('x')",
        "from datetime import datetime\ndatetime.now()",
        "import time\ntime.time()",
        "import random\nrandom.random()",
    ],
)
def test_seeded_printing_is_found(text: str) -> None:
    """Printing, the clock and unfixed chance below the reports are found; above they may be."""
    assert len(prints({"diagnosis/x.py": text})) == 1
    assert prints({"cli/x.py": text}) == []


def test_seeded_long_module_is_found() -> None:
    """A module of 401 lines is too long, one of 400 is not."""
    assert long_modules({"a.py": "x = 1\n" * 401}) == ["a.py has 401 lines"]
    assert long_modules({"a.py": "x = 1\n" * 400}) == []
