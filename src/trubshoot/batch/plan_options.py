"""The plan given by options: it is read by the readers of the batch file, then put in its place."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any

from trubshoot.batch.model import Batch, Bottles
from trubshoot.batch.reader import read_batch
from trubshoot.errors import BatchError, Problem
from trubshoot.yaml_lines import read_yaml

_PLAN = ("sugar", "volume", "stirred", "bottles", "target", "headspace")


def with_options(batch: Batch, text: str, name: str, options: Mapping[str, str | None]) -> Batch:
    """Return the batch with its plan changed by options for this run.

    Args:
        batch: the batch as read from the file.
        text: what stands in the file, for what its own plan says.
        name: how messages call the file.
        options: sugar, volume, stirred, bottles, storage, target, headspace; None for not given.

    Raises: BatchError: an option that cannot be read, named by its option.
    """
    given = {name: value for name, value in options.items() if value is not None}
    if not given:
        return batch
    data = read_yaml(text.removeprefix("\ufeff"), name).data
    own = data.get("plan") if isinstance(data, dict) else None
    plan: dict[str, Any] = dict(own) if isinstance(own, dict) else {}
    for name in _PLAN:
        if name in given:
            plan[name] = given[name]
    if "bottles" in given:  # the option speaks for all that the file says of bottles
        for key in ("count", "size"):
            plan.pop(key, None)
    storage = _storage(data, given.get("storage"))
    small = {"batch": batch.name, "units": batch.units, "plan": plan, "storage": storage}
    try:
        read = read_batch(json.dumps(small, indent=1), name="options")
    except BatchError as error:
        raise BatchError([_named(item, given) for item in error.problems]) from error
    changes: dict[str, Any] = {"plan": read.plan}
    if "storage" in given:
        changes["storage"] = read.storage
    if "bottles" in given:
        changes["bottles"] = Bottles(closure=batch.bottles.closure)
    return batch.model_copy(update=changes)


def _storage(data: object, text: str | None) -> object:
    """Return place and temperature of "cellar 18 C", beside what the file says."""
    own = data.get("storage") if isinstance(data, dict) else None
    if text is None:
        return own
    found = re.fullmatch(r"(?P<where>[^0-9+~-]*?)[\s,;:]*(?P<temp>[-+~]?[0-9].*)?", text.strip())
    if found is None:
        return {"where": text}
    parts = {key: value for key, value in found.groupdict().items() if value}
    return {**(own if isinstance(own, dict) and len(parts) == 1 else {}), **parts}


def _named(problem: Problem, given: Mapping[str, str]) -> Problem:
    """Return a problem under the name of the option it comes from."""
    for name in given:
        if problem.message.startswith((f"{name}:", "temp:", "where:")) or name in problem.message:
            option = "storage" if problem.message.startswith(("temp:", "where:")) else name
            return Problem(f"--{option}", 0, problem.message, problem.mend)
    return Problem("options", 0, problem.message, problem.mend)
