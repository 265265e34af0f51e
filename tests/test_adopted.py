"""What a local edition adopted stays as it was: a file that was edited, taken away or put there is told, and so is a torn record."""

from __future__ import annotations

import datetime
import json
import os
import signal
import subprocess
import sys
import time

import pytest
from test_bad_input import refused, run

from cardwright.adopted import RECORD, adopt, adoption, moved
from cardwright.documents import Problems

ADOPT = "run 'cardwright adopt' on this edition's folder"
DRUG = "sources/infusions/samplamine.yaml"


def held(folder) -> dict[str, bytes]:
    """Every file under a folder by its path."""
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_the_copy_is_what_the_edition_uses_and_no_more(hill):
    """Edition, documents, cards and tables in use are copied byte for byte; each stands in the record."""
    names = ["cards/small/edition.yaml", "cards/small/rates.yaml", DRUG, "sources/references.yaml"]
    hill.edit("cards/hill/edition.yaml", "cards: [rates, sizes]", "cards: [rates]")
    hill.adopt()
    found = held(hill.folder / "adopted")
    assert sorted(found) == sorted([*names, RECORD])
    assert all(found[name] == (hill.root / name).read_bytes() for name in names)
    record = json.loads(found[RECORD])
    assert (record["edition"], record["number"], record["on"], sorted(record["files"])) == ("small", 1, "2026-06-01", sorted(names))


FAULTS = {
    "edited": (
        lambda path: path.write_bytes(path.read_bytes().replace(b"at: 2 mcg", b"at: 3 mcg")),
        "is not as it was adopted; state changes in edition.yaml, and",
    ),
    "emptied": (lambda path: path.write_bytes(b""), "is not as it was adopted; state changes in edition.yaml, and"),
    "gone": (lambda path: path.unlink(), "is missing from what was adopted;"),
    "a folder": (lambda path: (path.unlink(), path.mkdir()), "is missing from what was adopted;"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_file_that_is_not_as_it_was_adopted_is_told(hill, fault):
    """One digit changed in the copy would be a change that nobody reads; it is refused, and adopting mends it."""
    break_, told = FAULTS[fault]
    path = hill.folder / "adopted" / DRUG
    break_(path)
    more = " to have the file back" if "as it was" in told else ""
    refused(run("check", "cards/hill"), f"cards/hill/adopted/{DRUG}:1:1: {told} {ADOPT}{more}")
    assert run("adopt", "cards/hill").exit_code == 0
    assert run("check", "cards/hill").exit_code == 0


def test_a_file_that_was_put_there_is_told(hill):
    """A card or table beside the adopted ones was not adopted, even if nothing uses it."""
    (hill.folder / "adopted" / "sources" / "infusions" / "other.yaml").write_text("drug: other\n")
    told = f"is not as it was adopted; state changes in edition.yaml, and {ADOPT} to have the file back"
    refused(run("check", "cards/hill"), f"cards/hill/adopted/sources/infusions/other.yaml:1:1: {told}")


@pytest.mark.parametrize(
    "torn", [b"", b"{", b"[]", b"\xff\xfe", b'{"format": "cardwright-adopted/1"}', b'{"format": "cardwright-adopted/2"}', b"[" * 100_000]
)
def test_a_torn_record_is_told_and_adopting_mends_it(hill, torn):
    """A record that says nothing can't vouch for the files beside it."""
    (hill.folder / "adopted" / RECORD).write_bytes(torn)
    refused(run("check", "cards/hill"), f"cards/hill/adopted/{RECORD}:1:1: is not the record of what was adopted; {ADOPT}")
    assert run("adopt", "cards/hill").exit_code == 0
    assert run("check", "cards/hill").exit_code == 0


def test_a_record_with_paths_out_of_its_folder_leads_nowhere(hill):
    """A path in the record is only ever compared with what lies in the folder."""
    path = hill.folder / "adopted" / RECORD
    record = json.loads(path.read_text())
    path.write_text(json.dumps({**record, "files": {**record["files"], "../../../secret": "0" * 64}}))
    (hill.root / "secret").write_text("secret")
    refused(run("check", "cards/hill"), f"secret:1:1: is missing from what was adopted; {ADOPT}")


def test_a_folder_without_its_record_is_nobody_s_to_replace(hill):
    """Files without a record may be somebody's work; adopting leaves them, and says what to do."""
    (hill.folder / "adopted" / RECORD).unlink()
    before = held(hill.folder)
    refused(run("check", "cards/hill"), f"cards/hill/edition.yaml:1:1: extends another edition, but none was adopted yet; {ADOPT}")
    result = run("adopt", "cards/hill")
    told = (
        "cards/hill/adopted: is not empty, and has no adopted.json by which it would be what was adopted; move it away, and run this again"
    )
    assert (result.exit_code, told in result.stderr.splitlines(), held(hill.folder)) == (2, True, before)


def test_what_moved_is_told_by_file(hill):
    """A file that changed, and one that is gone, have moved; the others have not."""
    record = adoption(hill.folder, Problems(hill.folder))
    base = hill.root / "cards" / "small"
    assert moved(record, base) == []
    hill.edit(DRUG, "at: 2 mcg/kg/min", "at: 3 mcg/kg/min")
    (base / "sizes.yaml").unlink()
    assert moved(record, base) == ["cards/small/sizes.yaml", DRUG]


KILLED = """
import sys
from pathlib import Path
from datetime import date
from cardwright.adopted import adopt
base, folder = Path(sys.argv[1]), Path(sys.argv[2])
files = ["cards/small/edition.yaml", "cards/small/rates.yaml", "sources/infusions/samplamine.yaml"]
print("ready", flush=True)
for number in range(1, 1_000_000):
    adopt(folder, base, files, number, "sha256:0", date(2026, 6, 1))
"""


def test_killed_at_any_moment_it_leaves_one_whole_folder(hill):
    """Whenever a process that adopts is killed outright, the folder holds all files of one adoption, as its record has them."""
    command = [sys.executable, "-c", KILLED, str(hill.root / "cards" / "small"), str(hill.folder)]
    for wait in (0.001, 0.013, 0.031):
        with subprocess.Popen(command, stdout=subprocess.PIPE) as process:
            process.stdout.readline()
            time.sleep(wait)
            os.kill(process.pid, signal.SIGKILL)
        problems = Problems(hill.folder)
        record = adoption(hill.folder, problems)
        assert problems.found == []
        assert sorted(held(hill.folder / "adopted")) == sorted([*record.files, RECORD])
        assert moved(record, hill.root / "cards" / "small") == []


def test_nothing_is_copied_where_a_file_is_missing(hill):
    """A file that can't be read stops it before anything is written."""
    before = held(hill.folder)
    with pytest.raises(FileNotFoundError):
        adopt(hill.folder, hill.root / "cards" / "small", ["cards/small/none.yaml"], 1, "sha256:0", datetime.date(2026, 6, 1))
    assert held(hill.folder) == before
