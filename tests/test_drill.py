"""The drill: slips are caught by the checks that are there for them, and what is not caught is told with its line."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest

from cardwright.checks import CHECKS
from cardwright.drill import EARLY, LATE, _Drill, choose, counted, drill
from cardwright.slips import slips

DRUG, CHILD = "infusions/samplamine", "figures/child"


def caught(small, file: str, kind: str, became: str, what: str = "") -> str | None:
    """What catches the one slip of this kind in a file that leaves this text."""
    edition = small.load()
    [slip] = [s for s in slips(edition) if (s.source or s.card) == file and (s.kind, s.became) == (kind, became) and what in s.what]
    return _Drill(edition).caught(slip)


# Which check is there for which slip; each follows from what the check asks, not from a run.
CATCHES = [
    (DRUG, "amount for volume", "250 mL … 4 mg", "", "input"),
    (DRUG, "concentration not worked out again", "8 mg", "", "input"),
    (DRUG, "tenfold up", "160 mcg/mL", "", "input"),
    (DRUG, "per kg dropped", "2 mcg/min", "", "input"),
    (DRUG, "ends of a range", "0.1 mcg/kg/min … 0.01 mcg/kg/min", "", "input"),
    (DRUG, "tenfold down", "0.2 mcg/kg/min", "ceiling", "witness.readings"),
    (DRUG, "thousandfold up", "10 mcg/kg/min", "start", "limits.order"),
    (DRUG, "min for h", "2 mcg/kg/h", "ceiling", "limits.order"),
    (DRUG, "min for h", "0.1 mcg/kg/h", "usual.to", "input"),
    (CHILD, "one figure", "4.5 kg/year", "", "witness.readings"),
    (CHILD, "columns of a table", "length … blade", "", "witness.readings"),
    (CHILD, "another document", "sample-label", "breath", "citation.covers"),
    ("rates", "formula turned around", "infusion.rate", "", "input"),
]


@pytest.mark.parametrize(("file", "kind", "became", "what", "check"), CATCHES)
def test_a_slip_is_caught_by_the_check_that_is_there_for_it(small, file, kind, became, what, check):
    """Unreadable tables are told as input; the rest by the first check that finds what it did not find before."""
    assert caught(small, file, kind, became, what) == check


def test_what_no_check_catches_survives_and_is_told(small):
    """Without its second reading, a ceiling of 3 for 2 is a plausible one: the report names the line and what would catch it."""
    small.edit("sources/infusions/samplamine.yaml", "  dose.ceiling.at: {reads: 2 mcg/kg/min, cite: {sample-book: p. 4}}\n", "")
    results = drill(small.folder, seed=1, count=5000, jobs=1)
    report = counted(results, 1)
    [told] = [one for one in report["survivors"] if one["became"] == "3 mcg/kg/min"]
    assert told == {
        "kind": "one figure",
        "where": "sources/infusions/samplamine.yaml:21",
        "what": "dose.ceiling.at",
        "was": "2 mcg/kg/min",
        "became": "3 mcg/kg/min",
        "would_catch": "a reading of dose.ceiling.at, or a witness that uses it",
    }


def test_the_counts_add_up(small):
    """Each slip is counted once by kind, and once by check or as a survivor."""
    results = drill(small.folder, seed=1, count=400, jobs=1)
    report = counted(results, 1)
    assert report["seeded"] == len(results) == sum(of["seeded"] for of in report["by_kind"].values()) == 400
    assert report["caught"] == sum(report["by_check"].values()) == sum(of["caught"] for of in report["by_kind"].values())
    assert report["seeded"] - report["caught"] == len(report["survivors"])
    assert report["critical"]["seeded"] == sum(result.slip.critical for result in results)


def test_a_seed_is_the_same_drill_on_any_number_of_processes(small):
    """The same seed gives the same slips and the same results; another seed gives others."""
    one = drill(small.folder, seed=3, count=60, jobs=1)
    assert one == drill(small.folder, seed=3, count=60, jobs=2)
    assert [r.slip for r in one] != [r.slip for r in drill(small.folder, seed=4, count=60, jobs=1)]


def test_the_kinds_take_turns(small):
    """No kind is seeded less than another by more than one, unless it has no more; asked for more than there are, all are seeded."""
    every = list(slips(small.load()))
    there = Counter(slip.kind for slip in every)
    chosen = Counter(slip.kind for slip in choose(every, 5, 100))
    most = max(chosen.values())
    assert all(chosen[kind] >= most - 1 or chosen[kind] == count for kind, count in there.items())
    assert Counter(slip.kind for slip in choose(every, 5, 10**6)) == there


def test_progress_is_told_to_the_end(small):
    """Whoever waits sees how many of how many."""
    told = []
    drill(small.folder, seed=1, count=60, jobs=1, told=lambda done, of: told.append((done, of)))
    assert (told[-1], sorted(told)) == ((60, 60), told)


def test_only_errors_count():
    """A warning stops no build, so it catches nothing; every check of severity error over an edition takes part."""
    assert {*EARLY, *LATE} == {id for id, item in CHECKS.items() if item.subject == "edition" and item.severity == "error"}


def test_an_edition_that_fails_before_is_not_credited(small):
    """A finding that was there before the slip is not the slip's."""
    small.edit("sources/infusions/samplamine.yaml", "reads: 2 mcg/kg/min", "reads: 3 mcg/kg/min")
    edition = small.load()
    [slip] = [s for s in slips(edition) if s.became == "4 mcg/kg/min" and "ceiling" in s.what]
    assert _Drill(edition).caught(slip) is None
    assert _Drill(edition).caught(replace(slip, changes=())) is None
