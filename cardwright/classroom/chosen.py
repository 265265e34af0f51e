"""Charts picked out of a book by their ids, each as if it stood alone on a face."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from cardwright.charts import Book, Chart, Side
from cardwright.classroom import Unfit
from cardwright.documents import unknown
from cardwright.render.letters import Letters
from cardwright.render.measure import TYPE
from cardwright.render.views import FaceView, face_view

WIDE = 2000.0  # mm: room for any chart, where its width is not asked


@dataclass(frozen=True)
class Picked:
    """A chart of a book with the card and the side that it stands on."""

    book: Book
    chart: Chart
    card: str
    side: Side

    @property
    def alone(self) -> Side:
        """A side that holds this chart, and those of the notes that are of its source table."""
        notes = tuple(note for note in self.side.notes if note in self.chart.source.notes.values())
        return Side(self.side.title, (self.chart,), notes, False, True)

    @property
    def subject(self) -> str:
        """What the chart is about, with the mix: ``norepinephrine 16 mcg/mL (4 mg in 250 mL)``."""
        mix = self.chart.mix
        if mix is None:
            return self.side.title
        says = f" ({mix.says})" if " in " in mix.says else ""
        return f"{self.side.title} {mix.shown}{says}"

    def view(self, available: float = WIDE, letters: Letters | None = None) -> FaceView:
        """The face as a template prints it, ``available`` mm wide. RenderError for a chart that is wider."""
        return face_view(self.book, self.alone, available, TYPE, letters)

    def letters(self) -> Letters:
        """Letters for its sources, none used yet."""
        return Letters(self.book.edition.references)


def pick(book: Book, ids: Iterable[str]) -> tuple[Picked, ...]:
    """The charts of these ids, in this order, each once. Unfit with a line for each id that is none."""
    known = {chart.id: Picked(book, chart, card, side) for card, sides in book.sides.items() for side in sides for chart in side.charts}
    ids = list(dict.fromkeys(ids))
    wrong = [f"--chart: {unknown('chart', id, known)}" for id in ids if id not in known]
    if wrong:
        raise Unfit(*wrong)
    return tuple(known[id] for id in ids)
