"""The commands under `knowledge`."""

from __future__ import annotations

from pathlib import Path

import typer

from trubshoot.cli.exits import BAD_INPUT, FINE
from trubshoot.errors import UnitError


def run_check(folder: Path | None) -> int:
    """Check the knowledge files; prints every problem and note, returns the exit code.

    What would not load is said first; the lint looks only at knowledge that loads.
    """
    from trubshoot.knowledge_base.checks import check_to_load
    from trubshoot.knowledge_base.loader import read_all
    from trubshoot.lint import lint

    knowledge, raw, problems = read_all(folder)
    if knowledge is not None:
        problems = check_to_load(knowledge, raw)
    remarks = lint(knowledge, raw) if knowledge is not None and not problems else []
    faults = [remark for remark in remarks if not remark.note]
    notes = [remark for remark in remarks if remark.note]
    for item in (*sorted(problems), *faults):
        typer.echo(str(item))
    if notes:
        typer.echo("Notes, true and no fault:")
    for note in notes:
        typer.echo(f"  {note}")
    if knowledge is None or problems or faults:
        count = len(problems) + len(faults)
        typer.echo(f"{count} problem{'s' if count != 1 else ''}.")
        return BAD_INPUT
    typer.echo(
        f"{len(knowledge.causes)} causes, {len(knowledge.findings)} findings, "
        f"{len(knowledge.rules)} rules, {len(knowledge.hazards)} hazards, "
        f"{len(knowledge.sources)} sources: no problem, {len(notes)} notes."
    )
    return FINE


def run_source(key: str) -> int:
    """Print one source. Raises UnitError for a key that is not known."""
    import difflib

    from trubshoot.knowledge_base import load_knowledge
    from trubshoot.report.wording import how_much_read

    sources = load_knowledge().sources
    if key not in sources:
        close = difflib.get_close_matches(key, list(sources), n=3)
        raise UnitError(f'no source "{key}". Nearest: {", ".join(close) or "none"}.')
    source = sources[key]
    typer.echo(f"{key}: {source.citation}\n{how_much_read(source.basis, source.extent)}")
    return FINE
