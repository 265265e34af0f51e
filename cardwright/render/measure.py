"""How wide the columns of a printed chart must be, from the typeface's own advance widths.

The sizes here are the ones that templates/card.css prints with: html.py hands them to the style sheet as variables.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import astuple, dataclass
from functools import cache
from itertools import groupby

from fontTools.ttLib import TTFont

from cardwright.charts import Cell, Chart, Line
from cardwright.render.fonts import FILES, RenderError, check_characters

UNIT = r"[^\s/]+/\S+"  # one with a slash
KEPT = re.compile(rf"(?:[0-9][0-9.,]* )?{UNIT}")  # an amount with a slash in its unit stays on its line
NUMBER = r"(?<![\w.])[0-9][0-9.,]*"
FIGURES = re.compile(rf"{NUMBER}(?: (?:to|or|×) {NUMBER})+(?: (?!to |or |and )[^\s(]+)?|{NUMBER} (?!to |or |and |×)[^\s(]+")
LEAST = 6.0  # pt: nothing clinical is set smaller


@dataclass(frozen=True)
class Type:
    """Sizes in pt of what stands on a face: cells, column heads, units and legends, notes, the face's name, its concentration."""

    cell: float = 8.0
    head: float = 7.4
    small: float = 6.4
    note: float = 6.5
    name: float = 13.5
    mix: float = 11.0

    def at(self, part: float) -> Type:
        """This type at a part of its size, but nowhere under the least."""
        return Type(*(max(LEAST, round(size * part, 2)) for size in astuple(self)))


TYPE = Type()  # of a card on which all fits just so
BESIDE = 7.4  # pt: the mix over a concentration
PAD = 0.6  # on each side of a cell; two of them part neighbours by the 1.2 mm that keeps figures from running together
AIR = 0.75  # em between neighbours in type larger than usual: figures that grow and stand closer are not easier to read
ROOM = 0.3  # the rule beside the row heads, and the renderer's rounding
MM = 25.4 / 72


@cache
def _advances(weight: str) -> dict[int, float]:
    """Advance of each character in em, figures tabular."""
    font = TTFont(FILES / f"AtkinsonHyperlegible-{weight}.ttf")
    metrics, units = font["hmtx"], font["head"].unitsPerEm
    names = {code: f"{name}.tf" if f"{name}.tf" in metrics.metrics else name for code, name in font.getBestCmap().items()}
    return {code: metrics[name][0] / units for code, name in names.items()}


@cache
def width(text: str, size: float, bold: bool = False) -> float:
    """Width of a text in mm at a size in pt."""
    check_characters(text, f"'{text}'")
    advances = _advances("Bold" if bold else "Regular")
    return sum(advances[ord(character)] for character in text) * size * MM


def unparted(text: str) -> str:
    """The words of a cell, with no space to break a line at inside a range or between a figure and what it counts."""
    return FIGURES.sub(lambda found: found[0].replace(" ", "\u00a0"), text)


def mix_width(says: str, concentration: str, letters: str, type: Type) -> float:
    """Width in mm of what stands beside a face's name: its mix over its concentration; 0 where there is none."""
    over = max(width(says, BESIDE), width(concentration, type.mix, True) + width(letters, 0.75 * BESIDE))
    return over if concentration else 0.0


def columns(chart: Chart, letters: Iterable[str], units: Iterable[str], available: float, type: Type = TYPE) -> tuple[float, ...]:
    """Widths in mm of the row heads and each column. RenderError if they do not fit.

    What is left over goes to columns whose words would wrap, and what is left of that to all evenly. ``letters`` and ``units`` are
    those that the heads print.
    """
    air = AIR * type.cell * MM - 2 * PAD if type.cell > TYPE.cell else 0.0
    needs = [
        _row_heads(chart, type),
        *(air + _column(chart, place, line, *told, type) for place, (line, *told) in enumerate(zip(chart.columns, letters, units))),
    ]
    widths = _shared(chart, needs, available, type)
    short = _group_words(chart, needs, widths, type)
    return _shared(chart, [need + more for need, more in zip(needs, short)], available, type) if any(short) else widths


def _shared(chart: Chart, needs: list[float], available: float, type: Type) -> tuple[float, ...]:
    """What columns need, and their shares of what is left over. RenderError where they need more than there is."""
    left = available - sum(needs)
    if left < 0:
        raise RenderError(f"chart {chart.id} is {-left:.1f} mm too wide; drop a column or turn the card")
    wants = [0.0, *(max(0.0, _whole_words(chart, place, type) - need) for place, need in enumerate(needs[1:]))]
    if type.cell > TYPE.cell and sum(wants) > left:
        raise RenderError(f"chart {chart.id} is {sum(wants) - left:.1f} mm too wide for its words to stay on their lines")
    given = min(1.0, left / sum(wants)) if any(wants) else 0.0
    share = (left - given * sum(wants)) / len(needs)
    return tuple(round(need + given * want + share, 3) for need, want in zip(needs, wants))


def _group_words(chart: Chart, needs: list[float], widths: tuple[float, ...], type: Type) -> list[float]:
    """How much wider each column must be for the longest word of the head that it stands under with others."""
    short, place = [0.0] * len(widths), 1
    for text, run in groupby(line.group for line in chart.columns):
        span = len(list(run))
        words = KEPT.sub(lambda found: found[0].replace(" ", "\u00a0"), text).split(" ")
        need = max(width(word, type.head, bold=True) for word in words) + ROOM + (PAD if span == 1 else 0.0)
        if sum(widths[place : place + span]) < need:
            short[place : place + span] = [(need - sum(needs[place : place + span])) / span] * span
        place += span
    return short


def _whole_words(chart: Chart, place: int, type: Type) -> float:
    """How wide a column is in which no words wrap; 0 where it has none."""
    words = [width(row[place].printed, type.cell) for row in chart.cells if row[place].value is None]
    return max(words) + 2 * PAD + _after(chart, place, type) if words else 0.0


def _row_heads(chart: Chart, type: Type) -> float:
    heads = max(width(head, type.cell, bold=True) for head in chart.heads)
    corner = max(width(word, type.small) for word in (*chart.row_name.replace("_", " ").split(), chart.row_unit))
    return max(heads, corner) + 2 * PAD + ROOM


def _column(chart: Chart, place: int, line: Line, letters: str, unit: str, type: Type) -> float:
    words = max(width(word, type.head, bold=True) for word in line.head.split())
    under = width(unit, type.small) + width(letters, 0.75 * type.small)
    return max(_cells([row[place] for row in chart.cells], type.cell), words, under) + 2 * PAD + _after(chart, place, type)


def _after(chart: Chart, place: int, type: Type) -> float:
    return after([chart.worded(column) for column in range(len(chart.columns))], place, type)


def after(worded: Sequence[bool], place: int, type: Type) -> float:
    """How far in mm a column of words stands off from the figures that it follows: 5, and 5 to 15 beside it, would read as 55 to 15."""
    return type.cell * MM if place and worded[place] and not worded[place - 1] else 0.0


def _cells(cells: list[Cell], size: float) -> float:
    """Figures stand on the decimal point, so the widest whole part and the widest fraction add up. Words may wrap between words."""
    numbers = [cell.printed.partition(".") for cell in cells if cell.value is not None]
    whole = max((width(number[0], size) for number in numbers), default=0)
    part = max((width("".join(number[1:]), size) for number in numbers), default=0)
    words = [word for cell in cells if cell.value is None for word in unparted(cell.printed).split(" ")]
    return max([whole + part, *(width(word, size) for word in words)])
