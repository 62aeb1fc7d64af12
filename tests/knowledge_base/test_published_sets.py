"""The knowledge against published sets: vocabulary, thresholds, handbook lists, doubted beliefs.

The sets stand in published_sets.yaml with the source of each.
"""

from __future__ import annotations

import io
import re
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
import yaml
from rich.console import Console
from tests.evidence.support import real_lexicon

from trubshoot.batch import read_batch
from trubshoot.diagnosis.diagnose import Diagnostician
from trubshoot.evidence.words import understand
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.report.result_json import diagnosis_json
from trubshoot.report.terminal import print_diagnosis

SETS: dict[str, Any] = yaml.safe_load(
    Path(__file__).with_name("published_sets.yaml").read_text("utf-8")
)
TERMS = [
    (str(term), finding, entry["name"])
    for entry in SETS["vocabularies"]
    for term, finding in entry["terms"].items()
]
CLASSES = [
    (entry["class"], term) for entry in SETS["wheel_classes"]["classes"] for term in entry["terms"]
]
LINES = [
    (entry["name"], entry["finding"], line, causes)
    for entry in SETS["cause_lists"]
    for line, causes in entry["lines"].items()
]
NOON = datetime(2026, 11, 25, 12)
BASIS = ("read", "from memory")


def read_as(term: str) -> set[str]:
    """Return the findings that a term leads to when it is said of bottled beer."""
    known, _ = understand(real_lexicon(), term, sense="tasted", stage="bottled")
    return {item.id for item in known if item.kind == "finding" and item.state == "present"}


def makers(knowledge: KnowledgeBase, finding: str, kinds: tuple[str, ...] = ("fault",)) -> set[str]:
    """Return the causes of these kinds that can make a finding."""
    return {
        cause.id
        for cause in knowledge.causes.values()
        if cause.kind in kinds and any(link.finding == finding for link in cause.links)
    }


def test_every_set_says_where_it_is_from(knowledge: KnowledgeBase) -> None:
    """Each set names a source of the knowledge, and whether it was read or is from memory."""
    entries = [*SETS["vocabularies"], *SETS["cause_lists"]]
    entries += [
        {**one, "source": SETS["wheel_classes"]["source"]}
        for one in SETS["wheel_classes"]["classes"]
    ]
    assert len(entries) >= 20
    for entry in entries:
        assert entry["source"] in {*knowledge.sources, "common practice", "from memory"}, entry
        assert entry["basis"] in BASIS, entry


@pytest.mark.parametrize(("term", "finding", "name"), TERMS)
def test_term_leads_to_its_finding(
    knowledge: KnowledgeBase, term: str, finding: str, name: str
) -> None:
    """A standard term is understood as it stands, and what it means has a fault behind it."""
    assert finding in read_as(term), name
    assert makers(knowledge, finding), f"{finding} has no cause"


def test_standard_words_stand_beside_the_plain_ones(knowledge: KnowledgeBase) -> None:
    """Each standard term of the dossier is one of the words of the `term` of a finding."""
    shown = " ".join(finding.term.lower() for finding in knowledge.findings.values())
    words = set(re.findall(r"[a-z-]+", shown))
    chosen = next(
        entry for entry in SETS["vocabularies"] if "chosen by the dossier" in entry["name"]
    )
    assert {term.lower() for term in chosen["terms"]} - words == set()


@pytest.mark.parametrize(("wheel_class", "term"), CLASSES)
def test_class_of_the_wheel_is_reachable(
    knowledge: KnowledgeBase, wheel_class: str, term: str
) -> None:
    """Every class of the wheel is reached by its own words, and ends at a fault."""
    found = read_as(term)
    assert found, wheel_class
    assert all(makers(knowledge, finding) for finding in found), wheel_class


def test_the_wheel_has_fourteen_classes() -> None:
    """None of the classes was left out."""
    numbers = [int(entry["class"].split()[0]) for entry in SETS["wheel_classes"]["classes"]]
    assert numbers == list(range(1, 15))


@pytest.mark.parametrize("word", ["infected", "twang", "skunky", "cidery", "homebrewy", "funky"])
def test_words_that_are_no_standard_terms(knowledge: KnowledgeBase, word: str) -> None:
    """Popular words are never shown as a standard term, and "infected" is no finding at all."""
    assert word not in {finding.term for finding in knowledge.findings.values()}
    assert not any("infected" in finding.label.lower() for finding in knowledge.findings.values())


@pytest.mark.parametrize("finding", sorted(SETS["thresholds"]))
def test_threshold_has_its_range_and_source(knowledge: KnowledgeBase, finding: str) -> None:
    """A threshold is stated with its range, and with the publication or with "from memory"."""
    text = knowledge.findings[finding].threshold
    wanted = SETS["thresholds"][finding]
    for number in wanted["numbers"]:
        assert re.search(rf"(?<![\d.]){re.escape(number)}(?![\d])", text), (number, text)
    for source in wanted["sources"]:
        assert source in text
        assert source == "from memory" or source in knowledge.sources


def test_no_threshold_without_source(knowledge: KnowledgeBase) -> None:
    """A number with a unit of concentration never stands in a threshold without its source."""
    amount = re.compile(r"\d ?(?:mg|ug|ng)/L")
    found = 0
    for finding in knowledge.findings.values():
        if amount.search(finding.threshold):
            named = [key for key in knowledge.sources if key in finding.threshold]
            assert named or "from memory" in finding.threshold, finding.id
            found += 1
    assert found >= 20


@pytest.mark.parametrize(("name", "finding", "line", "causes"), LINES)
def test_handbook_line_has_its_causes(
    knowledge: KnowledgeBase, name: str, finding: str, line: str, causes: list[str]
) -> None:
    """Each line of a published list has its causes here, and they can make the finding."""
    able = makers(knowledge, finding, ("fault", "measurement", "normal"))
    assert set(causes) <= able, f"{name}: {line}"


@pytest.mark.parametrize("belief", sorted(SETS["beliefs"]))
def test_doubted_belief_is_marked(knowledge: KnowledgeBase, belief: str) -> None:
    """What published work doubts is marked as often said and doubtful, with its source."""
    entry = SETS["beliefs"][belief]
    if "cause" in entry:
        holder: Any = knowledge.causes[entry["cause"]]
    else:
        holder = knowledge.findings[entry["finding"]]
    assert holder.doubt.startswith("Often said, doubtful")
    for source in entry["sources"]:
        assert source in holder.doubt
        assert source == "from memory" or source in knowledge.sources


def test_every_doubt_is_one_of_the_beliefs(knowledge: KnowledgeBase) -> None:
    """Nothing is marked as doubtful without standing in the list with its source."""
    marked = {c.id for c in knowledge.causes.values() if c.doubt}
    marked |= {f.id for f in knowledge.findings.values() if f.doubt}
    listed = {entry.get("cause") or entry["finding"] for entry in SETS["beliefs"].values()}
    assert marked == listed


@pytest.mark.parametrize("word", SETS["never_causes"])
def test_what_is_no_cause(knowledge: KnowledgeBase, word: str) -> None:
    """Re-chilling, rehydration and methanol are answered as beliefs and are not causes."""
    assert not any(
        word in cause.id or word in cause.label.lower() for cause in knowledge.causes.values()
    )


@pytest.mark.parametrize(
    ("cause", "finding", "below"),
    [
        ("hot_side_aeration", "cardboard_stale", 0.1),
        ("bag_squeezing", "astringent_drying", 0.1),
        ("slow_chilling", "cooked_corn", 0.1),
        ("high_sugar_recipe", "cidery", 0.25),
        ("underpitched", "butter_popcorn", 0.15),
        ("underpitched", "banana_fruity", 0.15),
        ("weak_or_covered_boil", "cooked_corn", 0.45),
        ("fermented_too_warm", "banana_fruity", 0.45),
    ],
)
def test_doubted_links_are_weak(
    knowledge: KnowledgeBase, cause: str, finding: str, below: float
) -> None:
    """A doubted belief may not weigh as much as what is well shown (dossier, section 5)."""
    strength = {link.finding: link.strength for link in knowledge.causes[cause].links}
    assert strength[finding] <= below


@pytest.mark.parametrize(
    ("said", "sense", "finding"),
    [
        ("egg smell from the fermenter", "smelled", "egg_smell_fermenting"),
        ("no bubbles in the airlock", "saw", "no_airlock_bubbles_day_2"),
        ("bubbles after two weeks", "saw", "bubbles_after_two_weeks"),
    ],
)
def test_doubt_is_shown(diagnostician: Diagnostician, said: str, sense: str, finding: str) -> None:
    """On the page and in JSON a doubted belief stands with the finding that it is told of."""
    day = {"no_airlock_bubbles_day_2": "2026-11-22", "bubbles_after_two_weeks": "2026-11-05"}
    pitched = day.get(finding, "2026-11-20")
    batch = read_batch(f"batch: x\nlog:\n  - at: {pitched}\n    did: pitched\n")
    diagnosis = diagnostician.diagnose(batch, NOON, [(sense, said)])
    labels = {name: entry.label for name, entry in diagnostician.knowledge.findings.items()}
    doubt = diagnostician.knowledge.findings[finding].doubt
    out = io.StringIO()
    print_diagnosis(Console(file=out, width=400), diagnosis, labels, "metric", why=False)
    assert doubt in out.getvalue()
    plain = {entry["id"]: entry["doubt"] for entry in diagnosis_json(diagnosis, labels)["findings"]}
    assert plain[finding] == doubt
    assert diagnostician.diagnose(batch, NOON).doubts.get(finding) is None
