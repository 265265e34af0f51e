"""A local edition's values reach all the cells that rest on them and no other; what the reference's cells were made of stays."""

from __future__ import annotations

from fractions import Fraction

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from cardwright.charts import Book
from cardwright.checks import CHECKS, run_checks
from cardwright.provenance import leaves
from cardwright.render.contract import contract

CITE = {"hill-protocol": "section 3"}
DRUG, CHILD = "infusions/samplamine", "figures/child"
RATES = "rates/samplamine-16-mcg-mL"


def entry(value: str, **more: object) -> dict:
    """A change of a given, with its citation and reason."""
    return {"value": value, **more, "cite": CITE, "reason": "ours"}


class Plain(yaml.SafeDumper):
    """Writes everything out, as an edition must."""

    def ignore_aliases(self, data: object) -> bool:
        """Always: no part stands for another."""
        return True


def state(hill, **parts: object) -> None:
    """Add these parts to the edition's file."""
    hill.state(yaml.dump(parts, Dumper=Plain, sort_keys=False))


def cells(book: Book) -> dict[tuple[str, str, str], tuple[str, Fraction | None]]:
    """Every cell by chart, row and column: what is printed and the exact value."""
    return {
        (chart.id, head, line.id): (cell.printed, cell.value)
        for chart in book.charts
        for head, row in zip(chart.heads, chart.cells, strict=True)
        for line, cell in zip(chart.columns, row, strict=True)
    }


def resting(book: Book) -> dict[tuple[str, str, str], set[str]]:
    """The ids of what each cell rests on."""
    return {
        (chart.id, head, line.id): {leaf.id for leaf in leaves(cell.trace) if hasattr(leaf, "id")} if cell.trace else set()
        for chart in book.charts
        for head, row in zip(chart.heads, chart.cells, strict=True)
        for line, cell in zip(chart.columns, row, strict=True)
    }


# Each given that enters arithmetic, and another value for it.
OTHER = {
    f"{CHILD}:weight-slope": "3 kg/year",
    f"{CHILD}:weight-constant": "9 kg",
    f"{CHILD}:breath": "7 mL/kg",
    f"{CHILD}:tube-divisor": "5 year/mm",
    f"{CHILD}:tube-constant": "3 mm",
    f"{CHILD}:depth-ratio": "2.5 cm/mm",
    f"{CHILD}:factor": "0.28 L/psi",
    f"{CHILD}:reserve": "300 psi",
}


@pytest.mark.parametrize("path", OTHER)
def test_a_value_reaches_all_cells_that_rest_on_it_and_no_other(hill, path):
    """What the traces of the reference name is what changes: every cell rests on the new value then, and the others are as they were."""
    before, rest = cells(hill.compute()), resting(hill.compute())
    state(hill, givens={path: entry(OTHER[path])})
    book = hill.compute()
    after = cells(book)
    reached = {place for both in (rest, resting(book)) for place, ids in both.items() if path in ids}
    assert reached
    assert {place for place in before if before[place] != after[place]} <= reached
    for chart in book.charts:
        for row in chart.cells:
            for cell in row:
                for leaf in leaves(cell.trace) if cell.trace else ():
                    if getattr(leaf, "id", "") == path:
                        assert (leaf.quantity.text, leaf.mark.file) == (OTHER[path].partition(" ")[0], "edition.yaml")
                        assert [(citation.key, citation.locator) for citation in leaf.citations] == list(CITE.items())


def printed(book: Book, chart: str, row: str) -> list[str]:
    """A row as printed."""
    found = next(item for item in book.charts if item.id == chart)
    return [cell.printed for cell in found.cells[found.heads.index(row)]]


def test_a_ceiling_takes_the_doses_above_it_from_the_card(hill):
    """70 kg at 0.01, 0.1, 2 and 2.5 mcg/kg/min of 16 mcg/mL are 2.625, 26.25, 525 and 656.25 mL/h; the last two are over 1 mcg/kg/min."""
    assert printed(hill.compute(), RATES, "70") == ["2.6", "26.3", "525", "max"]
    state(hill, givens={f"{DRUG}:dose.ceiling.at": entry("1 mcg/kg/min")})
    assert printed(hill.compute(), RATES, "70") == ["2.6", "26.3", "max", "max"]


def test_a_mix_in_the_place_of_another_has_its_charts(hill):
    """Of 32 mcg/mL, 70 kg at 0.1 mcg/kg/min are 13.125 mL/h; a dose running turns that around: 10 mL/h in 70 kg are 0.076 mcg/kg/min."""
    state(hill, givens={f"{DRUG}:mix.16-mcg-mL": entry("32 mcg/mL", amount="8 mg", volume="250 mL")}, carries={DRUG: ["32 mcg/mL"]})
    book = hill.compute()
    assert printed(book, "rates/samplamine-32-mcg-mL", "70")[1] == "13.1"
    assert printed(book, "rates/running", "70")[0] == "0.076"
    assert [str(mix.concentration) for mix in book.edition.sources[DRUG].drug.mixes] == ["32 mcg/mL"]


def test_a_published_point_stays_what_was_published(hill):
    """The witness of 16 mcg/mL (40 kg at 0.1 mcg/kg/min: 15.00 mL/h) is still held against the formula, and not against the new mix."""
    state(hill, givens={f"{DRUG}:mix.16-mcg-mL": entry("32 mcg/mL")})
    book = hill.compute()
    assert [(found.witness.gives.text, found.exact) for found in book.witnessed] == [("15.00", 15)]
    assert not [outcome for outcome in run_checks(book) if outcome.check.id == "witness.reproduced" and outcome.findings]


def test_a_mix_beside_another_is_for_the_chart_that_names_it(hill):
    """Of 64 mcg/mL, 10 mL/h in 70 kg are 0.152 mcg/kg/min; the other chart stays as it was."""
    state(hill, givens={f"{DRUG}:mix.64-mcg-mL": entry("64 mcg/mL")}, charts={"rates/running": {"mix": "64 mcg/mL", "reason": "r"}})
    book = hill.compute()
    assert printed(book, "rates/running", "70")[0] == "0.152"
    assert printed(book, RATES, "70")[1] == "26.3"


TWO = "mixes:\n  - {concentration: 32 mcg/mL, cite: {sample-label: section 2}}\n"
SECOND = """  - charts:
      - title: Pump rate, stronger
        formula: infusion.rate
        source: infusions/samplamine
        mix: 32 mcg/mL
        down: {weight: 70 kg}
        across: {dose: 0.1 mcg/kg/min}
"""


@pytest.fixture
def two(hill):
    """The local edition over a reference with two mixes and a chart for each."""
    hill.edit(f"sources/{DRUG}.yaml", "mixes:\n", TWO)
    hill.edit(f"sources/{DRUG}.yaml", "readings:\n", "readings:\n  mix.32-mcg-mL: {reads: 32 mcg/mL, cite: {sample-book: p. 4}}\n")
    silent = "unwitnessed:\n  - {formula: infusion.rate, using: [mix.32-mcg-mL], because: the mix is made up}\n\nopen:\n"
    hill.edit(f"sources/{DRUG}.yaml", "open:\n", silent)
    with (hill.root / "cards" / "small" / "rates.yaml").open("a") as file:
        file.write(SECOND)
    hill.adopt()
    return hill


# 70 kg at 0.1 mcg/kg/min are 420 mcg/h: 26.3, 13.1, 6.6 and 3.3 mL/h of 16, 32, 64 and 128 mcg/mL.
CHAINS = {
    "each is twice as strong": ({"16": "32", "32": "64"}, {"32": "13.1", "64": "6.6"}),
    "they change places": ({"16": "32", "32": "16"}, {"32": "13.1", "16": "26.3"}),
    "one makes room for a new one": ({"16": "64", "128": "128"}, {"64": "6.6", "32": "13.1"}),
}


@pytest.mark.parametrize("backwards", [False, True], ids=["as listed", "backwards"])
@pytest.mark.parametrize("name", CHAINS)
def test_mixes_are_replaced_all_at_once(two, name, backwards):
    """A mix that takes the place of one is not taken for the one that it takes the name of, in whatever order they stand."""
    became, expected = CHAINS[name]
    again = {new: {"reads": f"{new} mcg/mL", "cite": {"hill-stock": "p. 1"}} for new in became.values()}
    entries = {f"{DRUG}:mix.{old}-mcg-mL": entry(f"{new} mcg/mL", again=again[new]) for old, new in became.items()}
    state(two, givens=dict(reversed(entries.items()) if backwards else entries.items()))
    book = two.compute()
    for mix, rate in expected.items():
        chart = next(chart for chart in book.charts if chart.id == f"rates/samplamine-{mix}-mcg-mL")
        assert chart.cells[chart.heads.index("70")][[line.id for line in chart.columns].index("0.1")].printed == rate
    assert not [finding for outcome in run_checks(book) if outcome.check.id.startswith("witness.") for finding in outcome.findings]


def test_a_mix_for_which_no_point_is_known_may_be_another(two):
    """What the reference says of a mix without a published point holds for the one in its place, whoever published that."""
    given = {"value": "64 mcg/mL", "cite": {"sample-book": "page 9"}, "reason": "r"}
    state(two, givens={f"{DRUG}:mix.32-mcg-mL": given})
    assert run_one(two.compute(), "witness.covered") == ()


def test_a_chart_that_says_its_mix_keeps_it(two):
    """A chart moved to a mix that another one replaces is for the mix that it names."""
    givens = {f"{DRUG}:mix.32-mcg-mL": entry("64 mcg/mL"), f"{DRUG}:mix.16-mcg-mL": entry("32 mcg/mL")}
    state(two, givens=givens, charts={"rates/running": {"mix": "32 mcg/mL", "reason": "r"}})
    assert printed(two.compute(), "rates/running", "70")[0] == "0.076"


def test_an_end_of_a_range_rests_on_both_documents_and_both_ends_on_one(hill):
    """While one end is the reference's, the range cites both; once both are the service's, the reference's document states neither."""

    def cited() -> set[str]:
        return {citation.key for citation in hill.load().sources[DRUG].givens["dose.usual.from"].citations}

    state(hill, givens={f"{DRUG}:dose.usual.to": entry("0.2 mcg/kg/min")})
    assert cited() == {"sample-label", "hill-protocol"}
    hill.state(f"  {DRUG}:dose.usual.from: {{value: 0.02 mcg/kg/min, cite: {{hill-stock: page 1}}, reason: ours}}\n")
    assert cited() == {"hill-protocol", "hill-stock"}


def test_sizes_are_those_that_the_service_has(hill):
    """At 2 and 3 years the rule gives 4 and 4.25 mm; where 4 mm is not stocked, the size below is 3.5 mm."""
    assert [printed(hill.compute(), "sizes/by-age", age)[2] for age in ("2", "3")] == ["4", "4"]
    state(hill, givens={f"{CHILD}:tubes-made": entry("3, 3.5, 4.5, 5 mm")})
    assert [printed(hill.compute(), "sizes/by-age", age)[2] for age in ("2", "3")] == ["3.5", "3.5"]


def test_a_changed_value_is_no_longer_read_twice(hill):
    """The reference's second reading is not of the service's value; 'again' is, and a slip in it is found."""

    def found(again: dict | None) -> list[str]:
        path = hill.folder / "edition.yaml"
        before = path.read_text()
        state(hill, givens={f"{CHILD}:reserve": entry("300 psi", **({"again": again} if again else {}))})
        outcomes = run_checks(hill.compute())
        path.write_text(before)
        return [f"{outcome.check.id}/{finding.code}" for outcome in outcomes for finding in outcome.findings if "reserve" in finding.where]

    assert found(None) == ["witness.twice/once"]
    assert found({"reads": "300 psi", "cite": {"hill-stock": "p. 1"}}) == []
    assert found({"reads": "30 psi", "cite": {"hill-stock": "p. 1"}}) == ["witness.readings/differs"]


def test_a_second_reading_counts_where_the_reference_has_none(hill):
    """A table without 'readings' takes the service's."""
    path = hill.root / "sources" / f"{CHILD}.yaml"
    path.write_text(path.read_text().partition("readings:")[0])
    hill.adopt()
    state(hill, givens={f"{CHILD}:reserve": entry("300 psi", again={"reads": "30 psi", "cite": {"hill-stock": "p. 1"}})})
    assert [finding.code for finding in run_one(hill.compute(), "witness.readings")] == ["differs"]


def run_one(book: Book, check: str) -> tuple:
    """The findings of one check."""
    assert check in CHECKS
    return next(outcome.findings for outcome in run_checks(book) if outcome.check.id == check)


def test_words_of_a_value_are_its_own(hill):
    """What the reference says of a dose's end is not said of another dose, unless the service says it."""
    state(hill, givens={f"{DRUG}:dose.ceiling.at": entry("1 mcg/kg/min"), f"{CHILD}:reserve": entry("300 psi", says="what we keep")})
    sources = hill.load().sources
    assert sources[DRUG].givens["dose.ceiling.at"].says == "ceiling dose"
    assert sources[CHILD].givens["reserve"].says == "what we keep"


def test_notes_of_a_face(hill):
    """A note in other words stands where it stood; one that is left out is gone from each face; a chart's notes are those it names."""

    def notes() -> list[list[str]]:
        return [[note.text for note in side.notes] for sides in hill.compute().sides.values() for side in sides]

    assert notes() == [["Give through a large vein."], [], ["Keep the next smaller tube at hand."], []]
    state(
        hill,
        notes={
            f"{DRUG}:line": {"text": "Central line only.", "cite": CITE, "reason": "r"},
            f"{CHILD}:spare": {"leave out": "yes", "cite": CITE, "reason": "r"},
            f"{CHILD}:lights": {"text": "Switch on the light.", "cite": CITE, "reason": "r"},
        },
        charts={"sizes/cylinder": {"notes": ["lights"], "reason": "r"}},
    )
    assert notes() == [["Central line only."], [], [], ["Switch on the light."]]


def test_a_chart_left_out_takes_an_empty_face_with_it(hill):
    """The only chart of a face goes with the face; one of two charts leaves the other."""
    charts = {name: {"leave out": "yes", "reason": "r"} for name in ("rates/running", "sizes/blades")}
    state(hill, charts=charts)
    book = hill.compute()
    assert [chart.id for chart in book.charts] == [RATES, "sizes/by-age", "sizes/cylinder"]
    assert {name: len(sides) for name, sides in book.sides.items()} == {"rates": 1, "sizes": 2}


def test_axes_are_those_of_the_service(hill):
    """At 50 kg, 0.1 mcg/kg/min of 16 mcg/mL are 18.75 mL/h, at 60 kg 22.5 mL/h (ties go up, tenths)."""
    axes = {"down": {"weight": "50, 60 kg"}, "across": {"dose": "0.1 mcg/kg/min"}, "reason": "r"}
    state(hill, charts={RATES: axes})
    chart = next(chart for chart in hill.compute().charts if chart.id == RATES)
    assert (chart.heads, [[cell.printed for cell in row] for row in chart.cells]) == (("50", "60"), [["18.8"], ["22.5"]])


def test_the_columns_that_are_named_stay(hill):
    """In the chart's own order, with the cells that they had, and the change is told."""
    before = cells(hill.compute())
    state(hill, charts={"sizes/by-age": {"columns": ["depth", "tube"], "reason": "r"}})
    book = hill.compute()
    chart = next(chart for chart in book.charts if chart.id == "sizes/by-age")
    assert [line.id for line in chart.columns] == ["tube", "depth"]
    assert cells(book).items() <= before.items()
    (change,) = (item for item in book.edition.changes if item.kind == "chart")
    assert (change.was, change.became) == ("columns weight, breath, tube, depth", "columns tube, depth")


CONTENT = ("cards", "charts", "digest")


def test_an_edition_that_states_nothing_has_the_reference_s_cells(hill, small):
    """Cards, charts and cells are the reference's to the last digit; so is the digest, which covers no issuer."""
    assert {part: contract(hill.compute(), ())[part] for part in CONTENT} == {part: contract(small.compute(), ())[part] for part in CONTENT}


ENTRIES = {
    "givens": {
        f"{DRUG}:dose.ceiling.at": entry("1 mcg/kg/min"),
        f"{DRUG}:dose.usual.from": entry("0.02 mcg/kg/min"),
        f"{DRUG}:dose.usual.to": entry("0.2 mcg/kg/min"),
        f"{DRUG}:mix.16-mcg-mL": entry("32 mcg/mL"),
        f"{DRUG}:mix.64-mcg-mL": entry("64 mcg/mL"),
        f"{CHILD}:reserve": entry("300 psi"),
    },
    "notes": {
        f"{DRUG}:line": {"text": "Central line only.", "cite": CITE, "reason": "r"},
        f"{CHILD}:spare": {"leave out": "yes", "cite": CITE, "reason": "r"},
    },
    "charts": {
        RATES: {"across": {"dose": "0.1 mcg/kg/min"}, "reason": "r"},
        "rates/running": {"mix": "64 mcg/mL", "reason": "r"},
        "sizes/blades": {"leave out": "yes", "reason": "r"},
    },
}


@settings(max_examples=4, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_the_order_of_entries_does_not_matter(hill, data):
    """However the file is sorted, the cards are the same."""
    path = hill.folder / "edition.yaml"
    plain = path.read_text()

    def made(parts: dict) -> tuple:
        path.write_text(plain + yaml.dump(parts, Dumper=Plain, sort_keys=False))
        book = hill.compute()
        path.write_text(plain)
        return contract(book, ())["digest"], {(item.path, item.was, item.became) for item in book.edition.changes}

    parts = {kind: dict(data.draw(st.permutations(list(entries.items())))) for kind, entries in ENTRIES.items()}
    assert made(dict(data.draw(st.permutations(list(parts.items()))))) == made(ENTRIES)


POSITIVE = st.decimals(min_value="0.05", max_value="500", places=2).filter(lambda number: number > 0).map(lambda n: f"{n.normalize():f}")


@settings(max_examples=5, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(path=st.sampled_from(sorted(OTHER)), number=POSITIVE)
def test_a_change_and_its_inverse_give_the_reference_s_cells(hill, small, path, number):
    """Whatever a value is changed to in the reference, an edition that states the old one prints the old cells."""
    file = small.root / "sources" / f"{CHILD}.yaml"
    before, local = file.read_text(), hill.folder / "edition.yaml"
    plain, old = local.read_text(), next(item for item in small.load().sources[CHILD].givens.values() if item.id == path)
    expected = cells(small.compute())
    name, unit = path.partition(":")[2], OTHER[path].partition(" ")[2]
    try:
        head, mark, rest = before.partition(f"  {name}:\n    value: {old.quantity}")
        assert mark
        file.write_text(f"{head}  {name}:\n    value: {number} {unit}{rest}")
        hill.adopt()
        state(hill, givens={path: entry(str(old.quantity))})
        assert cells(hill.compute()) == expected
    finally:
        file.write_text(before)
        local.write_text(plain)
