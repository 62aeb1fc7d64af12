"""The base of every knowledge entry: frozen, unknown keys refused."""

from pydantic import BaseModel, ConfigDict


class Entry(BaseModel):
    """Base of every knowledge entry."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=False, defer_build=True)
