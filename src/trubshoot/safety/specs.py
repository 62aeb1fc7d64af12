"""What a hazard file offers, as far as this layer reads it.

Fields of a hazard file (those marked * are optional):

    id, level, topic, hazard, consequence, avoid [{do, tag}], if_hurt*, no_tasting*, latches*
    unknown_if_missing*  fact name -> plain words, listed when the fact is not known
    never_known*         plain words for what no log can tell; always listed
    cleared_by*          the one state that ends a latched hazard (disposed_all)
    covers*              hazards whose blocks this one takes in, with their reasons and gaps, so
                         that a reader meets one list of steps and not five
    gate*                when handling steps are shown at all:
        needs            facts that must be known as present
        closed_by        facts that shut the gate when present
        after*           {any: [facts], hours: FACT, at_least: NUMBER}: while one of the facts is
                         present, the number must be known and at least so large
        steps            [{do, tag}], in place of the steps that are withheld
        why              one sentence that says why they are withheld

Facts are the names of facts.yaml and the derived ones (said.X, marker.X) with their values:
"present", "absent", "unknown", a number or a text. What is not stated is unknown, and the unknown
never opens a gate.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol


class StepSpec(Protocol):
    """A step as a hazard file gives it."""

    @property
    def do(self) -> str:
        """Return the action, one imperative line."""

    @property
    def tag(self) -> str:
        """Return the kind of step."""


class AfterSpec(Protocol):
    """A waiting time: while one of ``any`` holds, ``hours`` must reach ``at_least``."""

    @property
    def any(self) -> Sequence[str]:
        """Return the facts that start the wait."""

    @property
    def hours(self) -> str:
        """Return the fact that holds the hours gone by."""

    @property
    def at_least(self) -> float:
        """Return the hours to wait [h]."""


class GateSpec(Protocol):
    """When handling steps are shown, and what stands in their place."""

    @property
    def why(self) -> str:
        """Return one sentence that says why steps are withheld."""

    @property
    def needs(self) -> Sequence[str]:
        """Return the facts that must be known as present."""

    @property
    def closed_by(self) -> Sequence[str]:
        """Return the facts that shut the gate when present."""

    @property
    def after(self) -> AfterSpec | None:
        """Return the waiting time, if there is one."""

    @property
    def steps(self) -> Sequence[StepSpec]:
        """Return what stands in place of the withheld steps."""


class HazardSpec(Protocol):
    """A hazard file; any object with these attributes will do."""

    @property
    def id(self) -> str:
        """Return the id, the file's name."""

    @property
    def level(self) -> str:
        """Return the level's word in lower case."""

    @property
    def topic(self) -> str:
        """Return the topic; injury comes first."""

    @property
    def hazard(self) -> str:
        """Return the hazard, one line."""

    @property
    def consequence(self) -> str:
        """Return what can happen."""

    @property
    def avoid(self) -> Sequence[StepSpec]:
        """Return the steps."""

    @property
    def if_hurt(self) -> str | None:
        """Return what to do when somebody is hurt."""

    @property
    def no_tasting(self) -> bool:
        """Return whether tasting is forbidden."""

    @property
    def latches(self) -> bool:
        """Return whether the hazard stays once concluded."""

    @property
    def cleared_by(self) -> str | None:
        """Return the state that ends a latched hazard."""

    @property
    def covers(self) -> Sequence[str]:
        """Return the ids of the hazards taken in."""

    @property
    def unknown_if_missing(self) -> Mapping[str, str]:
        """Return fact names with plain words for their absence."""

    @property
    def never_known(self) -> Sequence[str]:
        """Return plain words for what no log tells."""

    @property
    def gate(self) -> GateSpec | None:
        """Return the gate before handling steps."""
