"""The documentation says what is so: links, commands, output, layers, examples in it."""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
import tomllib
from datetime import datetime
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import typer.main
from tests import generate_reference as generator
from tests.test_layers import ALLOWED

from trubshoot.batch import read_batch
from trubshoot.cli.app import app, main
from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.network import Base, FindingState, make_case
from trubshoot.diagnosis.noisy_or import DECIBANS, Network, Told, explain, rank
from trubshoot.errors import OutOfRangeError
from trubshoot.evidence.words import Lexicon, understand
from trubshoot.knowledge_base.checks import check_to_load
from trubshoot.knowledge_base.loader import KnowledgeBase, read_all
from trubshoot.lint import lint
from trubshoot.physics import gravity
from trubshoot.rules import Fact, compile_specs
from trubshoot.rules.oracle import OracleEngine

ROOT = Path(__file__).resolve().parents[1]
SOURCE = ROOT / "src" / "trubshoot"
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]
NAMES = [str(page.relative_to(ROOT)) for page in PAGES]
FENCED = re.compile(r"^```(\w*)\n(.*?)^```", flags=re.DOTALL | re.MULTILINE)
LINK = re.compile(r"(?<!!)\[[^\]]*\]\(([^)\s]+)\)")
FORBIDDEN = [
    r"\btran" r"scripts?\b",
    r"\bvid" r"eos?\b",
    r"\bthe se" r"ed\b",
    r"\b(safe|harmless|fine) to drink\b",
    r"\b(beer|bottles?) (is|are) (safe|harmless|fine)\b",
    r"(?<![\w.~])/(work|tmp|root|home|Users|opt)/",
    r"\bTO" r"DO\b",
]


def _text(name: str) -> str:
    return (ROOT / name).read_text("utf-8")


@cache
def _anchors(page: Path) -> set[str]:
    """Return the anchors of the headings of a page, as the usual renderers make them."""
    prose = FENCED.sub("", page.read_text("utf-8"))
    heads = re.findall(r"^#+ (.+)$", prose, flags=re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", head.lower()).strip().replace(" ", "-") for head in heads}


@pytest.mark.parametrize("name", NAMES)
def test_relative_links_lead_somewhere(name: str) -> None:
    """Every relative link names a file that exists, and every anchor a heading in it."""
    page, broken = ROOT / name, []
    for target in LINK.findall(FENCED.sub("", _text(name))):
        if target.startswith(("http:", "https:", "mailto:")):
            continue
        path, _, anchor = target.partition("#")
        there = (page.parent / path).resolve() if path else page
        missing = not there.exists() or ROOT not in (there, *there.parents)
        if missing or (anchor and anchor not in _anchors(there)):
            broken.append(target)
    assert broken == []


def test_the_readme_leads_to_every_page() -> None:
    """Nobody finds a page that stands in no list: the README names each, and none twice."""
    section = _text("README.md").split("## Where things are", 1)[1].split("\n## ", 1)[0]
    for part in section.split("\n- "):
        assert len(LINK.findall(part)) == len(set(LINK.findall(part))), part[:60]
    listed = LINK.findall(section)
    tutorial = "docs/tutorial/"  # its first page leads to the others
    pages = {name for name in NAMES if name.startswith("docs/") and not name.startswith(tutorial)}
    assert pages - set(listed) == set()


@pytest.mark.parametrize("name", NAMES)
def test_no_forbidden_words(name: str) -> None:
    """No page promises that a beer may be drunk, names a path of one machine, or a banned word."""
    found = [
        match[0]
        for pattern in FORBIDDEN
        for match in re.finditer(pattern, _text(name), flags=re.IGNORECASE)
    ]
    assert found == []


def test_the_forbidden_words_would_be_found() -> None:
    """Each pattern finds what it is for."""
    words = "a tran|script/a vid|eo/the se|ed".replace("|", "").split("/")
    samples = "|".join([*words, "safe to drink", "beer is harmless", "in /tmp/x", "TO" + "DO"])
    for pattern, sample in zip(FORBIDDEN, samples.split("|"), strict=True):
        assert re.search(pattern, sample, flags=re.IGNORECASE), pattern


def _command_lines(name: str) -> list[str]:
    """Return the commands in the fenced blocks of a page, one by one."""
    lines = []
    for language, body in FENCED.findall(_text(name)):
        for line in body.replace("\\\n", " ").splitlines():
            if language == "console" and not line.startswith("$ "):
                continue
            if language in ("sh", "bash", "console"):
                lines += [part.strip() for part in line.removeprefix("$ ").split(" && ")]
    return lines


def _commands(program: str) -> list[tuple[str, str]]:
    found = []
    for name in NAMES:
        for line in _command_lines(name):
            bare = line.removeprefix(".venv/bin/")
            if bare.split(" ")[0] == program:
                found.append((name, bare))
    return list(dict.fromkeys(found))


@pytest.mark.parametrize(("page", "command"), _commands("trubshoot"))
def test_commands_in_the_pages_run(
    page: str, command: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A command on a shipped example really runs; any other one is at least understood."""
    monkeypatch.chdir(ROOT)
    arguments = shlex.split(command, comments=True)[1:]
    files = [word for word in arguments if word.endswith((".yaml", ".csv"))]
    real = all(word.startswith("docs/") for word in files) and not re.search(
        r"\b[A-Z]{3,}\b|[<>|]", command
    )
    with pytest.raises(SystemExit) as ended:
        main(arguments if real else [*arguments, "--help"])
    told = capsys.readouterr()
    assert ended.value.code in ((0, 3, None) if real else (0, None)), told.err


def test_readme_names_every_command() -> None:
    """Every command and sub-command of the program stands in the README's table."""
    group: Any = typer.main.get_command(app)
    names = []
    for name, command in group.commands.items():
        inner = getattr(command, "commands", {})
        names += [f"{name} {part}" for part in inner] or [name]
    assert len(names) > 3
    missing = [name for name in names if f"| `trubshoot {name}" not in _text("README.md")]
    assert missing == []


def test_commands_are_found() -> None:
    """The tests above look at something: the pages hold commands of both kinds."""
    commands = [command for _, command in _commands("trubshoot")]
    assert any("docs/examples/" in command for command in commands)
    assert len(commands) > 5


@pytest.mark.parametrize(("page", "command"), _commands("python"))
def test_modules_in_the_pages_exist(page: str, command: str) -> None:
    """Every `python -m MODULE` names a module that is there."""
    words = shlex.split(command)
    assert words[1] == "-m", command
    assert find_spec(words[2]) is not None
    for word in words[3:]:
        if word.startswith("tests/"):
            assert (ROOT / word).exists(), word


def test_generated_parts_are_fresh() -> None:
    """References and shown output are what the program says now."""
    assert generator.stale() == [], "run python -m tests.generate_reference"


def test_shown_output_is_found() -> None:
    """README and the walk-through hold output that is kept fresh."""
    for name, least in (("README.md", 3), ("docs/explanation/how_a_diagnosis_is_made.md", 6)):
        blocks = generator.SHOWN.findall(_text(name))
        assert len(blocks) >= least, name


def test_the_walk_through_has_no_hazard_to_show() -> None:
    """The page says that no hazard stands for its example: the answer begins with the batch."""
    commands = generator.SHOWN.findall(_text("docs/explanation/how_a_diagnosis_is_made.md"))
    plain = next(spec.split(" | ")[0] for spec in commands if "--why" not in spec)
    assert generator.output_of(plain).startswith("Lantern Street Porter No. 5\n")


def test_every_explained_key_exists() -> None:
    """tests/field_meanings.yaml explains no key that the schema does not have."""
    classes: dict[str, Any] = {}
    for _, entry in generator.layout():
        for part in (entry, *generator.parts_of(entry)):
            classes.update({owner.__name__: owner for owner in part.__mro__})
    for owner, keys in generator.MEANINGS.items():
        assert owner in classes, owner
        assert set(keys) <= set(generator.keys_of(classes[owner])), owner


def test_every_error_has_its_message() -> None:
    """Every slug has what to do, and nothing is said about a slug that is gone."""
    slugs = [entry.slug for entry in generator.error_classes()]
    assert sorted(slugs) == sorted(generator.ACTIONS)
    assert len(slugs) == len(set(slugs))


# --- layers


def _picture() -> list[list[str]]:
    section = _text("DEVELOPERS.md").split("## Layers", 1)[1]
    body = next(text for language, text in FENCED.findall(section) if language == "text")
    return [re.split(r" {5,}", line)[0].split() for line in body.strip().splitlines()]


def test_layers_are_as_pictured() -> None:
    """The picture in DEVELOPERS.md shows the layers there are, in the order that is enforced."""
    level = {name: number for number, line in enumerate(_picture()) for name in line}
    there = {path.relative_to(SOURCE).parts[0].removesuffix(".py") for path in SOURCE.rglob("*.py")}
    assert {name for name in there if not name.startswith("__")} == set(level)
    for name, number in level.items():
        for other in ALLOWED[name] & set(level):
            assert level[other] < number or level[other] == number == 0, f"{name} uses {other}"


def test_every_dependency_is_explained() -> None:
    """The page on dependencies names exactly the packages of pyproject.toml."""
    project = tomllib.loads(_text("pyproject.toml"))["project"]
    optional = project["optional-dependencies"]
    declared = [*project["dependencies"], *(one for extra in optional.values() for one in extra)]
    wanted = {re.split(r"[^\w-]", item)[0].lower() for item in declared}
    rows = re.findall(r"^\| ([\w, -]+) \|", _text("docs/explanation/dependencies.md"), re.MULTILINE)
    named = {word.lower() for row in rows for word in row.split(", ")} - {"package"}
    assert named == wanted


# --- what the guides tell a reader to type


PUT_BELOW = re.compile(
    r"<!-- below (\w+:) in (\S+) -->\n```yaml\n(.*?)^```", re.DOTALL | re.MULTILINE
)
PUT_AT_END = re.compile(
    r"<!-- at the end of (\S+) -->\n```yaml\n(.*?)^```", re.DOTALL | re.MULTILINE
)


@cache
def _guided_knowledge(target: Path) -> KnowledgeBase:
    """Return the knowledge after following the guides: the files they show, put in."""
    shutil.copytree(ROOT / "knowledge", target)
    pattern = re.compile(r"<!-- file: (\S+) -->\n```yaml\n(.*?)^```", re.DOTALL | re.MULTILINE)
    written = []
    for name in ("add_a_cause", "add_a_finding", "add_a_rule"):
        text = _text(f"docs/how_to/{name}.md")
        for key, path, body in PUT_BELOW.findall(text):
            old = (target / path).read_text("utf-8")
            assert old.count(f"\n{key}\n") == 1, (path, key)
            (target / path).write_text(old.replace(f"\n{key}\n", f"\n{key}\n{body}"), "utf-8")
        for path, body in PUT_AT_END.findall(text):
            with (target / path).open("a", encoding="utf-8") as file:
                file.write(body)
        for path, body in pattern.findall(text):
            assert not (target / path).exists(), f"{path} is there already"
            (target / path).write_text(body, encoding="utf-8")
            written.append(path)
    assert len(written) == 4
    knowledge, raw, problems = read_all(target)
    assert knowledge is not None, problems
    assert check_to_load(knowledge, raw) == []
    assert [str(remark) for remark in lint(knowledge, raw) if not remark.note] == []
    return knowledge


@pytest.fixture(scope="module")
def guided(tmp_path_factory: pytest.TempPathFactory) -> KnowledgeBase:
    """The knowledge with the cause, the finding and the rule of the guides."""
    return _guided_knowledge(tmp_path_factory.mktemp("guides") / "knowledge")


def test_the_cause_of_the_guide(guided: KnowledgeBase) -> None:
    """The cause that the guide shows passes its own examples."""
    cause = guided.causes["taste_before_tasting"]
    base = Base.of(guided)
    for example in cause.examples:
        states = [FindingState(name, 0.0, 1.0, "said") for name in example.present]
        states += [FindingState(name, 1.0, 0.0, "said") for name in example.absent]
        case = make_case(base, states, example.contexts)
        made = rank(case.network, case.told).responsibility
        place = sorted(range(len(made)), key=lambda row: -made[row]).index(
            case.causes.index(cause.id)
        )
        right = {"first": place == 0, "top3": place < 3, "not_top3": place > 2}[example.expect]
        assert right, (example.name, place)


@pytest.mark.parametrize("name", ["only_after_a_meal", "sugar_left_in_bucket"])
def test_the_findings_of_the_guides(name: str, guided: KnowledgeBase) -> None:
    """The findings that the guides show understand their own examples."""
    finding = guided.findings[name]
    lexicon = Lexicon.of(guided)
    for example in finding.examples:
        known, _ = understand(lexicon, example.words, sense="tasted", stage="bottled")
        assert (finding.id in {item.id for item in known}) is example.means, example.words


def test_the_rule_of_the_guide(guided: KnowledgeBase) -> None:
    """The rule that the guide shows passes its own tests."""
    spec = guided.rules["boiled_very_long"]
    engine = OracleEngine(compile_specs([spec]))
    for test in spec.tests:
        facts = {name: Fact.of(value) for name, value in test.facts.items()}
        assert bool(engine.run(facts).firings) is test.fires, test.name


def test_the_file_to_copy_is_there() -> None:
    """The file that the guide copies exists."""
    copied = [line.split() for line in _command_lines("docs/how_to/add_a_cause.md")]
    sources = [words[1] for words in copied if words[0] == "cp"]
    assert sources
    assert all((ROOT / source).is_file() for source in sources)


def test_the_circumstance_of_the_guide(guided: KnowledgeBase) -> None:
    """The circumstance that the guide shows is heard, and its cause reads it and the finding."""
    known, _ = understand(Lexicon.of(guided), "I tipped dry sugar into the cold beer")
    assert "dry_sugar_into_cold_beer" in {item.id for item in known}
    cause = guided.causes["priming_not_mixed"]
    assert "dry_sugar_into_cold_beer" in {modifier.when for modifier in cause.modifiers}
    assert "sugar_left_in_bucket" in {link.finding for link in cause.links}


def test_the_formula_of_the_guide(monkeypatch: pytest.MonkeyPatch) -> None:
    """The function and the tests that the guide shows work as they stand."""
    blocks = [
        body
        for language, body in FENCED.findall(_text("docs/how_to/add_a_formula.md"))
        if language == "python"
    ]
    assert len(blocks) == 2
    names: dict[str, Any] = {}
    exec(blocks[0], names)
    # the page puts the function into this module, from where its test takes it
    monkeypatch.setattr(gravity, "topped_up_points", names["topped_up_points"], raising=False)
    exec(blocks[1], names)
    assert names["topped_up_points"](80, 10, 10) == 40
    names["test_topped_up_points_balance_of_mass"]()
    for wrong in ((-1.0, 10.0, 1.0), (121.0, 10.0, 1.0), (50.0, 0.0, 1.0)):
        with pytest.raises(OutOfRangeError):
            names["topped_up_points"](*wrong)


def test_the_log_of_the_guide(tmp_path: Path, diagnostician: Diagnostician) -> None:
    """The log that the guide shows can be read without a complaint, and is diagnosed."""
    body = next(
        text
        for language, text in FENCED.findall(_text("docs/how_to/log_a_batch.md"))
        if language == "yaml"
    )
    file = tmp_path / "summer_bitter.yaml"
    file.write_text(body, encoding="utf-8")
    now = datetime(2026, 6, 9, 12)
    batch = read_batch(file, now)
    assert batch.warnings == ()
    diagnosis = diagnostician.diagnose(batch, now)
    assert diagnosis.evidence.not_understood == ()
    assert "no_airlock_bubbles_day_2" in {state.id for state in diagnosis.findings}


def test_the_example_of_the_ranking_page() -> None:
    """The figures on the page about the ranking are what the ranker gives."""
    page = _text("docs/explanation/noisy_or.md")
    network = Network(np.array([0.1, 0.3]), np.array([[0.8], [0.1]]), np.array([0.02]))
    told = Told((), (0,), (0.0,), (1.0,))
    ranking = rank(network, told)
    rows = [
        (f"| {name} | {100 * there:.0f} % | {100 * made:.0f} % |")
        for name, there, made in zip("AB", ranking.posterior, ranking.responsibility, strict=True)
    ]
    rows.append(f"| none of these | | {100 * ranking.none_of_these:.0f} % |")
    for row in rows:
        assert row in page
    weights = explain(network, told, [0])[0]
    assert f"{weights.prior:.1f} dB" in page
    assert f"+{weights.shares[0]:.1f} dB" in page
    assert f"+{weights.posterior:.1f}\ndB" in page
    assert weights.posterior == pytest.approx(
        DECIBANS * float(np.log(ranking.posterior[0] / (1 - ranking.posterior[0])))
    )


def test_changelog_names_the_version() -> None:
    """The newest version in the changelog is the program's."""
    from trubshoot import __version__

    newest = re.search(r"^## (\S+?),? ", _text("docs/changelog.md"), flags=re.MULTILINE)
    assert newest is not None
    assert newest[1] == __version__


def test_generator_refuses_what_the_program_does_not_say() -> None:
    """A limit that is not in the output is an error, not an empty block."""
    with pytest.raises(AssertionError, match="not in the output"):
        generator.shown("trubshoot knowledge check | from ^never printed")


def test_check_mode_names_stale_pages() -> None:
    """`--check` runs from the command line and ends with 0 on fresh pages."""
    ended = subprocess.run(
        [sys.executable, "-m", "tests.generate_reference", "--check"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ended.returncode == 0, ended.stdout
