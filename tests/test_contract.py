"""edition.json, the agreement with other programs: its keys, its cross-references, and a digest that anyone can work out again."""

from __future__ import annotations

import copy
import hashlib
import json
import re
from collections import Counter
from fractions import Fraction

import pytest

from cardwright.checked import checked
from cardwright.render.contract import contract, digest

TOP = {"format", "program", "edition", "digest", "cards", "charts", "traces", "givens", "references", "checks"}
KEYS = {
    "edition": {"name", "title", "issuer", "number", "status", "issued", "review by"},
    "card": {"id", "title", "faces", "charts", "notes"},
    "note": {"text", "cite"},
    "chart": {"id", "title", "formula", "unit", "rows", "columns", "cells"},
    "rows": {"name", "unit", "values"},
    "cell": {"printed", "exact", "state", "trace"},
    "trace": {"formula", "working", "rounding", "inputs"},
    "given": {"value", "says", "file", "line", "cite"},
    "check": {"id", "status", "severity", "looked at", "where", "message", "findings", "waived"},
}
REFERENCE = {"title", "short", "publisher", "year", "identifier", "kind", "read", "review by"}
STATES = {"ok", "over", "least", "most", "step", "outside"}


def canonical(value) -> str:
    """Canonical JSON, written here by hand: keys in order of their code points, no white space, no escapes but JSON's own."""
    if isinstance(value, dict):
        return "{" + ",".join(f"{canonical(key)}:{canonical(value[key])}" for key in sorted(value)) + "}"
    if isinstance(value, list):
        return "[" + ",".join(map(canonical, value)) + "]"
    if isinstance(value, str):
        return '"' + re.sub(r'[\\"\x00-\x1f]', lambda found: json.dumps(found[0])[1:-1], value) + '"'
    return {None: "null", True: "true", False: "false"}[value]


def fingerprint(data: dict) -> str:
    """The digest as the agreement words it: SHA-256 over the canonical JSON of cards and charts."""
    return "sha256:" + hashlib.sha256(canonical({"cards": data["cards"], "charts": data["charts"]}).encode("utf-8")).hexdigest()


def of(small) -> dict:
    """edition.json of the small edition, through JSON and back."""
    return json.loads(json.dumps(contract(*checked(small.folder))))


@pytest.fixture(scope="module")
def data(built) -> dict:
    """edition.json as written; a key that stands twice in one object is an error."""

    def once(pairs: list) -> dict:
        assert len(dict(pairs)) == len(pairs), [key for key, _ in pairs]
        return dict(pairs)

    return json.loads(built.files["edition.json"].decode("utf-8"), object_pairs_hook=once)


@pytest.fixture(params=["small", "reference"])
def either(request) -> dict:
    """edition.json of the small and of the reference edition."""
    return of(request.getfixturevalue("small")) if request.param == "small" else request.getfixturevalue("data")


def cells(data: dict):
    """Every cell with its chart, row and column."""
    for chart in data["charts"]:
        for r, row in enumerate(chart["cells"]):
            for c, cell in enumerate(row):
                yield chart, r, c, cell


def test_the_keys_are_those_that_were_agreed(either):
    """Another program reads these keys and no others; a key that goes or changes its name breaks it."""
    assert either["format"] == "cardwright-edition/1"
    assert set(either) == TOP
    assert set(either["edition"]) == KEYS["edition"]
    for kind, found in (
        ("card", either["cards"]),
        ("note", [note for card in either["cards"] for note in card["notes"]]),
        ("chart", either["charts"]),
        ("rows", [chart["rows"] for chart in either["charts"]]),
        ("cell", [cell for *_, cell in cells(either)]),
        ("trace", either["traces"].values()),
        ("given", either["givens"].values()),
        ("check", either["checks"]),
    ):
        assert found
        assert all(set(one) == KEYS[kind] for one in found), kind
    assert all(REFERENCE <= set(one) <= REFERENCE | {"note"} for one in either["references"].values())
    assert re.fullmatch(r"sha256:[0-9a-f]{64}", either["digest"])


def test_columns_tell_their_units_and_formulas_where_the_chart_has_not_one(either):
    """A chart has one formula and one unit, or its columns have one each: a reader of the data never guesses a unit."""
    for chart in either["charts"]:
        columns = chart["columns"]
        mixed = chart["formula"] is None or chart["unit"] is None
        assert set(columns) - {"groups"} == KEYS["rows"] | ({"units", "formulas"} if mixed else set())
        assert len(columns.get("groups", columns["values"])) == len(columns["values"])
        assert all(len(columns[key]) == len(columns["values"]) for key in ("units", "formulas") if mixed)
        assert not mixed or len(set(columns["units"])) > 1 or len(set(columns["formulas"])) > 1 or columns["formulas"][0] is None
        assert len(chart["cells"]) == len(chart["rows"]["values"])
        assert len(set(chart["rows"]["values"])) == len(chart["cells"]) or chart["formula"] is None  # a published ladder repeats its steps
        assert all(len(row) == len(columns["values"]) for row in chart["cells"])


def test_every_trace_belongs_to_one_cell_and_every_cell_with_a_value_has_one(either):
    """A trace id leads to one cell; only a cell that shows a mark for want of an input has no trace."""
    used = Counter(cell["trace"] for *_, cell in cells(either) if cell["trace"])
    assert set(used.values()) == {1}
    assert set(used) == set(either["traces"])
    assert all(re.fullmatch(r"t[1-9][0-9]*", trace) for trace in used)
    assert all(cell["trace"] or cell["state"] == "outside" for *_, cell in cells(either))


def test_every_name_leads_somewhere(either):
    """Charts of cards, givens of traces, references of citations, files and lines of givens: none leads nowhere, none is idle."""
    assert [chart for card in either["cards"] for chart in card["charts"]] == [chart["id"] for chart in either["charts"]]
    named = {name for trace in either["traces"].values() for name in trace["inputs"] if ": " not in name}
    assert named <= set(either["givens"])
    assert all(trace["inputs"] for trace in either["traces"].values())
    cites = [given["cite"] for given in either["givens"].values()] + [note["cite"] for card in either["cards"] for note in card["notes"]]
    assert all(cite and all(locator for _, locator in cite) for cite in cites)
    assert {key for cite in cites for key, _ in cite} <= set(either["references"])
    assert all(given["file"].startswith("sources/") and given["line"] >= 1 for given in either["givens"].values())


def test_exact_values_are_fractions_and_marks_have_no_figures(either):
    """``exact`` reads as a fraction; what must not be used as a number prints none; a printed number is within its rounding."""
    for chart, _, _, cell in cells(either):
        assert cell["state"] in STATES
        assert cell["printed"]
        if cell["exact"] is not None:
            assert str(Fraction(cell["exact"])) == cell["exact"]
        if cell["state"] != "ok":
            assert not re.search(r"\d", cell["printed"])
        elif cell["exact"] is not None and chart["formula"] == "infusion.rate":
            printed = Fraction(cell["printed"].replace(",", ""))
            assert abs(printed - Fraction(cell["exact"])) <= (Fraction(1, 20) if printed < 100 else Fraction(1, 2))


def test_figures_worked_by_hand_stand_in_the_reference_edition(data):
    """Three rates that anyone can work out: dose × weight × 60 ÷ concentration, and a carried-over published cell."""
    chart = next(chart for chart in data["charts"] if chart["id"] == "vasopressors/norepinephrine-16-mcg-mL")
    at = {
        (head, column): cell
        for head, row in zip(chart["rows"]["values"], chart["cells"])
        for column, cell in zip(chart["columns"]["values"], row)
    }
    for weight, dose, exact, printed in (("70", "0.1", "105/4", "26.3"), ("40", "0.05", "15/2", "7.5"), ("120", "0.5", "225", "225")):
        assert (at[weight, dose]["exact"], at[weight, dose]["printed"], at[weight, dose]["state"]) == (exact, printed, "ok")
        assert data["traces"][at[weight, dose]["trace"]]["formula"] == "infusion.rate"
    assert data["traces"][at["70", "0.1"]["trace"]]["working"] == "0.1 mcg/kg/min × 70 kg ÷ 16 mcg/mL × 60 min/h = 26.25 mL/h"


def test_the_digest_can_be_worked_out_by_anyone(either):
    """The digest printed on a card is the SHA-256 of the data in hand, so a card can be tied to its edition years later."""
    assert either["digest"] == fingerprint(either)


@pytest.mark.parametrize(
    "path",
    [
        ("charts", 0, "cells", 0, 0, "printed"),
        ("charts", 0, "cells", 1, 2, "exact"),
        ("charts", 1, "rows", "values", 0),
        ("charts", 0, "unit"),
        ("charts", 2, "columns", "units", 0),
        ("charts", 0, "cells", 0, 0, "state"),
        ("cards", 0, "notes", 0, "text"),
        ("cards", 0, "notes", 0, "cite", 0, 1),
        ("cards", 0, "title"),
    ],
)
def test_any_change_to_what_is_printed_changes_the_digest(small, path):
    """One digit, one unit, one word of a note: the digest on the card is another one."""
    data = of(small)
    content = {"cards": data["cards"], "charts": data["charts"]}
    assert digest(content) == data["digest"]
    changed = copy.deepcopy(content)
    place = changed
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] += "1"
    assert digest(changed) != data["digest"]


@pytest.mark.parametrize(
    ("file", "old", "new", "same"),
    [
        ("cards/small/edition.yaml", "issued: 2026-01-01", "issued: 2026-02-01", True),
        ("cards/small/edition.yaml", "review by: 2027-01-01", "review by: 2027-02-01", True),
        ("cards/small/edition.yaml", "number: 1", "number: 2", True),
        ("sources/references.yaml", "short: sample label", "short: another label", True),
        ("cards/small/rates.yaml", "2, 4, 70, 133.2, 133.3 kg", "2, 4, 71, 133.2, 133.3 kg", False),
        ("sources/infusions/samplamine.yaml", "Give through a large vein.", "Give through a vein.", False),
        ("cards/small/rates.yaml", "notes: [line]", "notes: []", False),
        ("cards/small/edition.yaml", "cards: [rates, sizes]", "cards: [sizes, rates]", False),
    ],
)
def test_the_digest_tells_another_content_from_another_date(small, file, old, new, same):
    """An edition issued again on another day with the same figures has the same digest; another figure or note has not."""
    before = of(small)["digest"]
    small.edit(file, old, new)
    assert (of(small)["digest"] == before) is same
