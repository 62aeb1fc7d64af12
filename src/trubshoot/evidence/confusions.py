"""Words that brewers mix up: said alone they are no sure finding, and ask for a question."""

from __future__ import annotations

from dataclasses import replace

from trubshoot.evidence.model import Understood
from trubshoot.evidence.words import Lexicon, tokens
from trubshoot.knowledge_base import KnowledgeBase

# Words beside a confusable one that do not make it clearer: the sense, the thing, how much.
_NEUTRAL = (
    "taste smell beer bottle wort sample glass bit little slightly very too strong strongly "
    "kind of sort like some something more much only now today a the"
)


def vague_word(knowledge: KnowledgeBase, lexicon: Lexicon, text: str) -> str:
    """Return the id of the confusion that a text is, and nothing more; "" for clearer words."""
    said = set(lexicon.content(tokens(text))) - set(lexicon.content(_NEUTRAL.split()))
    if not said:
        return ""
    for key, confusion in knowledge.confusions.items():
        words = {one for word in confusion.words for one in lexicon.content(tokens(word))}
        if said <= words:
            return key
    return ""


def mark_vague(
    knowledge: KnowledgeBase, lexicon: Lexicon, items: list[Understood]
) -> list[Understood]:
    """Return what was understood, with the confusion of every finding told by such a word alone."""
    return [
        replace(item, vague=vague_word(knowledge, lexicon, item.words))
        if item.kind == "finding" and item.state == "present"
        else item
        for item in items
    ]
