"""A folder of files is put in place whole or not at all, whatever happens on the way."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from cardwright import cli, files
from cardwright.build import Built, checked
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

    monkeypatch.setattr(files.os, "rename", failing_rename)
    with pytest.raises(OSError, match="Permission denied"):
        replace_folder(old, NEW)
    assert held(old.parent) == {"edition/edition.json": b"yesterday", "edition/gone.pdf": b"yesterday"}


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
    monkeypatch.setattr(cli, "build", lambda folder, **options: Built(book, outcomes, dict(NEW), 0))
    return CliRunner().invoke(cli.main, ["build", "cards/small", "--output", output])


def test_build_writes_the_edition_s_folder(small, monkeypatch):
    """A build prints the folder it wrote, and writes that alone."""
    result = built_by_cli(small, monkeypatch, "out")
    assert (result.exit_code, result.stdout) == (0, "out/small\n")
    assert held(small.root / "out") == {f"small/{name}": data for name, data in NEW.items()}


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
