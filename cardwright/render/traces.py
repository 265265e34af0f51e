"""The traces of a card for its page: numbered, with the givens and references that they name told once each."""

from __future__ import annotations

from cardwright.charts import Book, Cell, Chart, Line
from cardwright.models import described
from cardwright.numbers import with_unit
from cardwright.provenance import Derived, Given, Stated, Trace, leaves
from cardwright.render.views import spoken


def traces(book: Book, card_id: str) -> dict:
    """``traces`` by number, the ``givens`` and ``references`` they name, all as text."""
    found, named, cited = {}, {}, {}
    for side in book.sides[card_id]:
        for chart in side.charts:
            for r, row in enumerate(chart.cells):
                for c, cell in enumerate(row):
                    if cell.trace:
                        found[chart.trace_id(r, c)] = {
                            "title": _title(chart, chart.heads[r], chart.columns[c], cell),
                            **_trace(cell.trace, named),
                        }
    for given in named.values():
        for key, _ in given["cite"]:
            reference = book.edition.references[key]
            memory = " From memory." if reference.read == "memory" else ""
            cited[key] = described(reference) + memory
    return {"traces": found, "givens": named, "references": cited}


def _title(chart: Chart, head: str, line: Line, cell: Cell) -> str:
    """``45 mL/h of norepinephrine 16 mcg/mL for weight 60 kg, dose 0.2 mcg/kg/min``; of words, ``adult woman, usual: 7 to 7.5 mm``."""
    column = f"{spoken(chart.column_name)} {line.head} {chart.column_unit}" if chart.column_name != "quantity" else line.name
    unit = f" {line.unit}" if line.unit and cell.state == "ok" and ":" not in cell.printed else ""
    drug = f" of {chart.source.drug.drug}" if chart.source.drug else ""
    mix = f" {chart.mix.shown}" if chart.mix else ""
    row = f"{spoken(chart.row_name)} {head} {chart.row_unit}"
    place, told = f"{row.rstrip()}, {column.rstrip()}", f"{cell.printed}{unit}{drug}{mix}"
    return f"{place}: {told}" if cell.value is None and cell.state == "ok" else f"{told} for {place}"


def _trace(trace: Trace, named: dict) -> dict:
    if isinstance(trace, Stated):
        return {"working": trace.text, "rounding": "as published", "givens": [_name(trace, named)], "choices": []}
    chosen = {name: item for name, item in trace.inputs.items() if not isinstance(item, (Given, Derived))}
    choices = [f"{spoken(name)} {with_unit(item.quantity)}" for name, item in chosen.items()]
    steps = [item.working for item in trace.inputs.values() if isinstance(item, Derived)]
    return {
        "formula": trace.formula,
        "working": trace.working,
        "rounding": f"{trace.rounding}: {trace.printed}",
        "steps": steps,
        "givens": list(dict.fromkeys(_name(given, named) for given in leaves(trace))),
        "choices": choices,
    }


def _name(given: Given | Stated, named: dict) -> str:
    named.setdefault(
        given.id,
        {
            "value": given.shown,
            "says": given.says,
            "place": f"{given.mark.file}:{given.mark.line}",
            "cite": [[citation.key, citation.locator] for citation in given.citations],
        },
    )
    return given.id
