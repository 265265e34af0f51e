"""Limits: nothing that must not be used is printed as a number."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

from cardwright.charts import Book, Chart
from cardwright.checks.arithmetic import computed, mark, where
from cardwright.checks.registry import CHECKS, Finding, check
from cardwright.provenance import Derived, Given
from cardwright.units import Quantity, parse_quantity


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
        if drug is None or drug.dose.ceiling is None or cell.value is None or not cell.trace.formula.startswith("infusion."):
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


@check(
    "limits.order",
    severity="error",
    origin="drug labels: a start dose lies in or somewhat under the usual range, and the usual range under the maximum",
    codes={"start": "the start dose is over the usual range, or under a tenth of it", "usual": "the usual range goes over the ceiling"},
)
def order(book: Book) -> Iterator[Finding | int]:
    """Do the start dose, the usual range and the ceiling of each drug stand in their order?

    Rationale: a start dose above the usual range, or a range above the ceiling, is a slip of the point or of the unit.
    """
    for source in book.edition.sources.values():
        doses = {name: given for name, given in source.givens.items() if name.startswith("dose.") and ".step." not in name}
        if len(doses) < 2:
            continue
        yield 1
        low, high, ceiling = (doses.get(f"dose.{name}") for name in ("usual.from", "usual.to", "ceiling.at"))
        for name, given in doses.items():
            if name.startswith("dose.start") and low and not low.quantity.base / 10 <= given.quantity.base <= high.quantity.base:
                message = f"starts at {given.quantity}, but the usual range is {low.quantity} to {high.quantity}"
                yield Finding("start", f"{source.id}, {name}", given.mark, message)
        if ceiling and high and high.quantity.base > ceiling.quantity.base:
            message = f"usual range goes to {high.quantity}, over the ceiling of {ceiling.quantity}"
            yield Finding("usual", f"{source.id}, dose.usual.to", high.mark, message)


ADULT = Quantity(Fraction(70), "kg", "70")
SLOW, FAST = Quantity(Fraction(1, 2), "mL/h", "0.5"), Quantity(Fraction(250), "mL/h", "250")


@check(
    "limits.mix",
    severity="error",
    origin="common-practice: an infusion is mixed so that its usual doses run at rates that a pump keeps and a vein takes",
    codes={"thin": "the lowest usual dose needs more than 250 mL/h", "thick": "the highest usual dose needs less than 0.5 mL/h"},
)
def mix(book: Book) -> Iterator[Finding | int]:
    """Does each concentration let the usual doses run between 0.5 and 250 mL/h in an adult of 70 kg?

    Rationale: a concentration typed in mg for mcg gives rates that nobody could run; the figure betrays the slip.
    """
    for source in book.edition.sources.values():
        if source.drug is None or source.drug.dose.usual is None:
            continue
        low, high = (source.givens[f"dose.usual.{end}"].quantity.base for end in ("from", "to"))
        weight = ADULT.base if "/kg/" in source.drug.dose.unit else 1
        for given in (given for name, given in source.givens.items() if name.startswith("mix.")):
            yield 1
            for code, rate, wrong in (("thin", low, lambda r: r > FAST.base), ("thick", high, lambda r: r < SLOW.base)):
                if wrong(rate * weight / given.quantity.base):
                    message = f"{source.title} {given.quantity}: {CHECKS['limits.mix'].codes[code]}; mend the concentration or the dose"
                    yield Finding(code, f"{source.id}, mix {given.quantity}", given.mark, message)


@check(
    "limits.carried",
    severity="error",
    origin="common-practice: a service lists the concentrations it carries, and its charts are for these",
    codes={
        "other": "a chart is for a mix that is not carried",
        "idle": "a mix is carried, and no chart is for it",
        "titled": "a title or head names another concentration than its numbers are for",
    },
)
def carried(book: Book) -> Iterator[Finding | int]:
    """Is every chart for a mix that the edition carries and its heads name, and is there a chart for each?

    Rationale: the right title over another concentration is the slip that no figure on the card betrays.
    """
    carries, shown = book.edition.spec.carries, set()
    for chart, head, given in mixes(book):
        yield 1
        quantity = given.quantity
        shown.add((chart.source.id, quantity.base))
        if carries and quantity.base not in [mix.base for mix in carries.get(chart.source.id, ())]:
            message = f"is for {quantity}, which 'carries' in edition.yaml does not list for {chart.source.id}"
            yield Finding("other", f"{chart.id}, {head}", chart.mark, message)
        for named in CONCENTRATION.findall(f"{chart.title} {head}"):
            if parse_quantity(named).base != quantity.base:
                yield Finding("titled", f"{chart.id}, {head}", chart.mark, f"names {named}, but is for {quantity}")
    for source, listed in carries.items():
        for mix in listed if book.edition.whole else ():
            if (source, mix.base) not in shown:
                yield Finding("idle", f"{source}, mix {mix}", book.edition.spec.mark, f"{source} {mix} is carried, but no chart is for it")


CONCENTRATION = re.compile(r"[0-9][0-9.,]* (?:mcg|mg|g|units|milliunits|mEq)/mL")


def mixes(book: Book) -> Iterator[tuple[Chart, str, Given]]:
    """The mix of each chart, or of each of its columns where they differ, with the head that stands over it."""
    for chart in book.charts:
        if chart.mix is not None:
            yield chart, chart.title, chart.mix
            continue
        for line, column in zip(chart.columns, zip(*chart.cells)):
            traces = [cell.trace for cell in column if isinstance(cell.trace, Derived)]
            for given in traces[0].inputs.values() if traces else ():
                if isinstance(given, Given) and ":mix." in given.id:
                    yield chart, line.name, given
