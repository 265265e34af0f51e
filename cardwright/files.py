"""Files written whole or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path


def replace_folder(folder: Path, files: Mapping[str, bytes]) -> None:
    """Make ``folder`` hold exactly these files (paths with ``/``), written aside first and then put in place by renaming.

    An error before the rename leaves the folder as it was. Whatever else stood in the folder is gone afterwards.
    """
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
