"""The command ``approve``: it refuses with every reason and writes nothing, or what it signs is what later builds print."""

from __future__ import annotations

import datetime
import json
import re
import shutil

import pytest
from approvals import trust
from click.testing import CliRunner
from conftest import HERE, Hill
from keyring import PASSPHRASE, packed
from test_bad_input import run
from test_local import state
from test_register import held

from cardwright.approval.package import sha256
from cardwright.approval.register import read_register
from cardwright.build import build
from cardwright.cli import main
from cardwright.commands.adopt import take
from cardwright.commands.keys import VARIABLE
from cardwright.loading import load

together = pytest.mark.xdist_group("signed")
JUNE = "1780272000"  # 2026-06-01, in seconds since 1970
CEILING = "infusions/samplamine:dose.ceiling.at"


def key_file(hill, name: str = "R. Marlow"):
    """The file of a person's key, outside the edition."""
    path = hill.root / f"{name}.p12"
    path.write_bytes(packed(name, "Valley Transport"))
    return str(path)


def approve(hill, *more: str, by: str = "R. Marlow", edition: str = "cards/hill"):
    """The command with a person's key."""
    return run("approve", edition, "--key", key_file(hill, by), *more)


@pytest.fixture
def ready(hill, monkeypatch) -> Hill:
    """The local edition, which trusts the director and the second signatory; the passphrase is in the environment."""
    monkeypatch.setenv(VARIABLE, PASSPHRASE)
    trust(hill, "R. Marlow", "S. Okoro")
    return hill


def failing(ready):
    """A published value that the program does not reproduce."""
    ready.edit("sources/infusions/samplamine.yaml", "gives: 15.00 mL/h", "gives: 15.10 mL/h")
    ready.adopt()


def from_memory(ready):
    """A value of the reference that rests on memory alone."""
    ready.edit("sources/references.yaml", "kind: label\n    read: text", "kind: label\n    read: memory")
    ready.adopt()


def past_review(ready):
    """A document of the reference that is past its review."""
    ready.edit(
        "sources/references.yaml",
        "kind: label\n    read: text\n    review by: 2030-01-01",
        "kind: label\n    read: text\n    review by: 2026-05-31",
    )
    ready.adopt()


def local_ceiling(ready):
    """A ceiling of the service's own, which somebody must have seen."""
    cite = {"hill-protocol": "section 3"}
    state(ready, givens={CEILING: {"value": "1 mcg/kg/min", "cite": cite, "reason": "ours"}})


def two_needed(ready):
    """An edition that asks for two signatures."""
    ready.state("signatures: 2\n")


def as_it_is(ready):
    """Nothing is wrong with the edition."""


REFUSED = {
    "a check fails": (failing, (), "witness.reproduced (differs)"),
    "memory alone": (from_memory, (), "citation.memory (memory)"),
    "past its review": (past_review, (), "dates.references (past)"),
    "a change that nobody saw": (local_ceiling, (), f"--acknowledge: {CEILING}: 2 mcg/kg/min → 1 mcg/kg/min, against the reference"),
    "an idle acknowledgement": (as_it_is, ("--acknowledge", CEILING), f"--acknowledge: '{CEILING}' is no large change of this edition"),
    "too late": (as_it_is, ("--expires", "2027-01-02"), "--expires: 2027-01-02 is after the edition's review, 2027-01-01"),
    "today": (as_it_is, ("--expires", "2026-06-01"), "--expires: 2026-06-01 is not after today, 2026-06-01"),
    "the past": (as_it_is, ("--expires", "2026-05-01"), "--expires: 2026-05-01 is not after today, 2026-06-01"),
    "one of two": (two_needed, (), "'signatures' asks for 2 signatures, and 1 are named; name the other with --second"),
    "two for one": (as_it_is, ("--second", "S. Okoro; 1; pharmacist"), "asks for 1 signatures, and 2 are named; leave --second out"),
    "a second in part": (two_needed, ("--second", "S. Okoro"), "--second: 'S. Okoro' is not told in full; expected 'NAME; LICENSE; ROLE'"),
    "a second without a name": (two_needed, ("--second", "; 1; pharmacist"), "--second: '; 1; pharmacist' is not told in full"),
}


@pytest.mark.parametrize("kind", REFUSED)
def test_an_approval_is_refused_with_its_reason(ready, kind):
    """Status 2, the reason, and no register."""
    change, more, told = REFUSED[kind]
    change(ready)
    done = approve(ready, *more)
    assert (done.exit_code, done.stdout) == (2, ""), done.stderr
    assert told in done.stderr
    assert done.stderr.endswith("nothing was written\n")
    assert not (ready.folder / "approvals").exists()


def test_all_reasons_are_told_at_once(ready):
    """A ceiling, two dates' worth of trouble and a missing name in one run."""
    local_ceiling(ready)
    two_needed(ready)
    told = approve(ready, "--expires", "2027-01-02").stderr
    assert [line.partition(":")[0] for line in told.splitlines()] == ["--expires", "edition.yaml", "--acknowledge", "nothing was written"]


def test_a_key_that_is_not_trusted_signs_nothing(ready):
    """Whose certificate the edition does not have; and the reference edition is nobody's to approve."""
    done = approve(ready, by="stranger")
    assert (done.exit_code, "has not the certificate of stranger; put the .pem file there" in done.stderr) == (2, True)
    done = approve(ready, edition="cards/small")
    assert (done.exit_code, "small: is no local edition; only what a service makes its own" in done.stderr) == (2, True)


def test_a_wrong_or_missing_passphrase_is_told(ready, monkeypatch):
    """Neither leads to a signature, nor to a traceback."""
    monkeypatch.setenv(VARIABLE, "a guess at the passphrase")
    done = approve(ready)
    assert (done.exit_code, "passphrase" in done.stderr, "Traceback" in done.stderr) == (2, True, False)
    monkeypatch.delenv(VARIABLE)
    done = approve(ready)
    assert done.exit_code == 2
    assert "passphrase: there is no terminal to ask on; expected --passphrase-file FILE or CARDWRIGHT_PASSPHRASE" in done.stderr
    assert not (ready.folder / "approvals").exists()
    missing = CliRunner().invoke(main, ["approve", "cards/hill", "--key", "none.p12"])
    assert (missing.exit_code, "none.p12: can't be read (No such file or directory)" in missing.stderr) == (2, True)


@pytest.fixture(scope="module")
def signed(tmp_path_factory) -> Hill:
    """The local edition with a ceiling of its own, approved by the two that it asks for, at the command line; changed by no test."""
    root = tmp_path_factory.mktemp("signed") / "small"
    shutil.copytree(HERE / "small", root)
    (root / "templates").symlink_to(HERE.parent / "templates")
    hill = Hill(root)
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", JUNE)
        patch.setenv(VARIABLE, PASSPHRASE)
        patch.chdir(root)
        take(load(hill.folder, current=True))
        trust(hill, "R. Marlow", "S. Okoro", "A. Third")
        local_ceiling(hill)
        two_needed(hill)
        flags = ("--acknowledge", CEILING, "--expires", "2026-12-01", "--second", "S. Okoro; 77; pharmacist", "--license", "12")
        first = approve(hill, *flags)
        assert (first.exit_code, first.stdout) == (0, f"{hill.folder}/approvals/3.pdf\n"), first.stderr
        assert "Hill cards 3, until 2026-12-01, signed by R. Marlow; 1 more must sign" in first.stderr
        third = approve(hill, by="A. Third")
        assert (third.exit_code, "approval 3 is to be signed by R. Marlow and S. Okoro, and not by A. Third" in third.stderr) == (2, True)
        last = approve(hill, by="S. Okoro")
        assert (last.exit_code, "signed by S. Okoro\n" in last.stderr) == (0, True), last.stderr
    return hill


@pytest.fixture
def copied(signed, tmp_path, monkeypatch) -> Hill:
    """A copy of it that a test may change, in June 2026."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", JUNE)
    monkeypatch.setenv(VARIABLE, PASSPHRASE)
    root = tmp_path / "small"
    shutil.copytree(signed.root, root, symlinks=True)
    monkeypatch.chdir(root)
    return Hill(root)


def says(files: dict[str, bytes]) -> str:
    """What the faces of the rates card say of its approval."""
    return re.search(r"(DRAFT|APPROVED|EXPIRED)[^.<]*", re.sub(r"<[^>]+>", "", files["cards/rates.html"].decode().partition("<main>")[2]))[
        0
    ]


@together
def test_a_later_build_is_what_was_approved_byte_for_byte(copied):
    """Every file has the sum that both signed, and says who they are."""
    entry = read_register(copied.folder).newest
    assert (entry.complete, [signer.name for signer in entry.seal.signers]) == (True, ["R. Marlow", "S. Okoro"])
    manifest = entry.manifest
    assert [(one.name, one.license, one.role) for one in manifest.signatories] == [
        ("R. Marlow", "12", "medical director"),
        ("S. Okoro", "77", "pharmacist"),
    ]
    assert (str(manifest.approved), str(manifest.expires), list(manifest.acknowledged)) == ("2026-06-01", "2026-12-01", [CEILING])
    files = build(copied.folder).files
    assert {name: sha256(data) for name, data in files.items() if name in manifest.artifacts} == dict(manifest.artifacts)
    assert {name for name in files if name.startswith("cards/")} <= set(manifest.artifacts)
    assert json.loads(files["edition.json"])["edition"]["status"] == "approved"
    assert says(files) == "APPROVED by R"


@together
def test_after_its_last_day_a_build_says_so(copied, monkeypatch):
    """The day after 2026-12-01."""
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(int(datetime.datetime(2026, 12, 2, tzinfo=datetime.UTC).timestamp())))
    assert says(build(copied.folder, only=("rates",)).files) == "EXPIRED on 2026-12-01, do not use"


@together
def test_any_change_of_content_is_a_draft_again(copied):
    """A note in other words is enough; and the number that was approved can't be approved again."""
    with (copied.folder / "edition.yaml").open("a", encoding="utf-8") as file:
        file.write("notes:\n  infusions/samplamine:line: {text: Give by a long line., cite: {hill-protocol: section 9}, reason: ours}\n")
    assert says(build(copied.folder, only=("rates",)).files) == "DRAFT, not approved"
    before = held(copied.folder)
    done = approve(copied, "--second", "S. Okoro; 77; pharmacist")
    assert (done.exit_code, "edition.yaml: number 3 is not above 3, which was approved" in done.stderr) == (2, True), done.stderr
    assert held(copied.folder) == before


@together
def test_nothing_is_approved_over_a_broken_register(copied):
    """What is wrong with it is told at its file."""
    path = copied.folder / "approvals" / "3.pdf"
    path.write_bytes(path.read_bytes() + b"\n")
    done = approve(copied)
    assert (done.exit_code, "approvals/3.pdf: was added to after it was signed" in done.stderr) == (2, True), done.stderr
