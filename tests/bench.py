"""Speed of cardwright as ratios against peers measured in the same run; `make bench` prints the table for the README.

Peers: WeasyPrint alone on the same final HTML files in one process, and headless Chromium printing them, one process each.
"""

from __future__ import annotations

import os
import platform
import resource
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

from cardwright.checks import run_checks
from cardwright.compute import compute
from cardwright.edition import Edition, find
from cardwright.loading import load
from cardwright.models import ChartSpec
from cardwright.units import Quantity
from cardwright.values import Axis

BARE = """
import sys, weasyprint
for path in sys.argv[1:]:
    weasyprint.HTML(filename=path).write_pdf()
"""
USUAL = ("from", "reads")  # where the usual doses of one drug begin: the given, and its second reading
CHROMIUM = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer", "--disable-background-networking"]
CHROMIUM += ["--disable-sync", "--disable-component-update", "--no-first-run"]


def seconds(command: list[str]) -> float:
    """Wall time of a command that must succeed."""
    start = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    return time.perf_counter() - start


def wide(edition: Edition, cells: int) -> Edition:
    """The edition with one card of one chart of about this many cells, for measuring computation alone."""
    card = edition.cards["vasopressors"]
    spec: ChartSpec = card.faces[0].charts[0]
    weights, doses = Axis(_values(cells // 100, 40, 8000, "kg")), Axis(_values(100, 1, 1000, "mcg/kg/min"))
    weights.mark = doses.mark = spec.mark
    chart = spec.model_copy(update={"down": {"weight": weights}, "across": {"dose": doses}})
    face = card.faces[0].model_copy(update={"charts": [chart], "notes": []})
    return replace(edition, cards={"vasopressors": card.model_copy(update={"faces": [face]})})


def _values(count: int, first: int, divisor: int, unit: str) -> Iterator[Quantity]:
    for place in range(count):
        value = first + Fraction(place, divisor) if unit == "kg" else Fraction(first + place, divisor)
        yield Quantity(value, unit, "x")


def computing(edition: Edition, cells: int) -> float:
    """Seconds to compute and cross-check this many cells."""
    large = wide(edition, cells)
    start = time.perf_counter()
    book = compute(large)
    outcomes = run_checks(book)
    assert not any(outcome.failed for outcome in outcomes)
    return time.perf_counter() - start


def working(folder: Path) -> tuple[float, float]:
    """Seconds for a trial of the reference edition from nothing, and for one after one given was changed."""
    root = folder / "root"
    for part in ("cards", "sources"):
        shutil.copytree(find("reference").resolve().parent.parent / part, root / part)
    command = [sys.executable, "-m", "cardwright", "build", str(root / "cards" / "reference"), "--trial", "--output", str(folder)]
    first, table = seconds(command), root / "sources" / "infusions" / "milrinone.yaml"
    text = table.read_text(encoding="utf-8")
    for told in USUAL:
        assert text.count(f"{told}: 0.375 mcg/kg/min") == 1
        text = text.replace(f"{told}: 0.375 mcg/kg/min", f"{told}: 0.4 mcg/kg/min")
    table.write_text(text, encoding="utf-8")
    return first, seconds(command)


def main() -> None:
    """Measure, then print the table."""
    with tempfile.TemporaryDirectory() as folder:
        build = seconds([sys.executable, "-m", "cardwright", "build", "--jobs", "1", "--output", folder])
        memory = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        same = seconds([sys.executable, "-m", "cardwright", "build", "--output", folder])
        both = seconds([sys.executable, "-m", "cardwright", "build", "--jobs", "2", "--afresh", "--output", folder])
        trial, changed = working(Path(folder))
        made = Path(folder) / "reference"
        pages = [str(path) for path in (made / "audit.html", *sorted((made / "cards").glob("*.html")))]
        bare = seconds([sys.executable, "-c", BARE, *pages])
        browser = sum(
            seconds([*CHROMIUM, f"--user-data-dir={folder}/profile{place}", f"--print-to-pdf={folder}/page.pdf", f"file://{page}"])
            for place, page in enumerate(pages)
        )
    edition = load(find("reference"))
    cells = {count: computing(edition, count) for count in (25_000, 50_000, 100_000)}
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}\n")
    print("| measured | result | goal |\n| --- | --- | --- |")
    print(f"| cold build of the reference edition, one job | {build:.1f} s | |")
    print(f"| the same against bare WeasyPrint on the same {len(pages)} HTML files ({bare:.1f} s) | {build / bare:.2f} × | ≤ 1.3 × |")
    print(f"| the same against headless Chromium, one process a page ({browser:.1f} s) | {build / browser:.2f} × | < 1 × |")
    print(f"| the same with two jobs ({both:.1f} s), on the two cores that Chromium uses as well | {both / browser:.2f} × | < 1 × |")
    print(f"| the same with two jobs against one job | {build / both:.2f} × as fast | ≥ 1.6 × |")
    print(f"| the same again, with nothing changed ({same:.1f} s) | {same / build:.1%} of it | < 10 % |")
    print(f"| a trial with one given changed ({changed:.1f} s), against a trial from nothing | {changed / trial:.0%} of it | |")
    print(f"| computing 100,000 cells and running every check over them | {cells[100_000]:.1f} s | ≤ 15 s |")
    print(f"| growth from 25,000 to 100,000 cells, per cell | {cells[100_000] / cells[25_000] / 4:.2f} × | about 1 × |")
    print(f"| peak memory of the build | {memory:.0f} MB | ≤ 400 MB |")


if __name__ == "__main__":
    main()
