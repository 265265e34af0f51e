"""The slips that are seeded: each changes its own place and nothing else, and they are the same every time."""

from __future__ import annotations

from cardwright.slips import changed, slips


def leaves_of(node, path=()):
    """Every scalar of a table by its path."""
    if isinstance(node, (dict, list)):
        for key, item in node.items() if isinstance(node, dict) else enumerate(node):
            yield from leaves_of(item, (*path, str(key)))
    else:
        yield path, str(node)


def test_a_slip_changes_its_own_place_alone(small):
    """In memory the table differs from the one on disk where the slip says, and the edition's own table is as it was."""
    edition = small.load()
    seen = set()
    for slip in slips(edition):
        table = edition.sources[slip.source].places if slip.source else edition.tables[slip.card]
        before, after = dict(leaves_of(table)), dict(leaves_of(changed(table, slip.changes)))
        touched = {path for path in {*before, *after} if before.get(path) != after.get(path)}
        assert touched, slip
        assert all(any(path[: len(place)] == tuple(map(str, place)) for place, _ in slip.changes) for path in touched), slip
        seen.add(slip.kind)
    assert {"ends of a range", "amount for volume", "concentration not worked out again", "columns of a table", "another document"} <= seen
    assert {"formula turned around", "tenfold up", "one figure", "months for years", "psi for bar"} <= seen


def test_the_slips_are_the_same_every_time(small):
    """The population is enumerated in a fixed order."""
    assert list(slips(small.load())) == list(slips(small.load()))
