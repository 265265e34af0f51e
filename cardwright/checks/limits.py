"""Limits: nothing that must not be used is printed as a number."""

from __future__ import annotations

from collections.abc import Iterator

from cardwright.charts import Book
from cardwright.checks.arithmetic import computed, mark, where
from cardwright.checks.registry import Finding, check


@check(
    "limits.ceiling",
    severity="error",
    origin="drug labels: maximum recommended dose",
    codes={"over": "a number stands in a cell above the drug's ceiling"},
)
def ceiling(book: Book) -> Iterator[Finding | int]:
    """Is every printed dose at or below the drug's ceiling?

    Rationale: a number on a card is read as permission; above the ceiling a medic must find a mark and not a rate.
    """
    for chart, head, line, cell in computed(book):
        drug = chart.source.drug
        if drug is None or drug.dose.ceiling is None or cell.value is None:
            continue
        yield 1
        dose = cell.trace.quantities["dose"].base if "dose" in cell.trace.quantities else None
        most = drug.dose.ceiling.at
        if (dose is not None and dose > most.base) or (dose is None and cell.exact > most.to(line.unit)):
            yield Finding("over", where(chart, head, line), mark(cell), f"prints {cell.printed} above the ceiling of {most}")


@check(
    "limits.pump",
    severity="error",
    origin="common-practice: a pump has a least and a highest rate",
    codes={"low": "a rate under the pump's least is printed", "high": "a rate over the pump's highest is printed"},
)
def pump(book: Book) -> Iterator[Finding | int]:
    """Can the edition's pump run at every printed rate?

    Rationale: a rate that can't be set invites the nearest one that can, which is another dose.
    """
    limits = book.edition.spec.pump
    for chart, head, line, cell in computed(book):
        if line.unit != "mL/h" or cell.value is None:
            continue
        yield 1
        if cell.value < limits.least.to("mL/h"):
            yield Finding("low", where(chart, head, line), mark(cell), f"prints {cell.printed} mL/h; the pump starts at {limits.least}")
        if cell.value > limits.most.to("mL/h"):
            yield Finding("high", where(chart, head, line), mark(cell), f"prints {cell.printed} mL/h; the pump ends at {limits.most}")
