"""Charts that people carry, held against ours: what each cell is found to be, and by which slip it may have come about.

Expected figures are worked by hand beside the test.
"""

from __future__ import annotations

import copy
from fractions import Fraction

import pytest

from cardwright.carried import Entry, Grid
from cardwright.charts import Book, Chart
from cardwright.compare import Comparison, Told, compare

NOREPINEPHRINE = "vasopressors/norepinephrine-16-mcg-mL"
# Rate of 16 mcg/mL for 80 kg at 0.1 mcg/kg/min: 0.1 × 80 × 60 ÷ 16 = 30 mL/h. All rows and columns are multiples of it.
PLAIN = [["kg \\ mcg/kg/min", "0.05", "0.1", "0.2"], ["40", "7.5", "15", "30"], ["80", "15", "30", "60"]]
RATES = Told(cells="mL/h")


def grid(rows: list[list[str]], semicolons: bool = False) -> Grid:
    """Rows as a grid, as if read from a file."""
    return Grid(
        "mine.csv",
        tuple(tuple(Entry(text, f"mine.csv:{r}:{c}") for c, text in enumerate(row, 1)) for r, row in enumerate(rows, 1)),
        semicolons,
    )


def chart_of(book: Book, chart_id: str) -> Chart:
    """A chart by its id."""
    return next(chart for chart in book.charts if chart.id == chart_id)


def held(book: Book, rows: list[list[str]], told: Told = RATES, chart_id: str = NOREPINEPHRINE) -> Comparison:
    """These rows against a chart."""
    return compare(book, chart_of(book, chart_id), grid(rows), told)


def with_cell(text: str, row: int = 2, column: int = 2) -> list[list[str]]:
    """PLAIN with another text in a cell: by default 80 kg at 0.1 mcg/kg/min, which is 30 mL/h."""
    rows = copy.deepcopy(PLAIN)
    rows[row][column] = text
    return rows


def one(found: Comparison, row: int = 1, column: int = 1):
    """A cell of what was found, and that all others agree."""
    others = [cell for r, cells in enumerate(found.cells) for c, cell in enumerate(cells) if (r, c) != (row, column)]
    assert {cell.status for cell in others} <= {"agrees"}
    return found.cells[row][column]


@pytest.mark.parametrize(
    ("text", "status", "off"),
    [
        ("30", "agrees", 0),
        ("30.0", "agrees", 0),
        ("30 mL/h", "agrees", 0),
        ("0.5 mL/min", "agrees", 0),  # 30 mL in 60 minutes
        ("30.1", "differs", Fraction(1, 300)),
        ("29", "differs", Fraction(-1, 30)),
        ("", "missing", None),
        ("a lot", "not computable", None),
        ("30-31", "not computable", None),
        ("30 mg/h", "not computable", None),
        ("30 bags", "not computable", None),
    ],
)
def test_a_cell_has_one_of_four_statuses(reference_book, text, status, off):
    """It agrees at its own precision and in its own unit, differs by a stated part, is missing, or can't be compared."""
    cell = one(held(reference_book, with_cell(text)))
    assert (cell.status, cell.off) == (status, off)
    assert (cell.ours, cell.place, cell.row, cell.column) == (
        "0.5 mL/min" if "min" in text else "30",
        "mine.csv:3:3",
        "80 kg",
        "0.1 mcg/kg/min",
    )


@pytest.mark.parametrize(
    ("text", "kind", "words"),
    [
        ("300", "tenfold", "ten times too high"),
        ("3", "tenfold", "ten times too low"),
        ("30000", "thousandfold", "a thousand times too high: mg and mcg mixed up"),
        ("0.03", "thousandfold", "a thousand times too low: mg and mcg mixed up"),
        ("1800", "sixtyfold", "sixty times too high: per minute and per hour mixed up"),
        ("0.5", "sixtyfold", "sixty times too low: per minute and per hour mixed up"),
        ("66.1", "pounds", "pounds used as kilograms"),  # 80 kg are 176.37 lb: 0.1 × 176.37 × 60 ÷ 16 = 66.14
        ("13.6", "pounds", "kilograms used as pounds"),  # 80 lb are 36.29 kg: 13.61
        ("6", "concentration", "fits the mix of 80 mcg/mL (4 mg in 50 mL)"),  # five times as strong
    ],
)
def test_the_likely_slip_is_told(reference_book, text, kind, words):
    """Each slip that people make is told by kind and in words that name what was mixed up."""
    cell = one(held(reference_book, with_cell(text)))
    assert cell.status == "differs"
    assert [slip.kind for slip in cell.slips] == [kind]
    assert cell.slips[0].says.startswith(words)


@pytest.mark.parametrize("text", ["31", "0", "60", "45.7"])
def test_no_slip_is_made_up(reference_book, text):
    """What fits no slip, or is too coarse to tell, differs and no more; a nought is not sixty or a thousand times too low."""
    cell = one(held(reference_book, with_cell(text)))
    assert (cell.status, cell.slips) == ("differs", ())


def test_the_slip_of_the_whole_chart_wins(reference_book):
    """4,000 for 1,000 mcg/mL makes each rate a quarter; 2,000 a half: the mix that explains every cell is the one named."""
    rows = [["mL/h; kg \\ mcg/kg/min", "2", "5", "10"], ["40", "2.4", "6", "12"], ["80", "4.8", "12", "24"]]  # 40 × 2 × 60 ÷ 1000 = 4.8
    found = held(reference_book, rows, Told(), "inotropes/dobutamine-1000-mcg-mL")
    assert {cell.status for row in found.cells for cell in row} == {"differs"}
    assert {slip.says for row in found.cells for cell in row for slip in cell.slips} == {"fits the mix of 2,000 mcg/mL (200 mg in 100 mL)"}


def test_rows_and_columns_that_we_do_not_print_are_worked_out(reference_book):
    """42.5 kg and 154 lb at 0.07 mcg/kg/min: 0.07 × 42.5 × 3.75 = 11.16; 154 lb × 0.45359237 = 69.853 kg, × 0.07 × 3.75 = 18.336."""
    rows = [["", "0.07 mcg/kg/min", "4.2 mcg/kg/h"], ["42.5 kg", "11.2", "11.16"], ["154 lb", "18.3", "18.34"]]
    found = held(reference_book, rows)
    assert found.counts == {"agrees": 4, "differs": 0, "missing": 0, "not computable": 0}
    assert found.cells[1][0].exact == Fraction(7, 100) * 154 * Fraction(45359237, 100000000) * 60 / 16
    assert len(found.missing_rows) == 15
    assert not found.agrees


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("26.2", "agrees"),
        ("26.3", "agrees"),
        ("26", "agrees"),
        ("26.25", "agrees"),
        ("26.30", "agrees"),
        ("26.1", "differs"),
        ("27", "differs"),
        ("26.31", "differs"),
    ],
)
def test_agreement_is_at_their_precision(reference_book, text, status):
    """70 kg at 0.1 mcg/kg/min is 26.25 mL/h: a tie may go either way at one decimal, and what we print is right at any."""
    rows = [*PLAIN, ["70", "13.1", text, "52.5"]]
    assert one(held(reference_book, rows), 2, 1).status == status


def test_rounding_too_far_agrees_with_a_remark(reference_book):
    """40 kg at 0.01: 1.5 mL/h. Printed as 2 it is rounded as whole numbers are, and a third too much: said, not hidden."""
    found = held(reference_book, [["kg \\ mcg/kg/min", "0.01", "0.1"], ["40", "2", "15"]])
    assert found.counts["agrees"] == 2
    assert found.cells[0][0].coarse
    assert not found.cells[0][1].coarse
    assert found.remarks == ("1 of the cells that agree are rounded so far that the dose moves by more than 5 %",)


@pytest.mark.parametrize(("text", "status"), [("max", "agrees"), ("MAX", "agrees"), ("300", "not computable"), ("", "not computable")])
def test_a_mark_of_ours_is_no_number_to_agree_with(reference_book, text, status):
    """Norepinephrine's ceiling is 1.5 mcg/kg/min: at 2 ours has a mark, and says so beside their figure."""
    rows = [[*row, add] for row, add in zip(PLAIN, ("2", text, "max"))]
    cell = one(held(reference_book, rows), 0, 3)
    assert cell.status == status
    assert status == "agrees" or cell.why == "our chart has 'max' here: above the limit named in the notes: do not use"


def test_a_head_that_is_none_makes_its_row_not_computable(reference_book):
    """Words among the weights, a column without a head, and a dose of another kind: told as such, and the rest still compared."""
    rows = [[*PLAIN[0], "2 mcg/min", ""], [*PLAIN[1], "7.5", "1"], ["child", "1", "2", "3", "4", "5"], [*PLAIN[2], "7.5", "1"]]
    found = held(reference_book, rows)
    assert [cell.status for cell in found.cells[0]] == ["agrees"] * 3 + ["not computable"] * 2
    assert {cell.why for cell in found.cells[1]} == {"the head is no weight"}
    assert [cell.why for cell in found.cells[0][3:]] == [
        "mcg/min is no unit of dose; our chart has it in mcg/kg/min",
        "the head is no dose",
    ]


def test_a_weight_of_nought_is_no_fault_of_ours(reference_book):
    """Where the formula divides by zero, the cell says so."""
    rows = [["mL/h, kg", "10 mL/h"], ["0", "5"], ["40", "4"]]  # 10 × 16 ÷ 40 ÷ 60 = 0.067
    found = held(reference_book, rows, Told(cells="mcg/kg/min"), "dose-running-pressors/norepinephrine-16-mcg-mL")
    assert found.cells[0][0].why == "the formula divides by zero here"


def test_another_mix_in_the_title_is_remarked(reference_book):
    """A chart for 32 mcg/mL held against one for 16: the title tells before the figures do; the right one is no remark."""
    assert held(reference_book, [["norepinephrine 32 mcg/mL", "", "", ""], *PLAIN]).remarks == (
        "the file says 32 mcg/mL; this chart of ours is for 16 mcg/mL",
    )
    assert held(reference_book, [["norepinephrine 0.016 mg/mL", "", "", ""], *PLAIN]).remarks == ()


@pytest.mark.parametrize(
    ("text", "status", "kind"),
    [
        ("2:30", "agrees", None),
        ("2:29", "differs", None),
        ("2:31", "differs", None),
        ("25:00", "differs", "tenfold"),
        ("2.5 h", "agrees", None),
        ("150 min", "agrees", None),
        ("149.9 min", "differs", None),
    ],
)
def test_times_are_rounded_down(reference_book, text, status, kind):
    """50 mL at 20 mL/h last 150 minutes; 50 at 15 last 200, 50 at 12 last 250, 20 at 12 last 100."""
    rows = [["mL/h \\ mL", "20", "50"], ["12", "1:40", "4:10"], ["15", "1:20", "3:20"], ["20", "1:00", text]]
    cell = one(held(reference_book, rows, Told(), "run-out/syringe"), 2, 1)
    assert (cell.status, [slip.kind for slip in cell.slips]) == (status, [kind] if kind else [])


def test_what_lasts_is_never_rounded_up(reference_book):
    """A D cylinder, 0.16 L/psi and 200 psi kept back (US Army MD0542): 700 psi at 6 L/min last 13.33 min, at 12 L/min 6.67."""
    rows = [["psi \\ L/min", "6", "12"], ["700", "13", "7"]]
    found = held(reference_book, rows, Told(cells="min"), "oxygen-us/us-d")
    assert [cell.status for cell in found.cells[0]] == ["agrees", "differs"]


def test_a_size_is_one_that_is_made(reference_book):
    """Cuffed tube at 5 years: 5 ÷ 4 + 3.5 = 4.75, down to 4.5. A 5 is no rounding of that, and 4.75 is not made."""
    for text, status in (("4.5", "agrees"), ("5", "differs"), ("4.75", "differs")):
        found = held(reference_book, [["age (year)", "cuffed (mm)"], ["5", text]], Told(), "pediatric-airway-age/by-age")
        assert [cell.status for row in found.cells for cell in row] == [status]
