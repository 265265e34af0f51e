"""``cardwright compare`` as people and scripts use it: what it prints, in which form, and the exit status."""

from __future__ import annotations

import json
import re

import pytest
from click.testing import CliRunner
from test_carried import ROWS, packed, printed, saved, table, workbook

from cardwright.cli import main

CHART = "rates/samplamine-16-mcg-mL"
# The small edition's mix of 16 mcg/mL: 70 kg at 0.1 mcg/kg/min is 26.25 mL/h, 4 kg 1.5 mL/h.
RIGHT = "mL/h; kg \\ mcg/kg/min,0.01,0.1\n4,0.15,1.5\n70,2.6,26.3\n"
ATTACK = '<script>alert(1)</script> & "quotes" \N{GREEK CAPITAL LETTER OMEGA}'


def run(*arguments):
    """The command in this process."""
    return CliRunner().invoke(main, ["compare", *map(str, arguments), "--edition", "small"])


def test_every_cell_agrees_is_status_0_only_where_nothing_is_missing(small):
    """The small chart written out whole, marks and all: 2 kg at 0.01 is 0.075 mL/h, under the pump's least; 0.75 and 0.15 can't be set to
    a tenth without moving the dose by 6.7 and 33 %. Status 0. Without some of its rows: what is there agrees, but 1."""
    whole = "mL/h; kg \\ mcg/kg/min,0.01,0.1,2,2.5\n2,low,–,15,max\n4,–,1.5,30,max\n"
    rest = "70,2.6,26.3,525,max\n133.2,5,50,999,max\n133.3,5,50,high,max\n"
    path = saved(small.root, "mine.csv", whole + rest)
    done = run(path, "--chart", CHART)
    assert (done.exit_code, done.stderr) == (0, ""), done.output
    assert "20 agree, 0 differ, 0 missing, 0 not computable" in done.stdout
    done = run(saved(small.root, "mine.csv", whole), "--chart", CHART)
    assert done.exit_code == 1
    assert "8 agree, 0 differ, 0 missing, 0 not computable\nrows of ours that yours lacks: 70 kg, 133.2 kg, 133.3 kg\n" in done.stdout


def test_what_differs_is_told_with_its_place_and_slip(small):
    """One line a cell: where, what stands there, what should, by how much, and the likely slip; no colour, no path cut off."""
    done = run(saved(small.root, "mine.csv", RIGHT.replace("26.3", "263")), "--chart", CHART)
    assert done.exit_code == 1
    assert re.search(
        r"^70 kg +0\.1 mcg/kg/min +263 +26\.3 +\+902 % +differs: ten times too high: the decimal point +3:3$", done.stdout, re.M
    )
    assert "mix 16 mcg/mL (4 mg in 250 mL)" in done.stdout
    assert "\x1b" not in done.stdout


@pytest.mark.parametrize("name", ["mine.xlsx", "mine.pdf"])
def test_other_files_give_the_same_as_csv(small, name):
    """The same chart in a spreadsheet and in print; the place leads to the sheet's cell or the page's line."""
    data = packed(workbook(Rates=[["mL/h"], *ROWS])) if name == "mine.xlsx" else printed("<p>mL/h</p>" + table(ROWS))
    done = run(saved(small.root, name, data), "--chart", CHART)
    assert done.exit_code == 1
    assert "3 agree, 0 differ, 1 missing, 0 not computable" in done.stdout
    assert re.search(
        r"70 kg +0\.05 mcg/kg/min +13\.1 +missing: the cell is empty +(B4|line 4)$|(Rates!B4|page 1, line 4)$", done.stdout, re.M
    )


def test_json_is_for_programs(small):
    """The shape that the documentation tells, with exact values as fractions."""
    done = run(saved(small.root, "mine.csv", RIGHT.replace("26.3", "2.63")), "--chart", CHART, "--format", "json")
    assert done.exit_code == 1
    found = json.loads(done.stdout)
    assert list(found) == ["format", "file", "chart", "edition", "mix", "turned", "counts", "missing", "remarks", "cells"]
    assert (found["format"], found["chart"], found["mix"], found["turned"]) == ("cardwright-compare/1", CHART, "16 mcg/mL", False)
    assert found["counts"] == {"agrees": 2, "differs": 1, "missing": 0, "not computable": 1}
    assert found["missing"] == {"rows": ["2 kg", "133.2 kg", "133.3 kg"], "columns": ["2 mcg/kg/min", "2.5 mcg/kg/min"]}
    assert re.fullmatch("sha256:[0-9a-f]{64}", found["edition"]["digest"])
    cell = found["cells"][1][1]
    assert (cell["theirs"], cell["ours"], cell["exact"], cell["unit"], cell["status"]) == ("2.63", "26.3", "105/4", "mL/h", "differs")
    assert cell["slips"] == [{"kind": "tenfold", "says": "ten times too low: the decimal point"}]
    assert cell["off"] == "-2362/2625"  # (2.63 − 26.25) ÷ 26.25


def test_html_holds_everything_and_runs_nothing(small):
    """One page with the typeface in it, every mark in words; what a file says comes out as text, signs that we lack by number."""
    path = saved(small.root, "mine.csv", RIGHT.replace("70,2.6", "70," + '"' + ATTACK.replace('"', '""') + '"').replace("26.3", "263"))
    done = run(path, "--chart", CHART, "--format", "html", "--output", small.root / "report.html")
    assert (done.exit_code, done.stdout) == (1, f"{small.root / 'report.html'}\n"), done.output
    page = (small.root / "report.html").read_text(encoding="utf-8")
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; &#34;quotes&#34; [U+03A9]" in page
    assert "<script" not in page
    assert not re.search(r"(src|href)=|url\((?!data:)", page)
    assert "ten times too high" in page
    assert "differs; ours 26.3" in page
    assert "For tests only." in page
    assert "DRAFT, not approved" in page


TOLD = [
    (RIGHT, ("--chart", "rates/samplamine"), "--chart: unknown chart 'rates/samplamine'; did you mean"),
    (RIGHT.replace("mL/h; ", ""), ("--chart", CHART), "mine.csv:2:2: '0.15' has no unit; expected it in a title"),
    (RIGHT.replace("kg \\", ""), ("--chart", CHART), '--rows "weight kg" or --rows "weight lb"'),
    (RIGHT, ("--chart", CHART, "--page", "1"), "--page is for PDF files; leave it out"),
    (RIGHT, ("--chart", CHART, "--decimal", "dot"), "'dot' is not one of 'point', 'comma'"),
    (RIGHT, ("--chart", CHART, "--output", "mine.csv"), "mine.csv: is the chart itself; expected another place for the report"),
    (RIGHT, ("--chart", CHART, "--output", "none/report.txt"), "expected a place that can be read and written"),
    (RIGHT, (), "Missing option '--chart'"),
    ("\xff", ("--chart", CHART), "there is no comma, semicolon or tab"),
]


@pytest.mark.parametrize(("text", "arguments", "words"), TOLD)
def test_what_is_wrong_is_told_and_leaves_with_2(small, text, arguments, words):
    """A doubt or slip is one plain sentence on standard error; nothing is compared, written or traced back."""
    saved(small.root, "mine.csv", text)
    done = run("mine.csv", *arguments)
    assert done.exit_code == 2, done.output
    assert isinstance(done.exception, SystemExit)
    assert words in done.stderr
    assert done.stdout == ""
    assert (small.root / "mine.csv").read_text(encoding="utf-8") == text


def test_an_edition_in_which_a_check_fails_judges_nothing(small):
    """A chart is only held against figures that hold themselves."""
    small.edit("sources/infusions/samplamine.yaml", "gives: 15.00 mL/h", "gives: 15.10 mL/h")
    done = run(saved(small.root, "mine.csv", RIGHT), "--chart", CHART)
    assert (done.exit_code, done.stdout) == (2, "")
    assert "a check of the edition fails; mend it first" in done.stderr
