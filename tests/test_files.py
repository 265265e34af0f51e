"""A folder of files is put in place whole or not at all, whatever happens on the way."""

from __future__ import annotations

import errno
import os
import signal
import time
import warnings
from multiprocessing import get_context
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cardwright import files
from cardwright.build import Built
from cardwright.checked import checked
from cardwright.cli import main
from cardwright.files import NotOurs, replace_folder

NEW = {"edition.json": b"{}\n", "cards/a.html": b"<p>", "cards/a.pdf": b"%PDF"}


def held(folder: Path) -> dict[str, bytes]:
    """Every file under a folder by its path, hidden ones too."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


@pytest.fixture
def old(tmp_path) -> Path:
    """A folder from yesterday."""
    folder = tmp_path / "out" / "edition"
    folder.mkdir(parents=True)
    (folder / "edition.json").write_bytes(b"yesterday")
    (folder / "gone.pdf").write_bytes(b"yesterday")
    return folder


def test_new_folder_is_made_with_its_parents(tmp_path):
    """A first build makes the folders it needs, and leaves nothing beside its own."""
    replace_folder(tmp_path / "a" / "b" / "edition", NEW)
    assert held(tmp_path) == {f"a/b/edition/{name}": data for name, data in NEW.items()}
    assert [path.name for path in (tmp_path / "a" / "b").iterdir()] == ["edition"]


def test_old_folder_is_replaced_whole(old):
    """What stood in the folder is gone: no card of an earlier edition stays between the new ones."""
    replace_folder(old, NEW)
    assert held(old) == NEW
    assert [path.name for path in old.parent.iterdir()] == ["edition"]


@pytest.mark.parametrize("name", ["thesis.txt", "cards/a.pdf"])
def test_folder_that_is_no_earlier_build_is_left_alone(tmp_path, name):
    """What was not made by a build, even with files of the same names, is never replaced."""
    path = tmp_path / "edition" / name
    path.parent.mkdir(parents=True)
    path.write_bytes(b"years of work")
    with pytest.raises(
        NotOurs, match=r"edition: is not an earlier build; expected a place of our own to write to: choose another --output$"
    ):
        replace_folder(tmp_path / "edition", NEW)
    assert held(tmp_path) == {f"edition/{name}": b"years of work"}


def test_empty_folder_is_filled(tmp_path):
    """An empty folder holds nobody's work."""
    (tmp_path / "edition").mkdir()
    replace_folder(tmp_path / "edition", NEW)
    assert held(tmp_path / "edition") == NEW


def test_folder_can_be_read_by_others(old):
    """The new folder may be read by a web server or a colleague, though it was made aside as a private one."""
    replace_folder(old, NEW)
    assert old.stat().st_mode & 0o777 == 0o755


class Full(dict):
    """Files of which the second can't be had any more."""

    def items(self):
        """The first file, and then no room."""
        yield "edition.json", b"{}\n"
        raise OSError(errno.ENOSPC, "No space left on device")


def test_old_folder_survives_an_error_before_the_rename(old):
    """A disk that is full while files are written leaves yesterday's folder whole, and nothing beside it."""
    with pytest.raises(OSError, match="No space left on device"):
        replace_folder(old, Full())
    assert held(old.parent) == {"edition/edition.json": b"yesterday", "edition/gone.pdf": b"yesterday"}
    assert [path.name for path in old.parent.iterdir()] == ["edition"]


@pytest.mark.parametrize("failing", [1, 2])
def test_old_folder_comes_back_when_a_rename_fails(old, monkeypatch, failing):
    """Whether the old folder can't be moved away or the new one not into place: yesterday's stays, and nothing beside it."""
    calls, rename = [], os.rename

    def failing_rename(source, target):
        calls.append((source, target))
        if len(calls) == failing:
            raise OSError(errno.EACCES, "Permission denied")
        rename(source, target)

    monkeypatch.setattr(files, "_exchanged", lambda one, other: False)
    monkeypatch.setattr(files.os, "rename", failing_rename)
    with pytest.raises(OSError, match="Permission denied"):
        replace_folder(old, NEW)
    assert held(old.parent) == {"edition/edition.json": b"yesterday", "edition/gone.pdf": b"yesterday"}


@pytest.mark.parametrize("exchange", [True, False], ids=["in one step", "by two renames"])
def test_folder_is_replaced_with_or_without_an_exchange(old, monkeypatch, exchange):
    """Where a file system can't exchange two folders in one step, the new one is put in place by two renames."""
    if exchange:
        monkeypatch.setattr(files.os, "rename", None)  # not needed
    else:
        monkeypatch.setattr(files, "_exchanged", lambda one, other: False)
    replace_folder(old, NEW)
    assert held(old.parent) == {f"edition/{name}": data for name, data in NEW.items()}


def test_interrupt_leaves_the_old_folder(old, monkeypatch):
    """Ctrl-C while files are written is no reason to lose yesterday's cards either."""

    def interrupted(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(files, "_swap", interrupted)
    with pytest.raises(KeyboardInterrupt):
        replace_folder(old, NEW)
    assert held(old.parent) == {"edition/edition.json": b"yesterday", "edition/gone.pdf": b"yesterday"}


def built_by_cli(small, monkeypatch, output: str) -> Result:
    """The build command on the small edition, with the files of its pages left out."""
    book, outcomes = checked(small.folder)
    monkeypatch.setattr("cardwright.build.build", lambda folder, **options: Built(book, outcomes, dict(NEW), 0))
    return CliRunner().invoke(main, ["build", "cards/small", "--output", output])


def test_build_writes_the_edition_s_folder(small, monkeypatch):
    """A build prints the folder it wrote, and writes that, and a record of it beside it."""
    result = built_by_cli(small, monkeypatch, "out")
    assert (result.exit_code, result.stdout) == (0, "out/small\n")
    written = held(small.root / "out")
    assert written.pop(".small.json").startswith(b'{\n "format": "cardwright-made/1"')
    assert written == {f"small/{name}": data for name, data in NEW.items()}


def test_parent_that_may_not_be_written_is_told(small, monkeypatch):
    """A folder that may not be written gives one clean line and the exit status of a wrong command line."""

    def forbidden(prefix, dir):
        raise PermissionError(errno.EACCES, "Permission denied", f"{dir}/{prefix}x")

    monkeypatch.setattr(files.tempfile, "mkdtemp", forbidden)
    result = built_by_cli(small, monkeypatch, "out")
    assert result.stderr.splitlines() == ["out/.small-x: Permission denied; expected a place that can be read and written"]
    assert (result.exit_code, result.stdout, held(small.root / "out")) == (2, "", {})


def test_file_in_the_way_is_told(small, monkeypatch):
    """A file where a folder is needed is named, and stays."""
    (small.root / "out").write_text("a file")
    result = built_by_cli(small, monkeypatch, "out/deeper")
    assert result.stderr.splitlines() == ["out/deeper: Not a directory; expected a place that can be read and written"]
    assert (result.exit_code, (small.root / "out").read_text()) == (2, "a file")


def replace_for_ever(folder: Path, letter: bytes) -> None:
    """Put one whole folder after another in place, until killed."""
    while True:
        replace_folder(folder, dict.fromkeys(NEW, letter * 50_000))


def started(folder: Path, letter: bytes):
    """A process that does that."""
    child = get_context("fork").Process(target=replace_for_ever, args=(folder, letter))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # of a fork beside threads: this child only writes files
        child.start()
    return child


def test_a_process_killed_at_any_moment_leaves_a_whole_folder(old):
    """Twenty times killed while it puts folders in place: all files of the folder are there, and of one and the same build."""
    replace_folder(old, NEW)
    for turn in range(20):
        child = started(old, b"a" if turn % 2 else b"b")
        time.sleep(0.003 * (turn + 1))
        child.kill()
        child.join()
        assert child.exitcode == -signal.SIGKILL
        found = held(old)
        assert found.keys() == NEW.keys()
        assert found == NEW or len(set(found.values())) == 1


def test_two_first_builds_at_once_both_end_well(tmp_path, monkeypatch):
    """The other one puts its folder in place between our look and our rename: ours takes its place, whole."""
    folder, rename = tmp_path / "edition", os.rename

    def overtaken(source, target):
        if not folder.exists():
            replace_other(folder, rename)
        rename(source, target)

    monkeypatch.setattr(files.os, "rename", overtaken)
    replace_folder(folder, NEW)
    assert held(tmp_path) == {f"edition/{name}": data for name, data in NEW.items()}


def replace_other(folder: Path, rename) -> None:
    """The folder of the other build, put in place as it does it."""
    (folder.parent / "other").mkdir()
    (folder.parent / "other" / "edition.json").write_bytes(b"other")
    rename(folder.parent / "other", folder)


def test_two_builds_at_once_leave_one_whole_folder(old):
    """Two processes put folders in place for a while: whenever they are stopped, the folder is of one of them."""
    children = [started(old, letter) for letter in (b"a", b"b")]
    time.sleep(0.5)
    assert all(child.is_alive() for child in children)
    for child in children:
        child.kill()
        child.join()
    assert held(old).keys() == NEW.keys()
    assert len(set(held(old).values())) == 1
