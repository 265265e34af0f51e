"""Every text that reaches a card, with the place where it is written: what the checks of wording read.

Titles of documents and what a given ``says`` stand behind a number, on the phone and in the audit, and quote their source; they are
not read. Nor are witnesses and conflicts, which no card shows.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from cardwright.charts import Book, Chart
from cardwright.checks.arithmetic import mark as cell_mark
from cardwright.checks.arithmetic import where as cell_where
from cardwright.edition import Edition
from cardwright.models import Face
from cardwright.provenance import Citation, Derived, Mark, leaves
from cardwright.source import Source


@dataclass(frozen=True)
class Piece:
    """One text of a card: where it is in words, where it is written, and its kind.

    A ``figure`` is numbers with at most a unit, ``words`` may hold other numbers (a year), and a ``source`` is a line of the foot,
    whose numbers are pages and versions.
    """

    where: str
    mark: Mark
    text: str
    kind: str = "words"


def pieces(book: Book) -> Iterator[Piece]:
    """Every text of the book's cards, each place once."""
    seen = set()
    for piece in (*_edition(book.edition), *_cards(book.edition), *_sources(book), *_foot(book)):
        if piece not in seen:
            seen.add(piece)
            yield piece
    for chart in book.charts:
        yield from _chart(chart)
        yield from _cells(chart)


def _at(text: str, other: Mark) -> Mark:
    """Where a text was typed, or another mark where it was made from numbers."""
    return getattr(text, "mark", other)


def _edition(edition: Edition) -> Iterator[Piece]:
    spec = edition.spec
    for name in ("title", "caution"):
        yield Piece(f"{edition.name}, {name}", _at(getattr(spec, name), spec.mark), getattr(spec, name))
    for name, quantity in (("pump", spec.pump.least), ("pump", spec.pump.most), ("rounding limit", spec.rounding_limit)):
        yield Piece(f"{edition.name}, {name}", spec.mark, str(quantity), "figure")


def _cards(edition: Edition) -> Iterator[Piece]:
    for name, card in edition.cards.items():
        yield Piece(f"{name}, title", _at(card.title, card.mark), card.title)
        for number, face in enumerate(card.faces, 1):
            if face.title:
                yield Piece(f"{name}, face {number}, title", _at(face.title, face.mark), face.title)
            for source, note in _noted(edition, face):
                text = source.notes[note].text
                yield Piece(f"{source.id}, note {note}", _at(text, source.notes[note].mark), text)


def _noted(edition: Edition, face: Face) -> Iterator[tuple[Source, str]]:
    """The notes of a face, with the tables that hold them."""
    for spec in face.charts:
        source = edition.sources[spec.source]
        for note in face.notes:
            if note in source.notes:
                yield source, note


def _sources(book: Book) -> Iterator[Piece]:
    """What a drug's face says beside its charts: the name, the mix, the start, the usual range, the ceiling."""
    for chart in book.charts:
        source, drug = chart.source, chart.source.drug
        if chart.mix:
            yield Piece(f"{source.id}, mix {chart.mix.quantity}", chart.mix.mark, chart.mix.says, "figure")
        if drug is None:
            continue
        yield Piece(f"{source.id}, drug", _at(drug.drug, drug.mark), drug.drug)
        for name, given in source.givens.items():
            if name.startswith("dose.") and not name.startswith("dose.step"):
                yield Piece(f"{source.id}, {name}", given.mark, str(given.quantity), "figure")


def _foot(book: Book) -> Iterator[Piece]:
    for citation in _cited(book):
        reference = book.edition.references.get(citation.key)
        if reference:
            yield Piece(f"references, {citation.key}", _at(reference.short, reference.mark), reference.short, "source")
        yield Piece(f"citation of {citation.key}", citation.mark, citation.locator, "source")


def _cited(book: Book) -> Iterator[Citation]:
    """What the cells, the drugs' doses and the notes cite."""
    traces = {id(item): item for chart in book.charts for row in chart.cells for cell in row if cell.trace for item in _parts(cell.trace)}
    for item in traces.values():
        for leaf in leaves(item):
            yield from leaf.citations
    for source in {chart.source.id: chart.source for chart in book.charts}.values():
        for name, given in source.givens.items():
            if name.startswith("dose."):
                yield from given.citations
    for card in book.edition.cards.values():
        for face in card.faces:
            for source, note in _noted(book.edition, face):
                yield from source.notes[note].cite


def _parts(trace) -> tuple:
    """The inputs and bounds of a trace: cells of a column share them."""
    return (*trace.inputs.values(), *trace.bounds) if isinstance(trace, Derived) else (trace,)


def _chart(chart: Chart) -> Iterator[Piece]:
    """The title, and the names, units and heads of rows and columns."""
    figures = "words" if all(line.formula is None for line in chart.columns) else "figure"
    yield Piece(f"{chart.id}, title", _at(chart.title, chart.mark), chart.title)
    yield Piece(f"{chart.id}, rows", _at(chart.row_name, chart.mark), chart.row_name)
    for unit in {chart.row_unit, chart.column_unit} - {""}:
        yield Piece(f"{chart.id}, unit", _at(unit, chart.mark), f"0 {unit}", "figure")
    for head in chart.heads:
        yield Piece(f"{chart.id}, row {head}", _at(head, chart.mark), head, "figure")
    for line in chart.columns:
        place = f"{chart.id}, column {line.name}"
        yield Piece(place, _at(line.head, chart.mark), line.head, figures if chart.formula else "words")
        if line.group:
            yield Piece(place, _at(line.group, chart.mark), line.group)
        if line.unit:
            yield Piece(place, _at(line.unit, chart.mark), f"0 {line.unit}", "figure")


def _cells(chart: Chart) -> Iterator[Piece]:
    for head, row in zip(chart.heads, chart.cells):
        for line, cell in zip(chart.columns, row):
            mark = cell_mark(cell) if isinstance(cell.trace, Derived) else getattr(cell.trace, "mark", chart.mark)
            yield Piece(cell_where(chart, head, line), mark, cell.printed, "figure")
