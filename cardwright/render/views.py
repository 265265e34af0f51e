"""What the templates are given: faces, charts and their legends, with every word decided here and no arithmetic left."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from cardwright.charts import STATES, Book, Cell, Chart, Line, Side
from cardwright.models import CLASSES, Bound
from cardwright.numbers import with_unit
from cardwright.provenance import Derived, Given, leaves
from cardwright.render.letters import Letters
from cardwright.render.measure import Type, columns, mix_width, width

COLORED = CLASSES[: CLASSES.index("local anesthetic") + 1]  # by the international drug-label standard
APART = 1.0  # mm between a name and the mix beside it
GAP = 4.0  # mm between charts that stand side by side


@dataclass(frozen=True)
class CellView:
    """A cell as the template prints it: text, CSS classes, the number of its trace."""

    text: str
    classes: str
    trace: str


@dataclass(frozen=True)
class RowView:
    """A row: its head, the head's role, its cells."""

    head: str
    role: str
    cells: tuple[CellView, ...]


@dataclass(frozen=True)
class HeadView:
    """A column head: text, unit under it, superscript letters, role or alignment."""

    text: str
    unit: str
    letters: str
    role: str


@dataclass(frozen=True)
class ChartView:
    """A chart as the template prints it. ``groups`` are (text, span) over the heads, empty where there are none."""

    id: str
    title: str
    letters: str
    asks: str
    row_name: str
    row_unit: str
    groups: tuple[tuple[str, int], ...]
    heads: tuple[HeadView, ...]
    rows: tuple[RowView, ...]
    widths: tuple[float, ...]
    fixed: tuple[tuple[str, str], ...]

    @property
    def weighed(self) -> bool:
        """Whether a weight in kg leads to a row, so that a phone can mark it."""
        return (self.row_name, self.row_unit) == ("weight", "kg") and all(row.head.replace(".", "", 1).isdecimal() for row in self.rows)


@dataclass(frozen=True)
class FaceView:
    """One side of a card as the template prints it; ``stacked`` where the mix stands under the name, beside which it has no room."""

    title: str
    band: str
    colored: bool
    mix: str
    concentration: str
    mix_letters: str
    stacked: bool
    charts: tuple[ChartView, ...]
    beside: bool
    coded: bool
    legend: tuple[tuple[str, str, str], ...]
    notes: tuple[tuple[str, str], ...]
    sources: tuple[tuple[str, str], ...]


def face_view(book: Book, side: Side, available: float, type: Type, letters: Letters | None = None) -> FaceView:
    """A face whose charts may be ``available`` mm wide, in this type. RenderError for a chart that is wider.

    ``letters`` are those of the sources where a page goes on to use them.
    """
    letters = letters or Letters(book.edition.references)
    room = (available - GAP * (len(side.charts) - 1)) / len(side.charts) if side.beside else available
    drug, mix = side.charts[0].source.drug, side.charts[0].mix
    mix_letters = letters.of(mix.citations) if mix else ""
    charts = tuple(_chart(chart, letters, room, type) for chart in side.charts)
    legend = (*_roles(side.charts, letters), *_marks(book, side.charts))
    notes = tuple((note.text, letters.of(note.cite)) for note in side.notes)
    says, concentration = mix.says if mix and " in " in mix.says else "", with_unit(mix.quantity) if mix else ""
    longest = max(width(word, type.name, bold=True) for word in side.title.split())
    return FaceView(
        side.title,
        drug.class_ if drug else "",
        bool(drug) and drug.class_ in COLORED,
        says,
        concentration,
        mix_letters,
        bool(mix) and longest + APART + mix_width(says, concentration, mix_letters, type) > available,
        charts,
        side.beside,
        side.coded,
        legend,
        notes,
        tuple(letters.listed()),
    )


def _chart(chart: Chart, letters: Letters, room: float, type: Type) -> ChartView:
    published = all(line.formula is None for line in chart.columns)
    grid = chart.formula is not None and bool(chart.column_unit or chart.column_name != "quantity")
    letter = letters.of(chart.cells[0][0].trace.citations) if published else ""
    heads = tuple(_head(chart, place, line, grid, published, letters) for place, line in enumerate(chart.columns))
    return ChartView(
        chart.id,
        chart.title,
        letter,
        _asks(chart, grid),
        spoken(chart.row_name),
        chart.row_unit,
        _groups(chart),
        heads,
        _rows(chart),
        columns(chart, (head.letters for head in heads), (head.unit for head in heads), room, type),
        _fixed(chart, letters) if grid else (),
    )


def _asks(chart: Chart, grid: bool) -> str:
    if not grid:
        return ""
    unit = "h:min" if ":" in chart.cells[0][0].printed else chart.unit
    return f"{unit} for {spoken(chart.column_name)}{f' in {chart.column_unit}' if chart.column_unit else ''}"


SPOKEN = {"fio2": "FiO2", "pao2": "PaO2", "paco2": "PaCO2", "peep": "PEEP"}


def spoken(name: str) -> str:
    """The name of an input as a card says it."""
    return SPOKEN.get(name, name.replace("_", " "))


def _head(chart: Chart, place: int, line: Line, grid: bool, published: bool, letters: Letters) -> HeadView:
    if grid or published:
        return HeadView(line.head, "" if grid else line.unit, "", "words" if chart.worded(place) else line.role)
    first = next((row[place] for row in chart.cells if row[place].trace), None)
    cited = [citation for given in leaves(first.trace) for citation in given.citations] if first else []
    return HeadView(line.head, "" if line.head.startswith(line.unit) else line.unit, letters.of(cited), line.role)


def _groups(chart: Chart) -> tuple[tuple[str, int], ...]:
    groups: list[list] = []
    for line in chart.columns:
        if groups and groups[-1][0] == line.group:
            groups[-1][1] += 1
        else:
            groups.append([line.group, 1])
    return tuple((text, span) for text, span in groups) if any(line.group for line in chart.columns) else ()


def _rows(chart: Chart) -> tuple[RowView, ...]:
    places = [max((_decimals(row[c]) for row in chart.cells), default=0) for c in range(len(chart.columns))]
    worded = [chart.worded(c) for c in range(len(chart.columns))]
    return tuple(
        RowView(
            head,
            role,
            tuple(
                CellView(cell.printed, "words" if worded[c] else _classes(cell, places[c]), chart.trace_id(r, c) if cell.trace else "")
                for c, cell in enumerate(row)
            ),
        )
        for r, (head, role, row) in enumerate(zip(chart.heads, chart.row_roles, chart.cells))
    )


def _decimals(cell: Cell) -> int:
    return len(cell.printed.partition(".")[2]) if cell.value is not None else 0


def _classes(cell: Cell, places: int) -> str:
    """Figures stand on the decimal point: ``fK-D`` leaves the room of the K - D decimals (or of the point and all of them)."""
    if cell.value is None:
        return "mark"
    return f"f{places}-{_decimals(cell)}" if places else ""


def _fixed(chart: Chart, letters: Letters) -> tuple[tuple[str, str], ...]:
    """Givens that hold for the whole grid, such as a cylinder factor, told once with their letters."""
    trace = next(cell.trace for row in chart.cells for cell in row if isinstance(cell.trace, Derived))
    found = []
    for name, item in trace.inputs.items():
        if name in (chart.row_name, chart.column_name) or item is chart.mix:
            continue
        found.append((f"{spoken(name)} {with_unit(item.quantity)}", letters.of(item.citations) if isinstance(item, Given) else ""))
    return tuple(found)


def _roles(charts: tuple[Chart, ...], letters: Letters) -> Iterable[tuple[str, str, str]]:
    drug = charts[0].source.drug
    if drug is None:
        return
    for role, bound in (("start", drug.dose.start), ("usual", drug.dose.usual)):
        if bound and any(role in (*chart.row_roles, *(line.role for line in chart.columns)) for chart in charts):
            yield role, f"{role} {_span(bound)}" if role == "start" else f"usual range {_span(bound)}", letters.of(bound.cite)
    if drug.dose.ceiling:
        yield "ceiling", f"ceiling {drug.dose.ceiling.at}", letters.of(drug.dose.ceiling.cite)


def _span(bound: Bound) -> str:
    return str(bound.at) if bound.at else f"{bound.from_.text} to {bound.to}"


def _marks(book: Book, charts: tuple[Chart, ...]) -> Iterable[tuple[str, str, str]]:
    spec = book.edition.spec
    told = {
        "over": "over the ceiling: do not use",
        "least": f"under the pump's least rate, {spec.pump.least}",
        "most": f"over the pump's highest rate, {spec.pump.most}",
        "step": f"rounding would move it over {spec.rounding_limit}: use another mix",
        "outside": "outside the range of the rule",
    }
    present = {cell.state for chart in charts for row in chart.cells for cell in row}
    for state, (mark, _) in STATES.items():
        if state in present:
            yield "mark", f"{mark} {told[state]}", ""
