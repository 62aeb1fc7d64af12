"""Docstrings of what is public: meaning, errors, and for numbers their unit and their source.

What can be checked is checked: that a docstring is there, names every error that the function
itself raises, and, where quantities go in or out, says in which unit and on whose word.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

SOURCE = Path(__file__).resolve().parents[1] / "src" / "trubshoot"
# where quantities of the trade go in and out; beyond them numbers are places in a drawing or texts
QUANTITIES = ("units.py", "physics", "batch", "evidence", "diagnosis", "learning", "interview")
NUMBER = re.compile(r"\bfloat\b|\bArray\b")
UNIT = re.compile(
    r"\[[^\]]+\]|deg |_[clg]\b|_bar|_ml|%|\bunits?\b|\b(?:bar|vols|volumes?|points?|days?|hours?"
    r"|min|minutes?|litres?|grams?|gravity|sg|og|fg|plato|pH|chances?|odds|probabilit\w+|shares?"
    r"|fraction|factor|ratio|bits|decibans|cosine|entropy|priors?|questions?|cells|strengths?)\b"
)
REFERENCE = re.compile(r"\b(?:References|Source): ")
# another function that says it: "as sealed_bottle", "see expected_final_gravity"
INHERITED = re.compile(r"\b(?:[Aa]s|see|of|Return)\s+([a-z0-9]+_[a-z0-9_]+)\b")
# the way out of a command with its exit code, which docs/reference/commands.md lists
NOT_AN_ERROR = {"typer.Exit"}
NO_FORMULA = "physics/limits.py"  # it only refuses what lies outside a range, in any unit


@dataclass(frozen=True)
class Public:
    """A public function or method, and where it stands."""

    name: str
    node: ast.FunctionDef | ast.AsyncFunctionDef

    @property
    def said(self) -> str:
        """Return the docstring."""
        return ast.get_docstring(self.node) or ""

    @property
    def numbers(self) -> list[str]:
        """Return the names of the parameters that are numbers, and "" for a number returned."""
        arguments = self.node.args
        every = [*arguments.posonlyargs, *arguments.args, *arguments.kwonlyargs]
        found = [one.arg for one in every if one.annotation and _is_number(one.annotation)]
        return found + ([""] if self.node.returns and _is_number(self.node.returns) else [])

    @property
    def raised(self) -> set[str]:
        """Return the errors that its own lines raise, those of functions inside it left out.

        What a command of the command line says in its docstring is its help; its errors are shown.
        An error made elsewhere and raised here by a variable counts as "Raises".
        """
        if any(".command(" in ast.unparse(one) for one in self.node.decorator_list):
            return set()
        todo: list[tuple[ast.AST, str]] = [(node, "") for node in self.node.body]
        found = set()
        while todo:
            node, caught = todo.pop()
            if isinstance(node, ast.Raise) and node.exc is not None:
                what = node.exc.func if isinstance(node.exc, ast.Call) else node.exc
                name = ast.unparse(what)
                made_elsewhere = name.rpartition(".")[2].lstrip("_")[0].islower()
                if re.search(rf"\b{re.escape(name)}\b", caught) is None:
                    found.add("Raises" if made_elsewhere else name)
            inside = (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda)
            for child in () if isinstance(node, inside) else ast.iter_child_nodes(node):
                here = isinstance(node, ast.Try) and child in node.body
                todo.append((child, caught + _handled(node) if here else caught))
        return found - NOT_AN_ERROR


def _handled(node: ast.Try) -> str:
    """Return the errors that the handlers of a `try` catch, as they are written there."""
    return " ".join(ast.unparse(one.type) for one in node.handlers if one.type is not None)


def _is_number(annotation: ast.expr) -> bool:
    text = ast.unparse(annotation)
    return NUMBER.search(text) is not None and "Callable" not in text


def public(body: list[ast.stmt], prefix: str) -> Iterator[Public]:
    """Yield the public functions and methods among some statements."""
    for node in body:
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef)):
            if node.name.startswith("_"):
                continue
            if isinstance(node, ast.ClassDef):
                yield from public(node.body, f"{prefix}{node.name}.")
            else:
                yield Public(prefix + node.name, node)


def functions(*places: str) -> dict[str, Public]:
    """Return the public functions of some files and folders by file and name."""
    files = [file for place in places for file in _files(SOURCE / place)]
    found = {}
    for file in files:
        for one in public(ast.parse(file.read_text("utf-8")).body, ""):
            found[f"{file.relative_to(SOURCE).as_posix()}: {one.name}"] = one
    return found


def _files(place: Path) -> list[Path]:
    return sorted(place.rglob("*.py")) if place.is_dir() else [place]


def without_docstring(found: dict[str, Public]) -> list[str]:
    """Return what has none."""
    return [place for place, one in found.items() if not one.said]


def silent_on_errors(found: dict[str, Public]) -> list[str]:
    """Return what raises an error that its docstring does not name."""
    return [
        f"{place}: {name}"
        for place, one in found.items()
        for name in sorted(one.raised)
        if re.search(rf"\b{re.escape(name)}\b", one.said) is None
    ]


def without_unit(found: dict[str, Public]) -> list[str]:
    """Return what takes or gives numbers and says neither in its names nor its text which unit."""
    return [
        place
        for place, one in found.items()
        if one.numbers
        and not place.startswith(NO_FORMULA)
        and not UNIT.search(" ".join((one.name, *one.numbers)).replace("_", " _"))
        and not UNIT.search(one.said)
    ]


def without_source(found: dict[str, Public]) -> list[str]:
    """Return what names no source, nor another function of the package that names one."""
    own = {one.name for one in found.values() if REFERENCE.search(one.said)}
    return [
        place
        for place, one in found.items()
        if not place.startswith(NO_FORMULA)
        and not REFERENCE.search(one.said)
        and not own & set(INHERITED.findall(one.said))
    ]


def test_every_public_function_has_a_docstring() -> None:
    """Functions and methods without an underscore say what they mean."""
    found = functions(".")
    assert len(found) > 500
    assert without_docstring(found) == []


def test_errors_raised_are_named() -> None:
    """Whoever calls a function reads in its docstring which errors its own lines raise."""
    assert silent_on_errors(functions(".")) == []


def test_numbers_have_a_unit() -> None:
    """Where quantities go in and out, the unit stands in the name or in the docstring."""
    assert without_unit(functions(*QUANTITIES)) == []


def test_formulas_have_a_source() -> None:
    """Every public function of physics says where its formula is from."""
    assert without_source(functions("physics")) == []


@pytest.mark.parametrize(
    ("check", "code"),
    [
        (without_docstring, "def f() -> None: ..."),
        (without_docstring, "class A:\n    'x'\n    def f(self) -> None: ..."),
        (silent_on_errors, "def f() -> None:\n    'Do it.'\n    raise ValueError('x')"),
        (silent_on_errors, "def f() -> None:\n    'Do it.'\n    if 1:\n        raise ValueError"),
        (without_unit, "def f(room: float) -> None: 'Warm it.'"),
        (without_unit, "def f() -> float: 'Tell it.'"),
        (without_source, "def f(sg: float) -> float: 'Return SG + 1.'"),
        (without_source, "def f(sg: float) -> float: 'As no_such_function.'"),
    ],
)
def test_the_checks_find_what_is_missing(check: object, code: str) -> None:
    """Each check finds a function made without what it asks for."""
    assert callable(check)
    found = {one.name: one for one in public(ast.parse(code).body, "")}
    assert check(found) != []
