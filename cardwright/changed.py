"""Changes between two editions as records: a cell, what made it change, and all of them in the order in which they are read."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from cardwright.moved import change, proportion

LARGE = Fraction(1, 10)
NUMBER = re.compile(r"-?[0-9][0-9,]*(?:\.[0-9]+)?")
CLOCK = re.compile(r"([0-9][0-9,]*):([0-5][0-9])")


@dataclass(frozen=True)
class Printed:
    """A cell as it stands in one edition, with its unit."""

    printed: str
    exact: Fraction | None
    state: str
    unit: str

    @cached_property
    def number(self) -> Fraction | None:
        """The number that is printed, a time as its minutes; None where a mark or words stand."""
        if self.state == "ok" and NUMBER.fullmatch(self.printed):
            return Fraction(self.printed.replace(",", ""))
        found = CLOCK.fullmatch(self.printed) if self.state == "ok" else None
        return found and 60 * Fraction(found[1].replace(",", "")) + int(found[2])


@dataclass(frozen=True)
class CellChange:
    """A cell in both editions; ``old`` is None where it came, ``new`` where it went. Row and column are told with their units."""

    chart: str
    row: str
    column: str
    old: Printed | None
    new: Printed | None

    @cached_property
    def change(self) -> Fraction | None:
        """By what part the printed number moved, exactly; None where the two are not numbers in the same unit, or the old one is zero."""
        return self._part(lambda cell: cell.number)

    @cached_property
    def exact_change(self) -> Fraction | None:
        """By what part the exact value behind it moved."""
        return self._part(lambda cell: cell.exact)

    def _part(self, value: Callable[[Printed], Fraction | None]) -> Fraction | None:
        if self.old is None or self.new is None or self.old.unit != self.new.unit:
            return None
        was, now = value(self.old), value(self.new)
        return None if was is None or now is None else proportion(was, now)

    @property
    def size(self) -> Fraction:
        """How large the change is, printed or exact, whichever moved more."""
        return max(abs(self.change or 0), abs(self.exact_change or 0))

    @property
    def grave(self) -> str:
        """Why it must be acknowledged: "unit", "mark" (a number came or went), "over 10 %", or nothing."""
        if self.old is None or self.new is None:
            return ""
        if self.old.unit != self.new.unit:
            return "unit"
        if (self.old.number is None) != (self.new.number is None):
            return "mark"
        from_nothing = self.old.number == 0 and self.new.number != 0
        return "over 10 %" if self.size > LARGE or from_nothing else ""


@dataclass(frozen=True)
class Cause:
    """What changed and which cells it made others: ``code`` acknowledges it, ``kind`` sorts it, ``says`` tells it in words.

    ``old`` and ``new`` are empty where it came, went, or has no single value. ``charts`` are those that it reaches (of a note, the
    cards). ``grave`` are the reasons why it must be acknowledged.
    """

    kind: str
    code: str
    says: str
    old: str
    new: str
    charts: tuple[str, ...]
    cells: tuple[CellChange, ...]
    grave: tuple[str, ...]

    @property
    def flagged(self) -> bool:
        """Whether it must be acknowledged."""
        return bool(self.grave)

    @property
    def change(self) -> Fraction | None:
        """By what part the value itself moved, exactly; None where it is no number, or in another unit."""
        return change(self.old, self.new)

    @property
    def size(self) -> Fraction:
        """How large the largest change in it is."""
        return max([abs(self.change or 0), *(cell.size for cell in self.cells)])


@dataclass(frozen=True)
class Differences:
    """Everything that changed: what is flagged first, the largest first."""

    causes: tuple[Cause, ...]

    @property
    def cells(self) -> tuple[CellChange, ...]:
        """The cells that changed, came or went, each once."""
        return tuple(cell for cause in self.causes for cell in cause.cells)

    @property
    def flagged(self) -> tuple[Cause, ...]:
        """The causes that must be acknowledged."""
        return tuple(cause for cause in self.causes if cause.flagged)

    def plain(self) -> list[dict]:
        """The causes as plain data; exact values as fractions in text."""
        return [_plain(cause) for cause in self.causes]


def ordered(causes: Iterable[Cause]) -> Differences:
    """The causes in the order in which they are read."""
    return Differences(tuple(sorted(causes, key=lambda cause: (not cause.flagged, -cause.size, cause.code))))


def paired(old: Sequence, new: Sequence, *keys: Callable) -> tuple[list[tuple[int, int]], list[int], list[int]]:
    """Places of what is the same by the first key, then by the next; then the places of what went and of what came.

    Things with the same key are paired in their order.
    """
    gone, come, pairs = list(range(len(old))), list(range(len(new))), []
    for key in keys:
        free: dict = {}
        for place in come:
            free.setdefault(key(new[place]), []).append(place)
        for place in tuple(gone):
            if places := free.get(key(old[place])):
                pairs.append((place, places.pop(0)))
                gone.remove(place)
                come.remove(pairs[-1][1])
    return sorted(pairs), gone, come


def _plain(cause: Cause) -> dict:
    told = {name: getattr(cause, name) for name in ("kind", "code", "says", "old", "new")}
    cells = [
        {
            "chart": cell.chart,
            "row": cell.row,
            "column": cell.column,
            "old": _side(cell.old),
            "new": _side(cell.new),
            "change": _text(cell.change),
            "exact change": _text(cell.exact_change),
        }
        for cell in cause.cells
    ]
    return told | {"change": _text(cause.change), "charts": list(cause.charts), "flagged": list(cause.grave), "cells": cells}


def _side(cell: Printed | None) -> dict | None:
    return cell and {"printed": cell.printed, "exact": _text(cell.exact), "state": cell.state, "unit": cell.unit}


def _text(value: Fraction | None) -> str | None:
    return None if value is None else str(value)
