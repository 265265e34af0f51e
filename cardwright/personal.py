"""A medic's own card: charts picked from an edition, for the weights that the medic meets. It has no numbers of its own."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from cardwright.charts import Book, Chart
from cardwright.compute import compute
from cardwright.documents import Problems, mark_of, read, unknown, validate
from cardwright.edition import Edition, find
from cardwright.loading import load
from cardwright.models import CardSpec, Face, PersonalSpec
from cardwright.units import dimension


def personal(path: Path) -> tuple[Edition, Book]:
    """The edition that a personal file picks from, with the one card that it makes; and the whole it was picked from.

    InputError with every problem of the file or of that edition.
    """
    path = path.resolve()
    problems = Problems(path.parent)
    table = read(path, problems)
    spec = None if table is None else validate(PersonalSpec, table, problems)
    problems.stop()
    folder = find(spec.edition, near=path.parent)
    whole = compute(load(folder))
    places = {
        chart.id: (name, f, c) for name, sides in whole.sides.items() for f, side in enumerate(sides) for c, chart in enumerate(side.charts)
    }
    faces = []
    for number, id in enumerate(spec.charts):
        if id in places:
            faces.append(_face(whole, places[id], spec))
        else:
            problems.add(mark_of(table, ("charts", number)), unknown("chart", id, places))
    problems.stop()
    name, edition = path.stem, whole.edition
    card = CardSpec(title=spec.title, size=spec.size, turn=spec.turn, faces=faces)
    kept = edition.spec.model_copy(update={"cards": [name], "carries": {}, "waivers": []})
    return replace(edition, spec=kept, cards={name: card}, tables={name: table}, changes=()), whole


def _face(whole: Book, place: tuple[str, int, int], spec: PersonalSpec) -> Face:
    """The face of one chart, with the notes that stand beside it in the edition."""
    name, f, c = place
    face = whole.edition.cards[name].faces[f]
    chart = face.charts[c]
    [(row, axis)] = chart.down.items() if chart.down else [("", None)]
    if spec.weights and axis and row == "weight" and dimension(axis[0].unit) == dimension(spec.weights[0].unit):
        chart = chart.model_copy(update={"down": {row: spec.weights}})
    return face.model_copy(update={"charts": [chart], "title": face.title or whole.sides[name][f].title, "beside": "no", "code": "yes"})


def is_part(card: Book, whole: Book) -> bool:
    """Whether every cell of a card stands in the whole as it is here: in a chart of the same name, in its row and column."""
    return all(any(_holds(one, chart) for one in whole.charts) for chart in card.charts)


def _holds(whole: Chart, part: Chart) -> bool:
    return _named(whole) == _named(part) and _cells(part).items() <= _cells(whole).items()


def _named(chart: Chart) -> tuple[str, str, str]:
    """What a chart is called wherever it stands: its name without its card's, its title, and its unit."""
    return chart.id.partition("/")[2], chart.title, chart.unit or ""


def _cells(chart: Chart) -> dict[tuple[str, int, str], str]:
    """The printed cells of a chart by row head (and its count, where heads repeat) and column."""
    seen: dict[str, int] = {}
    cells = {}
    for head, row in zip(chart.heads, chart.cells):
        seen[head] = seen.get(head, 0) + 1
        cells |= {(head, seen[head], f"{line.id} {line.name} {line.unit}"): cell.printed for line, cell in zip(chart.columns, row)}
    return cells
