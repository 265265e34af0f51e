"""Everything that must be refused, through the real command line: exit status, every line on stderr, and nothing written.

The cases stand in bad_input.yaml. Stderr is compared whole, so a line too many, a traceback or a wrong place fails too.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner, Result

from cardwright.checked import checked
from cardwright.cli import main
from cardwright.render.html import Pages

CASES = [
    pytest.param(file, change, told, id=name)
    for file, cases in yaml.load(Path(__file__).with_name("bad_input.yaml").read_text(encoding="utf-8"), Loader=yaml.BaseLoader).items()
    for name, (change, *told) in cases.items()
]
SUBJECT, DRUG, EDITION = "sources/figures/child.yaml", "sources/infusions/samplamine.yaml", "cards/small/edition.yaml"
SIZES, RATES = "cards/small/sizes.yaml", "cards/small/rates.yaml"

# An alias that stands for ten others, and so on: a few hundred bytes that would become a hundred million.
BOMB = "subject: &a [x, x]\nopen:\n" + "".join(
    f"  - &{name} [{', '.join([f'*{before}'] * 10)}]\n" for before, name in zip("abcdefgh", "bcdefghi", strict=True)
)


def run(*arguments: str) -> Result:
    """The command line as a person would type it in the root of the small edition."""
    result = CliRunner().invoke(main, arguments)
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exc_info
    return result


def refused(result: Result, *told: str) -> None:
    """Exit status 2, these lines and their count on stderr, and nothing on stdout."""
    count = f"{len(told)} problem{'s' if len(told) != 1 else ''}; nothing was written"
    assert result.stderr.splitlines() == [*told, count]
    assert result.stdout == ""
    assert result.exit_code == 2


def put(small, file: str, change: str | dict[str, str]) -> None:
    """Break a file of the small edition: by a replacement, or as a whole."""
    if isinstance(change, str):
        (small.root / file).write_text(change, encoding="utf-8")
    else:
        for old, new in change.items():
            small.edit(file, old, new)


@pytest.mark.parametrize(("file", "change", "told"), CASES)
def test_fault_is_told_where_it_stands(small, file, change, told):
    """A fault in the input is told with its place, what is wrong and what to do, and nothing else is."""
    put(small, file, change)
    refused(run("check", "cards/small"), *(line if ".yaml:" in line else f"{file}:{line}" for line in told))


def test_small_edition_is_good(small):
    """Every case above starts from an edition in which nothing is wrong."""
    result = run("check", "cards/small")
    assert (result.exit_code, result.stderr) == (0, "")


def test_cases_are_named_once():
    """No two cases have the same name: a later one would hide an earlier one of its file."""
    text = Path(__file__).with_name("bad_input.yaml").read_text(encoding="utf-8")
    keys = re.findall(r"^  (\S.*?): \[", text, re.M)
    assert len(keys) == len(set(keys)) == len(CASES)


def test_faults_in_several_files_come_at_once(small):
    """Everything wrong in all files is told in one run, ordered by file, line and column."""
    small.edit(SUBJECT, "value: 0.3 L/psi", "value: .3 L/psi")
    small.edit(SUBJECT, "cite: {sample-book: page 1}\n  weight-constant", "cite: {}\n  weight-constant")
    small.edit(DRUG, "concentration: 16 mcg/mL", "concentration: -16 mcg/mL")
    small.edit(DRUG, "amount: 4 mg", "amount: 4 U")
    small.edit(DRUG, "gives: 15.00 mL/h", "gives: 15.00 mL/h\n    rounded: off")
    small.edit("sources/references.yaml", "kind: handbook\n    read: text", "kind: handbook\n    read: often")
    small.edit(EDITION, "cards: [rates, sizes]", "cards: [rates, size, sizes]")
    rules = "not known as 'rounded'; expected 'nearest', 'down' or 'up'"
    refused(
        run("check", "cards/small"),
        f"{EDITION}:11:16: unknown card 'size'; did you mean 'sizes'?",
        f"{SUBJECT}:8:5: 'cite' names no reference; expected '{{key: locator}}', such as '{{md0542: step 4}}'",
        f"{SUBJECT}:39:12: '.3' is not a number as we write them; write '0.3', with a zero before the point",
        f"{DRUG}:6:20: '-16 mcg/mL' is not above zero; expected a positive amount",
        f"{DRUG}:7:13: 'U' is not a unit of ours; write 'units'",
        f"{DRUG}:30:14: 'off' is {rules}",
        "sources/references.yaml:20:11: 'often' is not known as 'read'; expected 'text' or 'memory'",
    )


def test_faults_of_one_card_are_told_in_the_order_of_the_file(small):
    """Problems are ordered by line as a number: line 9 comes before line 15."""
    small.edit(RATES, "round: {nearest: 0.001 mcg/kg/min}", "round: {nearest: 1 mL/h}")
    small.edit(RATES, "notes: [line]", "notes: [lines]")
    small.edit(RATES, "formula: infusion.rate", "formula: infusion.rat")
    refused(
        run("check", "cards/small"),
        f"{RATES}:6:18: unknown formula 'infusion.rat'; did you mean 'infusion.rate'?",
        f"{RATES}:13:13: unknown note 'lines'; did you mean 'line'?",
        f"{RATES}:25:26: rounding step is 1 mL/h; expected a step above zero in mcg/kg/min, the unit of the cells",
    )


BYTES = {
    "binary file": (bytes(range(256)), "2:118: is not UTF-8 text; save the file as UTF-8"),
    "picture": (b"\x89PNG\r\n\x1a\n\x00\x00", "1:1: is not UTF-8 text; save the file as UTF-8"),
    "western code page": ("subject: a\nnotes: caf\xe9\n".encode("latin-1"), "2:11: is not UTF-8 text; save the file as UTF-8"),
    "two bytes a character": ("subject: a\n".encode("utf-16"), "1:1: is not UTF-8 text; save the file as UTF-8"),
    "nul": (b"subject: a\x00b\n", "1:11: holds a control character: is it a binary file? expected YAML text"),
    "too large": (b"subject: a\n" + b"#" * 500_000, "1:1: is 500,011 bytes; expected at most 500,000: split it"),
    "nested without end": (
        b"subject: a\nnotes: " + b"[" * 1500 + b"]" * 1500,
        "2:20: nests deeper than 12 levels; expected a flatter table",
    ),
}


@pytest.mark.parametrize(("data", "told"), BYTES.values(), ids=BYTES)
def test_file_that_is_no_text_of_ours_is_refused(small, data, told):
    """A file in another encoding, a binary one, or one that would take minutes to read is refused at once."""
    (small.root / SUBJECT).write_bytes(data)
    refused(run("check", "cards/small"), f"{SUBJECT}:{told}")


def test_alias_bomb_is_not_expanded(small):
    """Aliases are refused before anything is copied, so a small file can't become a large one."""
    assert len(BOMB) < 1000
    (small.root / SUBJECT).write_text(BOMB, encoding="utf-8")
    refused(run("check", "cards/small"), f"{SUBJECT}:1:10: uses an anchor or alias (&name, *name); expected the value itself: write it out")


@pytest.mark.parametrize("command", ["check", "build"])
@pytest.mark.parametrize(
    ("edition", "told"),
    [
        ("smal", "smal:1:1: unknown edition 'smal'; expected one of: reference, tarnbeck; or give the path of an edition's folder"),
        ("referense", "referense:1:1: unknown edition 'referense'; did you mean 'reference'?; or give the path of an edition's folder"),
        ("cards", "cards:1:1: is not an edition; expected a folder with an edition.yaml in it"),
    ],
)
def test_edition_that_is_none_is_told(small, command, edition, told):
    """A name or folder that holds no edition is told as a problem of that path, with what there is."""
    refused(run(command, edition), told)


def test_missing_file_is_told(small):
    """A file that is not there is a problem at its first line."""
    (small.root / "sources/references.yaml").unlink()
    refused(run("check", "cards/small"), "sources/references.yaml:1:1: can't be read: No such file or directory; expected a YAML file here")


@pytest.mark.parametrize(("card", "hint"), [("rate", "did you mean 'rates'?"), ("zzz", "expected one of: rates, sizes")])
def test_unknown_card_is_told(small, card, hint):
    """--card with a name that the edition has not is told at the edition's list of cards."""
    refused(run("build", "cards/small", "--card", card), f"{EDITION}:11:8: unknown card '{card}'; {hint}")


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        (SUBJECT, "cite: {sample-book: page 2}", "cite: {sample-bok: page 2}"),
        (DRUG, "amount: 4 mg", "amount: 8 mg"),
        (EDITION, "number: 1", "number: one"),
        (RATES, "dose: 0.01, 0.1, 2, 2.5 mcg/kg/min", "dose: 0.01, 0.1 mcg/min"),
        (SIZES, "notes: [spare]", "notes: [spar]"),
    ],
)
def test_refused_build_leaves_the_output_as_it_was(small, file, old, new):
    """A build of bad input writes nothing: yesterday's cards stay whole."""
    (small.root / "out/small").mkdir(parents=True)
    (small.root / "out/small/edition.json").write_text("yesterday")
    small.edit(file, old, new)
    result = run("build", "cards/small", "--output", "out")
    assert result.exit_code == 2
    assert result.stderr.endswith("1 problem; nothing was written\n")
    assert [(path.name, path.read_text()) for path in (small.root / "out").rglob("*") if path.is_file()] == [("edition.json", "yesterday")]


@pytest.mark.parametrize(("given", "status"), [("15", 0), ("15.0", 0), ("15.000", 0), ("15.1", 1), ("14.9", 1), ("15.01", 1)])
def test_trailing_zero_of_a_witness_states_its_precision(small, given, status):
    """A witness may end in zeros: they say how far the published figure was printed. 0.1 × 40 × 60 ÷ 16 = 15 mL/h."""
    small.edit(DRUG, "gives: 15.00 mL/h", f"gives: {given} mL/h")
    assert run("check", "cards/small").exit_code == status


@pytest.mark.parametrize(("given", "status"), [("26.3", 0), ("26.25", 0), ("26", 0), ("26.30", 1), ("26.2", 1), ("26.0", 1)])
def test_precision_of_a_witness_decides_how_it_is_compared(small, given, status):
    """26.3 holds for 26.25 at one decimal, ties up; 26.30 claims two decimals and does not. 0.1 × 70 × 60 ÷ 16 = 26.25 mL/h."""
    small.edit(DRUG, "weight: 40 kg", "weight: 70 kg")
    small.edit(DRUG, "gives: 15.00 mL/h", f"gives: {given} mL/h")
    assert run("check", "cards/small").exit_code == status


def test_markup_in_a_title_is_text(small):
    """A title that looks like HTML is no fault; it is escaped where it is printed."""
    small.edit(SIZES, "title: Sizes", "title: <script>alert(1)</script> & more")
    book, outcomes = checked(small.folder)
    page = Pages(book, "sha256:0123456789", outcomes).card("sizes")
    assert "&lt;script&gt;alert(1)&lt;/script&gt; &amp; more" in page
    assert "<script>alert(1)" not in page
