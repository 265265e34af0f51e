"""What each face of a card must show, for its proof: charts as computed, and the words around them as the templates are given them."""

from __future__ import annotations

from collections.abc import Iterator

from cardwright.charts import Book, Cell, Chart, Side
from cardwright.collate import Grid, Wanted
from cardwright.render.fit import Fit
from cardwright.render.signs import stamp
from cardwright.render.views import CellView, ChartView, FaceView
from cardwright.standing import Standing


def wanted(book: Book, fit: Fit, title: str, standing: Standing) -> tuple[Wanted, ...]:
    """What the faces of a card of this title must show as it is printed."""
    drawn = stamp(standing.stamp) if standing.stamp else None
    return tuple(
        Wanted(
            side.title,
            tuple(map(grid, side.charts, view.charts)),
            tuple((what, text) for what, text in _texts(book, title, side, view, standing) if text),
            mark,
            standing.code if side.coded else "",
            (drawn.aspect, drawn.points) if drawn else None,
        )
        for side, view, mark in ((face.side, face.view, face.mark) for face in fit.faces)
    )


def grid(chart: Chart, view: ChartView) -> Grid:
    """A chart as it must stand on paper."""
    return Grid(
        chart.id,
        f"{chart.title} {view.letters}",
        view.groups,
        f"{view.row_name} {chart.row_unit}",
        tuple(f"{line.head} {head.unit} {head.letters}" for line, head in zip(chart.columns, view.heads)),
        tuple((head, tuple(cell.printed for cell in row)) for head, row in zip(chart.heads, chart.cells)),
        tuple(tuple(map(_on_the_point, row, shown.cells)) for row, shown in zip(chart.cells, view.rows)),
    )


def _on_the_point(cell: Cell, shown: CellView) -> bool:
    return cell.value is not None and shown.classes != "words"


def _texts(book: Book, card: str, side: Side, view: FaceView, standing: Standing) -> Iterator[tuple[str, str]]:
    """Every text outside the charts: (what it is, text), empty where there is none."""
    yield "band", view.band or (card if card != side.title else "")
    yield "title", side.title
    yield "mix", f"{view.mix} {view.concentration} {view.mix_letters}" if view.concentration else ""
    for shown in view.charts:
        yield "unit", shown.asks
        yield "fixed inputs", " · ".join(f"{text} {letters}" for text, letters in shown.fixed)
    yield "legend", " · ".join(f"{text} {letters}" for _, text, letters in view.legend)
    yield "notes", " ".join(f"{note.text} {letters}" for note, (_, letters) in zip(side.notes, view.notes))
    yield "status line", f"{standing.says}. {standing.issue} {book.edition.spec.caution}"
    yield "sources", ". ".join(f"{letter} {text}" for letter, text in view.sources) + ("." if view.sources else "")
