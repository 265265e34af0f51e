"""Charts: every state of a cell at values worked out by hand, nested columns, and laws over drawn axes."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from cardwright.charts import STATES, Chart
from cardwright.compute import compute
from cardwright.edition import Edition
from cardwright.numbers import plain
from cardwright.provenance import Choice, Derived, Given, Stated, leaves
from cardwright.units import Quantity
from cardwright.values import Axis

RATES, RUNNING, AGE, CYLINDER, BLADES = "rates/samplamine-16-mcg-mL", "rates/running", "sizes/by-age", "sizes/cylinder", "sizes/blades"


def grid(chart: Chart) -> dict[str, list[str]]:
    """What is printed, by the head of the row."""
    return {head: [cell.printed for cell in row] for head, row in zip(chart.heads, chart.cells, strict=True)}


def test_rates_by_hand(small):
    """rate = dose × weight × 60 ÷ 16 = 3.75 × dose × weight, in every state a cell can have.

    Under the pump's least rate of 0.1 mL/h: 0.01 × 2 = 0.075. Moved by more than 5 %: 0.75 to 0.8, and 0.15 to 0.2.
    The pump's highest rate of 999 mL/h is still printed: 2 × 133.2 = 999; 2 × 133.3 = 999.75 would be 1,000.
    Ties up: 0.1 × 70 = 26.25 to 26.3. Above the ceiling of 2 mcg/kg/min stands no number at any weight.
    """
    assert grid(small.chart(RATES)) == {
        "2": ["low", "–", "15", "max"],
        "4": ["–", "1.5", "30", "max"],
        "70": ["2.6", "26.3", "525", "max"],
        "133.2": ["5", "50", "999", "max"],
        "133.3": ["5", "50", "high", "max"],
    }


@pytest.mark.parametrize(
    ("row", "column", "state", "exact"),
    [
        ("2", "0.01", "least", "0.075"), ("2", "0.1", "step", "0.75"), ("133.3", "2", "most", "999.75"), ("70", "2.5", "over", "656.25"),
        ("70", "0.1", "ok", "26.25"),
    ],
)  # fmt: skip
def test_cell_without_a_number_keeps_the_exact_one(small, row, column, state, exact):
    """A cell that must not be used prints a mark and has no value; what it would be stays in its trace."""
    cell = small.cell(RATES, row, column)
    assert (cell.state, cell.exact) == (state, Fraction(exact))
    assert (cell.value is None) == (state != "ok")
    assert cell.printed == ("26.3" if state == "ok" else STATES[state][0])
    assert cell.trace.printed == cell.printed


def test_ceiling_comes_before_the_pump(small):
    """Above the ceiling the mark says so, even where the pump could not run at the rate either."""
    small.edit("cards/small/rates.yaml", "dose: 0.01, 0.1, 2, 2.5 mcg/kg/min", "dose: 2.5, 10 mcg/kg/min")
    assert {cell.state for row in small.chart(RATES).cells for cell in row} == {"over"}


def test_doses_by_hand(small):
    """dose = rate × 16 ÷ 60 ÷ weight: 525 mL/h at 70 kg is the ceiling itself, 2, and is printed; 530 is above it."""
    assert grid(small.chart(RUNNING)) == {"35": ["0.076", "max", "max"], "70": ["0.038", "2", "max"]}
    assert small.cell(RUNNING, "35", "10").exact == Fraction(160, 2100)


def test_rounded_dose_does_not_hide_that_it_is_over(small):
    """The exact dose counts: 525.1 mL/h at 70 kg is 2.0004, rounds to the ceiling of 2, and is marked."""
    small.edit("cards/small/rates.yaml", "rate: 10, 525, 530 mL/h", "rate: 525, 525.1 mL/h")
    assert grid(small.chart(RUNNING))["70"] == ["2", "max"]


def test_nested_columns_by_hand(small):
    """A column may use another one: the tube as it is printed, the weight as it is exactly.

    weight = 2.5 × age + 8; breath = 6 × exact weight (10.5 × 6 = 63, not 11 × 6); tube = age ÷ 4 + 3.5 down to a size made;
    depth = 3 × printed tube (at 3 years 3 × 4 = 12, not 3 × 4.25). Outside of 2 to 9 years, and at 8 years where the tube
    would be 5.5 and 5 is the last one made, there is no tube and no depth.
    """
    assert grid(small.chart(AGE)) == {
        "1": ["11", "63", "×", "×"],
        "2": ["13", "78", "4", "12"],
        "3": ["16", "93", "4", "12"],
        "4": ["18", "108", "4.5", "13.5"],
        "5": ["21", "123", "4.5", "13.5"],
        "6": ["23", "138", "5", "15"],
        "7": ["26", "153", "5", "15"],
        "8": ["28", "168", "×", "×"],
    }


@pytest.mark.parametrize(("word", "other", "depth"), [("printed", "exact", "13"), ("exact", "printed", "12")])
def test_word_decides_which_number_is_used(small, word, other, depth):
    """'printed tube' is the size that is made, 'exact tube' the rule's own result: at 3 years 3 × 4 = 12 or 3 × 4.25 = 12.75, to 13."""
    small.edit("cards/small/sizes.yaml", "printed tube", f"{other} tube")
    assert small.cell(AGE, "3", "depth").printed == depth


def test_cell_outside_of_its_range_has_no_trace_below_it(small):
    """A column that rests on a cell without a number has none either, and nothing to trace; a cell's own bounds stay in its trace."""
    tube, depth = small.cell(AGE, "8", "tube"), small.cell(AGE, "8", "depth")
    assert (tube.state, tube.exact, depth.state, depth.exact, depth.trace) == ("outside", Fraction(11, 2), "outside", None, None)
    assert [str(bound.quantity) for bound in tube.trace.bounds if isinstance(bound, Given)] == ["2 year", "9 year"]


def test_times_by_hand(small):
    """time = (pressure − 200) × 0.3 ÷ flow, down to the minute: 500 × 0.3 ÷ 4 = 37.5 is 0:37; nothing is left at the reserve."""
    assert grid(small.chart(CYLINDER)) == {"200": ["0:00", "0:00"], "700": ["1:15", "0:37"], "2,000": ["4:30", "2:15"]}


def test_time_below_nothing_is_not_told(small):
    """Under the reserve the rule would give less than no time, (100 − 200) × 0.3 ÷ 2 = −15 min: no number stands there."""
    small.edit("cards/small/sizes.yaml", "200, 700, 2,000 psi", "100, 700 psi")
    assert grid(small.chart(CYLINDER)) == {"100": ["×", "×"], "700": ["1:15", "0:37"]}


def test_published_table_is_carried_over(small):
    """A published table prints what it states: a figure without idle zeros, words as they are, each cell traced to its line."""
    chart = small.chart(BLADES)
    assert grid(chart) == {"newborn": ["0", "10.5"], "1 year": ["1 or 2", "12"]}
    assert [[cell.value for cell in row] for row in chart.cells] == [[0, Fraction(21, 2)], [None, 12]]
    cell = chart.cells[0][1]
    assert isinstance(cell.trace, Stated)
    assert (cell.trace.text, cell.trace.mark.line, chart.columns[1].unit, chart.columns[0].unit) == ("10.5 cm", 54, "cm", "")


def test_doses_have_their_roles(small):
    """A dose column in the usual range or at the start dose says so; start comes first where a dose is both."""
    assert [(line.head, line.role) for line in small.chart(RATES).columns] == [("0.01", "start"), ("0.1", "usual"), ("2", ""), ("2.5", "")]
    assert {line.role for line in small.chart(RUNNING).columns} == {""}


def test_role_counts_the_dose_in_any_unit(small):
    """6 mcg/kg/h is 0.1 mcg/kg/min: the end of the usual range belongs to it, and what is above does not."""
    small.edit("cards/small/rates.yaml", "dose: 0.01, 0.1, 2, 2.5 mcg/kg/min", "dose: 0.5, 0.6, 3, 6, 6.1 mcg/kg/h")
    assert [line.role for line in small.chart(RATES).columns] == ["", "start", "usual", "usual", ""]


def test_chart_s_name_and_mix(small):
    """A chart without an id is named after its table and mix, and carries the mix with its citation."""
    chart = small.chart(RATES)
    assert chart.mix.id == "infusions/samplamine:mix.16-mcg-mL"
    assert (chart.formula, chart.unit, chart.row_name, chart.row_unit, chart.column_name, chart.column_unit) == (
        "infusion.rate", "mL/h", "weight", "kg", "dose", "mcg/kg/min",
    )  # fmt: skip
    assert [chart.id for chart in small.compute().charts] == [RATES, RUNNING, AGE, CYLINDER, BLADES]


def test_every_cell_has_a_number_of_its_own(small):
    """The numbers of the traces run through the edition without a gap: 20 + 6 + 32 + 6 + 4 cells."""
    ids = [chart.trace_id(r, c) for chart in small.compute().charts for r in range(len(chart.heads)) for c in range(len(chart.columns))]
    assert ids == [f"t{place}" for place in range(1, 69)]


def test_trace_leads_to_givens_and_choices(small):
    """A cell's inputs are what the card chose, with its line, and what the table gives, with its citation."""
    trace = small.cell(RATES, "70", "0.1").trace
    assert isinstance(trace, Derived)
    assert trace.working == "0.1 mcg/kg/min × 70 kg ÷ 16 mcg/mL × 60 min/h = 26.25 mL/h"
    assert {name: type(item) for name, item in trace.inputs.items()} == {"dose": Choice, "weight": Choice, "concentration": Given}
    assert [trace.inputs[name].mark.line for name in trace.inputs] == [12, 10, 6]
    assert [leaf.id.split(":")[1] for leaf in leaves(trace)] == ["mix.16-mcg-mL", "dose.ceiling.at"]


def test_pump_without_a_coarse_step(small):
    """Without a coarse step the fine one holds everywhere: 0.355 × 133.3 × 3.75 = 177.455625 is 177 in whole steps and 177.5 in tenths."""
    small.edit("cards/small/rates.yaml", "dose: 0.01, 0.1, 2, 2.5 mcg/kg/min", "dose: 0.355 mcg/kg/min")
    assert grid(small.chart(RATES))["133.3"] == ["177"]
    small.edit("cards/small/edition.yaml", " coarse: {from: 100 mL/h, step: 1 mL/h},", "")
    assert grid(small.chart(RATES))["133.3"] == ["177.5"]


def test_rounding_at_the_boundary_of_the_coarse_step(small):
    """Whole mL/h from 100: at 133.3 kg 0.2 is 99.975, which rounds to 100; 0.21 is 104.97375, to 105; 0.19 is 94.97625, to 95."""
    small.edit("cards/small/rates.yaml", "dose: 0.01, 0.1, 2, 2.5 mcg/kg/min", "dose: 0.19, 0.2, 0.201, 0.21 mcg/kg/min")
    assert grid(small.chart(RATES))["133.3"] == ["95", "100", "100", "105"]


# Laws over drawn axes: the edition is read once, and only its first chart is given other values.


def rising(most: int, parts: int) -> st.SearchStrategy[list[Fraction]]:
    """Two to five values in rising order, each a whole number of these parts of one."""
    numbers = st.lists(st.integers(1, most), min_size=2, max_size=5, unique=True)
    return numbers.map(lambda drawn: [Fraction(value, parts) for value in sorted(drawn)])


WEIGHTS, DOSES = rising(2000, 10), rising(2500, 1000)
DRAWN = settings(max_examples=40)


def axis(numbers: list[Fraction], unit: str, like: Axis) -> Axis:
    """An axis with these values, told to be written where another one is."""
    made = Axis(Quantity(number, unit, plain(number)) for number in numbers)
    made.mark, made.text = like.mark, ""
    return made


def drawn(edition: Edition, weights: list[Fraction], doses: list[Fraction]) -> Chart:
    """The chart of rates over these weights and doses."""
    card = edition.cards["rates"]
    spec = card.faces[0].charts[0]
    like = spec.down["weight"]
    spec = spec.model_copy(update={"down": {"weight": axis(weights, "kg", like)}, "across": {"dose": axis(doses, "mcg/kg/min", like)}})
    face = card.faces[0].model_copy(update={"charts": [spec]})
    return compute(replace(edition, cards={"rates": card.model_copy(update={"faces": [face]})})).charts[0]


def test_rates_rise_with_dose_and_weight(small):
    """A heavier patient or a higher dose never has the lower rate, exactly or as printed."""
    edition = small.load()

    @DRAWN
    @given(WEIGHTS, DOSES)
    def law(weights, doses):
        cells = drawn(edition, weights, doses).cells
        for line in (*cells, *zip(*cells, strict=True)):
            exact = [cell.exact for cell in line]
            printed = [cell.value for cell in line if cell.state == "ok"]
            assert exact == sorted(set(exact))
            assert printed == sorted(printed)

    law()


def test_every_number_printed_may_be_used(small):
    """Whatever the axes: a printed rate is one the pump can be set to, within its limits, near the exact one, at or below the ceiling."""
    edition = small.load()

    @DRAWN
    @given(WEIGHTS, DOSES)
    def law(weights, doses):
        chart = drawn(edition, weights, doses)
        for weight, row in zip(weights, chart.cells, strict=True):
            for dose, cell in zip(doses, row, strict=True):
                assert cell.exact == dose * weight * 60 / 16
                if cell.state == "ok":
                    assert dose <= 2
                    assert Fraction(1, 10) <= cell.value <= 999
                    assert (cell.value * (10 if cell.value < 100 else 1)).denominator == 1
                    assert abs(cell.value - cell.exact) <= cell.exact / 20
                assert (cell.state == "over") == (dose > 2)

    law()
