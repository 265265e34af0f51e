"""A grid of texts, each with the place that it stands at, and what is told where a file can't be read as one."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

MOST_BYTES = 10_000_000
MOST_ROWS, MOST_COLUMNS, MOST_SIGNS = 200, 60, 200
UNSEEN = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


class Unclear(Exception):
    """The file or the command line can't be used as it is; ``problems`` says place by place why, and what to do."""

    def __init__(self, *problems: str):
        super().__init__("\n".join(problems))
        self.problems = problems


@dataclass(frozen=True)
class Entry:
    """What stands in a cell, and its place as a person finds it: ``file:line:field``, ``file:sheet!B3`` or ``file:page 1, line 4``.

    ``number`` says that a spreadsheet holds it as a number, so that its point is a decimal point.
    """

    text: str
    place: str
    number: bool = False


@dataclass(frozen=True)
class Grid:
    """The rows of a table, all of one length, none of them empty. ``semicolons`` says that these part the fields of a text file."""

    file: str
    rows: tuple[tuple[Entry, ...], ...]
    semicolons: bool = False


def cleaned(text: str) -> str:
    """One line of what can be seen: white space as single spaces, every sign that does not show as U+FFFD, cut to a length."""
    seen = " ".join(text.split())
    return "".join("\N{REPLACEMENT CHARACTER}" if unicodedata.category(sign) in UNSEEN else sign for sign in seen[:MOST_SIGNS])


def gridded(file: str, rows: Iterable[list[Entry]], semicolons: bool = False) -> Grid:
    """The grid of these rows, without those that are empty. Unclear where there is no table, or more than a chart's worth."""
    full = [row for row in rows if any(entry.text for entry in row)]
    width = max((place for row in full for place, entry in enumerate(row, 1) if entry.text), default=0)
    if len(full) < 2 or width < 2:
        raise Unclear(f"{file}: holds no table; expected a row of heads, and rows that begin with a head of their own")
    if len(full) > MOST_ROWS or width > MOST_COLUMNS:
        told = f"expected at most {MOST_ROWS} by {MOST_COLUMNS}: save the chart alone"
        raise Unclear(f"{file}: holds a table of more than a chart's size; {told}")
    filled = (row[:width] + [Entry("", row[-1].place)] * (width - len(row)) for row in full)
    return Grid(file, tuple(map(tuple, filled)), semicolons)
