"""The deck as a phone lists it: each card with its faces, and the words that each of its charts is found by."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from cardwright.charts import Book, Chart, Side


@dataclass(frozen=True)
class Listed:
    """A card in the list: its id, title and the titles of its faces; ``charts`` are (place in the page, what is found there, its class)."""

    id: str
    title: str
    faces: tuple[str, ...]
    charts: tuple[tuple[str, str, str], ...]


def listed(book: Book, names: Iterable[str]) -> list[Listed]:
    """The cards of these names."""
    return [_card(book, name) for name in names]


def _card(book: Book, name: str) -> Listed:
    sides = book.sides[name]
    charts = tuple((chart.id.replace("/", "."), _words(side, chart), _class(chart)) for side in sides for chart in side.charts)
    faces = tuple(dict.fromkeys(side.title for side in sides))
    return Listed(name, book.edition.cards[name].title, faces, charts)


def _words(side: Side, chart: Chart) -> str:
    """A chart in the words of its face: ``norepinephrine 16 mcg/mL: Pump rate for a dose``."""
    mix = f" {chart.mix.shown}" if chart.mix else ""
    drug = chart.source.drug.drug if chart.source.drug else ""
    named = "" if drug.lower() in side.title.lower() else f" ({drug})"
    return f"{side.title}{named}{mix}: {chart.title}"


def _class(chart: Chart) -> str:
    return chart.source.drug.class_ if chart.source.drug else ""
