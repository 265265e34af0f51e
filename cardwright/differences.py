"""What changed between two editions, cell by cell, grouped by what made it change; what is large is flagged.

Both are contents of edition.json (``render/contract.py``), so that an edition approved years ago is compared as it was printed.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from cardwright.around import around
from cardwright.changed import LARGE, Cause, CellChange, Differences, Printed, ordered, paired
from cardwright.moved import Root, Two, change, of_table, single, told_in_order


def differences(old: dict, new: dict) -> Differences:
    """What changed from one edition to another, both as edition.json has it. Who issued them and when is not compared."""
    return _Comparer(old, new).compared()


@dataclass
class _Found:
    """A cause while it is gathered: its roots, and the cells and charts that it reaches."""

    roots: tuple[Root, ...]
    cells: list[CellChange] = field(default_factory=list)
    charts: dict[str, None] = field(default_factory=dict)

    def cause(self) -> Cause:
        """The finished cause. Several roots together have one code, and are told one after the other."""
        says, old, new = ("; ".join(filter(None, (getattr(root, name) for root in self.roots))) for name in ("says", "old", "new"))
        grave = [root.grave for root in self.roots] + [cell.grave for cell in self.cells]
        grave += ["over 10 %" for root in self.roots if root.kind in ("given", "choice") and abs(change(root.old, root.new) or 0) > LARGE]
        cells = tuple(sorted(self.cells, key=lambda cell: (not cell.grave, cell.grave == "over 10 %", -cell.size)))
        code = "+".join(root.code for root in self.roots)
        return Cause(self.roots[0].kind, code, says, old, new, tuple(self.charts), cells, tuple(dict.fromkeys(filter(None, grave))))


class _Comparer:
    """Pairs charts, rows and columns, and gathers what differs under what moved."""

    def __init__(self, old: dict, new: dict):
        self.sides, self.two = (old, new), Two(old, new)
        self.found: dict[tuple[str, ...], _Found] = {}

    def compared(self) -> Differences:
        """All causes, in order."""
        self._charts()
        told = {code for codes in self.found for code in codes}
        mixed = {
            chart.partition("/")[0] for found in self.found.values() if "concentration" in found.cause().grave for chart in found.charts
        }
        for root, places in around(self.two, *self.sides, told, mixed):
            self._note((root,), places)
        return ordered(found.cause() for found in self.found.values())

    def _note(self, roots: tuple[Root, ...], charts: Sequence[str], cells: Sequence[CellChange] = ()) -> None:
        """Add cells and charts to the cause that has these roots."""
        found = self.found.setdefault(tuple(root.code for root in roots), _Found(roots))
        found.cells += cells
        found.charts |= dict.fromkeys(charts)

    def _charts(self) -> None:
        sides = tuple([(chart, self._mix(chart, side)) for chart in edition["charts"]] for side, edition in enumerate(self.sides))
        pairs, *unpaired = paired(*sides, lambda found: found[0]["id"], lambda found: _kin(*found))
        for was, now in pairs:
            self._chart(sides[0][was], sides[1][now])
        cards = [{card["id"]: card["title"] for card in side["cards"]} for side in self.sides]
        for side, places in enumerate(unpaired):
            here = [sides[side][place] for place in places]
            mixed = {_card(chart) for chart, mix in here if mix}
            for chart, mix in here:
                card, grave = _card(chart), "concentration" if mix else ""
                root = single("chart", chart["id"], "a chart", chart["title"], side, grave)
                if card not in cards[1 - side]:
                    root = single("card", card, "a card", cards[side].get(card, card), side, "concentration" if card in mixed else "")
                self._note((root,), [chart["id"]], list(_alone(chart, side, chart["id"])))

    def _mix(self, chart: dict, side: int) -> str:
        """The given of the mix that the chart's cells rest on, or nothing."""
        traces = filter(None, (self.two.traces[side].get(cell["trace"]) for row in chart["cells"] for cell in row))
        return next((id for trace in traces for id in trace["inputs"] if ": " not in id and ":mix." in id), "")

    def _chart(self, was: tuple[dict, str], now: tuple[dict, str]) -> None:
        (old, old_mix), (new, new_mix) = was, now
        id = new["id"]
        if old_mix and new_mix and (root := self.two.given(old_mix, new_mix)):
            self._note((root,), [id])
        for kind, name, pair in (
            ("chart", "name", ("", "") if old_mix != new_mix else (old["id"], id)),
            ("chart", "title", (old["title"], new["title"])),
            ("formula", "formula", (_formulas(old), _formulas(new))),
        ):
            if pair[0] != pair[1]:
                self._note((Root(kind, f"{id}:{name}", f"the chart's {name}", *pair),), [id])
        rows = paired(_rows(old), _rows(new), lambda head: head)
        columns = paired(_columns(old), _columns(new), lambda head: head, lambda head: head[:-1])
        for across in rows[0]:
            for down in columns[0]:
                self._cell((old, new), across, down)
        self._heads("rows", (old, new), (_rows(old), _rows(new)), rows, columns[0])
        self._heads("columns", (old, new), (_columns(old), _columns(new)), columns, rows[0])

    def _cell(self, charts: tuple[dict, dict], rows: tuple[int, int], columns: tuple[int, int]) -> None:
        sides = tuple(_printed(*place) for place in zip(charts, rows, columns))
        if sides[0] == sides[1]:
            return
        lines = tuple(chart["cells"][row] for chart, row in zip(charts, rows))
        cells = tuple(line[column] for line, column in zip(lines, columns))
        id = charts[1]["id"]
        roots = self.two.roots(id, (sides[0].unit, sides[1].unit), cells, lines)
        self._note(roots, [id], [CellChange(id, *_named(charts[1], rows[1], columns[1]), *sides)])

    def _heads(self, name: str, charts: tuple[dict, dict], heads: tuple, places: tuple, others: list[tuple[int, int]]) -> None:
        """Rows or columns that came, went, or stand in another order. A cell in a new row and a new column is told with its row."""
        pairs, *lone = places
        id, title = charts[1]["id"], charts[1]["title"]
        if any(lone):
            told = ["; ".join(_shown(head[at]) for at in places) for head, places in zip(heads, lone)]
            axes = [{head[:2] for head in side} for side in heads]
            root = Root("axis", f"{id}:{name}", f"{name} of {title}", *told, "unit" if axes[0].isdisjoint(axes[1]) else "")
            for side, at in enumerate(lone):
                kept = {pair[side] for pair in others} if name == "columns" else set(range(len(charts[side]["cells"][0])))
                taken = (kept, at) if name == "columns" else (at, kept)
                self._note((root,), [id], list(_alone(charts[side], side, id, *taken)))
        if orders := told_in_order(pairs, *([_shown(head) for head in side] for side in heads)):
            self._note((Root("axis", f"{id}:order-of-{name}", f"the order of the {name} of {title}", *orders),), [id])


def _card(chart: dict) -> str:
    return chart["id"].partition("/")[0]


def _kin(chart: dict, mix: str) -> tuple:
    """What a chart keeps if only its mix changes: its card, formula and drug."""
    return (_card(chart), chart["formula"], of_table(mix)) if mix else (chart["id"],)


def _formulas(chart: dict) -> str:
    """The formulas of a chart, each once; a table's columns have none."""
    found = [chart["formula"], *chart["columns"].get("formulas", ())]
    return "; ".join(dict.fromkeys(filter(None, found)))


def _rows(chart: dict) -> list[tuple]:
    """Each row by the axis, its unit and the head."""
    axis = chart["rows"]
    return [(axis["name"], axis["unit"], head) for head in axis["values"]]


def _columns(chart: dict) -> list[tuple]:
    """Each column by the axis, its unit, the head, the group, and the unit of its cells."""
    axis = chart["columns"]
    heads = axis["values"]
    groups, units = axis.get("groups", [""] * len(heads)), axis.get("units", [""] * len(heads))
    return [(axis["name"], axis["unit"], head, group, unit) for head, group, unit in zip(heads, groups, units)]


def _shown(head: tuple) -> str:
    """A head as people say it: ``70 kg``, ``EPINEPHrine dose``."""
    _, unit, text, *group = head
    return " ".join(filter(None, (group[0] if group else "", text, unit)))


def _named(chart: dict, row: int, column: int) -> tuple[str, str]:
    return _shown(_rows(chart)[row]), _shown(_columns(chart)[column])


def _printed(chart: dict, row: int, column: int) -> Printed:
    cell, units = chart["cells"][row][column], chart["columns"].get("units")
    exact = None if cell["exact"] is None else Fraction(cell["exact"])
    return Printed(cell["printed"], exact, cell["state"], (units[column] if units else chart["unit"]) or "")


def _alone(
    chart: dict, side: int, id: str, rows: Sequence[int] | None = None, columns: Sequence[int] | None = None
) -> Iterator[CellChange]:
    """Cells that stand on one side only, all or those of some rows and columns."""
    for r in sorted(range(len(chart["cells"])) if rows is None else rows):
        for c in sorted(range(len(chart["cells"][r])) if columns is None else columns):
            cell = _printed(chart, r, c)
            yield CellChange(id, *_named(chart, r, c), *((None, cell) if side else (cell, None)))
