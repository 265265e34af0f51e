"""What the audit's template is given: the whole edition, value by value."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from cardwright.charts import STATES, Book, Cell, Chart, Witnessed
from cardwright.checks import CHECKS, Outcome
from cardwright.formulas import FORMULAS
from cardwright.models import Wording
from cardwright.numbers import approximate, with_unit
from cardwright.provenance import Citation, Derived, Given, Stated, leaves
from cardwright.render.measure import width
from cardwright.source import Source, citations

EQUALS = re.compile(r" ([=≈]) ")
ROOM, TYPE = 174.0, 7.2  # mm of a page inside its margins, and the type of its workings in pt, as in audit.css
INDENT, BETWEEN = "    ", ";   "


@dataclass(frozen=True)
class ChartAudit:
    """A chart in the audit: the ids of its formulas, the givens that it rests on, and the working of every cell."""

    chart: Chart
    formulas: tuple[str, ...]
    givens: tuple[Given | Stated, ...]
    rows: tuple[str, ...]
    published: tuple[Citation, ...]


def audit_view(book: Book, outcomes: tuple[Outcome, ...]) -> dict:
    """Everything the audit prints."""
    texts = _texts(book)
    return {
        "formulas": [_formula(id) for id in sorted({line.formula for chart in book.charts for line in chart.columns if line.formula})],
        "charts": [_chart(chart) for chart in book.charts],
        "outcomes": outcomes,
        "page_checks": [check for check in CHECKS.values() if check.subject == "page"],
        "waived": [(f"{outcome.check.id}/{found.code}", found, waiver) for outcome in outcomes for found, waiver in outcome.waived],
        "witnesses": [(found.source.title, found.witness, _reached(found)) for found in book.witnessed],
        "conflicts": [(title, conflict) for title, part in texts for conflict in part.conflicts],
        "open": [(title, text) for title, part in texts for text in part.open],
        "references": sorted(_cited(book).items()),
        "counts": counts(book, outcomes),
        "cite": told,
    }


def counts(book: Book, outcomes: tuple[Outcome, ...]) -> list[tuple[str, str]]:
    """What there is of each kind, by name."""
    cells = [cell for chart in book.charts for row in chart.cells for cell in row]
    resting = {leaf.id: leaf for cell in cells if cell.trace for leaf in leaves(cell.trace)}
    memory = [leaf for leaf in resting.values() if all(book.edition.references[c.key].read == "memory" for c in leaf.citations)]
    found = sum(len(outcome.findings) for outcome in outcomes)
    return [
        ("cards", f"{len(book.edition.cards):,}"),
        ("charts", f"{len(book.charts):,}"),
        ("cells", f"{len(cells):,}"),
        ("cells that show a mark in place of a number", f"{sum(cell.state != 'ok' for cell in cells):,}"),
        ("givens that cells rest on", f"{len(resting):,}"),
        ("of these from memory alone", f"{len(memory):,}"),
        ("references cited", f"{len(_cited(book)):,}"),
        ("witnesses", f"{len(book.witnessed):,}"),
        ("findings of the checks", f"{found:,}"),
        ("findings waived", f"{sum(len(outcome.waived) for outcome in outcomes):,}"),
    ]


def _texts(book: Book) -> list[tuple[str, Source | Wording]]:
    """The source tables, and the lists of wording unless they are those of the program and not of this edition's root."""
    wording = book.edition.wording
    own = all(citation.key in book.edition.references for citation in wording.citations())
    return [*((source.title, source) for source in book.edition.sources.values()), *([("Safe wording", wording)] if own else [])]


def _cited(book: Book) -> dict:
    sources = book.edition.sources.values()
    conflicts = (conflict for _, part in _texts(book) for conflict in part.conflicts)
    keys = {citation.key for source in sources for citation in citations(source)}
    keys |= {citation.key for conflict in conflicts for citation in conflict.cite}
    return {key: reference for key, reference in book.edition.references.items() if key in keys}


def _formula(id: str) -> tuple[str, str, str, str]:
    """A formula in words: its id, statement, limits and source."""
    return id, *(FORMULAS[id].section(part) for part in ("Statement", "Limits", "Source"))


def _chart(chart: Chart) -> ChartAudit:
    formulas = tuple(dict.fromkeys(line.formula for line in chart.columns if line.formula))
    computed = (cell.trace for row in chart.cells for cell in row if isinstance(cell.trace, Derived))
    found = {leaf.id: leaf for trace in computed for leaf in leaves(trace)}
    name = chart.row_name.replace("_", " ")
    rows = tuple(_workings(f"{name} {head} {chart.row_unit}".strip(), chart, row) for head, row in zip(chart.heads, chart.cells))
    stated = next((cell.trace.citations for row in chart.cells for cell in row if isinstance(cell.trace, Stated)), ())
    return ChartAudit(chart, formulas, tuple(found.values()), rows, stated)


def _workings(head: str, chart: Chart, row: tuple[Cell, ...]) -> str:
    """The working once for the whole row where its cells differ in one input, and then each result; else each working.

    One text for the row, in lines as full as may be, which is what renders fast.
    """
    left = _common_left(chart, row)
    if left is None:
        workings = _filled(f"{line.name}: {_working(cell)}" for line, cell in zip(chart.columns, row))
        whole = f"{head}:  {workings[0]}"
        return whole if len(workings) == 1 and width(whole, TYPE) <= ROOM else f"\n{INDENT}".join([f"{head}:", *workings])
    results = _filled(f"{line.head}: {_result(cell)}" for line, cell in zip(chart.columns, row))
    return f"\n{INDENT}".join([f"{head}:  {left}", *results])


def _common_left(chart: Chart, row: tuple[Cell, ...]) -> str | None:
    """The left side of the workings with the column's input by its name, if that makes them all the same."""
    lefts = set()
    for cell in row:
        if not isinstance(cell.trace, Derived) or chart.column_name not in cell.trace.quantities:
            return None
        left, shown = EQUALS.split(cell.trace.working)[0], re.escape(with_unit(cell.trace.quantities[chart.column_name]))
        named, times = re.subn(rf"(?<![\w.,]){shown}(?![\w/])", chart.column_name.replace("_", " "), left)
        lefts.add(named if times == 1 else None)
    return lefts.pop() if len(lefts) == 1 else None


def _result(cell: Cell) -> str:
    _, sign, result = EQUALS.split(cell.trace.working)
    return f"{'≈ ' if sign == '≈' and _printed(cell) else ''}{result}{_printed(cell)}"


def _printed(cell: Cell) -> str:
    """What is printed for a working, where that is not just its result."""
    why = "" if cell.state == "ok" else f" ({STATES[cell.state][1]})"
    as_worked = cell.state == "ok" and EQUALS.split(cell.trace.working)[-1] == f"{cell.printed} {cell.trace.unit}"
    return "" if as_worked else f", printed {cell.printed}{why}"


def _filled(results: Iterable[str]) -> list[str]:
    """Results in lines that fill the page's width and break between results only."""
    lines: list[str] = []
    room = 0.0
    for result in results:
        wide = width(f"{BETWEEN}{result}", TYPE)
        if lines and wide <= room:
            lines[-1] += f"{BETWEEN}{result}"
        else:
            lines.append(result)
            room = ROOM - width(f"{INDENT}{BETWEEN}", TYPE)
        room -= wide
    return lines


def _working(cell: Cell) -> str:
    if isinstance(cell.trace, Derived):
        return f"{cell.trace.working}{_printed(cell)}"
    place = f"{cell.trace.mark.file}:{cell.trace.mark.line}" if cell.trace else ""
    return f"{cell.trace.shown}, as published ({place})" if cell.trace else f"printed {cell.printed} ({STATES[cell.state][1]})"


def _reached(found: Witnessed) -> str:
    return f"{approximate(found.exact)} {found.witness.gives.unit}".rstrip()


def told(citations: tuple[Citation, ...]) -> str:
    """Citations as the audit tells them: ``key, locator; key, locator``."""
    return "; ".join(f"{citation.key}, {citation.locator}" for citation in citations)
