"""Keys for tests, made once a run: a director, a second signatory, and someone whom nobody knows."""

from __future__ import annotations

import datetime
from functools import cache

from cardwright.approval.keys import Key, load_key, new_key

PASSPHRASE = "a passphrase for tests"
DAY = datetime.date(2026, 1, 1)  # from which the keys hold, for three years
NOON = datetime.datetime(2026, 6, 1, 12, tzinfo=datetime.UTC)


@cache
def packed(name: str, organization: str) -> bytes:
    """The file of a person's key; two organizations' are two."""
    return new_key(name, organization, PASSPHRASE, years=3, today=DAY)[0]


@cache
def key(name: str, organization: str = "Valley Transport") -> Key:
    """The same, open."""
    return load_key(packed(name, organization), PASSPHRASE)
