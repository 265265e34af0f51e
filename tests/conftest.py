"""What tests share: a small edition to copy and break, and the reference edition, computed once a worker and built once a run."""

from __future__ import annotations

import os
import shutil
import signal
from dataclasses import dataclass
from pathlib import Path

import pytest
from filelock import FileLock
from hypothesis import settings
from looking import browser, data, remembering, seen, site, visit  # noqa: F401  fixtures of pages

from cardwright.build import build
from cardwright.charts import Book, Cell, Chart
from cardwright.checked import checked
from cardwright.commands.adopt import take
from cardwright.compute import compute
from cardwright.edition import Edition, find
from cardwright.files import replace_folder
from cardwright.loading import load

HERE = Path(__file__).parent
REFERENCE = find(str(HERE.parent / "cards" / "reference"))

# The sequence of draws is fixed, so that a run is the same run everywhere; a slow machine fails no law.
settings.register_profile("fixed", derandomize=True, deadline=None, database=None, print_blob=False)
settings.load_profile("fixed")

# A shell lets what it starts in the background ignore Ctrl-C, and with it each program that a test starts and interrupts.
signal.signal(signal.SIGINT, signal.default_int_handler)


@dataclass(frozen=True)
class Small:
    """A copy of tests/small that a test may change. ``root`` holds sources/, templates/ and cards/small/."""

    root: Path

    @property
    def folder(self) -> Path:
        """The edition's folder."""
        return self.root / "cards" / "small"

    def edit(self, file: str, old: str, new: str) -> None:
        """Put ``new`` in the place of ``old``, which must stand in the file exactly once."""
        path = self.root / file
        text = path.read_text(encoding="utf-8")
        assert text.count(old) == 1, f"{file} holds {old!r} {text.count(old)} times"
        path.write_text(text.replace(old, new), encoding="utf-8")

    def load(self, *only: str) -> Edition:
        """The edition as read, or only the cards named."""
        return load(self.folder, only)

    def compute(self) -> Book:
        """The edition with its charts computed."""
        return compute(self.load())

    def chart(self, chart_id: str) -> Chart:
        """One chart by its id."""
        return next(chart for chart in self.compute().charts if chart.id == chart_id)

    def cell(self, chart_id: str, row: str, column: str) -> Cell:
        """One cell by the head of its row and the id of its column."""
        chart = self.chart(chart_id)
        return chart.cells[chart.heads.index(row)][[line.id for line in chart.columns].index(column)]


@pytest.fixture
def small(tmp_path, monkeypatch) -> Small:
    """A fresh copy of the small edition with the repository's templates, the working folder at its root, on a day in its time."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1780272000")  # 2026-06-01
    root = tmp_path / "small"
    shutil.copytree(HERE / "small", root)
    (root / "templates").symlink_to(HERE.parent / "templates")
    monkeypatch.chdir(root)
    return Small(root)


@dataclass(frozen=True)
class Hill(Small):
    """A local edition that extends the small one, in the same root, and adopted it. Its edition.yaml states no change yet."""

    @property
    def folder(self) -> Path:
        """The edition's folder."""
        return self.root / "cards" / "hill"

    @property
    def lines(self) -> int:
        """How many lines its edition.yaml has."""
        return len((self.folder / "edition.yaml").read_text(encoding="utf-8").splitlines())

    def state(self, text: str) -> None:
        """Add to its edition.yaml."""
        with (self.folder / "edition.yaml").open("a", encoding="utf-8") as file:
            file.write(text)

    def adopt(self) -> None:
        """Take the small edition as it is now."""
        take(load(self.folder, current=True))


@pytest.fixture
def hill(small) -> Hill:
    """A fresh local edition over a fresh copy of the small one."""
    made = Hill(small.root)
    made.adopt()
    return made


WAIVER = """
waivers:
  - {code: witness.twice/once, where: "infusions/samplamine, dose.start.at", reason: "no second document, yet", by: R. Marlow,
     on: 2026-05-01, until: 2026-12-31}
"""


@pytest.fixture
def mixed(small, monkeypatch) -> Small:
    """The small edition on 28 May 2026 with an error, a warning, and a warning that is waived."""
    drug = "sources/infusions/samplamine.yaml"
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1780000000")
    small.edit(drug, "gives: 15.00 mL/h", "gives: 15.10 mL/h")
    small.edit(drug, "  dose.ceiling.at: {reads: 2 mcg/kg/min, cite: {sample-book: p. 4}}\n", "")
    small.edit(drug, "  dose.start.at: {reads: 0.010 mcg/kg/min, cite: {sample-book: p. 4}}\n", "")
    with (small.folder / "edition.yaml").open("a", encoding="utf-8") as file:
        file.write(WAIVER)
    return small


@pytest.fixture(scope="session")
def reference_book() -> Book:
    """The reference edition, loaded, computed and checked once: no check of severity error found anything."""
    book, outcomes = checked(REFERENCE)
    assert [outcome.check.id for outcome in outcomes if outcome.failed] == []
    return book


@dataclass(frozen=True)
class Whole:
    """The reference edition with every file that its build makes."""

    book: Book
    files: dict[str, bytes]


@pytest.fixture(scope="session")
def built(reference_book, tmp_path_factory) -> Whole:
    """The reference edition, built once a run: the first worker that asks builds it with two processes, the other reads what it built."""
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / "reference"
    with FileLock(f"{folder}.lock"):
        if not folder.is_dir():
            replace_folder(folder, build(REFERENCE, jobs=2).files)
    return Whole(reference_book, {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()})
