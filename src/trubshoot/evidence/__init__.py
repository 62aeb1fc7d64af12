"""Evidence: numbers worked out from the log with their spread, and words understood."""

from trubshoot.evidence.collect import collect
from trubshoot.evidence.model import Evidence

__all__ = ["Evidence", "collect"]
