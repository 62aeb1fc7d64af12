"""The templates of the page: escaped by rule, read from inside the package."""

from __future__ import annotations

import re
from functools import cache, partial
from importlib import resources
from typing import TYPE_CHECKING, Any

from markupsafe import Markup, escape

from trubshoot.sentences import with_us_units
from trubshoot.units import UnitSystem

if TYPE_CHECKING:
    from jinja2 import Environment

_TICKED = re.compile(r"`([^`]+)`")


@cache
def environment(units: UnitSystem = "metric") -> Environment:
    """Return the environment in which every piece is made; a name without a value is an error.

    Args:
        units: what the page is read in; for "us" its sentences say temperatures in both units.
    """
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    made = Environment(
        loader=FunctionLoader(_template),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["ticked"] = partial(ticked, units=units)
    return made


def _template(name: str) -> str:
    return resources.files(__package__).joinpath("templates", name).read_text("utf-8")


def piece(name: str, *arguments: Any, units: UnitSystem = "metric") -> Markup:
    """Return what a macro of pieces.html makes of its arguments."""
    made = getattr(environment(units).get_template("pieces.html").module, name)(*arguments)
    return Markup(made)


def ticked(words: str | Markup, units: UnitSystem = "metric") -> Markup:
    """Return words of our own escaped, and what stands between back ticks as code."""
    text = with_us_units(str(escape(words)), units)
    return Markup(_TICKED.sub(r"<code>\1</code>", text))
