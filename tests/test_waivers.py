"""Waivers: a finding is set apart only for its code, its place and its time, and an idle or ended waiver is an error."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest
from test_checks import BREAKS, RATES

from cardwright.charts import Book
from cardwright.checks import CHECKS, run_checks, waived
from cardwright.models import Waiver

DAY = datetime.date(2027, 1, 10)
PLACE = f"{RATES}, 70 kg, 0.1 mcg/kg/min"


def waiver(code: str = "arithmetic.return/input", where: str = PLACE, until: str = "2027-02-01") -> Waiver:
    """A waiver that holds for the broken cell, or is off by one thing."""
    told = {"code": code, "where": where, "reason": "printed so by the pump's maker", "by": "R. Marlow", "on": "2026-12-01"}
    return Waiver.model_validate({**told, "until": until})


def outcomes(book: Book, *waivers: Waiver):
    """What the checks say of a book on 10 January 2027 with these waivers, by check."""
    edition = replace(book.edition, spec=book.edition.spec.model_copy(update={"waivers": list(waivers)}), today=DAY)
    book = replace(book, edition=edition)
    return {outcome.check.id: outcome for outcome in waived(book, run_checks(book))}


@pytest.fixture
def broken(small) -> Book:
    """The small edition with 26.1 printed for 26.25."""
    return BREAKS["arithmetic.return", "input"](small.compute())


def test_a_waived_finding_is_set_apart_and_told(broken):
    """The check passes, and the finding stands with the waiver that covers it."""
    found = outcomes(broken, waiver())
    assert (found["arithmetic.return"].status, found["waivers.current"].status) == ("pass", "pass")
    [(finding, by)] = found["arithmetic.return"].waived
    assert (finding.where, by.by) == (PLACE, "R. Marlow")


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"code": "rounding.error/moved"}, "unused"),
        ({"where": f"{RATES}, 60 kg, 0.1 mcg/kg/min"}, "unused"),
        ({"until": "2027-01-09"}, "expired"),
        ({"code": "arithmetic.returns/input"}, "unknown"),
    ],
)
def test_a_waiver_covers_one_code_at_one_place_for_a_time(broken, changes, code):
    """Off by one thing, it covers nothing, and is an error itself."""
    found = outcomes(broken, waiver(**changes))
    assert found["arithmetic.return"].status == "fail"
    assert [finding.code for finding in found["waivers.current"].findings] == [code]


def test_a_waiver_holds_to_the_end_of_its_last_day(broken):
    """Its end is the last day on which it holds."""
    assert outcomes(broken, waiver(until="2027-01-10"))["arithmetic.return"].status == "pass"


def test_a_waiver_for_a_card_that_was_not_read_is_not_idle(small):
    """Building one card alone says nothing of the findings on the others."""
    book = small.compute()
    part = replace(book, edition=replace(book.edition, cards=dict(list(book.edition.cards.items())[:1])))
    assert [finding.code for finding in outcomes(book, waiver())["waivers.current"].findings] == ["unused"]
    assert outcomes(part, waiver())["waivers.current"].findings == ()


def test_every_code_has_a_case_here():
    """The cases above reach each code of the check."""
    assert set(CHECKS["waivers.current"].codes) == {"unknown", "expired", "unused"}
