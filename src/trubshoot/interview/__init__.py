"""The interview: from the brewer's words to a batch and the question worth asking next. Pure."""

from trubshoot.interview.machine import Interview
from trubshoot.interview.state import Item, Option, Prompt, State

__all__ = ["Interview", "Item", "Option", "Prompt", "State"]
