"""YAML files read strictly: every scalar stays text, everything keeps its mark, and every problem is reported at once.

PyYAML's safe loader keeps the last of two equal keys, reads ``1:30`` as 90, ``010`` as 8 and ``NO`` as False, and loses the
digits of ``0.10``. Here the file is composed to nodes, scalars are kept as they were typed, and whatever an edition never
needs (anchors, aliases, tags, several documents in a file) is refused.
"""

from __future__ import annotations

import difflib
import re
import unicodedata
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

import yaml
from pydantic import BaseModel, ValidationError

from cardwright.nodes import Refused, composed
from cardwright.provenance import Mark

MOST_BYTES = 500_000
NOTHING = ("", "~", "null", "Null", "NULL")
UNSEEN = ("Cc", "Cf", "Cs", "Co", "Zl", "Zp", "Zs")  # controls, signs that turn or join text, half a sign, spaces but for the plain one
Model = TypeVar("Model", bound=BaseModel)


class Text(str):
    """A scalar as typed, with its mark."""

    mark: Mark


class Rows(list):
    """A sequence with its mark."""

    mark: Mark


class Table(dict):
    """A mapping with its mark; its keys are Text."""

    mark: Mark


@dataclass(frozen=True, order=True)
class Problem:
    """One thing to mend. Orders and prints by place: ``file:line:column: what is wrong; what was expected; what to do``."""

    file: str
    line: int
    column: int
    message: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}: {self.message}"


@dataclass
class Problems:
    """Collects problems while loading goes on, so that all are told at once. Files are told from the working folder."""

    root: Path
    found: list[Problem] = field(default_factory=list)

    def add(self, mark: Mark, message: str) -> None:
        """Note a problem at a place."""
        self.found.append(Problem(shown(self.root, mark.file), mark.line, mark.column, message))

    def stop(self) -> None:
        """Raise InputError if there is any problem."""
        if self.found:
            raise InputError(sorted(set(self.found)))


class InputError(Exception):
    """The input can't be used; ``problems`` says why, place by place."""

    def __init__(self, problems: list[Problem]):
        super().__init__("\n".join(map(str, problems)))
        self.problems = problems


def shown(root: Path, file: str) -> str:
    """A mark's file, which is told from the root, as a person in the working folder would type it."""
    path = (root / file).resolve()
    return str(path.relative_to(Path.cwd())) if path.is_relative_to(Path.cwd()) else str(path)


def unknown(kind: str, name: str, known) -> str:
    """``unknown kind 'nmae'; did you mean 'name'?``, or the list of what there is."""
    known, name = sorted(known), name if len(name) <= 60 else f"{name[:60]}…"
    close = difflib.get_close_matches(name, known, 1, 0.6)
    more = f" and {len(known) - 8} more" if len(known) > 8 else ""
    hint = f"did you mean '{close[0]}'?" if close else f"expected one of: {', '.join(known[:8]) or '(there is none)'}{more}"
    return f"unknown {kind} '{name}'; {hint}"


def read(path: Path, problems: Problems) -> Table | None:
    """The mapping in a YAML file, or None with the problem noted. Marks name the file as seen from ``problems.root``."""
    name = str(path.relative_to(problems.root)) if path.is_relative_to(problems.root) else str(path)
    start = Mark(name, 1, 1)
    try:
        raw = path.read_bytes()
    except OSError as error:
        return problems.add(start, f"can't be read: {error.strerror}; expected a YAML file here")
    if len(raw) > MOST_BYTES:
        return problems.add(start, f"is {len(raw):,} bytes; expected at most {MOST_BYTES:,}: split it")
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        return problems.add(_mark_at(raw, error.start, name), "is not UTF-8 text; save the file as UTF-8")
    try:
        node = composed(text)
    except Refused as error:
        return problems.add(Mark(name, error.problem_mark.line + 1, error.problem_mark.column + 1), error.problem)
    except yaml.MarkedYAMLError as error:
        place = error.problem_mark or error.context_mark
        return problems.add(Mark(name, place.line + 1, place.column + 1), f"is not YAML: {error.problem}; mend the line")
    except yaml.reader.ReaderError as error:
        return problems.add(_mark_at(raw, error.position, name), "holds a control character: is it a binary file? expected YAML text")
    if node is None:
        return problems.add(start, "is empty; expected a YAML mapping")
    if not isinstance(node, yaml.MappingNode):
        return problems.add(start, "holds no mapping; expected 'key: value' lines")
    return _Builder(name, problems).table(node)


def _mark_at(raw: bytes, position: int, name: str) -> Mark:
    before = raw[:position]
    return Mark(name, before.count(b"\n") + 1, position - (before.rfind(b"\n") + 1) + 1)


class _Builder:
    """Turns composed nodes into Table, Rows and Text, refusing what an edition never needs."""

    def __init__(self, name: str, problems: Problems):
        self.name, self.problems = name, problems

    def build(self, node: yaml.Node) -> Table | Rows | Text:
        mark = self.mark(node)
        if isinstance(node, yaml.MappingNode):
            return self.table(node)
        if isinstance(node, yaml.SequenceNode):
            rows = Rows(self.build(item) for item in node.value)
            rows.mark = mark
            return rows
        if not node.style and node.value in NOTHING:
            self.problems.add(mark, "has no value; expected text or a number after the colon")
        return self.text(node)

    def text(self, node: yaml.ScalarNode) -> Text:
        made = Text(node.value)
        made.mark = self.mark(node)
        for sign in sorted(set(node.value) - ({"\n"} if node.style in ("|", ">") else set())):
            if sign != " " and unicodedata.category(sign) in UNSEEN:
                told = f"holds {unicodedata.name(sign, 'a control character')} (U+{ord(sign):04X}), which can't be seen; write it without"
                self.problems.add(made.mark, told)
        return made

    def table(self, node: yaml.MappingNode) -> Table:
        made = Table()
        made.mark = self.mark(node)
        for key_node, value_node in node.value:
            mark = self.mark(key_node)
            if not isinstance(key_node, yaml.ScalarNode):
                self.problems.add(mark, "has a key that is not text; expected 'name: value'")
                continue
            if key_node.value in made:
                self.problems.add(mark, f"duplicate key '{key_node.value}'; expected it once: delete or rename one of the two")
            made[self.text(key_node)] = self.build(value_node)
        return made

    def mark(self, node: yaml.Node) -> Mark:
        return Mark(self.name, node.start_mark.line + 1, node.start_mark.column + 1)


def mark_of(table: Table | Rows, path: tuple) -> Mark:
    """The mark of what stands at a path of keys and indexes, or of the nearest thing above it."""
    mark, here = table.mark, table
    for step in path:
        try:
            if isinstance(here, Table):
                key = next(key for key in here if key == step)
                mark, here = key.mark, here[key]
                mark = getattr(here, "mark", mark) if not isinstance(here, Table) else mark
            else:
                here = here[step]
                mark = getattr(here, "mark", mark)
        except (StopIteration, IndexError, TypeError, KeyError):
            break
    return mark


def validate(model: type[Model], table: Table, problems: Problems) -> Model | None:
    """The table as a model, or None with every fault noted. Models may note further faults in the ``problems`` context."""
    before = len(problems.found)
    told = {(problem.file, problem.line, problem.column) for problem in problems.found}
    try:
        made = model.model_validate(table, context=problems)
    except ValidationError as error:
        for fault in error.errors():
            mark = mark_of(table, fault["loc"])
            if (shown(problems.root, mark.file), mark.line, mark.column) not in told:  # what is wrong there is told already
                problems.add(mark, _told(fault))
        return None
    return made if len(problems.found) == before else None


def _told(fault: dict) -> str:
    """A pydantic fault in our words: what is wrong, what was expected, what to do."""
    name = next((step for step in reversed(fault["loc"]) if isinstance(step, str)), "the file")
    if fault["loc"] and isinstance(fault["loc"][-1], int):
        name = f"{name}, entry {fault['loc'][-1] + 1}"
    if fault["type"] == "missing":
        return f"'{name}' is missing; expected it here: add '{name}: …'"
    if fault["type"] in ("dict_type", "model_type", "model_attributes_type"):
        return f"'{name}' is not a mapping; expected 'key: value' lines under it"
    if fault["type"] in ("list_type", "tuple_type"):
        return f"'{name}' is not a list; expected '[…]' or lines that start with '- '"
    if fault["type"] == "too_short":
        return f"'{name}' is empty; expected at least one entry"
    if fault["type"] in ("literal_error", "enum"):
        known = re.findall(r"'([^']*)'", fault["ctx"]["expected"])
        if len(known) > 10:
            return unknown(name, fault["input"], known)
        return f"'{fault['input']}' is not known as '{name}'; expected {fault['ctx']['expected']}"
    if fault["type"] == "string_type":
        return f"'{name}' is not text; expected one piece of text"
    return fault["msg"].removeprefix("Value error, ")
