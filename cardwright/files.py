"""Files written whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path


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


def _swap(aside: Path, folder: Path) -> None:
    """Put ``aside`` in the place of ``folder``; the old folder comes back if that fails."""
    if not folder.exists():
        os.rename(aside, folder)
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
