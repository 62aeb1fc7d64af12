"""The diagnosis as JSON, field by field as docs/reference/result_json.md says."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import datetime
from typing import Any, Protocol

from trubshoot import __version__
from trubshoot.diagnosis.own_history import OwnHistory
from trubshoot.diagnosis.result import Diagnosis, RankedCause
from trubshoot.evidence.model import Missing
from trubshoot.report import wording
from trubshoot.safety import HazardBlock, Level

FORMAT_VERSION = 1  # 1: first form


def hazard_json(block: HazardBlock) -> dict[str, Any]:
    """Return one hazard block."""
    return {
        "id": block.id,
        "level": block.level.name,
        "topic": block.topic,
        "hazard": block.hazard,
        "consequence": block.consequence,
        "avoid": [step.do for step in block.avoid],
        "withheld": block.gate_why,
        "because": list(block.because),
        "unknown": list(block.unknown),
        "if_hurt": block.if_hurt,
    }


class Answer(Protocol):
    """What every answer about one batch says of itself."""

    @property
    def hazards(self) -> Sequence[HazardBlock]:
        """The hazard blocks that stand."""

    @property
    def level(self) -> Level:
        """The level of the worst of them."""

    @property
    def batch(self) -> str:
        """The name of the batch."""

    @property
    def asked_at(self) -> datetime:
        """The moment that was asked about."""

    @property
    def engine(self) -> str:
        """The rule engine at work."""

    @property
    def knowledge_version(self) -> str:
        """The version of the knowledge."""


def head_json(answer: Answer) -> dict[str, Any]:
    """Return what every answer about one batch begins with; hazards right after the format."""
    return {
        "format_version": FORMAT_VERSION,
        "hazards": [hazard_json(block) for block in answer.hazards],
        "level": answer.level.name,
        "batch": answer.batch,
        "asked_at": answer.asked_at.isoformat(timespec="minutes"),
    }


def made_by_json(answer: Answer, faults: Sequence[str]) -> dict[str, Any]:
    """Return by which program, knowledge and engine an answer was made; where engines differed."""
    return {
        "version": __version__,
        "knowledge": answer.knowledge_version,
        "engine": answer.engine,
        "faults": list(faults),
    }


def missing_json(gaps: Sequence[Missing]) -> list[dict[str, str]]:
    """Return what a log does not say, what is taken instead, and what it matters for."""
    return [{"what": gap.what, "assumed": gap.assumed, "matters": gap.matters} for gap in gaps]


def diagnosis_json(diagnosis: Diagnosis, labels: dict[str, str]) -> dict[str, Any]:
    """Return a diagnosis as plain data; hazards are the first key after the format."""
    evidence = diagnosis.evidence
    by_conclusion: dict[str, list[dict[str, Any]]] = {}
    for trace in diagnosis.traces:
        by_conclusion.setdefault(trace.conclusion, []).append(
            {
                "rule": trace.rule,
                "because": trace.because,
                "facts": dict(trace.facts),
                "sources": list(trace.sources),
            }
        )
    return {
        **head_json(diagnosis),
        "stage": evidence.stage,
        "findings": [
            {
                "id": state.id,
                "label": labels[state.id],
                "state": state.state,
                "if_so": state.if_so,
                "if_not_so": state.if_not_so,
                "from": state.origin,
                "asked": state.asked,
                "because": list(state.because),
                "doubt": diagnosis.doubts.get(state.id, ""),
                "trace": by_conclusion.get(f"finding.{state.id}", [])
                + by_conclusion.get(f"absence.{state.id}", []),
            }
            for state in diagnosis.findings
        ],
        "not_understood": [
            {"words": item.words, "line": item.line, "nearest": list(item.nearest)}
            for item in evidence.not_understood
        ],
        "contradictions": [
            {"finding": clash.finding, "said": clash.said, "logged": clash.logged}
            for clash in diagnosis.contradictions
        ],
        "contexts": [
            {
                "id": item.id,
                "label": item.label,
                "because": list(item.because),
                "raises": list(item.raises),
            }
            for item in diagnosis.contexts
        ],
        "causes": [_cause_json(cause) for cause in diagnosis.causes],
        "none_of_these": diagnosis.none_of_these,
        "approximate": diagnosis.approximate,
        "ruled_out": [
            {"id": item.id, "label": item.label, "because": list(item.because)}
            for item in diagnosis.ruled_out
        ],
        "next_checks": [
            {
                "finding": check.finding,
                "label": check.label,
                "how": check.how,
                "by": check.by,
                "minutes": check.minutes,
                "gain_bits": check.gain_bits,
                "chance_yes": check.chance_yes,
            }
            for check in diagnosis.next_checks
        ],
        "missing": missing_json(evidence.missing),
        "notes": list(evidence.notes),
        "numbers": {
            "og_points": evidence.og_points,
            "og_how": evidence.og_how,
            "expected_end_points": evidence.expected_end.points if evidence.expected_end else None,
            "expected_end_sigma_points": evidence.expected_end.sigma_points
            if evidence.expected_end
            else None,
            "readings": [
                {
                    "day": reading.day,
                    "raw_sg": reading.raw_sg,
                    "points": reading.points,
                    "sigma_points": reading.sigma_points,
                    "instrument": reading.instrument,
                    "corrections": list(reading.corrections),
                    "line": reading.line,
                }
                for reading in evidence.readings
            ],
            "facts": dict(evidence.facts),
        },
        "sources": sorted({source for cause in diagnosis.named_causes for source in cause.sources}),
        "own_history": _own_json(diagnosis.own),
        "trubshoot": {
            **made_by_json(diagnosis, diagnosis.faults),
            "notice": diagnosis.engine_notice,
        },
    }


def _own_json(own: OwnHistory | None) -> dict[str, Any] | None:
    if own is None:
        return None
    return {
        "folder": own.folder,
        "confirmed": own.confirmed,
        "strength": own.strength,
        "unreadable": own.unreadable,
        "causes": [
            {
                "id": prior.cause,
                "label": prior.label,
                "textbook": prior.textbook,
                "own": prior.own,
                "count": prior.count,
                "at_bound": prior.at_bound,
            }
            for prior in own.priors.values()
        ],
    }


def _cause_json(cause: RankedCause) -> dict[str, Any]:
    return {
        "id": cause.id,
        "label": cause.label,
        "kind": cause.kind,
        "step": cause.step,
        "responsibility": cause.responsibility,
        "in_words": wording.likelihood(cause.responsibility),
        "posterior": cause.posterior,
        "prior": cause.prior,
        "weights": [
            {"what": weight.what, "label": weight.label, "decibans": weight.decibans}
            for weight in cause.weights
        ],
        "does_not_explain": list(cause.unexplained),
        "beside": cause.beside,
        "beside_findings": list(cause.beside_findings),
        "now": list(cause.advice.steps),
        "now_withheld": cause.advice.withheld,
        "avoid": [{"dont": dont, "why": why} for dont, why in cause.advice.avoid],
        "stop": cause.advice.stop,
        "cost": cause.advice.cost,
        "conflicts": [
            {"step": clash.step, "cause": clash.cause, "label": clash.label, "why": clash.why}
            for clash in cause.advice.conflicts
        ],
        "next_time": cause.next_time,
        "confirm": cause.advice.confirm,
        "doubt": cause.doubt,
        "caution": cause.caution,
        "sources": list(cause.sources),
    }


def to_text(plain: dict[str, Any]) -> str:
    """Return plain data as indented JSON text."""
    return json.dumps(plain, ensure_ascii=False, indent=2) + "\n"
