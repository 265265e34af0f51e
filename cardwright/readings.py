"""What a source table states, name by name, to be held against a second reading of the same documents."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from cardwright.documents import mark_of
from cardwright.models import Reading
from cardwright.numbers import plain
from cardwright.provenance import Mark
from cardwright.source import Source
from cardwright.units import SYMBOLS, Quantity, UnitError, parse_quantity

NUMBER = re.compile(r"(?<![\w.,])[0-9](?:[0-9.,]*[0-9])?(?!\w)")  # and not the 2 of SpO2


UNIT = "(?:" + "|".join(re.escape(symbol) for symbol in sorted({*SYMBOLS} - {"in"}, key=len, reverse=True)) + r")(?![A-Za-z0-9])"
AMOUNT = re.compile(rf"{NUMBER.pattern}(?: {UNIT}(?:/{UNIT})*)?")


@dataclass(frozen=True)
class Statement:
    """One thing that a table states: where, in what words, and whether a second reading says the same."""

    mark: Mark
    says: str
    agrees: Callable[[Reading], bool]


def statements(source: Source) -> Iterator[tuple[str, Statement]]:
    """Every given, list of sizes, column of a published table and note with numbers, by the name that a reading has for it.

    A column of a published table is ``table.column``, the heads of its rows ``table.`` and what they are; a note is ``note.name``.
    """
    for name, given in source.givens.items():
        yield name, Statement(given.mark, str(given.quantity), _quantity(given.quantity))
    for name, (sizes, stated) in source.sizes.items():
        yield name, Statement(stated.mark, stated.text, _texts([plain(size.value) for size in sizes], sizes[0].unit))
    for name, table in source.tables.items():
        mark = mark_of(source.places, ("tables", name, "columns"))
        units = ["" if unit == "-" else unit for unit in table.units or [""] * len(table.columns)]
        columns = [(table.down, table.unit), *zip(table.columns, units)]
        for place, (column, unit) in enumerate(columns):
            texts = [row[place] for row in table.rows]
            yield f"{name}.{column}", Statement(mark, f"{', '.join(texts)} {unit}".strip(), _texts(texts, unit))
    for name, note in source.notes.items():
        amounts = [found[0] for found in AMOUNT.finditer(note.text)]
        if amounts:
            mark = mark_of(source.places, ("notes", name, "text"))
            yield f"note.{name}", Statement(mark, ", ".join(amounts), _amounts(amounts))


def _quantity(quantity: Quantity) -> Callable[[Reading], bool]:
    def agrees(reading: Reading) -> bool:
        try:
            [read] = [parse_quantity(text) for text in reading.reads]
        except (UnitError, ValueError):
            return False
        return (read.value, read.unit) == (quantity.value, quantity.unit)

    return agrees


def _amounts(amounts: list[str]) -> Callable[[Reading], bool]:
    """A note's reading may tell a number with its unit, or the number alone."""

    def agrees(reading: Reading) -> bool:
        return len(reading.reads) == len(amounts) and all(
            read in (amount, amount.split(" ")[0]) for read, amount in zip(reading.reads, amounts)
        )

    return agrees


def _texts(texts: list[str], unit: str) -> Callable[[Reading], bool]:
    return lambda reading: (list(reading.reads), reading.unit) == (texts, unit)
