"""What an earlier build left in its folder, so that what would come out the same is not made again.

Beside the folder ``NAME`` of a build stands ``.NAME.json``: a sum over all that the build could have read, one for each page over all
that went into it, and one over each file that was written. A file that is not as it was written counts as not there.
"""

from __future__ import annotations

import ctypes
import hashlib
import sys
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from cardwright.documents import InputError, Problems, read
from cardwright.edition import PACKAGE, data_root, find, today

PARTS = ("cards", "sources", "templates")
# What sets and cuts the type, and the function of each that tells its version.
LIBRARIES = {
    "libpango-1.0.so.0": ("pango_version_string", ctypes.c_char_p),
    "libharfbuzz.so.0": ("hb_version_string", ctypes.c_char_p),
    "libfontconfig.so.1": ("FcGetVersion", ctypes.c_int),
}


class Kept(BaseModel):
    """A paper form: the sum over what it was made of, and how much each check of pages looked at."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    made_of: str
    looked_at: dict[str, int]


class Record(BaseModel):
    """The program that built, what it could read, its pages by name, and the SHA-256 of each file."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal["cardwright-made/1"] = "cardwright-made/1"
    program: str
    inputs: str
    pages: dict[str, Kept]
    files: dict[str, str]


class Earlier:
    """What stands in the folder of an earlier build; nothing where there is none, or where another program made it."""

    def __init__(self, folder: Path | None):
        self.folder, self.record = folder, None
        try:
            record = Record.model_validate_json(place(folder).read_bytes()) if folder else None
        except (OSError, ValidationError):
            return
        if record and record.program == program():
            self.record = record

    def whole(self, inputs: str) -> bool:
        """Whether a build from these inputs would make just the files that stand there."""
        return bool(self.record) and self.record.inputs == inputs and all(self.file(name) is not None for name in self.record.files)

    def file(self, name: str) -> bytes | None:
        """A file, if it is there as it was written."""
        data = _read(self.folder / name) if self.record and name in self.record.files else None
        return data if data is not None and _sum(data) == self.record.files[name] else None

    def kept(self, name: str, made_of: str) -> Kept | None:
        """What is known of a page's paper form, if just this went into it."""
        found = self.record.pages.get(name) if self.record else None
        return found if found and found.made_of == made_of else None


def place(folder: Path) -> Path:
    """Where the record of the build in a folder stands."""
    return folder.with_name(f".{folder.name}.json")


def record(inputs: str, pages: Mapping[str, Kept], files: Mapping[str, bytes]) -> bytes:
    """The record of a build that made these files."""
    made = Record(program=program(), inputs=inputs, pages=dict(pages), files={name: _sum(data) for name, data in files.items()})
    return f"{made.model_dump_json(indent=1)}\n".encode()


def sum_of_inputs(path: Path, *options: str) -> str:
    """SHA-256 over the day, the options, and every file that a build of this edition or personal card could read, whether or not it does.

    Not over files that it is only compared with: an edition that it extends, where that stands outside of its root and of the program.
    """
    told, seen = hashlib.sha256(repr((str(today()), options)).encode()), set()
    for file in (file for top in _tops(path.resolve()) for file in _files(top, seen)):
        told.update(f"\n{file}\n{_sum(_read(file) or b'')}".encode())  # an editor may have just replaced it
    return told.hexdigest()


def _tops(path: Path) -> list[Path]:
    """The file of a personal card, the edition's folder, and the parts of its root and of the program that any edition reads."""
    folders = _picked_from(path) if path.is_file() else [path]
    roots = [data_root().resolve(), *(folder.parent.parent for folder in folders if (folder.parent.parent / "sources").is_dir())]
    return list(dict.fromkeys([path, *folders, *(root / part for root in roots for part in PARTS)]))


def _picked_from(path: Path) -> list[Path]:
    """The folder of the edition that a personal card picks from; none where that can't be told, which the build then says."""
    problems = Problems(path.parent)
    table = read(path, problems)
    try:
        return [find(str(table["edition"]), near=path.parent)] if table and "edition" in table else []
    except InputError:
        return []


def _files(top: Path, seen: set[Path]) -> Iterator[Path]:
    """A file, or every file under a folder, in order; what links lead to as well, but no folder twice."""
    if top.is_file():
        yield top
    elif top.is_dir() and top.resolve() not in seen:
        seen.add(top.resolve())
        for path in sorted(top.iterdir()):
            yield from _files(path, seen)


@cache
def program() -> str:
    """SHA-256 over this program, the Python that runs it, every package beside it, and the libraries that set type."""
    told = hashlib.sha256(sys.version.encode())
    for path in sorted(PACKAGE.rglob("*.py")):
        told.update(f"\n{path.relative_to(PACKAGE)}\n{_sum(path.read_bytes())}".encode())
    places = (Path(place) for place in sys.path)
    packages = sorted(path.name for place in places if place.is_dir() for path in place.glob("*.dist-info"))
    told.update(repr((packages, [_version(*library) for library in LIBRARIES.items()])).encode())
    return told.hexdigest()


def _version(library: str, asked: tuple[str, type]) -> bytes | int | None:
    """What a library of the system says of itself; nothing where it is under another name."""
    name, kind = asked
    try:
        function = getattr(ctypes.CDLL(library), name)
    except (OSError, AttributeError):
        return None
    function.restype = kind
    return function()


def _read(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except OSError:
        return None


def _sum(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
