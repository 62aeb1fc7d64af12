"""Scans over the texts a brewer may read; every scan is shown to catch a planted fault."""

import re

import pytest
from tests.safety import scans
from tests.safety.knowledge_files import (
    KNOWLEDGE,
    Hazard,
    cause_advice,
    hazards,
    knowledge_texts,
    read,
)

PRESSURE_FINDINGS = {
    "bottle_burst",
    "gusher_all",
    "gusher_some",
    "pours_all_foam",
    "test_bottle_rock_hard",
    "fizz_rises_for_months",
}


def offenders(scan, texts):
    """Return (place, sentence) for every text a scan objects to."""
    return [(text.place, found) for text in texts for found in scan(text.text)]


def in_hazards(scan, texts=Hazard.texts, only=lambda spec: True):
    """Return (hazard, sentence) for every hazard text a scan objects to."""
    return [
        (spec.id, found)
        for spec in hazards().values()
        if only(spec)
        for text in texts(spec)
        for found in scan(text)
    ]


def words(text):
    """Return the words of a text in lower case."""
    return set(re.findall(r"[a-z]+", text.lower()))


def pressure_causes():
    """Return the files of causes that can show as pressure in the bottle."""
    return {
        f"causes/{path.name}"
        for path in (KNOWLEDGE / "causes").glob("*.yaml")
        if PRESSURE_FINDINGS & {link["finding"] for link in read(path)["links"]}
    }


def pressure_advice():
    """Return what causes of pressure tell a brewer to do."""
    return [text for text in cause_advice() if text.place in pressure_causes()]


PLANTED = [
    (scans.forbidden_advice, "Chill hard, vent each bottle cold a few times."),
    (scans.forbidden_advice, "Shake the bottle to see if it foams."),
    (scans.forbidden_advice, "Pasteurise them at 65 C."),
    (scans.forbidden_advice, "Warm the bottles for a week."),
    (scans.forbidden_advice, "Drink soon and give the rest away."),
    (scans.forbidden_advice, "Do not wait; then re-cap and store."),
    (scans.forbidden_advice, "Put the bottles in the freezer."),
    (scans.forbidden_advice, "Carry the box in your car."),
    (scans.forbidden_advice, "Move to strong bottles."),
    (scans.forbidden_advice, "Let gas out and reseal them."),
    (scans.careless_opening, "Open all bottles."),
    (scans.careless_opening, "Chill and open them slowly."),
    (scans.careless_opening, "Open the bottle cold, outdoors, cap away."),
    (scans.reassurance, "The beer is safe to drink."),
    (scans.reassurance, "A white film is harmless."),
    (scans.reassurance, "There is no risk."),
    (scans.chance_words, "Bottles will probably burst."),
    (scans.chance_words, "A 20 % chance."),
    (scans.chance_words, "Get out!"),
    (scans.salvage, "Skim the mould and bottle."),
    (scans.salvage, "Strain it through a cloth."),
    (scans.salvage, "Boil it again."),
    (scans.hot_into_glass, "Pour the hot wort into the carboy."),
    (scans.hot_into_glass, "Rinse the glass fermenter with boiling water."),
    (scans.chlorine_beside_acid, "Mix bleach and vinegar in water."),
    (scans.own_dilution, "Use 5 ml of bleach per litre."),
    (scans.own_dilution, "Iodophor at 25 ppm."),
    (scans.unrinsed_cleaner, "Use a no-rinse cleaner."),
    (scans.unrinsed_cleaner, "The cleaner needs no rinsing."),
    (scans.caustic_without_gear, "Soak in caustic and rinse."),
    (scans.sealing, "Press the lid down tight."),
    (scans.signal_words, "WARNING: bottles."),
]


@pytest.mark.parametrize(("scan", "text"), PLANTED)
def test_scan_catches_a_planted_fault(scan, text):
    """Each scan objects to a sentence it is there to stop."""
    assert scan(text)


ALLOWED = [
    (scans.forbidden_advice, "Never shake the bottle, and do not re-cap or give away."),
    (scans.forbidden_advice, "Do not touch, open, shake, warm or freeze any bottle."),
    (scans.forbidden_advice, "Shake the wort before pitching."),
    (scans.forbidden_advice, "Warm the fermenter by two degrees."),
    (scans.forbidden_advice, "Moving warm bottles is worse: warm bottles burst more easily."),
    (scans.careless_opening, "Open it cold, outdoors, under water or soaked towel, cap away."),
    (scans.careless_opening, "Do not open them."),
    (scans.reassurance, "It is not safe."),
    (scans.reassurance, "Nothing in your data triggers a food-safety warning."),
    (scans.salvage, "Do not skim, strain, boil or blend it."),
    (scans.hot_into_glass, "Never pour hot wort into a glass carboy."),
    (scans.chlorine_beside_acid, "Never mix bleach and vinegar."),
    (scans.own_dilution, "Use the sanitizer at 2 ml per litre or as the label says."),
    (scans.unrinsed_cleaner, "A no-rinse sanitizer at the strength on its label."),
    (scans.caustic_without_gear, "Caustic: goggles, gloves; do not neutralise."),
    (scans.sealing, "Never close a working fermenter tight."),
    (scans.signal_words, "A warning sign."),
]


@pytest.mark.parametrize(("scan", "text"), ALLOWED)
def test_scan_leaves_good_advice_alone(scan, text):
    """A denial or a complete instruction is no offence."""
    assert scan(text) == []


def test_texts_are_found():
    """The scans see hazard texts and advice of causes; an empty list would prove nothing."""
    assert len(pressure_causes()) >= 10
    assert len(pressure_advice()) >= 40
    assert sum(len(spec.texts()) for spec in hazards().values()) > 300


def test_i15_no_forbidden_advice_in_hazards():
    """I15: no hazard text tells to shake, warm, freeze, vent, re-cap, give away or drink up."""
    assert in_hazards(scans.forbidden_advice, Hazard.commands) == []


def test_i15_no_forbidden_advice_in_causes_of_pressure():
    """I15: neither does the advice of a cause that can show as pressure in the bottle."""
    assert offenders(scans.forbidden_advice, pressure_advice()) == []


def test_i19_opening_in_hazards():
    """I19: opening is told only cold, outdoors, under water or towel, with the cap away."""
    assert in_hazards(scans.careless_opening, Hazard.commands) == []


def test_i19_opening_comes_last():
    """I19: disposal unopened stands before the step that opens, which ends the disposal."""
    found = 0
    for spec in hazards().values():
        steps = [step.do for step in spec.avoid if step.tag == "dispose"]
        for index, step in enumerate(steps):
            if step.startswith("Open"):
                assert "unopened" in steps[0]
                assert "Only if" in steps[index - 1]
                assert index == len(steps) - 1
                found += 1
    assert found == 7


def test_i19_opening_in_causes_of_pressure():
    """I19: the same for the advice of causes of pressure."""
    assert offenders(scans.careless_opening, pressure_advice()) == []


def test_i20_never_seal():
    """I20: no text closes a working fermenter tight."""
    assert in_hazards(scans.sealing, only=lambda spec: spec.topic == "fermenter") == []
    blocked = [t for t in cause_advice() if "blocked_fermenter" in t.place]
    assert blocked
    assert offenders(scans.sealing, blocked) == []


def test_i21_no_hot_liquid_into_glass():
    """I21: no advice puts hot liquid into glass."""
    assert in_hazards(scans.hot_into_glass) == []
    assert offenders(scans.hot_into_glass, cause_advice()) == []


def test_i23_chlorine_and_acid_apart():
    """I23: no text of the knowledge brings chlorine and an acid together."""
    about = [t for t in knowledge_texts() if not t.place.startswith(("rules/", "facts"))]
    both = [
        (place, text)
        for place, text in offenders(scans.chlorine_beside_acid, about)
        if not place.startswith("hazards/chlorine_")  # these name the pair as the hazard
    ]
    assert both == []


def test_i23_every_pair_of_the_sanitizer_list_is_flagged():
    """I23: each chlorine product and each acid one says itself what it must never meet."""
    table = read(KNOWLEDGE / "sanitizers.yaml")
    chlorine = [row for row in table.values() if row["chlorine"]]
    acid = [row for row in table.values() if row["acid"]]
    assert chlorine
    assert acid
    for row in chlorine:
        notes = " ".join(row["notes"])
        assert {"never", "acid"} <= words(notes), row["label"]
    for row in acid:
        notes = " ".join(row["notes"])
        assert {"never", "chlorine"} <= words(notes), row["label"]


def test_i24_label_first():
    """I24: dilutions are the label's, and no cleaner goes unrinsed."""
    advice = [*knowledge_texts()]
    told = [
        t for t in advice if t.place.startswith(("causes/", "hazards/", "sanitizers", "findings/"))
    ]
    assert offenders(scans.own_dilution, told) == []
    assert offenders(scans.unrinsed_cleaner, told) == []


def test_i24_caustic_holds_goggles_gloves_and_no_neutralising():
    """I24: whatever speaks of caustic names goggles, gloves and not to neutralise."""
    table = read(KNOWLEDGE / "sanitizers.yaml")
    rows = {key: " ".join([row["label"], *row["notes"]]) for key, row in table.items()}
    assert [key for key, text in rows.items() if scans.caustic_without_gear(text)] == []
    assert in_hazards(scans.caustic_without_gear) == []


def test_i25_never_called_safe():
    """I25: no text of the knowledge calls anything safe, harmless or fine to drink."""
    assert offenders(scans.reassurance, knowledge_texts()) == []


def test_i27_discard_means_discard():
    """I27: nothing is skimmed, strained, boiled or blended where it must be thrown away."""
    assert in_hazards(scans.salvage) == []
    mould = [t for t in cause_advice() if t.place == "causes/mould_growth.yaml"]
    assert mould
    assert offenders(scans.salvage, mould) == []
    for name in ("mould", "glass_in_beer", "cleaner_left", "unpitched_wort_72h"):
        assert any("hrow" in s.do for s in hazards()[name].avoid if s.tag == "dispose"), name


def test_i28_no_distilling_and_no_clearance():
    """I28: nothing advises to distil, nor clears anybody medically or legally."""
    advice = re.compile(r"\bdistil\w*|\b(?:legal|allowed|permitted) to (?:brew|sell|drink)", re.I)
    texts = [t for t in knowledge_texts() if t.place.startswith(("causes/", "hazards/"))]
    found = [(t.place, s) for t in texts for s in scans.commanded(t.text, advice)]
    assert [item for item in found if "distilled water" not in item[1].lower()] == []


def test_i31_one_signal_word():
    """I31: the level is the only signal word; no text repeats one in capitals."""
    assert in_hazards(scans.signal_words) == []


def test_i33_no_downgrade_words():
    """I33: hazard texts hold no probability words, percentages or exclamation marks."""
    assert in_hazards(scans.chance_words) == []


def test_steps_are_short():
    """6.3: one action a line, at most twelve words."""
    long = [
        (spec.id, step.do)
        for spec in hazards().values()
        for step in (*spec.avoid, *(spec.gate.steps if spec.gate else ()))
        if scans.words_in(step.do) > 12
    ]
    assert long == []


def test_long_step_is_caught():
    """The length check can fail."""
    assert scans.words_in("one two three (four five) six") == 4
