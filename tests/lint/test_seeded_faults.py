"""Every check of the lint fires on a seeded fault, and not on the near thing that is right."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pytest
from tests.lint.models import SOUND, cause, fact, finding, model, rule, seen

from trubshoot.knowledge_base.checks import check_to_load
from trubshoot.lint import lint

Changes = Mapping[str, Mapping[str, Any]]
BOILED = SOUND["causes"]["boiled_long"]
FACTS = SOUND["facts"]


@dataclass(frozen=True)
class Seeded:
    """A bad model, a near one that is right, and what must be said of the bad one."""

    code: str
    name: str
    bad: Changes
    near: Changes
    path: str
    says: str
    note: bool = False

    def __str__(self) -> str:
        return f"{self.code} {self.name}"


def rules(**changes: Any) -> Changes:
    """Return a change of rules."""
    return {"rules": changes}


def advised(now: Mapping[str, Any], **more: Any) -> Changes:
    """Return a change of the advice of a cause."""
    return {"causes": {"boiled_long": {**BOILED, "now": dict(now), **more}}}


ROUSE = {"do": "Swirl it.", "action": "rouse"}
WARM = {"do": "Warm it.", "action": "warm"}
PITCH = {"do": "Pitch again.", "action": "add_yeast"}
HOT = {"context": "hot_room"}
RUBBER = {"finding": "rubber"}
BROKEN = {"marker": "broken"}
PRESENT: dict[str, Any] = {"is_": "present"}
SAID_CRACK = fact("said.crack", **PRESENT)

SEEDED = [
    Seeded(
        "K03",
        "a limit that nothing passes",
        rules(warm=rule(HOT, all=[fact("heat_c", gt=100)])),
        rules(warm=rule(HOT, all=[fact("heat_c", gt=99)])),
        "rules/warm.yaml",
        "never holds inside 0 to 100",
    ),
    Seeded(
        "K03",
        "a limit that everything passes",
        rules(warm=rule(HOT, all=[fact("heat_c", lte=100)])),
        rules(warm=rule(HOT, all=[fact("heat_c", gte=0)])),  # how to ask whether it is stated
        "rules/warm.yaml",
        "always holds",
    ),
    Seeded(
        "K04",
        "limits that contradict each other",
        rules(warm=rule(HOT, all=[fact("heat_c", gt=50), fact("heat_c", lt=40)])),
        rules(warm=rule(HOT, all=[fact("heat_c", gt=40), fact("heat_c", lt=50)])),
        "rules/warm.yaml",
        "can never hold together",
    ),
    Seeded(
        "K04",
        "a none that takes back the all",
        rules(
            warm=rule(HOT, all=[fact("heat_c", gt=50)], none=[fact("heat_c", gt=40)]),
        ),
        rules(
            warm=rule(HOT, all=[fact("heat_c", gt=50)], none=[fact("heat_c", gt=60)]),
        ),
        "rules/warm.yaml",
        "can never hold together",
    ),
    Seeded(
        "K04",
        "a choice that never counts",
        rules(
            warm=rule(
                HOT,
                all=[fact("kind", in_=["ale"])],
                any=[fact("kind", in_=["lager"]), fact("heat_c", gt=30)],
            )
        ),
        rules(
            warm=rule(
                HOT,
                all=[fact("kind", in_=["ale", "lager"])],
                any=[fact("kind", in_=["lager"]), fact("heat_c", gt=30)],
            )
        ),
        "rules/warm.yaml",
        "'kind is lager' never holds beside the other conditions",
    ),
    Seeded(
        "K04",
        "a conclusion asked to be absent",
        rules(warm=rule(HOT, all=[fact("marker.broken", is_="absent"), fact("heat_c", gt=30)])),
        rules(warm=rule(HOT, all=[fact("heat_c", gt=30)], none=[fact("marker.broken", **PRESENT)])),
        "rules/warm.yaml",
        "can never hold together",
    ),
    Seeded(
        "K05",
        "the same rule written in another way",
        rules(
            lagering=rule(RUBBER, all=[fact("kind", in_=["lager"]), fact("days", gt=19.9999)]),
        ),
        rules(
            lagering=rule(RUBBER, all=[fact("kind", in_=["wild"]), fact("days", gt=19.9999)]),
        ),
        "rules/lagering.yaml",
        "says the same as old_lager",
    ),
    Seeded(
        "K06",
        "a rule that another covers",
        rules(very_warm=rule(HOT, all=[fact("heat_c", gt=35), fact("lid_on", **PRESENT)])),
        rules(mild=rule(HOT, all=[fact("heat_c", gt=25), fact("lid_on", **PRESENT)])),
        "rules/very_warm.yaml",
        "is covered by warm",
    ),
    Seeded(
        "K06",
        "a rule that another covers but for its none",
        rules(
            warm=rule(HOT, all=[fact("heat_c", gt=30)], none=[fact("lid_on", **PRESENT)]),
            very_warm=rule(HOT, all=[fact("heat_c", gt=35), fact("lid_on", is_="absent")]),
        ),
        rules(
            warm=rule(HOT, all=[fact("heat_c", gt=30)], none=[fact("lid_on", **PRESENT)]),
            very_warm=rule(HOT, all=[fact("heat_c", gt=35)]),
        ),
        "rules/very_warm.yaml",
        "is covered by warm",
    ),
    Seeded(
        "K06",
        "a soft finding behind a stronger one",
        rules(
            old=rule({**RUBBER, "told": {"so": 0.8, "not_so": 0.1}}, all=[fact("days", gte=20)]),
            older=rule({**RUBBER, "told": {"so": 0.5, "not_so": 0.1}}, all=[fact("days", gte=30)]),
        ),
        rules(
            old=rule({**RUBBER, "told": {"so": 0.5, "not_so": 0.1}}, all=[fact("days", gte=20)]),
            older=rule({**RUBBER, "told": {"so": 0.8, "not_so": 0.1}}, all=[fact("days", gte=30)]),
        ),
        "rules/older.yaml",
        "is covered by old",
    ),
    Seeded(
        "K07",
        "a finding present and absent on the same facts",
        rules(fresh=rule({"no_finding": "rubber"}, all=[fact("days", lt=30)])),
        rules(fresh=rule({"no_finding": "rubber"}, all=[fact("days", lt=20)])),
        "rules/fresh.yaml",
        "hold together for days: 20",
    ),
    Seeded(
        "K07",
        "the same, one rule resting on another",
        rules(
            mark=rule({"marker": "young"}, all=[fact("days", lt=30)]),
            fresh=rule({"no_finding": "rubber"}, all=[fact("marker.young", **PRESENT)]),
        ),
        rules(  # blocked by another rule of the base: no false alarm
            mark=rule({"marker": "young"}, all=[fact("days", lt=30)]),
            wait=rule({"marker": "lagered"}, all=[fact("kind", in_=["lager"])]),
            fresh=rule(
                {"no_finding": "rubber"},
                all=[fact("marker.young", **PRESENT)],
                none=[fact("marker.lagered", **PRESENT)],
            ),
        ),
        "rules/fresh.yaml",
        "hold together for",
    ),
    Seeded(
        "K08",
        "rules that wait for each other",
        rules(
            one=rule(BROKEN, all=[fact("marker.two", **PRESENT)]),
            two=rule({"marker": "two"}, all=[fact("marker.three", **PRESENT)]),
            three=rule({"marker": "three"}, all=[fact("marker.two", **PRESENT)]),
        ),
        rules(
            one=rule(BROKEN, all=[fact("marker.two", **PRESENT)]),
            two=rule({"marker": "two"}, all=[fact("days", gt=3)]),
        ),
        "rules/one.yaml",
        "never fires: nothing states or concludes marker.two",
    ),
    Seeded(
        "K09",
        "a marker that nothing uses",
        rules(aged=rule({"marker": "aged"}, all=[fact("days", gt=5)])),
        rules(
            aged=rule({"marker": "aged"}, all=[fact("days", gt=5)]),
            warm=rule(HOT, all=[fact("heat_c", gt=30), fact("marker.aged", **PRESENT)]),
        ),
        "rules/aged.yaml",
        "concludes marker.aged, which nothing uses",
    ),
    Seeded(
        "K10",
        "a fact that nothing reads",
        {"facts": {"weight": {"type": "state", "meaning": "toy"}}},
        {"facts": {"weight": {"type": "state", "meaning": "toy", "shown_only": True}}},
        "facts.yaml",
        "no rule, list, hazard or hold reads 'weight'",
    ),
    Seeded(
        "K10",
        "a mark that is not true",
        {"facts": {"lid_on": {**FACTS["lid_on"], "shown_only": True}}},
        {},
        "facts.yaml",
        "'lid_on' is marked as shown only, and is read",
    ),
    Seeded(
        "K10",
        "a sign that nothing listens to",
        {"signs": {"smoke": {"label": "Smoke", "aliases": ["smoke"], "topic": "fire"}}},
        {"signs": {"smoke": {"label": "Smoke", "aliases": ["smoke"], "topic": "aside"}}},
        "signs.yaml",
        "nothing listens to the sign 'smoke'",
    ),
    Seeded(
        "K10",
        "a circumstance that changes nothing",
        {"contexts": {"cellar": {"label": "Cellar", "aliases": ["cellar"]}}},
        {
            "contexts": {"cellar": {"label": "Cellar", "aliases": ["cellar"]}},
            "causes": {
                "boiled_long": {
                    **BOILED,
                    "modifiers": [
                        {"when": "hot_room", "odds": 2.0},
                        {"when": "cellar", "odds": 2.0},
                    ],
                }
            },
        },
        "contexts.yaml",
        "the circumstance 'cellar' changes nothing",
    ),
    Seeded(
        "K11",
        "a logged fact named like a conclusion",
        {"facts": {"marker.hot": {"type": "state", "meaning": "toy", "shown_only": True}}},
        {"facts": {"marker_hot": {"type": "state", "meaning": "toy", "shown_only": True}}},
        "facts.yaml",
        "'marker.hot' looks like a conclusion",
    ),
    Seeded(
        "K11",
        "one id for a finding and a sign",
        {"signs": {"toffee": {"label": "Burn", "aliases": ["burnt hand"], "topic": "aside"}}},
        {"signs": {"burn": {"label": "Burn", "aliases": ["burnt hand"], "topic": "aside"}}},
        "signs.yaml",
        "'said.toffee' would mean a finding and a sign",
    ),
    Seeded(
        "K12",
        "a negation in a circle",
        rules(
            one=rule(BROKEN, all=[fact("days", gt=1)], none=[fact("marker.two", **PRESENT)]),
            two=rule({"marker": "two"}, all=[fact("marker.broken", **PRESENT)]),
        ),
        rules(
            one=rule(BROKEN, all=[fact("days", gt=1)], none=[fact("marker.two", **PRESENT)]),
            two=rule({"marker": "two"}, all=[SAID_CRACK]),
        ),
        "rules/one.yaml",
        "rests on its own negation: one, two",
    ),
    Seeded(
        "K13",
        "a circle without a negation",
        rules(
            two=rule({"marker": "two"}, all=[fact("marker.broken", **PRESENT)]),
            three=rule(BROKEN, all=[fact("marker.two", **PRESENT)]),
        ),
        rules(
            two=rule({"marker": "two"}, all=[fact("marker.broken", **PRESENT)]),
            three=rule(HOT, all=[fact("marker.two", **PRESENT)]),
        ),
        "rules/",
        "rests on its own conclusion: marker.broken -> marker.two -> marker.broken",
    ),
    Seeded(
        "K14",
        "a permission out of silence",
        rules(
            grant=rule(
                {"permit": "bottling"},
                all=[fact("days", gte=10)],
                none=[fact("lid_on", **PRESENT), fact("marker.broken", **PRESENT)],
            )
        ),
        {},
        "rules/grant.yaml",
        "grants because 'lid_on' is merely not stated",
    ),
    Seeded(
        "K14",
        "silence behind a marker",
        rules(
            calm=rule({"marker": "calm"}, all=[fact("days", gte=1)], none=[SAID_CRACK]),
            grant=rule({"permit": "bottling"}, all=[fact("marker.calm", **PRESENT)]),
            warm=rule(HOT, all=[fact("marker.broken", **PRESENT), fact("lid_on", **PRESENT)]),
        ),
        rules(
            calm=rule(
                {"marker": "calm"},
                all=[fact("days", gte=1), fact("said.crack", is_="absent")],
            ),
            grant=rule({"permit": "bottling"}, all=[fact("marker.calm", **PRESENT)]),
            warm=rule(HOT, all=[fact("marker.broken", **PRESENT), fact("lid_on", **PRESENT)]),
        ),
        "rules/calm.yaml",
        "grants for grant because 'said.crack' is merely not stated",
    ),
    Seeded(
        "K14",
        "a cause let go unless something is stated",
        rules(
            out=rule({"rules_out": "yeast_tired"}, all=[fact("days", lt=2)], none=[SAID_CRACK]),
        ),
        rules(
            out=rule(
                {"rules_out": "yeast_tired"},
                all=[fact("days", lt=2), fact("said.crack", is_="absent")],
            ),
        ),
        "rules/out.yaml",
        "rules yeast_tired out unless something is stated: said.crack",
        note=True,
    ),
    Seeded(
        "N03",
        "two causes with the same links",
        {"causes": {"scorched": cause({"toffee": 0.6}, seen("toffee"), prior=0.2)}},
        {"causes": {"scorched": cause({"toffee": 0.3, "rubber": 0.3}, seen("toffee"), prior=0.3)}},
        "causes/scorched.yaml",
        "has the same links as boiled_long",
    ),
    Seeded(
        "N04",
        "two causes that no answer tells apart",
        {"causes": {"scorched": cause({"toffee": 0.5}, seen("toffee"), prior=0.2)}},
        {"causes": {"scorched": cause({"toffee": 0.1}, seen("toffee"), prior=0.9)}},
        "causes/scorched.yaml",
        "no answer tells scorched from boiled_long by 3 dB (most: toffee",
        note=True,
    ),
    Seeded(
        "N05",
        "a cause that never leads",
        {"causes": {"scorched": cause({"toffee": 0.1}, seen("toffee", expect="top3"))}},
        {"causes": {"scorched": cause({"toffee": 0.5, "rubber": 0.5}, seen("toffee", "rubber"))}},
        "causes/scorched.yaml",
        "leads in none of its own examples",
    ),
    Seeded(
        "N05",
        "a doubted cause that never leads",
        {"causes": {"scorched": cause({"toffee": 0.1}, seen("toffee"), doubt="Often said.")}},
        {"causes": {"scorched": cause({"toffee": 0.5, "rubber": 0.5}, seen("toffee", "rubber"))}},
        "causes/scorched.yaml",
        "as becomes what is doubted",
        note=True,
    ),
    Seeded(
        "N06",
        "a finding that nothing sets",
        {
            "findings": {"waxen": finding("no", label="It is")},
            "causes": {"aged": cause({"waxen": 0.5}, seen("waxen"))},
        },
        {
            "findings": {"waxen": finding("waxen", label="It is")},
            "causes": {"aged": cause({"waxen": 0.5}, seen("waxen"))},
        },
        "findings/waxen.yaml",
        "no rule concludes it",
    ),
    Seeded(
        "N07",
        "an alias of which nothing is left",
        {"findings": {"toffee": finding("toffee", "it was as it is", label="Toffee")}},
        {"findings": {"toffee": finding("toffee", "it was as chewy", label="Toffee")}},
        "findings/toffee.yaml",
        "'it was as it is' leaves no word",
    ),
    Seeded(
        "N07",
        "an alias that comes down to a word of many others",
        {
            "contexts": {
                "hot_room": {"label": "Hot room", "aliases": ["tastes like it should"]},
            },
            "findings": {
                "toffee": finding("toffee", label="Toffee"),
                **{f"taste_{n}": finding(f"tastes of x{n}", label=f"X{n}") for n in range(8)},
            },
            "causes": {"many": cause({f"taste_{n}": 0.5 for n in range(8)}, seen("taste_0"))},
        },
        {
            "contexts": {
                "hot_room": {"label": "Hot room", "aliases": ["tastes like the oven should"]},
            },
            "findings": {
                "toffee": finding("toffee", label="Toffee"),
                **{f"taste_{n}": finding(f"tastes of x{n}", label=f"X{n}") for n in range(8)},
            },
            "causes": {"many": cause({f"taste_{n}": 0.5 for n in range(8)}, seen("taste_0"))},
        },
        "contexts.yaml",
        "comes down to 'tast', a word of 8 other things",
    ),
    Seeded(
        "N07",
        "an alias that comes down to two words of very many others",
        {
            "contexts": {"sound": {"label": "Sound", "aliases": ["tastes like the beer should"]}},
            "findings": {
                "toffee": finding("toffee", label="Toffee"),
                **{f"x_{n}": finding(f"beer tastes of x{n}", label=f"X{n}") for n in range(30)},
            },
            "causes": {"many": cause({f"x_{n}": 0.5 for n in range(30)}, seen("x_0"))},
        },
        {
            "contexts": {"sound": {"label": "Sound", "aliases": ["tastes like the beer should"]}},
            "findings": {
                "toffee": finding("toffee", label="Toffee"),
                **{f"x_{n}": finding(f"beer tastes of x{n}", label=f"X{n}") for n in range(29)},
            },
            "causes": {"many": cause({f"x_{n}": 0.5 for n in range(29)}, seen("x_0"))},
        },
        "contexts.yaml",
        "words of 30 other things each",
    ),
    Seeded(
        "A01",
        "advice without what not to do",
        advised({"any": ["Toy."]}, avoid=[]),
        advised({"any": ["Toy."]}),
        "causes/boiled_long.yaml",
        "lacks what not to do",
    ),
    Seeded(
        "A01",
        "advice that never ends",
        advised({"bottled": ["Toy."]}, stop={"fermenting": "Toy."}),
        advised({"bottled": ["Toy."]}, stop={"bottled": "Toy."}),
        "causes/boiled_long.yaml",
        "`stop` for 'bottled'",
    ),
    Seeded(
        "A02",
        "a fault of the glass with steps for the fermenter only",
        advised({"fermenting": ["Toy."]}),
        advised({"serving": ["Toy."]}),
        "causes/boiled_long.yaml",
        "at the stage 'bottled'",
    ),
    Seeded(
        "A03",
        "roused before it is warmed",
        advised({"any": [ROUSE, WARM]}),
        advised({"any": [WARM, ROUSE, {"do": "Wait.", "action": "wait"}]}),
        "causes/boiled_long.yaml",
        "'rouse' stands before 'warm'",
    ),
    Seeded(
        "A04",
        "yeast before any reading",
        advised({"fermenting": [PITCH, "Then take a reading."]}),
        advised({"fermenting": ["Take a reading.", PITCH]}),
        "causes/boiled_long.yaml",
        "before any reading",
    ),
]


@pytest.mark.parametrize("seeded", SEEDED, ids=str)
def test_the_fault_is_found(seeded: Seeded) -> None:
    """The check names the fault with its file and line, as a fault or as a note."""
    remarks = [item for item in lint(*model(seeded.bad)) if item.code == seeded.code]
    found = [
        item
        for item in remarks
        if item.path.startswith(seeded.path) and seeded.says in f"{item.message} {item.mend}"
    ]
    assert found, [str(item) for item in remarks]
    assert all(item.line > 0 and item.mend for item in found)
    assert {item.note for item in found} == {seeded.note}


@pytest.mark.parametrize("seeded", SEEDED, ids=str)
def test_the_near_thing_is_let_be(seeded: Seeded) -> None:
    """The check is silent on the model that differs only in what makes it right."""
    remarks = [str(item) for item in lint(*model(seeded.near)) if item.code == seeded.code]
    assert remarks == []


def test_the_sound_model_has_no_remark() -> None:
    """The model in which the faults are seeded has none itself."""
    assert [str(item) for item in lint(*model({}))] == []


LOADING = [
    ("K01", rules(warm=rule(HOT, all=[fact("heat", gt=30)])), "'heat' is not in facts.yaml"),
    ("K02", rules(warm=rule(HOT, all=[fact("kind", gt=30)])), "'kind' is a text; gt does not fit"),
    ("N01", {"causes": {"boiled_long": {**BOILED, "links": []}}}, "no finding can show this cause"),
    ("N02", {"findings": {"waxy": finding("waxen")}}, "no cause explains this finding"),
]


@pytest.mark.parametrize(("code", "bad", "says"), LOADING, ids=[row[0] for row in LOADING])
def test_what_loading_finds(code: str, bad: Changes, says: str) -> None:
    """K01, K02, N01 and N02 keep the model from loading at all."""
    told = [problem.message for problem in check_to_load(*model(bad))]
    assert any(says in message for message in told), told
    sound = [problem.message for problem in check_to_load(*model({}))]
    assert not any(re.escape(says) in message for message in sound)


def test_every_code_is_seeded() -> None:
    """No check is without a seeded fault."""
    codes = {item.code for item in SEEDED} | {code for code, _, _ in LOADING}
    rows = {f"K{number:02}" for number in range(1, 15)} | {
        f"N{number:02}" for number in range(1, 8)
    }
    rows |= {f"A{number:02}" for number in range(1, 5)}
    assert codes == rows
