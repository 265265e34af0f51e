"""How a problem is put in words: one sentence a formula, with the quantities that the engine was given."""

from __future__ import annotations

from cardwright.charts import Cell, Line
from cardwright.classroom.chosen import Picked
from cardwright.numbers import plain
from cardwright.provenance import Given
from cardwright.render.views import spoken
from cardwright.units import Quantity

KINDS = {
    "pump": "set the pump",
    "running": "what dose is running",
    "lasts": "how long it lasts",
    "convert": "convert",
    "size": "choose the size",
    "wrong": "which cell is wrong",
}
GAUGE = "The gauge shows {pressure}, of which {reserve} stay in the cylinder. The flow is {flow}. How long does it last?"
SENTENCES = {
    "infusion.rate": ("pump", "{mix}. A patient of {weight} is to have {dose}. What rate is set on the pump?"),
    "infusion.flat_rate": ("pump", "{mix}. A patient is to have {dose}. What rate is set on the pump?"),
    "infusion.dose": ("running", "{mix}. The pump runs at {rate}, and the patient weighs {weight}. What dose is running?"),
    "infusion.flat_dose": ("running", "{mix}. The pump runs at {rate}. What dose is running?"),
    "supply.runout": ("lasts", "{volume} are left to give, and the pump runs at {rate}. How long does it last?"),
    "supply.cylinder_minutes": ("lasts", "{title}, factor {factor}. " + GAUGE),
    "supply.water_capacity_minutes": ("lasts", "{title}, water capacity {capacity}. " + GAUGE),
    "oxygen.contents_minutes": ("lasts", "{title}, which holds {contents} at {full}. " + GAUGE),
    "oxygen.liquid_minutes": (
        "lasts",
        "{liquid} of liquid oxygen are left, which expands by {expansion}. The flow is {flow}. How long does it last?",
    ),
    "conversion.units": ("convert", "How many {unit} are {amount}?"),
    "conversion.celsius": ("convert", "How many {unit} are {fahrenheit}?"),
    "conversion.drops": ("convert", "An infusion of {rate} runs through a drip set of {drip_set}. How many drops a minute is that?"),
    "conversion.flat_dose": ("convert", "A patient of {weight} has {dose}. How many {unit} is that?"),
    "conversion.dose_by_weight": ("convert", "A patient of {weight} has {dose}. How many {unit} is that?"),
    "conversion.percent_strength": ("convert", "How many {unit} are there in a solution of {percent}?"),
    "conversion.ratio_strength": ("convert", "How many {unit} are there in a strength of 1 in {parts}?"),
    "pressure.convert": ("convert", "How many {unit} are {pressure}?"),
}
SIZE = "{person} of {row}: which size is chosen for {column}, in {unit}? Sizes that are made: {sizes}."
PEOPLE = {"age": "A child", "weight": "A child"}


def kind_of(line: Line) -> str:
    """The kind of problem that asks for a cell of this column; "" for none."""
    if line.formula is None:
        return ""
    return "size" if line.sizes else SENTENCES.get(line.formula, ("", ""))[0]


def question(picked: Picked, line: Line, cell: Cell, row: Quantity) -> str:
    """The problem that asks for this cell, whose row's head is ``row``."""
    if line.sizes:
        person = PEOPLE.get(picked.chart.row_name, f"A patient with {spoken(picked.chart.row_name)}")
        column = f"{line.head} {line.group}".strip()
        return SIZE.format(person=person, row=told(row), column=column, unit=line.unit, sizes=line.sizes.shown)
    quantities = {name: told(quantity) for name, quantity in cell.trace.quantities.items()}
    text = SENTENCES[line.formula][1]
    return text.format(**quantities, mix=_mix(picked, cell), title=picked.side.title, unit=line.unit)


def _mix(picked: Picked, cell: Cell) -> str:
    """What is in the syringe or bag: ``norepinephrine, 16 mcg/mL (4 mg in 250 mL)``."""
    mix = cell.trace.inputs.get("concentration")
    if mix is None:
        return picked.side.title
    says = f" ({mix.says})" if isinstance(mix, Given) and " in " in mix.says else ""
    return f"{picked.side.title}, {told(cell.trace.quantities['concentration'])}{says}"


def told(quantity: Quantity) -> str:
    """A quantity in a sentence: ``4 years``, ``1 month``, ``70 kg``."""
    many = "s" if quantity.unit in ("year", "month", "day") and quantity.value != 1 else ""
    return f"{plain(quantity.value)} {quantity.unit}{many}".strip()
