"""Differences between two editions: each planted change is found under its cause, with the cells that it made others, and nothing else."""

from __future__ import annotations

import copy
import json
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cardwright.checked import checked
from cardwright.compute import compute
from cardwright.differences import differences
from cardwright.loading import load
from cardwright.render.contract import contract

HERE = Path(__file__).parent

DRUG, CHILD, RATES, SIZES = (
    "sources/infusions/samplamine.yaml",
    "sources/figures/child.yaml",
    "cards/small/rates.yaml",
    "cards/small/sizes.yaml",
)
EDITION = "cards/small/edition.yaml"
RATE, RUNNING = "rates/samplamine-16-mcg-mL", "rates/running"
CONCENTRATION, LARGE, MARK, UNIT, CEILING, FIGURES = "concentration", "over 10 %", "mark", "unit", "ceiling", "figures"
PUMP = "rounded to the nearest {} mL/h below 100 mL/h and 1 mL/h from there, ties up"
STRONGER = [  # 8 mg in 250 mL in the place of 4 mg
    (DRUG, "  - concentration: 16 mcg/mL\n    amount: 4 mg", "  - concentration: 32 mcg/mL\n    amount: 8 mg"),
    (DRUG, "    mix: 16 mcg/mL", "    mix: 32 mcg/mL"),
    (DRUG, "gives: 15.00 mL/h", "gives: 7.50 mL/h"),
    (DRUG, "mix.16-mcg-mL: {reads: 16 mcg/mL", "mix.32-mcg-mL: {reads: 32 mcg/mL"),
    (RATES, "mix: 16 mcg/mL\n        down:\n          weight: 2,", "mix: 32 mcg/mL\n        down:\n          weight: 2,"),
    (RATES, "mix: 16 mcg/mL\n        down:\n          weight: 35", "mix: 32 mcg/mL\n        down:\n          weight: 35"),
    (EDITION, "[16 mcg/mL]", "[32 mcg/mL]"),
]


def of(small) -> dict:
    """edition.json of the small edition, through JSON and back."""
    return json.loads(json.dumps(contract(*checked(small.folder))))


def changed(small, *edits: tuple[str, str, str]):
    """What edits of the small edition make of it."""
    before = of(small)
    for edit in edits:
        small.edit(*edit)
    return differences(before, of(small))


def told(found) -> list[tuple]:
    """Each cause as code, old, new, how many cells, and why it is flagged."""
    return [(cause.code, cause.old, cause.new, len(cause.cells), set(cause.grave)) for cause in found.causes]


# Edits, and the causes that they must give. Counts are worked by hand from the card's axes: 5 weights × 4 doses (2, 4, 70, 133.2,
# 133.3 kg; 0.01, 0.1, 2, 2.5 mcg/kg/min), 2 weights × 3 rates (10, 525, 530 mL/h), 8 ages × 4 columns, 3 pressures × 2 flows, 2 × 2.
PLANTED = {
    "a ceiling that moves makes numbers of marks: 2.5 at five weights, of which 133.2 and 133.3 kg are 1,248.75 mL/h and too fast; 530": (
        [(DRUG, "at: 2 mcg/kg/min", "at: 3 mcg/kg/min")],
        [("infusions/samplamine:dose.ceiling.at", "2 mcg/kg/min", "3 mcg/kg/min", 6, {CEILING, MARK, LARGE})],
    ),
    "a factor moves each time: 500 and 1,800 psi; the reserve leaves none at 200 psi": (
        [(CHILD, "value: 0.3 L/psi", "value: 0.32 L/psi")],
        [("figures/child:factor", "0.3 L/psi", "0.32 L/psi", 4, set())],
    ),
    "a breath of 7 in place of 6 mL/kg moves eight breaths": (
        [(CHILD, "value: 6 mL/kg", "value: 7 mL/kg")],
        [("figures/child:breath", "6 mL/kg", "7 mL/kg", 8, {LARGE})],
    ),
    "what moves a weight moves the breath worked from it": (
        [(CHILD, "value: 8 kg", "value: 8.1 kg")],
        [("figures/child:weight-constant", "8 kg", "8.1 kg", 16, set())],
    ),
    "a weight that comes and one that goes": (
        [(RATES, "weight: 2, 4, 70, 133.2, 133.3 kg", "weight: 2, 4, 75, 133.2, 133.3 kg")],
        [(f"{RATE}:rows", "70 kg", "75 kg", 8, set())],
    ),
    "a dose that comes": (
        [(RATES, "dose: 0.01, 0.1, 2, 2.5 mcg/kg/min", "dose: 0.01, 0.1, 1, 2, 2.5 mcg/kg/min")],
        [(f"{RATE}:columns", "", "1 mcg/kg/min", 5, set())],
    ),
    "an axis in another unit holds no cell in common": (
        [(RATES, "weight: 35 to 70 by 35 kg", "weight: 70 to 140 by 70 lb")],
        [(f"{RUNNING}:rows", "35 kg; 70 kg", "70 lb; 140 lb", 12, {UNIT})],
    ),
    "a finer pump step: 0.15 and 0.75 are no longer too coarse, 0.075 now is, and 2.625, 26.25, 49.95 and 49.9875 get a figure more": (
        [(EDITION, "{step: 0.1 mL/h,", "{step: 0.01 mL/h,"), (EDITION, "least: 0.1 mL/h", "least: 0.01 mL/h")],
        [("pump", PUMP.format("0.1"), PUMP.format("0.01"), 7, {MARK})],
    ),
    "another rounding of a column": (
        [(RATES, "nearest: 0.001 mcg/kg/min", "nearest: 0.01 mcg/kg/min")],
        [
            (
                f"{RUNNING}:rounding",
                "rounded to the nearest 0.001 mcg/kg/min, ties up",
                "rounded to the nearest 0.01 mcg/kg/min, ties up",
                2,
                set(),
            )
        ],
    ),
    "the least rate of the pump leaves 0.15 and 0.75 as too coarse, and takes them": (
        [(EDITION, "least: 0.1 mL/h", "least: 1 mL/h")],
        [("pump", "", "", 2, set())],
    ),
    "a note with a figure in it": (
        [(DRUG, "text: Give through a large vein.", "text: Give through a vein of 3 mm.")],
        [("rates:note.1", "Give through a large vein.", "Give through a vein of 3 mm.", 0, {FIGURES})],
    ),
    "a note that goes": (
        [(RATES, "notes: [line]", "notes: []")],
        [("rates:note.1", "Give through a large vein.", "", 0, set())],
    ),
    "a published figure": (
        [(CHILD, '[newborn, "0", "10.50"]', '[newborn, "0", "9"]')],
        [("figures/child:blades", "", "", 1, {LARGE})],
    ),
    "a card's title": ([(SIZES, "title: Sizes", "title: Size")], [("sizes:title", "Sizes", "Size", 0, set())]),
    "a face's title": (
        [(SIZES, "title: By age", "title: By years")],
        [("sizes:faces", "By age; Cylinder and blade", "By years; Cylinder and blade", 0, set())],
    ),
    "the order of cards": ([(EDITION, "[rates, sizes]", "[sizes, rates]")], [("cards:order", "Rates; Sizes", "Sizes; Rates", 0, set())]),
    "a chart's title": ([(SIZES, "title: Time left", "title: Time")], [("sizes/cylinder:title", "Time left", "Time", 0, set())]),
    "another document for a given": (
        [(CHILD, "says: cylinder factor\n    cite: {sample-book: page 6}", "says: cylinder factor\n    cite: {sample-book: page 8}")],
        [("figures/child:factor:source", "cylinder factor: sample-book, page 6", "cylinder factor: sample-book, page 8", 0, set())],
    ),
    "another mix: 20 rates halve, 6 doses double; charts named by the mix are paired": (
        STRONGER,
        [("infusions/samplamine:mix.16-mcg-mL-to-32-mcg-mL", "16 mcg/mL", "32 mcg/mL", 26, {CONCENTRATION, LARGE, MARK})],
    ),
    "the same strength from another preparation": (
        [(DRUG, "amount: 4 mg\n    volume: 250 mL", "amount: 8 mg\n    volume: 500 mL")],
        [("infusions/samplamine:mix.16-mcg-mL", "16 mcg/mL (4 mg in 250 mL)", "16 mcg/mL (8 mg in 500 mL)", 0, {CONCENTRATION})],
    ),
    "a ceiling and a breath at once are two causes": (
        [(DRUG, "at: 2 mcg/kg/min", "at: 3 mcg/kg/min"), (CHILD, "value: 6 mL/kg", "value: 6.1 mL/kg")],
        [
            ("infusions/samplamine:dose.ceiling.at", "2 mcg/kg/min", "3 mcg/kg/min", 6, {CEILING, MARK, LARGE}),
            ("figures/child:breath", "6 mL/kg", "6.1 mL/kg", 8, set()),
        ],
    ),
    "two givens of one cell are one cause": (
        [(CHILD, "value: 0.3 L/psi", "value: 0.31 L/psi"), (CHILD, "value: 200 psi", "value: 210 psi")],
        [("figures/child:reserve+figures/child:factor", "200 psi; 0.3 L/psi", "210 psi; 0.31 L/psi", 6, {MARK})],
    ),
    "a range of a rule that ends sooner": (
        [(CHILD, "to: 9 year", "to: 6 year")],
        [("figures/child:tube-ages.to", "9 year", "6 year", 2, {MARK, LARGE})],
    ),
    "a given in another unit is flagged": (
        [(CHILD, "value: 200 psi", "value: 2 bar")],
        [("figures/child:reserve", "200 psi", "2 bar", 6, {UNIT, LARGE})],
    ),
    "a card that goes takes its charts with it": (
        [(EDITION, "cards: [rates, sizes]", "cards: [rates]")],
        [("sizes", "Sizes", "", 42, set())],
    ),
    "a reference": (
        [("sources/references.yaml", "short: sample label", "short: label")],
        [("references/sample-label", "short sample label", "short label", 0, set())],
    ),
    "dates, issuer and number are no content": (
        [
            (EDITION, "number: 1", "number: 2"),
            (EDITION, "issued: 2026-01-01", "issued: 2026-02-01"),
            (EDITION, "issuer: nobody", "issuer: one"),
        ],
        [],
    ),
}


@pytest.mark.parametrize("name", PLANTED)
def test_each_planted_change_is_found_under_its_cause_and_nothing_else(small, name):
    """Edits of the tables and cards, and the causes with their code, values, number of cells and reasons to look."""
    edits, wanted = PLANTED[name]
    assert told(changed(small, *edits)) == wanted


@pytest.mark.parametrize("name", PLANTED)
def test_the_way_back_is_the_inverse(small, name):
    """From new to old the same cells move between the same values, under causes with their values changed over."""
    before = of(small)
    for edit in PLANTED[name][0]:
        small.edit(*edit)
    there, back = differences(before, of(small)), differences(of(small), before)
    assert {(cause.old, cause.new) for cause in there.causes} == {(cause.new, cause.old) for cause in back.causes}
    assert {(cell.row, cell.column, cell.old, cell.new) for cell in there.cells} == {
        (cell.row, cell.column, cell.new, cell.old) for cell in back.cells
    }
    assert len(there.flagged) == len(back.flagged)


def test_an_edition_differs_in_nothing_from_itself(small, reference_book):
    """Nor does it after its tables moved within their files."""
    reference = contract(reference_book, ())
    assert differences(reference, copy.deepcopy(reference)).causes == ()
    before = of(small)
    path = small.root / DRUG
    path.write_text("# a line more\n" + path.read_text(encoding="utf-8"), encoding="utf-8")
    assert differences(before, of(small)).causes == ()


def test_a_changed_cell_tells_both_figures_and_by_what_part_they_moved(small):
    """70 kg at 0.1: 26.25 mL/h of 16 mcg/mL are printed 26.3, 13.125 of 32 mcg/mL 13.1: exactly half, and printed −132/263."""
    cells = {(cell.chart, cell.row, cell.column): cell for cell in changed(small, *STRONGER).cells}
    cell = cells["rates/samplamine-32-mcg-mL", "70 kg", "0.1 mcg/kg/min"]
    assert (cell.old.printed, cell.new.printed, cell.new.unit) == ("26.3", "13.1", "mL/h")
    assert (cell.exact_change, cell.change) == (Fraction(-1, 2), Fraction(-132, 263))
    assert cell.grave == LARGE


@pytest.fixture(scope="module")
def content(tmp_path_factory) -> dict:
    """edition.json of the small edition, made once."""
    return json.loads(json.dumps(contract(compute(load(HERE / "small" / "cards" / "small")), ())))


def leaves(value, path=()):
    """The path of each text in the cards and charts, but for the numbers of traces, which move when a chart comes before."""
    if isinstance(value, (dict, list)):
        for key, item in value.items() if isinstance(value, dict) else enumerate(value):
            if key != "trace":
                yield from leaves(item, (*path, key))
    elif value is not None:
        yield path


@settings(max_examples=300)
@given(data=st.data())
def test_no_text_of_a_card_changes_unseen(content, data):
    """One figure or word more anywhere in what the digest covers is a difference."""
    paths = [path for key in ("cards", "charts") for path in leaves(content[key], (key,))]
    path = paths[data.draw(st.integers(0, len(paths) - 1))]
    new = copy.deepcopy(content)
    place = new
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] += "1"
    assert differences(content, new).causes != (), path


@settings(max_examples=100)
@given(data=st.data())
def test_a_cell_that_changes_for_no_reason_is_the_only_one_told(content, data):
    """A figure that moved though nothing that it rests on did: the program's doing, told for this cell alone."""
    new = copy.deepcopy(content)
    chart = new["charts"][data.draw(st.integers(0, 3))]
    row = data.draw(st.integers(0, len(chart["cells"]) - 1))
    cell = chart["cells"][row][data.draw(st.integers(0, len(chart["columns"]["values"]) - 1))]
    cell["printed"] += "1"
    [cause] = differences(content, new).causes
    assert (cause.code, cause.charts, len(cause.cells)) == (f"{chart['id']}:program", (chart["id"],), 1)
    assert cause.cells[0].row.split()[0] == chart["rows"]["values"][row]


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(tenths=st.integers(1, 200).filter(lambda tenths: tenths != 60))
def test_every_figure_moves_by_the_part_by_which_its_given_does(small, content, tenths):
    """A breath is so many mL for each kg: its eight cells move by exactly the part by which that moves, and no other cell does."""
    path = small.root / CHILD
    path.write_text((HERE / "small" / CHILD).read_text(encoding="utf-8").replace("value: 6 mL/kg", f"value: {tenths / 10:g} mL/kg"))
    [cause] = differences(content, contract(compute(small.load()), ())).causes
    part = Fraction(tenths, 60) - 1
    assert (cause.code, cause.change, len(cause.cells)) == ("figures/child:breath", part, 8)
    assert {cell.exact_change for cell in cause.cells} == {part}
    assert cause.flagged or abs(part) <= Fraction(1, 10)
    large = [cell.size for cell in cause.cells if cell.grave == LARGE]
    assert large == sorted(large, reverse=True)


def test_plain_data_hold_exact_values_as_fractions(small):
    """What another program reads: codes, both sides of each cell, and parts as fractions in text."""
    [found] = changed(small, (CHILD, "value: 0.3 L/psi", "value: 0.32 L/psi")).plain()
    assert (found["kind"], found["code"], found["change"], found["flagged"]) == ("given", "figures/child:factor", "1/15", [])
    assert {
        "chart": "sizes/cylinder",
        "row": "2,000 psi",
        "column": "2 L/min",
        "old": {"printed": "4:30", "exact": "270", "state": "ok", "unit": "min"},
        "new": {"printed": "4:48", "exact": "288", "state": "ok", "unit": "min"},
        "change": "1/15",
        "exact change": "1/15",
    } in found["cells"]


@pytest.mark.parametrize(
    ("was", "now", "told"),
    [
        ({}, {"own.css": "1" * 64}, ("templates/own.css", "", "11111111")),
        ({"own.css": "1" * 64}, {"own.css": "2" * 64}, ("templates/own.css", "11111111", "22222222")),
        ({"own.css": "1" * 64}, {}, ("templates/own.css", "11111111", "")),
    ],
)
def test_a_template_of_ones_own_is_a_change_to_acknowledge(small, was, now, told):
    """It decides what every card shows, and was approved with the figures."""
    content = json.loads(json.dumps(contract(small.compute(), ())))
    [cause] = differences(content | {"templates": was}, content | {"templates": now}).causes
    assert (cause.kind, cause.code, cause.old, cause.new, cause.grave) == ("template", *told, ("template",))
