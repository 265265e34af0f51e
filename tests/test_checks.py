"""Every check: it holds on the small edition, and one break for each of its failure codes is found under exactly that code."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
import yaml

from cardwright import checks
from cardwright.charts import Book, Cell, Chart
from cardwright.checks import CHECKS, BrokenCheck, run_checks
from cardwright.checks.registry import check
from cardwright.compute import compute
from cardwright.documents import Problems, read
from cardwright.loading import with_source
from cardwright.provenance import Citation
from cardwright.units import Quantity
from cardwright.values import NOWHERE

RATES, RUNNING = "rates/samplamine-16-mcg-mL", "rates/running"


def with_charts(book: Book, change: Callable[[Chart], Chart]) -> Book:
    """The book with every chart changed."""
    sides = {card: tuple(replace(side, charts=tuple(map(change, side.charts))) for side in of) for card, of in book.sides.items()}
    return replace(book, sides=sides)


def with_cell(book: Book, chart_id: str, row: int, column: int, change: Callable[[Cell], Cell]) -> Book:
    """The book with one cell changed, as a slip in a program would change it."""

    def changed(chart):
        if chart.id != chart_id:
            return chart
        rows = [list(cells) for cells in chart.cells]
        rows[row][column] = change(rows[row][column])
        return replace(chart, cells=tuple(map(tuple, rows)))

    return with_charts(book, changed)


def cell(row: int, column: int, chart_id: str = RATES, **changes) -> Callable[[Book], Book]:
    """A break that changes fields of one cell."""
    return lambda book: with_cell(book, chart_id, row, column, lambda found: replace(found, **changes))


def dose_in_grams(book: Book) -> Book:
    """A weight of 70 kg that became 70 mg between the table and the formula."""

    def change(found: Cell) -> Cell:
        quantities = {**found.trace.quantities, "weight": Quantity(Fraction(70), "mg", "70")}
        return replace(found, trace=replace(found.trace, quantities=quantities))

    return with_cell(book, RATES, 2, 1, change)


def with_pump(book: Book, **limits: Quantity) -> Book:
    """The same charts for a pump with other limits."""
    spec = book.edition.spec
    return replace(book, edition=replace(book.edition, spec=spec.model_copy(update={"pump": spec.pump.model_copy(update=limits)})))


def with_ceiling(book: Book) -> Book:
    """The same charts for a drug whose ceiling was lowered afterwards, to 0.05 mcg/kg/min."""
    low = Quantity(Fraction(1, 20), "mcg/kg/min", "0.05")

    def lowered(chart):
        if chart.source.drug is None:
            return chart
        dose = chart.source.drug.dose
        ceiling = dose.ceiling.model_copy(update={"at": low})
        drug = chart.source.drug.model_copy(update={"dose": dose.model_copy(update={"ceiling": ceiling})})
        return replace(chart, source=replace(chart.source, drug=drug))

    return with_charts(book, lowered)


def with_witness(book: Book) -> Book:
    """The same edition with its first witness worked out to a tenth of its value."""
    first, *others = book.witnessed
    return replace(book, witnessed=(replace(first, exact=first.exact / 10), *others))


def with_weights_turned(book: Book) -> Book:
    """The chart of running doses with its two rows printed under each other's weight."""

    def turned(chart):
        return replace(chart, cells=chart.cells[::-1]) if chart.id == RUNNING else chart

    return with_charts(book, turned)


def cited_by(book: Book, citations: tuple[Citation, ...]) -> Book:
    """The first rate with its mix cited otherwise."""

    def change(found: Cell) -> Cell:
        mix = replace(found.trace.inputs["concentration"], citations=citations)
        return replace(found, trace=replace(found.trace, inputs={**found.trace.inputs, "concentration": mix}))

    return with_cell(book, RATES, 4, 3, change)


EDITS = yaml.safe_load((Path(__file__).parent / "breaks.yaml").read_text(encoding="utf-8"))


# 70 kg at 0.1 mcg/kg/min and 16 mcg/mL is 26.25 mL/h, printed 26.3: worked by hand, 0.1 × 70 × 60 ÷ 16.
BREAKS = {
    ("units.dimensions", "differs"): dose_in_grams,
    ("arithmetic.forward", "differs"): cell(2, 1, exact=Fraction(2526, 100)),
    ("arithmetic.balance", "unequal"): cell(2, 1, exact=Fraction(2526, 100)),
    ("arithmetic.return", "input"): cell(2, 1, value=Fraction(261, 10), printed="26.1"),
    ("arithmetic.return", "text"): cell(2, 1, printed="2.63"),
    ("rounding.rule", "far"): cell(2, 1, value=Fraction(264, 10), printed="26.4"),
    ("rounding.error", "moved"): cell(2, 1, value=Fraction(30), printed="30"),
    ("shape.monotone", "turns"): cell(2, 1, value=Fraction(5, 10), printed="0.5"),
    ("shape.monotone", "direction"): with_weights_turned,
    ("shape.proportional", "bent"): cell(2, 1, exact=Fraction(2626, 100)),
    ("citation.cited", "none"): lambda book: cited_by(book, ()),
    ("citation.cited", "unknown"): lambda book: cited_by(book, (Citation("no-such", "page 1", NOWHERE),)),
    ("citation.cited", "locator"): lambda book: cited_by(book, (Citation("sample-label", " ", NOWHERE),)),
    ("limits.ceiling", "over"): with_ceiling,
    ("limits.pump", "low"): lambda book: with_pump(book, least=Quantity(Fraction(20), "mL/h", "20")),
    ("limits.pump", "high"): lambda book: with_pump(book, most=Quantity(Fraction(20), "mL/h", "20")),
    ("witness.reproduced", "differs"): with_witness,
}


def codes(book: Book) -> set[tuple[str, str]]:
    """Every failure that the checks find, as (check, code)."""
    return {(outcome.check.id, finding.code) for outcome in run_checks(book) for finding in outcome.findings}


def test_the_small_edition_passes_every_check(small):
    """A good edition gives every check something to look at and no finding."""
    outcomes = run_checks(small.compute())
    assert [(outcome.check.id, outcome.findings) for outcome in outcomes if outcome.status != "pass"] == []


def test_every_failure_code_has_a_break():
    """A code without a break in this file could be one that can't fail. Waivers and pages have breaks in files of their own."""
    known = {(item.id, code) for item in CHECKS.values() if item.subject == "edition" for code in item.codes}
    assert {*BREAKS, *((edit["check"], edit["code"]) for edit in EDITS)} == known


@pytest.mark.parametrize(("check_id", "code"), BREAKS, ids=lambda part: part)
def test_a_break_is_found_under_its_code(small, check_id, code):
    """One thing broken: the check that is there for it says so."""
    assert (check_id, code) in codes(BREAKS[check_id, code](small.compute()))


@pytest.mark.parametrize("edit", EDITS, ids=lambda edit: f"{edit['check']}-{edit['code']}")
def test_an_edit_is_found_under_its_code_at_its_place(small, edit):
    """One thing written wrong: the check that is there for it says so, and says where."""
    before = codes(small.compute())
    small.edit(edit["file"], edit["old"], edit["new"])
    outcomes = run_checks(small.compute())
    places = [
        finding.where
        for outcome in outcomes
        if outcome.check.id == edit["check"]
        for finding in outcome.findings
        if finding.code == edit["code"]
    ]
    assert edit["at"] in places
    assert before == set()


def test_a_finding_names_the_cell_and_the_line(small):
    """The reader learns which cell, which line to mend, and both numbers."""
    broken = cell(2, 1, value=Fraction(261, 10), printed="26.1")(small.compute())
    found = [finding for outcome in run_checks(broken) for finding in outcome.findings if outcome.check.id == "arithmetic.return"]
    assert [finding.where for finding in found] == [f"{RATES}, 70 kg, 0.1 mcg/kg/min"]
    assert found[0].mark.file == "cards/small/rates.yaml"
    assert found[0].message == "prints 26.1, which does not lead back to the input"


def test_a_wrong_unit_table_is_found_by_the_balance(small, monkeypatch):
    """The second route shares no unit table with the first: an hour of 61 minutes in one of them stops the build."""
    from cardwright.formulas import plain

    monkeypatch.setitem(plain.FACTORS, "h", Fraction(61))
    monkeypatch.setattr(plain, "_sizes", {"": Fraction(1)})
    assert ("arithmetic.balance", "unequal") in codes(small.compute())


def test_a_load_is_not_held_against_the_ceiling_of_an_infusion(small):
    """A dose in mg has no place beside a ceiling in mcg/kg/min; the drug's own givens say how much it is, and its most."""
    load = "{value: 1 mg/kg, says: load, cite: {sample-label: section 2}}"
    most = "{value: 50 mg, says: most of the load, cite: {sample-label: section 2}}"
    small.edit("sources/infusions/samplamine.yaml", "witnesses:\n", f"givens:\n  load: {load}\n  load-most: {most}\n\nwitnesses:\n")
    column = "{id: mg, head: load, formula: dose.by_weight, with: {per_weight: load, most: load-most}, gives: mg, round: {nearest: 1 mg}}"
    chart = f"{{id: load, title: Load, source: infusions/samplamine, down: {{weight: '40, 80 kg'}}, columns: [{column}]}}"
    small.edit("cards/small/rates.yaml", "    notes: [line]\n", f"    notes: [line]\n  - charts: [{chart}]\n")
    assert [row[0].printed for row in small.chart("rates/load").cells] == ["40", "50"]
    assert {check for check, _ in codes(small.compute())} == {"witness.covered", "witness.twice"}


def test_nothing_to_look_at_is_not_a_pass(small):
    """A check that saw nothing says so."""
    book = small.compute()
    empty = replace(book, sides={})
    told = {outcome.check.id: outcome.status for outcome in run_checks(empty)}
    assert told["arithmetic.balance"] == told["limits.ceiling"] == "nothing to check"


WHOLE = {"severity": "error", "origin": "common-practice", "codes": {"bad": "it is bad"}}


def documented(book):
    """Is it good?

    Rationale: bad things hurt people.
    """


def half_documented(book):
    """It is good."""


@pytest.mark.parametrize(
    ("changes", "function", "told"),
    [
        ({"id": "limits.pump"}, documented, "its id is taken"),
        ({"severity": "grave"}, documented, "its severity is unknown"),
        ({"approval": "grave"}, documented, "its severity is unknown"),
        ({"subject": "weather"}, documented, "its subject is unknown"),
        ({"origin": " "}, documented, "its origin is missing"),
        ({"codes": {}}, documented, "it names no failure code"),
        ({"codes": {"bad": " "}}, documented, "a failure code has no meaning"),
        ({}, half_documented, "its first line is not a question"),
    ],
)
def test_a_check_with_anything_missing_is_refused(changes, function, told):
    """An undocumented check can't be registered."""
    arguments = {"id": "test.refused", **WHOLE, **changes}
    with pytest.raises(ValueError, match=f"is refused: {told}"):
        check(arguments.pop("id"), **arguments)(function)
    assert "test.refused" not in CHECKS


def test_a_code_that_a_check_does_not_name_is_its_own_fault(small):
    """A finding under an unknown code is a broken check, not broken data."""

    @check("test.stray", **WHOLE)
    def stray(book):
        """Is it good?

        Rationale: bad things hurt people.
        """
        yield checks.Finding("worse", "here", book.charts[0].source.witnesses[0][1], "it is worse")

    del CHECKS["test.stray"]
    book = small.compute()
    with pytest.raises(BrokenCheck, match=r"test\.stray is broken: it told the code 'worse', which it does not name"):
        checks.registry.run(stray, book)


def test_a_check_that_crashes_is_a_broken_check(small):
    """A crash is never a pass, and never told as broken data."""

    @check("test.crash", **WHOLE)
    def crash(book):
        """Is it good?

        Rationale: bad things hurt people.
        """
        yield 1 // 0

    del CHECKS["test.crash"]
    with pytest.raises(BrokenCheck, match=r"test\.crash is broken: ZeroDivisionError: integer division or modulo by zero"):
        checks.registry.run(crash, small.compute())


def test_a_conversion_starts_from_pounds_and_may_not_lead_to_them(small):
    """150 lb are 68.04 kg by the international pound: rows in lb pass in such a chart, columns in lb do not, nor rows in another."""
    spec = """{id: pounds, title: Pounds, source: figures/child, down: {amount: "100, 150 FROM"}, columns: [{id: other, head: weight,
        formula: conversion.units, with: {from_unit: A kg, to_unit: B kg}, gives: TO, round: {nearest: 0.1 TO}}]}"""
    face = "  - title: Weight\n    charts:\n      - " + spec.replace("\n", " ")
    path = small.folder / "sizes.yaml"
    before = path.read_text(encoding="utf-8")
    told = {}
    for start, end, sizes in (("lb", "kg", ("0.45359237", "1")), ("kg", "lb", ("1", "0.45359237"))):
        text = face.replace("FROM", start).replace("TO", end).replace(" A kg", f" {sizes[0]} kg").replace(" B kg", f" {sizes[1]} kg")
        path.write_text(before + text + "\n", encoding="utf-8")
        found = next(outcome for outcome in run_checks(small.compute()) if outcome.check.id == "units.metric")
        told[start] = [(finding.code, finding.where) for finding in found.findings]
    assert told == {"lb": [], "kg": [("weight", "sizes/pounds")]}


@pytest.mark.parametrize("axis", ["0, 0.1, 2, 2.5", "0, 0.1"])
def test_a_dose_of_nothing_breaks_no_check(small, axis):
    """A row or column for zero has no proportion to the others; the rest still has."""
    small.edit("cards/small/rates.yaml", "0.01, 0.1, 2, 2.5 mcg/kg/min", f"{axis} mcg/kg/min")
    assert [outcome.check.id for outcome in run_checks(small.compute()) if outcome.failed] == []


def test_a_ratio_of_nothing_is_a_finding_and_breaks_no_check(reference_book):
    """A rule of 0 × tube makes sizes of 0 that nothing leads back from, across or backwards: data to mend, and no fault of the program."""
    edition, path = reference_book.edition, "sources/pediatric/tracheal-tubes.yaml"
    problems = Problems(edition.root)
    table = read(edition.root / path, problems)
    table["givens"]["catheter-ratio"]["value"], table["givens"]["depth-ratio"]["value"] = "0 Fr/mm", "0 cm/mm"
    problems.stop()
    found = run_checks(compute(with_source(edition, "pediatric/tracheal-tubes", table)))
    codes = {(outcome.check.id, finding.code) for outcome in found for finding in outcome.findings}
    assert {("arithmetic.balance", "unequal"), ("arithmetic.return", "input")} <= codes
