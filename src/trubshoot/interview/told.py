"""What was understood, in one line each: the words in which an interview repeats it."""

from __future__ import annotations

from trubshoot.interview.state import Item

_KINDS = {"finding": "Noticed", "sign": "Noticed", "context": "Circumstance"}


def told(item: Item) -> str:
    """Return what was understood, in one line."""
    if item.kind == "lost":
        nearest = f" (nearest known: {'; '.join(item.nearest)})" if item.nearest else ""
        asked = " (I will ask what you mean)" if item.vague else nearest
        return f'Not understood: "{item.value}"{asked}'
    if item.kind == "detail":
        value = item.said if item.id == "stage" else item.value
        return f"{item.label}: {value}"
    kind = "Not there" if item.state == "absent" else _KINDS[item.kind]
    return f"{kind}: {item.label}{' (I will ask which kind)' if item.vague else ''}"
