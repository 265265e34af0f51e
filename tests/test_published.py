"""Every published table and worked example that the registered formulas can compute, cell by cell.

The files in ``tests/published`` hold what the sources print, read here as plain text so that no digit is lost:

* ``tables``: ``fixed`` inputs, one input along the ``rows`` and perhaps one along the ``columns``, and the printed ``cells``;
* ``points``: ``cases`` with their own inputs and what is ``printed``; "800 mg in 250 mL" is a concentration;
* ``mixes``: amount, final volume and the printed concentration; no formula, only a quotient; ``counted`` is the volume with
  the drug's own volume, with what it then comes to.

``rounded`` says how the source rounds: ``exact`` (the printed figure is the whole value), ``nearest`` (ties up), ``down``,
``cut`` (digits dropped, against the source's habit) or ``up``. The step is that of the printed digits, or ``step``.
``how`` says what stands for what. A cell that departs from its own formula is listed with what is printed, what the formula
gives and why; it must depart exactly so.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import pytest
import yaml

from cardwright.evaluate import balance, evaluate
from cardwright.formulas import FORMULAS
from cardwright.units import Quantity, parse_quantity

FILES = sorted(Path(__file__).with_name("published").glob("*.yaml"))
KINDS = {"label", "guideline", "handbook", "paper", "standard", "society-statement", "dataset", "common-practice", "memory", "computed"}
ROUNDED = {
    "exact": lambda value, step: value,
    "nearest": lambda value, step: math.floor(value / step + Fraction(1, 2)) * step,
    "down": lambda value, step: math.floor(value / step) * step,
    "cut": lambda value, step: math.floor(value / step) * step,
    "up": lambda value, step: math.ceil(value / step) * step,
}
NO_INPUTS = {"printed", "gives", "rounded", "step", "departs", "note"}


@dataclass(frozen=True)
class Cell:
    """One printed figure with the inputs it stands for."""

    name: str
    formula: str
    inputs: dict[str, str]
    gives: str
    rounded: str
    step: str
    printed: str
    departs: dict[str, str] | None

    def exact(self) -> Fraction:
        """What the formula gives; both sides of its balance must agree too."""
        formula = FORMULAS[self.formula]
        inputs = {name: quantity(text) for name, text in self.inputs.items()}
        result = evaluate(formula, inputs, self.gives)
        left, right = balance(formula, inputs, result, self.gives)
        assert left == right
        return result

    def told(self, value: Fraction) -> Fraction:
        """The value rounded as this cell of the source is."""
        return ROUNDED[self.rounded](value, Fraction(self.step) if self.step else digit(self.printed))


def digit(printed: str) -> Fraction:
    """One of the last printed digit: 0.01 for ``3.60``."""
    return Fraction(1, 10 ** len(printed.partition(".")[2]))


def quantity(text: str) -> Quantity:
    """``16 mcg/mL``, or ``800 mg in 250 mL`` as the quotient."""
    amount, between, volume = text.partition(" in ")
    if not between:
        return parse_quantity(text)
    top, bottom = parse_quantity(amount), parse_quantity(volume)
    return Quantity(top.value / bottom.value, f"{top.unit}/{bottom.unit}", text)


READ = [yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.CBaseLoader) for path in FILES]  # every scalar as text


def load(part: str) -> list[dict]:
    """The entries of one part of all files."""
    return [entry for file in READ for entry in file.get(part, ())]


def table_cells(entry: dict) -> Iterator[Cell]:
    """The cells of a table, row by row."""
    rows, columns = entry["rows"], entry.get("columns", {"name": "", "unit": "", "at": [""]})
    departing = {(one["row"], one.get("column", "")): one for one in entry.get("departs", ())}
    for row, line in zip(rows["at"], entry["cells"], strict=True):
        for column, printed in zip(columns["at"], line if isinstance(line, list) else [line], strict=True):
            inputs = {**entry.get("fixed", {}), rows["name"]: f"{row} {rows['unit']}"}
            if column:
                inputs[columns["name"]] = f"{column} {columns['unit']}"
            name = ", ".join(f"{at} {axis['unit']}" for at, axis in ((row, rows), (column, columns)) if at)
            told = [entry["gives"], entry["rounded"], entry.get("step", ""), printed, departing.pop((row, column), None)]
            yield Cell(f"{entry['id']}[{name}]", entry["formula"], inputs, *told)
    assert not departing, f"{entry['id']} has no such cell: {sorted(departing)}"


def point_cells(entry: dict) -> Iterator[Cell]:
    """The cases of a list of worked examples."""
    for place, case in enumerate(entry["cases"], 1):
        inputs = {**entry.get("fixed", {}), **{name: text for name, text in case.items() if name not in NO_INPUTS}}
        told = [case.get(key, entry.get(key, "")) for key in ("gives", "rounded", "step")]
        yield Cell(f"{entry['id']}[{place}]", entry["formula"], inputs, *told, case["printed"], case.get("departs"))


ENTRIES = [*load("tables"), *load("points"), *load("mixes")]
CELLS = [cell for part, cells in (("tables", table_cells), ("points", point_cells)) for entry in load(part) for cell in cells(entry)]
MIXES = [
    pytest.param(case, id=f"{entry['id']}[{place} {case[0]}]") for entry in load("mixes") for place, case in enumerate(entry["cases"], 1)
]


def params(cells: list[Cell]) -> list:
    """Pytest parameters with a readable id."""
    return [pytest.param(cell, id=cell.name) for cell in cells]


@pytest.mark.parametrize("cell", params([cell for cell in CELLS if not cell.departs]))
def test_printed_figure_follows_its_formula(cell: Cell):
    assert cell.told(cell.exact()) == Fraction(cell.printed)


@pytest.mark.parametrize("cell", params([cell for cell in CELLS if cell.departs]))
def test_departing_figure_departs_exactly_as_stated(cell: Cell):
    exact, stated = cell.exact(), cell.departs["formula"]
    assert ROUNDED["nearest"](exact, digit(stated)) == Fraction(stated)
    assert cell.told(exact) != Fraction(cell.printed)
    assert cell.departs.get("printed", cell.printed) == cell.printed
    assert cell.departs["why"]


@pytest.mark.parametrize("case", MIXES)
def test_printed_concentration_is_amount_by_volume(case: list):
    _, amount, volume, printed, *counted = case
    nominal = quantity(printed)
    assert quantity(f"{amount} in {volume}").to(nominal.unit) == nominal.value
    for one in counted:
        stated = quantity(one["formula"])
        true = quantity(f"{amount} in {one['counted']}").to(stated.unit)
        assert ROUNDED["nearest"](true, digit(stated.text)) == stated.value != nominal.to(stated.unit)


@pytest.mark.parametrize("entry", [pytest.param(entry, id=entry["id"]) for entry in ENTRIES])
def test_entry_names_its_source(entry: dict):
    assert set(entry["source"]) == {"title", "publisher", "identifier", "locator", "kind"}
    assert all(text.strip() for text in entry["source"].values())
    assert entry["source"]["kind"] in KINDS
    assert entry.get("formula") in FORMULAS or "formula" not in entry


def test_entries_are_all_there():
    """No id twice, every family has its file, and no entry is empty."""
    ids = [entry["id"] for entry in ENTRIES]
    assert len(ids) == len(set(ids))
    assert [path.stem for path in FILES] == [
        "altitude", "conversion", "doses", "infusions", "mechanics", "oxygen", "pediatric", "planning", "pressure", "ventilation",
    ]  # fmt: skip
    assert {cell.formula for cell in CELLS} == set(FORMULAS)
    assert all(entry.get("cells") or entry["cases"] for entry in ENTRIES)


def test_memory_is_marked():
    """A source that was recalled and not read says so in its kind as well as in its publisher."""
    for entry in ENTRIES:
        assert ("from memory" in entry["source"]["publisher"]) == (entry["source"]["kind"] == "memory"), entry["id"]
