"""What the audit's template is given: the whole edition, value by value."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from cardwright.charts import STATES, Book, Chart, Witnessed
from cardwright.checks import CHECKS, Outcome
from cardwright.formulas import FORMULAS
from cardwright.models import Wording, described
from cardwright.numbers import approximate
from cardwright.provenance import Citation, Derived, Given, Stated, leaves
from cardwright.render.workings import Workings, workings
from cardwright.source import Source, citations


@dataclass(frozen=True)
class ChartAudit:
    """A chart in the audit: the ids of its formulas, the givens that it rests on, and the working of every cell."""

    chart: Chart
    formulas: tuple[str, ...]
    givens: tuple[Given | Stated, ...]
    workings: Workings
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
        "marks": STATES.values(),
        "witnesses": [(title, [(found.witness, _reached(found)) for found in group]) for title, group in groupby(book.witnessed, _title)],
        "conflicts": [(title, conflict) for title, part in texts for conflict in part.conflicts],
        "open": [(title, text) for title, part in texts for text in part.open],
        "references": sorted(_cited(book).items()),
        "counts": counts(book, outcomes),
        "cite": told,
        "described": described,
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
    stated = next((cell.trace.citations for row in chart.cells for cell in row if isinstance(cell.trace, Stated)), ())
    return ChartAudit(chart, formulas, tuple(found.values()), workings(chart), stated)


def _title(found: Witnessed) -> str:
    return found.source.title


def _reached(found: Witnessed) -> str:
    return f"{approximate(found.exact)} {found.witness.gives.unit}".rstrip()


def told(citations: tuple[Citation, ...]) -> str:
    """Citations as the audit tells them: ``key, locator; key, locator``."""
    return "; ".join(f"{citation.key}, {citation.locator}" for citation in citations)
