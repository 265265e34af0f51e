"""What a face says of its edition, and what its square code holds, on each day of an approval and without one."""

from __future__ import annotations

import datetime
from dataclasses import replace

import pytest
from approvals import approval, chain

from cardwright.build import build
from cardwright.checked import checked, stands
from cardwright.render.contract import contract
from cardwright.standing import Standing, Terms, approved, shown_digest, terms, unapproved

DIGEST = "sha256:" + "1234abcd" + "0" * 56
ONE, TWO = ("R. Marlow",), ("R. Marlow", "S. Okoro")
ON, LAST = datetime.date(2026, 6, 1), datetime.date(2027, 5, 31)
A_DAY = datetime.timedelta(days=1)
REVIEW, LATE = datetime.date(2027, 1, 1), "; was due for review on 2027-01-01"


def asked(names: tuple[str, ...]) -> Terms:
    """An approval by these."""
    return Terms("Small edition", 1, DIGEST, names, ON, LAST)


def test_the_digest_is_shown_by_its_first_eight_figures():
    """Two groups of four can be told over the radio."""
    assert shown_digest(DIGEST) == "1234 abcd"


def test_a_draft_and_the_reference_say_what_they_are(small):
    """Neither is approved; only a draft has a word across it."""
    edition = small.load()
    issue = "Small edition 1, issued 2026-01-01, review by 2027-01-01, 1234 abcd."
    code = f"CARDWRIGHT SMALL 1 1234ABCD{'0' * 56} 2027-01-01"
    words = "DRAFT, not approved"
    assert unapproved(edition, DIGEST) == Standing("draft", words, issue, "DRAFT", code, words, f"{words}{LATE}", REVIEW)
    words = "REFERENCE, not a local protocol"
    told = Standing("reference", words, issue, "", code, words, f"{words}{LATE}", REVIEW)
    assert unapproved(edition, DIGEST, "reference") == told
    small.edit("cards/small/edition.yaml", "status: draft", "status: reference")
    assert unapproved(small.load(), DIGEST) == told


@pytest.mark.parametrize(("names", "by"), [(ONE, "R. Marlow"), (TWO, "R. Marlow and S. Okoro")])
def test_an_approval_is_told_until_its_last_day_and_its_end_from_the_day_after(small, names, by):
    """By whom, on which day and until when; on the last day it still holds."""
    code = f"CARDWRIGHT SMALL 1 1234ABCD{'0' * 56} 2027-05-31"
    says, band = f"APPROVED by {by} on 2026-06-01, expires 2027-05-31", "APPROVED, expires 2027-05-31"
    later = "EXPIRED on 2027-05-31, do not use"
    held = Standing("approved", says, "Small edition 1, 1234 abcd.", "", code, band, later, LAST)
    for day in (ON, LAST):
        assert approved(small.load(), asked(names), day) == held
    over = replace(held, status="expired", says=later, band=later, stamp="EXPIRED")
    assert approved(small.load(), asked(names), LAST + A_DAY) == over


def test_the_code_names_the_address_of_the_service(hill):
    """Where the service states one, a crew finds it in the code; capitals keep the code small."""
    hill.state("address: https://cards.example/hill\n")
    assert unapproved(hill.load(), DIGEST).code == f"CARDWRIGHT HILL 3 1234ABCD{'0' * 56} 2027-01-01 HTTPS://CARDS.EXAMPLE/HILL"


def test_an_edition_stands_as_its_register_says_and_a_broken_register_approves_nothing(small):
    """Approved; then a byte is added to the approval, and the same content is a draft."""
    [made] = chain(small, 1)
    book, outcomes = checked(small.folder)
    digest = contract(book, outcomes)["digest"]
    assert stands(book, digest) == approved(book.edition, terms(made.manifest), ON)
    assert stands(book, DIGEST).status == "draft"
    with (small.folder / "approvals" / "1.pdf").open("ab") as file:
        file.write(b"\n")
    assert stands(book, digest).status == "draft"


def test_an_approval_that_waits_for_a_second_signature_approves_nothing(small):
    """One of two has signed: the cards say DRAFT."""
    chain(small, 0)
    made = approval(small.folder, two=True)
    (small.folder / "approvals").mkdir()
    (small.folder / "approvals" / "1.pdf").write_bytes(made.pdf)
    book, _ = checked(small.folder)
    assert stands(book, made.manifest.digest).status == "draft"


def test_one_card_alone_has_the_whole_edition_s_digest_and_standing(small):
    """``build --card`` makes the file that the whole build makes, byte for byte; edition.json tells the same status."""
    [made] = chain(small, 1)
    alone = build(small.folder, only=("rates",))
    assert alone.files["cards/rates.pdf"] == made.files["cards/rates.pdf"]
    assert alone.files["cards/rates.html"] == made.files["cards/rates.html"]
    assert b'"status": "approved"' in alone.files["edition.json"]


def test_another_template_is_another_edition(hill):
    """What decides how a card looks was approved with it: a template that comes or changes gives another digest, and so a draft."""
    digests = []
    for style in (None, "p { margin: 0 }", "p { margin: 1mm }"):
        if style:
            (hill.folder / "templates").mkdir(exist_ok=True)
            (hill.folder / "templates" / "own.css").write_text(style, encoding="utf-8")
        digests.append(contract(hill.compute(), ())["digest"])
    assert len(set(digests)) == 3
