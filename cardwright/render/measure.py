"""How wide the columns of a printed chart must be, from the typeface's own advance widths.

The sizes here are the ones that templates/card.css prints with: html.py hands them to the style sheet as variables.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from fontTools.ttLib import TTFont

from cardwright.charts import Cell, Chart, Line
from cardwright.render.fonts import FILES, RenderError, check_characters

# Type in pt, room in mm.
TYPE = {"cell": 8.0, "head": 7.4, "small": 6.4}
PAD = 0.6  # on each side of a cell; two of them part neighbours by the 1.2 mm that keeps figures from running together
ROOM = 0.3  # the rule beside the row heads, and the renderer's rounding
MM = 25.4 / 72


@cache
def _advances(weight: str) -> dict[int, float]:
    """Advance of each character in em, figures tabular."""
    font = TTFont(FILES / f"AtkinsonHyperlegible-{weight}.ttf")
    metrics, units = font["hmtx"], font["head"].unitsPerEm
    names = {code: f"{name}.tf" if f"{name}.tf" in metrics.metrics else name for code, name in font.getBestCmap().items()}
    return {code: metrics[name][0] / units for code, name in names.items()}


def width(text: str, size: float, bold: bool = False) -> float:
    """Width of a text in mm at a size in pt."""
    check_characters(text, f"'{text}'")
    advances = _advances("Bold" if bold else "Regular")
    return sum(advances[ord(character)] for character in text) * size * MM


def columns(chart: Chart, letters: Iterable[str], units: Iterable[str], available: float) -> tuple[float, ...]:
    """Widths in mm of the row heads and each column, which share evenly what is left over. RenderError if they do not fit.

    ``letters`` and ``units`` are those that the heads print.
    """
    needs = [
        _row_heads(chart),
        *(_column(chart, place, line, *told) for place, (line, *told) in enumerate(zip(chart.columns, letters, units))),
    ]
    left = available - sum(needs)
    if left < 0:
        raise RenderError(f"chart {chart.id} is {-left:.1f} mm too wide; drop a column or turn the card")
    share = left / len(needs)
    return tuple(round(need + share, 3) for need in needs)


def _row_heads(chart: Chart) -> float:
    heads = max(width(head, TYPE["cell"], bold=True) for head in chart.heads)
    corner = max(width(word, TYPE["small"]) for word in (*chart.row_name.replace("_", " ").split(), chart.row_unit))
    return max(heads, corner) + 2 * PAD + ROOM


def _column(chart: Chart, place: int, line: Line, letters: str, unit: str) -> float:
    words = max(width(word, TYPE["head"], bold=True) for word in line.head.split())
    under = width(unit, TYPE["small"]) + width(letters, 0.75 * TYPE["small"])
    return max(_cells([row[place] for row in chart.cells]), words, under) + 2 * PAD


def _cells(cells: list[Cell]) -> float:
    """Figures stand on the decimal point, so the widest whole part and the widest fraction add up. Words may wrap between words."""
    numbers = [cell.printed.partition(".") for cell in cells if cell.value is not None]
    whole = max((width(number[0], TYPE["cell"]) for number in numbers), default=0)
    part = max((width("".join(number[1:]), TYPE["cell"]) for number in numbers), default=0)
    words = [word for cell in cells if cell.value is None for word in cell.printed.split()]
    return max([whole + part, *(width(word, TYPE["cell"]) for word in words)])
