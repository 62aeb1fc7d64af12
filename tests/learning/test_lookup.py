"""Names lead to what they name, however they are written."""

from __future__ import annotations

import pytest
from tests.learning.support import library

from trubshoot.learning.lookup import KINDS, Named, plain_name


def test_every_step_cause_and_finding_is_reached_by_label_and_id() -> None:
    """A label or an id, in capitals too, leads to that one thing and no other."""
    lost = []
    knowledge = library().knowledge
    for kind, table in (
        ("step", knowledge.steps),
        ("cause", knowledge.causes),
        ("finding", knowledge.findings),
    ):
        for key, entry in table.items():
            for text in (key, entry.label, entry.label.upper(), key.replace("_", " ")):
                one = library().index.find(text).one
                if one is None or (one.kind, one.id) != (kind, key):
                    lost.append((text, one))
    assert lost == []


def test_every_alias_and_term_leads_to_its_thing() -> None:
    """A by-name leads to its thing, or to a list with it; only a thing's own name goes before."""
    lost = []
    index = library().index
    own = {
        plain_name(text)
        for kind in ("step", "cause", "finding")
        for (its_kind, key), thing in index.things.items()
        if its_kind == kind
        for text in (key, thing.label, thing.label.split(" (")[0])
    }
    knowledge = library().knowledge
    named = [(index.things["step", key], step.aliases) for key, step in knowledge.steps.items()]
    named += [
        (index.things["finding", key], (finding.term, *finding.aliases))
        for key, finding in knowledge.findings.items()
    ]
    for thing, texts in named:
        for text in texts:
            if text and plain_name(text) not in own:
                meant = index.find(text).meant
                if thing not in meant:
                    lost.append((text, meant))
    assert lost == []


@pytest.mark.parametrize(
    ("text", "kind", "key"),
    [
        ("it tastes of green apples", "finding", "green_apple"),
        ("every botle gushes", "finding", "gusher_all"),
        ("diacetly", "finding", "butter_popcorn"),
        ("packagd too erly", "cause", "packaged_too_early"),
        ("Bottling", "step", "packaging"),
        ("infection", "step", "sanitation"),
        ("cause sugar left out", "cause", "priming_forgotten"),
        ("hazard mould", "hazard", "mould"),
        ("fault sour", "finding", "sour_tart"),
        ("no hydrometer", "circumstance", "no_hydrometer"),
        ("source bottle_safety", "source", "bottle_safety"),
    ],
)
def test_phrases_misspellings_and_kinds(text: str, kind: str, key: str) -> None:
    """Whole phrases, misspelt words and a kind in front lead to the right thing."""
    found = library().index.find(text)
    assert found.one is not None, found
    assert (found.one.kind, found.one.id) == (kind, key)


def test_what_is_meant_in_several_ways_is_a_list() -> None:
    """A word of two findings is never decided by itself."""
    meant = {thing.id for thing in library().index.find("sulphur").meant}
    assert {"egg_smell_fermenting", "rotten_egg"} <= meant
    assert library().index.find("my beer is sour and smells of plaster").one is None


@pytest.mark.parametrize("text", ["xyzzy plugh", "", "   ", "?!", "\u2603" * 40, "a" * 5000])
def test_nonsense_means_nothing(text: str) -> None:
    """What nothing is called leads nowhere, and never to an error."""
    assert library().index.find(text).meant == ()


def test_near_misses_name_the_nearest() -> None:
    """Where nothing fits, the nearest are told, with the by-name that is near, of no other kind."""
    found = library().index.find("sticking", ("step",))
    assert all(isinstance(name, str) for name in found.nearest)
    labels = {step.label for step in library().knowledge.steps.values()}
    assert "racking (Vessel and transfer)" in found.nearest
    assert {name.split(" (")[-1].rstrip(")") for name in found.nearest} <= labels


@pytest.mark.parametrize("text", ["xolventy paint", "botle", "sourish tang thing", "foamy pours"])
def test_the_nearest_are_few_and_each_named_once(text: str) -> None:
    """At most five names are offered, none twice, each of a thing that can be looked up."""
    index = library().index
    nearest = index._nearest(text, KINDS)
    assert 0 < len(nearest) <= 5
    assert len(set(nearest)) == len(nearest)
    labels = {thing.label for thing in index.things.values()}
    for name in nearest:  # a by-name stands before the label: "latex paint (Green apple ...)"
        assert name in labels or name.split(" (", 1)[1].removesuffix(")") in labels


def test_own_names_go_before_by_names() -> None:
    """The name of a cause means that cause, though a finding is called so too."""
    one = library().index.find("hop creep").one
    assert one == Named("cause", "hop_creep", library().knowledge.causes["hop_creep"].label)
