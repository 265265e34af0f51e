"""The mistakes that people make when they type tables, each as one change to a table in memory.

Beside slips of the hand in one text: ends of a range, columns, or amount and volume changed over, a concentration not worked
out again, another mix under the title, a formula turned around, a citation of another document.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction

from cardwright.documents import Rows, Table, Text, mark_of
from cardwright.edition import Edition
from cardwright.formulas import FORMULAS
from cardwright.hand import typing
from cardwright.numbers import plain
from cardwright.provenance import Mark
from cardwright.readings import NUMBER
from cardwright.source import Source


@dataclass(frozen=True)
class Slip:
    """One mistake: its kind, the file it is in (a source table or a card, by name), the changes, and what it looks like.

    ``changes`` maps paths in the file to what stands there after the slip; ``critical`` says whether a dose, concentration,
    factor, size or other number of a computation or chart is hit (and not a note's or a citation's).
    """

    kind: str
    source: str
    card: str
    changes: tuple[tuple[tuple, object], ...]
    mark: Mark
    what: str
    was: str
    became: str
    critical: bool


def changed(table: Table, changes: tuple[tuple[tuple, object], ...]) -> Table:
    """The table with other values at some paths; marks stay, and nothing that did not change is copied."""
    for path, value in changes:
        table = _changed(table, path, value)
    return table


def _changed(node, path: tuple, value):
    if not path:
        return value
    step, *rest = path
    if isinstance(node, Table):
        made = Table((key, _changed(item, tuple(rest), value) if key == step else item) for key, item in node.items())
    else:
        made = Rows(_changed(item, tuple(rest), value) if place == step else item for place, item in enumerate(node))
    made.mark = node.mark
    return made


def typed(text: str, mark: Mark) -> Text:
    """A text as if it had been typed at a place."""
    made = Text(text)
    made.mark = mark
    return made


def slips(edition: Edition) -> Iterator[Slip]:
    """Every slip that the edition's tables and cards invite, in a fixed order."""
    for source in edition.sources.values():
        yield from _Tables(edition, source).all()
    for name, table in edition.tables.items():
        yield from _Cards(edition, name, table).all()


class _File:
    """Makes slips in one file."""

    source = card = ""
    table: Table

    def made(self, kind: str, path: tuple, became: str, what: str, critical: bool = True) -> Slip:
        """A slip in one scalar."""
        mark, was = mark_of(self.table, path), self.at(path)
        return Slip(kind, self.source, self.card, ((path, typed(became, mark)),), mark, what, str(was), became, critical)

    def moved(self, kind: str, one: tuple, other: tuple, what: str) -> Slip:
        """A slip that changes two things over."""
        first, second = self.at(one), self.at(other)
        told = f"{first} … {second}", f"{second} … {first}"
        return Slip(kind, self.source, self.card, ((one, second), (other, first)), mark_of(self.table, one), what, *told, True)

    def at(self, path: tuple):
        """What stands at a path."""
        node = self.table
        for step in path:
            node = node[step]
        return node


class _Tables(_File):
    """Slips in one source table."""

    def __init__(self, edition: Edition, source: Source):
        self.edition, self.source, self.table, self.read = edition, source.id, source.places, source

    def all(self) -> Iterator[Slip]:
        """Every slip in the table."""
        for path, what, critical in self._scalars():
            yield from self._typing(path, what, critical)
        yield from self._ends()
        yield from self._mixes()
        yield from self._columns()
        yield from self._citations()

    def _scalars(self) -> Iterator[tuple[tuple, str, bool]]:
        """The path of every given, number of a published table and note, with its name, and whether a number on it is critical."""
        table = self.table
        for place, mix in enumerate(table.get("mixes", ())):
            for part in ("concentration", "amount", "volume"):
                if part in mix:
                    yield ("mixes", place, part), f"mix {mix['concentration']}, {part}", True
        for name, bound in table.get("dose", {}).items():
            for part in ("at", "from", "to") if isinstance(bound, Table) else ():
                if part in bound:
                    yield ("dose", name, part), f"dose.{name}.{part}", True
        for name, fact in table.get("givens", {}).items():
            for part in ("value", "from", "to", "sizes"):
                if part in fact:
                    yield ("givens", name, part), name if part == "value" else f"{name}.{part}", True
        for name, printed in table.get("tables", {}).items():
            for row, cells in enumerate(printed["rows"]):
                for column, cell in enumerate(cells):
                    if NUMBER.search(cell):
                        yield ("tables", name, "rows", row, column), f"{name}, row {row + 1}, column {column + 1}", True
            for column in range(len(printed.get("units", ()))):
                yield ("tables", name, "units", column), f"{name}, unit of column {column + 1}", True
        for name, note in table.get("notes", {}).items():
            if NUMBER.search(note["text"]):
                yield ("notes", name, "text"), f"note {name}", False

    def _typing(self, path: tuple, what: str, critical: bool) -> Iterator[Slip]:
        for kind, became in typing(str(self.at(path))):
            yield self.made(kind, path, became, what, critical)

    def _ends(self) -> Iterator[Slip]:
        for field in ("dose", "givens"):
            for name, part in self.table.get(field, {}).items():
                if isinstance(part, Table) and "from" in part:
                    yield self.moved("ends of a range", (field, name, "from"), (field, name, "to"), f"{field} {name}")

    def _mixes(self) -> Iterator[Slip]:
        for place, mix in enumerate(self.table.get("mixes", ())):
            if "amount" not in mix:
                continue
            path, what = ("mixes", place), f"mix {mix['concentration']}"
            yield self.moved("amount for volume", (*path, "amount"), (*path, "volume"), what)
            number = re.match(r"[0-9.,]+", mix["amount"])[0]
            for factor in (2, Fraction(1, 2)):
                became = plain(Fraction(number.replace(",", "")) * factor) + mix["amount"][len(number) :]
                yield self.made("concentration not worked out again", (*path, "amount"), became, what)

    def _columns(self) -> Iterator[Slip]:
        for name, printed in self.table.get("tables", {}).items():
            for column in range(1, len(printed["columns"])):
                rows = [(("tables", name, "rows", r), _swapped(cells, column)) for r, cells in enumerate(printed["rows"])]
                mark = mark_of(self.table, ("tables", name, "columns"))
                heads = printed["columns"]
                told = f"{heads[column - 1]} … {heads[column]}", f"{heads[column]} … {heads[column - 1]}"
                if printed["rows"] != [cells for _, cells in rows]:
                    yield Slip("columns of a table", self.source, "", tuple(rows), mark, name, *told, True)

    def _citations(self) -> Iterator[Slip]:
        """Each citation turned to a document that speaks of other tables only."""
        others = [key for key, reference in self.edition.references.items() if reference.covers and self.source not in reference.covers]
        for path in cite_paths(self.table):
            cite = self.at(path)
            for place, key in enumerate(cite):
                became = others[(len(path) * 31 + place + mark_of(self.table, path).line) % len(others)] if others else None
                if became and became not in cite:
                    made = Table((typed(became, old.mark) if old == key else old, locator) for old, locator in cite.items())
                    made.mark = cite.mark
                    what = ".".join(str(step) for step in path[:-1])
                    yield Slip("another document", self.source, "", ((path, made),), key.mark, what, str(key), became, False)


def _swapped(cells: Rows, column: int) -> Rows:
    made = Rows([*cells[:column], cells[column + 1], cells[column], *cells[column + 2 :]])
    made.mark = cells.mark
    return made


def cite_paths(node, path: tuple = ()) -> Iterator[tuple]:
    """The path of every citation that stands by a given, a published table or a note."""
    items = node.items() if isinstance(node, Mapping) else enumerate(node) if isinstance(node, list) else ()
    for key, item in items:
        if key == "cite":
            yield (*path, "cite")
        elif key not in ("witnesses", "readings", "conflicts", "unwitnessed"):
            yield from cite_paths(item, (*path, str(key) if isinstance(key, str) else key))


class _Cards(_File):
    """Slips in one card: another mix under its title, and a formula for the one that turns it around."""

    def __init__(self, edition: Edition, name: str, table: Table):
        self.edition, self.card, self.table = edition, name, table

    def all(self) -> Iterator[Slip]:
        """Every slip in the card."""
        for f, face in enumerate(self.table["faces"]):
            for c, chart in enumerate(face["charts"]):
                path, source = ("faces", f, "charts", c), self.edition.sources[chart["source"]]
                yield from self._chart(path, chart, source)
                for k in range(len(chart.get("columns", ()))):
                    yield from self._chart((*path, "columns", k), chart["columns"][k], source)

    def _chart(self, path: tuple, part: Table, source: Source) -> Iterator[Slip]:
        mixes = [str(mix.concentration) for mix in source.drug.mixes] if source.drug else []
        for other in mixes:
            if "mix" in part and other != part["mix"]:
                yield self.made("another mix", (*path, "mix"), other, "mix")
        used = part.get("with", {}).get("concentration", "")
        for name in source.givens:
            if name.startswith("mix.") and used.startswith("mix.") and name != used:
                yield self.made("another mix", (*path, "with", "concentration"), name, "concentration")
        if "formula" in part:
            relation = FORMULAS[part["formula"]].relation
            for formula in FORMULAS.values():
                if formula.relation == relation and formula.id != part["formula"]:
                    yield self.made("formula turned around", (*path, "formula"), formula.id, "formula")
