"""What an edition is: its cards, the source tables they use, and the references these cite; and where editions are kept."""

from __future__ import annotations

import datetime
import os
import time
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from cardwright.documents import InputError, Problem, Table, unknown
from cardwright.layer import Change
from cardwright.models import CardSpec, DrillRecord, EditionSpec, LocalSpec, Reference, Wording
from cardwright.provenance import Mark
from cardwright.source import Source
from cardwright.values import NOWHERE

PACKAGE = Path(__file__).parent


@dataclass(frozen=True)
class Edition:
    """An edition as read on a day. ``name`` is its ``folder``'s name; marks are told from ``root``, which may hold templates/.

    ``local`` and ``changes`` are those of a local edition: its own file, and what it changes in the one that it extends. ``listed`` is
    where its cards are listed.
    """

    name: str
    folder: Path
    root: Path
    spec: EditionSpec
    references: Mapping[str, Reference]
    sources: Mapping[str, Source]
    cards: Mapping[str, CardSpec]
    tables: Mapping[str, Table]
    wording: Wording
    today: datetime.date
    drill: DrillRecord | None = None
    local: LocalSpec | None = None
    changes: tuple[Change, ...] = ()
    listed: Mark = NOWHERE

    @property
    def whole(self) -> bool:
        """Whether all of its cards were read."""
        return len(self.cards) == len(self.spec.cards)


def now() -> datetime.datetime:
    """The moment it is: by SOURCE_DATE_EPOCH where that is set (seconds since 1970, UTC), or by the clock."""
    return datetime.datetime.fromtimestamp(int(os.environ.get("SOURCE_DATE_EPOCH") or time.time()), datetime.UTC)


def today() -> datetime.date:
    """The day it is now, UTC."""
    return now().date()


def data_root() -> Path:
    """The folder with cards/, sources/ and templates/: inside an installed wheel, or the checkout."""
    inside = PACKAGE / "data"
    return inside if inside.is_dir() else PACKAGE.parent


def named(edition: str) -> Path:
    """What a person names on the command line: the file of a personal card, or the folder of an edition. InputError if there is none."""
    return Path(edition) if Path(edition).is_file() else find(edition)


def output_name(path: Path) -> str:
    """What the folder is called that the build of a named edition or personal card goes into."""
    return path.stem if path.is_file() else path.resolve().name


def find(edition: str, near: Path | None = None) -> Path:
    """The folder of an edition given as a folder or as a name under cards/, or beside another. InputError if there is none."""
    beside = [near / edition] if near else [Path(edition)]
    for folder in (*beside, Path("cards") / edition, data_root() / "cards" / edition):
        if folder.is_dir():
            if not (folder / "edition.yaml").is_file():
                raise InputError([Problem(str(folder), 1, 1, "is not an edition; expected a folder with an edition.yaml in it")])
            return folder.resolve() if near else folder
    known = sorted(path.parent.name for path in (data_root() / "cards").glob("*/edition.yaml"))
    raise InputError([Problem(edition, 1, 1, unknown("edition", edition, known) + "; or give the path of an edition's folder")])
