"""Batch files: what the brewer logged, read into typed values with the line of each."""

from trubshoot.batch.model import Batch
from trubshoot.batch.reader import read_batch
from trubshoot.batch.schema import json_schema
from trubshoot.batch.timeline import TimedEntry, Timeline

__all__ = ["Batch", "TimedEntry", "Timeline", "json_schema", "read_batch"]
