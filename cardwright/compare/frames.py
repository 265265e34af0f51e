"""Where the heads of a carried chart stand, and which way round it lies: found from heads, units and names, or asked for."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from cardwright.carried import Entry, Grid, Unclear
from cardwright.charts import Chart, Line
from cardwright.compare.reading import Figures, is_kind, unit_of, units_in
from cardwright.models import ChartSpec
from cardwright.units import UnitError, parse_quantity


@dataclass(frozen=True)
class Axis:
    """An axis of our chart: its values in a unit; or, where ``names`` is not empty, for each head the names that mean it.

    ``repeats`` says that a name may stand for several heads, which are then taken in turn, as are heads with the very same names.
    """

    name: str
    unit: str
    heads: tuple[str, ...]
    names: tuple[frozenset[str], ...] = ()
    repeats: bool = False

    def meant(self, text: str) -> list[int]:
        """The heads that a text names."""
        whole = {text, bare(text)}
        found = [place for place, names in enumerate(self.names) if any(_same(one, name) for one in whole for name in names)]
        return found if self.repeats or len({self.names[place] for place in found}) == 1 else []


@dataclass(frozen=True)
class Told:
    """What the command line says of a file: its rows and columns as ``weight kg``, the unit of its cells, and its decimal mark."""

    rows: str | None = None
    columns: str | None = None
    cells: str | None = None
    decimal: str | None = None


@dataclass(frozen=True)
class Frame:
    """One way to see a grid as our chart: the place of its corner, its body, and whether its rows are our columns."""

    grid: Grid
    top: int
    first: int
    rows: tuple[int, ...]
    columns: tuple[int, ...]
    turned: bool

    @property
    def corner(self) -> str:
        """What stands above the row heads and before the column heads."""
        return self.grid.rows[self.top][self.first].text

    def heads(self, of: int) -> list[Entry]:
        """The heads on our axis 0 (rows) or 1 (columns)."""
        if (of == 0) != self.turned:
            return [self.grid.rows[r][self.first] for r in self.rows]
        return [self.grid.rows[self.top][c] for c in self.columns]

    def near(self, of: int) -> list[str]:
        """The texts that tell of one axis alone: of rows the corner; of columns what stands above, or behind ``\\`` in the corner."""
        left, _, right = self.corner.partition("\\")
        if (of == 0) != self.turned:
            return [left]
        above = (entry.text for row in self.grid.rows[: self.top] for entry in row[self.first + 1 :])
        return [right, *above]

    @property
    def around(self) -> list[str]:
        """Every text outside heads and cells."""
        inside = {(r, c) for r in (self.top, *self.rows) for c in (self.first, *self.columns)} - {(self.top, self.first)}
        return [entry.text for r, row in enumerate(self.grid.rows) for c, entry in enumerate(row) if entry.text and (r, c) not in inside]


def axes(chart: Chart, spec: ChartSpec) -> tuple[Axis, Axis]:
    """The axes of our chart, rows and columns."""
    row_name = chart.row_name.replace("_", " ")
    names = tuple(frozenset({head, f"{head} {chart.row_unit}".strip()}) for head in chart.heads) if spec.table else ()
    rows = Axis(row_name, chart.row_unit, chart.heads, names, repeats=True)
    heads = tuple(line.head for line in chart.columns)
    if spec.across:
        return rows, Axis(chart.column_name.replace("_", " "), chart.column_unit, heads)
    return rows, Axis("column", "", heads, tuple(map(_names, chart.columns)))


def _names(line: Line) -> frozenset[str]:
    """The names that mean a column: its head alone or with its group, each also with a unit that only the card knows as one."""
    heads = {line.head, line.name, f"{line.group} {line.head}".strip()}
    return frozenset(heads | {f"{head} ({line.unit})" for head in heads if line.unit})


def bare(text: str) -> str:
    """A head without the unit that ends it: ``cuffed`` of ``cuffed (mm)``."""
    before, _, last = text.strip().rpartition(" ")
    return before.rstrip(" ,:;") if before and unit_of(last) else text


def _same(text: str, name: str) -> bool:
    """Whether two heads say the same: the same words, or the same amount in whatever unit."""
    if text.casefold().split() == name.casefold().split():
        return True
    try:
        one, other = parse_quantity(text), parse_quantity(name)
    except UnitError:
        return False
    return is_kind(one.unit, other.unit) and one.base == other.base


def frame(grid: Grid, ours: tuple[Axis, Axis], figures: Figures, told: Told) -> Frame:
    """The way that the grid lies. Unclear where it is no such chart, or where it can't be told which way round it is."""
    wanted = _asked(ours, told)
    found = [frame for turned in (False, True) if wanted in (None, turned) and (frame := _lying(grid, ours, figures, turned))]
    if not found:
        kinds = " and ".join(_described(axis) for axis in ours)
        raise Unclear(f"{grid.rows[0][0].place}: holds no table of this chart; expected heads of rows and of columns with {kinds}")
    for rule in (_contradicted, _strange, _misheaded):
        counts = [rule(frame, ours, figures) for frame in found]
        found = [frame for frame, count in zip(found, counts) if count == min(counts)]
    if len(found) > 1:
        first, second = (f"{axis.name} {axis.unit}".strip() for axis in ours)
        flags = f'--rows "{first}" --columns "{second}", or the other way round'
        raise Unclear(f"{found[0].grid.rows[0][0].place}: can't tell which way round the table lies; add {flags}")
    return found[0]


def _described(axis: Axis) -> str:
    if axis.names:
        return f"names such as '{axis.heads[0]}'"
    return f"{axis.name} in {axis.unit}" if axis.unit else axis.name


def axis_of(text: str, ours: tuple[Axis, Axis]) -> tuple[int, str | None] | None:
    """Which of our axes ``weight kg``, ``weight`` or ``kg`` names, and the unit in it; None where it is neither or either."""
    unit = unit_of(text.split(" ")[-1])
    name = text.casefold() if unit is None else text.casefold().rpartition(" ")[0]
    fits = [
        of
        for of, axis in enumerate(ours)
        if (name == axis.name.casefold() if name else not axis.names) and (unit is None or is_kind(unit, axis.unit))
    ]
    return (fits[0], unit) if len(fits) == 1 else None


def _asked(ours: tuple[Axis, Axis], told: Told) -> bool | None:
    """Whether the command line says that the table is turned; None where it says nothing."""
    said, problems = set(), []
    for flag, text, upright in (("--rows", told.rows, 0), ("--columns", told.columns, 1)):
        if text is not None:
            found = axis_of(text, ours)
            if found is None:
                expected = " or ".join(f"'{axis.name} {axis.unit}'".replace(" '", "'") for axis in ours if not axis.names)
                problems.append(f"{flag}: '{text}' is no axis of this chart; expected {expected or 'none'}, in a unit of that kind")
            else:
                said.add(found[0] != upright)
    if len(said) > 1:
        problems.append("--rows and --columns name the same axis; expected one each")
    if problems:
        raise Unclear(*problems)
    return said.pop() if said else None


def _lying(grid: Grid, ours: tuple[Axis, Axis], figures: Figures, turned: bool) -> Frame | None:
    """The frame with the heads found this way round, or None. A column of words before the row heads may be passed over."""
    down, across = reversed(ours) if turned else ours
    for first in (0, 1):
        for r, row in enumerate(grid.rows):
            if not _may_head(row[first], down, figures) or not any(entry.text for entry in row[first + 1 :]):
                continue
            for top in reversed(range(r)):
                if _most(lambda entry: _may_head(entry, across, figures), grid.rows[top][first + 1 :]):
                    found = _framed(grid, top, first, turned, down, figures)
                    fits = all(
                        _most(lambda entry, axis=axis: _is_head(entry, axis, figures), found.heads(of)) for of, axis in enumerate(ours)
                    )
                    return found if fits else None
    return None


def _most(holds: Callable[[Entry], bool], entries: Iterable[Entry]) -> bool:
    """Whether it holds for half or more of the entries that are not empty."""
    held = [holds(entry) for entry in entries if entry.text]
    return bool(held) and 2 * sum(held) >= len(held)


def _may_head(entry: Entry, axis: Axis, figures: Figures) -> bool:
    """Whether a text may be a head of such an axis: one of its names, or a figure, of whatever kind."""
    return bool(axis.meant(entry.text)) if axis.names else figures.read(entry) is not None


def _is_head(entry: Entry, axis: Axis, figures: Figures) -> bool:
    """Whether it is one: a figure without a unit, or with one of the axis's kind."""
    figure = figures.read(entry)
    return bool(axis.meant(entry.text)) if axis.names else bool(figure) and (not figure.unit or is_kind(figure.unit, axis.unit))


def _framed(grid: Grid, top: int, first: int, turned: bool, down: Axis, figures: Figures) -> Frame:
    """The frame of a corner. Its rows have a head, or are mostly figures, or begin with words where ours do; notes are left out."""

    def is_body(row: tuple[Entry, ...]) -> bool:
        rest = [entry for entry in row[first + 1 :] if entry.text]
        headed = bool(row[first].text) if down.names else _may_head(row[first], down, figures)
        return bool(rest) and (headed or _most(lambda entry: bool(figures.read(entry) or figures.clock(entry)), rest))

    rows = tuple(r for r in range(top + 1, len(grid.rows)) if is_body(grid.rows[r]))
    columns = tuple(c for c in range(first + 1, len(grid.rows[0])) if any(grid.rows[r][c].text for r in (top, *rows)))
    return Frame(grid, top, first, rows, columns, turned)


def _contradicted(frame: Frame, ours: tuple[Axis, Axis], _: Figures) -> int:
    """How many of the texts that tell of one axis alone speak of the other."""
    texts = [(of, text) for of in (0, 1) for text in frame.near(of) if "\\" in frame.corner or text != frame.corner]
    return sum(_spoken_of(text, ours) == {1 - of} for of, text in texts)


def _strange(frame: Frame, ours: tuple[Axis, Axis], figures: Figures) -> bool:
    """Whether on one of the axes no head has a number of ours."""
    return not all(_known(frame.heads(of), ours[of], figures) for of in (0, 1))


def _misheaded(frame: Frame, ours: tuple[Axis, Axis], _: Figures) -> bool:
    """Whether the corner, which heads the first column, speaks of what would be the columns."""
    return _spoken_of(frame.corner, ours) == {0 if frame.turned else 1}


def _spoken_of(text: str, ours: tuple[Axis, Axis]) -> set[int]:
    """The axes that a text speaks of, by a unit or by name."""
    units, words = units_in(text), text.casefold()
    values = [(of, axis) for of, axis in enumerate(ours) if not axis.names]
    return {of for of, axis in values if axis.name.casefold() in words or any(is_kind(unit, axis.unit) for unit in units)}


def _known(heads: list[Entry], axis: Axis, figures: Figures) -> bool:
    """Whether a head has the number, or is the name, of one of ours."""
    values = {figure.value for figure in map(figures.read, heads) if figure}
    return bool(axis.names) or any(parse_quantity(head).value in values for head in axis.heads)
