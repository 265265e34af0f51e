"""The trace command: from a cell on a card down to the documents it rests on."""

from __future__ import annotations

from fractions import Fraction

import pytest
from click.testing import CliRunner

from cardwright.cli import main
from cardwright.trace import NoSuchCell, locate, told

CHART = "vasopressors/norepinephrine-16-mcg-mL"
SMALL = "rates/samplamine-16-mcg-mL"

# 0.1 mcg/kg/min × 70 kg = 7 mcg/min, × 60 = 420 mcg/h, ÷ 16 mcg/mL = 26.25 mL/h; ties up at a tenth: 26.3.
RATE_OF_70_KG = """\
26.3 mL/h
  0.1 mcg/kg/min × 70 kg ÷ 16 mcg/mL × 60 min/h = 26.25 mL/h
  rounded to the nearest 0.1 mL/h below 100 mL/h and 1 mL/h from there, ties up: 26.3
  formula infusion.rate
  dose = 0.1 mcg/kg/min
    chosen for the card at cards/small/rates.yaml:12
  weight = 70 kg
    chosen for the card at cards/small/rates.yaml:10
  concentration = 16 mcg/mL
    4 mg in 250 mL, written at sources/infusions/samplamine.yaml:6
      [sample-label] Label of samplamine. an agency, 2020. Here: section 2
  bound 2 mcg/kg/min
    the label's highest dose, written at sources/infusions/samplamine.yaml:21
      [sample-label] Label of samplamine. an agency, 2020. Here: section 2
      [sample-book] Handbook of samples. nobody, year not shown. Here: page 4
"""

# 3 × the printed tube: at 3 years 3 ÷ 4 + 3.5 = 4.25, down to a size made: 4; 3 cm/mm × 4 mm = 12 cm.
DEPTH_AT_3_YEARS = """\
12 cm
  3 cm/mm × 4 mm = 12 cm
  rounded to the nearest 0.5 cm, ties up: 12
  formula pediatric.size_by_tube
  tube = 4 mm
    3 year ÷ 4 year/mm + 3.5 mm = 4.25 mm
    down to a size that is made, in mm: 4
    formula pediatric.size_by_age
    age = 3 year
      chosen for the card at cards/small/sizes.yaml:10
    divisor = 4 year/mm
      years for each mm of tube, written at sources/figures/child.yaml:18
        [sample-book] Handbook of samples. nobody, year not shown. Here: page 3
    constant = 3.5 mm
      tube: age ÷ 4 + 3.5, written at sources/figures/child.yaml:22
        [sample-book] Handbook of samples. nobody, year not shown. Here: page 3
    bound 2 year
      ages of the tube rule, written at sources/figures/child.yaml:26
        [sample-book] Handbook of samples. nobody, year not shown. Here: page 3
    bound 9 year
      ages of the tube rule, written at sources/figures/child.yaml:27
        [sample-book] Handbook of samples. nobody, year not shown. Here: page 3
    bound 3 to 5 by 0.5 mm
      tubes that are made, written at sources/figures/child.yaml:31
        [sample-book] Handbook of samples. nobody, year not shown. Here: page 3
  ratio = 3 cm/mm
    depth: 3 × the tube, written at sources/figures/child.yaml:35
      [sample-book] Handbook of samples. nobody, year not shown. Here: page 3
"""

BLADE_OF_A_NEWBORN = """\
10.5 cm
  Blade by age, written at sources/figures/child.yaml:54
    [sample-book] Handbook of samples. nobody, year not shown. Here: page 7
"""


@pytest.mark.parametrize(
    ("chart", "row", "column", "text"),
    [
        (SMALL, "70 kg", "0.1 mcg/kg/min", RATE_OF_70_KG),
        ("sizes/by-age", "3 year", "depth", DEPTH_AT_3_YEARS),
        ("sizes/blades", "newborn", "length", BLADE_OF_A_NEWBORN),
    ],
)
def test_command_prints_the_whole_way_down(small, chart, row, column, text):
    """The result with its unit, the arithmetic, the rounding, then every input with where it was chosen or what states it."""
    result = CliRunner().invoke(main, ["trace", chart, row, column, "--edition", "cards/small"])
    assert (result.exit_code, result.stderr) == (0, "")
    assert result.stdout == text


def test_what_rests_on_memory_says_so(small):
    """A figure that nobody looked up is told as such, to whoever asks where it comes from."""
    small.edit("sources/references.yaml", "kind: handbook\n    read: text", "kind: handbook\n    read: memory")
    result = CliRunner().invoke(main, ["trace", "sizes/blades", "newborn", "length", "--edition", "cards/small"])
    assert "[sample-book] Handbook of samples. nobody, year not shown. Here: page 7, from memory" in result.stdout


@pytest.mark.parametrize(
    ("row", "column", "first"),
    [
        ("2 kg", "0.01", "low (no number: least)"),
        ("2 kg", "0.1", "– (no number: step)"),
        ("133.3 kg", "2", "high (no number: most)"),
        ("70", "2.5", "max (no number: over)"),
    ],
)
def test_cell_without_a_number_says_why(small, row, column, first):
    """A cell that shows a mark is told with its reason; the working below it still shows what it would have been."""
    book = small.compute()
    lines = list(told(book, *locate(book, SMALL, row, column)))
    assert lines[0] == first
    assert lines[2].endswith(f"ties up: {first.partition(' ')[0]}")


def test_cell_that_rests_on_another_without_a_number_says_so(small):
    """At 1 year the rule makes no tube, so there is no depth to work out, and the trace says why."""
    book = small.compute()
    assert list(told(book, *locate(book, "sizes/by-age", "1", "depth"))) == [
        "× (no number: outside)",
        "  its value would follow from another column of the row, which has none here",
    ]


def test_reference_edition_s_rate_for_70_kg(reference_book):
    """Norepinephrine 0.1 mcg/kg/min for 70 kg at 16 mcg/mL: 7 mcg/min, 420 mcg/h, 26.25 mL/h, set as 26.3 mL/h."""
    chart, line, cell = locate(reference_book, CHART, "70 kg", "0.1 mcg/kg/min")
    assert (chart.id, line.head, line.unit, cell.state) == (CHART, "0.1", "mL/h", "ok")
    assert (cell.exact, cell.value, cell.printed) == (Fraction("26.25"), Fraction("26.3"), "26.3")
    lines = list(told(reference_book, chart, line, cell))
    assert lines[:4] == [
        "26.3 mL/h",
        "  0.1 mcg/kg/min × 70 kg ÷ 16 mcg/mL × 60 min/h = 26.25 mL/h",
        "  rounded to the nearest 0.1 mL/h below 100 mL/h and 1 mL/h from there, ties up: 26.3",
        "  formula infusion.rate",
    ]
    assert {"  dose = 0.1 mcg/kg/min", "  weight = 70 kg", "  concentration = 16 mcg/mL"} <= set(lines)
    assert any(line.startswith("      [norepi-nacl-premix] ") and line.endswith(" Here: package label") for line in lines)


def test_every_cell_of_the_reference_edition_is_told(reference_book):
    """No cell that has a trace is without its way down: it ends at a place in a file. A computed one is found by its heads."""
    for chart in reference_book.charts:
        for head, row in zip(chart.heads, chart.cells, strict=True):
            for line, cell in zip(chart.columns, row, strict=True):
                assert not cell.trace or any(".yaml:" in text for text in told(reference_book, chart, line, cell))
                assert not line.formula or locate(reference_book, chart.id, head, line.id) == (chart, line, cell)


@pytest.mark.parametrize(
    ("row", "column"),
    [("70", "0.1"), ("70 kg", "0.1 mcg/kg/min"), ("70.0 kg", "0.10 mcg/kg/min"), ("70 kg", "6 mcg/kg/h"), ("70 kg", "0.0001 mg/kg/min")],
)
def test_cell_is_found_however_it_is_told(small, row, column):
    """A row or column is told by its head, or as a quantity in any unit; both mean the same cell."""
    assert locate(small.compute(), SMALL, row, column)[2].printed == "26.3"


def test_row_whose_head_stands_twice_is_told_by_its_number(reference_book):
    """A published table may have a head twice (FiO2 0.4 at PEEP 5 and at 8): no row is taken for the other."""
    chart = "peep-ladders/lower"
    with pytest.raises(NoSuchCell, match=r"^row '0\.4' stands 2 times; write its number: #2, #3$"):
        locate(reference_book, chart, "0.4", "c1")
    assert [locate(reference_book, chart, row, "c1")[2].printed for row in ("#2", "#3")] == ["5", "8"]


@pytest.mark.parametrize(
    ("chart", "row", "column", "message"),
    [
        ("rates/samplamine", "70", "0.1", "unknown chart 'rates/samplamine'; did you mean 'rates/samplamine-16-mcg-mL'?"),
        ("zzz", "70", "0.1", f"unknown chart 'zzz'; expected one of: rates/running, {SMALL}, sizes/blades, sizes/by-age, sizes/cylinder"),
        (SMALL, "71 kg", "0.1", "unknown row '71 kg'; did you mean '70 kg'?"),
        (SMALL, "70 mg", "0.1", "unknown row '70 mg'; did you mean '70 kg'?"),
        (SMALL, "x", "0.1", "unknown row 'x'; expected one of: 133.2 kg, 133.3 kg, 2 kg, 4 kg, 70 kg"),
        (SMALL, "70", "0.3 mcg/kg/min", "unknown column '0.3 mcg/kg/min'; did you mean '0.1 mcg/kg/min'?"),
        (SMALL, "70", "0.1 mcg/min", "unknown column '0.1 mcg/min'; did you mean '0.1 mcg/kg/min'?"),
        ("sizes/by-age", "3", "dept", "unknown column 'dept'; did you mean 'depth'?"),
        ("sizes/by-age", "3", "zzz", "unknown column 'zzz'; expected one of: breath, depth, tube, weight"),
    ],
)
def test_cell_that_is_not_there_is_told(small, chart, row, column, message):
    """An unknown chart, row or column is told with the near miss or what there is, and the exit status is 2; none is guessed."""
    with pytest.raises(NoSuchCell) as error:
        locate(small.compute(), chart, row, column)
    assert str(error.value) == message
    result = CliRunner().invoke(main, ["trace", chart, row, column, "--edition", "cards/small"])
    assert (result.exit_code, result.stdout, result.stderr) == (2, "", f"{message}\n")
