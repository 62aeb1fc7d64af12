"""Options that several commands share, as the command line takes them."""

from __future__ import annotations

from typing import Annotated

import typer

Form = Annotated[str, typer.Option("--format", help="text or json.")]
At = Annotated[
    str | None, typer.Option("--at", help='The day to answer for, such as "2026-04-12".')
]
Units = Annotated[
    str | None, typer.Option("--units", help="us or metric; the file's own by default.")
]
UnitsWithoutFile = Annotated[
    str | None, typer.Option("--units", help="us or metric; metric by default.")
]
