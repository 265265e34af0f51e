"""The reference as a local edition adopted it: a copy of every file that it uses, so that it stays as it is until adopted anew."""

from __future__ import annotations

import datetime
import hashlib
from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, ValidationError

from cardwright.documents import Problems
from cardwright.files import replace_folder
from cardwright.provenance import Mark

FOLDER = "adopted"
RECORD = "adopted.json"
ADOPT = "run 'cardwright adopt' on this edition's folder"


class Adoption(BaseModel):
    """``adopted/adopted.json``: which edition was adopted, its digest on that day, and every file by its SHA-256."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal["cardwright-adopted/1"] = "cardwright-adopted/1"
    edition: str
    number: int
    digest: str
    on: datetime.date
    files: dict[str, str]


def adopted(folder: Path, name: str, problems: Problems) -> Path | None:
    """The cards folder of the adopted edition, or None with a problem for each file that is not as it was adopted."""
    record = adoption(folder, problems)
    if record is None:
        return None
    if record.edition != name:
        return problems.add(Mark("edition.yaml", 1, 1), f"extends '{name}', but '{record.edition}' was adopted; {ADOPT}")
    there = {path.relative_to(folder / FOLDER).as_posix(): path for path in (folder / FOLDER).rglob("*") if path.is_file()}
    for file in sorted({*there, *record.files} - {RECORD}):
        mark = Mark(f"{FOLDER}/{file}", 1, 1)
        if file not in there:
            problems.add(mark, f"is missing from what was adopted; {ADOPT}")
        elif record.files.get(file) != _sha(there[file].read_bytes()):
            problems.add(mark, f"is not as it was adopted; state changes in edition.yaml, and {ADOPT} to have the file back")
    return folder / FOLDER / "cards" / name


def adoption(folder: Path, problems: Problems) -> Adoption | None:
    """What a local edition's folder says that it adopted, or None with the problem noted."""
    path = folder / FOLDER / RECORD
    try:
        return Adoption.model_validate_json(path.read_bytes())
    except OSError:
        return problems.add(Mark("edition.yaml", 1, 1), f"extends another edition, but none was adopted yet; {ADOPT}")
    except ValidationError:
        return problems.add(Mark(f"{FOLDER}/{RECORD}", 1, 1), f"is not the record of what was adopted; {ADOPT}")


def moved(record: Adoption, base: Path) -> list[str]:
    """The adopted files that are no longer what the edition in ``base`` has."""
    return [file for file, sha in record.files.items() if _now(base, file) != sha]


def adopt(folder: Path, base: Path, files: list[str], number: int, digest: str, on: datetime.date) -> Adoption:
    """Copy these files of the edition in ``base`` (told from its root) in the place of what was adopted before."""
    read = {file: (base.parent.parent / file).read_bytes() for file in files}
    record = Adoption(edition=base.name, number=number, digest=digest, on=on, files={file: _sha(data) for file, data in read.items()})
    replace_folder(folder / FOLDER, {**read, RECORD: f"{record.model_dump_json(indent=1)}\n".encode()}, sign=RECORD)
    return record


def _now(base: Path, file: str) -> str | None:
    path = base.parent.parent / file
    return _sha(path.read_bytes()) if path.is_file() else None


def _sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
