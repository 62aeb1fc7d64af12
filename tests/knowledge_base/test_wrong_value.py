"""What does not fit the format is told in words that somebody who never programs can act on."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from trubshoot.errors import Problem
from trubshoot.knowledge_base.loader import build, parse
from trubshoot.knowledge_base.wrong_value import nearest

KNOWLEDGE = Path(__file__).resolve().parents[2] / "knowledge"
CAUSE, FINDING, RULE = "causes/hop_creep.yaml", "findings/vinegar.yaml", "rules/full_boil.yaml"
SHARE = "Write a share above 0 and below 1 with a point: 0.03 for 3 of 100."


def problem_of(path: str, pattern: str, new: str) -> tuple[Problem, str]:
    """Return the only problem of a file with one line changed, and the line where it says it is."""
    text, count = re.subn(
        pattern, new, (KNOWLEDGE / path).read_text("utf-8"), count=1, flags=re.MULTILINE
    )
    assert count == 1, pattern
    plain, raw, problems = parse({path: text.encode()})
    if not problems:
        problems = build(plain, "0" * 12, raw)[1]
    (problem,) = problems
    assert problem.path == path
    return problem, text.splitlines()[problem.line - 1]


@pytest.mark.parametrize(
    ("path", "pattern", "new", "says", "mend"),
    [
        (
            CAUSE,
            "^step:",
            "mechanisim: x\nstep:",
            "unknown key 'mechanisim'.",
            "Did you mean 'mech",
        ),
        (
            CAUSE,
            "^  fermenting:",
            "  conditioning:",
            "unknown key 'conditioning'.",
            "Use one of: brew",
        ),
        (RULE, "gte: 0.95", "'>': 0.95, eq: 1", "unknown key '>'.", "Use one of: fact, is, in, gt"),
        (CAUSE, "^prior: .*", "prior: 3 %", "prior: '3 %' is not a number.", SHARE),
        (CAUSE, "^prior: .*", "prior: 0,03", "prior: '0,03' is not a number.", SHARE),
        (CAUSE, "^prior: .*", "prior: 30", "prior: 30 is not below 1.", SHARE),
        (
            CAUSE,
            "strength: 0.8}",
            "strength: often}",
            "links.strength: 'often' is not a num",
            SHARE,
        ),
        (FINDING, "^leak: .*", "leak: 0", "leak: 0 is not above 0.", SHARE),
        (FINDING, "minutes: .*", "minutes: 5 min", "'5 min' is not a number.", "without a unit"),
        (CAUSE, r"^sources: \[.*", "sources: from memory", "a list is needed", "[from memory]"),
        (CAUSE, "^step: .*", "step: Dry hopping", "'Dry hopping' is not an id.", "small letters"),
        (CAUSE, "^kind: .*", "kind: bad", "kind: 'bad' is no word", "fault, normal, measurement."),
        (
            CAUSE,
            "action: wait",
            "action: weight",
            "action: 'weight' is no word",
            "wait, taste, warm",
        ),
        (FINDING, "means: true", "means: maybe", "'maybe' is neither true nor", "true or false"),
        (CAUSE, "^label: .*", "label: 5", "label: a text is needed, not 5.", "quotation marks"),
        (CAUSE, r"^stop:\n(?: .*\n)+", "stop: never\n", "keys are needed, not 'never'.", "bottled"),
        (RULE, "is: present", "is: yes", "'yes' is no word for it", "present, absent, unknown"),
    ],
)
def test_what_does_not_fit_is_told_with_its_mend(
    path: str, pattern: str, new: str, says: str, mend: str
) -> None:
    """The message repeats what was written, names its line, and says what to write."""
    problem, line = problem_of(path, pattern, new)
    assert says in problem.message
    assert mend in problem.mend
    assert new.splitlines()[0].split(",")[0] in line
    assert "Input should" not in str(problem)


def test_nearest() -> None:
    """The nearest name, or all when they are few, and where a new one belongs."""
    assert nearest("boyl", ["boil", "chill"]) == "Did you mean 'boil'?"
    assert nearest("Boil", ["boil", "chill"]) == "Did you mean 'boil'?"
    assert nearest("zzz", ["boil", "chill"]) == "Use one of: boil, chill."
    assert nearest("zzz", ["boil"], "steps.yaml").endswith("If it is new, add it to steps.yaml.")
    assert nearest("zzz", [f"a{number}" for number in range(99)]) == "Correct the spelling."
