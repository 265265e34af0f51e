"""A medic's own card: the charts and weights that it names, and what it may be called."""

from __future__ import annotations

import json

import pytest
from approvals import approval, trust
from click.testing import CliRunner

from cardwright.approval.register import append
from cardwright.build import build
from cardwright.cli import main

OWN = """
edition: cards/small
title: Mine
charts: [rates/samplamine-16-mcg-mL, rates/running]
weights: {}
"""


@pytest.fixture
def own(small):
    """Writes a personal card of the small edition, for these weights."""

    def write(weights: str, text: str = OWN):
        path = small.root / "mine.yaml"
        path.write_text(text.replace("{}", weights), encoding="utf-8")
        return path

    return write


def data(path) -> dict:
    """The edition.json of a built personal card."""
    return json.loads(build(path).files["edition.json"])


def test_a_card_has_the_charts_and_rows_that_it_names(own):
    """Each chart on its own face, for the weights that are named: by hand, 0.1 mcg/kg/min × 70 kg × 60 min/h ÷ 16 mcg/mL = 26.25 mL/h."""
    built = build(own("4, 70 kg"))
    made = json.loads(built.files["edition.json"])
    assert [name for name in sorted(built.files) if "mine" in name] == ["cards/mine.html", "cards/mine.pdf"]
    assert {"audit.html", "audit.pdf", "edition.json", "index.html", "worker.js"} < set(built.files)
    assert [(chart["id"], chart["rows"]["values"]) for chart in made["charts"]] == [
        ("mine/samplamine-16-mcg-mL", ["4", "70"]),
        ("mine/running", ["4", "70"]),
    ]
    assert made["charts"][0]["cells"][1][1]["printed"] == "26.3"


@pytest.mark.parametrize(("weights", "status"), [("70 kg", "approved"), ("71 kg", "draft")])
def test_a_card_is_approved_where_its_edition_has_every_number(small, own, weights, status):
    """Rows that the approved edition has keep its standing; one number more makes a draft."""
    trust(small, "R. Marlow")
    made = approval(small.folder)
    append(small.folder, made.manifest.number, made.pdf)
    path = own(weights, OWN.replace(", rates/running", ""))
    built = build(path)
    assert json.loads(built.files["edition.json"])["edition"]["status"] == status
    page = built.files["cards/mine.html"].decode()
    assert ("APPROVED by R. Marlow" in page) == (status == "approved")
    assert ("DRAFT, not approved" in page) == (status == "draft")


def test_a_card_from_a_draft_is_a_draft(own):
    """A selection can't be worth more than what it was picked from."""
    assert data(own("70 kg"))["edition"]["status"] == "draft"


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("rates/running", "rates/runing", "mine.yaml:4:38: unknown chart 'rates/runing'; did you mean 'rates/running'?"),
        ("cards/small", "cards/smal", "unknown edition"),
        ("title: Mine", "tittle: Mine", "mine.yaml:3:1: unknown key 'tittle'; did you mean 'title'?"),
        ("weights: {}", "weights: 70, 60 kg", "mine.yaml:5:10: axis '70, 60 kg' does not rise"),
        ("charts: [rates/samplamine-16-mcg-mL, rates/running]", "charts: []", "'charts' is empty"),
    ],
)
def test_faults_are_told_at_their_line(own, old, new, told):
    """As of an edition: where, what was expected, what to do; nothing is written."""
    path = own("70 kg", OWN.replace(old, new))
    done = CliRunner().invoke(main, ["build", str(path)])
    assert (done.exit_code, done.stdout) == (2, "")
    assert told in done.stderr
    assert not (path.parent / "build").exists()


def test_the_command_writes_beside_the_editions_own_build(own):
    """Under the name of its file, so that the edition's build stays."""
    path = own("70 kg")
    done = CliRunner().invoke(main, ["build", str(path)])
    assert (done.exit_code, done.stdout) == (0, "build/mine\n")
    assert (path.parent / "build" / "mine" / "cards" / "mine.pdf").is_file()
