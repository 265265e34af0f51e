"""What an approval waits for, and which changes are large: on the local edition's book, without building it."""

from __future__ import annotations

import datetime
import json
from dataclasses import replace

import pytest
from approvals import DIRECTOR, SECOND, trust
from keyring import key
from test_local import entry, state

from cardwright.approval import Refused
from cardwright.approving import Asked, large, last, stands_against, terms_of
from cardwright.checked import checked
from cardwright.render.contract import contract

ON = datetime.date(2026, 6, 1)
ASKED = Asked((DIRECTOR,), ON, datetime.date(2027, 1, 1), ())
CEILING, CHILD = "infusions/samplamine:dose.ceiling.at", "figures/child:breath"


def against(hill, asked: Asked = ASKED) -> list[str]:
    """What stands against an approval of the edition as it is."""
    trust(hill, "R. Marlow")
    book, outcomes = checked(hill.folder)
    register = last(book.edition, key("R. Marlow"))
    return stands_against(book.edition, outcomes, register, json.loads(json.dumps(contract(book, outcomes))), asked)


def test_a_good_edition_waits_for_nothing_up_to_its_review(hill):
    """Its last day may be the day of its review; a warning that is none for approval does not count."""
    assert against(hill) == []
    assert against(hill, replace(ASKED, expires=ON + datetime.timedelta(days=1))) == []


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ({"expires": ON}, f"--expires: {ON} is not after today, {ON}; expected a later day"),
        ({"expires": datetime.date(2027, 1, 2)}, "--expires: 2027-01-02 is after the edition's review, 2027-01-01; expected that day or"),
        ({"signatories": (DIRECTOR, SECOND)}, "edition.yaml: 'signatures' asks for 1 signatures, and 2 are named; leave --second out"),
        ({"acknowledged": (CEILING,)}, f"--acknowledge: '{CEILING}' is no large change of this edition; leave it out"),
    ],
)
def test_each_fault_of_what_is_asked_is_told_alone(hill, change, told):
    """One line, and no other."""
    [line] = against(hill, replace(ASKED, **change))
    assert line.startswith(told)


def test_every_given_of_a_first_edition_is_acknowledged_by_itself(hill):
    """Without an approval before, each given that departs from the reference is large; one acknowledged leaves the other."""
    state(hill, givens={CEILING: entry("1 mcg/kg/min"), CHILD: entry("7 mL/kg")})
    assert dict(large(hill.load(), None, {})) == {
        CEILING: "2 mcg/kg/min → 1 mcg/kg/min, against the reference",
        CHILD: "6 mL/kg → 7 mL/kg, against the reference",
    }
    [line] = against(hill, replace(ASKED, acknowledged=(CEILING,)))
    assert line.endswith(f"was it meant? Then say --acknowledge '{CHILD}'")
    assert against(hill, replace(ASKED, acknowledged=(CEILING, CHILD))) == []


def test_only_a_trusted_key_of_a_local_edition_opens_its_register(small, hill):
    """Someone else's key is refused, and so is the reference edition."""
    trust(hill, "R. Marlow")
    with pytest.raises(Refused, match="has not the certificate of stranger"):
        last(hill.load(), key("stranger"))
    with pytest.raises(Refused, match="small: is no local edition"):
        last(small.load(), key("R. Marlow"))


def test_the_terms_are_those_that_are_asked_for(hill):
    """What cards will print: title, number, names and days."""
    found = terms_of(hill.load(), "sha256:0", replace(ASKED, signatories=(DIRECTOR, SECOND)))
    assert (found.title, found.number, found.names) == ("Hill cards", 3, ("R. Marlow", "S. Okoro"))
    assert (found.on, found.expires) == (ON, ASKED.expires)
