"""Files written whole or not at all."""

from __future__ import annotations

import ctypes
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

AT_FDCWD, RENAME_EXCHANGE = -100, 2  # of renameat2(2)


class NotOurs(Exception):
    """What stands in the place to write to was not made by us, and is left alone."""


def replace_folder(folder: Path, files: Mapping[str, bytes], sign: str = "edition.json") -> None:
    """Make ``folder`` hold exactly these files (paths with ``/``), written aside first and then put in place by renaming.

    An error before the rename leaves the folder as it was. What stood in the folder is gone afterwards, so a folder that is
    not empty and has no file ``sign`` in it is refused with NotOurs: it is somebody's work and not an earlier build.
    """
    if folder.exists() and not (folder.is_dir() and ((folder / sign).is_file() or not any(folder.iterdir()))):
        raise NotOurs(f"{folder}: is not an earlier build; expected a place of our own to write to: choose another --output")
    folder.parent.mkdir(parents=True, exist_ok=True)
    aside = Path(tempfile.mkdtemp(prefix=f".{folder.name}-", dir=folder.parent))
    try:
        aside.chmod(0o755)
        for name, data in files.items():
            path = aside / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data)
        _swap(aside, folder)
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def write_file(path: Path, data: bytes) -> None:
    """Make a file hold exactly this, written aside and to the disk first, and then put in place by renaming."""
    handle, aside = tempfile.mkstemp(prefix=f".{path.name}-", dir=path.parent)
    try:
        _to_disk(handle, data)
        os.chmod(aside, 0o644)
        os.replace(aside, path)
        _folder_to_disk(path.parent)
    finally:
        Path(aside).unlink(missing_ok=True)


def create_file(path: Path, data: bytes, *, mode: int = 0o644) -> None:
    """Make a file that was not there, written aside and to the disk first, and then put in place by a link: whole, or not at all.

    NotOurs where something stands in its place, which stays as it is.
    """
    handle, aside = tempfile.mkstemp(prefix=f".{path.name}-", dir=path.parent)  # of mode 0600 until it is whole
    try:
        _to_disk(handle, data)
        os.chmod(aside, mode)
        os.link(aside, path)
        _folder_to_disk(path.parent)
    except FileExistsError:
        raise NotOurs(f"{path}: is there already, and is never overwritten; expected another name") from None
    finally:
        Path(aside).unlink(missing_ok=True)


def _to_disk(handle: int, data: bytes) -> None:
    with os.fdopen(handle, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _folder_to_disk(folder: Path) -> None:
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _exchanged(one: Path, other: Path) -> bool:
    """Whether two folders changed places in one step, so that whoever is killed then leaves one of them there; Linux can do that."""
    rename = getattr(ctypes.CDLL(None), "renameat2", None)
    return rename is not None and rename(AT_FDCWD, os.fsencode(one), AT_FDCWD, os.fsencode(other), RENAME_EXCHANGE) == 0


def _swap(aside: Path, folder: Path) -> None:
    """Put ``aside`` in the place of ``folder``; the old folder comes back if that fails."""
    if not folder.exists():
        try:
            os.rename(aside, folder)
            return
        except OSError:
            if not folder.exists():  # else another build was first, and this one takes its place
                raise
    if _exchanged(aside, folder):
        return
    old = Path(tempfile.mkdtemp(prefix=f".{folder.name}-old-", dir=folder.parent))
    os.rename(folder, old / "was")
    try:
        os.rename(aside, folder)
    except OSError:
        os.rename(old / "was", folder)
        raise
    finally:
        shutil.rmtree(old, ignore_errors=True)
