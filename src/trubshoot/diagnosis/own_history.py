"""Chances of causes beforehand as one cellar's own confirmed batches shift them.

Only the ranking may see this: hazards, holds and pressures are worked out before and without it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from trubshoot.diagnosis.network import Base
from trubshoot.diagnosis.noisy_or import Network


@dataclass(frozen=True)
class OwnPrior:
    """The chance of one cause beforehand: by the textbook, and with the cellar's own batches."""

    cause: str
    label: str
    textbook: float
    own: float
    count: int  # confirmed batches in which it was this cause
    at_bound: bool  # the shift would have gone further than is allowed


@dataclass(frozen=True)
class OwnHistory:
    """What one cellar's confirmed batches make of the priors."""

    folder: str
    confirmed: int  # batches with a confirmation that counts, this one left out
    strength: float  # batches that the textbook counts as
    priors: Mapping[str, OwnPrior]
    unreadable: int  # files of the cellar that could not be read

    @property
    def seen(self) -> tuple[OwnPrior, ...]:
        """Return the causes that were confirmed at least once, most often first."""
        found = [prior for prior in self.priors.values() if prior.count]
        return tuple(sorted(found, key=lambda prior: (-prior.count, prior.cause)))


def with_history(base: Base, own: OwnHistory) -> Base:
    """Return the network with the priors of a cellar in place of the textbook's."""
    prior = np.array(
        [
            own.priors[name].own if name in own.priors else float(textbook)
            for name, textbook in zip(base.causes, base.network.prior, strict=True)
        ]
    )
    return replace(base, network=Network(prior, base.network.strength, base.network.leak))
