"""YAML written by people: plain values, the line of each, and nothing clever."""

from __future__ import annotations

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from trubshoot import yaml_lines
from trubshoot.yaml_lines import MAX_DEPTH, read_yaml, scalar


def problem_of(text: str) -> tuple[int, str]:
    """Return line and message of the only problem of a text."""
    document = read_yaml(text, "x.yaml")
    (problem,) = document.problems
    assert problem.path == "x.yaml"
    assert problem.mend
    return problem.line, problem.message


@pytest.mark.parametrize(
    ("written", "value"),
    [
        ("1", 1),
        ("-3", -3),
        ("+3", 3),
        ("1.5", 1.5),
        (".5", 0.5),
        ("1e3", 1000.0),
        ("1.", 1.0),
        ("true", True),
        ("FALSE", False),
        ("null", None),
        ("~", None),
        ("", None),
        ("yes", "yes"),  # a word, as in YAML's core schema
        ("no", "no"),
        ("on", "on"),
        ("2026-03-07", "2026-03-07"),  # only the reader of a field knows what is a date
        ("1,012", "1,012"),
        ("1.012 SG", "1.012 SG"),
        ("0x10", "0x10"),
        (".inf", ".inf"),
        (".nan", ".nan"),
        ("12:30", "12:30"),
    ],
)
def test_scalars(written: str, value: object) -> None:
    """Unquoted scalars are numbers, truth values and null by the core schema, else text."""
    got = scalar(written)
    assert got == value
    assert type(got) is type(value)


@pytest.mark.parametrize("quote", ['"', "'"])
def test_quoted_stays_text(quote: str) -> None:
    """What stands in quotes is text."""
    assert read_yaml(f"a: {quote}1.5{quote}\nb: {quote}true{quote}", "x").data == {
        "a": "1.5",
        "b": "true",
    }


def test_lines() -> None:
    """Every key and item knows its line; what has none takes the nearest around it."""
    document = read_yaml("a: 1\nb:\n  - x\n  - y: 2\n    z: [1,\n        2]\n", "x.yaml")
    assert document.problems == []
    assert document.line(("a",)) == 1
    assert document.line(("b",)) == 2
    assert document.line(("b", 0)) == 3
    assert document.line(("b", 1, "y")) == 4
    assert document.line(("b", 1, "z", 1)) == 6
    assert document.line(("b", 1, "missing")) == 4
    assert document.line(("nowhere",)) == 1
    assert document.line(()) == 1


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("a: 1\nb: 2\na: 3", 3, "'a' stands here twice"),
        ("a:\n  b: 1\n  b: 2", 3, "'b' stands here twice"),
        ("a:\n\tb: 1", 2, "a tab is used to indent"),
        ("a:\n  - 1\n \t - 2", 3, "a tab is used to indent"),
        ("a: 1\nb: &x 2", 2, "anchors and aliases"),
        ("a: 1\nb: *x", 2, "anchors and aliases"),
        ("a: !!python/object/apply:os.system [x]", 1, "the tag"),
        ("a: 1\nb: !mine 2", 2, "the tag !mine"),
        ("a: [1, 2", 1, "this is not YAML"),
        ("a: 1\n---\nb: 2", 2, "this is not YAML"),
        ("a: 1\n? [x, y]\n: 2", 2, "a key must be a word"),
        ("a: b: c", 1, "this is not YAML"),
        ("\x00", 0, "this is not YAML"),
    ],
)
def test_refused(text: str, line: int, says: str) -> None:
    """What is clever or broken is refused with its line and a mend."""
    where, message = problem_of(text)
    assert says in message
    assert where in (line, line + 1)  # a parser may notice at the start of the next line


@pytest.mark.parametrize("reader", ["CBaseLoader", "BaseLoader"])
@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("a: foam: brown", "a colon and a space stand inside a text"),
        ("a: 1\nb:2\nc: 3", "a key without a colon and a space"),
        ("a: [1, 2\nb: 3", "a square bracket is not closed"),
        ("log:\n  - {at: 1, saw: x\n  - {at: 2}", "a curly bracket is not closed"),
        ("a:\n  - 1\n - 2", "does not fit the lines above it"),
        ("a: 'it can't be'", "in a text with an apostrophe use double quotation marks"),
        ('a: "abc\nb: 2', "a quotation mark is opened and never closed"),
        ("a: @home", "Put the whole text in quotation marks"),
        ("a: >5 C", "Put the whole text in quotation marks"),
        ("a: 1\n---\nb: 2", "three dashes"),
        (r'a: "C:\quiet"', "a backslash"),
    ],
)
def test_usual_slips_are_told_in_plain_words(
    text: str, says: str, reader: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What people get wrong in YAML is told as what it is, by whichever reader is installed."""
    if not hasattr(yaml, reader):
        pytest.fail(f"pyyaml here has no {reader}")
    monkeypatch.setattr(yaml_lines, "_BASE", getattr(yaml, reader))
    assert says in str(read_yaml(text, "x.yaml").problems[0])


def test_too_deep() -> None:
    """Nesting has an end, and deep nesting cannot crash the reader."""
    deep = "[" * (MAX_DEPTH + 2) + "]" * (MAX_DEPTH + 2)
    assert "nested deeper" in problem_of(f"a: {deep}")[1]
    assert read_yaml("[" * 5000 + "]" * 5000, "x").problems


def test_alias_bomb_is_refused_before_it_grows() -> None:
    """Aliases that multiply are refused unread."""
    text = 'a: &a ["x","x"]\n' + "".join(
        f"{chr(98 + n)}: &{chr(98 + n)} [{','.join([f'*{chr(97 + n)}'] * 9)}]\n" for n in range(9)
    )
    line, message = problem_of(text)
    assert (line, "anchors" in message) == (1, True)


def test_all_problems_are_found() -> None:
    """Several duplicate keys are all reported."""
    document = read_yaml("a: 1\na: 2\nb: 1\nb: 2", "x")
    assert [problem.line for problem in document.problems] == [2, 4]


def test_empty() -> None:
    """An empty text is no data and no problem."""
    document = read_yaml("# only a remark\n", "x")
    assert document.data is None
    assert document.problems == []


_VALUES = st.recursive(
    st.one_of(
        st.none(),
        st.booleans(),
        st.integers(-(10**6), 10**6),
        st.floats(allow_nan=False, allow_infinity=False),
        st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=20),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.from_regex(r"[a-z]{1,8}", fullmatch=True), inner, max_size=3),
    ),
    max_leaves=8,
)


@settings(max_examples=100, deadline=None)
@given(st.dictionaries(st.from_regex(r"[a-z]{1,8}", fullmatch=True), _VALUES, max_size=3))
def test_json_is_read_back(data: dict[str, object]) -> None:
    """JSON is YAML: what is written as JSON is read back as it was."""
    import json

    document = read_yaml(json.dumps(data, ensure_ascii=False), "x")
    assert document.problems == []
    assert document.data == data or not data


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=60))
def test_any_text_gives_data_or_problems(text: str) -> None:
    """No text at all makes the reader fail."""
    document = read_yaml(text, "x")
    for problem in document.problems:
        assert problem.message
        assert 0 <= problem.line <= text.count("\n") + text.count("\r") + 60


@pytest.mark.parametrize("text", ["[" * 300, "{a: " * 300, "- " * 300, "[" * 130 + "]" * 130])
def test_far_too_deep_is_refused_before_nodes_are_made(
    text: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Deep nesting never reaches the recursion in C that some versions of the package die of."""

    def reached(*_: object) -> None:
        raise AssertionError("the nodes were made")

    monkeypatch.setattr("trubshoot.yaml_lines._BASE.get_single_node", reached)
    (problem,) = read_yaml(text, "f").problems
    assert "nested deeper" in problem.message
    assert "flatter" in problem.mend
