"""The audit: what the director reads of the checks, and of the findings that someone answers for."""

from __future__ import annotations

import html
import re

import pypdfium2
import pypdfium2.raw as pdfium

from cardwright.checked import checked
from cardwright.render.audit import audit_view
from cardwright.render.contract import contract
from cardwright.render.html import Pages


def section(small, head: str) -> str:
    """A section of the audit of the small edition, as text with a bar between two cells."""
    book, outcomes = checked(small.folder)
    page = Pages(book, contract(book, outcomes)["digest"], outcomes).audit()
    [part] = re.findall(rf"<h2>{head}</h2>(.*?)<h2>", page, re.DOTALL)
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", "", re.sub(r"</t[dh]>", " | ", part))))


def test_waived_findings_are_listed_with_who_answers_for_them(mixed):
    """Code, place, fault, reason, name and dates: a waiver is never silent."""
    told = section(mixed, "Waived findings")
    assert "witness.twice/once | infusions/samplamine, dose.start.at: " in told
    assert "no second document, yet | R. Marlow | 2026-05-01 | 2026-12-31" in told
    assert "dose.ceiling.at" not in told


def test_no_waiver_is_told_too(small):
    """An empty section could be one that was forgotten."""
    assert section(small, "Waived findings").strip() == "None."


def test_checks_are_told_with_severity_and_status(mixed):
    """A warning is not an error, and reads like none."""
    told = section(mixed, "Checks")
    assert re.search(r"witness\.reproduced \| Is every published point [^|]*\| error \| 1 \| fail \|", told)
    assert re.search(r"witness\.twice \| Was every given [^|]*\| warning \| 19 \| warning \|", told)
    assert "error witness.reproduced/differs: infusions/samplamine, witness 15.10 mL/h: published 15.10 mL/h" in told


def test_every_conflict_of_tables_and_wording_is_told_with_its_references(reference_book):
    """Lists of wording disagree as drug tables do; whoever reads a citation finds its reference."""
    told = audit_view(reference_book, ())
    listed = {key for key, _ in told["references"]}
    edition = reference_book.edition
    titles = [title for title, _ in told["conflicts"]]
    assert titles.count("Safe wording") == len(edition.wording.conflicts) > 0
    assert len(titles) == sum(len(source.conflicts) for source in edition.sources.values()) + len(edition.wording.conflicts)
    assert {citation.key for _, conflict in told["conflicts"] for citation in conflict.cite} <= listed


def test_lists_of_wording_of_the_program_are_not_told_as_an_edition_s_own(small):
    """An edition without lists of its own does not have their references."""
    assert "Safe wording" not in section(small, "Where sources disagree, and what was taken")


def test_edition_json_lists_what_is_waived(mixed):
    """Other programs read who answers for a finding."""
    checks = {one["id"]: one for one in contract(*checked(mixed.folder))["checks"]}
    [waived] = checks["witness.twice"]["waived"]
    assert (
        waived.items()
        >= {
            "code": "once",
            "where": "infusions/samplamine, dose.start.at",
            "mark": "sources/infusions/samplamine.yaml:14:9",
            "reason": "no second document, yet",
            "by": "R. Marlow",
            "on": "2026-05-01",
            "until": "2026-12-31",
        }.items()
    )
    assert checks["witness.reproduced"]["waived"] == []


def test_nothing_runs_off_the_audit_s_pages(built):
    """Workings stand in lines of one text that do not break by themselves: each ends before the right margin of 18 mm. All pages come
    from one template: every fourth is measured, and the last."""
    document = pypdfium2.PdfDocument(built.files["audit.pdf"])
    for number in {*range(0, len(document), 4), len(document) - 1}:
        page = document[number]
        edge = page.get_width() - 17.5 * 72 / 25.4  # half a mm for the side bearing of the last glyph
        assert all(item.get_bounds()[2] <= edge for item in page.get_objects(filter=[pdfium.FPDF_PAGEOBJ_TEXT]))


def test_a_chart_s_working_is_told_before_its_cells(small):
    """Dose × weight ÷ concentration for the chart, then 26.25 mL/h printed 26.3 for 70 kg and 0.1 mcg/kg/min, by hand."""
    book, outcomes = checked(small.folder)
    page = Pages(book, "sha256:" + "0" * 64, outcomes).audit()
    assert "<em>By</em> infusion.rate: dose × weight ÷ 16 mcg/mL × 60 min/h, in mL/h.</p>" in page
    row = page[page.index("weight 70 kg:") :].split("weight 133.2")[0]
    assert "0.1: 26.25 (26.3)" in row.replace("\u00a0", " ")


def test_givens_and_witnesses_are_told_with_their_sources(small):
    """A given by value, meaning, source, id and place; a published point by what was published and what was worked out."""
    book, outcomes = checked(small.folder)
    page = Pages(book, "sha256:" + "0" * 64, outcomes).audit()
    place = r"infusions/samplamine:mix\.16-mcg-mL, sources/infusions/samplamine\.yaml:\d+"
    assert re.search(rf"<li>16 mcg/mL: 4 mg in 250 mL\. sample-label, [^(]*\({place}\)</li>", page)
    point = r"15\.00 mL/h, worked out 15 mL/h: infusion\.rate with [^<]* sample-[^<]*"
    assert re.search(rf"<h3>samplamine</h3>\s*<ul><li>{point}</li>", page)
