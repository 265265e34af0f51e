"""What moved between the traces of one cell in two editions: a given, a choice, the rounding, the formula, or a limit.

Both sides are contents of edition.json (``render/contract.py``), read back or just made.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cardwright.units import UnitError, dimension, parse_quantity

CHOSEN = re.compile(r"([^:]+): (.*) \(chosen, .*\)", re.DOTALL)
TABLE_CELL = re.compile(r"\.[0-9]+\.[0-9]+$")  # row and column behind the name of a published table
CONCENTRATIONS = [dimension(f"{amount}/mL") for amount in ("mg", "units", "mEq")]
PUMP_STATES = {"least", "most", "step"}


@dataclass(frozen=True)
class Root:
    """What moved: its ``kind``, a ``code`` that names it the same way on any day, and what stood there and stands there now.

    ``grave`` says why it is looked at however little it moves: "concentration", "unit", "ceiling", "figures", "template", or nothing.
    """

    kind: str
    code: str
    says: str
    old: str
    new: str
    grave: str = ""


def proportion(old: Fraction, new: Fraction) -> Fraction | None:
    """By what part of the old value the new one differs, exactly; None where the old one is zero and the new one is not."""
    return (new - old) / abs(old) if old else None if new else Fraction(0)


def change(old: str, new: str) -> Fraction | None:
    """By what part a quantity moved; None where the two are not numbers in the same unit."""
    try:
        was, now = parse_quantity(old), parse_quantity(new)
    except UnitError:
        return None
    return proportion(was.value, now.value) if was.unit == now.unit else None


def single(kind: str, code: str, says: str, text: str, side: int, grave: str = "") -> Root:
    """What stands on one side only, told by ``text``: side 0 is the old one, 1 the new one."""
    return Root(kind, code, says, *((text, ""), ("", text))[side], grave)


def told_in_order(pairs: Sequence[tuple[int, int]], old: Sequence[str], new: Sequence[str]) -> tuple[str, str] | None:
    """What stands on both sides in the order of each, or None where that is the same. ``pairs`` rise by the old place."""
    risen = sorted(pairs, key=lambda pair: pair[1])
    return None if risen == list(pairs) else ("; ".join(old[was] for was, _ in pairs), "; ".join(new[now] for _, now in risen))


def of_table(id: str) -> str:
    """The source table of a given: ``infusions/norepinephrine`` of ``infusions/norepinephrine:dose.ceiling.at``."""
    return id.partition(":")[0]


class Two:
    """Two editions' traces and givens side by side."""

    def __init__(self, old: dict, new: dict):
        self.traces, self.givens = (old["traces"], new["traces"]), (old["givens"], new["givens"])
        used = {id for traces in self.traces for trace in traces.values() for id in trace["inputs"]}
        self.bounds = sorted({*self.givens[0], *self.givens[1]} - used)  # a ceiling, a range, the sizes made: inputs of no formula

    def roots(self, chart: str, units: tuple[str, str], cells: tuple[dict, dict], rows: tuple[list, list]) -> tuple[Root, ...]:
        """What made a cell of ``rows`` another one; never nothing."""
        found = list(self._traced(chart, units[1], self._pair(*cells), rows))
        if units[0] != units[1]:
            found = [root for root in found if root.kind != "rounding"]  # rounding is told in the unit
            found.append(Root("unit", f"{chart}:unit", "the unit of the cells", *units, "unit"))
        states = {cell["state"] for cell in cells}
        tables = {of_table(id) for pair in zip(*rows) for id in self._ids(pair)}
        if len(states) == 2 and "over" in states:
            found += [root for root in self.moved_bounds(tables) if root.grave == "ceiling"]
        if not found and len(states) == 2 and states & PUMP_STATES and cells[0]["exact"] == cells[1]["exact"]:
            found.append(Root("rounding", "pump", "the pump's range, or the limit on rounding", "", ""))
        found = found or [root for root in self.moved_bounds(tables) if root.grave != "ceiling"]
        found = found or [Root("program", f"{chart}:program", "nothing that the cell rests on: the program, or how the chart asks", "", "")]
        return tuple({root.code: root for root in found}.values())

    def moved_bounds(self, tables: set[str]) -> list[Root]:
        """Bounds of these tables that moved, came or went."""
        return [root for id in self.bounds if of_table(id) in tables and (root := self.given(id, id))]

    def given(self, old_id: str, new_id: str) -> Root | None:
        """A given that moved, or another one in its place; None where value and words are the same."""
        old, new = self.givens[0].get(old_id), self.givens[1].get(new_id)
        was, now = ("" if given is None else given["value"] for given in (old, new))
        name = new_id.partition(":")[2]
        if was == now and old["says"] != new["says"] and name.startswith("mix."):
            was, now = (f"{given['value']} ({given['says']})" for given in (old, new))  # the same strength, prepared another way
        if was == now:
            return None
        code = old_id if old_id == new_id else f"{old_id}-to-{name.removeprefix('mix.')}"
        told = (new or old)["says"]
        says = f"{of_table(new_id).split('/')[-1]}: {'mix' if name.startswith('mix.') else told}"
        return Root("given", code, says, was, now, _grave(name, was, now))

    def _pair(self, old: dict, new: dict) -> tuple[dict | None, dict | None]:
        return self.traces[0].get(old["trace"]), self.traces[1].get(new["trace"])

    def _ids(self, cells: tuple[dict, dict]) -> Iterator[str]:
        for trace in filter(None, self._pair(*cells)):
            yield from (id for id in trace["inputs"] if ": " not in id)

    def _traced(self, chart: str, unit: str, pair: tuple[dict | None, dict | None], rows: tuple[list, list]) -> Iterator[Root]:
        old, new = pair
        if old is None or new is None:
            return
        if old["formula"] != new["formula"]:
            yield Root("formula", f"{chart}:formula", "the chart's formula", old["formula"] or "published", new["formula"] or "published")
            return
        if old["formula"] is None:
            if old["working"] != new["working"]:
                table = TABLE_CELL.sub("", new["inputs"][0])
                yield Root("given", table, f"published table {self.givens[1][new['inputs'][0]]['says']}", "", "")
            return
        for was, now in zip(old["inputs"], new["inputs"]):
            yield from self._input(chart, unit, (was, now), rows)
        if old["rounding"] != new["rounding"]:
            code = "pump" if unit == "mL/h" else f"{chart}:rounding"
            yield Root("rounding", code, "the rounding", old["rounding"], new["rounding"])

    def _input(self, chart: str, unit: str, pair: tuple[str, str], rows: tuple[list, list]) -> Iterator[Root]:
        """What moved in one input: a given, a choice of the card's author, or another cell of the same row."""
        old, new = pair
        if ": " not in old and ": " not in new:
            if root := self.given(old, new):
                yield root
        elif (was := CHOSEN.fullmatch(old)) and (now := CHOSEN.fullmatch(new)):
            if was[2] != now[2]:
                yield Root("choice", f"{chart}:with.{now[1]}", f"{now[1].replace('_', ' ')}, chosen for the card", was[2], now[2])
        elif old != new:
            inner = tuple(self._working(side, text, row) for side, (text, row) in enumerate(zip(pair, rows)))
            if None in inner:
                yield Root("choice", f"{chart}:with", "an input of the formula", old, new)
            yield from self._traced(chart, unit, inner, rows)

    def _working(self, side: int, text: str, row: list[dict]) -> dict | None:
        """The trace of the cell of a row whose working an input tells."""
        working = text.partition(": ")[2]
        traces = (self.traces[side].get(cell["trace"]) for cell in row)
        return next((trace for trace in traces if trace and trace["working"] == working), None)


def _grave(name: str, old: str, new: str) -> str:
    """Why a given is looked at however little it moves."""
    units = {_unit(text) for text in (old, new) if text}
    if "ceiling" in name or re.search(r"\bmost\b", name):
        return "ceiling"
    if name.startswith("mix.") or any(unit and dimension(unit) in CONCENTRATIONS for unit in units):
        return "concentration"
    return "unit" if len(units) > 1 else ""


def _unit(text: str) -> str | None:
    try:
        return parse_quantity(text).unit
    except UnitError:
        return None
