"""Where a denial ends before it reaches what is told: "I wasn't there when a bottle burst"."""

from __future__ import annotations

from collections.abc import Sequence

from trubshoot.evidence.clauses import Word

_UNTIL = frozenset(("until", "till"))  # "no bottle burst until today": one did
_ENDS = _UNTIL | frozenset("when while where before after since once".split())
_DENIES_THINGS = frozenset("no none neither nor without zero".split())  # and a whole list of them


def ends_before(clause: Sequence[Word], no: int, last: int) -> bool:
    """Tell whether a denial at one place of a clause does not reach words that end at another.

    Meant for what is grave: "she didn't know and drank it" tells that she drank. A denied list of
    things ("no burst and leaking bottles") is denied to its end.
    """
    between = {word.text for word in clause[no + 1 : last]}
    if between & _ENDS or {word.text for word in clause[last + 1 :]} & _UNTIL:
        return True
    return "and" in between and clause[no].text not in _DENIES_THINGS
