"""A personal card held against what its file makes out of an approval."""

from __future__ import annotations

import datetime

import pytest
from approvals import approval, trust
from click.testing import CliRunner
from keyring import key
from test_personal import OWN

from cardwright.approval import Refused
from cardwright.approval.register import append, read_register
from cardwright.approval.verify import VERDICTS, Approvals
from cardwright.build import build
from cardwright.cli import main
from cardwright.picked import picked

TODAY = datetime.date(2026, 6, 2)
ONE = OWN.replace(", rates/running", "")


def mine(small, weights: str = "70 kg", text: str = ONE):
    """A personal card's file beside the small edition."""
    path = small.root / "mine.yaml"
    path.write_text(text.replace("{}", weights), encoding="utf-8")
    return path


@pytest.fixture
def approved(small):
    """The small edition with one approval in its register."""
    trust(small, "R. Marlow")
    made = approval(small.folder)
    append(small.folder, made.manifest.number, made.pdf)
    return small


def judged(small, path, data: bytes, today: datetime.date = TODAY) -> tuple[str, str]:
    """Verdict and reason on a file, with this personal card's own file at hand."""
    register = read_register(small.folder)
    found = Approvals([register], (key("R. Marlow").certificate,), today, picked(path, [register])).verify(data)
    return found.verdict, found.reason


@pytest.mark.parametrize("name", ["cards/mine.pdf", "cards/mine.html", "edition.json"])
@pytest.mark.parametrize(("today", "verdict"), [(TODAY, "current"), (datetime.date(2027, 6, 2), "expired")])
def test_what_its_file_makes_is_as_good_as_the_approval(approved, name, today, verdict):
    """Byte for byte, on whatever day it is asked."""
    path = mine(approved)
    told = judged(approved, path, build(path).files[name], today)
    assert told[0] == verdict
    assert told[1].startswith("Small edition, approval 1, picked from it: ")


def test_any_other_bytes_are_not(approved):
    """A digit changed in the page, and a card of other weights, are not what the file makes."""
    path = mine(approved)
    page = build(path).files["cards/mine.html"]
    other = build(mine(approved, "4, 70 kg")).files["cards/mine.html"]
    mine(approved)
    for data in (page.replace(b">26.3<", b">36.3<"), other):
        verdict, reason = judged(approved, path, data)
        assert (verdict, reason.endswith("has no such card; hold a personal card against its own file, with --personal")) == (
            "unsigned",
            True,
        )


def test_a_draft_is_refused(approved):
    """A number that the approved edition has not, or content that was not approved."""
    register = read_register(approved.folder)
    with pytest.raises(Refused, match=r"mine\.yaml: has a number that small, approval 1, has not; it makes a draft"):
        picked(mine(approved, "71 kg"), [register])
    with pytest.raises(
        Refused, match=r"mine\.yaml: picks from small as it is now \([0-9a-f]{8}…\), of which there is no approval in force"
    ):
        picked(mine(approved), [])


def test_the_command_takes_the_file(approved):
    """With it the card is current; without it the command says what to do."""
    path = mine(approved)
    (approved.root / "mine.pdf").write_bytes(build(path).files["cards/mine.pdf"])
    alone = CliRunner().invoke(main, ["verify", "mine.pdf", "--edition", "small"])
    assert (alone.exit_code, "with --personal" in alone.stdout) == (VERDICTS["unsigned"], True)
    done = CliRunner().invoke(main, ["verify", "mine.pdf", "--edition", "small", "--personal", "mine.yaml"])
    assert done.exit_code == 0
    assert done.stdout == "mine.pdf: current: Small edition, approval 1, picked from it: approved on 2026-06-01, expires 2027-06-01\n"
