"""The machine of the interview: what it understands, asks, takes back, and writes down."""

from __future__ import annotations

from datetime import datetime

import pytest

from trubshoot.batch import read_batch
from trubshoot.diagnosis import Diagnostician
from trubshoot.evidence.confusions import vague_word
from trubshoot.interview import Interview, State
from trubshoot.interview.choose import may_ask, worth_asking
from trubshoot.safety import Level

NOW = datetime(2026, 11, 25, 18)
FULL = "It tastes sour, no film. OG 1.053, 3 weeks at 68F, 5 oz corn sugar in 5 gallons"


@pytest.fixture(name="talk")
def _talk(diagnostician: Diagnostician) -> Interview:
    return Interview(diagnostician, NOW)


def after(talk: Interview, *answers: str) -> State:
    """Return the state after answers given one after the other."""
    state = State()
    for answer in answers:
        state = talk.answer(state, answer)
    return state


def understood(state: State) -> dict[str, str]:
    """Return what is understood: findings and signs with their state, details with their value."""
    return {item.id: item.state or item.value for item in state.items}


def test_opens_with_own_words_and_repeats_all_of_them(talk: Interview) -> None:
    """The sentence of the brief is understood whole, words and numbers, and waits for a yes."""
    assert talk.prompt(State()).id == "opening"
    state = after(talk, FULL)
    prompt = talk.prompt(state)
    assert prompt.form == "repeat"
    assert set(prompt.about) == set(state.items)
    assert understood(state) == {
        "sour_tart": "present",
        "white_film_on_surface": "absent",
        "stage": "bottled",
        "og": "1.053",
        "fermenter_days": "3 weeks",
        "beer_temp": "68 F",
        "sugar": "5 oz corn sugar",
        "bottled_volume": "5 gallons",
    }


def test_told_numbers_become_log_values(talk: Interview) -> None:
    """What was told as numbers stands in the batch as values that the rules work on."""
    state = after(talk, FULL, "yes", "none", "2", "2 weeks")
    batch = read_batch(talk.text(state), NOW)
    bottling = batch.bottlings()[0]
    assert bottling.at == datetime(2026, 11, 11, 12)
    assert bottling.volume_l == pytest.approx(18.927, abs=0.001)
    assert bottling.sugars is not None
    assert bottling.sugars[0].kind == "corn sugar"
    assert talk.diagnosis(state).evidence.og_points == pytest.approx(53.0, abs=0.5)
    assert batch.deeds("pitched")[0].at == datetime(2026, 10, 21, 12)


def test_a_number_takes_something_out(talk: Interview) -> None:
    """What was understood wrongly is taken out by its number, and the rest is repeated."""
    state = after(talk, FULL)
    place = [item.id for item in state.items].index("og") + 1
    state = talk.answer(state, str(place))
    assert "og" not in understood(state)
    assert talk.prompt(state).form == "repeat"
    assert "1.053" not in talk.text(state)


def test_other_words_replace_a_number(talk: Interview) -> None:
    """A number told again goes before the old one."""
    state = after(talk, FULL, "OG 1.048")
    assert [item.value for item in state.items if item.id == "og"] == ["1.048"]
    assert talk.prompt(state).form == "repeat"


def test_not_sour_is_denied(talk: Interview) -> None:
    """A denial is understood as a denial, and written as one."""
    state = after(talk, "flat in the bottle, not sour")
    assert understood(state)["sour_tart"] == "absent"
    assert "no_sign_of" in talk.text(state)


def test_confusable_word_is_asked_about(talk: Interview) -> None:
    """A word that people mix up leads to a question, and the answer takes its place."""
    state = after(talk, "in the bottle it tastes sour", "yes", "none")
    prompt = talk.prompt(state)
    assert prompt.id == "confusion:sour"
    vinegar = talk.answer(state, "1")
    assert understood(vinegar)["vinegar"] == "present"
    assert "sour_tart" not in understood(vinegar)
    nothing = talk.answer(state, "3")
    assert {"vinegar", "sour_tart"}.isdisjoint(understood(nothing))


def test_until_it_is_known_a_confusable_word_is_only_likely(talk: Interview) -> None:
    """Without an answer the finding is soft, with one it is sure."""
    state = after(talk, "in the bottle it tastes sour", "yes", "none", "don't know")
    soft = next(item for item in talk.diagnosis(state).findings if item.id == "sour_tart")
    assert soft.state == "likely"
    clear = after(talk, "in the bottle it tastes sour", "yes", "none", "2")
    sure = next(item for item in talk.diagnosis(clear).findings if item.id == "sour_tart")
    assert sure.state == "present"


@pytest.mark.parametrize(
    ("word", "confusion"),
    [
        ("bitter", "bitter"), ("skunky", "skunky"), ("smells of apple", "apple"),
        ("buttery", "butter"), ("smells of sulphur", "sulphur"), ("chemical taste", "chemical"),
        ("metallic", "metallic"), ("infected", "infected"),
    ],
)  # fmt: skip
def test_every_confusable_word_drives_its_question(
    talk: Interview, word: str, confusion: str
) -> None:
    """Each word of the table, said alone, is asked about."""
    state = after(talk, f"the bottled beer is bad, {word}", "yes", "none")
    assert talk.prompt(state).id == f"confusion:{confusion}"


def test_clear_words_are_not_asked_about(talk: Interview) -> None:
    """Who says buttered popcorn is not asked what kind of butter."""
    state = after(talk, "bottled, it tastes of buttered popcorn", "yes", "none")
    assert not talk.prompt(state).id.startswith("confusion")


@pytest.mark.parametrize(
    ("text", "wanted"),
    [("a bit sour", "sour"), ("sour like vinegar", ""), ("smells of apple", "apple"), ("beer", "")],
)
def test_only_a_word_alone_is_vague(talk: Interview, text: str, wanted: str) -> None:
    """A word beside a confusable one that says which kind is meant makes it clear."""
    assert vague_word(talk.work.knowledge, talk.work.lexicon, text) == wanted


def test_both_ways_is_shown_and_asked(talk: Interview) -> None:
    """Somebody who says a thing and its contrary is asked which holds."""
    state = after(talk, "bottled two weeks ago, all bottles are flat", "yes")
    state = talk.answer(state, "no flat bottles")
    assert talk.prompt(state).form == "repeat"
    state = talk.answer(talk.answer(state, "yes"), "none")
    assert talk.prompt(state).id == "both:flat_all_bottles"
    assert understood(talk.answer(state, "no"))["flat_all_bottles"] == "absent"
    assert "flat_all_bottles" not in understood(talk.answer(state, "don't know"))


def test_words_against_the_log_are_asked_about(diagnostician: Diagnostician) -> None:
    """Where words and the log's numbers differ, both are shown and one is chosen."""
    text = (
        "batch: x\nwort: {expected_fg: 1.010}\nlog:\n  - {at: 2026-11-01, gravity: 1.050}\n"
        "  - {at: 2026-11-01, did: pitched}\n  - {at: 2026-11-10, gravity: 1.030}\n"
        "  - {at: 2026-11-24, gravity: 1.030}\n"
    )
    talk = Interview(diagnostician, NOW, None, text)
    logged = {item.id for item in talk.diagnosis(State()).findings if item.origin == "log"}
    assert "gravity_stuck_high" in logged
    state = after(talk, "no stuck fermentation", "yes", "none")
    assert talk.prompt(state).id == "log:gravity_stuck_high"
    assert "gravity_stuck_high" not in understood(talk.answer(state, "1"))


def test_hazard_stands_in_the_very_next_prompt(talk: Interview) -> None:
    """A burst bottle is there at once, before what was understood is even confirmed."""
    prompt = talk.prompt(after(talk, "one bottle exploded last night"))
    assert prompt.form == "repeat"
    assert max(block.level for block in prompt.hazards) == Level.DANGER


def test_danger_ends_the_questions(talk: Interview) -> None:
    """Under DANGER nothing more is asked: the block says what to do."""
    state = after(talk, "bottled two weeks ago, they are flat", "yes")
    assert talk.prompt(state).id == "safety:safety_bottles"
    state = talk.answer(state, "1")
    assert talk.prompt(state).id == "end"
    assert talk.diagnosis(state).level == Level.DANGER


def test_safety_comes_before_all_other_questions(talk: Interview) -> None:
    """The first question to bottled and to fermenting beer alike is the one on safety."""
    state = after(talk, "bottled two weeks ago, they are flat", "yes")
    assert talk.prompt(state).id == "safety:safety_bottles"
    state = after(talk, "pitched 3 days ago, no airlock bubbles", "yes")
    assert talk.prompt(state).id == "safety:safety_fermenter"


def test_under_a_bottle_hazard_no_bottle_is_touched(talk: Interview) -> None:
    """While bottles are suspect no question asks for a hand, a nose or a tongue near one."""
    state = after(talk, "bottled three weeks ago, every bottle gushes", "yes", "no")
    knowledge, asked = talk.work.knowledge, 0
    for _ in range(12):
        prompt = talk.prompt(state)
        if prompt.form == "end":
            break
        if prompt.id.startswith("finding:"):
            finding = knowledge.findings[prompt.id.partition(":")[2]]
            assert finding.check.by not in ("measure", "open_bottle", "wait")
            if finding.check.by != "ask" or "tasting" in finding.stages:
                assert "from memory only" in prompt.how
                assert finding.check.how not in prompt.how
                asked += 1
        if prompt.id.startswith("group:"):
            assert "from memory only" in prompt.how
            assert not any(option.how for option in prompt.options)
            for option in prompt.options:
                assert knowledge.findings[option.says].check.by not in ("open_bottle", "wait")
            asked += 1
        state = talk.answer(state, "don't know")
    else:
        pytest.fail("the interview does not end")
    assert asked
    assert talk.diagnosis(state).level >= Level.WARNING


def test_under_a_bottle_hazard_nothing_is_even_weighed(talk: Interview) -> None:
    """Of all questions that could come under a bottle hazard, none needs a hand near a bottle."""
    state = after(talk, "bottled three weeks ago, every bottle gushes", "yes", "no")
    diagnosis = talk.diagnosis(state)
    worth = worth_asking(talk.work, diagnosis, ())
    assert worth
    for name in (name for item in worth for name in item.findings):
        finding = talk.work.knowledge.findings[name]
        assert may_ask(finding, diagnosis.hazards), name
        assert finding.check.by in ("ask", "look", "smell", "taste")
        assert finding.check.by == "ask" or finding.check.minutes <= 5


def test_nothing_known_from_the_log_is_asked(diagnostician: Diagnostician) -> None:
    """What the file says is not asked again: neither place, nor age, nor findings."""
    text = (
        "batch: x\nlog:\n  - {at: 2026-11-01, gravity: 1.050}\n  - {at: 2026-11-01, did: pitched}\n"
        "  - {at: 2026-11-24, saw: no airlock bubbles}\n"
    )
    talk = Interview(diagnostician, NOW, None, text)
    state = after(talk, "nothing")
    known = {item.id for item in talk.diagnosis(state).findings}
    for _ in range(15):
        prompt = talk.prompt(state)
        if prompt.form == "end":
            break
        kind, _, key = prompt.id.partition(":")
        assert kind != "detail"
        assert key not in known
        state = talk.answer(state, "no")
    else:
        pytest.fail("the interview does not end")


def test_dont_know_is_never_no(talk: Interview) -> None:
    """An unknown answer leaves no trace in the batch."""
    state = after(talk, "pitched 3 days ago, no airlock bubbles", "yes", "none")
    prompt = talk.prompt(state)
    assert prompt.id.startswith(("finding:", "group:"))
    unknown = talk.answer(state, "don't know")
    assert talk.text(unknown) == talk.text(state)
    assert talk.prompt(unknown).id != prompt.id


def test_back_takes_the_last_answer_away(talk: Interview) -> None:
    """Going back leads to the very state before, however often."""
    state = after(talk, FULL, "yes", "none", "2", "2 weeks")
    before = after(talk, FULL, "yes", "none", "2")
    assert talk.back(state) == before
    assert talk.back(talk.back(talk.back(before))).turns == (("opening", FULL),)


def test_kept_turns_lead_to_the_same_state(talk: Interview, diagnostician: Diagnostician) -> None:
    """An interview gone on with another day knows what it knew."""
    state = after(talk, FULL, "yes", "none", "2", "2 weeks")
    assert Interview(diagnostician, NOW).replay(state.turns) == state
    broken = [*state.turns, ("finding:gone_by_now", "yes"), ("odd",), ("", "")]
    assert understood(talk.replay(broken)) == understood(state)  # type: ignore[arg-type]


def test_answers_in_free_words_are_taken_too(talk: Interview) -> None:
    """Words in place of yes or no are read, repeated, and the question comes again."""
    state = after(talk, "pitched 3 days ago, no airlock bubbles", "yes", "none")
    question = talk.prompt(state).id
    state = talk.answer(state, "there is a brown ring of foam")
    assert talk.prompt(state).form == "repeat"
    assert "brown_scum_on_foam" in understood(state)
    assert talk.prompt(talk.back(state)).id == question


@pytest.mark.parametrize(
    "nonsense",
    ["", "xyzzy plugh", "42 17", "\x00\x07\x1b[31m", "?" * 50, "a" * 10_000, "\ud800", "[{}]: #|>"],
)
def test_nonsense_never_ends_it_nor_loses_an_answer(talk: Interview, nonsense: str) -> None:
    """Whatever is typed at whatever prompt, nothing breaks and earlier answers stay."""
    state = State()
    for good in (FULL, "yes", "none", "2", "2 weeks"):
        told = understood(state)
        tried = talk.answer(state, nonsense)
        talk.prompt(tried)
        assert told.items() <= understood(tried).items()
        state = talk.answer(state, good)


def test_unreadable_times_are_answered_with_how_to_write_them(talk: Interview) -> None:
    """A bare number is no time; the message says what to write, and the question stays."""
    state = after(talk, "bottled beer is flat", "yes", "none")
    assert talk.prompt(state).id == "detail:bottled_days"
    tried = talk.answer(state, "3")
    assert "Write it like" in talk.prompt(tried).message
    assert talk.prompt(tried).id == "detail:bottled_days"


def test_bottled_before_pitched_is_asked_about(talk: Interview) -> None:
    """Times that cannot both be right are asked about, not repaired in silence."""
    state = after(talk, "pitched 2 weeks ago, bottled 3 weeks ago, flat", "yes", "none")
    assert talk.prompt(state).id == "odd:pitched_days"
    state = talk.answer(state, "5 weeks")
    assert talk.prompt(state).id != "odd:pitched_days"
    assert understood(state)["pitched_days"] == "5 weeks"


def test_unknown_day_of_bottling_is_said_in_the_file(talk: Interview) -> None:
    """When nobody knows since when, the file says that a day stands in for it."""
    state = after(talk, "bottled beer is flat", "yes", "none", "don't know")
    assert "day of bottling is not known" in talk.text(state)


def test_words_said_to_a_file_become_lines_of_its_log(diagnostician: Diagnostician) -> None:
    """A log that counts days gets lines with days; its other lines stay as they are."""
    text = "batch: x\ntoday: 3\nlog:\n  - {day: 0, did: pitched}\n"
    talk = Interview(diagnostician, NOW, None, text)
    state = after(talk, "no airlock bubbles, it is 17 C", "yes")
    assert talk.text(state).startswith(text)
    assert [line.flow for line in talk.lines(state)] == [
        "{day: 3, beer: 17 C}",
        "{day: 3, saw: no airlock bubbles}",
    ]


def test_place_told_later_changes_what_words_mean(talk: Interview) -> None:
    """No foam means one thing in a fermenter and another in a glass; the place decides."""
    state = after(talk, "no foam", "yes")
    fermenting = talk.answer(state, "1", "detail:stage")
    assert "no_foam_day_2" in understood(fermenting)
    assert "poor_head" not in understood(fermenting)
    bottled = talk.answer(state, "2", "detail:stage")
    assert "poor_head" in understood(bottled)
    assert "no_foam_day_2" not in understood(bottled)


def test_diagnosis_is_that_of_the_text(talk: Interview, diagnostician: Diagnostician) -> None:
    """The file that is saved gives the causes, hazards and bottling verdict of the interview."""
    state = after(talk, FULL, "yes", "none", "2", "2 weeks")
    own = talk.diagnosis(state)
    saved = diagnostician.diagnose(read_batch(talk.text(state, "Bitter"), NOW), NOW)
    assert [(one.id, one.responsibility) for one in own.causes] == [
        (one.id, one.responsibility) for one in saved.causes
    ]
    assert own.hazards == saved.hazards
