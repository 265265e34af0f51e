"""Speed of cardwright as ratios against peers measured in the same run; `make bench` prints the table for the README.

Peers: WeasyPrint alone on the same final HTML files in one process, and headless Chromium printing them, one process each.
"""

from __future__ import annotations

import os
import platform
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
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
ROUNDS = 3
USUAL = ("from", "reads")  # where the usual doses of one drug begin: the given, and its second reading
CHROMIUM = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer", "--disable-background-networking"]
CHROMIUM += ["--disable-sync", "--disable-component-update", "--no-first-run"]


def spent(command: list[str]) -> tuple[float, float]:
    """Wall time in s and peak memory in MB of a command that must succeed."""
    start = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    took = time.perf_counter() - start
    assert os.waitstatus_to_exitcode(status) == 0, command
    return took, used.ru_maxrss / 1024


def seconds(command: list[str]) -> float:
    """Wall time of a command that must succeed."""
    return spent(command)[0]


def browsed(pages: list[str], folder: str) -> float:
    """Seconds for headless Chromium to print these pages, one process each."""
    into = [f"--user-data-dir={folder}/profile", f"--print-to-pdf={folder}/page.pdf"]
    return sum(seconds([*CHROMIUM, *into, f"file://{page}"]) for page in pages)


def in_turns(rounds: int, *measured: Callable[[], float]) -> list[float]:
    """The least time of each over some rounds in which they take turns: what the machine does besides moves all of them alike."""
    return [min(times) for times in zip(*([measure() for measure in measured] for _ in range(rounds)))]


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
        cold = [sys.executable, "-m", "cardwright", "build", "--afresh", "--output", folder]
        subprocess.run([*cold, "--jobs", "2"], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        made = Path(folder) / "reference"
        pages = [str(path) for path in (made / "audit.html", *sorted((made / "cards").glob("*.html")))]
        one, two, bare, browser = in_turns(
            ROUNDS,
            lambda: seconds([*cold, "--jobs", "1"]),
            lambda: seconds([*cold, "--jobs", "2"]),
            lambda: seconds([sys.executable, "-c", BARE, *pages]),
            lambda: browsed(pages, folder),
        )
        memory = spent([*cold, "--jobs", "1"])[1]
        same = seconds([sys.executable, "-m", "cardwright", "build", "--output", folder])
        trial, changed = working(Path(folder))
    edition = load(find("reference"))
    cells = {count: computing(edition, count) for count in (25_000, 50_000, 100_000)}
    print(f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}; lines 1 to 5: the least of {ROUNDS} rounds\n")
    print("| measured | result | goal |\n| --- | --- | --- |")
    print(f"| cold build of the reference edition, one job | {one:.1f} s | |")
    print(f"| the same against bare WeasyPrint on the same {len(pages)} HTML files ({bare:.1f} s) | {one / bare:.2f} × | ≤ 1.3 × |")
    print(f"| the same against headless Chromium, one process a page ({browser:.1f} s) | {one / browser:.2f} × | < 1 × |")
    print(f"| the same with two jobs ({two:.1f} s), on the two cores that Chromium uses as well | {two / browser:.2f} × | < 1 × |")
    print(f"| the same with two jobs against one job | {one / two:.2f} × as fast | ≥ 1.6 × |")
    print(f"| the same again, with nothing changed ({same:.1f} s) | {same / one:.1%} of it | < 10 % |")
    print(f"| a trial with one given changed ({changed:.1f} s), against a trial from nothing | {changed / trial:.0%} of it | |")
    print(f"| computing 100,000 cells and running every check over them | {cells[100_000]:.1f} s | ≤ 15 s |")
    print(f"| growth from 25,000 to 100,000 cells, per cell | {cells[100_000] / cells[25_000] / 4:.2f} × | about 1 × |")
    print(f"| peak memory of the build | {memory:.0f} MB | ≤ 400 MB |")


if __name__ == "__main__":
    main()
