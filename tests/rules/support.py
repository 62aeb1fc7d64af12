"""Small ways to write rules and to look at what they concluded; and a Python of one's own."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from trubshoot.knowledge_base.schema import Condition
from trubshoot.rules import Conclusions, Fact, Rule
from trubshoot.rules.conditions import compile_rule

ROOT = Path(__file__).resolve().parents[2]


def on(name: str, **tests: Any) -> Condition:
    """Return a condition; `is_` and `in_` stand for the words `is` and `in`."""
    words = {"is_": "is", "in_": "in"}
    return Condition(fact=name, **{words.get(key, key): value for key, value in tests.items()})


def there(name: str) -> Condition:
    """Return the condition that a fact is present."""
    return on(name, is_="present")


def rule(
    rule_id: str,
    conclusion: str,
    all_of: Iterable[Condition] = (),
    any_of: Iterable[Condition] = (),
    none_of: Iterable[Condition] = (),
) -> Rule:
    """Return a compiled rule."""
    return compile_rule(rule_id, all_of, any_of, none_of, conclusion)


def facts(**values: Any) -> dict[str, Fact]:
    """Return facts from plain values."""
    return {name: Fact.of(value) for name, value in values.items()}


def supports(conclusions: Conclusions) -> Mapping[str, set[tuple[str, ...]]]:
    """Return what fired and on what, in a form that can be compared."""
    return {firing.rule: set(firing.supports) for firing in conclusions.firings}


def in_own_python(
    code: str, timeout: float = 120, *, options: Iterable[str] = (), **environment: str
) -> str:
    """Run code in a Python of its own, since what it tries could end the process; return stdout."""
    path = os.pathsep.join([str(ROOT / "src"), str(ROOT)])
    done = subprocess.run(
        [sys.executable, "-X", "faulthandler", *options, "-c", code],
        capture_output=True,
        text=True,
        timeout=timeout,
        check=False,
        env={**os.environ, "PYTHONPATH": path, **environment},
        cwd=ROOT,
    )
    assert done.returncode == 0, f"exit {done.returncode}\n{done.stderr[-3000:]}"
    return done.stdout
