"""What a local edition changes is told one by one: what it names, what stood there and stands now, who says so, why, and where."""

from __future__ import annotations

import re
from textwrap import dedent

import pytest

from cardwright.checks import run_checks, waived
from cardwright.layer import Change
from cardwright.values import NOWHERE

CITE = "cite: {hill-protocol: section 3}"

# The text that is added, and for each change its kind, path, what was, what became, its reason, and its line in that text (0: the top).
CHANGES = {
    "a point of the dose": (
        f"givens:\n  infusions/samplamine:dose.ceiling.at: {{value: 1 mcg/kg/min, {CITE}, reason: We call}}\n",
        [("given", "infusions/samplamine:dose.ceiling.at", "2 mcg/kg/min", "1 mcg/kg/min", "We call", 2)],
    ),
    "an end of a range of doses": (
        f"givens:\n  infusions/samplamine:dose.usual.to: {{value: 0.2 mcg/kg/min, {CITE}, reason: Ours}}\n",
        [("given", "infusions/samplamine:dose.usual.to", "0.1 mcg/kg/min", "0.2 mcg/kg/min", "Ours", 2)],
    ),
    "a point that the reference does not have": (
        f"givens:\n  infusions/samplamine:dose.step.at: {{value: 0.02 mcg/kg/min, {CITE}, reason: Ours}}\n",
        [("given", "infusions/samplamine:dose.step.at", "", "0.02 mcg/kg/min", "Ours", 2)],
    ),
    "a plain given": (
        f"givens:\n  figures/child:reserve: {{value: 300 psi, {CITE}, reason: A long way}}\n",
        [("given", "figures/child:reserve", "200 psi", "300 psi", "A long way", 2)],
    ),
    "an end of a plain range": (
        f"givens:\n  figures/child:tube-ages.from: {{value: 3 year, {CITE}, reason: No infants}}\n",
        [("given", "figures/child:tube-ages.from", "2 year", "3 year", "No infants", 2)],
    ),
    "sizes": (
        f'givens:\n  figures/child:tubes-made: {{value: "3, 4, 5 mm", {CITE}, reason: As stocked}}\n',
        [("given", "figures/child:tubes-made", "3 to 5 by 0.5 mm", "3, 4, 5 mm", "As stocked", 2)],
    ),
    "a mix in the place of another": (
        f"givens:\n  infusions/samplamine:mix.16-mcg-mL: {{value: 32 mcg/mL, amount: 8 mg, volume: 250 mL, {CITE}, reason: Bags}}\n"
        "carries: {infusions/samplamine: [32 mcg/mL]}\n",
        [("given", "infusions/samplamine:mix.16-mcg-mL", "16 mcg/mL (4 mg in 250 mL)", "32 mcg/mL (8 mg in 250 mL)", "Bags", 2)],
    ),
    "a mix beside another": (
        f"givens:\n  infusions/samplamine:mix.64-mcg-mL: {{value: 64 mcg/mL, {CITE}, reason: Syringes}}\n",
        [("given", "infusions/samplamine:mix.64-mcg-mL", "", "64 mcg/mL", "Syringes", 2)],
    ),
    "axes and notes of a chart": (
        "charts:\n  rates/samplamine-16-mcg-mL:\n    down: {weight: 50 to 70 by 10 kg}\n    across: {dose: 0.1 mcg/kg/min}\n"
        "    notes: [wide]\n    reason: Adults\n"
        f"notes:\n  infusions/samplamine:wide: {{text: Use a wide line., {CITE}, reason: Ours}}\n",
        [
            (
                "chart",
                "rates/samplamine-16-mcg-mL",
                "down weight 2, 4, 70, 133.2, 133.3 kg; across dose 0.01, 0.1, 2, 2.5 mcg/kg/min; notes line",
                "down weight 50 to 70 by 10 kg; across dose 0.1 mcg/kg/min; notes wide",
                "Adults",
                2,
            ),
            ("note", "infusions/samplamine:wide", "", "Use a wide line.", "Ours", 8),
        ],
    ),
    "a chart that is left out": (
        "charts:\n  rates/running: {leave out: yes, reason: Never used}\n",
        [("chart", "rates/running", "Dose running at a rate", "", "Never used", 2)],
    ),
    "a published table that is left out": (
        "charts:\n  sizes/blades: {leave out: yes, reason: Printed elsewhere}\n",
        [("chart", "sizes/blades", "As published", "", "Printed elsewhere", 2)],
    ),
    "a note in other words": (
        f"notes:\n  infusions/samplamine:line: {{text: Central line only., {CITE}, reason: Ours}}\n",
        [("note", "infusions/samplamine:line", "Give through a large vein.", "Central line only.", "Ours", 2)],
    ),
    "a note that is left out": (
        f"notes:\n  infusions/samplamine:line: {{leave out: yes, {CITE}, reason: Known}}\n",
        [("note", "infusions/samplamine:line", "Give through a large vein.", "", "Known", 2)],
    ),
    "the pump": (
        "pump: {step: 1 mL/h, least: 1 mL/h, most: 500 mL/h}\nrounding limit: 5 %\n",
        [
            (
                "setting",
                "pump",
                "step 0.1 mL/h, coarse from 100 mL/h, step 1 mL/h, least 0.1 mL/h, most 999 mL/h",
                "step 1 mL/h, least 1 mL/h, most 500 mL/h",
                "",
                1,
            )
        ],
    ),
    "the caution and the limit on rounding": (
        "rounding limit: 4 %\ncaution: Look twice.\n",
        [("setting", "rounding limit", "5 %", "4 %", "", 1), ("setting", "caution", "For tests only.", "Look twice.", "", 2)],
    ),
}


def told(changes: tuple[Change, ...], top: int) -> list[tuple]:
    """Changes as the table above has them, in the order of their lines."""
    found = [(item.kind, item.path, item.was, item.became, item.reason, item.mark.line - top) for item in changes]
    assert {item.mark.file for item in changes} <= {"edition.yaml"}
    return sorted(found, key=lambda item: item[-1])


@pytest.mark.parametrize("name", CHANGES)
def test_what_is_changed_is_told_and_nothing_else(hill, name):
    """Each departure is told with both values, its reason and its line; those that are cited have their citation."""
    text, expected = CHANGES[name]
    top = hill.lines
    hill.state(text)
    changes = hill.compute().edition.changes
    assert told(changes, top) == expected
    for item in changes:
        cited = [(citation.key, citation.locator) for citation in item.cite]
        assert cited == ([("hill-protocol", "section 3")] if item.kind in ("given", "note") else [])


@pytest.mark.parametrize("name", CHANGES)
def test_no_change_fails_a_check(hill, name):
    """A service that states its own values with their documents has cards: its own protocol needs no published point."""
    hill.state(CHANGES[name][0])
    book = hill.compute()
    failed = {
        (outcome.check.id, finding.code, finding.message)
        for outcome in waived(book, run_checks(book))
        if outcome.failed
        for finding in outcome.findings
    }
    assert failed == set()


def test_an_edition_that_states_nothing_changes_nothing(hill):
    """Its identity is its own, and everything else is the reference's."""
    edition = hill.compute().edition
    assert edition.changes == ()
    assert (edition.name, edition.spec.title, edition.spec.issuer, edition.spec.number) == ("hill", "Hill cards", "Hill Transfer", 3)
    assert (str(edition.spec.issued), str(edition.spec.review_by), edition.spec.status) == ("2026-02-01", "2027-01-01", "draft")
    assert (edition.spec.caution, str(edition.spec.pump.least)) == ("For tests only.", "0.1 mL/h")
    assert edition.root == edition.folder == hill.folder


def test_what_is_stated_as_the_reference_has_it_is_no_change(hill):
    """A setting that is repeated changes nothing."""
    hill.state("caution: For tests only.\nrounding limit: 5 %\n")
    assert hill.compute().edition.changes == ()


CARDS = {
    "left out": ("cards: [sizes]", [("card", "rates", "a card of the reference", "", "We have no pump")]),
    "in another order": ("cards: [sizes, rates]", [("card", "order", "as in the reference", "sizes, rates", "")]),
    "added": ("cards: [rates, sizes, blades]", [("card", "blades", "", "a card of this edition's own", "")]),
}
BLADES = "title: Blades\nfaces:\n  - title: Blade\n    charts:\n      - {title: As published, source: figures/child, table: blades}\n"


@pytest.mark.parametrize("name", CARDS)
def test_cards_left_out_moved_and_added_are_told(hill, name):
    """The reason for cards that are left out stands under 'left out'."""
    cards, expected = CARDS[name]
    hill.edit("cards/hill/edition.yaml", "cards: [rates, sizes]", cards)
    hill.state("left out: We have no pump\n")
    (hill.folder / "blades.yaml").write_text(BLADES)
    edition = hill.compute().edition
    assert list(edition.cards) == re.findall(r"\w+", cards)[1:]
    assert [(item.kind, item.path, item.was, item.became, item.reason) for item in edition.changes] == expected
    assert {item.mark.line for item in edition.changes} == {8}


def test_a_card_of_the_same_name_takes_the_place_of_the_reference_s(hill):
    """A card that a service writes anew is told as its own, and is read from its own file."""
    (hill.folder / "sizes.yaml").write_text(BLADES)
    edition = hill.compute().edition
    assert edition.cards["sizes"].title == "Blades"
    assert [(item.path, item.was, item.became) for item in edition.changes] == [
        ("sizes", "a card of the reference", "a card of this edition's own")
    ]


OWN_TABLE = """
    subject: Places
    tables:
      places:
        title: Where things are
        down: thing
        columns: [place]
        rows:
          - [blade, shelf]
        cite: {hill-stock: page 1}
"""


def test_an_own_source_table_with_an_own_reference(hill):
    """A card of the service may rest on a table of the service, which its own document covers."""
    hill.edit("cards/hill/edition.yaml", "cards: [rates, sizes]", "cards: [rates, sizes, places]")
    hill.edit("cards/hill/edition.yaml", "    identifier: H-2\n", "    identifier: H-2\n    covers: [own/places]\n")
    (hill.folder / "sources" / "own").mkdir(parents=True)
    (hill.folder / "sources" / "own" / "places.yaml").write_text(dedent(OWN_TABLE))
    (hill.folder / "places.yaml").write_text(BLADES.replace("figures/child", "own/places").replace("table: blades", "table: places"))
    book = hill.compute()
    assert "own/places" in book.edition.sources
    assert [[cell.printed for cell in row] for chart in book.charts if chart.id == "places/places" for row in chart.cells] == [["shelf"]]
    assert not [outcome.check.id for outcome in run_checks(book) if outcome.failed]


def test_documents_of_the_service_cover_what_they_are_cited_for(hill):
    """The service's references join the reference's, and cover the tables that they change and those they say."""
    hill.state(f"givens:\n  infusions/samplamine:dose.ceiling.at: {{value: 1 mcg/kg/min, {CITE}, reason: r}}\n")
    hill.state(f"notes:\n  figures/child:spare: {{text: Keep it., {CITE}, again: {{reads: [], cite: {{hill-stock: p}}}}, reason: r}}\n")
    references = hill.load().references
    assert list(references) == ["sample-label", "sample-book", "hill-protocol", "hill-stock"]
    assert references["hill-protocol"].covers == ["infusions/samplamine", "figures/child"]
    assert references["hill-stock"].covers == ["figures/child"]


def test_templates_and_wording_of_the_service_are_told(hill):
    """Whoever approves sees that pages are not laid out, or words not judged, as by the program."""
    (hill.folder / "templates").mkdir()
    for name in ("card.css", "own.css"):
        (hill.folder / "templates" / name).write_text("")
    wording = (hill.root / "templates").resolve().parent / "sources" / "wording.yaml"
    (hill.folder / "sources").mkdir()
    (hill.folder / "sources" / "wording.yaml").write_text(re.sub(r"cite: \{[^}]*\}", "cite: {hill-stock: page 2}", wording.read_text()))
    assert [(item.kind, item.path, item.was, str(item.mark.file)) for item in hill.load().changes] == [
        ("setting", "wording", "the program's", "sources/wording.yaml"),
        ("template", "card.css", "the program's", "templates/card.css"),
        ("template", "own.css", "", "templates/own.css"),
    ]


WAIVER = """waivers:
  - {code: shape.axis/gap, where: "sizes/cylinder, pressure", reason: as the gauge has it, by: R. Marlow, on: 2026-05-01, until: 2026-12-31}
"""
OWN_WAIVER = WAIVER.replace("sizes/cylinder, pressure", "infusions/samplamine, dose.start.at").replace(
    "shape.axis/gap", "witness.twice/once"
)
WAIVED = {
    "kept": ("", 1),
    "of a card left out": ("cards: [rates]", 0),
    "of a chart left out": ("charts:\n  sizes/cylinder: {leave out: yes, reason: none carried}\n", 0),
    "of a chart that is another": ('charts:\n  sizes/cylinder: {down: {pressure: "700, 2,000 psi"}, reason: ours}\n', 0),
    "beside the service's own": (OWN_WAIVER, 2),
}


@pytest.mark.parametrize("name", WAIVED)
def test_a_waiver_holds_for_what_it_was_granted_for(hill, name):
    """What the reference waived for a chart stays waived while the chart is as it was; the service answers for what it changes."""
    with (hill.root / "cards" / "small" / "edition.yaml").open("a") as file:
        file.write(WAIVER)
    hill.adopt()
    text, count = WAIVED[name]
    if text.startswith("cards"):
        hill.edit("cards/hill/edition.yaml", "cards: [rates, sizes]", text)
    else:
        hill.state(text)
    assert len(hill.load().spec.waivers) == count


@pytest.mark.parametrize(
    ("kind", "was", "became", "large"),
    [
        ("given", "2 mcg/kg/min", "1 mcg/kg/min", True),
        ("note", "At most 5 mg.", "", True),
        ("note", "Give slowly.", "Give at 5 mg/min.", True),
        ("note", "Give slowly.", "Give with care.", False),
        ("chart", "mix 16 mcg/mL", "mix 32 mcg/mL", True),
        ("chart", "down weight 40, 50 kg", "down weight 40, 60 kg", False),
        ("chart", "Pump rate for a dose", "", False),
        ("card", "a card of the reference", "", False),
    ],
)
def test_a_first_approval_acknowledges_values_mixes_and_figures(kind, was, became, large):
    """What a later approval would be asked for is asked for by the first: not rows, nor what is left out."""
    assert Change(kind, "here", was, became, (), "ours", NOWHERE).large == large
