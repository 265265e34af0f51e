"""The whole way of a local edition at the command line, as the educator, the director and the medic go it."""

from __future__ import annotations

import json
import re
import shutil
from pathlib import Path

import pytest
import yaml
from keyring import PASSPHRASE
from test_bad_input import run
from test_new import make

from cardwright.commands.keys import VARIABLE

CARDS = ("out/valley/cards/rates.pdf", "out/valley/cards/rates.html", "out/valley/edition.json")
KEPT = tuple(f"kept/{Path(name).name}" for name in CARDS)
MIX = "infusions/samplamine:mix.16-mcg-mL-to-32-mcg-mL"
PROTOCOL = {
    "title": "Bags of the service",
    "short": "bags",
    "publisher": "Valley Transport",
    "year": "2026",
    "identifier": "V-1",
    "kind": "local protocol",
    "read": "text",
    "review by": "2027-06-01",
}
DIRECTOR = ("--name", "R. Marlow", "--organization", "Valley Transport")


def done(*arguments: str, status: int = 0):
    """A command that ends with this status."""
    result = run(*arguments)
    assert result.exit_code == status, result.stderr
    return result


def built(root: Path) -> str:
    """What the rates card shows after a build, without its markup."""
    done("build", "valley", "--card", "rates", "--output", "out")
    page = (root / "out/valley/cards/rates.html").read_text(encoding="utf-8").partition("</head>")[2]
    return " ".join(re.sub(r"<[^>]+>", " ", page.partition("<script")[0]).split())


def stronger(root: Path) -> None:
    """The educator's change: 8 mg instead of 4 mg in 250 mL, under the next number."""
    path = root / "cards/valley/edition.yaml"
    table = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    given = {"value": "32 mcg/mL", "amount": "8 mg", "volume": "250 mL", "cite": {"bags": "section 2"}, "reason": "bags of ours"}
    table |= {"number": "2", "carries": {"infusions/samplamine": ["32 mcg/mL"]}, "references": {"bags": PROTOCOL}}
    table["givens"] = {"infusions/samplamine:mix.16-mcg-mL": given}
    path.write_text(yaml.safe_dump(table, sort_keys=False), encoding="utf-8")


@pytest.fixture
def valley(small, monkeypatch) -> Path:
    """A first edition of an invented service, as ``new`` makes it, and the director's key and certificate."""
    monkeypatch.setenv(VARIABLE, PASSPHRASE)
    assert make().exit_code == 0
    done("check", "valley")
    done("keys", "new", "marlow.p12", *DIRECTOR)
    (small.root / "cards/valley/certificates").mkdir()
    shutil.copy("marlow.pem", "cards/valley/certificates")
    return small.root


def test_the_whole_way(valley):
    """Made, checked, approved, built, verified; then one mix is changed, reviewed, approved, and old cards are called back."""
    assert "DRAFT, not approved" in built(valley)
    first = done("approve", "valley", "--key", "marlow.p12", "--license", "12")
    assert first.stdout == f"{valley}/cards/valley/approvals/1.pdf\n"
    assert "APPROVED by R. Marlow on 2026-06-01, expires 2027-06-01" in built(valley)
    (valley / "kept").mkdir()
    for name in CARDS:
        shutil.copy(name, "kept")
    lines = done("verify", *CARDS, "--edition", "valley").stdout.splitlines()
    assert [line.split(": ")[1] for line in lines] == ["current"] * 3

    stronger(valley)
    assert "DRAFT, not approved" in built(valley)
    review = json.loads(done("review", "valley", "--format", "json").stdout)
    assert (review["since"], review["acknowledge"]) == ("approval 1", [MIX])
    assert [change["code"] for change in review["changes"]] == [MIX, "references"]
    assert [(one["kind"], one["was"], one["became"]) for one in review["departures"] if one["kind"] == "given"] == [
        ("given", "16 mcg/mL (4 mg in 250 mL)", "32 mcg/mL (8 mg in 250 mL)")
    ]
    refused = done("approve", "valley", "--key", "marlow.p12", status=2)
    assert f"--acknowledge: {MIX}: " in refused.stderr
    done("approve", "valley", "--key", "marlow.p12", "--acknowledge", MIX)
    assert sorted(path.name for path in (valley / "cards/valley/approvals").iterdir()) == ["1.pdf", "2.pdf"]

    told = done("verify", *KEPT, "--edition", "valley", status=5).stdout.splitlines()
    assert [line.partition(": ")[2] for line in told] == ["superseded: Valley Transport cards, approval 1: approval 2 took its place"] * 3
    rows = [re.split(r" {2,}", line.strip()) for line in done("register", "valley").stdout.splitlines()[1:]]
    assert [(row[0], row[3]) for row in rows] == [("1", "R. Marlow"), ("2", "R. Marlow")]
    assert rows[0][-1] == "2"
    notice = done("register", "valley", "--recall").stdout
    assert re.search(r"^Rates +changed +destroyed ____", notice, re.MULTILINE)
    assert "Sizes" not in notice
