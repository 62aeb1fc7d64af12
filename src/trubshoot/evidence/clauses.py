"""Clauses of a text, and which of their words say nothing of what was seen in this batch.

Somebody may ask ("is it sour?"), suppose ("if it is sour"), look ahead or fear ("worried it will be
flat"), pass on what others say ("the book says sour"), or compare ("clearer than vinegar"). Words
inside such a stretch are marked with its kind. This is grammar of English and nothing about beer.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

WORD = re.compile(r"[a-z0-9]+(?:[.'][a-z0-9]+)*")
_END = re.compile(
    r"[;.!?]+(?=\s|$)|\n|,(?=\s)|\s[-\u2013\u2014]\s|\u2014|"
    r"\b(?:but|however|though|although|except(?! for)|whereas)\b"
)
_DIGIT = re.compile(r"\d")
# "I warmed it, but nothing changed": what came of one's own deed belongs to the words that name it
_OUTCOME = re.compile(
    r"\b((?:i|we)\b[^;.!?\n]{1,80}?)(?:,(?: (?:but|and|yet))?| (?:but|however|though|although))"
    r"(?= (?:still |yet )?(?:there (?:is|was) )?"
    r"(?:nothing (?:has )?(?:changed|happened|moved)\b|no (?:change|difference|effect)\b|"
    r"(?:it|this|that) (?:has |had )?(?:made|brought|makes|did) (?:no|nothing)\b))"
)
_TEMPERATURE = re.compile(r"(\d+(?:\.\d+)?)\s*(?:\u00b0|degrees?|deg\.?)?\s*([cf])\b")
_SPACE = r"\s+"


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


def _any(*patterns: str) -> re.Pattern[str]:
    joined = "|".join(pattern.replace(" ", _SPACE) for pattern in patterns)
    return re.compile(rf"\b(?:{joined})\b")


# a denying word that denies nothing: "not only sour", "no idea why", "never had such a sour beer"
_EMPTY_DENIAL = _any(
    "(?:not|[a-z]+n't) (?:only|just|simply|merely)",
    "(?:[a-z]+n't|cannot|not) (?=(?:stop|keep|prevent) [^;.]{1,40} from )",
    "no (?:doubt|question|wonder|idea|clue|matter)",
    r"no(?= \d)",
    "not to mention",
    "not sure (?=why|what|how|where)",
    "(?:do not|don't) (?:know|understand|get|see)(?= (?:why|what|how|where))",
    "(?:can't|cannot|can not|couldn't|could not) (?:believe|stand|explain|understand|figure out)",
    "(?:can't|cannot|can not|couldn't|could not) get (?:rid of|past|over)",
    "(?:do not|don't|did not|didn't) (?:like|want|enjoy)(?= (?:the|this|that|its|these))",
    "never (?:had|tasted|seen|smelled|met|known) "
    "(?:anything|something|such|a beer|one)(?: (?:so|this|as|like|that))?",
)
PARTING = _words("because so and while until which then if whether")  # parts of a clause
_VERBS = _words(
    """is are was were has have had it there they this i we you my the he she now got gets tastes
    smells looks feels seems did does do"""
)
_ASKING = _words(
    """is are was were am could can might may will would should does do did has have had isn't
    aren't wasn't doesn't don't didn't hasn't haven't couldn't won't wouldn't shouldn't"""
)
_LEADING = _words("so and or also maybe just ok well hi hello please then now")
_OWN_DEED = _words("i we")
_OWN_MODALS = _words("can could should may shall must do did have will would")
_TAKEN_AS_SO = _any(
    "(?:is|are|was|isn't|aren't) (?:it|this|that|these)(?: (?:really|just|still|all|that))? "
    "(?:normal|ok|okay|bad|usual|common|typical|expected|strange|weird|dangerous|a problem|fine|"
    "because|due|why|supposed|something|anything)",
    "why",
    "how come",
    "what (?:causes|caused|makes|made|went|is (?:the|this|that)|are (?:the|these|those)|could|can)",
)
_GENERAL = _any("(?:what|how) (?:does|do|would|did)(?! i\b| we\b| my\b)", "(?:anyone|anybody)")
# what was there and is no more; a phrase may hold these words itself ("the hop smell is gone")
_OVER = _any(
    "(?:is|are|was|were|has|have|it's|that's) (?:now |all |since |completely |long )?"
    "(?:gone|disappeared|vanished)",
    "(?:disappeared|vanished|went away)",
    "(?:when|while) (?:it was |they were )?(?:still )?(?:young|fresh|green)$",
    "no longer$",
    "not any ?more$",
)
_OVER_NOW = _any(
    "(?:now )?(?:(?:it|that|this) )?(?:(?:is|has|went) )?"
    "(?:gone|disappeared|vanished|away|no longer|not any ?more|not now)(?: now)?"
)
_IF = _words("if unless whether lest")
_NOT_IF_AFTER = _words("as even what")
_NO_LONGER_IF = _words("and after until when while as")  # what follows is no condition any more
_THEN_ENDS = ("supposed", "if")
_MATTERS = _words("matters matter helps help")
_MODALS = _words("will would might may shall it'll they'll that'll this'll she'll he'll won't")
_BETWEEN = _words("just also even still probably only then ever all soon")
_AS_SAID = _words("say describe call guess swear like love think")
_SPECULATION = _words("be have it this that they turn become mean get go cause")
_ENDING_UP = _words(
    "be turn go get become end explode burst gush taste smell ferment foam overflow happen"
)
_FEAR = _words(
    """worry worried worries worrying afraid scared fear fears feared fearing concerned nervous
    anxious paranoid dread dreading"""
)
_HOPE = _words("hope hopes hoped hoping hopefully")
_THE = _words("the this my that how these those")
_SAID_OF = _words("the this my that these those some several all every each both")
_CAUSE = _words("because since")
_SOURCES = _words(
    """book books instruction instructions recipe recipes kit forum website article guide people
    some everyone everybody somebody someone shop packet label internet thread post they sheet box
    manual page online"""
)
_SAYING = _words(
    """say says said tell tells told recommend recommends recommended suggest suggests suggested
    claim claims claimed warn warns warned mention mentions mentioned talk talks promise promises
    promised predict predicts predicted advise advises advised write writes"""
)
_LOOKING = _words("look looked looking check checked checking watch watching search searched")
BACK = _words("this it now mine these today current")
_NOT_AS = _words("soon well long far much many")
COUNTS = _words("two three four five six seven eight nine ten eleven twelve")
# not "apart from" and "except for": what they leave out of "all fine" is what is there
_LEFT_OUT = frozenset([("rather", "than"), ("instead", "of"), ("opposed", "to")])
_DONE_BEFORE = _words("be taste smell have get make")
_MONTH_AFTER = _words("in since of early late mid last this")


@dataclass(frozen=True)
class Word:
    """One word of a clause. shut: "" or why it says nothing of this batch; part: which part.

    carried: a "no" that was not said here, but at the head of the list that this clause goes on.
    """

    text: str
    shut: str = ""
    part: int = 0
    after_less: bool = False
    carried: bool = False


@dataclass(frozen=True)
class Clause:
    """Words between two marks. sentence: which one it belongs to; turns: begins with a "but"."""

    words: tuple[Word, ...]
    sentence: int
    turns: bool


_APOSTROPHES = re.compile("[\u2018\u2019\u02bc\u00b4`]")
_BARE_NOT = re.compile(
    r"\b(is|are|was|were|do|does|did|has|have|had|ca|could|wo|would|should|ai)nt\b"
)


def flat_text(text: str) -> str:
    """Return a text in lower case, with degrees drawn together and plain apostrophes."""
    plain = _APOSTROPHES.sub("'", text.lower()).replace("nothing but ", "only ")
    # "isnt sour" denies like "isn't sour": without this it would be heard as sour
    plain = _OUTCOME.sub(r"\1 and", _BARE_NOT.sub(r"\1n't", plain))
    return _TEMPERATURE.sub(r"\1\2", plain) if _DIGIT.search(plain) else plain


def split(text: str) -> list[tuple[str, str]]:
    """Return (clause, the mark that ends it) of a text made flat."""
    out, start = [], 0
    for end in _END.finditer(text):
        out.append((text[start : end.start()], end.group(0).strip()))
        start = end.end()
    return [*out, (text[start:], "")]


def raw_words(text: str) -> list[str]:
    """Return the words of one clause."""
    return WORD.findall(text.replace("-", " "))


def read_clauses(text: str) -> Iterator[Clause]:
    """Give the clauses of a text with every word marked."""
    number, turns = 0, False
    sentence: list[tuple[list[str], bool]] = []
    for said, mark in split(flat_text(text)):
        words = raw_words(_EMPTY_DENIAL.sub(" ", said))
        sentence.append((words, turns))
        turns = mark.isalpha()
        if turns or mark[:1] == "," or (mark and mark in "-\u2013\u2014"):
            continue
        yield from _sentence(sentence, number, question="?" in mark)
        sentence, number = [], number + 1
    yield from _sentence(sentence, number, question=False)


def _sentence(
    clauses: list[tuple[list[str], bool]], number: int, *, question: bool
) -> Iterator[Clause]:
    asked = False
    denied = _list_denied([words for words, _ in clauses])
    for place, (words, turns) in enumerate(clauses):
        if not words:
            continue
        last = place == len(clauses) - 1
        later: list[str] = next((other for other, _ in clauses[place + 1 :] if other), [])
        asked = question and (_is_asked(words, last=last) or (asked and words[0] in ("or", "and")))
        shut = ["asked"] * len(words) if asked else _shut(words)
        over = _ended(words, later)
        shut = [kind or ("ended" if at < over else "") for at, kind in enumerate(shut)]
        parts = _parts(words)
        made = [
            Word(word, shut[at], parts[at], at > 0 and words[at - 1] == "less")
            for at, word in enumerate(words)
        ]
        if place in denied:
            made.insert(0, Word("no", carried=True))
        yield Clause(tuple(made), number, turns)


def _list_denied(clauses: list[list[str]]) -> set[int]:
    """Return the clauses that go on with a denied list: "no film, mould or smell of eggs"."""
    denied: set[int] = set()
    for place, words in enumerate(clauses):
        if not words or words[0] not in ("no", "without", "not", "neither"):
            continue
        run = []
        for later in range(place + 1, len(clauses)):
            rest = clauses[later]
            if not rest or len(rest) > 6 or _VERBS.intersection(rest) or "no" in rest:
                break
            if rest[0] in _SAID_OF or _counts(rest, 0):  # "no smell, two bottles cracked"
                break
            run.append(later)
            if "or" in rest or "nor" in rest:
                denied.update(run)
                break
    return denied


def _parts(words: list[str]) -> list[int]:
    """Return for each word the part of the clause it stands in; "and", "because" begin one."""
    part, out = 0, []
    for word in words:
        part += word in PARTING
        out.append(part)
    return out


def parted(words: tuple[Word, ...], first: int, last: int) -> bool:
    """Tell whether a denial at one place does not reach to another: a new statement begins."""
    for at in range(first + 1, last):
        word = words[at].text
        if word in PARTING - {"and", "so"}:
            return True
        after = words[at + 1].text if at + 1 < len(words) else ""
        if word in ("and", "so") and after in _VERBS:
            return True
    return False


def _is_asked(words: list[str], *, last: bool) -> bool:
    """Tell whether a clause of a question asks whether something is so."""
    start = next((at for at, word in enumerate(words) if word not in _LEADING), 0)
    rest = words[start:]
    text = " ".join(rest)
    if _TAKEN_AS_SO.match(text):
        return False
    if rest[0] in _OWN_MODALS and len(rest) > 1 and rest[1] in _OWN_DEED:
        return rest[0] in ("do", "did", "have")
    if rest[0] in _ASKING or _GENERAL.match(text):
        return True
    return last and len(rest) <= 3 and not _VERBS.intersection(rest)


def _shut(words: list[str]) -> list[str]:
    """Return for each word "" or the kind of stretch it stands in."""
    out, kind = [], ""
    for at, word in enumerate(words):
        if kind and (word in _CAUSE or (word == "then" and kind in _THEN_ENDS)):
            kind = ""
        if kind == "if" and word in _NO_LONGER_IF:
            kind = ""
        before = words[at - 1] if at else ""
        after = words[at + 1] if at + 1 < len(words) else ""
        held = kind in ("compared", "left_out")
        back = word in BACK and before not in ("than", "to", "with")
        if held and (back or word == "there" or (word == "and" and after in _VERBS)):
            kind = ""
        out.append(kind)
        begun = _begins(words, at)
        if begun and not (kind == "if" and begun == "supposed"):  # "if one should burst"
            kind = begun
    return out


def _ended(words: list[str], after: list[str]) -> int:
    """Return before which word a state is told that is over: "the egg smell has gone"; 0 if none.

    after: the words of the next clause, which may say it: "sour at first, but no longer".
    """
    text = " ".join(words)
    found = _OVER.search(text)
    if found:
        return len(text[: found.start()].split())
    return len(words) if _OVER_NOW.fullmatch(" ".join(after)) else 0


def _begins(words: list[str], at: int) -> str:
    """Return the kind of stretch that begins after a word; "" for none."""
    word = words[at]
    before = words[at - 1] if at else ""
    rest = [other for other in words[at + 1 : at + 5] if other not in _BETWEEN]
    after, next_after = (*rest, "", "")[:2]
    if word in _IF:
        return "" if before in _NOT_IF_AFTER else "asked" if word == "whether" else "if"
    if word == "case" and before == "in":
        return "supposed" if after == "it" and next_after in _MATTERS else "if"
    if word in _MODALS:
        return _modal(word, before, after, next_after)
    if word in ("could", "can") and after in _SPECULATION:
        return "supposed"
    if word == "should" or (word == "gonna"):
        return "supposed"
    if word in ("going", "about") and after == "to" and next_after in _ENDING_UP:
        return "supposed"
    if word in ("supposed", "meant", "intended") and after in ("to", "as"):
        return "supposed"
    if word == "used" and after == "to" and next_after in _DONE_BEFORE:
        return "supposed"
    if word in _FEAR:
        named = after == "about" and next_after in _THE
        return "" if named or after in _CAUSE else "feared"
    if word in _HOPE or word in ("avoid", "prevent") or (word == "risk" and after == "of"):
        return "supposed"
    if word == "want" and before in ("don't", "not", "didn't"):
        return "supposed"
    if word.startswith("expect") and after in ("it", "them", "this", "to", "some", "a", "that"):
        return "supposed"
    if word in _LOOKING and (after == "for" or (after == "out" and next_after == "for")):
        return "if"
    return _passed_on(words, at) or _compared(words, at)


def _modal(word: str, before: str, after: str, next_after: str) -> str:
    if word == "won't":
        return "supposed" if after == "be" else ""
    if word in ("will", "would") and after == "not":
        return "supposed" if next_after == "be" else ""  # "it will not clear" tells of now
    if word == "would" and after in _AS_SAID:
        return ""
    if word == "may" and (before in _MONTH_AFTER or not after or after[0].isdigit()):
        return ""
    return "supposed"


def _passed_on(words: list[str], at: int) -> str:
    """Return "told" where words of others begin: of a book, of people in general, of advice."""
    word = words[at]
    after = words[at + 1] if at + 1 < len(words) else ""
    if word in _SAYING and _SOURCES.intersection(words[max(at - 3, 0) : at]):
        return "told"
    if word == "told" and (after in ("to", "that") or words[at + 1 : at + 3] == ["me", "to"]):
        return "told"
    if word in ("read", "heard") and after in ("that", "about", "online", "somewhere"):
        return "told"
    if word == "according" and after == "to":
        return "told"
    return ""


def _counts(words: list[str], at: int) -> bool:
    """Tell whether a number stands at a place: "more than 48 hours" compares nothing."""
    word = words[at] if at < len(words) else ""
    return word[:1].isdigit() or word in COUNTS or word in ("a", "an", "one", "half")


def _compared(words: list[str], at: int) -> str:
    """Return the kind where the thing begins that another is held against, or that is left out."""
    word = words[at]
    before = words[at - 1] if at else ""
    if (before, word) in _LEFT_OUT or word in ("unlike", "versus"):
        return "left_out"
    if word == "than" and not _counts(words, at + 1):
        return "compared"
    if word in ("to", "with") and before == "compared":
        return "compared"
    if word == "as" and at >= 2:
        for back in (at - 2, at - 3):
            if back >= 0 and words[back] == "as" and words[back + 1] not in _NOT_AS:
                return "compared"
    return ""
