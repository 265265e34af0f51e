"""A comparison in words for a terminal, and as data for other programs."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator

from rich.console import Console
from rich.table import Table
from rich.text import Text

from cardwright.compare import Comparison, Judged, percent
from cardwright.compare.slips import told

MOST_TOLD = 60


def as_text(found: Comparison, width: int) -> str:
    """What was read, the cells that do not agree with what should stand there, what is missing, and the counts."""
    page = io.StringIO()
    console = Console(file=page, width=width, highlight=False, emoji=False, color_system=None)
    for line in heading(found):
        console.print(line, markup=False)
    cells = [cell for row in found.cells for cell in row if cell.status != "agrees"]
    if cells:
        console.print()
        console.print(_table(cells[:MOST_TOLD]))
    if len(cells) > MOST_TOLD:
        console.print(f"and {len(cells) - MOST_TOLD} more: --format html shows them all")
    console.print()
    for line in summary(found):
        console.print(line, markup=False)
    return "".join(f"{line.rstrip()}\n" for line in page.getvalue().splitlines())


def _table(cells: list[Judged]) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), header_style="")
    for head, justify in (("row", "left"), ("column", "left"), ("yours", "right"), ("ours", "right"), ("off", "right"), ("what", "left")):
        table.add_column(head, justify=justify, overflow="fold")
    table.add_column("at", overflow="fold")
    for cell in cells:
        off = percent(cell.off) if cell.status == "differs" and cell.off is not None else ""
        told_place = cell.place.rpartition("/")[2].partition(":")[2]
        table.add_row(*map(Text, (cell.row, cell.column, cell.theirs, cell.ours, off, verdict(cell), told_place)))
    return table


def verdict(cell: Judged) -> str:
    """The status of a cell in words, with the likely slip or what stands in the way."""
    more = told(cell.slips) or cell.why
    return f"{cell.status}: {more}" if more else cell.status


def heading(found: Comparison) -> Iterator[str]:
    """What is compared with what, and how the file was read."""
    chart, spec = found.chart, found.book.edition.spec
    mix = f", mix {chart.mix.shown}" + (f" ({chart.mix.says})" if chart.mix.says != "concentration" else "") if chart.mix else ""
    yield f"{found.file} against {chart.id} of {spec.title} {spec.number}"
    yield f"{chart.source.title}: {chart.title}{mix}"
    units = ", ".join(dict.fromkeys(unit for unit in found.layout.units if unit))
    if units:
        yield f"cells read in {units}"


def summary(found: Comparison) -> Iterator[str]:
    """The counts, what the file lacks, and the remarks."""
    counts = found.counts
    yield ", ".join(
        f"{counts[status]} {words}"
        for status, words in (("agrees", "agree"), ("differs", "differ"), ("missing", "missing"), ("not computable", "not computable"))
    )
    for kind, heads in (("rows", found.missing_rows), ("columns", found.missing_columns)):
        if heads:
            yield f"{kind} of ours that yours lacks: {', '.join(heads)}"
    yield from found.remarks


def as_json(found: Comparison, digest: str) -> str:
    """The comparison as JSON.

    ``{"format": "cardwright-compare/1", "file", "chart", "edition": {"name", "number", "digest"}, "mix": text or null,
    "turned": whether its rows are our columns, "counts": {status: number}, "missing": {"rows": [head], "columns": [head]},
    "remarks": [text], "cells": [[{"row", "column", "place", "theirs", "ours", "status", "unit", "exact", "off", "why", "coarse",
    "slips": [{"kind", "says"}]}]]}``. Cells stand by row, in the directions of our chart. ``exact`` is a fraction in ``unit`` and
    ``off`` a fraction of it, both as text, or null; ``status`` is agrees, differs, missing or not computable.
    """
    edition, chart = found.book.edition, found.chart
    data = {
        "format": "cardwright-compare/1",
        "file": found.file,
        "chart": chart.id,
        "edition": {"name": edition.name, "number": edition.spec.number, "digest": digest},
        "mix": chart.mix.shown if chart.mix else None,
        "turned": found.layout.turned,
        "counts": found.counts,
        "missing": {"rows": list(found.missing_rows), "columns": list(found.missing_columns)},
        "remarks": list(found.remarks),
        "cells": [[_cell(cell) for cell in row] for row in found.cells],
    }
    return json.dumps(data, indent=1, ensure_ascii=False) + "\n"


def _cell(cell: Judged) -> dict:
    told_fractions = {name: None if value is None else str(value) for name, value in (("exact", cell.exact), ("off", cell.off))}
    texts = {name: getattr(cell, name) for name in ("row", "column", "place", "theirs", "ours", "status", "unit", "why", "coarse")}
    return texts | told_fractions | {"slips": [{"kind": slip.kind, "says": slip.says} for slip in cell.slips]}
