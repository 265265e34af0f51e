"""What tests share: a small edition to copy and break, and the reference edition, computed or built once a run.

``built`` takes seconds. Every test that uses it is marked ``@pytest.mark.xdist_group("built")``, so that with
``pytest -n 2 --dist loadgroup`` one worker builds it and the other never does.
"""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest
from hypothesis import settings

from cardwright.build import Built, build, checked
from cardwright.charts import Book, Cell, Chart
from cardwright.compute import compute
from cardwright.edition import Edition, find, load

HERE = Path(__file__).parent

# The sequence of draws is fixed, so that a run is the same run everywhere; a slow machine fails no law.
settings.register_profile("fixed", derandomize=True, deadline=None, database=None, print_blob=False)
settings.load_profile("fixed")


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
    """A fresh copy of the small edition with the repository's templates, and the working folder at its root."""
    root = tmp_path / "small"
    shutil.copytree(HERE / "small", root)
    (root / "templates").symlink_to(HERE.parent / "templates")
    monkeypatch.chdir(root)
    return Small(root)


@pytest.fixture(scope="session")
def reference_book() -> Book:
    """The reference edition, loaded, computed and checked once: every check holds."""
    book, outcomes = checked(find(str(HERE.parent / "cards" / "reference")))
    assert [outcome.check.id for outcome in outcomes if outcome.findings] == []
    return book


@pytest.fixture(scope="session")
def built() -> Built:
    """The reference edition, built once in memory by two processes. Mark its tests ``xdist_group("built")``."""
    return build(find(str(HERE.parent / "cards" / "reference")), jobs=2)
