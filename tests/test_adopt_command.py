"""The reference moves on while a local edition stays: what would change is told, and is taken when somebody adopts it."""

from __future__ import annotations

import errno
import os

import pytest
from test_adopted import DRUG, held
from test_bad_input import refused, run

from cardwright import files
from cardwright.commands.adopt import would_change
from cardwright.edition import find
from cardwright.render.contract import contract

MOVED = f"the reference has moved since it was adopted, in {DRUG}"


def move(hill) -> None:
    """The reference has another ceiling: 525 mL/h for 70 kg at 2 mcg/kg/min is no longer printed, nor are rates run at over it."""
    hill.edit(DRUG, "at: 2 mcg/kg/min", "at: 1 mcg/kg/min")
    hill.edit(DRUG, "reads: 2 mcg/kg/min", "reads: 1 mcg/kg/min")


def digest(hill) -> str:
    """The digest of the edition's content."""
    return contract(hill.compute(), ())["digest"]


def test_reference_that_moved_leaves_the_edition_as_it_is(hill):
    """Cells and the adopted files are the same, byte for byte, until somebody adopts."""
    before, copy = digest(hill), held(hill.folder)
    move(hill)
    assert (digest(hill), held(hill.folder)) == (before, copy)


def test_dry_run_says_what_would_change_and_changes_nothing(hill):
    """Cause by cause, with its values and how many cells of which charts it reaches."""
    before = held(hill.folder)
    assert would_change(hill.folder) == []
    move(hill)
    result = run("adopt", "cards/hill", "--dry-run")
    lines = result.stderr.splitlines()
    assert (result.exit_code, result.stdout, lines[0]) == (0, "", MOVED)
    assert any("2 mcg/kg/min → 1 mcg/kg/min" in line and "rates/samplamine-16-mcg-mL" in line for line in lines[1:])
    assert held(hill.folder) == before


def test_adopt_takes_the_reference_as_it_is_now(hill):
    """What is adopted is printed; afterwards nothing has moved, and the cells are the reference's."""
    before = digest(hill)
    move(hill)
    result = run("adopt", "cards/hill")
    assert (result.exit_code, result.stdout) == (0, f"{hill.folder / 'adopted'}\n")
    assert result.stderr.splitlines()[0] == MOVED
    assert result.stderr.splitlines()[-1].startswith("adopted small 1 (sha256:")
    assert result.stderr.splitlines()[-1].endswith("), 6 files")
    assert would_change(hill.folder) == []
    assert digest(hill) != before


def test_build_says_that_the_reference_moved_and_keeps_to_the_edition(hill):
    """A build prints what would change as a note, and builds what was adopted."""
    assert run("build", "cards/hill", "--card", "rates", "--output", "one").stderr.count("the reference has moved") == 0
    move(hill)
    result = run("build", "cards/hill", "--card", "rates", "--output", "two")
    assert result.exit_code == 0
    told = result.stderr.splitlines()
    assert MOVED in told
    assert "this edition stays as it is; 'cardwright adopt' takes the reference as it is now" in told
    assert held(hill.root / "one" / "hill") == held(hill.root / "two" / "hill")


def test_a_move_that_changes_no_cell_is_told_as_such(hill):
    """A comment in the reference is a move, and changes nothing."""
    with (hill.root / DRUG).open("a") as file:
        file.write("# read again\n")
    assert would_change(hill.folder) == [MOVED, "  no cell or note would change"]


def test_a_move_that_the_edition_can_not_follow_is_told(hill):
    """A given that the service changes may be gone in the reference; the edition stays, and adopting is refused."""
    hill.state("notes:\n  infusions/samplamine:line: {text: Central line., cite: {hill-protocol: p. 1}, reason: r}\n")
    hill.state("charts:\n  rates/running: {leave out: yes, reason: r}\n")
    hill.edit("cards/small/rates.yaml", "id: running", "id: walking")
    before, why = held(hill.folder), "cards/hill/edition.yaml:31:3: unknown chart 'rates/running'; did you mean 'rates/walking'?"
    assert run("check", "cards/hill").exit_code == 0
    told = [
        "the reference has moved since it was adopted, in cards/small/rates.yaml",
        "with it as it is now, this edition could not be made:",
    ]
    assert would_change(hill.folder) == [*told, f"  {why}"]
    refused(run("adopt", "cards/hill"), why)
    assert held(hill.folder) == before


def test_a_card_that_is_added_is_adopted(hill):
    """A card of the reference that was not adopted yet is no reason not to adopt it."""
    hill.edit("cards/hill/edition.yaml", "cards: [rates, sizes]", "cards: [rates]")
    hill.adopt()
    hill.edit("cards/hill/edition.yaml", "cards: [rates]", "cards: [rates, sizes]")
    assert run("check", "cards/hill").exit_code == 2
    move(hill)
    result = run("adopt", "cards/hill")
    assert result.exit_code == 0
    assert result.stderr.splitlines()[0] == "with what was adopted before, this edition can't be made:"
    assert run("check", "cards/hill").exit_code == 0


def test_an_edition_that_extends_none_has_nothing_to_adopt(hill):
    """The reference itself adopts nothing."""
    told = "extends no other edition, so that there is nothing to adopt; expected a local edition"
    refused(run("adopt", "cards/small"), f"cards/small/edition.yaml:1:1: {told}")
    assert would_change(hill.root / "cards" / "small") == []


def test_a_reference_that_is_nowhere_stops_no_build(hill):
    """An edition that was carried away from its reference is built from what it adopted, and says so."""
    (hill.root / "cards" / "small").rename(hill.root / "cards" / "gone")
    assert run("check", "cards/hill").exit_code == 0
    (told,) = would_change(hill.folder)
    assert told == "'small' is not found here, so that nobody can tell whether it has moved since it was adopted"


def test_a_folder_that_may_not_be_written_stays(hill, monkeypatch):
    """A read-only folder gives one line, exit status 2, and what was adopted before."""
    before = held(hill.folder)
    move(hill)

    def forbidden(prefix, dir):
        raise PermissionError(errno.EACCES, "Permission denied", f"{dir}/{prefix}x")

    monkeypatch.setattr(files.tempfile, "mkdtemp", forbidden)
    result = run("adopt", "cards/hill")
    assert result.stderr.splitlines()[-1] == f"{hill.folder}/.adopted-x: Permission denied; expected a place that can be read and written"
    assert (result.exit_code, result.stdout, held(hill.folder)) == (2, "", before)


@pytest.mark.parametrize("room", [0, 1, 4])
def test_a_full_disk_leaves_what_was_adopted_before(hill, monkeypatch, room):
    """The disk is full after so many files: nothing of the new ones is left, and the old ones are."""
    before, write, left = held(hill.folder), files.Path.write_bytes, [None] * room
    move(hill)

    def full(path, data):
        if not left:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path))
        left.pop()
        return write(path, data)

    monkeypatch.setattr(files.Path, "write_bytes", full)
    result = run("adopt", "cards/hill")
    assert (result.exit_code, result.stdout, held(hill.folder)) == (2, "", before)
    assert "No space left on device; expected a place that can be read and written" in result.stderr


def test_the_example_is_in_step_with_the_reference():
    """The example that comes with the program shows the reference as it is: where this fails, run cardwright adopt cards/tarnbeck."""
    assert would_change(find("tarnbeck")) == []
