"""Building as a whole: the same bytes everywhere, all or nothing on disk, and an audit that leaves nothing out."""

from __future__ import annotations

import html
import json
import os
import re
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pypdfium2
import pytest
import yaml
from click.testing import CliRunner

from cardwright.build import build
from cardwright.cli import main
from cardwright.render.workings import workings

ROOT = Path(__file__).parent.parent
REFERENCE = ROOT / "cards" / "reference"
# Another time zone, another order of sets, another date in the surroundings, another language.
ELSEWHERE = {"TZ": "Pacific/Kiritimati", "PYTHONHASHSEED": "4711", "SOURCE_DATE_EPOCH": "1", "LC_ALL": "C", "PYTHONPATH": str(ROOT)}
SMALL_FILES = {
    "edition.json",
    "index.html",
    "audit.html",
    "audit.pdf",
    "cards/rates.html",
    "cards/rates.pdf",
    "cards/sizes.html",
    "cards/sizes.pdf",
    "worker.js",
    "manifest.webmanifest",
    "icon-192.png",
    "icon-512.png",
}


def on_disk(folder: Path) -> dict[str, bytes]:
    """Every file under a folder by its name."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def elsewhere(folder: Path, away: Path, *options: str) -> dict[str, bytes]:
    """The files of a build by another process, in another place and time."""
    away.mkdir()
    command = [sys.executable, "-m", "cardwright", "build", str(folder), "--output", "made", *options]
    done = subprocess.run(command, cwd=away, env={**os.environ, **ELSEWHERE}, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stderr
    return on_disk(away / "made" / folder.name)


def run(*arguments: str):
    """A command in this process."""
    return CliRunner().invoke(main, list(map(str, arguments)))


def test_a_build_gives_the_same_bytes_anywhere(small, tmp_path):
    """Another folder, time zone, date, language, order of sets and number of processes change no byte of any file."""
    here = build(small.folder).files
    shutil.copytree(small.root, tmp_path / "moved")
    there = elsewhere(tmp_path / "moved" / "cards" / "small", tmp_path / "away", "--jobs", "2")
    assert set(here) == set(there) == SMALL_FILES
    assert [name for name in here if here[name] != there[name]] == []
    for name, data in here.items():
        assert str(tmp_path).encode() not in data, f"{name} tells where it was made"


def test_a_card_of_the_reference_edition_gives_the_same_bytes_anywhere(tmp_path):
    """What holds for the small edition holds for a card that people print."""
    here = build(REFERENCE, only=("peep-ladders",)).files
    there = elsewhere(REFERENCE, tmp_path / "away", "--card", "peep-ladders")
    assert set(here) == set(there)
    assert [name for name in here if here[name] != there[name]] == []


def test_building_twice_changes_nothing(small):
    """A second build in the same process is the first one again: no counter or cache leaks into a page."""
    first, second = build(small.folder), build(small.folder)
    assert first.files == second.files
    assert first.faces == second.faces == 4


def test_a_build_makes_these_files_and_no_others(small):
    """An edition's folder holds its data, list and audit, and a page and a PDF for each card; old files are gone. A record is beside it."""
    (small.root / "made/small/cards").mkdir(parents=True)
    for old in ("edition.json", "index.html", "cards/withdrawn.pdf"):
        (small.root / "made/small" / old).write_text("old", encoding="utf-8")
    done = run("build", small.folder, "--output", "made")
    assert done.exit_code == 0, done.stderr
    assert set(on_disk(small.root / "made")) == {f"small/{name}" for name in SMALL_FILES} | {".small.json"}


def test_one_card_can_be_built_alone(small):
    """--card makes that card and a list of it; the data are the whole edition's, whose digest it prints, and so there is no audit."""
    done = run("build", small.folder, "--output", "made", "--card", "sizes")
    assert done.exit_code == 0, done.stderr
    files = on_disk(small.root / "made/small")
    assert set(files) == {name for name in SMALL_FILES if "rates" not in name and "audit" not in name}
    assert [card["id"] for card in json.loads(files["edition.json"])["cards"]] == ["rates", "sizes"]
    assert b"rates" not in files["index.html"].split(b"</style>")[-1]
    assert re.search(r"^cards +1 of 2 *$", done.stderr, re.MULTILINE)
    assert re.search(r"^cards +2 *$", run("build", small.folder, "--output", "all").stderr, re.MULTILINE)


BREAKS = {
    "a check that fails": ("sources/infusions/samplamine.yaml", "gives: 15.00 mL/h", "gives: 15.10 mL/h", 1, "witness.reproduced"),
    "a card too tall": (
        "cards/small/rates.yaml",
        "title: Rates",
        "title: Rates\nsize: 46 × 50 mm",
        1,
        "card rates: 'samplamine' does not fit 46 × 50 mm: .* mm too tall",
    ),
    "a card too wide": (
        "cards/small/sizes.yaml",
        "head: breath",
        f"head: {'breath' * 20}",
        1,
        "card sizes: chart sizes/by-age is .* mm too wide",
    ),
    "a character too many": ("cards/small/rates.yaml", "title: Rates", "title: Rates \u2192", 1, r"card rates: .*U\+2192"),
    "a slip in a table": (
        "sources/infusions/samplamine.yaml",
        "concentration: 16 mcg/mL",
        "concentration: 17 mcg/mL",
        2,
        "samplamine.yaml:6:",
    ),
}


@pytest.mark.parametrize("kind", BREAKS)
def test_a_build_that_fails_leaves_the_disk_as_it_was(small, kind):
    """No half edition: where a check fails or a card does not fit, nothing is written and the last good build stays."""
    file, old, new, status, told = BREAKS[kind]
    (small.root / "made/small").mkdir(parents=True)
    (small.root / "made/small/edition.json").write_text("the last good build", encoding="utf-8")
    small.edit(file, old, new)
    done = run("build", small.folder, "--output", "made")
    assert done.exit_code == status
    assert re.search(told, done.stderr), done.stderr
    assert "nothing was written" in done.stderr
    assert done.stdout == ""
    assert on_disk(small.root / "made") == {"small/edition.json": b"the last good build"}
    assert [path.name for path in (small.root / "made").iterdir()] == ["small"]


def test_an_interrupt_ends_a_build_of_several_processes_quietly(tmp_path):
    """Ctrl-C reaches every process of a terminal at once: the build stops without a traceback, and writes nothing."""
    listed = yaml.safe_load((REFERENCE / "edition.yaml").read_text(encoding="utf-8"))["cards"]
    cards = [word for card in listed[:8] for word in ("--card", card)]
    command = [sys.executable, "-m", "cardwright", "build", str(REFERENCE), "--jobs", "2", *cards]
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    building = subprocess.Popen(command, cwd=tmp_path, env=env, stderr=subprocess.PIPE, text=True, start_new_session=True)
    first = building.stderr.readline()
    os.killpg(building.pid, signal.SIGINT)
    told = first + building.communicate(timeout=60)[1]
    assert first == f"  {cards[1]}\n"
    assert "Traceback" not in told
    assert building.returncode == 1
    assert told.endswith("Aborted!\n")
    assert not (tmp_path / "build").exists()


def test_a_card_too_tall_tells_by_how_much(small):
    """The author learns what must go: on paper that is 4 mm less tall, 4 mm more. A chart alone is split, and never too tall."""
    told = []
    small.edit("cards/small/rates.yaml", "35 to 70 by 35 kg", "35 to 95 by 1 kg")
    for old, new in (("title: Rates", "title: Rates\nsize: 46 × 54 mm"), ("46 × 54 mm", "46 × 50 mm")):
        small.edit("cards/small/rates.yaml", old, new)
        done = run("build", small.folder, "--output", "made", "--card", "rates")
        told.append(float(re.search(r"card rates: 'samplamine' does not fit .*? it is ([\d.]+) mm too tall; drop a note", done.stderr)[1]))
    assert told[1] - told[0] == pytest.approx(4, abs=0.11)  # each is rounded to 0.1 mm


def test_every_card_that_does_not_fit_is_told_at_once(small):
    """An author mends all cards in one round."""
    small.edit("cards/small/rates.yaml", "title: Rates", "title: Rates\nsize: 46 × 50 mm")
    small.edit("cards/small/sizes.yaml", "head: breath", f"head: {'breath' * 20}")
    done = run("build", small.folder, "--output", "made")
    assert done.exit_code == 1
    assert re.search("card rates: .* too tall", done.stderr)
    assert re.search("card sizes: .* too wide", done.stderr)


@pytest.mark.parametrize("output", ["cards", "keep"])
def test_a_folder_that_is_no_build_is_never_replaced(small, output):
    """A build never deletes what it did not make: not the edition's own tables, not somebody's papers under the same name."""
    shutil.copytree(small.folder, small.root / "keep" / "small")
    before = on_disk(small.root / output)
    done = run("build", small.folder, "--output", output)
    assert done.exit_code == 2, done.output
    assert "small" in done.stderr
    assert on_disk(small.root / output) == before


def used_tables() -> list[dict]:
    """The source tables that the reference edition's cards name."""
    spec = yaml.safe_load((REFERENCE / "edition.yaml").read_text(encoding="utf-8"))
    cards = [yaml.safe_load((REFERENCE / f"{card}.yaml").read_text(encoding="utf-8")) for card in spec["cards"]]
    names = {chart["source"] for card in cards for face in card["faces"] for chart in face["charts"]}
    return [yaml.safe_load((ROOT / "sources" / f"{name}.yaml").read_text(encoding="utf-8")) for name in sorted(names)]


def test_the_audit_leaves_nothing_out(built):
    """A director finds every chart, working, given with its file and line, reference, check, witness, conflict and hole."""
    data = json.loads(built.files["edition.json"])
    text = re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", "", built.files["audit.html"].decode().split("</style>")[-1])))
    wanted = [chart["id"] for chart in data["charts"]] + [check["id"] for check in data["checks"]]
    wanted += [f"{given['file']}:{given['line']}" for given in data["givens"].values()]
    wanted += [f"{key}, {locator}" for given in data["givens"].values() for key, locator in given["cite"]]
    told = [workings(chart) for chart in built.book.charts]  # which tell every working: tests/test_workings.py
    wanted += [" ".join(words.split()) for common, rows in told for words in (*common, *rows)]
    for key, reference in data["references"].items():
        issued = "" if reference["publisher"] == "none" else f" {reference['publisher']}, "
        wanted.append(f"{key}. {reference['title']}{'' if reference['title'].endswith('?') else '.'}{issued}")
    tables = used_tables()
    wanted += [" ".join(one[part].split()) for table in tables for one in table.get("conflicts", []) for part in ("says", "taken")]
    wanted += [" ".join(hole.split()) for table in tables for hole in table.get("open", [])]
    assert [words for words in dict.fromkeys(wanted) if words not in text] == []


def test_the_audit_counts_right(built):
    """The figures at the head of the audit are those of the files: charts, cells and witnesses, counted here once more."""
    data = json.loads(built.files["edition.json"])
    witnesses = sum(len(table.get("witnesses", [])) for table in used_tables())
    audit = built.files["audit.html"].decode()
    counts = dict(re.findall(r'<tr><th scope="row">([^<]+)</th><td>([\d,]+)</td></tr>', audit))
    cells = [cell for chart in data["charts"] for row in chart["cells"] for cell in row]
    assert (counts["charts"], counts["cells"], counts["witnesses"]) == (f"{len(data['charts']):,}", f"{len(cells):,}", f"{witnesses:,}")
    assert counts["cells that show a mark in place of a number"] == f"{sum(cell['state'] != 'ok' for cell in cells):,}"
    listed = audit.partition("Witnesses: published points")[2].partition("<h2>")[0]
    assert listed.count("<li>") == witnesses
    document = pypdfium2.PdfDocument(built.files["audit.pdf"])
    printed = re.sub(r"\s", "", "".join(page.get_textpage().get_text_range() for page in document)).replace("\ufffe", "-")
    document.close()
    assert [chart["id"] for chart in data["charts"] if chart["id"] not in printed] == []
