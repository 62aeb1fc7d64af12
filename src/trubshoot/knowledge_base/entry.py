"""The base of every knowledge entry: frozen, unknown keys refused."""

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict

from trubshoot.sentences import prose

Prose = Annotated[str, AfterValidator(prose)]  # words for people; temperatures can be told in F


class Entry(BaseModel):
    """Base of every knowledge entry."""

    model_config = ConfigDict(extra="forbid", frozen=True, strict=False, defer_build=True)
