"""All knowledge files -> one frozen KnowledgeBase; every problem is found before it is refused."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any, TypeVar

from pydantic import TypeAdapter, ValidationError

from trubshoot import __version__
from trubshoot.errors import KnowledgeError, Problem
from trubshoot.knowledge_base import (
    advice_schema,
    asking,
    changes,
    parsed_cache,
    schema,
    tables,
)
from trubshoot.knowledge_base.files import knowledge_folder, yaml_files
from trubshoot.yaml_lines import Document, read_yaml

T = TypeVar("T")

# what only proves the entries: a third of all that is read, and no answer to a brewer needs it
_PROOF = {"causes": "examples", "findings": "examples", "rules": "tests"}

# folder -> type of one file in it; file stem = id
_FOLDERS: dict[str, type[schema.Entry]] = {
    "causes": schema.Cause,
    "findings": schema.Finding,
    "rules": schema.RuleSpec,
    "hazards": schema.Hazard,
    "holds": schema.Hold,
    "checklists": schema.Checklist,
}
# file at the top -> type of one row in it; the key is the id
_TABLES: dict[str, type[schema.Entry]] = {
    "sources": schema.Source,
    "contexts": schema.Context,
    "signs": schema.Sign,
    "facts": schema.Fact,
    "synonyms": schema.Synonyms,
    "common_words": schema.CommonWords,
    "confusions": asking.Confusion,
    "interview": asking.InterviewItem,
    "changes": changes.ProcessChange,
    "forbidden_actions": advice_schema.ForbiddenActions,
    "yeast_classes": tables.YeastClass,
    "sugars": tables.Sugar,
    "fermentables": tables.Fermentable,
    "bottles": tables.Bottle,
    "sanitizers": tables.Sanitizer,
    "constants": tables.Constant,
}


@dataclass(frozen=True)
class KnowledgeBase:
    """Everything trubshoot knows, typed; ids are keys, files in order of their names."""

    sources: dict[str, schema.Source]
    steps: dict[str, schema.Step]
    contexts: dict[str, schema.Context]
    signs: dict[str, schema.Sign]
    facts: dict[str, schema.Fact]
    synonyms: dict[str, schema.Synonyms]
    common_words: dict[str, schema.CommonWords]
    confusions: dict[str, asking.Confusion]
    interview: dict[str, asking.InterviewItem]
    changes: dict[str, changes.ProcessChange]
    forbidden_actions: dict[str, advice_schema.ForbiddenActions]
    causes: dict[str, schema.Cause]
    findings: dict[str, schema.Finding]
    rules: dict[str, schema.RuleSpec]
    hazards: dict[str, schema.Hazard]
    holds: dict[str, schema.Hold]
    checklists: dict[str, schema.Checklist]
    yeast_classes: dict[str, tables.YeastClass]
    sugars: dict[str, tables.Sugar]
    fermentables: dict[str, tables.Fermentable]
    bottles: dict[str, tables.Bottle]
    sanitizers: dict[str, tables.Sanitizer]
    constants: dict[str, tables.Constant]
    version: str  # first digits of the hash over all files

    def constant(self, name: str) -> float:
        """Return the value of a named constant."""
        return self.constants[name].value


@dataclass(frozen=True)
class Raw:
    """The files as plain data, with a line for every value."""

    documents: dict[str, Document]

    def line(self, path: str, *keys: str | int) -> int:
        """Return the line of a value in a file; 0 when the file was not read here."""
        document = self.documents.get(path)
        return document.line(keys) if document is not None else 0

    def table_file(self, table: str, key: str | int) -> str:
        """Return the file in which a row of a table stands; a table may be spread over several."""
        for path, document in self.documents.items():
            if path.startswith(f"{table}_") and (key,) in document.lines:
                return path
        return f"{table}.yaml"


def load_knowledge(named: str | Path | None = None) -> KnowledgeBase:
    """Return the knowledge base for work; the same files read again come from a cache.

    The examples and tests beside the entries are left out: `read_all` gives them.

    Raises: KnowledgeError listing every problem with file, line and mend.
    """
    folder = knowledge_folder(named)
    contents = _contents(folder)
    digest = _digest(contents)
    kept = parsed_cache.read(digest)
    if kept is None:
        plain, raw, problems = parse(contents)
        knowledge = None
        if not problems:
            knowledge, problems = build(plain, digest, raw)
        if knowledge is not None:
            from trubshoot.knowledge_base.checks import check_to_load

            problems = check_to_load(knowledge, raw)
        if problems:
            raise KnowledgeError(problems)
        for table, proof in _PROOF.items():
            plain[table] = {key: {**row, proof: []} for key, row in plain[table].items()}
        parsed_cache.write(digest, plain)
        knowledge, problems = build(plain, digest, raw)
    else:
        knowledge, problems = build(kept, digest)
    if knowledge is None:
        raise KnowledgeError(problems)
    return knowledge


def read_all(named: str | Path | None = None) -> tuple[KnowledgeBase | None, Raw, list[Problem]]:
    """Read the files without cache, with lines: for the checks of `trubshoot knowledge check`."""
    contents = _contents(knowledge_folder(named))
    plain, raw, problems = parse(contents)
    if problems:
        return None, raw, problems
    knowledge, problems = build(plain, _digest(contents), raw)
    return knowledge, raw, problems


def _contents(folder: Traversable) -> dict[str, bytes]:
    return {path: file.read_bytes() for path, file in yaml_files(folder)}


def _digest(contents: dict[str, bytes]) -> str:
    state = hashlib.sha256(__version__.encode())
    for path, content in contents.items():
        state.update(f"{path}\0{len(content)}\0".encode())
        state.update(content)
    return state.hexdigest()


def parse(contents: dict[str, bytes]) -> tuple[dict[str, Any], Raw, list[Problem]]:
    """Return the files as plain data by table, with lines and all problems."""
    plain: dict[str, Any] = {name: {} for name in (*_FOLDERS, *_TABLES)}
    plain["steps"] = {}
    documents: dict[str, Document] = {}
    problems: list[Problem] = []
    for path, content in contents.items():
        try:
            document = read_yaml(content.decode("utf-8"), path)
        except UnicodeDecodeError:
            problems.append(Problem(path, 0, "is not UTF-8 text.", "Save it as UTF-8."))
            continue
        documents[path] = document
        problems += document.problems
        if document.problems:
            continue
        folder, _, name = path.rpartition("/")
        stem = name.removesuffix(".yaml")
        if folder in _FOLDERS:
            if not isinstance(document.data, dict):
                problems.append(Problem(path, 1, "is not a mapping of keys.", "Write `id: ...`."))
                continue
            if document.data.get("id") != stem:
                problems.append(
                    Problem(
                        path,
                        document.line(("id",)),
                        f"the id is not the file's name '{stem}'.",
                        f"Write `id: {stem}` or rename the file.",
                    )
                )
            plain[folder][stem] = document.data
            continue
        # a table may be spread over several files: sources.yaml, sources_safety.yaml
        table = next((name for name in plain if stem.startswith(f"{name}_")), stem)
        table = stem if stem in plain else table
        if folder or table not in plain or table in _FOLDERS:
            problems.append(
                Problem(path, 0, "is no file that trubshoot reads.", "Move or rename it.")
            )
            continue
        rows = document.data or {}
        if table == "steps" and isinstance(rows, list):
            rows = _rows_by_id(document, path, problems)
        if not isinstance(rows, dict):
            problems.append(Problem(path, 1, "is not a table of ids.", "Write `id: {...}`."))
            continue
        for key in rows:
            if key in plain[table]:
                problems.append(
                    Problem(
                        path,
                        document.line((key,)),
                        f"'{key}' stands in two files.",
                        "Keep one of them.",
                    )
                )
        plain[table].update(rows)
    return plain, Raw(documents), problems


def _rows_by_id(document: Document, path: str, problems: list[Problem]) -> dict[str, Any]:
    """Return the rows of a list by their ids, so that their lines are found by id too."""
    rows: dict[str, Any] = {}
    for index, row in enumerate(document.data):
        key = row.get("id") if isinstance(row, dict) else None
        if not isinstance(key, str) or key in rows:
            what = f"'{key}' stands here twice." if key in rows else "a row without an id."
            mend = "Give every row an id of its own."
            problems.append(Problem(path, document.line((index,)), what, mend))
            continue
        rows[key] = row
        for keys, line in list(document.lines.items()):
            if keys[:1] == (index,):
                document.lines[(key, *keys[1:])] = line
    return rows


@cache
def _adapter(entry: type[schema.Entry]) -> TypeAdapter[Any]:
    return TypeAdapter(dict[str, entry])  # type: ignore[valid-type]


def build(
    plain: Mapping[str, Any], digest: str, raw: Raw | None = None
) -> tuple[KnowledgeBase | None, list[Problem]]:
    """Return the typed knowledge base, or the problems that keep it from being built.

    Args:
        plain: the tables, as plain data or as JSON text.
        digest: hash over all files.
        raw: the files with their lines, to name them in problems.
    """
    problems: list[Problem] = []
    typed: dict[str, Any] = {}
    entries: dict[str, type[schema.Entry]] = {**_FOLDERS, **_TABLES, "steps": schema.Step}
    for name, entry in entries.items():
        try:
            rows, adapter = plain[name], _adapter(entry)
            typed[name] = (
                adapter.validate_json(rows)
                if isinstance(rows, bytes)
                else adapter.validate_python(rows)
            )
        except ValidationError as error:
            problems.extend(_problems(error, name, entry, raw))
    if problems:
        return None, problems
    return KnowledgeBase(**typed, version=digest[:12]), []


def _problems(
    error: ValidationError, table: str, entry: type[schema.Entry], raw: Raw | None
) -> list[Problem]:
    from trubshoot.knowledge_base.wrong_value import wrong_value  # only when something is wrong

    found = []
    for detail in error.errors():
        keys = tuple(detail["loc"])
        own_file = table in _FOLDERS
        path = f"{table}/{keys[0]}.yaml" if own_file and keys else f"{table}.yaml"
        if raw is not None and keys and not own_file:
            path = raw.table_file(table, keys[0])
        inner = keys[1:] if own_file else keys
        line = raw.line(path, *inner) if raw is not None else 0
        found.append(
            Problem(path, line, *wrong_value(entry, detail, inner[0 if own_file else 1 :]))
        )
    return found
