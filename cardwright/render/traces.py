"""The traces of a card for its page: numbered, packed, with the givens and references that they name told once each."""

from __future__ import annotations

import re

from cardwright.charts import Book, Cell, Chart, Line
from cardwright.models import described
from cardwright.numbers import with_unit
from cardwright.provenance import Derived, Given, Stated, Trace, leaves
from cardwright.render.views import spoken

FIGURE = re.compile(r"[0-9]+(?:[.,][0-9]+)*")


class Packer:
    """Texts that differ by their figures alone share a frame: a card has thousands of texts, and some dozens of frames.

    A packed text is the number of its frame and its figures, with spaces between; a tab stands in the frame for each figure.
    """

    def __init__(self) -> None:
        self.frames: dict[str, int] = {}

    def pack(self, text: str) -> str:
        """A text, packed; ``templates/card.js`` puts it together again."""
        frame = FIGURE.sub("\t", text)
        return " ".join([str(self.frames.setdefault(frame, len(self.frames))), *FIGURE.findall(text)])


def traces(book: Book, card_id: str) -> dict:
    """``traces`` by number, and what they share: the ``frames`` of their texts, the lists of givens that they rest ``on``, the
    ``givens`` and the ``references``.

    A trace is the number of its list of givens, then packed texts: its title, what was chosen, its rounding, and its workings, those
    that others rest on first.
    """
    packer, found, named, cited, on = Packer(), {}, {}, {}, {}
    for side in book.sides[card_id]:
        for chart in side.charts:
            for r, row in enumerate(chart.cells):
                for c, cell in enumerate(row):
                    if cell.trace:
                        givens = tuple(dict.fromkeys(_name(given, named) for given in leaves(cell.trace)))
                        texts = [_title(chart, chart.heads[r], chart.columns[c], cell), *_told(cell.trace)]
                        found[chart.trace_id(r, c)] = [on.setdefault(givens, len(on)), *map(packer.pack, texts)]
    for given in named.values():
        for key, _ in given["cite"]:
            reference = book.edition.references[key]
            cited[key] = described(reference) + (" From memory." if reference.read == "memory" else "")
    return {"traces": found, "frames": list(packer.frames), "on": list(on), "givens": named, "references": cited}


def _title(chart: Chart, head: str, line: Line, cell: Cell) -> str:
    """``45 mL/h of norepinephrine 16 mcg/mL for weight 60 kg, dose 0.2 mcg/kg/min``; of words, ``adult woman, usual: 7 to 7.5 mm``."""
    column = f"{spoken(chart.column_name)} {line.head} {chart.column_unit}" if chart.column_name != "quantity" else line.name
    unit = f" {line.unit}" if line.unit and cell.state == "ok" and ":" not in cell.printed else ""
    drug = f" of {chart.source.drug.drug}" if chart.source.drug else ""
    mix = f" {chart.mix.shown}" if chart.mix else ""
    row = f"{spoken(chart.row_name)} {head} {chart.row_unit}"
    place, told = f"{row.rstrip()}, {column.rstrip()}", f"{cell.printed}{unit}{drug}{mix}"
    return f"{place}: {told}" if cell.value is None and cell.state == "ok" else f"{told} for {place}"


def _told(trace: Trace) -> list[str]:
    """What was chosen, the rounding, and the workings."""
    if isinstance(trace, Stated):
        return ["", "as published", trace.text]
    chosen = {name: item for name, item in trace.inputs.items() if not isinstance(item, (Given, Derived))}
    choices = ", ".join(f"{spoken(name)} {with_unit(item.quantity)}" for name, item in chosen.items())
    steps = [item.working for item in trace.inputs.values() if isinstance(item, Derived)]
    return [choices, f"{trace.rounding}: {trace.printed}", *steps, trace.working]


def _name(given: Given | Stated, named: dict) -> str:
    cite = [[citation.key, citation.locator] for citation in given.citations]
    named.setdefault(given.id, {"value": given.shown, "says": given.says, "cite": cite})
    return given.id
