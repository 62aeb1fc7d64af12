"""After a command that was not understood: slips of typing that the message itself cannot name."""

from __future__ import annotations

from collections.abc import Sequence

# options that take words; what a shell parts at the blanks reaches the program as several
_WORDS = ("--saw", "--smelled", "--tasted", "--no-sign-of", "--change", "--words", "--at")
_DASHES = ("\u2013", "\u2014", "\u2012", "\u2212")  # what some editors make of two hyphens
_QUOTES = ("\u201c", "\u201d", "\u201e", "\u2018", "\u00ab", "\u00bb")


def hint(arguments: Sequence[str]) -> str:
    """Return a sentence on how the words were probably meant to be typed; empty when there is none.

    Args:
        arguments: what was typed after the program's name.
    """
    for word in arguments:
        if word.startswith(_DASHES):
            return f'Options begin with two plain hyphens: "--{word.lstrip("".join(_DASHES))}".'
        if word.startswith(_QUOTES):
            return 'Use plain quotation marks round words: "white film".'
    for number, word in enumerate(arguments):
        if word not in _WORDS:
            continue
        said = []
        for after in arguments[number + 1 :]:
            if after.startswith("-") or after.lower().endswith((".yaml", ".yml")):
                break
            said.append(after)
        if len(said) > 1:
            return f'Words after {word} belong in quotation marks: {word} "{" ".join(said)}".'
    return ""
