"""The likely slip behind a figure that differs: what would have made our chart print it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from cardwright.charts import Chart
from cardwright.units import dimension

FACTORS = {"tenfold": 10, "thousandfold": 1000, "sixtyfold": 60}
TOO = {
    "tenfold": "ten times too {}",
    "thousandfold": "a thousand times too {}",
    "sixtyfold": "sixty times too {}",
}


@dataclass(frozen=True)
class Slip:
    """A slip: its kind (tenfold, thousandfold, sixtyfold, pounds, concentration) and what to say of it."""

    kind: str
    says: str


def by_factor(chart: Chart, unit: str) -> Iterator[tuple[Slip, Fraction]]:
    """The slips that multiply or divide a figure, with what they multiply it by."""
    mass = chart.mix is not None or any("mL/h" in (line.unit, chart.column_unit, chart.row_unit) for line in chart.columns)
    time = "minutes and hours mixed up" if dimension(unit) == dimension("min") else "per minute and per hour mixed up"
    why = {"tenfold": "the decimal point", "thousandfold": "mg and mcg mixed up" if mass else "", "sixtyfold": time}
    for kind, factor in FACTORS.items():
        if kind == "sixtyfold" and "[time]" not in dict(dimension(unit)):
            continue
        for too, by in (("high", Fraction(factor)), ("low", Fraction(1, factor))):
            yield Slip(kind, TOO[kind].format(too) + (f": {why[kind]}" if why[kind] else "")), by


def settled(found: Sequence[tuple[Slip, ...]]) -> list[tuple[Slip, ...]]:
    """For each cell the slips that explain most cells of the chart; several where these explain as many."""
    votes = Counter(slip for slips in found for slip in set(slips))
    return [tuple(slip for slip in slips if votes[slip] == max(votes[one] for one in slips)) for slips in found]


def told(slips: Iterable[Slip]) -> str:
    """The slips in words."""
    return ", or ".join(slip.says for slip in slips)
