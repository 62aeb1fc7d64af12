"""Scans of advice texts: each returns what offends, empty when nothing does."""

from __future__ import annotations

import re

_NEGATION = re.compile(
    r"\b(never|not|no|nobody|none|nothing|without|avoid|cannot|can't|don't|neither|nor|stop"
    r"|instead of|rather than)\b",
    re.I,
)
_SENTENCE = re.compile(r"(?<=[.;:!?])\s+")
_BUT = re.compile(r"\b(but|then|however|only|afterwards)\b", re.I)


def commanded(text: str, pattern: re.Pattern[str]) -> list[str]:
    """Return the sentences in which the pattern stands without a negation before it."""
    found = []
    for sentence in _SENTENCE.split(text):
        for match in pattern.finditer(sentence):
            before = sentence[: match.start()]
            turns = [turn.end() for turn in _BUT.finditer(before)]
            if not _NEGATION.search(before[turns[-1] if turns else 0 :]):
                found.append(sentence)
                break
    return found


_BOTTLE = (
    r"(?:the |a |an |any |each |all |every |one |this |these |your )*(?:sealed |closed |suspect )*"
)
_THING = _BOTTLE + r"(?:bottles?|caps?|jars?|cans?|them|it|cases?)\b"
FORBIDDEN = re.compile(
    rf"\b(?:shake|shaking|squeez\w+|tap|pierc\w+|prick\w*|punctur\w+|agitat\w+) {_THING}"
    rf"|\b(?:warm|heat|microwave)(?: up)? {_THING}(?! (?:burst|break|are|is|can|may)\b)"
    r"|\bpasteuri[sz]\w*"
    rf"|\bfreez(?:e|ing) {_THING}|\bin(?:to)? the freezer|\bdeep.?freez\w*"
    r"|\b(?:in|into) (?:the|a|your) car\b|\btransport\w* (?:the )?bottles"
    r"|\bgiv(?:e|ing) (?:\w+ )?away|\bgift\w*|\bsend back|\breturn (?:the|them|it|all|any)\b"
    rf"|\bre-?cap\w*|\bre-?seal(?:ing)? {_THING}"
    r"|\bdrink (?:\w+ (?:and )?)?(?:up|fast|quickly|soon|first|young|fresh|cold)\b"
    rf"|\b(?:vent|burp)(?:ing)?(?: off)?\b(?: {_THING})?|\brelease (?:the )?(?:gas|pressure)"
    r"|\bhold (?:\w+ )?up to (?:the )?light|\bput (?:\w+ )?in (?:the )?sun\b"
    r"|\b(?:move|pour|transfer|decant)\w* (?:\w+ )?(?:in)?to (?:strong|stronger|other|new) bottles",
    re.I,
)
_OPEN = re.compile(
    rf"\bopen(?:ing)?\b(?: slowly| carefully| cold)?,? {_THING}|\bopen (?:slowly|all|cold)\b",
    re.I,
)
_OPEN_TERMS = (
    r"\bcold\b|\bchilled\b",
    r"\boutdoors?\b|\boutside\b",
    r"\bwater\b|\bsoaked towel\b",
    r"\bcap away\b",
)


def forbidden_advice(text: str) -> list[str]:
    """I15: what has hurt people or is refused by recalls, where it is not denied."""
    return commanded(text, FORBIDDEN)


def careless_opening(text: str) -> list[str]:
    """I19: a bottle is opened without cold, outdoors, water or soaked towel, and cap away."""
    return [
        sentence
        for sentence in commanded(text, _OPEN)
        if not all(re.search(term, sentence, re.I) for term in _OPEN_TERMS)
    ]


def reassurance(text: str) -> list[str]:
    """I25: words that call the beer safe."""
    return commanded(
        text,
        re.compile(
            r"\b(?:safe|safely|harmless|risk.?free|no (?:risk|danger|hazard)"
            r"|(?:fine|ok|okay|good|all right) to (?:drink|taste|swallow)"
            r"|drinkable without|not dangerous|not harmful)\b(?!-)",
            re.I,
        ),
    ) + re.findall(r"\b(?:no (?:risk|danger|hazard)|not (?:dangerous|harmful))\b", text, re.I)


def chance_words(text: str) -> list[str]:
    """I33: probability words, percentages, exclamation marks."""
    return re.findall(
        r"\b(?:probabl\w+|likel\w+|unlikel\w+|perhaps|maybe|chances?|rare(?:ly)?|usual(?:ly)?"
        r"|commonly|odds|risk|possibl[ey]|certain(?:ly)?|percent)\b|%|!",
        text,
        re.I,
    )


def salvage(text: str) -> list[str]:
    """I27: ways to keep what must be thrown away."""
    return commanded(
        text,
        re.compile(
            r"\b(?:skim\w*|strain|filter|boil|blend|dilut\w+|scoop|rescue|save) "
            r"(?:it|them|the|off|out|this|beer|wort)\b|\bskim\b",
            re.I,
        ),
    )


_HOT = r"\b(?:hot|boiling|scalding) (?:water|wort|liquid|beer|cleaner)\b"
_GLASS = r"\b(?:glass|carboy|demijohn)"


def hot_into_glass(text: str) -> list[str]:
    """I21: hot liquid into glass."""
    verbs = r"\b(?:pour|fill|rinse|siphon|put|run)\b[^.;]*"
    pattern = rf"{verbs}(?:{_HOT}[^.;]*{_GLASS}|{_GLASS}[^.;]*{_HOT})"
    return commanded(text, re.compile(pattern, re.I))


_CHLORINE = re.compile(r"\b(?:bleach|chlorine|chlorinated|hypochlorite)\b", re.I)
_ACID = re.compile(r"\b(?:vinegar|acid|citric|phosphoric|iodophor|peracetic|descaler)\b", re.I)
_APART = re.compile(r"\b(?:never|not|gas|apart|separate|at a time|before any acid)\b", re.I)


def chlorine_beside_acid(text: str) -> list[str]:
    """I23: chlorine and an acid in one text that neither forbids the pair nor names the gas."""
    if _CHLORINE.search(text) and _ACID.search(text) and not _APART.search(text):
        return [text]
    return []


def own_dilution(text: str) -> list[str]:
    """I24: a dilution of a cleaner or sanitizer other than as the label says."""
    agent = re.search(r"\b(?:saniti[sz]er|cleaner|bleach|iodophor|caustic|peracetic)\b", text, re.I)
    amount = re.search(
        r"\d[\d.,/]* ?(?:ml|millilit\w+|teaspoons?|tsp|tablespoons?|tbsp|g|grams?|oz|ounces?|cups?"
        r"|drops?) (?:\w+ ){0,4}?(?:per|in|to|into|/) ?(?:\d|a |the |lit|gal|l\b)|\b\d+ ?ppm\b",
        text,
        re.I,
    )
    return [text] if agent and amount and "label" not in text.lower() else []


def unrinsed_cleaner(text: str) -> list[str]:
    """I24: a cleaner that is said to need no rinse."""
    return commanded(
        text, re.compile(r"\bno.rinse cleaner|\bcleaner[^.;]*\b(?:needs?|with) no rins\w+", re.I)
    )


def caustic_without_gear(text: str) -> list[str]:
    """I24: caustic named without goggles, gloves, and the word not to neutralise."""
    if not re.search(r"\b(?:caustic|lye|sodium hydroxide)\b", text, re.I):
        return []
    needed = (r"goggles", r"gloves", r"not neutrali[sz]e|never neutrali[sz]e")
    return [text] if not all(re.search(term, text, re.I) for term in needed) else []


def sealing(text: str) -> list[str]:
    """I20: a working fermenter is closed tight."""
    return commanded(
        text,
        re.compile(
            r"\b(?:seal|close|clamp|tape|press|tighten)\b[^.;]*\b(?:tight|shut|down|lid|fermenter)\b",
            re.I,
        ),
    )


def signal_words(text: str) -> list[str]:
    """I31: a second signal word inside a block."""
    return re.findall(r"\b(?:DANGER|WARNING|CAUTION|NOTICE)\b", text)


def words_in(step: str) -> int:
    """Return the number of words of a step; what is in brackets repeats a unit and is left out."""
    return len(re.sub(r"\([^)]*\)", "", step).split())
