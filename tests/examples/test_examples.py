"""Every shipped example gives its answer, through the library and through the command line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from tests.examples.support import EXAMPLES, diagnose_text, example

from trubshoot.cli.app import main
from trubshoot.diagnosis import Diagnostician
from trubshoot.knowledge_base import KnowledgeBase

ANSWERS: dict[str, dict[str, Any]] = yaml.safe_load(
    (Path(__file__).parent / "answers.yaml").read_text("utf-8")
)
NAMES = sorted(ANSWERS)


def test_every_example_has_an_answer() -> None:
    """No example is shipped without the answer it must give, and no answer without its example."""
    assert {path.stem for path in EXAMPLES.glob("*.yaml")} == set(ANSWERS)


@pytest.mark.parametrize("name", NAMES)
def test_example_says_that_it_is_invented(name: str) -> None:
    """The first line of every example says that the batch is invented."""
    first = example(name).read_text("utf-8").splitlines()[0]
    assert first == "# Invented example: the Lantern Street cellar. Nobody brewed this beer."


@pytest.mark.parametrize("name", NAMES)
def test_example_gives_its_answer(
    name: str, diagnostician: Diagnostician, knowledge: KnowledgeBase
) -> None:
    """First cause, its step, stage, hazards and level are those written down beside the example."""
    answer = ANSWERS[name]
    text = example(name).read_text("utf-8")
    diagnosis = diagnose_text(diagnostician, text, str(answer["at"]))
    named = [cause.id for cause in diagnosis.named_causes]
    assert diagnosis.evidence.stage == answer["stage"]
    assert diagnosis.level.name == answer["level"]
    assert set(answer["hazards"]) <= {block.id for block in diagnosis.hazards}
    if answer["first"] == "none":
        assert named == []
    else:
        assert named[0] == answer["first"]
        assert diagnosis.named_causes[0].responsibility >= answer["at_least"]
        assert diagnosis.named_causes[0].step == answer["step"]
    assert set(answer["never"]) <= set(knowledge.causes)
    assert not set(answer["never"]) & set(named)
    assert diagnosis.evidence.not_understood == ()
    assert diagnosis.faults == ()


@pytest.mark.parametrize("name", NAMES)
def test_example_on_the_command_line(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The command ends with the exit code of the hazard level and its JSON gives the answer."""
    answer = ANSWERS[name]
    arguments = ["diagnose", str(example(name)), "--at", str(answer["at"]), "--format", "json"]
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    told = json.loads(capsys.readouterr().out)
    assert ended.value.code == answer["exit"]
    assert told["level"] == answer["level"]
    first = [cause["id"] for cause in told["causes"] if cause["responsibility"] >= 0.05][:1]
    assert first == ([] if answer["first"] == "none" else [answer["first"]])
