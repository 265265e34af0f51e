"""What the audit's template is given: the whole edition, value by value."""

from __future__ import annotations

from dataclasses import dataclass

from cardwright.charts import STATES, Book, Cell, Chart, Witnessed
from cardwright.checks import Outcome
from cardwright.edition import citations
from cardwright.formulas import FORMULAS
from cardwright.numbers import approximate
from cardwright.provenance import Citation, Derived, Given, Stated, leaves


@dataclass(frozen=True)
class ChartAudit:
    """A chart in the audit: formulas in words, the givens that it rests on, and the working of every cell."""

    chart: Chart
    formulas: tuple[tuple[str, str, str, str], ...]
    givens: tuple[Given | Stated, ...]
    rows: tuple[tuple[str, str], ...]


def audit_view(book: Book, outcomes: tuple[Outcome, ...]) -> dict:
    """Everything the audit prints."""
    sources = book.edition.sources.values()
    return {
        "charts": [_chart(chart) for chart in book.charts],
        "outcomes": outcomes,
        "witnesses": [(found.source.title, found.witness, _reached(found)) for found in book.witnessed],
        "conflicts": [(source.title, conflict) for source in sources for conflict in source.conflicts],
        "open": [(source.title, text) for source in sources for text in source.open],
        "references": sorted(_cited(book).items()),
        "counts": _counts(book, outcomes),
        "cite": lambda citations: _told(citations),
    }


def _counts(book: Book, outcomes: tuple[Outcome, ...]) -> list[tuple[str, str]]:
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
    ]


def _cited(book: Book) -> dict:
    keys = {citation.key for source in book.edition.sources.values() for citation in citations(source)}
    return {key: reference for key, reference in book.edition.references.items() if key in keys}


def _chart(chart: Chart) -> ChartAudit:
    ids = list(dict.fromkeys(line.formula for line in chart.columns if line.formula))
    formulas = tuple((id, FORMULAS[id].section("Statement"), FORMULAS[id].section("Limits"), FORMULAS[id].section("Source")) for id in ids)
    computed = (cell.trace for row in chart.cells for cell in row if isinstance(cell.trace, Derived))
    found = {leaf.id: leaf for trace in computed for leaf in leaves(trace)}
    name = chart.row_name.replace("_", " ")
    rows = tuple((f"{name} {head} {chart.row_unit}".strip(), _workings(chart, row)) for head, row in zip(chart.heads, chart.cells))
    return ChartAudit(chart, formulas, tuple(found.values()), rows)


def _workings(chart: Chart, row: tuple[Cell, ...]) -> str:
    """One line a cell: column, working, and what is printed. One text for the whole row, which is what renders fast."""
    return "\n".join(f"    {line.head}:  {_working(cell)}" for line, cell in zip(chart.columns, row))


def _working(cell: Cell) -> str:
    if isinstance(cell.trace, Derived):
        why = "" if cell.state == "ok" else f" ({STATES[cell.state][1]})"
        return f"{cell.trace.working};  printed {cell.printed}{why}"
    place = f"{cell.trace.mark.file}:{cell.trace.mark.line}" if cell.trace else ""
    return f"{cell.trace.shown}, as published ({place})" if cell.trace else f"printed {cell.printed} ({STATES[cell.state][1]})"


def _reached(found: Witnessed) -> str:
    return f"{approximate(found.exact)} {found.witness.gives.unit}".rstrip()


def _told(citations: tuple[Citation, ...]) -> str:
    return "; ".join(f"{citation.key}, {citation.locator}" for citation in citations)
