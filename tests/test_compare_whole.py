"""Whole charts held against ours: our own, written out as a person would type them, and tables that others published."""

from __future__ import annotations

import copy
import csv
import json
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_compare import chart_of, grid, one
from test_published import digit, load

from cardwright.build import build
from cardwright.carried import Unclear, cleaned, read
from cardwright.charts import Book, Chart
from cardwright.compare import Told, compare
from cardwright.compare.report import as_json, as_text
from cardwright.compare.worked import asked
from cardwright.compute import compute
from cardwright.documents import Text
from cardwright.edition import find
from cardwright.loading import load as load_edition
from cardwright.loading import with_card
from cardwright.numbers import plain


def written(book: Book, chart: Chart) -> list[list[str]]:
    """A chart of ours as a person would type it into a spreadsheet: a title, heads with units, and the printed cells."""
    spec = asked(book, chart).spec
    title = f"{chart.title} ({'h:min' if spec.as_ else chart.unit})" if spec.across else chart.title
    heads = [f"{line.group} {line.head}".strip() + (f" ({line.unit})" if line.unit and not spec.across else "") for line in chart.columns]
    corner = f"{chart.row_name.replace('_', ' ')} {chart.row_unit}".strip()
    across = [f"{head} {chart.column_unit}".strip() for head in heads] if spec.across else heads
    rows = [[title, *[""] * len(heads)], [corner, *across]]
    return rows + [[head, *(cell.printed for cell in row)] for head, row in zip(chart.heads, chart.cells)]


def turned(rows: list[list[str]]) -> list[list[str]]:
    """The table the other way round, under the same title."""
    return [[rows[0][0], *[""] * (len(rows) - 2)], *map(list, zip(*rows[1:]))]


OURS = Told(cells="chart", decimal="point")


@pytest.mark.parametrize("across", [False, True], ids=["upright", "turned"])
def test_our_own_charts_agree_everywhere(reference_book, across):
    """Every chart of ours, written out and read again either way round, agrees in every cell."""
    for chart in reference_book.charts:
        rows = written(reference_book, chart)
        found = compare(reference_book, chart, grid(turned(rows) if across else rows), OURS)
        assert found.agrees, (chart.id, [cell for row in found.cells for cell in row if cell.status != "agrees"])
        assert found.layout.turned == across, chart.id


@pytest.mark.parametrize("by", [Fraction(10), Fraction(1, 10)], ids=["tenfold", "a-tenth"])
def test_a_planted_slip_is_told_in_every_chart(reference_book, by):
    """With one figure ten times as large, or a tenth, that one is told as tenfold and no other changes."""
    for number, chart in enumerate(reference_book.charts):
        rows = written(reference_book, chart)
        figures = [(r, c) for r, row in enumerate(chart.cells) for c, cell in enumerate(row) if cell.value and ":" not in cell.printed]
        if figures:
            r, c = figures[number * 7 % len(figures)]
            rows[r + 2][c + 1] = plain(chart.cells[r][c].value * by)
            cell = one(compare(reference_book, chart, grid(rows), OURS), r, c)
            assert (cell.status, "tenfold" in [slip.kind for slip in cell.slips]) == ("differs", True), chart.id


def test_a_printed_card_of_ours_agrees_when_it_is_read_from_paper(small):
    """The PDF of a card, with its band, notes and sources around a tight table: every cell is found in its column, and agrees."""
    book = small.compute()
    path = small.root / "rates.pdf"
    path.write_bytes(build(small.folder, only=("rates",)).files["cards/rates.pdf"])
    for page, chart in enumerate(book.charts[:2], 1):
        found = compare(book, chart, read(path, page=page), Told())
        assert found.agrees, [cell for row in found.cells for cell in row if cell.status != "agrees"]


TYPED = st.one_of(
    st.sampled_from(
        ["kg", "lb", "mcg/kg/min", "mL/h", "\\", "1,2", ".5", "3:20", "%", "1e9", "-1", "0", "9" * 31, "½", "max", "(", "cuffed (mm)"]
    ),
    st.text(max_size=6),
)


@settings(max_examples=25)
@given(
    chart=st.integers(0, 10**6),
    slips=st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 10**6), TYPED), min_size=1, max_size=6),
    told=st.sampled_from([Told(), OURS, Told(rows="kg"), Told(columns="weight lb", cells="mL/min", decimal="comma")]),
)
def test_whatever_a_table_holds_is_compared_or_asked_about(reference_book, chart, slips, told):
    """Our own tables with anything typed over heads, titles and cells: a report in every form, or a plain question; never a crash."""
    chart = reference_book.charts[chart % len(reference_book.charts)]
    rows = written(reference_book, chart)
    for r, c, text in slips:
        rows[r % len(rows)][c % len(rows[0])] = cleaned(text)
    try:
        found = compare(reference_book, chart, grid(rows), told)
    except Unclear as error:
        problems = error.problems
    else:
        problems = ()
        assert sum(found.counts.values()) == len(found.layout.rows) * len(found.layout.columns)
        assert as_text(found, 80)
        assert json.loads(as_json(found, ""))["counts"] == found.counts
    assert all(problem.startswith(("mine.csv:", "--")) for problem in problems)


PUBLISHED = [
    ("milrinone-hospital-200-mcg-per-mL", "inotropes/milrinone-200-mcg-mL", None),
    ("cisatracurium-label-table-1", "muscle-relaxant/cisatracurium-0.1-mg-mL", None),
    ("nicardipine-premix-label-pairs", "vasodilators/nicardipine", "0.2 mg/mL"),
    ("nicardipine-premix-label-oral-equivalents", "vasodilators/nicardipine", "0.2 mg/mL"),
    ("nicardipine-0.1-label-pairs", "vasodilators/nicardipine", "0.1 mg/mL"),
    ("manual-weights", "pediatric-weight/children", "2 × (age + 4)"),
    ("manual-tubes-uncuffed-rule", "pediatric-airway-age/by-age", "uncuffed"),
    ("newborn-depth-from-memory", "pediatric-airway-weight/newborn-depth", "depth"),
]


def held_published(book: Book, entry_id: str, chart_id: str, column: str | None, folder: Path) -> set[tuple[str, str]]:
    """A published table written as CSV and compared, as a person would; each cell must be found as the published data state it.

    Gives the statuses found, with whether the published data call the cell departing."""
    [entry] = [entry for entry in load("tables") if entry["id"] == entry_id]
    rows, columns = entry["rows"], entry.get("columns", {"at": [column], "unit": ""})
    path = folder / f"{entry_id}.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        lines = [line if isinstance(line, list) else [line] for line in entry["cells"]]
        csv.writer(file).writerows(
            [
                [f"rates in {entry['gives']}"],
                [f"{rows['name']} {rows['unit']}", *(f"{at} {columns['unit']}".strip() for at in columns["at"])],
                *([at, *line] for at, line in zip(rows["at"], lines)),
            ]
        )
    found = compare(book, chart_of(book, chart_id), read(path), Told(cells=entry["gives"]))
    departing = {(one["row"], one.get("column", column)): Fraction(one["formula"]) for one in entry.get("departs", ())}
    seen = set()
    for at, row, line in zip(rows["at"], found.cells, lines):
        for head, cell, text in zip(columns["at"], row, line):
            departs = abs(Fraction(text) - departing.get((at, head), Fraction(text))) * 2 > digit(text)
            assert (cell.status == "agrees") != departs or cell.status == "not computable", cell
            seen.add((cell.status, "departs" if (at, head) in departing else ""))
    return seen


@pytest.mark.parametrize(("entry_id", "chart_id", "column"), PUBLISHED, ids=[entry for entry, _, _ in PUBLISHED])
def test_published_tables_agree_but_where_they_depart(reference_book, tmp_path, entry_id, chart_id, column):
    """Tables that others printed, in files of their own: every cell agrees, save those that are known to depart by more than a rounding."""
    seen = held_published(reference_book, entry_id, chart_id, column, tmp_path)
    assert ("agrees", "") in seen
    assert {status for status, departs in seen if not departs} <= {"agrees", "not computable"}


def test_the_departing_cells_of_a_published_table_are_found(reference_book, tmp_path):
    """A manual's weights leave the rule at 8 years; its tubes at 10. Ours has a mark past the ages of a rule."""
    assert ("differs", "departs") in held_published(reference_book, *PUBLISHED[5], tmp_path)
    assert ("agrees", "departs") not in held_published(reference_book, *PUBLISHED[6], tmp_path)


def test_a_hospital_grid_agrees_with_the_chart_for_its_mix(tmp_path):
    """Dobutamine at 5 mg/mL, which the reference edition does not carry: its card for that mix, and the hospital's table of 28 rates."""
    edition = load_edition(find("reference"), ("inotropes",))
    table = copy.deepcopy(edition.tables["inotropes"])
    mix = table["faces"][1]["charts"][0]["mix"]
    other = Text("5000 mcg/mL")
    other.mark = mix.mark
    table["faces"][1]["charts"][0]["mix"] = other
    book = compute(with_card(edition, "inotropes", table))
    seen = held_published(book, "dobutamine-hospital-5-mg-per-mL", "inotropes/dobutamine-5000-mcg-mL", None, tmp_path)
    assert seen == {("agrees", ""), ("agrees", "departs")}  # the one that departs, 4 for 4.05, is right as a whole number
