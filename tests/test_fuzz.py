"""Random edits to the YAML files: never a traceback, and never a number on a card that its own files do not support.

``make fuzz`` runs 10,000 edits, ``make test`` 600. The seed is fixed, so a run is the same run everywhere.
"""

from __future__ import annotations

import os
import random
import re
from fractions import Fraction

import pytest

from cardwright.charts import Book
from cardwright.checks import run_checks, waived
from cardwright.compute import compute
from cardwright.documents import InputError
from cardwright.loading import load
from cardwright.numbers import hours_minutes, plain
from cardwright.provenance import Choice, Derived, Given, Stated, Trace

EDITS = int(os.environ.get("CARDWRIGHT_FUZZ", "600"))
SHARES = 4
FILES = [
    "sources/references.yaml",
    "sources/infusions/samplamine.yaml",
    "sources/figures/child.yaml",
    "cards/small/edition.yaml",
    "cards/small/rates.yaml",
    "cards/small/sizes.yaml",
]
POOL = [
    *"0123456789.,:-{}[]#&*!|>'\"%@` \n\t",
    "µg",
    "U",
    "1e3",
    "null",
    "NO",
    "0x1F",
    "{",
    "- ",
    "\u202e",
    "\x00",
    "é",
    "½",
    "９",
    "  ",
    "<<: ",
    "*a",
    "&a ",
    "!!python/object:os.system ",
    "---\n",
    "? ",
    "9" * 40,
    "mcg",
    "/kg",
    "mg",
    "kg",
    "min",
    "lb",
    "<b>",
    "{{ 7 }}",
]


def edited(text: str, draw: random.Random) -> str:
    """The text with one edit: as a slip of the hand, of an editor, or of a merge."""
    place, other = draw.randrange(len(text)), draw.randrange(len(text))
    lines = text.splitlines(keepends=True)
    line = draw.randrange(len(lines))
    numbers = list(re.finditer(r"[0-9]+(?:\.[0-9]+)?", text))
    number = draw.choice(numbers)
    return draw.choice(
        [
            lambda: text[:place] + text[place + 1 :],
            lambda: text[:place] + draw.choice(POOL) + text[place:],
            lambda: text[:place] + draw.choice(POOL) + text[place + 1 :],
            lambda: text[: min(place, other)] + text[max(place, other) :] if abs(place - other) < 60 else text[:place],
            lambda: "".join([*lines[:line], *lines[line + 1 :]]),
            lambda: "".join([*lines[: line + 1], *lines[line:]]),
            lambda: "".join([*lines[:line], *reversed(lines[line : line + 2]), *lines[line + 2 :]]),
            lambda: "".join([*lines[:line], "  " + lines[line], *lines[line + 1 :]]),
            lambda: text[: number.start()] + draw.choice(numbers)[0] + text[number.end() :],
            lambda: text[: number.start()] + str(draw.choice([0, 1, 10, 0.001, 10**6, -1])) + text[number.end() :],
        ]
    )()


def supported(book: Book) -> list[str]:
    """The cells whose printed number does not follow from what stands in the files at the lines that their traces name."""
    root, lines, wrong = book.edition.root, {}, []
    for chart in book.charts:
        for row in chart.cells:
            for cell in row:
                shown = cell.value is not None and cell.printed in (plain(cell.value), _clock(cell.value))
                if (cell.value is not None and not shown) or not all(_stands(leaf, root, lines) for leaf in _written(cell.trace)):
                    wrong.append(f"{chart.id}: {cell.printed}")
    return wrong


def _clock(value: Fraction) -> str:
    return hours_minutes(value) if value.denominator == 1 and value >= 0 else ""


def _written(trace: Trace | None):
    if isinstance(trace, Derived):
        for item in trace.inputs.values():
            yield from _written(item)
    elif trace:
        yield trace


def _stands(leaf: Given | Choice | Stated, root, lines: dict) -> bool:
    """Whether a value stands in the file at its line, in the digits of the file."""
    if leaf.mark.file not in lines:
        lines[leaf.mark.file] = (root / leaf.mark.file).read_text(encoding="utf-8").splitlines()
    line = lines[leaf.mark.file][leaf.mark.line - 1].replace(",", "")
    if isinstance(leaf, Stated):
        return leaf.text.split(" ")[0].replace(",", "") in line or "to" in line
    number = plain(leaf.quantity.value).replace(",", "")
    return number in line or " to " in line or Fraction(number) in map(Fraction, re.findall(r"[0-9]+(?:\.[0-9]+)?", line))


@pytest.mark.parametrize("share", range(SHARES))
def test_no_edit_gives_a_traceback_or_a_number_without_support(small, share):
    """Each edit is refused with places to mend, found by a check, or makes cards whose every number stands in the files."""
    draw = random.Random(20261125 + share)
    told = {"refused": 0, "found": 0, "made": 0}
    for _ in range(EDITS // SHARES):
        path = small.root / draw.choice(FILES)
        before = path.read_text(encoding="utf-8")
        path.write_text(edited(before, draw), encoding="utf-8")
        try:
            book = compute(load(small.folder))
            outcomes = waived(book, run_checks(book))
        except InputError as error:
            told["refused"] += all(problem.line >= 1 and problem.column >= 1 and problem.message for problem in error.problems)
        else:
            if any(outcome.failed for outcome in outcomes):
                told["found"] += 1
            else:
                told["made"] += 1
                assert supported(book) == []
        path.write_text(before, encoding="utf-8")
    assert min(told.values()) > 0, told
    assert sum(told.values()) == EDITS // SHARES, "a problem without a place or a message"
