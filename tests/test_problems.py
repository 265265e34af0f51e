"""Practice problems: which charts suit which kinds, answers that documents publish too, and the same problems for the same seed."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_published import load, point_cells, quantity, table_cells

from cardwright.classroom import Unfit
from cardwright.classroom.between import points
from cardwright.classroom.chosen import pick
from cardwright.classroom.problems import LEVELS, kinds, problems
from cardwright.classroom.spacing import spaced
from cardwright.units import factor

CHARTS = {
    "vasopressors/norepinephrine-16-mcg-mL": ("set the pump", "which cell is wrong"),
    "dose-running-pressors/norepinephrine-16-mcg-mL": ("what dose is running", "which cell is wrong"),
    "run-out/syringe": ("how long it lasts", "which cell is wrong"),
    "oxygen-us/us-e": ("how long it lasts", "which cell is wrong"),
    "oxygen-metric/metric-2": ("how long it lasts", "which cell is wrong"),
    "oxygen-uk/uk-d": ("how long it lasts", "which cell is wrong"),
    "oxygen-planning/liquid": ("how long it lasts", "which cell is wrong"),
    "conversions/celsius": ("convert", "which cell is wrong"),
    "airway-pressure/peep": ("convert", "which cell is wrong"),
    "pediatric-airway-age/by-age": ("choose the size", "which cell is wrong"),
    "ventilation-checks/ratio": ("which cell is wrong",),
    "sepsis/sirs": (),
}
SUITED = tuple(chart for chart, found in CHARTS.items() if found)


@pytest.mark.parametrize("chart", CHARTS)
def test_a_chart_suits_these_kinds(reference_book, chart):
    """What a chart may be asked for follows from its formulas; a published table is asked about in no way."""
    [picked] = pick(reference_book, [chart])
    assert kinds(picked) == CHARTS[chart]


def drawn(book, chart: str, level: str, seed: int = 7):
    """Every problem of a chart, or 200 of them."""
    picked = pick(book, [chart])
    try:
        return problems(picked, 200, seed, level)
    except Unfit as error:
        return problems(picked, int(re.search(r"give (\d+) different", str(error))[1]), seed, level)


@pytest.fixture(scope="module")
def published() -> dict:
    """Figures that documents print without rounding them, by formula and inputs."""
    cells = [cell for entry in load("tables") for cell in table_cells(entry)]
    cells += [cell for entry in load("points") for cell in point_cells(entry)]
    exact = [cell for cell in cells if cell.rounded == "exact" and not cell.departs]
    return {(cell.formula, frozenset((name, quantity(text).base) for name, text in cell.inputs.items())): cell for cell in exact}


def test_answers_are_those_that_documents_publish(reference_book, published):
    """Where a document prints the figure for the same inputs, that figure, rounded as the problem says, is the answer."""
    found = set()
    for chart in reference_book.charts:
        for problem in drawn(reference_book, chart.id, "basic") if kinds(*pick(reference_book, [chart.id])) else ():
            trace = problem.cell.trace
            cell = published.get((trace.formula, frozenset((name, value.base) for name, value in trace.quantities.items())))
            if cell:
                figure = Fraction(cell.printed.replace(",", "")) * factor(cell.gives) / factor(problem.line.unit)
                assert problem.line.rule.apply(figure) == problem.cell.value, (chart.id, problem.answer, cell.name)
                found.add((problem.kind, cell.name))
    assert {kind for kind, _ in found} == {"pump", "running", "lasts", "convert", "size", "wrong"}
    assert len(found) > 100


def by_hand(working: str) -> Fraction:
    """The left side of a working multiplied and divided out, by its figures alone."""
    value, sign = Fraction(1), "×"
    left = re.split(r" [=≈] ", working)[0].replace("(", "").replace(")", "")
    for term in re.split(r" ([×÷]) ", left):
        if term in "×÷":
            sign = term
            continue
        one, _, other = term.partition(" − ")
        figure = Fraction(one.split()[0].replace(",", "")) - (Fraction(other.split()[0].replace(",", "")) if other else 0)
        value = value * figure if sign == "×" else value / figure
    return value


@pytest.mark.parametrize(
    "chart",
    [chart for chart in SUITED if chart.split("/")[0] in ("vasopressors", "dose-running-pressors", "run-out", "oxygen-us", "oxygen-uk")],
)
@pytest.mark.parametrize("level", LEVELS)
def test_the_key_can_be_worked_by_hand(reference_book, chart, level):
    """The figures of the working that the key prints, multiplied and divided by hand, round to the answer."""
    for problem in drawn(reference_book, chart, level):
        assert problem.line.rule.apply(by_hand(problem.cell.trace.working)) == problem.cell.value


@pytest.mark.parametrize("chart", SUITED)
@pytest.mark.parametrize("level", LEVELS)
def test_every_problem_has_one_answer(reference_book, chart, level):
    """Asked cells are numbers, spaced, and none is asked twice; a wrong figure is not the right one and stands where it is said to."""
    found = drawn(reference_book, chart, level)
    asked = [problem for problem in found if not problem.altered]
    assert len({problem.question for problem in asked}) == len(asked)
    for problem in found:
        assert problem.cell.state == "ok"
        if problem.altered:
            altered = problem.altered
            assert altered.rows[altered.row][1][altered.column] == altered.figure != problem.cell.printed
        else:
            assert spaced(problem.line.rule, problem.cell.exact, problem.cell.value)


def test_levels_stand_on_the_chart_and_between_its_heads(reference_book):
    """A basic problem is read off; a hard one has its row or column between two heads, and its answer stands beside neither."""
    chart = "vasopressors/norepinephrine-16-mcg-mL"
    [picked] = pick(reference_book, [chart])
    heads = set(picked.chart.heads)
    on, between = (
        [problem.cell.trace.quantities["weight"].text for problem in drawn(reference_book, chart, level) if not problem.altered]
        for level in ("basic", "hard")
    )
    assert set(on) <= heads
    assert not set(between) & heads
    both = {
        problem.cell.trace.quantities["weight"].text in heads for problem in drawn(reference_book, chart, "mixed") if not problem.altered
    }
    assert both == {True, False}


@settings(max_examples=15)
@given(st.integers(min_value=0, max_value=10**9), st.sampled_from(LEVELS), st.sampled_from(SUITED))
def test_a_seed_draws_the_same_problems(reference_book, seed, level, chart):
    """The same seed, level and charts give the same problems, and the answers are cells that the engine makes again."""
    picked = pick(reference_book, [chart])
    first, second = (problems(picked, 5, seed, level) for _ in range(2))
    assert [(p.told, p.answer) for p in first] == [(p.told, p.answer) for p in second]


def test_another_seed_draws_others(reference_book):
    """Two classes can be given different sheets."""
    picked = pick(reference_book, ["vasopressors/norepinephrine-16-mcg-mL"])
    assert [p.told for p in problems(picked, 5, 7, "mixed")] != [p.told for p in problems(picked, 5, 8, "mixed")]


def test_a_chart_that_suits_no_problem_is_told(reference_book):
    """Every such chart is named, and nothing is drawn."""
    with pytest.raises(Unfit, match=r"chart sepsis/sirs suits no kind of problem: it is not computed") as told:
        problems(pick(reference_book, ["sepsis/sirs", "sepsis/qsofa", "run-out/bag"]), 5, 1, "basic")
    assert len(told.value.problems) == 2


def test_too_many_are_told_with_how_many_there_are(reference_book):
    """A small chart has few problems; the message says how many can be had."""
    with pytest.raises(Unfit, match=r"--count: these charts give \d+ different problems of level basic; expected at least 200"):
        problems(pick(reference_book, ["conversions/pounds"]), 200, 1, "basic")


def test_points_of_a_chart_are_its_own_cells(reference_book):
    """On the heads no cell is made anew: each is the chart's, once."""
    import random

    [picked] = pick(reference_book, ["run-out/syringe"])
    cells = [point.cell for point in points(picked, False, random.Random(1))]
    assert sorted(map(id, cells)) == sorted(id(cell) for row in picked.chart.cells for cell in row)
