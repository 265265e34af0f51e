"""An edition read from its folder, alone or over the reference that it adopted: each fault is told at the line that states it."""

from __future__ import annotations

import random
import re
from pathlib import Path
from textwrap import dedent

import pytest
import yaml
from test_bad_input import BOMB, refused, run
from test_fuzz import edited

from cardwright.checked import checked
from cardwright.compute import compute
from cardwright.documents import InputError, Problem
from cardwright.edition import data_root
from cardwright.loading import load
from cardwright.render.html import Pages

CASES = yaml.load(Path(__file__).with_name("local_input.yaml").read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
DRUG, CHILD = "infusions/samplamine", "figures/child"
HILL = "cards/hill/edition.yaml"
ADOPT = "run 'cardwright adopt' on this edition's folder"


def test_root_is_the_folder_above_that_holds_the_sources(small):
    """The sources and templates beside cards/ belong to the edition, whatever the working folder is."""
    read = small.load()
    assert (read.name, read.root) == ("small", small.root)


def test_edition_folder_by_itself_uses_the_program_s_sources(tmp_path, small):
    """A folder of cards without sources of its own draws on the tables that come with the program."""
    alone = tmp_path / "alone"
    alone.mkdir()
    for name in ("edition.yaml", "rates.yaml"):
        text = (small.folder / name).read_text()
        (alone / name).write_text(text.replace("[rates, sizes]", "[rates]").replace("samplamine", "norepinephrine"))
    read = load(alone)
    assert read.root == data_root()
    assert list(read.sources) == ["infusions/norepinephrine"]
    assert read.name == "alone"


def test_everything_is_read(small):
    """Cards come in print order, with the source tables they use and all references."""
    read = small.load()
    assert list(read.cards) == ["rates", "sizes"]
    assert list(read.sources) == [CHILD, DRUG]
    assert list(read.references) == ["sample-label", "sample-book"]
    assert (read.spec.title, read.spec.number) == ("Small edition", 1)
    assert (str(read.spec.issued), str(read.spec.rounding_limit)) == ("2026-01-01", "5 %")
    assert read.cards["sizes"].turn == "landscape"


def test_only_the_cards_named_are_read(small):
    """A build of one card reads that card and its source table, and nothing wrong elsewhere stops it."""
    small.edit("sources/figures/child.yaml", "value: 0.3 L/psi", "value: .3 L/psi")
    small.edit("cards/small/sizes.yaml", "turn: landscape", "turn: sideways")
    read = small.load("rates")
    assert (list(read.cards), list(read.sources)) == (["rates"], [DRUG])


def test_unused_table_is_not_read(small):
    """A source table that no card uses is not read: a draft beside the others stops no build."""
    (small.root / "sources" / "figures" / "draft.yaml").write_text("subject: [not, done]\n")
    assert list(small.load().sources) == [CHILD, DRUG]


@pytest.mark.parametrize("name", CASES)
def test_fault_is_told_at_the_line_that_states_it(hill, name):
    """A local edition's fault leads into its own file, and not to the reference that it changes."""
    text, *told = CASES[name]
    top = hill.lines
    hill.state(text)
    lines = []
    for line in told:
        place, rest = line.removeprefix("HEAD ").split(":", 1)
        lines.append(f"{HILL}:{int(place) + (0 if line.startswith('HEAD') else top)}:{rest}")
    refused(run("check", "cards/hill"), *lines)


def test_local_edition_is_good(hill):
    """Every case above starts from an edition in which nothing is wrong."""
    result = run("check", "cards/hill")
    assert (result.exit_code, result.stderr) == (0, "")


def test_faults_of_all_kinds_come_at_once(hill):
    """What is wrong in identity, givens, charts, notes and documents is told in one run, by its place."""
    hill.state(
        dedent("""\
        givens:
          infusions/samplamine:dose.usul.to: {value: 1 mcg/kg/min, cite: {hill-protocol: p. 1}, reason: r}
          figures/child:reserve: {value: 300 psi, cite: {nobody: p. 1}, reason: r}
        charts:
          rates/jogging: {leave out: yes, reason: r}
        notes:
          figures/child:spar: {leave out: yes, cite: {hill-protocol: p. 1}, reason: r}
        """)
    )
    refused(
        run("check", "cards/hill"),
        f"{HILL}:29:3: unknown given 'dose.usul.to'; did you mean 'dose.usual.to'?",
        f"{HILL}:30:50: unknown reference 'nobody'; expected one of: hill-protocol, hill-stock, sample-book, sample-label",
        f"{HILL}:32:3: unknown chart 'rates/jogging'; did you mean 'rates/running'?",
        f"{HILL}:34:3: unknown note 'spar'; did you mean 'spare'?",
    )


HEADS = {
    "a path for the edition it extends": (
        {"extends: small": "extends: ../../etc"},
        "2:10: '../../etc' is not a name; expected letters, digits and hyphens, such as 'factor-e'",
    ),
    "dots for the edition it extends": (
        {"extends: small": "extends: .."},
        "2:10: '..' is not a name; expected letters, digits and hyphens, such as 'factor-e'",
    ),
    "another edition than was adopted": (
        {"extends: small": "extends: reference"},
        "1:1: extends 'reference', but 'small' was adopted; run 'cardwright adopt' on this edition's folder",
    ),
    "a path for a card": (
        {"cards: [rates, sizes]": "cards: [rates, ../small/sizes]"},
        "8:16: '../small/sizes' is not a name; expected letters, digits and hyphens, such as 'factor-e'",
    ),
    "a card that there is not": (
        {"cards: [rates, sizes]": "cards: [rates, sise]"},
        f"8:16: unknown card 'sise'; did you mean 'sizes'?; if the reference has it, {ADOPT}",
    ),
    "the edition's own file as a card": (
        {"cards: [rates, sizes]": "cards: [rates, edition]"},
        f"8:16: unknown card 'edition'; expected one of: rates, sizes; if the reference has it, {ADOPT}",
    ),
    "a card twice": (
        {"cards: [rates, sizes]": "cards: [rates, rates]"},
        "2:1: card 'rates' stands twice; expected each card once: delete one",
    ),
    "no card": ({"cards: [rates, sizes]": "cards: []"}, "8:8: 'cards' is empty; expected at least one entry"),
    "a review before the issue": (
        {"review by: 2027-01-01\ncards": "review by: 2025-01-01\ncards"},
        "2:1: edition is due for review on 2025-01-01, but issued on 2026-02-01; expected a later review",
    ),
    "a document of the reference's name": (
        {"  hill-stock:": "  sample-book:"},
        "19:3: reference 'sample-book' stands in the reference edition already; choose another key",
    ),
    "a document that was half read": (
        {"identifier: H-1\n    kind: local protocol\n    read: text": "identifier: H-1\n    kind: local protocol\n    read: half"},
        "17:11: 'half' is not known as 'read'; expected 'text' or 'memory'",
    ),
}


@pytest.mark.parametrize("name", HEADS)
def test_fault_in_what_the_edition_is(hill, name):
    """Names lead nowhere but to an edition's own cards, and documents keep the names that the reference gave them."""
    change, told = HEADS[name]
    for old, new in change.items():
        hill.edit(HILL, old, new)
    refused(run("check", "cards/hill"), f"{HILL}:{told}")


def test_a_local_edition_of_a_local_edition_is_refused(hill):
    """Nobody could say whose value a card has; the chain is refused where it is stated, also where it leads back to itself."""
    for name, extends in (("brook", "hill"), ("loop", "loop"), ("one", "other"), ("other", "one")):
        folder = hill.root / "cards" / name
        folder.mkdir()
        text = (hill.folder / "edition.yaml").read_text()
        (folder / "edition.yaml").write_text(text.replace("extends: small", f"extends: {extends}"))
    whose = {"brook": ("hill", "small"), "loop": ("loop", "loop"), "one": ("other", "one")}
    for name, (extends, further) in whose.items():
        told = f"extends '{extends}', which itself extends '{further}'; expected an edition that stands alone"
        refused(run("adopt", f"cards/{name}"), f"cards/{name}/edition.yaml:2:10: {told}")
        assert not (hill.root / "cards" / name / "adopted").exists()


def test_an_edition_that_adopted_nothing_says_what_to_do(hill):
    """A new local edition is told to adopt first, and the edition that it extends must be there."""
    text = (hill.folder / "edition.yaml").read_text()
    (hill.root / "cards" / "new").mkdir()
    path = hill.root / "cards" / "new" / "edition.yaml"
    path.write_text(text)
    refused(
        run("check", "cards/new"),
        "cards/new/edition.yaml:1:1: extends another edition, but none was adopted yet; run 'cardwright adopt' on this edition's folder",
    )
    path.write_text(text.replace("extends: small", "extends: smal"))
    result = run("adopt", "cards/new")
    assert (result.exit_code, result.stderr.splitlines()[0].partition(";")[0]) == (2, "smal:1:1: unknown edition 'smal'")


def test_own_files_can_not_hide_the_reference_s_tables(hill):
    """A table of the same name would change every value without a word of it; it is refused."""
    path = hill.folder / "sources" / "figures" / "child.yaml"
    path.parent.mkdir(parents=True)
    path.write_bytes((hill.root / "sources" / "figures" / "child.yaml").read_bytes())
    told = "has the name of a table of the reference; state what differs in edition.yaml, or give it another name"
    refused(run("check", "cards/hill"), f"cards/hill/sources/figures/child.yaml:1:1: {told}")


def test_an_own_card_is_changed_in_its_own_file(hill):
    """An entry for a card of the service's own would do nothing, and is told."""
    (hill.folder / "rates.yaml").write_bytes((hill.root / "cards" / "small" / "rates.yaml").read_bytes())
    hill.state("charts:\n  rates/running: {leave out: yes, reason: r}\n")
    told = "changes card 'rates', which is this edition's own; change rates.yaml and delete the entry"
    refused(run("check", "cards/hill"), f"{HILL}:29:3: {told}")


def test_an_entry_for_a_table_that_no_card_uses(hill):
    """A value that reaches no card is a change that nobody sees."""
    hill.edit(HILL, "cards: [rates, sizes]", "cards: [rates]")
    hill.state("givens:\n  figures/child:reserve: {value: 300 psi, cite: {hill-protocol: p. 1}, reason: r}\n")
    told = "no card of this edition uses figures/child; delete the entry, or add a card that does"
    refused(run("check", "cards/hill"), f"{HILL}:29:3: {told}")


def test_a_broken_file_brings_no_faults_that_are_none(hill):
    """Where edition.yaml can't be read, its own cards and tables are not judged as if it extended nothing."""
    (hill.folder / "places.yaml").write_text("title: Places\nfaces:\n  - charts:\n      - {title: T, source: own/places, table: places}\n")
    hill.edit(HILL, "title: Hill cards", "title: [Hill")
    (line,) = (line for line in run("check", "cards/hill").stderr.splitlines() if HILL in line or "places" in line)
    assert line == f"{HILL}:4:7: is not YAML: expected ',' or ']', but got ':'; mend the line"


def test_alias_bomb_is_refused_at_its_first_alias(hill):
    """A few hundred bytes that would become a hundred million are refused before anything is copied."""
    hill.state(BOMB.replace("subject:", "left out:").replace("open:", "waivers:"))
    refused(run("check", "cards/hill"), f"{HILL}:28:11: uses an anchor or alias (&name, *name); expected the value itself: write it out")


def test_a_reference_that_is_broken_now_is_told_there(hill):
    """Adopting reads the reference as it is now: its faults are told at its own lines, without the change that lies over them."""
    hill.state("givens:\n  infusions/samplamine:dose.ceiling.at: {value: 1 mcg/kg/min, cite: {hill-protocol: p. 1}, reason: r}\n")
    hill.edit("sources/infusions/samplamine.yaml", "dose:\n", "doses:\n")
    hill.edit("cards/small/edition.yaml", "caution: For tests only.\n", "")
    hill.edit("cards/small/rates.yaml", "title: Rates\n", "title: Rates\nfacets: none\n")
    refused(
        run("adopt", "cards/hill"),
        "cards/small/edition.yaml:2:1: 'caution' is missing; expected it here: add 'caution: …'",
        "cards/small/rates.yaml:3:1: unknown key 'facets'; did you mean 'faces'?",
        "sources/infusions/samplamine.yaml:2:1: 'dose' is missing; expected it here: add 'dose: …'",
        "sources/infusions/samplamine.yaml:11:1: unknown key 'doses'; did you mean 'dose'?",
    )


SCRIPT = "<script>alert(1)</script>"
FULL = f"""
caution: Look twice {SCRIPT}
address: {SCRIPT}
left out: {SCRIPT}
givens:
  infusions/samplamine:dose.ceiling.at:
    value: 1 mcg/kg/min
    says: most {SCRIPT}
    again: {{reads: 1 mcg/kg/min, cite: {{hill-stock: "{SCRIPT}"}}}}
    cite: {{hill-protocol: "{SCRIPT}"}}
    reason: {SCRIPT}
charts:
  rates/running: {{notes: [line, ours], reason: "{SCRIPT}"}}
notes:
  infusions/samplamine:ours: {{text: "Words {SCRIPT}", cite: {{hill-stock: "{SCRIPT}"}}, reason: "{SCRIPT}"}}
waivers:
  - {{code: "{SCRIPT}", where: "{SCRIPT}", reason: "{SCRIPT}", by: "{SCRIPT}", on: 2026-05-01, until: 2026-12-31}}
"""


def test_markup_in_any_text_stays_text(hill):
    """No text of a local edition reaches a page as markup, in whatever field it stands."""
    for field in (
        "title: Infusions of the service",
        "short: hill protocol",
        "publisher: Hill Transfer\n",
        "identifier: H-1",
        "title: Hill cards",
        "issuer: Hill Transfer\n",
    ):
        hill.edit(HILL, field, f"{field.rstrip()} {SCRIPT}" + "\n" * field.endswith("\n"))
    hill.state(FULL)
    book, outcomes = checked(hill.folder)
    pages = Pages(book, "sha256:" + "0" * 64, outcomes)
    for page in (pages.audit(), pages.index(list(book.edition.cards)), *map(pages.card, book.edition.cards)):
        assert "<script>alert" not in page
        assert "&lt;script&gt;alert" in page


VALUES = ["value: 1 mcg/kg/min", "amount: 4 mg", "down: {weight: 40 kg}", "mix: 16 mcg/mL"]


@pytest.mark.parametrize("field", VALUES)
def test_markup_in_a_value_is_refused(hill, field):
    """Where a number is expected, markup is no number."""
    broken = re.sub(r"(: \{?\w*:? ?)[0-9]+", rf"\1{SCRIPT}", field)
    given = "infusions/samplamine:mix.16-mcg-mL" if "amount" in field else "infusions/samplamine:dose.ceiling.at"
    if field.startswith(("value", "amount")):
        more = "value: 16 mcg/mL, volume: 250 mL, " if "amount" in field else ""
        hill.state(f'givens:\n  "{given}": {{{more}{broken.replace("<", "<")}, cite: {{hill-protocol: p. 1}}, reason: r}}\n')
    else:
        hill.state(f"charts:\n  rates/running: {{{broken}, reason: r}}\n")
    result = run("check", "cards/hill")
    assert (result.exit_code, result.stdout) == (2, "")
    assert all(line.startswith(f"{HILL}:") for line in result.stderr.splitlines()[:-1])
    assert "is not a number as we write them" in result.stderr


MANY = """
pump: {step: 0.1 mL/h, coarse: {from: 100 mL/h, step: 1 mL/h}, least: 0.1 mL/h, most: 500 mL/h}
givens:
  infusions/samplamine:mix.16-mcg-mL: {value: 32 mcg/mL, amount: 8 mg, volume: 250 mL, cite: {hill-protocol: section 1}, reason: Bags}
  infusions/samplamine:dose.usual.to: {value: 0.2 mcg/kg/min, cite: {hill-protocol: section 2}, reason: Ours}
  figures/child:tubes-made: {value: "3, 4, 5 mm", cite: {hill-stock: page 1}, reason: Stock}
charts:
  rates/running: {across: {rate: "10, 20 mL/h"}, notes: [line], reason: Ours}
  sizes/blades: {leave out: yes, reason: Ours}
notes:
  infusions/samplamine:line: {text: Central line., cite: {hill-protocol: section 1}, reason: Ours}
"""
FILES = {
    "the local edition": ("cards/hill/edition.yaml", False),
    "the reference": ("cards/small/edition.yaml", True),
    "a card of the reference": ("cards/small/rates.yaml", True),
    "a drug of the reference": ("sources/infusions/samplamine.yaml", True),
    "a subject of the reference": ("sources/figures/child.yaml", True),
    "the documents of the reference": ("sources/references.yaml", True),
}


@pytest.mark.parametrize("name", FILES)
def test_no_edit_gives_a_traceback(hill, name):
    """Slips in the local file, and in any file of the reference under it, are refused with places to mend or make an edition."""
    hill.state(MANY)
    file, current = FILES[name]
    path, draw, refusals = hill.root / file, random.Random(20261125), 0
    before = path.read_text(encoding="utf-8")
    for _ in range(12):
        path.write_text(edited(before, draw), encoding="utf-8")
        problems = refusal(hill.folder, current)
        refusals += bool(problems)
        assert all(problem.line >= 1 and problem.column >= 1 and problem.message for problem in problems)
    assert refusals > 0


def refusal(folder: Path, current: bool) -> list[Problem]:
    """Why an edition can't be made, or nothing."""
    try:
        compute(load(folder, current=current))
    except InputError as error:
        return error.problems
    return []
