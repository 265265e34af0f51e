"""What an earlier build made is not made again; whatever could make it another one is noticed."""

from __future__ import annotations

import datetime
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from test_build import SMALL_FILES, on_disk

from cardwright import earlier
from cardwright.build import build
from cardwright.cli import main
from cardwright.earlier import Earlier, place, program, record, sum_of_inputs

OUT = Path("build/small")
DRUG = "sources/infusions/samplamine.yaml"


def run(*options: str) -> Result:
    """A build of the small edition in this process."""
    done = CliRunner().invoke(main, ["build", "cards/small", *options])
    assert done.exit_code == 0, done.stderr
    return done


def made_again(done: Result) -> str:
    """How many PDFs of how many a build took from the last one, as it tells."""
    return done.stderr.partition("as in the last build")[2].strip()


@pytest.fixture
def once(small):
    """The small edition, and a build of it."""
    run()
    return small


def test_a_build_of_the_same_does_nothing(once):
    """No file is touched, and it says so; the sign for the eye is one line and the folder."""
    before = {path: path.stat().st_mtime_ns for path in OUT.rglob("*")}
    done = run()
    assert done.stdout == "build/small\n"
    assert done.stderr == "nothing has changed since build/small was built; it stays as it is\n"
    assert {path: path.stat().st_mtime_ns for path in OUT.rglob("*")} == before


def test_a_build_of_the_same_loads_nothing_that_renders(once, monkeypatch):
    """It is over before the long imports: the module that builds is not asked for."""
    monkeypatch.setitem(sys.modules, "cardwright.build", None)  # importing it now fails
    run()


def test_afresh_makes_everything_and_the_same(once):
    """--afresh takes nothing from before; the same bytes come out."""
    before = on_disk(OUT)
    done = run("--afresh")
    assert "cards " in done.stderr
    assert made_again(done) == ""
    assert on_disk(OUT) == before


def test_the_files_are_those_of_a_build_from_nothing(once):
    """What is taken from before and what is made anew stand together as if all had been made at once."""
    once.edit(DRUG, "gives: 15.00 mL/h", "gives: 15.0 mL/h")  # which no card prints, and so moves no digest
    done = run()
    assert made_again(done) == "2 of 3 PDFs"  # of two cards and the audit
    assert on_disk(OUT) == build(once.folder).files
    assert set(on_disk(OUT)) == SMALL_FILES


TOUCHED = {
    "a card": ("cards/small/rates.yaml", "title: Rates", "title: Rates of flow"),
    "a source": (DRUG, "gives: 15.00 mL/h", "gives: 15.0 mL/h"),
    "the edition": ("cards/small/edition.yaml", "number: 1", "number: 2"),
}


@pytest.mark.parametrize("kind", TOUCHED)
def test_a_change_to_a_file_is_noticed(once, kind):
    """Whatever an edition is made of."""
    before = sum_of_inputs(once.folder)
    once.edit(*TOUCHED[kind])
    assert sum_of_inputs(once.folder) != before
    assert "nothing has changed" not in run().stderr


@pytest.mark.parametrize("change", ["a new file", "a file gone", "a template", "the day", "an option"])
def test_what_decides_what_comes_out_is_in_the_sum(once, monkeypatch, change):
    """Files that come and go, the templates behind a link, the day that decides what has expired, and what was asked for."""
    before, options = sum_of_inputs(once.folder), ()
    if change == "a new file":
        (once.folder / "approvals").mkdir()
        (once.folder / "approvals" / "1.pdf").write_bytes(b"")
    elif change == "a file gone":
        (once.folder / "sizes.yaml").unlink()
    elif change == "a template":
        (once.root / "templates").unlink()
        (once.root / "templates").mkdir()
        (once.root / "templates" / "card.css").write_text("td { color: red }", encoding="utf-8")
    elif change == "the day":
        monkeypatch.setattr(earlier, "today", lambda: datetime.date(2026, 6, 2))
    else:
        options = ("sizes",)
    assert sum_of_inputs(once.folder, *options) != before


def test_links_in_a_circle_end(once):
    """A folder that holds itself is walked through once."""
    (once.folder / "again").symlink_to(once.folder)
    assert sum_of_inputs(once.folder) == sum_of_inputs(once.folder)


@pytest.mark.parametrize("damage", ["a digit", "gone", "the record", "no record", "another program"])
def test_a_file_that_is_not_as_it_was_written_is_made_again(once, monkeypatch, damage):
    """A build is trusted only as far as it is still what was proved; and only what this very program made."""
    before = on_disk(OUT)
    if damage == "a digit":
        (OUT / "cards/rates.pdf").write_bytes(before["cards/rates.pdf"].replace(b"1", b"7", 1))
    elif damage == "gone":
        (OUT / "cards/rates.pdf").unlink()
    elif damage == "the record":
        place(OUT).write_text('{"format": "another"}', encoding="utf-8")
    elif damage == "no record":
        place(OUT).unlink()
    else:
        monkeypatch.setattr(earlier, "program", lambda: "another")
    done = run()
    assert made_again(done) == ("2 of 3 PDFs" if damage in ("a digit", "gone") else "")
    assert on_disk(OUT) == before


def test_a_page_is_taken_only_where_all_that_went_into_it_is_the_same(once):
    """The sum of a page is over its HTML, its mark and what its proof holds it against."""
    left = Earlier(OUT)
    kept = {name: paper.made_of for name, paper in left.record.pages.items()}
    assert set(kept) == {"audit", "rates", "sizes"}
    assert len(set(kept.values())) == 3
    assert left.kept("rates", kept["rates"]).looked_at["printed.cells"] > 0
    assert left.kept("rates", kept["sizes"]) is None
    assert left.kept("other", kept["rates"]) is None
    assert left.file("cards/rates.pdf") == (OUT / "cards/rates.pdf").read_bytes()
    assert left.file("../small/cards/rates.pdf") is None


def test_the_record_tells_where_nothing_was_made(small):
    """Sums only: no path of this machine stands in it."""
    told = record(sum_of_inputs(small.folder), {}, {"a.pdf": b""}).decode()
    assert str(small.root) not in told
    assert program() in told


def test_a_personal_card_is_built_again_when_its_edition_changes(small):
    """The sum over a personal card's file is one over the edition that it picks from as well."""
    (small.root / "mine.yaml").write_text("title: Mine\nedition: cards/small\ncharts: [rates/samplamine-16-mcg-mL]\n", encoding="utf-8")
    mine = [sum_of_inputs(Path("mine.yaml"))]
    small.edit(DRUG, "gives: 15.00 mL/h", "gives: 15.0 mL/h")
    mine.append(sum_of_inputs(Path("mine.yaml")))
    (small.root / "mine.yaml").write_text("title: Mine\nedition: cards/none\n", encoding="utf-8")
    mine.append(sum_of_inputs(Path("mine.yaml")))
    assert len(set(mine)) == 3
