"""The drill command: the report for people and for programs, and the record that the audit prints."""

from __future__ import annotations

import json

from click.testing import CliRunner

from cardwright.checked import checked
from cardwright.cli import main
from cardwright.render.contract import contract
from cardwright.render.html import Pages


def run(*arguments: str):
    """The command on the small edition."""
    return CliRunner().invoke(main, ["drill", "cards/small", "--count", "300", *arguments])


def test_text_is_for_people(small):
    """Kinds, checks, survivors with their line and what would catch them, and the two figures."""
    small.edit("sources/infusions/samplamine.yaml", "  dose.ceiling.at: {reads: 2 mcg/kg/min, cite: {sample-book: p. 4}}\n", "")
    done = run("--seed", "1", "--count", "5000")
    assert done.exit_code == 0
    assert "one figure" in done.stdout
    assert "caught by witness.readings" in done.stdout
    told = "sources/infusions/samplamine.yaml:21: one figure: dose.ceiling.at: '2 mcg/kg/min' became '3 mcg/kg/min'"
    assert f"{told}; a reading of dose.ceiling.at, or a witness that uses it would catch it" in done.stdout
    assert "in doses, concentrations, factors and sizes " in done.stdout.splitlines()[-1]


def test_json_is_for_programs(small):
    """The agreed keys, and nothing on stdout beside them."""
    report = json.loads(run("--format", "json", "--seed", "9").stdout)
    assert set(report) == {"seed", "seeded", "caught", "critical", "by_kind", "by_check", "survivors"}
    assert (report["seed"], report["seeded"]) == (9, 300)


def audit(small) -> str:
    """The audit of the small edition as a page."""
    book, outcomes = checked(small.folder)
    return Pages(book, contract(book, outcomes)["digest"], outcomes).audit()


def test_the_audit_prints_the_figure_and_says_when_it_is_old(small):
    """Not drilled, drilled, and drilled before the charts changed."""
    assert "Not drilled yet" in audit(small)
    report = json.loads(run("--format", "json", "--record").stdout)
    page = audit(small)
    assert f"The checks caught {report['caught']:,} of {report['seeded']:,} (" in page
    assert "The charts are those that were drilled." in page
    small.edit("cards/small/rates.yaml", "2, 4, 70", "2, 4, 71")
    assert "The charts have changed since" in audit(small)


def test_a_record_that_is_none_is_refused(small):
    """A figure that nobody measured is not printed."""
    record = small.folder / "drill.json"
    for text in ("{}", "not json", '{"seeded": 1, "caught": 2}'):
        record.write_text(text)
        done = CliRunner().invoke(main, ["check", "cards/small"])
        assert done.exit_code == 2
        assert "cards/small/drill.json:1:1: is not the record of a drill" in done.stderr
