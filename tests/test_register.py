"""The register of approvals: it grows by whole files, shows what was taken out or replaced, and answers what is approved today."""

from __future__ import annotations

import datetime
import errno
import json
import os
import resource
import signal
import time
import warnings
from multiprocessing import get_context

import pytest
from approvals import again, approval, chain, page, trust
from keyring import NOON, key

from cardwright import files
from cardwright.approval import Refused
from cardwright.approval.register import append, extend, read_register
from cardwright.approval.seal import countersign, sign
from cardwright.files import NotOurs

TODAY = datetime.date(2026, 6, 2)


def held(folder) -> dict[str, bytes]:
    """Every file of the register by name, hidden ones too."""
    return {path.name: path.read_bytes() for path in (folder / "approvals").iterdir()}


def test_an_edition_without_approvals_has_an_empty_register(small):
    """Nothing is approved, and nothing is wrong."""
    register = read_register(small.folder)
    assert (register.edition, register.entries, register.faults, register.newest) == ("small", (), (), None)
    assert register.approved("sha256:" + "0" * 64, TODAY) is None


def test_approvals_come_in_order_and_the_newest_is_in_force(small):
    """Each is superseded by the next; the content of the newest alone is approved."""
    first, *_, last = chain(small, 3)
    register = read_register(small.folder)
    assert [(entry.number, entry.superseded_by, entry.faults) for entry in register.entries] == [(1, 2, ()), (2, 3, ()), (3, None, ())]
    assert register.faults == ()
    assert register.newest.manifest == last.manifest
    assert register.newest.edition_json == json.loads(last.files["edition.json"])
    assert register.approved(last.manifest.digest, TODAY) == register.newest
    assert first.manifest.digest == last.manifest.digest
    assert register.approved("sha256:" + "0" * 64, TODAY) is None


def test_an_approval_holds_from_its_first_to_its_last_day(small):
    """Not the day before, not the day after; what has expired is still the one in force."""
    [made] = chain(small, 1)
    register, digest = read_register(small.folder), made.manifest.digest
    days = {datetime.date(2026, 5, 31): False, NOON.date(): True, datetime.date(2027, 6, 1): True, datetime.date(2027, 6, 2): False}
    assert {day: bool(register.approved(digest, day)) for day in days} == days
    assert register.in_force(digest) == register.newest
    assert (register.newest.expired(datetime.date(2027, 6, 1)), register.newest.expired(datetime.date(2027, 6, 2))) == (False, True)


def test_a_second_signatory_makes_it_complete(small):
    """One signature of two approves nothing; the second is put behind the first; a third has no room."""
    trust(small, "R. Marlow", "S. Okoro")
    made = approval(small.folder, two=True)
    append(small.folder, 1, made.pdf)
    entry = read_register(small.folder).newest
    assert (entry.awaits, entry.complete) == (1, False)
    assert read_register(small.folder).approved(made.manifest.digest, TODAY) is None
    both = countersign(made.pdf, key("S. Okoro"), reason="agreed", when=NOON)
    extend(small.folder, 1, both)
    assert held(small.folder) == {"1.pdf": both}
    entry = read_register(small.folder).approved(made.manifest.digest, TODAY)
    assert (entry.awaits, [signer.name for signer in entry.seal.signers]) == (0, ["R. Marlow", "S. Okoro"])


def test_nothing_is_ever_overwritten(small):
    """A number is taken once; an earlier one is never added; only a signature more changes the newest, and only it."""
    one, two = chain(small, 2)
    before = held(small.folder)
    with pytest.raises(NotOurs, match=r"approvals/2\.pdf: is there already, and is never overwritten"):
        append(small.folder, 2, one.pdf)
    (small.folder / "approvals" / "1.pdf").rename(small.root / "1.pdf")
    with pytest.raises(Refused, match=r"approvals/1\.pdf: approval 2 is there already; expected a later number"):
        append(small.folder, 1, one.pdf)
    (small.root / "1.pdf").rename(small.folder / "approvals" / "1.pdf")
    for number, data in ((1, one.pdf + b"more"), (2, one.pdf), (2, two.pdf[:-1])):
        with pytest.raises(Refused, match=r"is not the newest approval with a signature more; nothing else is ever changed there"):
            extend(small.folder, number, data)
    assert held(small.folder) == before


def taken_out(small, made):
    """The second of three is gone."""
    (small.folder / "approvals" / "2.pdf").unlink()


def replaced(small, made):
    """The second of three is another document that the director signed."""
    (small.folder / "approvals" / "2.pdf").write_bytes(again(made[1], address="elsewhere"))


def added_to(small, made):
    """The first has a byte more."""
    with (small.folder / "approvals" / "1.pdf").open("ab") as file:
        file.write(b"\n")


def unlinked(small, made):
    """A fourth that names none before it."""
    append(small.folder, 4, again(made[2], supersedes=None))


def skipping(small, made):
    """A third that takes the place of the first."""
    path = small.folder / "approvals" / "3.pdf"
    path.write_bytes(again(made[2], supersedes=made[1].manifest.supersedes))


def renamed(small, made):
    """The third under another number."""
    (small.folder / "approvals" / "3.pdf").rename(small.folder / "approvals" / "5.pdf")


def by_a_stranger(small, made):
    """The third is signed by someone else."""
    signed = again(made[2], by="stranger")
    (small.folder / "approvals" / "3.pdf").write_bytes(signed)


def not_a_number(small, made):
    """A file that somebody laid there."""
    (small.folder / "approvals" / "03.pdf").write_bytes(made[2].pdf)


def no_longer_trusted(small, made):
    """The director's certificate was taken away."""
    (small.folder / "certificates" / "R. Marlow.pem").unlink()


def another_clock(small, made):
    """Signed a month after the day of approval that it tells."""
    signed = again(made[2], when=NOON + datetime.timedelta(days=30))
    (small.folder / "approvals" / "3.pdf").write_bytes(signed)


def without_attachments(small, made):
    """A signed document with nothing in it."""
    (small.folder / "approvals" / "3.pdf").write_bytes(sign(page("x"), {}, key("R. Marlow"), reason="approved", when=NOON))


def another_content(small, made):
    """A signed document whose attachments do not fit."""
    changed = made[2].attached | {"edition.json": made[2].attached["edition.json"].replace(b'"26.3"', b'"36.3"')}
    (small.folder / "approvals" / "3.pdf").write_bytes(sign(page("x"), changed, key("R. Marlow"), reason="approved", when=NOON))


def a_key_more(small, made):
    """A manifest with a key that nobody knows."""
    told = json.loads(made[2].attached["manifest.json"]) | {"waived": True}
    changed = made[2].attached | {"manifest.json": json.dumps(told).encode()}
    (small.folder / "approvals" / "3.pdf").write_bytes(sign(page("x"), changed, key("R. Marlow"), reason="approved", when=NOON))


FAULTS = {
    taken_out: ["approvals/3.pdf: takes the place of approval 2, which is not here: it was taken out"],
    replaced: ["approvals/3.pdf: takes the place of another file than the one that is here as approval 2: it was replaced"],
    added_to: [
        "approvals/1.pdf: was added to after it was signed",
        "approvals/2.pdf: takes the place of another file than the one that is here as approval 1: it was replaced",
    ],
    unlinked: [
        "approvals/4.pdf: is approval 3 by its manifest",
        "approvals/4.pdf: does not tell that it takes the place of approval 3",
    ],
    skipping: ["approvals/3.pdf: takes the place of approval 1; expected 2, which came before it"],
    renamed: ["approvals/5.pdf: is approval 3 by its manifest"],
    by_a_stranger: ["approvals/3.pdf: is signed by 'stranger' with a certificate that is not among those who may sign ("],
    not_a_number: ["approvals/03.pdf: is no number; expected only approvals, such as 1.pdf"],
    no_longer_trusted: [
        f"approvals/{n}.pdf: is signed by 'R. Marlow' with a certificate that is not among those who may sign (" for n in (1, 2, 3)
    ],
    another_clock: ["approvals/3.pdf: was signed on 2026-07-01, but tells that it was approved on 2026-06-01: a clock was wrong"],
    without_attachments: ["approvals/3.pdf: has the attachments none; expected manifest.json, edition.json, shown.json"],
    another_content: ["approvals/3.pdf: has a manifest of another edition than the one attached"],
    a_key_more: ["approvals/3.pdf: has a manifest that can't be read: waived: Extra inputs are not permitted"],
}


@pytest.mark.parametrize("change", FAULTS, ids=lambda change: change.__name__)
def test_what_was_done_to_a_register_is_told(small, change):
    """Each fault in plain words, at its file."""
    change(small, chain(small, 3))
    found = read_register(small.folder).faults
    assert [fault[: len(told)] for fault, told in zip(found, FAULTS[change])] == FAULTS[change]
    assert len(found) == len(FAULTS[change])


def test_a_document_of_another_edition_approves_nothing_here(small):
    """The same signature in another edition's folder is told."""
    [made] = chain(small, 1)
    other = small.folder.rename(small.root / "cards" / "other")
    register = read_register(other)
    assert register.faults == ("approvals/1.pdf: has a manifest of edition 'small'",)
    assert register.approved(made.manifest.digest, TODAY) is None


def test_a_forged_later_approval_takes_no_ones_place(small):
    """Whoever lays an unsigned file there does not make good cards look superseded."""
    [made] = chain(small, 1)
    append(small.folder, 9, again(made, by="stranger", number=9))
    assert read_register(small.folder).approved(made.manifest.digest, TODAY).superseded_by is None


def add_for_ever(folder, whole: bytes, number: int) -> None:
    """Add approvals, and extend each, until killed."""
    while True:
        append(folder, number, whole)
        extend(folder, number, whole + whole)
        number += 1


def test_a_process_killed_at_any_moment_leaves_whole_files(small):
    """Thirty times killed while it adds and extends approvals: every file is the old or the new one, and what was there stays."""
    whole = bytes(range(256)) * 4000
    (small.folder / "approvals").mkdir()
    before: dict[str, bytes] = {}
    for turn in range(30):
        number = max((int(name[:-4]) for name in before), default=0) + 1
        child = get_context("fork").Process(target=add_for_ever, args=(small.folder, whole, number))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", DeprecationWarning)  # of a fork beside threads: this child only writes files
            child.start()
        time.sleep(0.002 * (turn + 1))
        child.kill()
        child.join()
        assert child.exitcode == -signal.SIGKILL
        found = {name: data for name, data in held(small.folder).items() if name.endswith(".pdf")}
        assert before.keys() <= found.keys()
        assert all(data in (whole, whole + whole) for data in found.values())
        assert all(found[name] == data for name, data in before.items() if data != whole)
        before = found
    assert len(before) > 3


def test_a_full_disk_leaves_no_half_of_a_file(small, monkeypatch):
    """No room for the second approval: the first stands, nothing else is left, and the error is told."""
    [made] = chain(small, 1)

    def full(handle):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(files.os, "fsync", full)
    for write in (append, extend):
        with pytest.raises(OSError, match="No space left on device"):
            write(small.folder, 2 if write is append else 1, made.pdf + b"more")
        assert held(small.folder) == {"1.pdf": made.pdf}


def test_a_file_that_may_not_grow_leaves_no_half(small):
    """The system itself stops the write in the middle: the same."""
    [made] = chain(small, 1)
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    old = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, before[1]))
    try:
        with pytest.raises(OSError, match="File too large"):
            append(small.folder, 2, made.pdf)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, old)
    assert held(small.folder) == {"1.pdf": made.pdf}


def test_a_folder_that_can_not_be_written_is_left_alone(small, monkeypatch):
    """Read-only is told as the system tells it (as root, who may write anywhere, by its error)."""
    [made] = chain(small, 1)

    def refused(*given, **named):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(small.folder / "approvals"))

    monkeypatch.setattr(files.tempfile, "mkstemp", refused)
    with pytest.raises(PermissionError):
        append(small.folder, 2, made.pdf)
    assert held(small.folder) == {"1.pdf": made.pdf}
