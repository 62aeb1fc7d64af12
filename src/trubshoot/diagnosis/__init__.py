"""Diagnosis: what is known, what may have caused it, and what to look at next."""

from trubshoot.diagnosis.diagnose import Diagnostician
from trubshoot.diagnosis.result import Diagnosis

__all__ = ["Diagnosis", "Diagnostician"]
