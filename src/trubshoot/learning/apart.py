"""Which finding tells causes apart: worked out from the links, one cause at a time.

With exactly one of some causes taken as true, a finding is noticed with 1 - (1 - leak) *
(1 - strength). What it tells is the mutual information between "which cause" and "noticed or not",
in bits; 0 when it is as common under each.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np

from trubshoot.diagnosis.network import Base
from trubshoot.diagnosis.noisy_or import Vector, entropy_bits


@dataclass(frozen=True)
class Telling:
    """What one finding tells about which of some causes it is."""

    finding: str
    bits: float
    chances: tuple[float, ...]


def telling_apart(
    base: Base,
    causes: Sequence[str],
    weights: Sequence[float] | None = None,
    leave_out: Collection[str] = (),
) -> list[Telling]:
    """Return the findings that tell some causes apart, most telling first; zeros left out.

    Args:
        base: the network of the knowledge.
        causes: the causes compared.
        weights: how likely each is, as chances or in any unit; equal when left out.
        leave_out: findings that are known already, or may not be looked for.
    """
    if len(causes) < 2:
        return []
    share = np.array(weights if weights is not None else [1.0] * len(causes))
    share = share / share.sum()
    noticed = noticed_under(base, causes)
    bits = entropy_bits(share @ noticed) - share @ entropy_bits(noticed)
    order = np.argsort(-bits, kind="stable")
    return [
        Telling(base.findings[column], float(bits[column]), tuple(noticed[:, column].tolist()))
        for column in order
        if bits[column] > 1e-9 and base.findings[column] not in leave_out
    ]


def noticed_under(base: Base, causes: Sequence[str]) -> Vector:
    """Return the chance of every finding (columns) with one cause alone (rows)."""
    rows = [base.causes.index(name) for name in causes]
    return np.asarray(1 - (1 - base.network.leak) * (1 - base.network.strength[rows]))


def likeness(base: Base, cause: str) -> list[tuple[str, float]]:
    """Return other causes by how alike their findings are (cosine of the strengths), most first."""
    row = base.causes.index(cause)
    strength = base.network.strength
    size = np.linalg.norm(strength, axis=1)
    cosine = strength @ strength[row] / np.maximum(size * size[row], 1e-12)
    order = np.argsort(-cosine, kind="stable")
    return [
        (base.causes[other], float(cosine[other]))
        for other in order
        if other != row and cosine[other] > 1e-9
    ]
