"""How a carried chart is laid upon ours: where the unit of a head may stand, which way round a table lies, and what is asked for."""

from __future__ import annotations

from fractions import Fraction

import pytest
from test_compare import NOREPINEPHRINE, PLAIN, RATES, chart_of, grid, held

from cardwright.carried import Unclear
from cardwright.compare import Told, compare

KG = 'weight has no unit: is \'40\' in kg or lb? Write it beside every head, or add --rows "weight kg" or --rows "weight lb"'
DOSE = "dose has no unit: is '0.05' in mcg/kg/min? Write it beside every head, or add --columns \"dose mcg/kg/min\""
CELLS = "'7.5' has no unit; expected it in a title, beside the heads or in the cells, or add --cells mL/h"
BODY = [["40", "7.5", "15", "30"], ["80", "15", "30", "60"]]
DOSES = ["0.05", "0.1", "0.2"]
FIRST, SECOND = (["40 kg", *BODY[0][1:]], ["80 kg", *BODY[1][1:]])


def table(corner: str, heads: list[str] = DOSES, *above: list[str]) -> list[list[str]]:
    """The plain table under other heads."""
    return [*(row + [""] * (4 - len(row)) for row in above), [corner, *heads], *BODY]


@pytest.mark.parametrize(
    "rows",
    [
        table("kg \\ mcg/kg/min"),
        table("KG\\MCG/KG/MIN"),
        table("weight (kg), dose (µg/kg/min)"),
        table("weight kg", ["0.05 mcg/kg/min", "0.1 mcg/kg/min", "0.2 mcg/kg/min"]),
        table("weight, kilograms", ["0.05 μg/kg/minute", "0.1", "0.2"]),
        table("weight in kg", DOSES, ["", "dose in mcg per kg per min"]),
        table("", DOSES, ["Norepinephrine 4 mg/250 mL for a 70 lb dog or a 70 kg man", "", "weight in kg", "dose in mcg/kg/min"]),
        [["", *DOSES], ["kg", "", "", ""], *BODY, ["mcg/kg/min", "", "", ""]],
        [["", "mcg/kg/min", *DOSES], ["weight", *FIRST], ["", *SECOND]],
        [["mcg/kg/min", *DOSES], FIRST, SECOND],
        table("kg", ["50 mcg/kg/h", "100 mcg/kg/h", "0.2 mcg/kg/min"]),
    ],
)
def test_units_are_found_where_people_write_them(reference_book, rows):
    """In the corner, in a title above, under the heads, in each head or in one of them; in words, capitals or with a Greek letter.

    All of these are the same chart but for 50 mcg/kg/h, which is 0.83 mcg/kg/min and so differs in its cells."""
    found = held(reference_book, rows, Told(cells="mL/h"))
    if "mcg/kg/h" in rows[0][1]:
        assert found.cells[0][0].exact == 40 * 50 * 1 / 16
        assert found.cells[0][2].status == "agrees"
    else:
        assert found.counts == {"agrees": 6, "differs": 0, "missing": 0, "not computable": 0}
        assert not found.layout.turned


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        (PLAIN, RATES),
        (table("kg"), Told(columns="dose mcg/kg/min", cells="mL/h")),
        (table("mcg/kg/min"), Told(rows="weight kg", cells="mL/h")),
        (table(""), Told(rows="kg", columns="mcg/kg/min", cells="ml/hr")),
        (table("", ["0.05 mcg/kg/min", "0.1 mcg/kg/min", "0.2 mcg/kg/min"]), Told(rows="weight kg", cells="mL/h")),
        ([["", *DOSES], FIRST, SECOND], Told(columns="dose mcg/kg/min", cells="chart")),
    ],
)
def test_a_table_lies_either_way_round(reference_book, rows, told):
    """The same table turned, with the flags for rows and columns changed over, is found to be the same chart."""
    assert held(reference_book, rows, told).counts["agrees"] == 6
    across = [[cell.replace("kg \\ mcg/kg/min", "mcg/kg/min \\ kg") for cell in row] for row in map(list, zip(*rows))]
    found = held(reference_book, across, Told(told.columns, told.rows, told.cells))
    assert found.counts["agrees"] == 6
    assert found.layout.turned
    assert found.cells[0][1].place == "mine.csv:3:2"  # 40 kg at 0.1: second column of the third row
    assert found.remarks == ("the table lies the other way round: its rows are our columns",)


ROUND = 'can\'t tell which way round the table lies; add --rows "weight kg" --columns "dose mcg/kg/min", or the other way round'
OPEN = [
    (table("kg"), Told(), [DOSE, CELLS]),
    (table("", DOSES, ["Rates in mL/h, weight down, dose across"]), Told(), [KG, DOSE]),
    (table("", ["0.05 mcg/kg/min", "0.1", "0.2"]), Told(), [KG, CELLS]),
    (PLAIN, Told(), [CELLS]),
    (table("kg \\ mcg/kg/min", DOSES, ["mL/h or mL/min"]), Told(), [CELLS]),
    (table("kg or lb \\ mcg/kg/min"), RATES, ["weight has several units: is '40' in kg or lb?"]),
    ([*table("kg \\ mcg/kg/min"), ["154 lb", "1", "2", "3"]], RATES, ["weight has several units: is '40' in kg or lb?"]),
    ([["", "3", "5"], ["7", "1", "2"], ["9", "3", "4"]], RATES, [ROUND]),
    ([["mcg/kg/min, kg", "3", "5"], ["7", "1", "2"], ["9", "3", "4"]], RATES, [ROUND]),
    (
        [["a", "b"], ["c", "d"]],
        RATES,
        ["mine.csv:1:1: holds no table of this chart; expected heads of rows and of columns with weight in kg"],
    ),
    (table("kg", ["0.05 mcg/min", "0.1 mcg/min", "0.2 mcg/min"]), RATES, ["holds no table of this chart"]),
    (
        table("kg \\ mcg/kg/min", ["0,05", "0.1", "0.2"]),
        RATES,
        ["mine.csv:1:2: '0,05' has a decimal comma, '0.1' at mine.csv:1:3 a decimal point"],
    ),
    (
        [["kg \\ mcg/kg/min", "1"], ["400", "1,500"]],
        RATES,
        ["'1,500' may have decimals or thousands behind its comma; add --decimal comma or"],
    ),
    (PLAIN, Told(rows="height cm"), ["--rows: 'height cm' is no axis of this chart; expected 'weight kg' or 'dose mcg/kg/min'"]),
    (PLAIN, Told(rows="weight mL"), ["--rows: 'weight mL' is no axis"]),
    (PLAIN, Told(rows="weight kg", columns="weight kg"), ["--rows and --columns name the same axis; expected one each"]),
    (PLAIN, Told(cells="kg"), ["--cells: 'kg' is no unit of this chart's cells; expected one such as mL/h, or 'chart'"]),
    (PLAIN, Told(cells="drops"), ["--cells: 'drops' is no unit"]),
]


@pytest.mark.parametrize(("rows", "told", "problems"), OPEN)
def test_what_is_open_is_asked_for_and_never_guessed(reference_book, rows, told, problems):
    """Each doubt is told with its place and the flag that settles it, all of one file at once."""
    with pytest.raises(Unclear) as caught:
        held(reference_book, rows, told)
    assert len(caught.value.problems) == len(problems), caught.value.problems
    for problem, words in zip(caught.value.problems, problems):
        assert words in problem


@pytest.mark.parametrize(("told", "value"), [("comma", "1.5"), ("point", "1500")])
def test_the_decimal_mark_can_be_told(reference_book, told, value):
    """1,500 is read as the flag says: 400 kg at 1 mcg/kg/min of 16 mcg/mL is 1,500 mL/h."""
    found = held(reference_book, [["kg \\ mcg/kg/min", "1"], ["400", "1,500"]], Told(cells="mL/h", decimal=told))
    assert found.cells[0][0].off == Fraction(value) / 1500 - 1


@pytest.mark.parametrize(
    ("rows", "semicolons"),
    [
        ([["kg \\ mcg/kg/min", "0,05", "0,1"], ["40", "7,5", "15"], ["320", "60", "120,0"]], True),
        ([["kg \\ mcg/kg/min", "0,05", "8"], ["40", "7,5", "1.200"], ["320", "60", "9.600,0"]], True),
        ([["kg \\ mcg/kg/min", ".05", "8"], ["40", "7.5", "1,200"], ["320", "60", "9,600.0"]], False),
    ],
)
def test_the_decimal_mark_is_seen_where_one_number_shows_it(reference_book, rows, semicolons):
    """One number that can be read in only one way tells for the whole file. 320 kg at 8 mcg/kg/min: 320 × 8 × 60 ÷ 16 = 9,600 mL/h,
    over the ceiling and the pump's most, so that ours has a mark; what was read is seen from the exact value beside it."""
    found = compare(reference_book, chart_of(reference_book, NOREPINEPHRINE), grid(rows, semicolons), RATES)
    assert [row[0].status for row in found.cells] == ["agrees", "agrees"]
    assert found.layout.columns[1].quantity.value in (8, found.layout.columns[0].quantity.value * 2)


def test_three_decimals_in_a_semicolon_file_may_be_thousands(reference_book):
    """Where semicolons part the fields, 1.500 may be written by someone whose decimal mark is the comma."""
    with pytest.raises(Unclear, match=r"'1\.500' may have decimals or thousands behind its point"):
        compare(reference_book, chart_of(reference_book, NOREPINEPHRINE), grid([["kg \\ mcg/kg/min", "1"], ["400", "1.500"]], True), RATES)


AGES = [["age (year)", "uncuffed (mm)", "tube cuffed (mm)", "suction (Fr)"], ["4", "5", "4.5", "8"], ["6", "5.5", "5", "10"]]
BY_AGE = "pediatric-airway-age/by-age"


def test_columns_with_formulas_of_their_own_are_found_by_name(reference_book):
    """A head may have its group before it and its unit behind it; a column that ours has not is told, and ours that is not there too."""
    found = held(reference_book, AGES, Told(), BY_AGE)
    assert found.counts["agrees"] == 6
    assert found.missing_columns == ("at the lips depth by age", "at the lips depth by cuffed tube")
    found = held(reference_book, [[*row, add] for row, add in zip(AGES, ("mask", "2", "3"))], Told(), BY_AGE)
    assert [row[3].why for row in found.cells] == ["our chart has no such head"] * 2
    found = held(reference_book, [[*row, row[1]] for row in AGES], Told(), BY_AGE)
    assert [row[3].why for row in found.cells] == ["the head stands more often than in our chart"] * 2
    across = [[cell.replace("age (year)", "age in years") for cell in row] for row in map(list, zip(*AGES))]
    assert held(reference_book, across, Told(), BY_AGE).counts["agrees"] == 6


def test_columns_without_units_are_asked_for(reference_book):
    """cm or mm for a depth is not guessed: the flag says that all are as in our chart."""
    bare = [["age (year)", "uncuffed", "suction"], ["4", "5", "8"]]
    with pytest.raises(Unclear) as caught:
        held(reference_book, bare, Told(), BY_AGE)
    assert [problem.partition(": ")[0] for problem in caught.value.problems] == ["mine.csv:2:2", "mine.csv:2:3"]
    assert all("add --cells chart, if every column is in our unit" in problem for problem in caught.value.problems)
    assert held(reference_book, bare, Told(cells="chart"), BY_AGE).counts["agrees"] == 2


def test_a_published_table_is_held_row_by_row(reference_book):
    """Steps that share an FiO2 are taken in turn; words are compared as words; its own unit is asked for."""
    rows = [["FiO2", "PEEP cmH2O"], ["0.30", "5"], ["0.4", "5"], ["0.4", "10"]]
    found = held(reference_book, rows, Told(), "peep-ladders/lower")
    assert [row[0].status for row in found.cells] == ["agrees", "agrees", "differs"]
    assert found.cells[2][0].ours == "8"
    rows = [["weight kg", "suction catheter Fr"], ["under 1,000 g", "5 OR 6"], ["1,000 to 2,000 g", "7"]]
    found = held(reference_book, rows, Told(), "pediatric-airway-weight/newborn-tube")
    assert [(row[0].status, row[0].why) for row in found.cells] == [("agrees", ""), ("differs", "our chart has words here")]
    rows = [["weight lb", "size"], ["up to 5", "1"]]
    with pytest.raises(Unclear, match=r'weight is in lb; our table is published in kg: if this one is, add --rows "weight kg"'):
        held(reference_book, rows, Told(), "pediatric-airway-weight/supraglottic")


def test_per_cent_is_not_taken_for_a_fraction(reference_book):
    """FiO2 40 may be 40 % or a slip; ours is a fraction. Sea-level arithmetic: (8 × (0.4 − 0.21)) ÷ 0.79 = 1.924, rounded up 2."""
    rows = [["minute volume L/min", "40", "60"], ["8", "2", "4"]]
    with pytest.raises(Unclear, match=r"fio2 has no unit: is '40' in % or a plain number\?.*--columns \"fio2 %\""):
        held(reference_book, rows, Told(cells="L/min"), "ventilator-oxygen/blender")
    found = held(reference_book, rows, Told(columns="fio2 %", cells="L/min"), "ventilator-oxygen/blender")
    assert [cell.status for cell in found.cells[0]] == ["agrees", "agrees"]


@pytest.mark.parametrize(
    ("head", "cell", "status"),
    [
        ("altitude (ft)", "3,280", "agrees"),
        ("altitude (ft)", "3,281", "differs"),
        ("altitude", "3,280", "agrees"),
        ("altitude (m)", "3,280", "not computable"),
    ],
)
def test_a_unit_that_only_the_card_knows_is_told_from_one_of_ours(reference_book, head, cell, status):
    """Feet are words to us and can't be converted: the same head or none is taken as such, and meters are never read as feet."""
    rows = [["cabin altitude m", head, "pressure (mmHg)"], ["1,000", cell, "674"]]
    found = compare(reference_book, chart_of(reference_book, "altitude/standard"), grid(rows), Told(decimal="point"))
    assert [cell.status for cell in found.cells[0]] == [status, "agrees"]
