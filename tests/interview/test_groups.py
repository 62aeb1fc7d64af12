"""Questions that name several findings: what an answer means, and when one is asked."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest
from tests.diagnosis.support import block

from trubshoot.diagnosis import Diagnostician
from trubshoot.diagnosis.next_check import STAGES
from trubshoot.diagnosis.noisy_or import Question
from trubshoot.interview import Interview, State
from trubshoot.interview.choose import _groups, labels_of, worth_asking
from trubshoot.knowledge_base import KnowledgeBase
from trubshoot.knowledge_base.asking_checks import check_interview
from trubshoot.knowledge_base.loader import Raw
from trubshoot.safety import Level

NOW = datetime(2026, 11, 25, 18)
MEMBERS = ("vinegar", "rotten_egg", "green_apple")
PROMPT = "group:group_beer_smell:" + ",".join(MEMBERS)


@pytest.fixture(name="talk")
def _talk(diagnostician: Diagnostician) -> Interview:
    return Interview(diagnostician, NOW)


@pytest.fixture(name="state")
def _state(talk: Interview) -> State:
    """Return an interview about bottled beer that has come to the questions about findings."""
    state = State()
    for said in ("bottled three weeks ago, every bottle is flat", "yes", "none"):
        state = talk.answer(state, said)
    return state


def told(state: State) -> dict[str, str]:
    """Return the members told, by their state."""
    return {item.id: item.state for item in state.items if item.id in MEMBERS}


@pytest.mark.parametrize(
    ("said", "wanted"),
    [
        ("none", dict.fromkeys(MEMBERS, "absent")),
        ("no", dict.fromkeys(MEMBERS, "absent")),
        ("2", {"vinegar": "absent", "rotten_egg": "present", "green_apple": "absent"}),
        ("1 3", {"vinegar": "present", "rotten_egg": "absent", "green_apple": "present"}),
        ("2 not 3", {"rotten_egg": "present", "green_apple": "absent"}),
        ("not 1", {"vinegar": "absent"}),
        ("2, the rest unknown", {"rotten_egg": "present"}),
        ("don't know", {}),
    ],
)
def test_what_an_answer_says_of_each(
    talk: Interview, state: State, said: str, wanted: dict[str, str]
) -> None:
    """Numbers are there, what is left out is not, and what is not known leaves no trace."""
    after = talk.answer(state, said, PROMPT)
    assert told(after) == wanted
    assert {f"finding:{name}" for name in MEMBERS} <= after.closed
    assert talk.back(after) == state


@pytest.mark.parametrize("said", ["", "4", "0", "yes", "1 not 1", "none not 2", "2 not", "2 not x"])
def test_what_is_no_answer_changes_nothing(talk: Interview, state: State, said: str) -> None:
    """An answer that fits none of the forms leaves everything as it was, with a message."""
    after = talk.answer(state, said, PROMPT)
    assert told(after) == {}
    assert after.message


def test_free_words_are_taken_in_place_of_numbers(talk: Interview, state: State) -> None:
    """Somebody who writes what it is instead of a number is understood, and asked back."""
    after = talk.answer(state, "it smells of vinegar", PROMPT)
    assert told(after) == {"vinegar": "present"}
    assert talk.prompt(after).form == "repeat"


def test_a_group_is_asked_and_names_nothing_known(talk: Interview, state: State) -> None:
    """Groups come up, each with two members or more, none of which was told or asked before."""
    seen: set[str] = set()
    groups = 0
    for _ in range(12):
        prompt = talk.prompt(state)
        if prompt.form == "end":
            break
        if prompt.id.startswith("group:"):
            groups += 1
            names = {option.says for option in prompt.options}
            known = {item.id for item in talk.diagnosis(state).findings}
            assert len(names) >= 2
            assert not names & (seen | known)
            assert len(names) <= talk.work.knowledge.constant("interview_group_size")
            seen |= names
        state = talk.answer(state, "none" if prompt.form == "which" else "don't know")
    assert groups


def test_a_hazard_in_an_answer_interrupts(talk: Interview, state: State) -> None:
    """Every bottle gushes, chosen from a list, raises its hazard before the next question."""
    after = talk.answer(state, "2", "group:group_fizz:flat_all_bottles,gusher_all")
    assert max(one.level for one in talk.prompt(after).hazards) >= Level.WARNING


def test_where_tasting_is_forbidden_no_group_says_to_taste(
    talk: Interview, state: State, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With a hazard that forbids tasting, a group is asked of memory, without its own help."""
    diagnosis = talk.diagnosis(state)
    for hazards in (
        [block("food", Level.CAUTION, no_tasting=True)],
        [block("bottles", Level.WARNING)],
        [block("bottles", Level.CAUTION)],
    ):
        monkeypatch.setattr(type(diagnosis), "hazards", tuple(hazards), raising=False)
        prompt = talk._group("group:group_beer_taste:sour_tart,sweet_cloying", diagnosis)
        assert "from memory only" in prompt.how.lower()
        assert "sip" not in prompt.how
        assert not any(option.how for option in prompt.options)


def test_every_row_is_of_its_stage(knowledge: KnowledgeBase, diagnostician: Diagnostician) -> None:
    """Every group has members that can be seen at its stage, and wrong rows are named."""
    rows = {key: row for key, row in knowledge.interview.items() if row.kind == "group"}
    assert len(rows) >= 8
    for key, row in rows.items():
        for option in row.options:
            finding = knowledge.findings[str(option.says)]
            for stage in row.stages:
                assert set(STAGES[stage]) & set(finding.stages), (key, finding.id)
    plain = rows["group_fizz"].model_dump()
    for options in ([plain["options"][0]] * 2, [{"label": "x", "says": "nothing_known"}] * 2):
        row = type(rows["group_fizz"]).model_validate({**plain, "options": options})
        wrong = {**knowledge.interview, "group_fizz": row}
        assert list(check_interview(replace(knowledge, interview=wrong), Raw({})))


def test_a_group_is_worth_more_than_its_members(talk: Interview, state: State) -> None:
    """The gain of a group is above that of each member, and the best question is put first."""
    worth = worth_asking(talk.work, talk.diagnosis(state), ())
    single = {item.findings[0]: item.gain_bits for item in worth if not item.group}
    groups = [item for item in worth if item.group]
    assert groups
    for item in groups:
        assert item.gain_bits >= max(single.get(name, 0.0) for name in item.findings)
    costs = [item.gain_per_cost for item in worth]
    assert costs == sorted(costs, reverse=True)


def test_the_worth_of_a_group_by_hand(talk: Interview, state: State) -> None:
    """Each further member counts only where those before it were denied: 0.4, 0.4 x 0.75, ..."""
    knowledge = talk.work.knowledge
    told = {name: Question(0, 0.25, 0.4, 0.9) for name in knowledge.findings}
    groups = _groups(knowledge, told, talk.diagnosis(state))
    assert groups
    for item in groups:
        by_hand = sum(0.4 * 0.75**place for place in range(len(item.findings)))
        assert item.gain_bits == pytest.approx(by_hand)


def test_place_and_time_in_one_answer(talk: Interview) -> None:
    """Where the beer is and since when are one question to somebody who knows both."""
    state = talk.answer(talk.answer(State(), "it tastes of banana"), "yes")
    assert talk.prompt(state).id == "detail:stage"
    state = talk.answer(state, "2, 3 weeks")
    assert state.details["stage"] == "bottled"
    assert state.details["bottled_days"] == "3 weeks"
    other = talk.answer(talk.answer(State(), "it tastes of banana"), "yes")
    other = talk.answer(other, "1, 5 days")
    assert other.details["pitched_days"] == "5 days"


def test_all_senses_in_one_question_say_which_each_is(diagnostician: Diagnostician) -> None:
    """A question made of several groups names the sense of each finding."""
    labels = labels_of(diagnostician.knowledge, "group_noticed_bottled")
    assert labels["vinegar"] == "Smell: vinegar"
    assert labels["sour_tart"].startswith("Taste: ")
    assert labels_of(diagnostician.knowledge, "group_beer_smell")["vinegar"] == "Vinegar"


def test_nothing_to_measure_stands_among_all_senses(
    talk: Interview, state: State, diagnostician: Diagnostician
) -> None:
    """What has to be measured, opened or waited for is not asked in one breath with a smell."""
    mixed = [
        worth
        for worth in worth_asking(diagnostician, talk.diagnosis(state), ())
        if worth.group == "group_noticed_bottled"
    ]
    assert mixed
    findings = diagnostician.knowledge.findings
    for worth in mixed:
        checks = {findings[name].check.by for name in worth.findings}
        assert checks <= {"ask", "look", "smell", "taste"}


def test_a_group_of_groups_must_name_groups(knowledge: KnowledgeBase) -> None:
    """A row that gathers others is refused when one of them is no group with options."""
    row = knowledge.interview["group_noticed_bottled"]
    for wrong in ("opening", "nowhere", "group_noticed_bottled"):
        broken = row.model_copy(update={"of": (wrong,)})
        rows = {**knowledge.interview, "group_noticed_bottled": broken}
        problems = [*check_interview(replace(knowledge, interview=rows), Raw({}))]
        assert any(f"'{wrong}'" in problem.message for problem in problems)


def test_a_yes_to_a_question_is_marked_and_free_words_are_not(
    talk: Interview, state: State
) -> None:
    """The file tells apart what was complained of and what was told when asked."""
    state = talk.answer(state, "1", PROMPT)
    text = talk.text(state)
    assert "asked: yes" in next(line for line in text.splitlines() if "inegar" in line)
    assert text.count("asked: yes") == 1
    free = talk.answer(state, "it tastes of banana too", PROMPT.replace("rotten_egg", "skunky"))
    asked = {item.id for item in free.items if item.asked and item.state == "present"}
    assert asked == {"vinegar"}
    assert "banana_fruity" in {item.id for item in free.items}


def test_what_the_safety_question_named_is_not_asked_again(state: State) -> None:
    """ "None" to gushing bottles: nobody is asked about gushing again."""
    assert state.closed >= {"finding:gusher_all", "finding:gusher_some"}
